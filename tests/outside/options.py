"""The ways a patient can choose from, as the consent sets them against each other: columns of a table, or in large print
blocks below each other with the same questions."""

import re

import tags
import wording
from packets import Document

OPTIONS = {"laser": r"laser", "no treatment": r"leav|nothing|no treatment|wait|live with|watch", "vitrectomy": r"vitrectomy"}
SECTION = r"option|choose|choice|other ways|what else"

Told = dict[str, dict[str, str]]
"""What each option answers to each question."""


def option(title: str) -> str | None:
    return next((name for name, pattern in OPTIONS.items() if re.search(pattern, title, re.I)), None)


def answers(texts: list[str]) -> dict[str, str]:
    """`Question: answer` as pairs; a text without a question stands under an empty one."""
    pairs = [text.partition(": ") for text in texts]
    return {question if colon else "": answer if colon else question for question, colon, answer in pairs}


def table(reading: tags.Reading) -> tags.Element | None:
    """The table with one column for each option."""
    for element in reading.elements("Table"):
        heads = [reading.text(cell) for cell in element.walk() if cell.kind == "TH"]
        if {option(head) for head in heads} == set(OPTIONS):
            return element
    return None


def columns(reading: tags.Reading, element: tags.Element) -> Told:
    rows = [
        [reading.text(cell) for cell in row.children if isinstance(cell, tags.Element)]
        for row in element.walk() if row.kind == "TR"
    ]
    heads, *cells = rows
    return {option(head): answers([row[at] for row in cells]) for at, head in enumerate(heads)}


def told(document: Document) -> Told:
    """What is said of each option, question by question."""
    reading = tags.reading(document.path)
    found = table(reading)
    if found is not None:
        return columns(reading, found)
    inside = wording.section(wording.blocks(document), 2, SECTION).blocks
    stacked = {option(one.title): answers([block.text for block in one.blocks]) for one in wording.sections(inside, 3)}
    return {name: pairs for name, pairs in stacked.items() if name}
