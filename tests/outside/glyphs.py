"""The fonts of a page: which character a code stands for and how wide it is (ISO 32000-1, 9.7 to 9.10)."""

import re
from dataclasses import dataclass

import pikepdf


@dataclass(frozen=True, eq=False)
class Glyphs:
    """One font as a page uses it."""

    name: str
    two_bytes: bool
    unicode: dict[int, str]
    widths: dict[int, float]
    default_width: float
    embedded: bool
    italic: bool

    def codes(self, raw: bytes) -> list[int]:
        if self.two_bytes:
            return [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
        return list(raw)

    def text(self, codes: list[int]) -> str:
        """The characters; a code that maps to nothing reads as U+FFFD."""
        return "".join(self.unicode.get(code, "\ufffd") for code in codes)

    def width(self, code: int) -> float:
        """Advance in multiples of the type size."""
        return self.widths.get(code, self.default_width) / 1000


_HEX = r"<([0-9A-Fa-f\s]+)>"


def _characters(digits: str) -> str:
    return bytes.fromhex(re.sub(r"\s", "", digits)).decode("utf-16-be")


def to_unicode(cmap: str) -> dict[int, str]:
    """Reads the `bfchar` and `bfrange` sections of a ToUnicode map."""
    found = {}
    for body in re.findall(r"beginbfchar(.*?)endbfchar", cmap, re.S):
        for code, text in re.findall(_HEX + r"\s*" + _HEX, body):
            found[int(code, 16)] = _characters(text)
    for body in re.findall(r"beginbfrange(.*?)endbfrange", cmap, re.S):
        for low, _, many in re.findall(_HEX + r"\s*" + _HEX + r"\s*\[(.*?)\]", body, re.S):
            for offset, text in enumerate(re.findall(_HEX, many)):
                found[int(low, 16) + offset] = _characters(text)
        for low, high, text in re.findall(_HEX + r"\s*" + _HEX + r"\s*" + _HEX, body):
            first = _characters(text)
            for offset in range(int(high, 16) - int(low, 16) + 1):
                found[int(low, 16) + offset] = first[:-1] + chr(ord(first[-1]) + offset)
    return found


def _cid_widths(array) -> dict[int, float]:
    widths, items = {}, list(array)
    while items:
        first = int(items.pop(0))
        following = items.pop(0)
        if isinstance(following, pikepdf.Array):
            widths.update({first + i: float(w) for i, w in enumerate(following)})
        else:
            width = float(items.pop(0))
            widths.update({code: width for code in range(first, int(following) + 1)})
    return widths


def read(font: pikepdf.Dictionary) -> Glyphs:
    composite = font.Subtype == "/Type0"
    inner = font.DescendantFonts[0] if composite else font
    descriptor = inner.get("/FontDescriptor", pikepdf.Dictionary())
    if composite:
        widths, default = _cid_widths(inner.get("/W", [])), float(inner.get("/DW", 1000))
    else:
        first = int(font.get("/FirstChar", 0))
        widths, default = {first + i: float(w) for i, w in enumerate(font.get("/Widths", []))}, 500.0
    cmap = font.get("/ToUnicode")
    return Glyphs(
        name=str(font.get("/BaseFont", "")).lstrip("/"),
        two_bytes=composite,
        unicode=to_unicode(cmap.read_bytes().decode("latin-1")) if cmap is not None else {},
        widths=widths,
        default_width=default,
        embedded=any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")),
        italic=float(descriptor.get("/ItalicAngle", 0)) != 0 or bool(int(descriptor.get("/Flags", 0)) & 64),
    )
