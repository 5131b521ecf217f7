"""What a black-and-white copier leaves: each page drawn in grey by poppler, and looked at as a picture."""

import numpy
import pytest

import tags
from contrast import from_hex, ratio
from packets import Document
from test_code import pictures

DPI = 50
DARK = 118
"""White on this grey has 5.5:1, and the accent and warning colours are darker; every pale ground is lighter."""


def margin(page: numpy.ndarray, side: str) -> float:
    """The dark part of the strip in which the bar of an eye stands, 24 to 32 points from the edge."""
    near, far = (round(points * DPI / 72) for points in (25, 31))
    strip = page[:, near:far] if side == "left" else page[:, page.shape[1] - far:page.shape[1] - near]
    return float((strip < DARK).mean())


def sides(page: numpy.ndarray) -> str:
    """The eye that the bars of a page show."""
    found = [side for side in ("left", "right") if margin(page, side) > 0.6]
    return {("left",): "left", ("right",): "right", ("left", "right"): "both"}.get(tuple(found), "neither")


def test_eye_is_told_apart_in_grey(document: Document):
    """WCAG-3 (1.4.1): on a copy the bar still stands on the side of the eye, on each page and on no other side."""
    wanted = "both" if document.page == "both-eyes" else document.packet["eye"]
    assert {sides(page) for page in pictures(document, DPI)} == {wanted}


def band(page: numpy.ndarray) -> int:
    """The longest run of rows that are dark over a third of the page: the head of the warning signs, its letters white."""
    longest = run = 0
    for row in (page < DARK).mean(axis=1):
        run = run + 1 if row > 0.35 else 0
        longest = max(longest, run)
    return longest


def test_warning_is_seen_in_grey(aftercare: Document):
    """CCI-2, WCAG-3: on a copy one page has a dark band with the title of the signs, at least 10 mm high."""
    bands = [band(page) for page in pictures(aftercare, DPI)]
    assert max(bands) * 25.4 / DPI >= 10
    titles = [block for block in tags.reading(aftercare.path).blocks() if "same day" in block.text.lower()]
    assert titles, "the band has no words"


def grey(colour: str) -> tuple[float, float, float]:
    """The grey of a colour as a copier makes it (ITU-R BT.601 luma)."""
    red, green, blue = from_hex(colour)
    return (0.299 * red + 0.587 * green + 0.114 * blue,) * 3


@pytest.mark.parametrize("colour", ["#16202a", "#083f58", "#a81e16", "#6a2371", "#4b5100", "#7a3a00", "#333333"])
def test_text_colours_stay_dark(colour):
    """WCAG-2 (1.4.6): what has 7:1 in colour has it in grey too."""
    assert ratio(grey(colour), from_hex("#ffffff")) >= 7


def test_faults_are_noticed():
    """Not vacuous: a page without a bar, with the bar on the other side, without a band."""
    page = numpy.full((550, 425), 255, numpy.uint8)
    assert sides(page) == "neither" and band(page) == 0
    page[20:530, 17:22] = 0
    assert sides(page) == "left" and band(page) == 0
    page[:, ::-1][20:530, 17:22] = 0
    page[100:125, 40:380] = 40
    assert sides(page) == "both" and band(page) == 25
