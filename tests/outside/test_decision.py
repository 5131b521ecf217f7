"""The decision: what it is about, what the talk must hold, and what is asked apart from it.

Sources stand beside the items in items/. Patterns name concepts, not sentences: a practice may word its pages anew.
"""

import dataclasses
import datetime
import re

import pytest

import ink
import poppler
import tags
import wording
from packets import Document, Packet
from poppler import squeezed
from test_consent import risk_sections, signed_sentence
from test_dates import long_date
from test_signatures import signs

CONDITION = {
    "what floaters are": [r"floaters?\b.*\b(shadow|clump|speck|spot)"],
    "where they come from": [r"\bgel\b|vitreous"],
    "how much they matter": [r"most (do not|are not|don't) harm|harmless|no danger"],
}
LIKE = {
    "body": [r"\bblur|\bsore\b|see flashes|hear clicks"],
    "mind": [r"\btiring|bother|worr|get used"],
    "daily life": [r"do not drive|take you home|go home"],
}
INFORMED = {
    "diagnosis": [r"(this|your) eye has|lens implant|natural lens|no lens"],
    "what is uncertain": [r"nobody knows|not known"],
    "no treatment": [r"leave (it|them|the floaters) alone|no treatment"],
    "what is involved": [r"drops (widen|that widen)|what it involves"],
    "good it may do": [r"may bring|may help"],
    "harm": [r"go wrong|\brisks?\b"],
    "likelihood": [r"about \d+ in \d+"],
}
CIRCUMSTANCES = {
    "nature": [r"floaters?\b.*\bgel|vitrectomy|clumps"],
    "extent": [r"many flashes|(more than|maybe more) (one )?sessions?"],
    "performance": [r"during the visit|contact lens held|drops widen"],
    "expected consequences": [r"usual for a few days|go home the same day|blur"],
    "risks": [r"could lose|go wrong"],
    "necessity": [r"can leave (them|the floaters) alone|most do not harm|no treatment"],
    "urgency": [r"take your time|no hurry|ask again later|can wait"],
    "suitability": [r"not apply to your eye|ring-shaped floaters?|your kind of|kind of floater"],
    "prospects": [r"(about \d+ in|\d+ of) \d+ people .*\bbetter"],
}
OUTCOME = {
    "how likely it helps": [r"about \d+ in \d+\b.*\b(better|gone|relief)"],
    "while recovering": [r"usual for a few days|few days|after the laser"],
}
TALK = {
    "the talk comes first": [r"talk (with|to|between).*(first|replace)|do not replace|only supplement"],
    "time": [r"take your time|time to think|no hurry"],
    "support": [r"bring someone|somebody with you|a friend|your family"],
    "a change of mind": [r"change your mind at any (point|time)"],
}
SIGNED = {"questions": [r"questions were answered"], "a change of mind": [r"change (my|our|his|her|their) mind at any (point|time)"]}
COST = {"cost": [r"\bpay|\bprice|\bcost"], "in writing": [r"in writing|written|\$|amount"], "set on a date": [r"\([A-Z]\w+ \d+, 20\d\d"]}
RULES = {"regulated": [r"approved|cleared|off-label|licensed"], "treatment": [r"\blaser\b"], "drops": [r"\bdrops\b"]}
DATA = {
    "who keeps it": [r"\bwe keep|controller"],
    "what for": [r"\brecord\b|purpose"],
    "how long": [r"how long|years"],
    "who sees it": [r"who sees|shared"],
    "rights": [r"you may ask|your rights"],
}
IMPRINT = {
    "who answers for the texts": [r"\b(Dr|MD)\b"],
    "with which training": [r"ophthalmologist|optometrist|physician|doctor of"],
    "how often they are read": [r"at least once a year|review(ed)? by|next review"],
    "who paid": [r"paid|fund"],
}
MATTERS_TO_YOU = (
    r"lose|blind|damage|harm|need|surgery|glare|cloud|sore|leave|block|help (too little|less)|land off target|shift|mark"
)
WAIVER = {"a waiver": r"\bwaive|do(es)? not want to (know|hear|be told)|without (an? )?explanation|decline the (talk|information)"}


def under(pieces, *titles: str) -> str:
    """The words under the headings of level 2 that match."""
    return " ".join(wording.section(pieces, 2, title).text for title in titles)


def paragraph(pieces, start: str) -> str:
    return next((block.text for block in pieces if re.match(start, block.text)), "")


READING = r"(?i)you decide"


def reading_pages(pieces) -> list[tags.Block]:
    """What comes before the pages that are filled in by hand."""
    end = next((i for i, block in enumerate(pieces) if block.kind == "H2" and re.search(READING, block.text)), len(pieces))
    return pieces[:end]


def whole(pieces) -> str:
    return " ".join(block.text for block in reading_pages(pieces))


# Each item: what the page lacks. An empty list is good.


def condition(pieces, packet):
    return wording.missing(under(pieces, r"floaters"), CONDITION)


def decision(pieces, packet):
    """On page 1, as a choice whether or not."""
    first = " ".join(block.text for block in pieces if block.page == 0)
    return [] if re.search(r"\b(choose|decide)\b[^.]*\bwhether\b[^.]*\bor\b[^.]*\.", first, re.I) else ["no decision on page 1"]


def likeness(pieces, packet):
    return wording.missing(whole(pieces), LIKE)


def informed(pieces, packet):
    return wording.missing(whole(pieces), INFORMED)


def circumstances(pieces, packet):
    """On all pages: that there is time stands where one decides."""
    return wording.missing(" ".join(block.text for block in pieces), CIRCUMSTANCES)


def outcome(pieces, packet):
    found = [] if under(pieces, r"may bring|benefit") else ["no section on what it may bring"]
    return found + wording.missing(whole(pieces), OUTCOME)


def talk(pieces, packet):
    return wording.missing(" ".join(block.text for block in pieces), TALK)


def signed(pieces, packet):
    return wording.missing(signed_sentence(pieces), SIGNED)


def waiver(pieces, packet):
    return wording.found(" ".join(block.text for block in pieces), WAIVER, re.I)


def cost(pieces, packet):
    return wording.missing(paragraph(pieces, r"Cost\."), COST)


def rules(pieces, packet):
    return wording.missing(paragraph(pieces, r"Rules\."), RULES)


def data(pieces, packet):
    return wording.missing(paragraph(pieces, r"Your data"), DATA)


def imprint(pieces, packet):
    return wording.missing(paragraph(pieces, r"These pages"), IMPRINT)


def what_it_means(pieces, packet):
    """Each risk says in words what it could do, besides its number."""
    return [risk.title for risk in risk_sections(pieces) if not re.search(MATTERS_TO_YOU, risk.text, re.I)]


def own_words(pieces, packet):
    """The surgeon's words to this patient; that there are none is said."""
    said = any(re.match(r"(What )?[Yy]our surgeon adds\b", block.text) for block in pieces)
    return [] if said else ["nothing said of this patient's own risks and wishes"]


def ladder(pieces, packet):
    """Numbered steps from the heading on deciding on, each with its room to fill in: what matters, what to ask, the answer."""
    start = next((i for i, block in enumerate(pieces) if block.kind == "H2" and re.search(r"decid", block.text, re.I)), len(pieces))
    steps = {hit[1] for block in pieces[start:] if (hit := re.match(r"(\d)\. \w", block.text))}
    return [] if {"1", "2", "3"} <= steps else [f"{len(steps)} numbered steps"]


def questions(pieces, packet):
    """Three questions or more that a patient can take along."""
    asked = re.findall(r"[A-Z][^.?]*\?", under(pieces, r"decid"))
    return [] if len(asked) >= 3 else [f"{len(asked)} questions to ask"]


def severe(pieces, packet):
    """Rare severe harm is named, whatever the eye."""
    titles = " ".join(risk.title for risk in risk_sections(pieces))
    return wording.missing(titles, {"sight": [r"loss of sight|blind"], "retina": [r"retinal (tear|detachment)|(torn|detached) retina"]})


def helpers(pieces, packet):
    """Others who do part of the treatment are named if there are any, and only then; the surgeon watches over them."""
    said = {
        "other_doctor": r"another doctor\b[^.]*\bpart of the treatment\b.*watches",
        "other_staff": r"staff who are not doctors\b[^.]*\bpart of the treatment\b.*watches",
    }
    text = whole(pieces)
    return [fact for fact, words in said.items() if bool(re.search(words, text, re.I)) != (packet.fact(fact) == "yes")]


def home(pieces, packet):
    """Somebody takes the patient home."""
    return wording.missing(whole(pieces), {"company": [r"(someone|somebody|an adult) (to take|takes|who takes) you home"]})


def allergies(pieces, packet):
    """Each allergy, or that none is known, or that nobody asked."""
    line = next((block.text for block in pieces if "Allergies on record" in block.text), "")
    known = packet.fact("allergies")
    wanted = known or ["none known", "not recorded"]
    there = [allergy for allergy in wanted if allergy.lower() in line.lower()]
    return [] if len(there) == (len(known) or 1) else [f"allergies: {line!r}"]


APART = {"images": r"pictures|photo", "teaching": r"in training|students?|teach", "research": r"research"}


def bundled(pieces, packet):
    """What is not the treatment: each a question of its own with yes, no and initials; none in what is signed."""
    found = []
    for what, words in APART.items():
        at = [i for i, block in enumerate(pieces) if block.text.endswith("?") and re.search(rf"(?i)^may .*({words})", block.text)]
        answered = [i for i in at if re.fullmatch(r"(?i)Yes No .*initials.*", pieces[i + 1].text)]
        found += [] if answered and len(answered) == len(at) else [f"{what} is not asked with its own yes, no and initials"]
    return found + wording.found(signed_sentence(pieces), {"bundled": "|".join(APART.values())}, re.I)


def teach_back(pieces, packet):
    """Which eye, what could go wrong, which signs: asked, not told."""
    said = [block.text for block in wording.section(pieces, 2, r"decid").blocks if re.search(r"say it back", block.text, re.I)]
    asked = [one for text in said for one in wording.sentences([text]) if one.endswith("?")]
    wanted = {"eye": [r"which eye"], "risk": [r"go wrong|risk"], "signs": [r"signs?\b.*(same day|at once)"]}
    told = [text for text in asked if re.search(r"\b(right|left) eye\b", text, re.I)]
    return wording.missing(" ".join(asked), wanted) + told


def note(pieces, packet):
    """The clinician's note has who, date and time (42 CFR 482.24(c)(1))."""
    label = paragraph(pieces, r"(Note of the clinician|Clinician[’']s note)")
    return wording.missing(label, {"who": [r"initials|name"], "date": [r"\bdate\b"], "time": [r"\btime\b"]})


def by_proxy(pieces, packet):
    """A representative signs where the record names one, and never otherwise; the interpreter likewise."""
    there = signs(pieces)
    representative = packet.fact("representative") == "yes"
    found = [] if ("representative" in there) == representative and ("patient" in there) != representative else ["who signs"]
    return found + ([] if ("interpreter" in there) == (packet.fact("interpreter") == "yes") else ["interpreter"])


def discussant(pieces, packet):
    """Who explained it: role, and when the talk began and ended."""
    there = signs(pieces).get("explained")
    labels = " ".join(there.labels) if there else ""
    wanted = {"role": [r"\brole\b"], "talk": [r"\bTalk\b.*start.*end"], "date": [r"\bDate\b"], "time": [r"\bTime\b"]}
    return wording.missing(labels, wanted)


def long_sentences(pieces, packet):
    """Sentences of more than 25 words (common practice, no source)."""
    texts = [re.sub(r" ?\[\d+\]|^What [a-z ]+: ", "", block.text) for block in reading_pages(pieces) if block.kind in ("P", "LBody", "TD")]
    return [one for one in wording.sentences(texts) if len(one.split()) > 25 and not re.search(r"\d{3}-\d{4}|, [A-Z]{2} ", one)]


def _held(consent: Document, *checks):
    pieces = wording.blocks(consent)
    return [fault for check in checks for fault in check(pieces, consent.packet)]


def test_condition(consent: Document):
    """IPD-Q1, GMC-1, see `condition` and `informed`."""
    assert _held(consent, condition, informed) == []


def test_decision(consent: Document):
    """IPD-Q2, see `decision`."""
    assert _held(consent, decision) == []


def test_what_it_is_like(consent: Document):
    """IPD-Q6, see `likeness`."""
    assert _held(consent, likeness) == []


def test_circumstances(consent: Document):
    """BGB-1: the nine of them, and MON-4, see `long_sentences`."""
    assert _held(consent, circumstances, long_sentences) == []


def test_outcome(consent: Document):
    """ASC-2, TJC-1, TJC-2, see `outcome`."""
    assert _held(consent, outcome) == []


def test_talk(consent: Document):
    """GMC-3, GMC-4, BGB-3, BGB-7, MON-4: the talk, time, support, a change of mind; questions answered in what is signed."""
    assert _held(consent, talk, signed) == []


def test_no_waiver(consent: Document):
    """BGB-8: giving up the explanation would be a paper of its own."""
    assert _held(consent, waiver) == []


def test_cost_and_rules(consent: Document):
    """BGB-10: cost in words and with its date; how treatment and drops are regulated (common practice, no source)."""
    assert _held(consent, cost, rules) == []


def test_privacy(consent: Document):
    """GDPR-4, see `data`."""
    assert _held(consent, data) == []


def test_imprint(consent: Document):
    """IPD-C4, IPD-C6, IPD-X13: who answers for the texts, with which training, how often they are read, who paid."""
    assert _held(consent, imprint) == []


def test_risks_mean_something(consent: Document):
    """MON-3, see `what_it_means`."""
    assert _held(consent, what_it_means) == []


def test_severe_harm(consent: Document):
    """BGB-12, CMS-14, see `severe`."""
    assert _held(consent, severe) == []


def test_steps_and_questions(consent: Document):
    """IPD-X11, IPD-X12, see `ladder` and `questions`."""
    assert _held(consent, ladder, questions) == []


def test_this_patient(consent: Document):
    """MON-1, see `own_words`; the blank lines are in `test_room_to_write`."""
    assert _held(consent, own_words) == []


def test_helpers(consent: Document):
    """CMS-10, CMS-11, see `helpers`."""
    assert _held(consent, helpers) == []


def test_company(consent: Document):
    """ASC-6, see `home`."""
    assert _held(consent, home) == []


def test_allergies(consent: Document):
    """ASC-7, see `allergies`."""
    assert _held(consent, allergies) == []


def test_asked_apart(consent: Document):
    """GDPR-1, CMS-18, see `bundled`."""
    assert _held(consent, bundled) == []


def test_teach_back(consent: Document):
    """TJC-1, BGB-5, see `teach_back`."""
    assert _held(consent, teach_back) == []


def test_note_is_signed(consent: Document):
    """CMS-19, GMC-2, see `note`."""
    assert _held(consent, note) == []


def test_who_decides(consent: Document):
    """GMC-5, BGB-5, see `by_proxy`."""
    assert _held(consent, by_proxy) == []


def test_who_explained(consent: Document):
    """CMS-7, TJC-3, BGB-3, BGB-4, see `discussant`."""
    assert _held(consent, discussant) == []


def rules_below(document: Document, label: str) -> int:
    """Ruled lines across the page between a label and the next words."""
    for page, sheet in zip(ink.pages(document.path), poppler.sheets(document.path)):
        lines = sorted(poppler.lines(sheet), key=lambda line: line.top)
        at = next((i for i, line in enumerate(lines) if re.match(label, line.text)), None)
        if at is not None:
            under = (line for line in lines[at + 1 :] if line.left < lines[at].right and line.right > lines[at].left)
            below = next((line.top for line in under if line.top > lines[at].bottom + 4), page.height)
            heights = {
                round(page.height - shape.box[1]) for shape in page.shapes
                if shape.box[2] - shape.box[0] > 200 and shape.box[3] - shape.box[1] < 2.5
            }
            return sum(lines[at].bottom < height < below for height in heights)
    return 0


def test_room_to_write(consent: Document):
    """MON-1, IPD-X10, IPD-X12, TJC-1, GMC-2: lines to write on: what matters, what to ask, the clinician's note."""
    room = {label: rules_below(consent, label) for label in (r"1\. What matters most to you", r".*2\. What you want to ask", "Clinician's note")}
    assert [label for label, lines in room.items() if lines == 0] == [] and sum(room.values()) >= 5


def test_day_on_first_page(consent: Document):
    """CMS-17, BGB-4: the planned day and hour stand on page 1, so that a signature can be compared with them."""
    start = datetime.datetime.fromisoformat(consent.packet.fact("start_time"))
    shown = f"{long_date(start.date())}, at {start.hour % 12 or 12}:{start.minute:02} {'AM' if start.hour < 12 else 'PM'}"
    assert squeezed(shown) in squeezed(poppler.texts(consent.path)[0])


def test_statements_arrive(consent: Document, explained):
    """CMS-9: every risk chosen for this eye stands on the page, and no other."""
    chosen = [row for row in explained[consent.packet["case"]] if row["chosen"] and row["section"] == "risks"]
    assert len(risk_sections(wording.blocks(consent))) == len(chosen) >= 6


# The checks of the checks.


def struck(pieces, pattern: str):
    """The page without some words."""
    return [dataclasses.replace(block, text=re.sub(pattern, "", block.text)) for block in pieces]


DAMAGE = [
    (condition, r"shadows?|clumps?|specks?"), (decision, r"whether"), (likeness, r"[Dd]o not drive|take you home|go home"),
    (informed, r"[Nn]obody knows|[Nn]ot known"), (circumstances, r"[Tt]ake your time|ask again later"), (outcome, r"about \d+"),
    (talk, r"[Cc]hange your mind"), (signed, r"[Qq]uestions"), (cost, r"\([A-Z]\w+ \d+.*"), (rules, r"drops"),
    (data, r"how long"), (imprint, r"paid"), (what_it_means, r"[Yy]ou could lose|lose|blind\w*|[Hh]arm"), (own_words, r"surgeon"),
    (ladder, r"^3\. .*"), (questions, r"\?"), (severe, r"Loss of sight"), (home, r"home"), (allergies, r"[Nn]one known|penicillin"),
    (bundled, r"Yes"), (bundled, r"May we use pictures.*"), (teach_back, r"[Ww]hich eye,.*"), (note, r"initials"),
    (by_proxy, r"^Printed name$"), (discussant, r", role$"), (discussant, r"^Talk.*"),
]


@pytest.mark.parametrize("check, pattern", DAMAGE, ids=lambda value: getattr(value, "__name__", value))
def test_left_out_words_are_noticed(check, pattern, sound_consent):
    """Not vacuous: a sound page fails each check when the words for its point are struck out."""
    pieces = wording.blocks(sound_consent)
    assert check(pieces, sound_consent.packet) == []
    assert check(struck(pieces, pattern), sound_consent.packet) != []


def _added(pieces, text: str):
    return [dataclasses.replace(block, text=f"{block.text} {text}") if block.kind == "P" else block for block in pieces]


@pytest.mark.parametrize("check, text", [
    (waiver, "I waive the explanation."),
    (long_sentences, "It is " + "very " * 25 + "long."),
    (bundled, "I agree to photos of my eye."),
    (teach_back, "Is it your right eye?"),
], ids=lambda value: getattr(value, "__name__", ""))
def test_added_words_are_noticed(check, text, sound_consent):
    """Not vacuous: a sound page fails when words are added that must not stand there."""
    assert check(_added(wording.blocks(sound_consent), text), sound_consent.packet) != []


def test_wrong_facts_are_noticed(sound_consent):
    """Not vacuous: a page made for other facts than those of the record."""
    pieces, packet = wording.blocks(sound_consent), sound_consent.packet
    for name, value in (("other_doctor", "no"), ("other_staff", "no"), ("representative", "no"), ("interpreter", "no")):
        turned = {"yes": "no", "no": "yes"}[packet.fact(name)]
        other = Packet(packet.path)
        other.__dict__["data"] = packet.data | {"facts": packet["facts"] | {name: turned}}
        assert helpers(pieces, other) or by_proxy(pieces, other), (name, value)
    assert rules_below(sound_consent, "No such label") == 0
