"""Size and look of print, for tired, dilated or ageing eyes (clear and large print guidance; geometry of the drawn text)."""

import dataclasses
import math
import re

import pytest

import ink
import packets
import poppler
import tags
from packets import Document

SMALLEST = dict.fromkeys(packets.PATIENT_PAGES, 12.0) | dict.fromkeys(packets.STAFF_PAGES, 10.5)
LARGE = 18.0
PAPER = {"us-letter": (612.0, 792.0), "a4": (595.28, 841.89)}


def small_text(page: ink.Page, least: float):
    """LP-1, LP-2, LP-3: type size times scale of every run of text."""
    return [f"{run.text[:40]!r} has {run.size:.2f} pt" for run in page.runs if run.text.strip() and run.size < least - 0.01]


def test_size(document: Document):
    """LP-1 (RNIB and UKAAF clear print), USP-7: at least 12 pt for patients; staff sheets 10.5 pt (common practice, no source).

    LP-13 (EC guideline of 2009, from memory): so never under 9 pt. LP-2, LP-3 (APH, ACB, UKAAF): in large print nothing on the patient's pages is smaller than 18 pt, neither foot nor
    page number.
    """
    large = document.packet["print"] == "large" and document.for_patient
    least = LARGE if large else SMALLEST[document.page]
    found = {n: small_text(page, least) for n, page in enumerate(ink.pages(document.path), 1)}
    assert {n: lines for n, lines in found.items() if lines} == {}


def test_body_size(patient_document: Document):
    """LP-1: clear print is better at 14 pt, so most of the letters on a patient's page have it. Sources in the annex are no reading."""
    letters: dict[float, int] = {}
    for page, text in zip(ink.pages(patient_document.path), poppler.texts(patient_document.path)):
        for run in page.runs if not re.search(r"Page A\d", text) else ():
            letters[round(run.size, 1)] = letters.get(round(run.size, 1), 0) + len(run.text)
    body = max(letters, key=letters.get)
    assert body >= (18 if patient_document.packet["print"] == "large" else 14)


def unclear_faces(pages: list[ink.Page]):
    """LP-4, LP-6, USP-7: one sans serif family, regular and bold, never italic or condensed."""
    faces = {run.font for page in pages for run in page.runs}
    found = [f"{face.name} is italic" for face in faces if face.italic or re.search("italic|oblique", face.name, re.I)]
    found += [f"{face.name} is condensed" for face in faces if re.search("cond|narrow|compressed", face.name, re.I)]
    families = {re.sub(r"^[A-Z]{6}\+|[-,].*$", "", face.name) for face in faces}
    if len(families) != 1 or "sans" not in "".join(families).lower():
        found.append(f"the families {sorted(families)}")
    return found


def test_faces(document: Document):
    """LP-4, LP-6, USP-7, see `unclear_faces`."""
    assert unclear_faces(ink.pages(document.path)) == []


def test_paper(document: Document):
    """LP-10: real paper sizes, one size in a file; the calendar for the fridge may lie on its side."""
    sizes = {tuple(sorted((round(page.width, 1), round(page.height, 1)))) for page in ink.pages(document.path)}
    known = {(round(w, 1), round(h, 1)) for w, h in PAPER.values()}
    assert len(sizes) == 1 and sizes <= known


def outside(sheet: poppler.Sheet, edge: float = 34):
    """LP-8: every word at least 12 mm from the edge of the paper, where printers can reach and a hole punch does not."""
    return [
        word.text
        for word in sheet.words
        if word.left < edge or word.right > sheet.width - edge or word.top < 20 or word.bottom > sheet.height - 20
    ]


def overlapping(sheet: poppler.Sheet):
    """No word is printed over another (common practice, no source): boxes without the room poppler adds above and below."""

    def core(word):
        height = word.bottom - word.top
        return word.left + 0.5, word.top + 0.3 * height, word.right - 0.5, word.bottom - 0.3 * height

    found, words = [], sorted(sheet.words, key=lambda word: word.top)
    for i, first in enumerate(words):
        for second in words[i + 1 :]:
            if second.top > first.bottom:
                break
            a, b = core(first), core(second)
            if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]:
                found.append(f"{first.text!r} and {second.text!r}")
    return found


def split_words(sheet: poppler.Sheet):
    """LP-9: no word is divided at the end of a line."""
    return [word.text for word in sheet.words if re.fullmatch(r"[A-Za-z]{2,}[-\u2010\u00ad]", word.text)]


@pytest.mark.parametrize("check", [outside, overlapping, split_words], ids=lambda check: check.__name__)
def test_layout(document: Document, check):
    """LP-8, LP-9, see the functions above."""
    found = {n: check(sheet) for n, sheet in enumerate(poppler.sheets(document.path), 1)}
    assert {n: words for n, words in found.items() if words} == {}


def justified(runs: list[ink.Run]):
    """LP-5: the right ends of the lines of one paragraph, the last left out, all at one place (4 lines or more)."""
    ends: dict[int, float] = {}
    for run in runs:
        line = round(run.box[1])
        ends[line] = max(ends.get(line, 0.0), run.box[2])
    full = [ends[line] for line in sorted(ends, reverse=True)][:-1]
    return len(full) >= 3 and max(full) - min(full) < 1.0


def test_ragged_right(document: Document):
    """LP-5, see `justified`."""
    reading = tags.reading(document.path)
    found = [
        reading.text(element)[:60]
        for element in reading.elements("P", "LBody")
        if justified([run for content in element.contents() for run in reading.runs.get(content, [])])
    ]
    assert found == []


def tight_lines(runs: list[ink.Run]):
    """USP-7: white space between lines of a quarter of the type size, so a distance of 1.25 of it, rounding aside.

    What stands beside a line, as a blank for a time does, is no line above or below it.
    """
    lines: dict[float, list[ink.Run]] = {}
    for run in runs:
        lines.setdefault(run.box[1], []).append(run)
    found = []
    for height, line in lines.items():
        above = [other for other, upper in lines.items() if other > height and _over(upper, line)]
        size, distance = max(run.size for run in line), min(above, default=math.inf) - height
        # Below a tenth of the size it is one line, as with a raised mark of a source.
        if 0.1 * size < distance < 1.24 * size:
            found.append(f"{distance:.2f} for {size:.1f} pt")
    return found


def _over(upper: list[ink.Run], lower: list[ink.Run]):
    return any(a.box[0] < b.box[2] and b.box[0] < a.box[2] for a in upper for b in lower)


def test_line_distance(patient_document: Document):
    """USP-7, LP-7, LP-13 (at least 8.5 pt from line to line follows from 1.24 of 12 pt), see `tight_lines`."""
    reading, found = tags.reading(patient_document.path), []
    for element in reading.elements("P", "LBody"):
        by_page: dict[int, list[ink.Run]] = {}
        for content in element.contents():
            by_page.setdefault(content.page, []).extend(reading.runs.get(content, []))
        found += [hit for runs in by_page.values() for hit in tight_lines(runs)]
    assert found == []


def capitals(text: str):
    """LP-6 (UKAAF): no run of more than three words in capitals."""
    return re.findall(r"\b(?:[A-Z]{2,}\W+){3,}[A-Z]{2,}\b", text)


def test_no_capitals(document: Document):
    """LP-6, USP-7 (sentence case), see `capitals`."""
    assert [c for block in tags.reading(document.path).blocks() for c in capitals(block.text)] == []


def test_two_readers_agree(document: Document):
    """WCAG-5, WCAG-7 (1.3.1): what poppler finds on the paper is what the file says to a screen reader, letter for letter.

    The running head and foot are artifacts, so they count on the other side.
    """
    reading = tags.reading(document.path)
    said = sorted(re.sub(r"\s", "", tags.plain("".join(run.text for page in reading.pages for run in page.runs))))
    seen = sorted(re.sub(r"\s", "", "".join(poppler.texts(document.path))).replace("\u00ad", ""))
    said = [c for c in said if c not in "\u200b\u2060\u00ad"]
    seen = [c for c in seen if c not in "\u200b\u2060\u00ad"]
    assert said == seen


# The checks of the checks.


def _sheet(*words):
    return poppler.Sheet(612, 792, tuple(poppler.Word(text, *box) for text, *box in words))


def test_faults_are_noticed(sound_consent):
    """Not vacuous: each function finds its fault and only that."""
    page = ink.pages(sound_consent.path)[0]
    largest = max(run.size for run in page.runs)
    assert small_text(page, largest + 1) and not small_text(page, 5)
    assert outside(_sheet(("a", 600, 100, 620, 110))) and not outside(_sheet(("a", 100, 100, 120, 110)))
    assert overlapping(_sheet(("a", 100, 100, 150, 112), ("b", 140, 102, 180, 114)))
    assert not overlapping(_sheet(("a", 100, 100, 150, 112), ("b", 154, 100, 180, 112)))
    assert not overlapping(_sheet(("a", 100, 100, 150, 112), ("b", 100, 113, 150, 125)))
    assert split_words(_sheet(("treat-", 1, 1, 2, 2))) and not split_words(_sheet(("self-made", 1, 1, 2, 2)))
    lines = [dataclasses.replace(page.runs[0], box=(72, y, 400, y + 10)) for y in (50, 70, 90, 110)]
    ragged = [dataclasses.replace(line, box=(72, line.box[1], 300 + line.box[1], 0)) for line in lines]
    assert justified(lines) and not justified(ragged)
    close = [dataclasses.replace(page.runs[0], size=14.0, box=(72, y, 400, y + 10)) for y in (50, 66, 83.5)]
    assert tight_lines(close) == ["16.00 for 14.0 pt"]
    assert capitals("DO NOT DRIVE TODAY") and not capitals("Do NOT drive TODAY")


def test_faces_are_noticed(sound_consent):
    """Not vacuous: an italic or a second family is found."""
    pages = ink.pages(sound_consent.path)
    run = pages[0].runs[0]
    for change in ({"italic": True}, {"name": "ABCDEF+Other-Serif"}, {"name": run.font.name + "-Condensed"}):
        other = ink.Page(612, 792, [dataclasses.replace(run, font=dataclasses.replace(run.font, **change))])
        assert unclear_faces([*pages, other])
