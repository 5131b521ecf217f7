"""The structure tree of a file (ISO 32000-1, 14.7 and 14.8): what a screen reader reads, in its order."""

import re
from dataclasses import dataclass, field
from pathlib import Path

import pikepdf

import files
import ink

HEADINGS = ("H1", "H2", "H3", "H4", "H5", "H6")
STANDARD = set(HEADINGS) | {
    "Document", "Part", "Art", "Sect", "Div", "BlockQuote", "Caption", "TOC", "TOCI", "Index", "NonStruct", "Private",
    "H", "P", "L", "LI", "Lbl", "LBody", "Table", "TR", "TH", "TD", "THead", "TBody", "TFoot",
    "Span", "Quote", "Note", "Reference", "BibEntry", "Code", "Link", "Annot", "Ruby", "RB", "RT", "RP",
    "Warichu", "WT", "WP", "Figure", "Formula", "Form",
}
"""Standard structure types of PDF 1.7."""

BLOCKS = ("P", "Lbl", "LBody", "Figure", "TD", "TH", "Caption", *HEADINGS)
"""Elements that hold one piece of running text."""


@dataclass(frozen=True)
class Content:
    """Marked content on a page."""

    page: int
    mcid: int


@dataclass
class Element:
    """One element; `kind` is the standard type behind its own name."""

    kind: str
    name: str
    attributes: dict
    alt: str | None
    actual: str | None
    identifier: str | None
    children: list = field(default_factory=list)
    parent: "Element | None" = None

    def walk(self):
        yield self
        for child in self.children:
            if isinstance(child, Element):
                yield from child.walk()

    def contents(self):
        for child in self.children:
            if isinstance(child, Element):
                yield from child.contents()
            else:
                yield child

    def inside(self, *kinds: str) -> bool:
        above = self.parent
        while above is not None:
            if above.kind in kinds:
                return True
            above = above.parent
        return False


def standard_type(name: str, roles) -> str:
    """Follows the role map; a cycle or an unmapped name ends as it is."""
    seen = []
    while name not in STANDARD and "/" + name in roles and name not in seen:
        seen.append(name)
        name = str(roles["/" + name]).lstrip("/")
    return name


def _attributes(node) -> dict:
    found = {}
    entry = node.get("/A", [])
    for item in entry if isinstance(entry, pikepdf.Array) else [entry]:
        if isinstance(item, pikepdf.Dictionary):
            found.update({key.lstrip("/"): value for key, value in item.items() if key != "/O"})
    return found


def _text(node, key) -> str | None:
    return str(node[key]) if key in node else None


@files.once
def tree(pdf: pikepdf.Pdf) -> Element:
    """The whole tree under one element named `Root`."""
    root = pdf.Root.StructTreeRoot
    roles = root.get("/RoleMap", pikepdf.Dictionary())
    numbers = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}

    def add(parent: Element, item, page):
        if isinstance(item, pikepdf.Array):
            for one in item:
                add(parent, one, page)
        elif isinstance(item, int):
            parent.children.append(Content(numbers[page.objgen], item))
        elif "/MCID" in item:
            parent.children.append(Content(numbers[item.get("/Pg", page).objgen], int(item.MCID)))
        elif "/S" in item:
            name = str(item.S).lstrip("/")
            element = Element(
                standard_type(name, roles), name, _attributes(item), _text(item, "/Alt"),
                _text(item, "/ActualText"), _text(item, "/ID"), parent=parent,
            )
            parent.children.append(element)
            if "/K" in item:
                add(element, item.K, item.get("/Pg", page))

    top = Element("Root", "Root", {}, None, None, None)
    if "/K" in root:
        add(top, root.K, None)
    return top


class Reading:
    """The tree together with the text of its marked content."""

    def __init__(self, pdf: pikepdf.Pdf):
        self.pages = ink.draw(pdf)
        self.root = tree(pdf)
        self.runs: dict[Content, list[ink.Run]] = {}
        for number, page in enumerate(self.pages):
            for run in page.runs:
                if run.mark.artifact is None and run.mark.mcid is not None:
                    self.runs.setdefault(Content(number, run.mark.mcid), []).append(run)

    def text(self, element: Element) -> str:
        return joined([run for content in element.contents() for run in self.runs.get(content, [])])

    def page_of(self, element: Element) -> int | None:
        return next((content.page for content in element.contents()), None)

    def elements(self, *kinds: str) -> list[Element]:
        return [element for element in self.root.walk() if element.kind in kinds]

    def blocks(self) -> list["Block"]:
        """All tagged text in reading order, cut at the nearest element that holds running text."""
        found: list[tuple[Element, list[Content]]] = []
        for element, content in located(self.root):
            if not found or found[-1][0] is not element:
                found.append((element, []))
            found[-1][1].append(content)
        blocks = [
            Block(element, joined([run for content in contents for run in self.runs.get(content, [])]), contents[0].page)
            for element, contents in found
        ]
        return [block for block in blocks if block.text]


def located(element: Element, block: Element | None = None):
    """Each piece of content with the block it belongs to."""
    if element.kind in BLOCKS or block is None:
        block = element
    for child in element.children:
        if isinstance(child, Content):
            yield block, child
        else:
            yield from located(child, block)


@dataclass(frozen=True, eq=False)
class Block:
    """One piece of running text: a heading, paragraph, list item, cell or caption."""

    element: Element
    text: str
    page: int | None

    @property
    def kind(self) -> str:
        return self.element.kind


def joined(runs: list[ink.Run]) -> str:
    """Runs as one string; a new line or a gap is a space, any white space is one space."""
    text, last = "", None
    for run in runs:
        if last is not None:
            new_line = abs(run.box[1] - last.box[1]) > 0.5 * last.size
            gap = run.box[0] - last.box[2] > 0.12 * last.size
            text += " " if new_line or gap else ""
        text += run.text
        last = run
    return plain(text)


def plain(text: str) -> str:
    """White space of every kind (also U+202F and U+00A0) as single spaces; break opportunities dropped."""
    return re.sub(r"\s+", " ", re.sub("[\u00ad\u200b\u2060]", "", text)).strip()


#: The reading of an open file.
read = files.once(Reading)


def reading(path: Path) -> Reading:
    """A file on disk."""
    return read(files.opened(path))
