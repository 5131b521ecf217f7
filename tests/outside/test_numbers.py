"""Numbers told honestly: both sides of each, its group, its time, its source and how sure it is, and pictures that agree.

IPDASi v4.0 (Joseph-Williams et al., Med Decis Making 2014;34:699-710) by its item numbers; words for frequency: BGH
29 January 2019, VI ZR 117/18.
"""

import math
import re

import pytest

import shares
import tags
import wording
from packets import Document
from test_consent import LIKELIHOOD, risk_sections
from test_intervals import exact

GROUP = r"\b(people|patients|eyes|persons|women|men|implants|sessions)\b"
PERIOD = (
    r"\b\d[\d.]* (hours?|days?|weeks?|months?|years?)\b|\bweeks of\b|at the time of"
    r"|[Tt]ime not stated"
)
"""How long those counted were followed, or that this is not stated."""
SURE = (
    r"95% interval|\bsmall\b|\bup to\b|could be|another (treatment|laser)|similar laser|\breported\b|weaker|\b(trial|series|review)\b"
    r"|followed over time|records read again|look back at old records|single cases|regist(?:er|ry)|laboratory"
)
"""A range, or the kind of study in words."""


def one_sided(text: str):
    """Each share says how many did and how many did not, and the two make the whole. An upper limit has no other side."""
    found = []
    for share in shares.shares(text):
        rest = shares.REST.search(share.after)
        if not share.most and (rest is None or share.k + shares.number(rest["k"]) != share.n):
            found.append(f"{share.k} in {share.n}, then {rest and rest[0]}: {share.sentence}")
    return found


def impossible(text: str):
    """No share is more than the whole."""
    return [f"{share.k} in {share.n}" for share in shares.shares(text) if share.k > share.n]


def note_of(share: shares.Share) -> int | None:
    """The number of the note that follows a share in its paragraph."""
    found = shares.NOTE.search(share.after)
    return int(found[1]) if found else None


def unsourced(text: str, notes: dict[int, str]):
    """Each share has a note behind it, and each note stands in the list of sources."""
    bare = [share.sentence for share in shares.shares(text) if note_of(share) is None]
    lost = [f"[{number}] is not in the list" for number in shares.NOTE.findall(text) if int(number) not in notes]
    return bare + lost


def lacking(text: str, notes: dict[int, str], wanted: str):
    """Shares of which neither their paragraph nor their note says what is wanted."""
    return [
        share.sentence for share in shares.shares(text)
        if not re.search(wanted, f"{share.sentence} {notes.get(note_of(share), '')}", re.I)
    ]


def groupless(text: str):
    """Shares of which the words up to the next share, or those before it in its paragraph, name nobody who was counted."""
    return [
        share.sentence for share in shares.shares(text)
        if not re.search(GROUP, share.sentence) and not re.search(GROUP, share.after)
    ]


def unused(texts: list[str], notes: dict[int, str]):
    """Sources that nothing on the pages points to; numbers that leave out one or begin elsewhere."""
    used = {int(number) for text in texts for number in shares.NOTE.findall(text)}
    found = [f"[{number}] is never used" for number in notes if number not in used]
    return found + ([] if list(notes) == list(range(1, len(notes) + 1)) else [f"numbered {list(notes)}"])


def _each(consent: Document, check):
    return [fault for text in shares.paragraphs(consent) for fault in check(text)]


SMALL = 100
"""Below so many a result stands as it was counted, since one more or less would move a share by more than one in a hundred."""


def range_of(k: int, n: int) -> str:
    """The exact 95 % interval (SciPy) in whole hundredths, rounded outwards, in the words of the page."""
    low, high = exact(k, n)
    low, high = math.floor(low * 100), math.ceil(high * 100)
    return f"{low} to {high} in 100" if low else f"up to {high} in 100"


def unranged(pages: dict[int, str]):
    """Results of small groups whose page, or the next where the text runs on, does not say their range."""
    return [
        f"{k} of {n}: {range_of(k, n)}"
        for page, text in pages.items() for k, n in shares.counts(text)
        if n < SMALL and range_of(k, n) not in f"{text} {pages.get(page + 1, '')}"
    ]


def test_small_groups(consent: Document):
    """IPD-C5, IPD-X15: "19 of 36 people" with its range beside it, computed again; see `unranged`."""
    pages: dict[int, str] = {}
    for block in wording.blocks(consent):
        pages[block.page] = f"{pages.get(block.page, '')} {block.text}"
    assert len({count for text in pages.values() for count in shares.counts(text) if count[1] < SMALL}) >= 8
    assert unranged(pages) == []


def test_natural_frequencies(consent: Document):
    """IPD-X5, IPD-C5, RISK-3: "about so many in so many", whole numbers, never per cent and never a decimal share."""
    assert len(shares.paragraphs(consent)) >= 7
    assert _each(consent, impossible) == []
    percent = {"per cent": r"\d ?%|\bper ?cent\b", "decimal": r"\b\d+\.\d+ (in|of|out of) \d"}
    drops = r"\d ?% and \d|\d% (eye )?drops?"
    texts = [re.sub(drops, "", block.text) for block in wording.blocks(consent)]
    assert [hit for text in texts for hit in wording.found(text, percent)] == []


def test_both_sides(consent: Document):
    """IPD-X9, RISK-4, see `one_sided`: the arithmetic is done again."""
    assert _each(consent, one_sided) == []


def test_sources(consent: Document):
    """IPD-C2, see `unsourced` and `unused`."""
    notes = shares.notes(consent)
    assert len(notes) >= 5
    assert _each(consent, lambda text: unsourced(text, notes)) == []
    assert unused([block.text for block in wording.blocks(consent)], notes) == []


def test_group(consent: Document):
    """IPD-X4, see `groupless`."""
    assert _each(consent, groupless) == []


def test_period(consent: Document):
    """IPD-X6: how long those counted were followed, beside the number or in its note; that it is not stated is said too."""
    assert _each(consent, lambda text: lacking(text, shares.notes(consent), PERIOD)) == []


def test_how_sure(consent: Document):
    """IPD-C5, IPD-X15: a range, or the kind of study, beside the number or in its note; what nobody knows has a heading."""
    assert _each(consent, lambda text: lacking(text, shares.notes(consent), SURE)) == []
    unknown = wording.section(wording.blocks(consent), 2, r"nobody knows|not known|unknown|uncertain").text
    assert wording.missing(unknown, {"few studies": [r"\bfew\b|limited|weak"], "what is open": [r"not known|no trial"]}) == []


def kinds_missing(notes: dict[int, str]):
    """Sources that do not say what kind of study they are."""
    kind = r"trial|followed over time|records read again|look back at old records|regist(?:er|ry)|single cases|review|laboratory"
    return [number for number, text in notes.items() if not re.search(kind, text, re.I)]


def test_kind_of_study(consent: Document):
    """IPD-X15, IPD-C5: each source says what kind of study it is."""
    assert kinds_missing(shares.notes(consent)) == []


FREQUENCY = r"\b(rare(ly)?|seldom|uncommon(ly)?|common(ly)?|frequent(ly)?|occasional(ly)?|(?<!how )often|usual(ly)?)\b"


def loose_words(risks: list[wording.Section]):
    """A word for frequency in a risk comes with a number, or with the words that none is known."""
    return [
        risk.title for risk in risks
        if re.search(FREQUENCY, risk.text, re.I) and not re.search(LIKELIHOOD, risk.text, re.I)
    ]


def test_frequency_words(consent: Document):
    """BGB-11, RISK-2, see `loose_words`."""
    assert loose_words(risk_sections(wording.blocks(consent))) == []


SCALE = r"\b(very common|very rare|high|moderate|low|minimal|negligible) (risk|chance|likelihood)\b|\bvery (common|rare)\b|\bnegligible\b"


def test_no_scale_of_words(consent: Document):
    """RISK-1, RISK-5: the words of the EC guideline of 2009 and of the Calman scale mean different rates; no page uses
    either, so no reader must know which one is meant."""
    assert [hit for block in wording.blocks(consent) for hit in re.findall(SCALE, block.text, re.I)] == []


def heads(reading: tags.Reading, figure: tags.Element) -> tuple[int, int]:
    """Filled and all figures of a picture, counted by their heads: the drawn circles."""
    found = [
        shape for shape in drawn(reading, figure)
        if len(shape.polygons[0]) > 8 and abs((shape.box[2] - shape.box[0]) - (shape.box[3] - shape.box[1])) < 0.1
    ]
    return sum(shape.fill is not None and max(shape.fill) < 0.7 for shape in found), len(found)


def drawn(reading: tags.Reading, figure: tags.Element):
    contents = set(figure.contents())
    return [
        shape for number, page in enumerate(reading.pages) for shape in page.shapes
        if tags.Content(number, shape.mark.mcid) in contents
    ]


PICTURE = re.compile(r"a (picture of 100|bar from 0 to 100)\b")


def unlike(alt: str, filled: int, of: int, labels: set[str]):
    """Picture, alternative text and the number over it say the same, and the text says its other side."""
    said = shares.counts(alt) + [(share.k, share.n) for share in shares.shares(alt) if not share.most]
    if len(said) != 1:
        return [f"the alternative text holds {len(said)} numbers"]
    (k, n), rest = said[0], shares.REST.search(alt)
    found = [] if rest and k + shares.number(rest["k"]) == n else [f"{alt!r} lacks its other side"]
    found += [f"{of} are drawn of {n}"] if "picture of 100" in alt and (of, n) != (100, 100) else []
    found += [f"{filled} are filled; the text says {k}"] if of and filled != k else []
    beside = {pair for label in labels for pair in shares.counts(label) + [(share.k, share.n) for share in shares.shares(label)]}
    return found + ([] if (k, n) in beside else [f"no number says {k} of {n}"])


def test_pictures(consent: Document):
    """IPD-X8: of 100 or more who were counted 100 people are drawn, of fewer a bar; what is drawn is counted again and agrees
    with the alternative text and the number over it."""
    reading = tags.reading(consent.path)
    alts = [(figure, tags.plain(figure.alt or "")) for figure in reading.elements("Figure")]
    pictures = [(figure, alt) for figure, alt in alts if PICTURE.search(alt)]
    assert len(pictures) >= 4 and any("picture of 100" in alt for _, alt in pictures)
    labels = shares.numbers(consent)
    assert [fault for figure, alt in pictures for fault in unlike(alt, *heads(reading, figure), labels)] == []


# The checks of the checks.

SOUND = "In a small trial, about 53 in 100 people felt better after 6 months; the other 47 did not. [1]"
NOTES = {1: "A trial."}


@pytest.mark.parametrize("check, broken", [
    (one_sided, SOUND.replace("47", "46")),
    (one_sided, SOUND.replace("; the other 47 did not", "")),
    (impossible, SOUND.replace("53", "153")),
    (lambda text: unsourced(text, NOTES), SOUND.replace(" [1]", "")),
    (lambda text: unsourced(text, NOTES), SOUND.replace("[1]", "[2]")),
    (lambda text: lacking(text, NOTES, PERIOD), SOUND.replace(" after 6 months", "")),
    (lambda text: lacking(text, {}, SURE), SOUND.replace("In a small trial, ", "")),
    (groupless, SOUND.replace(" people", "")),
])
def test_faults_are_noticed(check, broken):
    """Not vacuous: a wrong sum, a side, note, time, study or group left out."""
    assert check(SOUND) == [] and check(broken) != []


def test_other_faults_are_noticed():
    """Not vacuous: the second of two shares, an unused note, loose words, pictures and labels that disagree."""
    assert one_sided(f"{SOUND} About half; about 3 in 100 eyes had a tear. [1]")
    assert unused([SOUND], {1: "a", 2: "b"}) and unused([SOUND], {2: "b"}) and not unused([SOUND], NOTES)
    assert kinds_missing({1: "A trial.", 2: "Eye 2002."}) == [2]
    block = tags.Block(tags.Element("P", "P", {}, None, None, None), "It is rare.", 0)
    assert loose_words([wording.Section("Pain", 3, [block])])
    counted = "19 of 36 people felt better, likely 35 to 70 in 100. Of the rest, none of 16 people did: up to 21 in 100."
    assert unranged({1: counted}) == [] and unranged({1: counted.replace("70", "69")}) and unranged({1: counted.replace("21", "20")})
    assert unranged({1: "19 of 36 people.", 2: counted}) == [] and unranged({1: "19 of 36 people."})
    alt = "A torn retina: a picture of 100 shows about 9 in 100 eyes; the other 91 not."
    assert not unlike(alt, 9, 100, {"about 9 in 100 eyes"})
    assert unlike(alt, 10, 100, {"about 9 in 100 eyes"}) and unlike(alt, 9, 100, {"about 8 in 100 eyes"})
    assert unlike(alt, 9, 36, {"about 9 in 100 eyes"}) and unlike("No number.", 9, 100, set())
    assert unlike(alt.replace("91", "90"), 9, 100, {"about 9 in 100 eyes"})
    bar = "Much better: a bar from 0 to 100 marks 19 of 36 people; the other 17 not."
    assert not unlike(bar, 0, 0, {"19 of 36 people"}) and unlike(bar, 0, 0, {"18 of 36 people"})
