"""Right eye, wrong eye: the side in words, the same in every place, and the checks that guard it on the staff sheets.

Joint Commission Universal Protocol UP.01.01.01 to UP.01.03.01; WHO surgical safety checklist 2009; no L, R, OD or OS.
"""

import re

import packets
import printed_calendar
import tags
import wording
from packets import Document, Packet

ABBREVIATED = {"an abbreviated side": r"\b(?:O\.?D\.?|O\.?S\.?|O\.?U\.?)(?![\w.])|\b[LR] eye\b|\b(?:RE|LE|RT|LT)\b"}
PROCEDURE = re.compile(r"laser|treat|drop|consent|agree|procedure|operat|sign", re.I)


def abbreviated(text: str):
    """SITE-1, ISMP-1: the side is never abbreviated."""
    return wording.found(text, ABBREVIATED)


def wrong_side(sentences: list[str], eye: str, other: str):
    """SITE-2: the other side does not occur where the procedure is spoken of. "Your other eye" may."""
    return [
        sentence
        for sentence in sentences
        if re.search(rf"\b{other}\b", sentence, re.I) and PROCEDURE.search(sentence)
        and not re.search(rf"\b{eye}\b", sentence, re.I)
    ]


def test_side_in_words(document: Document):
    """SITE-1, ISMP-1 on all pages, those of the staff too."""
    assert [hit for block in wording.blocks(document) for hit in abbreviated(block.text)] == []


def test_side_in_its_places(patient_document: Document):
    """SITE-1: in the title and at least on each page (see test_pages)."""
    titles = [block.text for block in wording.blocks(patient_document) if block.kind == "H1"]
    eye = "both eyes" if patient_document.page == "both-eyes" else patient_document.packet.eye
    assert len(titles) == 1 and eye in titles[0].lower()


def test_side_is_one(document: Document):
    """SITE-2, see `wrong_side`. Labels of drawings are left out, their alternative text is not."""
    if document.page == "both-eyes":
        return  # each head names its eye: test_both_eyes
    packet = document.packet
    reading = tags.reading(document.path)
    words = [block.text for block in wording.blocks(document) if block.kind != "Figure"]
    words += [figure.alt or "" for figure in reading.elements("Figure")]
    assert wrong_side(wording.sentences(words), packet.eye, packet.other_eye) == []


def test_side_over_each_column(aftercare: Document):
    """SITE-1: the head over the boxes of each drug names the eye, on each page of the calendar."""
    packet = aftercare.packet
    for cells, _ in printed_calendar.tables(tags.reading(aftercare.path)):
        heads = " ".join(cells)
        assert packet.eye in heads.lower() and packet.other_eye not in heads.lower()


def test_drawing_of_the_eyes(consent: Document):
    """SITE-9: the drawing says in words whose right it is and which eye is treated."""
    packet = consent.packet
    drawings = [f for f in tags.reading(consent.path).elements("Figure") if "eyes seen as your own" in (f.alt or "")]
    assert drawings, "no drawing of the two eyes"
    for drawing in drawings:
        last = wording.sentences([drawing.alt])[-1].lower()
        assert packet.eye in last and packet.other_eye not in last


def test_patient_writes_the_side(consent: Document):
    """SITE-8: the patient writes the eye in their own hand; nothing is filled in."""
    question = re.compile(r"which eye .*(write|hand|own words|to be treated)|write.* which eye", re.I)
    asked = [block.text for block in wording.blocks(consent) if question.search(block.text)]
    assert asked, "no place where the patient writes which eye"
    assert not any(re.search(r"\b(right|left) eye\b", text, re.I) for text in asked)


def test_one_side_only(packet: Packet):
    """SITE-10: one eye; both eyes are two cases."""
    assert packet["eye"] in ("right", "left")


STAFF = {
    "identity": [r"identity|two identifiers|name and (date of )?birth"],
    "documents agree (SITE-4)": [r"record.*agree|(consent|documents|papers|pages).*(agree|match|same|correct|complete|signed)"],
    "eye marked (SITE-5)": [r"\bmark(ed|s)?\b.*\beye\b|\beye\b.*\bmark(ed)?\b"],
    "patient says name and eye (SITE-8)": [r"(patient|they) (says?|states?|tells?|names?)|says? .*(name|eye)"],
    "pause before the laser (SITE-6)": [r"time.?out|pause|immediately before|right before|just before"],
    "before the patient sits down (SITE-7)": [r"sign.?in|before (the )?(numbing|drops|anaesthetic|anesthetic)|on arrival"],
    "at the end (SITE-7)": [r"sign.?out|before the patient leaves|at the end|after the last pulse"],
    "what does not apply is said (SITE-7)": [r"not applicable|does not apply"],
    "allergies (SITE-7)": [r"allerg"],
}


def test_staff_checks(desk: Document):
    """SITE-4, SITE-5, SITE-6, SITE-7, SITE-8, ASC-7: the lines of the safety checks on the desk sheet, before the laser."""
    if desk.packet["moment"] == "before" and not desk.packet["withheld"]:
        assert wording.missing(wording.text(desk), STAFF) == []


PHASES = {
    r"sign in": {
        "identity": r"name and date of birth", "side": r"which eye", "consent": r"consent signed", "mark": r"marked by the surgeon",
        "allergy": r"allerg",
    },
    r"time out": {
        "roles": r"names and roles", "patient, side, procedure": r"this patient.*(right|left) eye.*laser", "images": r"images|record",
        "concerns": r"could go wrong", "left out on purpose": r"not applicable",
    },
    r"sign out": {"procedure": r"pulses|energy|procedure", "equipment": r"equipment", "recovery": r"recheck|recovery"},
}


def phases_missing(pieces):
    """SITE-6, SITE-7: the three pauses, each with its lines."""
    texts = [block.text for block in pieces]
    starts = [next((i for i, text in enumerate(texts) if re.match(phase, text, re.I)), None) for phase in PHASES]
    if None in starts or starts != sorted(starts):
        return ["the three pauses are not there in their order"]
    ends = [*starts[1:], len(texts)]
    return [
        name for (start, end, wanted) in zip(starts, ends, PHASES.values()) for name, words in wanted.items()
        if not re.search(words, " ".join(texts[start:end]), re.I)
    ]


def test_three_pauses(desk: Document):
    """SITE-6, SITE-7, see `phases_missing`."""
    if desk.packet["moment"] == "before" and not desk.packet["withheld"]:
        assert phases_missing(wording.blocks(desk)) == []


def test_checks_leave_room_for_initials(desk: Document):
    """SITE-5, SITE-6, CMS-19: who did it and when is written by hand beside the checks."""
    if desk.packet["moment"] == "before" and not desk.packet["withheld"]:
        words = [block.text for block in wording.blocks(desk)]
        joined = " ".join(words)
        assert len(re.findall(r"\bInitials\b", joined)) >= 1 and len(re.findall(r"\bTime\b", joined)) >= 1


def test_faults_are_noticed():
    """Not vacuous: abbreviations, the wrong side where it matters, staff lines left out."""
    for text in ("Treat OD today", "laser O.S.", "O.U.", "R eye", "the LE"):
        assert abbreviated(text), text
    assert not abbreviated("Odd words: US, OCT, overly, rose")
    assert wrong_side(["The laser treats your left eye."], "right eye", "left eye")
    assert not wrong_side(["Your left eye sees poorly."], "right eye", "left eye")
    assert set(wording.missing("nothing of it", STAFF)) == set(STAFF)


def test_pauses_left_out_are_noticed():
    """Not vacuous: a pause or a line of it is missing on the sheet."""
    desk = next(d for d in packets.pages("desk") if d.packet["moment"] == "before" and not d.packet["withheld"])
    pieces = wording.blocks(desk)
    for words in ("Time out", "Consent signed", "Equipment"):
        assert phases_missing([block for block in pieces if not block.text.startswith(words)]) != []
