"""Contrast of everything printed: text 7:1 (WCAG 2.2, 1.4.6), rules, boxes and shapes 3:1 (1.4.11)."""

import pikepdf
import pytest

import ink
import poppler
import printed_calendar
from contrast import from_hex, ratio
from ink import Hatch
from packets import Document

TEXT, GRAPHIC = 7.0, 3.0
GROUND = from_hex("#e8f0f4")
"""A pale ground under text. It tells nothing."""
PALETTE = [
    from_hex(colour)
    for colour in (
        "#000000", "#ffffff", "#16202a", "#083f58", "#a81e16", "#75828b", "#b4cdd9", "#e8f0f4", "#6a2371", "#4b5100", "#7a3a00",
        "#333333", "#d98f80", "#f6e2dc",
    )
]

GOLDEN = [
    ("#000000", "#FFFFFF", 21.000), ("#767676", "#FFFFFF", 4.542), ("#777777", "#FFFFFF", 4.478),
    ("#595959", "#FFFFFF", 7.005), ("#5A5A5A", "#FFFFFF", 6.897), ("#949494", "#FFFFFF", 3.033),
    ("#959595", "#FFFFFF", 2.995), ("#FF0000", "#FFFFFF", 3.998), ("#0000FF", "#FFFFFF", 8.592),
    ("#008000", "#FFFFFF", 5.137), ("#FFFF00", "#FFFFFF", 1.074), ("#FFFF00", "#000000", 19.556),
    ("#000000", "#FFFF99", 20.016), ("#767676", "#F0F0F0", 3.986), ("#333333", "#FFFFFF", 12.635),
]


@pytest.mark.parametrize(("front", "ground", "expected"), GOLDEN)
def test_formula(front, ground, expected):
    """The formula itself against known ratios (computed from the definition in WCAG 2.2; #767676 is its well-known AA edge)."""
    assert ratio(from_hex(front), from_hex(ground)) == pytest.approx(expected, abs=0.0006)
    assert ratio(from_hex(ground), from_hex(front)) == pytest.approx(expected, abs=0.0006)


def _grid(box, steps=5):
    left, bottom, right, top = box
    for i in range(steps):
        for j in range(3):
            yield left + (right - left) * (i + 0.5) / steps, bottom + (top - bottom) * (j + 0.5) / 3


def pale_text(page: ink.Page):
    """WCAG-2 (1.4.6): every run of text against every ground painted under it."""
    found = []
    for run in page.runs:
        if not run.text.strip():
            continue
        if not run.visible:
            found.append(f"invisible text {run.text[:40]!r}")
        near = page.near(run.box)
        worst = min(ratio(run.colour, near.under(x, y, run.order)) for x, y in _grid(run.box))
        if worst < TEXT:
            found.append(f"{run.text[:40]!r} has a contrast of {worst:.2f}")
    return found


def _edge(shape: ink.Shape):
    """Points on the outline, also between its corners."""
    for polygon in shape.polygons:
        for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] or polygon):
            for t in (0.1, 0.5, 0.9):
                yield x0 + t * (x1 - x0), y0 + t * (y1 - y0)


def _same_place(a: ink.Shape, b: ink.Shape) -> bool:
    return all(abs(p - q) <= 3 for p, q in zip(a.box, b.box))


def _grounds(page: ink.Page, shape: ink.Shape) -> set:
    """What a shape stands on. A line around a filling stands on what the filling stands on."""
    own = [o.order for o in page.shapes if o.order <= shape.order and o.fill is not None and _same_place(o, shape)]
    order = min(own, default=shape.order)
    return {page.under(x, y, order, hatched=False) for x, y in _edge(shape)}


def pale_shapes(page: ink.Page):
    """WCAG-4 (1.4.11): strokes and shapes against the ground. A pale filling is good if its outline is not pale;
    a filling in the colour of its ground is no shape but ground for what follows."""
    found = []
    for shape in page.shapes:
        near = page.near(shape.box)
        grounds = _grounds(near, shape)
        if shape.stroke is not None:
            worst = min(ratio(shape.stroke, ground) for ground in grounds)
            if worst < GRAPHIC:
                found.append(f"a line at {_place(shape)} has a contrast of {worst:.2f}")
        elif shape.fill not in grounds and ratio(shape.fill, GROUND) > 1.01:
            worst = min(ratio(shape.fill, ground) for ground in grounds)
            outlines = [
                outline
                for other in near.shapes
                if other.order > shape.order and _same_place(shape, other)
                for outline in (other.stroke, other.fill)
                if outline is not None
            ]
            outlined = any(ratio(outline, ground) >= GRAPHIC for outline in outlines for ground in grounds)
            if worst < GRAPHIC and not outlined:
                found.append(f"a shape at {_place(shape)} has a contrast of {worst:.2f}")
    return found


def _place(shape):
    return "(" + ", ".join(f"{v:.0f}" for v in shape.box) + ")"


@pytest.mark.parametrize("check", [pale_text, pale_shapes], ids=lambda check: check.__name__)
def test_contrast(document: Document, check):
    """WCAG-1, WCAG-2, WCAG-4, USP-7 (high contrast)."""
    problems = {n: check(page) for n, page in enumerate(ink.pages(document.path), 1)}
    assert {n: found for n, found in problems.items() if found} == {}


def strange(page: ink.Page):
    """WCAG-3 (1.4.1): inks that are not those of the design, whose every colour comes with a word or a shape."""
    inks = {run.colour for run in page.runs} | {ink for shape in page.shapes for ink in (shape.fill, shape.stroke) if ink}
    inks = {ink for ink in inks if not isinstance(ink, Hatch)}
    return [found for found in inks if min(ratio_of_channels(found, known) for known in PALETTE) > 0.01]


def ratio_of_channels(a, b) -> float:
    """The largest difference of two colours in one channel."""
    return max(abs(x - y) for x, y in zip(a, b))


def test_colours_are_those_of_the_design(document: Document):
    """WCAG-3 (1.4.1), LP-14, see `strange`."""
    assert [hit for page in ink.pages(document.path) for hit in strange(page)] == []


def test_drugs_differ_without_colour(aftercare: Document):
    """WCAG-3 (1.4.1): on a black-and-white copy each drug of the calendar still has a shape of its own."""
    for page, sheet in zip(ink.pages(aftercare.path), poppler.sheets(aftercare.path)):
        corners = [corners for corners, _ in printed_calendar.legend(page, sheet)]
        assert len(corners) == len(set(corners))


def test_no_pictures_of_text(document: Document):
    """WCAG-5 (1.4.5), LP-11: nothing is a raster image, so no text is one and none stands on one."""
    assert [n for n, page in enumerate(ink.pages(document.path), 1) if page.images] == []


# The checks of the checks.


def _drawn(content: bytes) -> ink.Page:
    """A page with one font and the given operators."""
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(200, 200))
    font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica)
    page.obj.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=font))
    page.Contents = pdf.make_stream(content)
    return ink.draw(pdf)[0]


TEXT_AT_50 = b" BT /F1 12 Tf 50 50 Td (abc) Tj ET"


@pytest.mark.parametrize(
    ("content", "sound"),
    [
        (b"0 g" + TEXT_AT_50, True),
        (b"0.349 g" + TEXT_AT_50, True),
        (b"0.353 g" + TEXT_AT_50, False),
        (b"0.8 0.2 0.2 rg" + TEXT_AT_50, False),
        (b"0.2 g 40 40 80 40 re f 1 g" + TEXT_AT_50, True),
        (b"0.2 g 40 40 80 40 re f 0 g" + TEXT_AT_50, False),
        (b"0.2 g 40 40 80 40 re 45 45 70 30 re f* 0 g" + TEXT_AT_50, True),
        (b"0 g 3 Tr" + TEXT_AT_50, False),
        (b"q 0.5 0 0 0.5 0 0 cm 0.8 g" + TEXT_AT_50 + b" Q", False),
    ],
)
def test_pale_text_is_noticed(content, sound):
    """Not vacuous: greys on both sides of 7:1, dark grounds, a frame around text, invisible text."""
    assert (pale_text(_drawn(content)) == []) is sound


@pytest.mark.parametrize(
    ("content", "sound"),
    [
        (b"0 G 10 10 m 90 10 l S", True),
        (b"0.58 G 10 10 m 90 10 l S", True),
        (b"0.59 G 10 10 m 90 10 l S", False),
        (b"0.8 g 10 10 50 50 re f", False),
        (b"0.9 g 10 10 50 50 re f 0 G 10 10 50 50 re S", True),
        (b"0.9 g 10 10 50 50 re f 0.9 G 10 10 50 50 re S", False),
        (b"1 g 10 10 50 50 re f", True),
        (b"0 g 10 10 50 50 re f 0 G 10 10 50 50 re S", True),
        (b"0 g 10 10 50 50 re f 0 G 20 20 m 30 20 l S", False),
        (b"0 g 10 10 50 50 re f 0.1 g 20 20 9 9 re f", False),
    ],
)
def test_pale_shapes_are_noticed(content, sound):
    """Not vacuous: greys on both sides of 3:1, pale fillings with and without an outline, grey on black."""
    assert (pale_shapes(_drawn(content)) == []) is sound


HATCH = (
    b"<</PatternType 1/PaintType 1/TilingType 1/BBox[0 0 5 5]/XStep 5/YStep 5/Resources<<>>>>",
    b"0 G 0.8 w 0 5 m 5 0 l S",
)


def test_hatching():
    """Not vacuous: lines may cross hatching, text may not stand on it, and pale hatching is a pale shape."""
    for ink_colour, text_ok, shape_ok in ((b"0 G", False, True), (b"0.9 G", True, False)):
        pdf = pikepdf.new()
        page = pdf.add_blank_page(page_size=(200, 200))
        pattern = pdf.make_stream(HATCH[1].replace(b"0 G", ink_colour, 1))
        for key, value in pikepdf.Object.parse(HATCH[0]).items():
            pattern[key] = value
        font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica)
        page.obj.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=font), Pattern=pikepdf.Dictionary(P1=pattern))
        page.Contents = pdf.make_stream(b"/Pattern cs /P1 scn 10 10 150 150 re f 0 G 0 50 m 190 50 l S 0 g" + TEXT_AT_50)
        drawn = ink.draw(pdf)[0]
        assert (pale_text(drawn) == []) is text_ok and (pale_shapes(drawn) == []) is shape_ok


def test_what_the_reader_does_not_know_is_an_error():
    """Fail closed: transparency and shadings are refused, not skipped."""
    with pytest.raises(ink.Unreadable):
        _drawn(b"/Sh1 sh")
    with pytest.raises(ink.Unreadable):
        _drawn(b"/Unknown cs 1 scn 0 0 5 5 re f")
