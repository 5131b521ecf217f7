"""The drop calendar as it stands on paper: read from ruled lines, boxes and the words beside them, as the eye reads it.

Lines and boxes come from the drawing operators, words from poppler. Nothing is taken from the program's data.
"""

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

import ink
import poppler
import tags

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
DAY = re.compile(rf"({'|'.join(WEEKDAYS)}),? ({'|'.join(MONTHS)}) (\d{{1,2}})(?:, (\d{{4}}))?")
CLOCK = re.compile(r"\b(\d{1,2}):(\d{2}) ?(AM|PM|noon|midnight)?|\b(noon|midnight)\b", re.I)
POINTS_PER_MM = 72 / 25.4


class Unclear(Exception):
    """A reader of the paper would not know what is meant."""


@dataclass(frozen=True)
class Box:
    """A box to tick, in points from the upper left corner."""

    left: float
    top: float
    right: float
    bottom: float
    ticked: bool

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2


@dataclass(frozen=True)
class Dose:
    """One box of the calendar with the words that belong to it."""

    drug: str
    at: datetime.datetime
    note: str
    ticked: bool
    page: int
    box: Box
    words: tuple[poppler.Word, ...] = ()
    """All words beside the box in reading order."""


def clock(text: str) -> datetime.time:
    """The one time of day in a text."""
    found = list(CLOCK.finditer(text))
    if not found:
        raise Unclear(f"no time in {text!r}")
    hour, minute, half, word = found[0].groups()
    if word:
        return datetime.time(12 if word.lower() == "noon" else 0)
    hour, half = int(hour), (half or "").lower()
    if half not in ("am", "pm", "noon", "midnight") or not 1 <= hour <= 12:
        raise Unclear(f"{text!r} does not say which half of the day")
    return datetime.time(hour % 12 + (12 if half in ("pm", "noon") else 0), int(minute))


def dated(weekday: str, month: str, day: int, years) -> datetime.date:
    """The date of that weekday in one of the years that caption and head name."""
    fitting = []
    for year in years:
        try:
            date = datetime.date(year, MONTHS.index(month) + 1, day)
        except ValueError:
            continue
        if WEEKDAYS[date.weekday()] == weekday:
            fitting.append(date)
    if len(fitting) != 1:
        raise Unclear(f"{weekday}, {month} {day} fits {len(fitting)} of the years {sorted(years)} in the captions")
    return fitting[0]


def _thin(shape: ink.Shape, height: float):
    """A ruled line as (left, top, right, bottom), drawn as a stroke or as a thin filling; else nothing."""
    left, bottom, right, top = shape.box
    return (left, height - top, right, height - bottom) if min(right - left, top - bottom) <= 2.5 else None


def boxes(page: ink.Page) -> list[Box]:
    """Squares of 6 to 9 mm with an outline; ticked when something is drawn inside."""
    squares = []
    for shape in page.shapes:
        left, bottom, right, top = shape.box
        sides = (right - left) / POINTS_PER_MM, (top - bottom) / POINTS_PER_MM
        if all(6 <= side <= 9 for side in sides) and abs(sides[0] - sides[1]) < 0.3:
            squares.append((shape, left, bottom, right, top))
    found = []
    for square, left, bottom, right, top in squares:
        inside = [
            other
            for other in page.shapes
            if other is not square and other.box[0] > left + 1 and other.box[2] < right - 1
            and other.box[1] > bottom + 1 and other.box[3] < top - 1
        ]
        found.append(Box(left, page.height - top, right, page.height - bottom, bool(inside)))
    return found


@dataclass
class Band:
    """What lies between two ruled lines across the table."""

    top: float
    bottom: float
    edges: list[float]


def bands(page: ink.Page) -> list[Band]:
    lines = [line for line in (_thin(shape, page.height) for shape in page.shapes) if line]
    across = [line for line in lines if line[2] - line[0] > 0.55 * page.width]
    upright = [line for line in lines if line[3] - line[1] > 12 and line[2] - line[0] <= 2.5]
    heights = sorted({round((line[1] + line[3]) / 2, 1) for line in across})
    left, right = min((a[0] for a in across), default=0), max((a[2] for a in across), default=0)
    found = []
    for top, bottom in zip(heights, heights[1:]):
        middle = (top + bottom) / 2
        inner = sorted(round(u[0], 1) for u in upright if u[1] <= middle <= u[3] and left + 5 < u[0] < right - 5)
        if bottom - top > 10 and inner:
            found.append(Band(top, bottom, [left, *inner, right]))
    return found


def _words(words) -> str:
    return " ".join(word.text for word in words)


def _own_box(word: poppler.Word, candidates: list[Box]) -> Box | None:
    """The box a word stands beside: at its left, nearest in height, then nearest in the line. None: it stands alone."""
    at_left = [
        box for box in candidates
        if box.right <= word.left + 1 and abs(box.middle - word.middle) < 1.5 * (box.bottom - box.top)
    ]
    return min(at_left, key=lambda box: (round(abs(box.middle - word.middle) / 3), word.left - box.right), default=None)


def _cell(sheet, band, left, right, ticks):
    """The boxes of one cell, each with its words in reading order."""
    mine = [box for box in ticks if left <= box.left <= right and band.top <= box.middle <= band.bottom]
    beside: dict[Box, list] = {box: [] for box in mine}
    for word in sheet.within(left, band.top, right, band.bottom):
        box = _own_box(word, mine)
        if box is not None:
            beside[box].append(word)
    for box in sorted(mine, key=lambda b: (b.top, b.left)):
        yield box, sorted(beside[box], key=lambda w: (round(w.middle / 3), w.left))


def years(reading: tags.Reading) -> set[int]:
    """The years that captions and heads of tables name."""
    named = " ".join(reading.text(part) for tag in ("Caption", "TH") for part in reading.elements(tag))
    return {int(year) for year in re.findall(r"\b(20\d\d)\b", named)}


def read(path: Path) -> list[Dose]:
    """All doses of all calendars in a file."""
    found, named = [], years(tags.reading(path))
    for number, (page, sheet) in enumerate(zip(ink.pages(path), poppler.sheets(path))):
        ticks, heads = boxes(page), []
        for band in bands(page):
            cells = list(zip(band.edges, band.edges[1:]))
            day = DAY.match(_words(sheet.within(cells[0][0], band.top, cells[0][1], band.bottom)))
            if day is None:
                heads = [_words(sheet.within(a, band.top, b, band.bottom)) for a, b in cells[1:]]
                continue
            date = dated(day[1], day[2], int(day[3]), [int(day[4])] if day[4] else named)
            if len(heads) != len(cells) - 1:
                raise Unclear(f"page {number + 1}: the row of {day[0]} has no head above it on its page")
            for (left, right), head in zip(cells[1:], heads):
                for box, words in _cell(sheet, band, left, right, ticks):
                    text = _words(words)
                    at = datetime.datetime.combine(date, clock(text))
                    note = CLOCK.sub("", text).strip()
                    found.append(Dose(head, at, note, box.ticked, number + 1, box, tuple(words)))
    return found


def rows(path: Path) -> list[tuple[int, datetime.date]]:
    """The dated rows with the page each stands on."""
    found, named = [], years(tags.reading(path))
    for number, (page, sheet) in enumerate(zip(ink.pages(path), poppler.sheets(path)), 1):
        for band in bands(page):
            day = DAY.match(_words(sheet.within(band.edges[0], band.top, band.edges[1], band.bottom)))
            if day:
                found.append((number, dated(day[1], day[2], int(day[3]), [int(day[4])] if day[4] else named)))
    return found
