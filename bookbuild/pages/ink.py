"""The pen: draws text, lines, outlines and systems on the pages of a PDF, black alone, every mark tagged.

Places are points from the trimmed page's upper left corner, y downwards. What the PDF needs beyond its content streams
(links, targets, structure, systems to import) is gathered in `Record` and written by `write_pdf`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from io import BytesIO

from PIL.Image import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from bookbuild.pages.fonts import FontSet
from bookbuild.pages.glyphs import SIGNS, Path, ellipse
from bookbuild.pages.model import System
from bookbuild.pages.paper import MM, Frame, Sheet
from bookbuild.pages.record import Node, Placed, Record
from bookbuild.pages.typography import Line, Style

MARK_ROOM = 9 * MM
"""Room outside the bleed for crop marks."""

PAD = 3.0
"""Points round a system's ink box that may still be drawn."""

_STEPS = {"M": "m", "L": "l", "C": "c", "Z": "h"}
"""Steps of an outline -> path operators."""


class Pen:
    """Draws on one page after another; `page` is the index of the current one."""

    def __init__(self, sheet: Sheet, fonts: FontSet, language: str) -> None:
        self.sheet, self.fonts = sheet, fonts
        self.record = Record()
        self.page = -1
        self._edge = sheet.bleed + (MARK_ROOM if sheet.crop_marks else 0.0)
        self._buffer = BytesIO()
        size = (sheet.width + 2 * self._edge, sheet.height + 2 * self._edge)
        self._canvas = Canvas(
            self._buffer,
            pagesize=size,
            invariant=1,
            pageCompression=0,
            pdfVersion=(1, 7),
            lang=language,
            initialFontName=fonts.register_initial(),
        )
        self._names: dict[tuple[str, int], str] = {}
        self._stack = [self.record.root]
        self._placed: set[int] = set()
        self._marking = False

    def start_page(self) -> None:
        """Begin the next page."""
        if self.page >= 0:
            self._canvas.showPage()
        self.page += 1
        self.record.marks.append(0)
        self.record.page_systems.append(set())
        if self.sheet.crop_marks:
            self._crop_marks()

    def finish(self) -> bytes:
        """The PDF drawn so far, without imported systems, links and structure."""
        self._canvas.showPage()
        self._canvas.save()
        return self._buffer.getvalue()

    # ------------------------------------------------------------------ structure

    @contextmanager
    def group(self, kind: str, alt: str = "", title: str = "") -> Iterator[Node]:
        """Open a structure element that holds others."""
        node = Node(kind, alt, title)
        self._stack[-1].children.append(node)
        self._stack.append(node)
        yield node
        self._stack.pop()

    @contextmanager
    def within(self, node: Node) -> Iterator[None]:
        """Work inside an element made beforehand; at its first use it joins the open group."""
        if id(node) not in self._placed:
            self._placed.add(id(node))
            self._stack[-1].children.append(node)
        self._stack.append(node)
        yield
        self._stack.pop()

    @contextmanager
    def tag(self, kind: str, alt: str = "", node: Node | None = None, scope: str = "") -> Iterator[Node]:
        """Mark what is drawn as content of a new element of `kind`, or of `node` when it is given."""
        if node is None:
            node = Node(kind, alt, scope=scope)
            self._stack[-1].children.append(node)
        self._begin()
        number = self.record.marks[self.page]
        self.record.marks[self.page] += 1
        node.content.append((self.page, number))
        self._emit(f"/{node.kind} <</MCID {number}>> BDC")
        yield node
        self._end()

    @contextmanager
    def artifact(self) -> Iterator[None]:
        """Mark what is drawn as furniture of the page (rules, tabs, running heads) that is not read aloud."""
        self._begin()
        self._emit("/Artifact BMC")
        yield
        self._end()

    def _begin(self) -> None:
        if self._marking:
            raise RuntimeError("marked content cannot hold marked content")
        self._marking = True

    def _end(self) -> None:
        self._marking = False
        self._emit("EMC")

    def target(self, key: str, y: float) -> None:
        """Name this height of the page as a link target."""
        self.record.targets[key] = (self.page, y)

    def bookmark(self, level: int, title: str, key: str) -> None:
        """Add a line to the outline: level 0 is the outermost."""
        self.record.outline.append((level, title, key))

    def link(self, frame: Frame, key: str, label: str, node: Node | None = None) -> None:
        """Make a rectangle a link to a target or a web address, owned by `node` or by an element of its own.

        A file for the print shop has no links: preflight refuses what lies over the page.
        """
        if self.sheet.for_print_shop:
            return
        if node is None:
            node = Node("Link", label)
            self._stack[-1].children.append(node)
        node.links.append(len(self.record.links))
        self.record.links.append((self.page, frame, key, label))

    def note_placed(self, kind: str, name: str, frame: Frame) -> None:
        """Remember a box that was drawn."""
        self.record.placed.append(Placed(self.page, kind, name, frame))

    # ------------------------------------------------------------------ drawing

    def text(
        self, x: float, baseline: float, line: Line, style: Style, gray: float | None = None, align: str = "left"
    ) -> None:
        """Draw a set line with its baseline at `baseline`; `align` says what `x` is: its left, right or centre."""
        x -= {"left": 0.0, "right": line.width, "centre": line.width / 2}[align]
        self._fill(style.gray if gray is None else gray)
        for chunk in line.chunks:
            if chunk.sign:
                self.outline(SIGNS[chunk.text][0], x + chunk.x, baseline, style.size)
            else:
                # A space no one sees parts this text from the next for those who search or listen.
                end = " " if chunk is line.chunks[-1] else ""
                self._show(x + chunk.x, baseline, chunk.text + end, chunk.face, style)

    def turned(self, x: float, y: float, line: Line, style: Style) -> None:
        """Draw a line reading upwards: it starts at (x, y), and x is its baseline."""
        left, base = self._at(x, y)
        self._emit(f"q 0 1 -1 0 {_pair((left, base))} cm 1 0 0 1 {_pair((-left, -base))} cm")
        self.text(x, y, line, style)
        self._emit("Q")

    def outline(self, path: Path, x: float, baseline: float, scale: float, gray: float | None = None) -> None:
        """Fill an outline in em units at (x, baseline), `scale` points to the em."""
        if gray is not None:
            self._fill(gray)
        self._stamp(f"{_operators(tuple(path), scale)} f", x, baseline)

    def trace(self, path: Path, x: float, baseline: float, scale: float, gray: float, weight: float) -> None:
        """Draw along an outline with a line of `weight` points."""
        self._emit(f"{_number(gray)} G {_number(weight)} w")
        self._stamp(f"{_operators(tuple(path), scale)} S", x, baseline)

    def _stamp(self, operators: str, x: float, y: float) -> None:
        """Operators written for the origin, at (x, y): the same sign is the same text wherever it stands."""
        self._emit(f"q 1 0 0 1 {_pair(self._at(x, y))} cm {operators} Q")

    def rule(self, x: float, y: float, x2: float, y2: float, weight: float = 0.5, gray: float = 0.0) -> None:
        """A straight line."""
        start, end = self._at(x, y), self._at(x2, y2)
        self._emit(f"{_number(gray)} G {_number(weight)} w {_pair(start)} m {_pair(end)} l S")

    def dots(self, x: float, y: float, x2: float, pitch: float, side: float, gray: float) -> None:
        """Square dots on a level line, each `pitch` from the next: a dashed line."""
        start, end = self._at(x, y), self._at(x2, y)
        dashes = f"[{_pair((side, pitch - side))}] 0 d"
        self._emit(f"{_number(gray)} G {_number(side)} w {dashes} {_pair(start)} m {_pair(end)} l S [] 0 d")

    def box(
        self, frame: Frame, fill: float | None = None, weight: float = 0.0, gray: float = 0.0, radius: float = 0.0
    ) -> None:
        """A rectangle filled with a grey (0 black, 1 white) and/or outlined; corners rounded by `radius`."""
        x, y = self._at(frame.x, frame.bottom)
        if fill is not None:
            self._fill(fill)
        if weight:
            self._emit(f"{_number(gray)} G {_number(weight)} w")
        if radius:
            self._emit(_rounded(x, y, frame.width, frame.height, radius))
        else:
            self._emit(f"{_pair((x, y))} {_pair((frame.width, frame.height))} re")
        self._emit("B" if fill is not None and weight else "f" if fill is not None else "S")

    def disc(self, x: float, y: float, radius: float, fill: float | None = None, weight: float = 0.0) -> None:
        """A circle round (x, y), filled with a grey and/or outlined in black."""
        if fill is not None:
            self._fill(fill)
            self._stamp(_disc(radius), x, y)
        if weight:
            self._fill(0.0)
            self._stamp(_disc(radius + weight / 2, radius - weight / 2), x, y)

    def system(self, system: System, x: float, y: float) -> None:
        """Place a drawn system with its staves' left end at `x` and the top of its ink at `y`."""
        key = (str(system.pdf), system.page_index)
        name = self._names.setdefault(key, f"Music{len(self._names)}")
        self.record.systems[name] = system
        self.record.page_systems[self.page].add(name)
        self._emit(f"q 1 0 0 1 {_pair(self._at(x, y))} cm /{name} Do Q")
        self.note_placed("system", name, Frame(x + system.left - system.origin_x, y, system.width, system.height))

    def image(self, image: Image, frame: Frame) -> None:
        """Draw a grey image over a frame."""
        x, y = self._at(frame.x, frame.bottom)
        self._canvas.drawImage(ImageReader(image), x, y, frame.width, frame.height)

    def _show(self, x: float, baseline: float, text: str, face: str, style: Style) -> None:
        """Write text in one face, subset by subset."""
        kept, document = self.fonts.face(face), self._canvas._doc
        out = [f"BT {_number(style.tracking)} Tc 1 0 0 1 {_pair(self._at(x, baseline))} Tm"]
        current, shown = "", ""
        for stretch, move in kept.split_kerned(text):
            for subset, codes in kept.font.splitString(stretch, document):
                name = kept.font.getSubsetInternalName(subset, document)
                if name != current:
                    out.append(f"[{shown}] TJ" if shown else "")
                    out.append(f"{name} {_number(style.size)} Tf")
                    current, shown = name, ""
                shown += f"<{codes.hex()}>"
            shown += _number(-move) if move else ""
        self._emit(" ".join([*out, f"[{shown}] TJ ET"]))

    def _fill(self, gray: float) -> None:
        self._emit(f"{_number(gray)} g")

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return self._edge + x, self._edge + self.sheet.height - y

    def _emit(self, operators: str) -> None:
        # The canvas has no public call for marked content or imported forms; its own operators go into this list.
        self._canvas._code.append(operators)

    def _crop_marks(self) -> None:
        """Hairlines outside the bleed at the corners of the trimmed page."""
        gap, length = self.sheet.bleed + 1.0 * MM, 5 * MM
        with self.artifact():
            for x, outward in ((0.0, -1), (self.sheet.width, 1)):
                for y, down in ((0.0, -1), (self.sheet.height, 1)):
                    self.rule(x + outward * gap, y, x + outward * (gap + length), y, 0.25)
                    self.rule(x, y + down * gap, x, y + down * (gap + length), 0.25)


@lru_cache(maxsize=1024)
def _operators(path: tuple[tuple[str, tuple[float, ...]], ...], scale: float) -> str:
    """An outline's path operators, its origin at (0, 0), `scale` points to the em."""
    return " ".join(" ".join([*(_number(value * scale) for value in places), _STEPS[step]]) for step, places in path)


@lru_cache(maxsize=256)
def _disc(radius: float, hole: float = 0.0) -> str:
    """Operators that fill a circle round the origin, or a ring."""
    inner = ellipse(0, 0, hole, hole, hole=True) if hole else []
    return f"{_operators((*ellipse(0, 0, radius, radius), *inner), 1.0)} f"


def _number(value: float) -> str:
    """A number as short as its thousandths allow."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if value else "0"


def _pair(point: tuple[float, float]) -> str:
    return f"{_number(point[0])} {_number(point[1])}"


def _rounded(x: float, y: float, width: float, height: float, radius: float) -> str:
    """Path operators of a rectangle with rounded corners."""
    radius = min(radius, width / 2, height / 2)
    k = radius * 0.4477
    right, top = x + width, y + height
    starts = ((x + radius, y), (right - radius, y), (right, y + radius), (right, top - radius))
    ends = ((right - radius, top), (x + radius, top), (x, top - radius), (x, y + radius))
    corners = (
        (starts[1], (right - k, y), (right, y + k), starts[2]),
        (starts[3], (right, top - k), (right - k, top), ends[0]),
        (ends[1], (x + k, top), (x, top - k), ends[2]),
        (ends[3], (x, y + k), (x + k, y), starts[0]),
    )
    sides = [f"{_pair(a)} l {_pair(b)} {_pair(c)} {_pair(d)} c" for a, b, c, d in corners]
    return " ".join([f"{_pair(starts[0])} m", *sides, "h"])
