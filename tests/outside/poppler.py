"""Text of a page as poppler's `pdftotext` sees it: an independent reader of the same file."""

import functools
import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from lxml import etree

import files
from tags import plain


@dataclass(frozen=True)
class Word:
    """A word and its box in points from the upper left corner of the page."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2


@dataclass(frozen=True)
class Sheet:
    """One page."""

    width: float
    height: float
    words: tuple[Word, ...]

    def within(self, left: float, top: float, right: float, bottom: float) -> list[Word]:
        """Words whose middle lies in the box, line by line."""
        inside = [w for w in self.words if left <= (w.left + w.right) / 2 <= right and top <= w.middle <= bottom]
        return sorted(inside, key=lambda w: (round(w.middle / 3), w.left))


def lines(sheet: Sheet) -> list[Word]:
    """Words that follow each other on one line, as one word with spaces."""
    found: list[Word] = []
    for word in sorted(sheet.words, key=lambda w: (round(w.middle), w.left)):
        last = found[-1] if found else None
        gap = word.left - last.right if last else 0
        if last and abs(last.middle - word.middle) < 2 and -1 < gap < 0.5 * (word.bottom - word.top):
            found[-1] = Word(f"{last.text} {word.text}", last.left, last.top, word.right, max(last.bottom, word.bottom))
        else:
            found.append(word)
    return found


def _run(*arguments) -> str:
    command = ["pdftotext", *arguments]
    return subprocess.run(command, check=True, capture_output=True, timeout=120).stdout.decode("utf-8")


@functools.lru_cache(maxsize=files.OPEN)
def texts(path: Path) -> list[str]:
    """The text of each page in the order it was drawn, so that columns do not mix."""
    return _run("-raw", str(path), "-").split("\f")[:-1]


def squeezed(text: str) -> str:
    """Without any white space and in lower case: finds words that a line end cut."""
    return re.sub(r"\s", "", plain(text)).lower()


@functools.lru_cache(maxsize=files.OPEN)
def sheets(path: Path) -> list[Sheet]:
    """The words of each page with their places."""
    source = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", _run("-bbox", str(path), "-"))
    root = etree.fromstring(source.encode("utf-8"), etree.XMLParser(recover=False, load_dtd=False, no_network=True))
    name = "{http://www.w3.org/1999/xhtml}"
    return [
        Sheet(
            float(page.get("width")), float(page.get("height")),
            tuple(
                Word(plain(word.text or ""), *(float(word.get(k)) for k in ("xMin", "yMin", "xMax", "yMax")))
                for word in page.iter(name + "word")
            ),
        )
        for page in root.iter(name + "page")
    ]
