"""Signatures by hand: who, what it means, when, and room to write; nothing filled in beforehand.

42 CFR 482.51(b)(2); the display rule of 21 CFR 11.50 as good form; line sizes are common practice, no source.
"""

import re
from dataclasses import dataclass, field

import ink
import poppler
import printed_calendar
import tags
import wording
from packets import Document

MM = 72 / 25.4
WANTED = {"Printed name", "Date", "Time"}
"""Besides the line for the signature itself, under which the role stands."""
LABELS = WANTED | {"Printed name, role", "Authority", "Language", "Relationship", "Interpreter number", "Talk: start, end"}
EYE = re.compile(r"I write which eye")
SIGNED = re.compile(r"\bI (agree|consent|choose)\b", re.I)


@dataclass
class Signer:
    """A role, which stands under the line for its signature, with the labels of the other blanks."""

    role: str
    page: int
    labels: list[str] = field(default_factory=list)


def signers(pieces: list[tags.Block]) -> list[Signer]:
    """Blanks in reading order under the last words before them."""
    found: list[Signer] = []
    for before, block in zip(pieces, pieces[1:]):
        if block.text in LABELS:
            if before.text not in LABELS:
                found.append(Signer(before.text, block.page))
            found[-1].labels.append(block.text)
    return found


MEANING = {
    "patient": r"(patient|I agree|representative)",
    "representative": r"representative|for the patient",
    "explained": r"explained",
    "witness": r"witness",
    "interpreter": r"interpret",
}


def signs(pieces) -> dict[str, Signer]:
    """Who signs, by meaning; the more special meaning first."""
    found = {}
    for signer in signers(pieces):
        for meaning in ("interpreter", "witness", "explained", "representative", "patient"):
            if re.search(MEANING[meaning], signer.role, re.I):
                found.setdefault(meaning, signer)
                break
    return found


def incomplete(pieces, wanted: set[str]):
    """SIG-3, CMS-5, CMS-6, CMS-8: who must sign does, each with printed name, signature, date and time."""
    there = signs(pieces)
    found = [f"no signature of the {who}" for who in sorted(wanted - there.keys())]
    for who, signer in there.items():
        lacking = WANTED - {label.removesuffix(", role") for label in signer.labels}
        found += [f"the {who} has no blank for {label}" for label in sorted(lacking)]
    return found


def required(document: Document) -> set[str]:
    packet = document.packet
    signer = "representative" if packet.fact("representative") == "yes" else "patient"
    interpreter = {"interpreter"} if packet.fact("interpreter") == "yes" else set()
    return {signer, "explained", "witness"} | interpreter


def test_who_signs(consent: Document):
    """SIG-3, CMS-5, CMS-6, CMS-7, CMS-8, ACA-4, see `incomplete`. There is room for a witness; whether one signs is a choice."""
    assert incomplete(wording.blocks(consent), required(consent)) == []


def test_representative_has_authority(consent: Document):
    """CMS-5: who signs for the patient states on what ground."""
    signer = signs(wording.blocks(consent)).get("representative")
    if consent.packet.fact("representative") == "yes":
        assert signer and set(signer.labels) & {"Authority", "Relationship"}


def test_meanings_differ(consent: Document):
    """SIG-4 (21 CFR 11.50(a)(3)): each signature says what it means."""
    roles = [signer.role for signer in signs(wording.blocks(consent)).values()]
    assert len(set(roles)) == len(roles) >= 2
    assert all(re.search(r"\bI \w+", role) or "if " in role for role in roles)


def torn(pieces: list[tags.Block], eye: str):
    """SIG-5 (21 CFR 11.70, as a principle): the page of a signature holds the sentence that is signed, with the eye."""
    found = []
    for who, signer in signs(pieces).items():
        page = " ".join(block.text for block in pieces if block.page == signer.page)
        if not SIGNED.search(page) or eye not in page.lower():
            found.append(f"the {who} signs on page {signer.page + 1} away from the sentence")
    return found


def test_signature_stays_with_its_sentence(consent: Document):
    """SIG-5, see `torn`."""
    assert torn(wording.blocks(consent), consent.packet.eye) == []


HANDED = {
    r"copy .*(given|handed|got|received|patient)|(given|handed|got|received).* copy": {"Printed name", "Date", "Time"},
}


def unrecorded(pieces):
    """That a copy was handed over, by whom and when."""
    there = signers(pieces)
    found = []
    for words, wanted in HANDED.items():
        entry = next((signer for signer in there if re.search(words, signer.role, re.I)), None)
        found += [f"no line for {words}"] if entry is None else [f"{entry.role}: {label}" for label in wanted - set(entry.labels)]
    return found


def unguided(text: str):
    """That one may take it back after signing, and that there is a slip for it."""
    return wording.missing(text, {"the slip": [r"change your mind at any (point|time)[^.]*\bsign[^.]*\bslip\b"]})


def test_copy_and_withdrawal(consent: Document):
    """SIG-6, BGB-6, GMC-2: a line that a copy was handed over. CMS-19: with who, date and time. SIG-12, BGB-7, GMC-3: how to
    withdraw; the slip itself is a paper of its own. See `unrecorded` and `unguided`."""
    pieces = wording.blocks(consent)
    assert unrecorded(pieces) == [] and unguided(" ".join(block.text for block in pieces)) == []


@dataclass(frozen=True)
class Line:
    """A line to write on, above its label; points from the upper left corner."""

    label: str
    left: float
    right: float
    y: float
    page: int


def writing_lines(document: Document) -> list[Line]:
    """Each label or role below a ruled line, with that line."""
    found = []
    roles = tuple(signer.role for signer in signs(wording.blocks(document)).values())
    for number, (page, sheet) in enumerate(zip(ink.pages(document.path), poppler.sheets(document.path))):
        rules = [
            (shape.box[0], shape.box[2], page.height - (shape.box[1] + shape.box[3]) / 2)
            for shape in page.shapes
            if shape.box[3] - shape.box[1] < 2.5 < shape.box[2] - shape.box[0]
        ]
        for label in poppler.lines(sheet):
            if label.text in LABELS or EYE.match(label.text) or any(role.startswith(label.text) for role in roles):
                above = [r for r in rules if r[0] - 3 <= label.left <= r[1] and 0 <= label.top - r[2] + 3 < 14]
                if above:
                    nearest = min(above, key=lambda r: abs(label.top - r[2]))
                    found.append(Line(label.text, nearest[0], nearest[1], nearest[2], number))
    return found


def signed(label: str) -> bool:
    """Whether a label under a line is a role, so that one signs there."""
    return label not in LABELS and not EYE.match(label)


def short_lines(lines: list[Line]):
    """SIG-8: a line to sign on is at least 60 mm long."""
    lengths = [(line.page + 1, (line.right - line.left) / MM) for line in lines if signed(line.label)]
    return [f"a line to sign on page {page} is {length:.0f} mm long" for page, length in lengths if length < 59.8]


def filled_lines(lines: list[Line], document: Document):
    """SIG-7, SIG-8: 10 mm above the line are free of words and of drawings."""
    found = []
    for line in lines:
        sheet, page = poppler.sheets(document.path)[line.page], ink.pages(document.path)[line.page]
        top = line.y - 10 * MM
        words = [w.text for w in sheet.words if w.left < line.right and w.right > line.left and top < w.middle < line.y - 1]
        drawn = [
            shape for shape in page.shapes
            if shape.box[0] < line.right - 1 and shape.box[2] > line.left + 1
            and top < page.height - shape.box[3] and page.height - shape.box[1] < line.y - 2
        ]
        if words or drawn:
            found.append(f"{line.label} on page {line.page + 1} has {words or 'a drawing'} where one writes")
    return found


def test_room_to_sign(consent: Document):
    """SIG-7, SIG-8, SITE-8, see `short_lines` and `filled_lines`; each blank has its line, the eye in one's own hand too."""
    lines = writing_lines(consent)
    pieces = wording.blocks(consent)
    blanks = [label for signer in signers(pieces) for label in signer.labels]
    assert len(lines) == len(blanks) + len(signs(pieces)) + 1 >= 15 and any(EYE.match(line.label) for line in lines)
    assert short_lines(lines) == [] and filled_lines(lines, consent) == []


def test_nothing_is_filled_in(consent: Document):
    """SIG-7, GDPR-2 as a principle: no box is ticked and no date or name stands at a blank."""
    ticked = [box for page in ink.pages(consent.path) for box in printed_calendar.boxes(page) if box.ticked]
    assert ticked == []
    after_labels = [
        line.text for sheet in poppler.sheets(consent.path) for line in poppler.lines(sheet)
        if re.match(rf"({'|'.join(sorted(LABELS))}):? .*\d", line.text)
    ]
    assert after_labels == []


# The checks of the checks.


def _blocks(*texts, page=0):
    element = tags.Element("P", "P", {}, None, None, None)
    return [tags.Block(element, text, page) for text in texts]


SOUND = _blocks(
    "I agree to laser treatment of my right eye.",
    "Patient: I agree to this treatment", "Printed name", "Date", "Time",
    "Clinician: I explained this treatment", "Printed name", "Date", "Time",
)


def test_faults_are_noticed():
    """Not vacuous: a signer left out, a blank left out, a signature on a page of its own, a short or used line."""
    wanted = {"patient", "explained"}
    handed = _blocks("I handed a copy to the patient", "Printed name", "Date", "Time")
    assert unrecorded(handed) == []
    assert unrecorded(handed[:3]) and unrecorded([*handed[:1], *handed[2:]]) and unrecorded([])
    assert unguided("You can change your mind at any point.") and unguided("Ask for the slip.")
    assert not unguided("You can change your mind at any point, even after you sign: ask us for the slip.")
    assert incomplete(SOUND, wanted) == [] and torn(SOUND, "right eye") == []
    assert incomplete(SOUND[:5], wanted) and incomplete(SOUND[:-1], wanted) and incomplete(SOUND, wanted | {"interpreter"})
    assert torn([*SOUND[:1], *_blocks(*(b.text for b in SOUND[1:]), page=1)], "right eye")
    assert torn(SOUND, "left eye")
    assert short_lines([Line("Patient: I", 0, 59 * MM, 100, 0)]) and not short_lines([Line("Patient: I", 0, 61 * MM, 100, 0)])


def test_used_line_is_noticed(sound_consent):
    """Not vacuous: a line drawn right below some words of a real page."""
    word = poppler.sheets(sound_consent.path)[0].words[-1]
    assert filled_lines([Line("Patient: I", word.left - 5, word.right + 5, word.bottom + 2, 0)], sound_consent)
