"""The drop calendar as it stands on paper: a table with dates down and times across, in its cells the shapes of the drugs.

Which cell a box stands in comes from the tags of the table, its shape and colour from the drawing operators, what the shape
stands for from the words beside it above the table. Nothing is taken from the program's data. The alternative text of a box
must say what is drawn.
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
SHORT_DAY = re.compile(rf"({'|'.join(day[:3] for day in WEEKDAYS)}) (\d{{1,2}})$")
MONTH = re.compile(rf"({'|'.join(MONTHS)}) (20\d\d)")
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
    corners: int = 4
    """0 for a circle."""
    colour: tuple | None = None
    round: bool = False
    """Whether a frame with round ends is drawn around it."""

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2


@dataclass(frozen=True)
class Dose:
    """One box of the calendar with the words that belong to it."""

    drug: str
    """The words beside its shape above the table, and the eye."""
    at: datetime.datetime
    note: str
    ticked: bool
    page: int
    box: Box
    head: str = ""
    """The head of its column."""


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


def _corners(shape: ink.Shape) -> int:
    """Corners of an outline; 0 when it is round."""
    points = {(round(x, 1), round(y, 1)) for polygon in shape.polygons for x, y in polygon}
    return len(points) if len(points) <= 6 else 0


def _box(shape: ink.Shape, page: ink.Page) -> Box:
    left, bottom, right, top = shape.box
    return Box(
        left, page.height - top, right, page.height - bottom, shape.fill not in (None, ink.WHITE), _corners(shape), shape.stroke,
        any(_frames(other, shape) for other in page.shapes),
    )


def _frames(frame: ink.Shape, shape: ink.Shape) -> bool:
    """Whether a frame with round ends stands close around a shape."""
    (left, bottom, right, top), (x0, y0, x1, y1) = frame.box, shape.box
    around = left < x0 and right > x1 and bottom < y0 and top > y1 and right - left < 3 * (x1 - x0)
    return around and frame.mark.artifact is not None and _corners(frame) == 0


def _sized(shape: ink.Shape, least: float, most: float) -> bool:
    """An outline of a drug: as wide as it is high within a tenth, from `least` to `most` millimetres."""
    left, bottom, right, top = shape.box
    sides = [(right - left) / POINTS_PER_MM, (top - bottom) / POINTS_PER_MM]
    return shape.stroke is not None and all(least <= side <= most for side in sides) and max(sides) < 1.12 * min(sides)


def boxes(page: ink.Page) -> list[Box]:
    """Squares of 6 to 9 mm with an outline; ticked when something is drawn inside."""
    found = []
    for square in page.shapes:
        if not _sized(square, 6, 9) or _corners(square) != 4:
            continue
        left, bottom, right, top = square.box
        inside = [
            other
            for other in page.shapes
            if other is not square and other.box[0] > left + 1 and other.box[2] < right - 1
            and other.box[1] > bottom + 1 and other.box[3] < top - 1
        ]
        found.append(Box(left, page.height - top, right, page.height - bottom, bool(inside)))
    return found


def legend(page: ink.Page, sheet: poppler.Sheet) -> dict[tuple, str]:
    """The words beside each shape that stands outside the tables, by corners and colour."""
    marks = [_box(shape, page) for shape in page.shapes if shape.mark.artifact is not None and _sized(shape, 7.5, 9)]
    found = {}
    for mark in marks:
        after = [other.left for other in marks if other.left > mark.right and abs(other.middle - mark.middle) < 10]
        words = sheet.within(mark.right + 2, mark.top - 8, min([*after, page.width]), mark.bottom + 8)
        if words and words[0].text[0].isalpha() and words[0].left - mark.right < 16:
            found.setdefault((mark.corners, mark.colour), _words(words))
    return found


def _words(words) -> str:
    return " ".join(word.text for word in words)


def years(reading: tags.Reading) -> set[int]:
    """The years that captions and heads of tables name."""
    named = " ".join(reading.text(part) for tag in ("Caption", "TH") for part in reading.elements(tag))
    return {int(year) for year in re.findall(r"\b(20\d\d)\b", named)}


def heads_of(reading: tags.Reading, cells) -> list[str]:
    """The words of head cells; a picture in one says its part of the day."""
    pictures = [[tags.plain(part.alt or "") for part in cell.walk() if part.kind == "Figure"] for cell in cells]
    return [" ".join([*told, reading.text(cell)]).strip() for told, cell in zip(pictures, cells)]


def tables(reading: tags.Reading):
    """Each calendar as its head cells and its rows: tables with a time of day in their head."""
    for table in reading.elements("Table"):
        lines = [[cell for cell in row.children if isinstance(cell, tags.Element)] for row in table.walk() if row.kind == "TR"]
        heads = heads_of(reading, lines[0]) if lines else []
        if any(CLOCK.search(head) for head in heads):
            yield heads, lines[1:]


def dated_rows(reading: tags.Reading, heads, lines):
    """The rows that begin with a date, each with it. A short date belongs to the month of a row above."""
    named, month = years(reading), None
    for line in lines:
        text = reading.text(line[0])
        if len(line) == 1 and MONTH.match(text):
            month = MONTH.match(text)
        full, short = DAY.match(text), SHORT_DAY.match(text)
        if len(line) != len(heads) or not (full or short):
            continue
        if full:
            yield line, dated(full[1], full[2], int(full[3]), [int(full[4])] if full[4] else named)
        elif month is None:
            raise Unclear(f"{text} stands under no month")
        else:
            weekday = next(day for day in WEEKDAYS if day.startswith(short[1]))
            yield line, dated(weekday, month[1], int(short[2]), [int(month[2])])


def drawn(reading: tags.Reading, pages: list[ink.Page], figure: tags.Element) -> tuple[int, Box]:
    """The page of a figure and the one shape it draws."""
    found = []
    for content in figure.contents():
        page = pages[content.page]
        own = [shape for shape in page.shapes if shape.mark.mcid == content.mcid and _sized(shape, 6, 9.6)]
        found += [(content.page, _box(shape, page)) for shape in own]
    if len(found) != 1:
        raise Unclear(f"{figure.alt!r} draws {len(found)} boxes")
    return found[0]


def under(page: ink.Page, box: Box) -> str:
    """The words under a box, above whatever comes next."""
    middle = (box.left + box.right) / 2
    others = [page.height - shape.box[3] for shape in page.shapes if shape.box[0] < middle < shape.box[2] and _sized(shape, 6, 9.6)]
    end = min([top for top in others if top > box.bottom - 1], default=page.height)
    near = [
        run for run in page.runs
        if run.box[0] < middle < run.box[2] and run.mark.artifact is not None
        and box.bottom - 1 <= page.height - run.box[3] < min(end, box.bottom + 58)
    ]
    whole = [part for run in sorted(near, key=lambda run: -run.box[3]) for part in _unbroken(page, run)]
    return tags.joined(whole)


def _unbroken(page: ink.Page, run: ink.Run) -> list[ink.Run]:
    """The runs of one line that touch each other and this one: a word that may be parted is drawn letter by letter."""
    line = [other for other in page.runs if abs(other.box[1] - run.box[1]) < 0.5 and other.mark.artifact is not None]
    found = [run]
    for other in sorted(line, key=lambda other: other.box[0]):
        if other is not run and other.box[0] > run.box[0] and abs(other.box[0] - found[-1].box[2]) < 0.6:
            found.append(other)
    for other in sorted(line, key=lambda other: -other.box[0]):
        if other is not run and other.box[0] < run.box[0] and abs(other.box[2] - found[0].box[0]) < 0.6:
            found.insert(0, other)
    return found


def _at(text: str, head: str) -> datetime.time:
    """The time under a box, else that of the head; the half of the day may stand in the head alone."""
    own = re.match(r"\d{1,2}:\d{2}( ?[AP]M)?|noon|midnight", text)
    if own and own[0][0].isdigit() and not own[1]:
        return clock(f"{own[0]} {re.search('[AP]M', head)[0]}")
    return clock(own[0] if own else head)


def read(path: Path) -> list[Dose]:
    """All doses of all calendars in a file."""
    reading, pages = tags.reading(path), ink.pages(path)
    names: dict[tuple, str] = {}
    for page, sheet in zip(pages, poppler.sheets(path)):
        names = legend(page, sheet) | names
    found = []
    for heads, lines in tables(reading):
        eyes = [eye for eye in ("Right eye", "Left eye") if eye in heads[0]]
        for line, date in dated_rows(reading, heads, lines):
            for head, cell in zip(heads[1:], line[1:]):
                for figure in (part for part in cell.walk() if part.kind == "Figure"):
                    page, box = drawn(reading, pages, figure)
                    if (box.corners, box.colour) not in names:
                        raise Unclear(f"page {page + 1}: a shape with {box.corners} corners that is not explained")
                    text, name = under(pages[page], box), names[box.corners, box.colour]
                    eye = eyes[0] if eyes else "Left eye" if box.round else "Right eye"
                    at = datetime.datetime.combine(date, _at(text, head))
                    agree(figure.alt, name, eye, at)
                    found.append(Dose(f"{name} {eye}", of_the_night(at, text), text, box.ticked, page + 1, box, head))
    return found


def of_the_night(at: datetime.datetime, text: str) -> datetime.datetime:
    """A dose after midnight stands in the row of the day before, and the words under its box name that night."""
    return at + datetime.timedelta(days=1) if f"{WEEKDAYS[at.weekday()]} night" in re.sub(r"- ?", "", text) else at


def agree(alt: str | None, name: str, eye: str, at: datetime.datetime):
    """What is heard of a box is what is seen."""
    alt = tags.plain(alt or "")
    drug = alt.split(", ")[0]
    seen = DAY.search(alt)
    times = [clock(found[0]) for found in CLOCK.finditer(alt)]
    said = seen and (seen[1], seen[2], int(seen[3])) == (WEEKDAYS[at.weekday()], MONTHS[at.month - 1], at.day)
    if not (drug and name.startswith(drug) and eye in alt and said and at.time() in times):
        raise Unclear(f"{alt!r} is not what is drawn: {name}, {eye}, {at}")


def rows(path: Path) -> list[tuple[int, datetime.date]]:
    """The dated rows with the page each stands on."""
    reading = tags.reading(path)
    return [
        (reading.page_of(line[0]) + 1, date)
        for heads, lines in tables(reading)
        for line, date in dated_rows(reading, heads, lines)
    ]
