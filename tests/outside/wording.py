"""Running text of a page set by sections and sentences, and the concepts it must hold.

A concept is a list of patterns of which one must be found. Concepts, not sentences: a practice may word its pages anew.
"""

import re
from dataclasses import dataclass

import tags
from packets import Document


def blocks(document: Document) -> list[tags.Block]:
    """All tagged text but the list of sources, whose titles are not our words."""
    found, source = [], False
    for block in tags.reading(document.path).blocks():
        if block.kind == "Lbl":
            source = bool(re.fullmatch(r"\[\d+\]\.?", block.text))
        elif not source:
            found.append(block)
        if block.kind not in ("Lbl", "LBody") and not block.element.inside("LI"):
            source = False
    return found


def text(document: Document) -> str:
    return " ".join(block.text for block in blocks(document))


def sentences(pieces) -> list[str]:
    """Sentences of strings; a block ends a sentence."""
    return [one for piece in pieces for one in re.split(r"(?<=[.!?])\s+(?=[A-Z\"(])", piece) if one]


@dataclass
class Section:
    """A heading with what stands below it, up to the next heading of its level or a higher one."""

    title: str
    level: int
    blocks: list[tags.Block]

    @property
    def text(self) -> str:
        return " ".join(block.text for block in self.blocks)


def sections(pieces: list[tags.Block], level: int) -> list[Section]:
    found: list[Section] = []
    open_ = False
    for block in pieces:
        own = int(block.kind[1]) if block.kind in tags.HEADINGS else None
        if own == level:
            found.append(Section(block.text, level, []))
            open_ = True
        elif own is not None and own < level:
            open_ = False
        elif open_:
            found[-1].blocks.append(block)
    return found


def section(pieces: list[tags.Block], level: int, title: str) -> Section:
    """The first section whose heading holds a pattern; an empty one if there is none."""
    fitting = [one for one in sections(pieces, level) if re.search(title, one.title, re.I)]
    return fitting[0] if fitting else Section("", level, [])


def missing(words: str, concepts: dict[str, list[str]]) -> list[str]:
    """Names of the concepts of which no pattern is found."""
    return [name for name, patterns in concepts.items() if not any(re.search(p, words, re.I) for p in patterns)]


def found(words: str, patterns: dict[str, str], flags=0) -> list[str]:
    """What forbidden patterns hit, each with the words around it."""
    return [
        f"{name}: ...{words[max(0, hit.start() - 25) : hit.end() + 25]}..."
        for name, pattern in patterns.items()
        for hit in re.finditer(pattern, words, flags)
    ]
