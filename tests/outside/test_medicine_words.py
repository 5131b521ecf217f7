"""Words that have led to errors with medicines: ISMP's list of error-prone abbreviations, the Joint Commission's
Do Not Use list, and label directions by USP <17>."""

import re

import pytest

import wording
from packets import BothEyes, Document

NUMBER_WORDS = r"(?:two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|half an?)"
UNITS = r"(?:drops?|minutes?|hours?|days?|weeks?|months?|times? (?:a|each|per) day)"
PERIODS = r"morning|noon|midday|evening|bedtime|before you sleep|when you get up|\d{1,2}:\d{2}"

FORBIDDEN = {
    # name: (pattern, flags)
    "ISMP-1 side or ear abbreviated": (r"\b(?:O\.?D|O\.?S|O\.?U|A\.?D|A\.?S|A\.?U)\b\.?", 0),
    "ISMP-2 frequency in Latin or initials": (
        r"\b(?:q\.?d|q\.?o\.?d|qhs|qn|q1d|q\d+h|q\d+ ?[ap]m|b\.?i\.?d|t\.?i\.?d|q\.?i\.?d|p\.?r\.?n|gtts?"
        r"|h\.?s|o\.d|BT|a\.?c|p\.?c)\b\.?(?![-/\w])", re.I),
    "ISMP-3 trailing zero": (r"(?<![\d.,])\d+[.,]0+(?=\s*(?:%|mg|mL|mcg|mJ|drops?))", 0),
    "ISMP-4 no zero before the point": (r"(?<![\d.])[.,]\d+\s*(?:%|mg|mL|mcg|mm)", 0),
    "ISMP-5 unit stuck to its number": (r"\d(?:mL|ml|mg|mcg|mm|mJ|g)\b|\b(?:mL|mg)\.(?= [a-z])", 0),
    "ISMP-6 large number without comma": (r"(?<![\d,.-])(?!(?:19|20)\d\d\b)\d{4,}(?= [a-z])", 0),
    "ISMP-7 error-prone unit": (r"[\u00b5\u03bc]g?\b|\b\d+ ?(?:cc|IU|U)\b|\bcc\b", 0),
    # Eight hexadecimal digits are the version of the texts, not a name.
    "ISMP-8 name run into a number": (r"\b(?![0-9a-f]{8}\b)[a-z]{3,}\d", 0),
    "ISMP-9 symbol for a word": (r"[<>@&+\u00b0]|\b[a-zA-Z]+/[a-zA-Z]+\b|\bx ?\d\b", 0),
    "ISMP-10 discharge or stop abbreviated": (r"\bD/?C'?d?\b", re.I),
    "USP-2 number as a word": (rf"\b(?:{NUMBER_WORDS}(?: \w+)?|one) {UNITS}\b", re.I),
}


def errors(text: str):
    """All hits of the list above."""
    return [hit for name, (pattern, flags) in FORBIDDEN.items() for hit in wording.found(text, {name: pattern}, flags)]


INTERVAL = re.compile(
    r"\b(?:once|twice|(?:\w+) times) (?:a|per|each) day\b|\b(?:once|twice|times) daily\b|\bevery \w+ hours\b", re.I
)


def bare_intervals(text: str):
    """USP-4: "twice daily" only beside the times of day it means."""
    return [] if re.search(PERIODS, text, re.I) else [hit[0] for hit in INTERVAL.finditer(text)]


def test_no_error_prone_words(patient_document: Document):
    """ISMP-1, ISMP-2, ISMP-3, ISMP-4, ISMP-5, ISMP-6, ISMP-7, ISMP-8, ISMP-9, ISMP-10, USP-2, USP-8 (Latin) and DATE-7
    (numerals) on patient pages, block by block."""
    assert [hit for block in wording.blocks(patient_document) for hit in errors(block.text)] == []


def test_times_of_day_not_intervals(patient_document: Document):
    """USP-4, see `bare_intervals`."""
    assert [hit for block in wording.blocks(patient_document) for hit in bare_intervals(block.text)] == []


def test_desk_sheet_is_safe_too(desk: Document):
    """Joint Commission Do Not Use list: it binds forms of the staff as well: ISMP-1, ISMP-2, ISMP-3, ISMP-4, ISMP-7,
    ISMP-10."""
    staff = [name for name in FORBIDDEN if re.match(r"ISMP-(1|2|3|4|7|10) ", name)]
    hits = [
        hit for block in wording.blocks(desk) for name in staff
        for hit in wording.found(block.text, {name: FORBIDDEN[name][0]}, FORBIDDEN[name][1])
    ]
    assert hits == []


def test_drug_names_are_whole(aftercare: Document):
    """ISMP-8, ISMP-11: each drug by its full generic name, as the packet has it, in plain case."""
    text = wording.text(aftercare)
    for name in {dose["name"] for dose in aftercare.packet["doses"]}:
        assert name.lower() in text.lower(), f"{name!r} is not on the page"
    mixed = re.findall(r"\b[a-z]+[A-Z]{3,}\w*\b", text)
    assert mixed == [], "tall-man letters are for staff pages"


JARGON = (
    "ophthalmic", "intraocular", "ocular", "topical", "instill", "administer", "adverse", "contraindicated",
    "discontinue", "dosage", "dose", "regimen", "suspension", "solution", "preservative", "conjunctiva", "canthus",
    "punctum", "lacrimal", "cul-de-sac", "phakic", "pseudophakic", "vitreolysis", "anti-inflammatory", "corticosteroid",
    "beta-blocker", "mydriatic", "miotic", "hypertension", "prophylaxis", "indicated", "refrain", "subsequently",
    "prior to",
)
"""Words of clinicians and leaflets that pages about drops can do without (common practice, no source)."""


def jargon(text: str):
    """USP-8: words of clinicians that stand in a text, also in the plural or as another form of the verb."""
    return [word for word in JARGON if re.search(rf"\b{word}(?:s|ed|ing|ation)?\b", text, re.I)]


def test_words_are_familiar(aftercare: Document):
    """USP-8, see `jargon`; names of drugs and the list of sources are not our words."""
    assert [(word, block.text) for block in wording.blocks(aftercare) for word in jargon(block.text)] == []


def test_words_for_both_eyes_are_familiar(both_eyes: BothEyes):
    """USP-8 on the calendar for both eyes, see `jargon`."""
    document = Document(both_eyes.path, "both-eyes", both_eyes.packets[1])
    assert [(word, block.text) for block in wording.blocks(document) for word in jargon(block.text)] == []


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("1 drop OD", "ISMP-1"), ("O.S. only", "ISMP-1"), ("1 drop qid", "ISMP-2"), ("use PRN", "ISMP-2"), ("q4h", "ISMP-2"),
        ("prednisolone 1.0%", "ISMP-3"), ("5.0 mL", "ISMP-3"), ("timolol .5%", "ISMP-4"), ("10mL", "ISMP-5"),
        ("17615 eyes", "ISMP-6"), ("5 \u00b5g", "ISMP-7"), ("2 cc", "ISMP-7"), ("timolol5", "ISMP-8"), ("> 2 drops", "ISMP-9"),
        ("and/or", "ISMP-9"), ("D/C the drops", "ISMP-10"), ("one drop", "USP-2"),
        ("two more minutes", "USP-2"), ("after six weeks", "USP-2"),
    ],
)
def test_errors_are_noticed(text, rule):
    """Not vacuous: a bad example of each rule."""
    assert any(hit.startswith(rule) for hit in errors(text)), errors(text)


def test_sound_words_pass():
    """The list does not hit ordinary text."""
    sound = (
        "Put 1 drop of prednisolone acetate 1% in your right eye at 8:00 AM. Wait 5 minutes. 17,615 eyes in 2026. "
        "Phone (555) 010-0142. One of these signs is enough. At 0.5 mL. YAG laser, version 2."
    )
    assert errors(sound) == [] and bare_intervals(sound) == []
    assert bare_intervals("Use it twice daily") and bare_intervals("every 6 hours") and bare_intervals("three times a day")
    assert not bare_intervals("2 times a day: in the morning and at bedtime")
    assert jargon("Instill topical doses.") == ["topical", "instill", "dose"]
    assert jargon("Put 1 drop in your eye.") == []
