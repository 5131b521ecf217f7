"""What is drawn on a page, read from its content stream (ISO 32000-1, 8 and 9): text runs and shapes in
painting order, each with its colour, size and the mark (artifact or tagged content) it stands under.

An operator, colour space or transparency that this reader does not know is an error: a check must not pass
because it looked away.
"""

import functools
import math
from dataclasses import dataclass, field
from pathlib import Path

import pikepdf

import files
import glyphs

BLACK, WHITE = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
Matrix = tuple[float, float, float, float, float, float]
IDENTITY: Matrix = (1, 0, 0, 1, 0, 0)


class Unreadable(Exception):
    """The page uses something the reader does not know."""


def multiply(m: Matrix, n: Matrix) -> Matrix:
    """First `m`, then `n`."""
    return (
        m[0] * n[0] + m[1] * n[2], m[0] * n[1] + m[1] * n[3],
        m[2] * n[0] + m[3] * n[2], m[2] * n[1] + m[3] * n[3],
        m[4] * n[0] + m[5] * n[2] + n[4], m[4] * n[1] + m[5] * n[3] + n[5],
    )


def apply(m: Matrix, x: float, y: float) -> tuple[float, float]:
    return m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]


class Hatch(tuple):
    """The colour of the lines of a hatched filling: lines show between them, text would not be readable."""


@dataclass(frozen=True)
class Mark:
    """Marked content around a drawing operator."""

    artifact: str | None = None
    """`Pagination`, `Layout`, ... or an empty string for an artifact without a type."""
    mcid: int | None = None


@dataclass
class Run:
    """Text shown by one operator."""

    text: str
    codes: list[int]
    font: glyphs.Glyphs
    size: float
    colour: tuple
    visible: bool
    box: tuple[float, float, float, float]
    mark: Mark
    order: int


@dataclass
class Shape:
    """A path that was filled, stroked or both, flattened to polygons in page coordinates."""

    polygons: list[list[tuple[float, float]]]
    fill: tuple | None
    stroke: tuple | None
    width: float
    even_odd: bool
    mark: Mark
    order: int

    @functools.cached_property
    def box(self) -> tuple[float, float, float, float]:
        xs = [x for polygon in self.polygons for x, _ in polygon]
        ys = [y for polygon in self.polygons for _, y in polygon]
        return min(xs), min(ys), max(xs), max(ys)

    def covers(self, x: float, y: float) -> bool:
        """Whether the filled area holds the point."""
        left, bottom, right, top = self.box
        if not (left <= x <= right and bottom <= y <= top):
            return False
        winding = crossings = 0
        for polygon in self.polygons:
            for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] + polygon[:1]):
                if (y0 <= y) != (y1 <= y) and x0 + (y - y0) * (x1 - x0) / (y1 - y0) > x:
                    crossings += 1
                    winding += 1 if y1 > y0 else -1
        return crossings % 2 == 1 if self.even_odd else winding != 0


@dataclass
class Page:
    """Everything drawn on one page."""

    width: float
    height: float
    runs: list[Run] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    images: int = 0

    def near(self, box, edge: float = 3) -> "Page":
        """The same page with those shapes only that reach a box or come this near to it."""
        left, bottom, right, top = box[0] - edge, box[1] - edge, box[2] + edge, box[3] + edge

        def meets(other):
            return other[0] <= right and other[2] >= left and other[1] <= top and other[3] >= bottom

        return Page(self.width, self.height, shapes=[shape for shape in self.shapes if meets(shape.box)])

    def under(self, x: float, y: float, order: int, hatched: bool = True) -> tuple:
        """The colour that was last filled at a point before the given operator; paper is white.

        Without `hatched`, hatching is looked through.
        """
        for shape in reversed(self.shapes):
            seen = shape.fill is not None and (hatched or not isinstance(shape.fill, Hatch))
            if seen and shape.order < order and shape.covers(x, y):
                return shape.fill
        return WHITE


@dataclass
class State:
    ctm: Matrix = IDENTITY
    fill: tuple = BLACK
    stroke: tuple = BLACK
    fill_space: str = "gray"
    stroke_space: str = "gray"
    line_width: float = 1.0
    font: glyphs.Glyphs | None = None
    size: float = 0.0
    char_space: float = 0.0
    word_space: float = 0.0
    scale: float = 1.0
    leading: float = 0.0
    rise: float = 0.0
    mode: int = 0

    def copy(self) -> "State":
        return State(**vars(self))


def _rgb(space: str, values: list[float]) -> tuple:
    if space == "gray" and len(values) == 1:
        return (values[0],) * 3
    if space == "rgb" and len(values) == 3:
        return tuple(values)
    if space == "cmyk" and len(values) == 4:
        c, m, y, k = values
        return tuple((1 - v) * (1 - k) for v in (c, m, y))
    raise Unreadable(f"colour {values} in space {space}")


def _space(name: str, resources) -> str:
    plain = {"/DeviceGray": "gray", "/DeviceRGB": "rgb", "/DeviceCMYK": "cmyk", "/Pattern": "pattern"}
    if name in plain:
        return plain[name]
    spaces = resources.get("/ColorSpace", pikepdf.Dictionary())
    space = spaces.get(name)
    if isinstance(space, pikepdf.Name):
        return _space(str(space), resources)
    if isinstance(space, pikepdf.Array) and space[0] == "/ICCBased":
        return {1: "gray", 3: "rgb", 4: "cmyk"}[int(space[1].N)]
    if isinstance(space, pikepdf.Array) and space[0] == "/Pattern":
        return "pattern"
    raise Unreadable(f"colour space {name}")


def _curve(p0, p1, p2, p3, steps=8):
    for i in range(1, steps + 1):
        t = i / steps
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        yield tuple(a * p0[k] + b * p1[k] + c * p2[k] + d * p3[k] for k in (0, 1))


class Reader:
    """Runs one content stream and collects what it draws."""

    def __init__(self, page: Page, resources, state: State, marks: list[Mark], fonts: dict):
        self.page, self.resources, self.state, self.marks, self.fonts = page, resources, state, list(marks), fonts
        self.saved: list[State] = []
        self.path: list[list[tuple[float, float]]] = []
        self.line = self.text = IDENTITY

    def mark(self) -> Mark:
        """An artifact anywhere around counts, else the innermost tagged content."""
        for mark in self.marks:
            if mark.artifact is not None:
                return mark
        for mark in reversed(self.marks):
            if mark.mcid is not None:
                return mark
        return Mark()

    def order(self) -> int:
        return len(self.page.runs) + len(self.page.shapes) + self.page.images

    def run(self, stream) -> None:
        for operands, operator in pikepdf.parse_content_stream(stream):
            name = str(operator)
            method = self.OPERATORS.get(name)
            if method is None:
                raise Unreadable(f"operator {name}")
            method(self, list(operands))

    # Graphics state
    def save(self, _):
        self.saved.append(self.state.copy())

    def restore(self, _):
        self.state = self.saved.pop()

    def transform(self, a):
        self.state.ctm = multiply(tuple(float(v) for v in a), self.state.ctm)

    def line_width(self, a):
        self.state.line_width = float(a[0])

    def extended(self, a):
        state = self.resources.ExtGState[str(a[0])]
        for key in ("/ca", "/CA"):
            if float(state.get(key, 1)) != 1:
                raise Unreadable("transparent paint")
        if state.get("/SMask", "/None") != "/None" or state.get("/BM", "/Normal") != "/Normal":
            raise Unreadable("a soft mask or blend mode")
        if "/Font" in state:
            raise Unreadable("a font set by graphics state")

    def ignore(self, _):
        pass

    # Colour
    def colour(self, fill: bool, space: str, values) -> None:
        target = "fill" if fill else "stroke"
        setattr(self.state, target + "_space", space)
        setattr(self.state, target, self.paint(space, values))

    def paint(self, space: str, values) -> tuple:
        if space == "pattern":
            return self.tiling(self.resources.Pattern[str(values[-1])])
        return _rgb(space, [float(v) for v in values])

    def tiling(self, pattern) -> tuple:
        """A tiling pattern counts as its palest ink."""
        if int(pattern.get("/PatternType", 0)) != 1:
            raise Unreadable("a shading")
        tile = Page(0, 0)
        Reader(tile, pattern.get("/Resources", self.resources), State(), [], self.fonts).run(pattern)
        inks = [c for shape in tile.shapes for c in (shape.fill, shape.stroke) if c not in (None, WHITE)]
        if not inks or tile.runs:
            raise Unreadable("a pattern without lines")
        return Hatch(max(inks))

    def set_space(fill: bool):
        def method(self, a):
            space = _space(str(a[0]), self.resources)
            setattr(self.state, "fill_space" if fill else "stroke_space", space)
            if space != "pattern":
                setattr(self.state, "fill" if fill else "stroke", BLACK)

        return method

    def set_colour(fill: bool):
        def method(self, a):
            self.colour(fill, self.state.fill_space if fill else self.state.stroke_space, a)

        return method

    def set_device(fill: bool, space: str):
        return lambda self, a: self.colour(fill, space, a)

    # Paths
    def point(self, x, y):
        return apply(self.state.ctm, float(x), float(y))

    def move(self, a):
        self.path.append([self.point(*a)])

    def draw(self, a):
        self.path[-1].append(self.point(*a))

    def curve(self, a):
        p = [self.path[-1][-1], self.point(a[0], a[1]), self.point(a[2], a[3]), self.point(a[4], a[5])]
        self.path[-1].extend(_curve(*p))

    def curve_from_here(self, a):
        here = self.path[-1][-1]
        self.path[-1].extend(_curve(here, here, self.point(a[0], a[1]), self.point(a[2], a[3])))

    def curve_to_end(self, a):
        end = self.point(a[2], a[3])
        self.path[-1].extend(_curve(self.path[-1][-1], self.point(a[0], a[1]), end, end))

    def close(self, _):
        self.path[-1].append(self.path[-1][0])

    def rectangle(self, a):
        x, y, w, h = (float(v) for v in a)
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
        self.path.append([self.point(*corner) for corner in corners])

    def finish(fill: bool, stroke: bool, close: bool = False, even_odd: bool = False):
        def method(self, _):
            if close and self.path:
                self.close(None)
            if self.path and (fill or stroke):
                state = self.state
                width = state.line_width * math.sqrt(abs(state.ctm[0] * state.ctm[3] - state.ctm[1] * state.ctm[2]))
                self.page.shapes.append(Shape(
                    self.path, state.fill if fill else None, state.stroke if stroke else None,
                    width, even_odd, self.mark(), self.order(),
                ))
            self.path = []

        return method

    # Text
    def begin_text(self, _):
        self.line = self.text = IDENTITY

    def set_font(self, a):
        font = self.resources.Font[str(a[0])]
        known = self.fonts.get(font.objgen) if font.is_indirect else None
        if known is None:
            known = self.fonts[font.objgen] = glyphs.read(font)
        self.state.font, self.state.size = known, float(a[1])

    def text_matrix(self, a):
        self.line = self.text = tuple(float(v) for v in a)

    def next_line(self, a):
        self.line = self.text = multiply((1, 0, 0, 1, float(a[0]), float(a[1])), self.line)

    def next_line_leading(self, a):
        self.state.leading = -float(a[1])
        self.next_line(a)

    def line_break(self, _):
        self.next_line([0, -self.state.leading])

    def number(name: str, factor: float = 1.0):
        def method(self, a):
            setattr(self.state, name, float(a[0]) * factor)

        return method

    def mode(self, a):
        self.state.mode = int(a[0])

    def show(self, a):
        self.show_many([[a[0]]])

    def show_on_next_line(self, a):
        self.line_break(None)
        self.show(a)

    def show_spaced(self, a):
        self.state.word_space, self.state.char_space = float(a[0]), float(a[1])
        self.show_on_next_line(a[2:])

    def show_many(self, a):
        state, codes, advance = self.state, [], 0.0
        if state.font is None:
            raise Unreadable("text without a font")
        start = multiply(self.text, state.ctm)
        for item in a[0]:
            if isinstance(item, pikepdf.String):
                shown = state.font.codes(bytes(item))
                codes += shown
                for code in shown:
                    word = state.word_space if code == 32 and not state.font.two_bytes else 0
                    advance += (state.font.width(code) * state.size + state.char_space + word) * state.scale
            else:
                advance -= float(item) / 1000 * state.size * state.scale
        self.text = multiply((1, 0, 0, 1, advance, 0), self.text)
        size = state.size * math.hypot(start[2], start[3])
        low, high = state.rise - 0.22 * state.size, state.rise + 0.72 * state.size
        corners = [apply(start, x, y) for x in (0, advance) for y in (low, high)]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        self.page.runs.append(Run(
            state.font.text(codes), codes, state.font, size, state.fill, state.mode in (0, 2),
            (min(xs), min(ys), max(xs), max(ys)), self.mark(), self.order(),
        ))

    # Marked content, nested streams, images
    def begin_marked(self, a):
        tag, properties = str(a[0]), a[1] if len(a) > 1 else pikepdf.Dictionary()
        if isinstance(properties, pikepdf.Name):
            properties = self.resources.Properties[str(properties)]
        kind = str(properties.get("/Type", "")).lstrip("/") if tag == "/Artifact" else None
        mcid = properties.get("/MCID")
        self.marks.append(Mark(kind, None if mcid is None else int(mcid)))

    def end_marked(self, _):
        self.marks.pop()

    def place(self, a):
        item = self.resources.XObject[str(a[0])]
        if item.Subtype == "/Image":
            self.page.images += 1
            return
        inner = self.state.copy()
        inner.ctm = multiply(tuple(float(v) for v in item.get("/Matrix", IDENTITY)), inner.ctm)
        Reader(self.page, item.get("/Resources", self.resources), inner, self.marks, self.fonts).run(item)

    OPERATORS = {
        "q": save, "Q": restore, "cm": transform, "w": line_width, "gs": extended,
        **dict.fromkeys(("J", "j", "M", "d", "ri", "i", "W", "W*", "MP", "DP"), ignore),
        "cs": set_space(True), "CS": set_space(False),
        **dict.fromkeys(("sc", "scn"), set_colour(True)), **dict.fromkeys(("SC", "SCN"), set_colour(False)),
        "g": set_device(True, "gray"), "G": set_device(False, "gray"),
        "rg": set_device(True, "rgb"), "RG": set_device(False, "rgb"),
        "k": set_device(True, "cmyk"), "K": set_device(False, "cmyk"),
        "m": move, "l": draw, "c": curve, "v": curve_from_here, "y": curve_to_end, "h": close, "re": rectangle,
        "S": finish(False, True), "s": finish(False, True, close=True), "n": finish(False, False),
        **dict.fromkeys(("f", "F"), finish(True, False)), "f*": finish(True, False, even_odd=True),
        "B": finish(True, True), "B*": finish(True, True, even_odd=True),
        "b": finish(True, True, close=True), "b*": finish(True, True, close=True, even_odd=True),
        "BT": begin_text, "ET": ignore, "Tf": set_font, "Tm": text_matrix, "Td": next_line,
        "TD": next_line_leading, "T*": line_break, "TL": number("leading"), "Tc": number("char_space"),
        "Tw": number("word_space"), "Tz": number("scale", 0.01), "Ts": number("rise"), "Tr": mode,
        "Tj": show, "TJ": show_many, "'": show_on_next_line, '"': show_spaced,
        "BDC": begin_marked, "BMC": begin_marked, "EMC": end_marked, "Do": place,
    }


@files.once
def draw(pdf: pikepdf.Pdf) -> list[Page]:
    """All pages of an open file."""
    fonts: dict = {}
    pages = []
    for page in pdf.pages:
        box = [float(v) for v in page.mediabox]
        drawn = Page(box[2] - box[0], box[3] - box[1])
        Reader(drawn, page.obj.get("/Resources", pikepdf.Dictionary()), State(), [], fonts).run(page)
        pages.append(drawn)
    return pages


def pages(path: Path) -> list[Page]:
    """All pages of a file on disk."""
    return draw(files.opened(path))
