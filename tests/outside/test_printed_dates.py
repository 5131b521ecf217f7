"""Dates and times as patients read them (NHS Common User Interface, date and time display; Unicode CLDR)."""

import datetime
import re

import printed_calendar
import tags
import wording
from packets import Document
from printed_calendar import MONTHS, WEEKDAYS

FULL = re.compile(rf"\b({'|'.join(WEEKDAYS)}),? ({'|'.join(MONTHS)}) (\d{{1,2}}), (\d{{4}})\b")
MONTH_DAY = re.compile(rf"\b({'|'.join(MONTHS)}) (\d{{1,2}})\b")
SHORT = r"\b(?:Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sept?|Oct|Nov|Dec)\b\.? ?\d|\b(?:Mon|Tues?|Wed|Thurs?|Fri|Sat|Sun)\b(?!-)"


RELATIVE = re.compile(
    r"\btomorrow\b|\byesterday\b|\bnext (?:week|month|Monday|Tuesday|Wednesday|Thursday|Friday)\b|\bday \d+\b"
    r"|\bin \d+ (?:days|weeks)\b",
    re.I,
)


def numeric(text: str):
    """DATE-1: the month is a word, never a number."""
    return re.findall(r"\b\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}\b|\b\d{4}-\d{2}-\d{2}\b", text)


def wrong_weekdays(text: str):
    """DATE-4: the weekday belongs to the date."""
    found = []
    for weekday, month, day, year in FULL.findall(text):
        try:
            date = datetime.date(int(year), MONTHS.index(month) + 1, int(day))
        except ValueError:
            found.append(f"{month} {day}, {year} does not exist")
            continue
        if WEEKDAYS[date.weekday()] != weekday:
            found.append(f"{month} {day}, {year} is not a {weekday}")
    return found


def without_year(text: str):
    """DATE-2: a day and month is followed by its year, at once or at the end of a range."""
    return [hit[0] for hit in MONTH_DAY.finditer(text) if not re.search(r"\b(19|20)\d\d\b", text[hit.end() : hit.end() + 60])]


def padded(text: str):
    """DATE-5: one pattern for days, that of CLDR en-US: no zero before a day."""
    return [hit[0] for hit in MONTH_DAY.finditer(text) if hit[2].startswith("0")]


def short_names(text: str):
    """DATE-3: months and weekdays in full on patient pages."""
    return re.findall(SHORT, text)


def bare_clock(text: str):
    """DATE-6: each time says which half of the day; 12:00 is noon or midnight in words."""
    found = []
    for hit in re.finditer(r"\b(\d{1,2}):(\d{2})\b( ?(?:AM|PM|noon|midnight))?", text):
        twelve = (int(hit[1]), int(hit[2])) == (12, 0)
        if not hit[3] or (twelve and not re.match(r".{0,4}(noon|midday|midnight)", text[hit.end(2) :])):
            found.append(hit[0])
    return found


def relative(sentence: str):
    """DATE-8: tomorrow, next week, day 3 only with the date in the same sentence."""
    return [] if MONTH_DAY.search(sentence) else RELATIVE.findall(sentence)


def in_table_or_drawing(block: tags.Block) -> bool:
    return block.kind == "Figure" or block.element.inside("Table", "Figure") or block.kind in ("TD", "TH")


def _running(document: Document) -> list[tags.Block]:
    """Text outside tables and drawings, which have captions and alternative texts of their own."""
    return [block for block in wording.blocks(document) if not in_table_or_drawing(block)]


def test_weekdays(document: Document):
    """DATE-4 on all pages, also in alternative texts."""
    reading = tags.reading(document.path)
    texts = [block.text for block in wording.blocks(document)] + [f.alt or "" for f in reading.elements("Figure")]
    assert [hit for text in texts for hit in wrong_weekdays(text)] == []


def test_month_is_a_word(patient_document: Document):
    """DATE-1, see `numeric`; head and foot too."""
    reading = tags.reading(patient_document.path)
    assert [hit for page in reading.pages for hit in numeric(tags.joined(page.runs))] == []


def test_year_is_said(patient_document: Document):
    """DATE-2, see `without_year`."""
    assert [hit for block in _running(patient_document) for hit in without_year(block.text)] == []


def test_calendar_pages_say_the_year(aftercare: Document):
    """DATE-2: rows of the calendar without a year stand on a page that says it between running head and foot.

    A table head that comes again on a later page is an artifact in the tags, and is read all the same by whoever looks.
    """
    reading = tags.reading(aftercare.path)
    for page, date in printed_calendar.rows(aftercare.path):
        height = reading.pages[page - 1].height
        runs = [run for run in reading.pages[page - 1].runs if 100 < run.box[1] < height - 100]
        years = set(re.findall(r"\b(20\d\d)\b", tags.joined(runs)))
        assert str(date.year) in years, f"page {page} has rows of {date.year} and does not say the year"


def test_names_in_full(patient_document: Document):
    """DATE-3, DATE-5, see the functions."""
    assert [hit for block in _running(patient_document) for hit in short_names(block.text) + padded(block.text)] == []


def test_clock(patient_document: Document):
    """DATE-6, see `bare_clock`; one style of clock in the whole page set."""
    words = [block.text for block in wording.blocks(patient_document)]
    joined = re.sub(r"(\d:\d\d (?:AM|PM)) (?=\d)", r"\1. ", " ".join(words))
    assert bare_clock(joined) == []


def test_no_relative_dates(patient_document: Document):
    """DATE-8, see `relative`."""
    pieces = [block.text for block in _running(patient_document)]
    assert [hit for sentence in wording.sentences(pieces) for hit in relative(sentence)] == []


def test_faults_are_noticed():
    """Not vacuous: a bad example of each rule beside a good one."""
    assert numeric("on 8/7/26") and numeric("07.08.2026") and numeric("2026-08-07") and not numeric("(555) 010-0142")
    assert wrong_weekdays("Thursday, August 7, 2026") and wrong_weekdays("Monday, February 29, 2027")
    assert not wrong_weekdays("Friday, August 7, 2026")
    assert without_year("until August 13.") and not without_year("August 7 to August 13, 2026")
    assert padded("August 07, 2026") and not padded("August 7, 2026")
    assert short_names("Aug 7") and short_names("on Fri") and not short_names("You may march. Sunday, August 7")
    assert bare_clock("at 7:30") and bare_clock("at 12:00") and bare_clock("12:00 PM")
    assert not bare_clock("7:30 PM, 12:00 noon")
    assert relative("Come tomorrow.") and relative("On day 3 stop.") and not relative("Tomorrow, Saturday, August 8, 2026")
