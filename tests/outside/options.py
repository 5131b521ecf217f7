"""The ways a patient can choose from, as the consent sets them against each other: columns of a table in which each question
has a row of its own over the answers, or in large print the answers below each other under each question."""

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


def cells(row: tags.Element) -> list[tags.Element]:
    return [cell for cell in row.children if isinstance(cell, tags.Element)]


def table(reading: tags.Reading) -> tags.Element | None:
    """The table whose first row names the options."""
    for element in reading.elements("Table"):
        first = next((row for row in element.walk() if row.kind == "TR"), None)
        if first is not None and {option(reading.text(cell)) for cell in cells(first)} == set(OPTIONS):
            return element
    return None


def columns(reading: tags.Reading, element: tags.Element) -> Told:
    """A question stands in a row of its own over the answers of all options."""
    names, *rows = [cells(row) for row in element.walk() if row.kind == "TR"]
    names = [option(reading.text(name)) for name in names]
    found: Told = {name: {} for name in names}
    question = ""
    for row in rows:
        texts = [reading.text(cell) for cell in row]
        if len(row) == 1:
            question = texts[0]
        elif {option(text) for text in texts} != set(names) or row[0].kind == "TD":
            for name, text in zip(names, texts):
                found[name][question] = text
    return found


def stacked(pieces: list[tags.Block]) -> Told:
    """Question by question, the name of an option with a colon and then what it answers."""
    found: Told = {}
    for one in wording.sections(pieces, 3):
        name = None
        for block in one.blocks:
            title, colon, text = block.text.partition(":")
            if colon and option(title) and len(title.split()) <= 4:
                name = option(title)
                found.setdefault(name, {})[one.title] = ""
            else:
                text = block.text
            if name:
                found[name][one.title] = f"{found[name][one.title]} {text}".strip()
    return found


def told(document: Document) -> Told:
    """What is said of each option, question by question."""
    reading = tags.reading(document.path)
    found = table(reading)
    if found is not None:
        return columns(reading, found)
    return stacked(wording.section(wording.blocks(document), 2, SECTION).blocks)
