"""Numbers as patients read them, "about 9 in 100" or "19 of 36 people", and the numbered notes behind them."""

import re
from dataclasses import dataclass

import tags
import wording
from packets import Document

SHARE = re.compile(r"(?P<most>up to )?about (?P<k>\d[\d,]*) in (?P<n>\d[\d,]*)")
COUNTED = re.compile(r"(?P<k>\d[\d,]*) of (?P<n>\d[\d,]*) (?P<unit>people|person|eyes?|sessions?)\b")
NONE_OF = re.compile(r"\bnone of (?P<n>\d[\d,]*) (?P<unit>people|eyes|sessions)\b")
REST = re.compile(r"\bother (?P<k>\d[\d,]*)\b")
NOTE = re.compile(r"\[(\d+)\]")


@dataclass(frozen=True)
class Share:
    """So many in so many, with the words it stands in."""

    k: int
    n: int
    most: bool
    """Whether it is an upper limit."""
    sentence: str
    after: str
    """The words after it in its paragraph, up to the next share."""


def number(text: str) -> int:
    return int(text.replace(",", ""))


def shares(text: str) -> list[Share]:
    """All shares of one paragraph, cell or label."""
    found = list(SHARE.finditer(text))
    ends = [hit.start() for hit in found[1:]] + [len(text)]
    return [
        Share(number(hit["k"]), number(hit["n"]), bool(hit["most"]), sentence(text, hit.start()), text[hit.end() : end])
        for hit, end in zip(found, ends)
    ]


def counts(text: str) -> list[tuple[int, int]]:
    """All results of a text that are told as they were counted: how many of how many."""
    some = [(number(hit["k"]), number(hit["n"])) for hit in COUNTED.finditer(text)]
    return some + [(0, number(hit["n"])) for hit in NONE_OF.finditer(text)]


def sentence(text: str, place: int) -> str:
    """The sentence that holds a place; a note in brackets does not end one."""
    ends = [hit.end() for hit in re.finditer(r"[.!?](?: \[\d+\])*(?= [A-Z(\"]|$)", text)]
    start = max((end for end in ends if end <= place), default=0)
    return text[start : min((end for end in ends if end > place), default=len(text))].strip()


def numbers(document: Document) -> set[str]:
    """Numbers that stand alone over a picture: the words below them go on with it."""
    return {block.text for block in wording.blocks(document) if alone(block.text)}


def alone(text: str) -> bool:
    """Whether a text is a number and nothing else but the name of what it belongs to."""
    text = re.sub(r"^[^:]{1,30}: ", "", text)
    return bool(COUNTED.fullmatch(text) or re.fullmatch(rf"{SHARE.pattern}( \w+)?", text))


def paragraphs(document: Document) -> list[str]:
    """Paragraphs, items and cells with numbers in them; a number over a picture belongs to the words below it."""
    found, before = [], ""
    for block in wording.blocks(document):
        if alone(block.text):
            before = block.text + ": "
        else:
            found.append(before + block.text)
            before = ""
    return [text for text in found if SHARE.search(text)]


def notes(document: Document) -> dict[int, str]:
    """The numbered sources."""
    found, at = {}, None
    for block in tags.reading(document.path).blocks():
        label = re.fullmatch(r"\[(\d+)\]\.?", block.text) if block.kind == "Lbl" else None
        if label:
            at = int(label[1])
        elif at and block.element.inside("LI") | (block.kind == "LBody"):
            found[at] = f"{found.get(at, '')} {block.text}".strip()
        else:
            at = None
    return found
