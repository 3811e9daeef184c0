"""The desk every drawing module works at: sheet, styles, type setter, words; and the strips it cuts."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import MM, Frame, Sheet
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, Line, Style, Styles, TypeSetter

Draw = Callable[[Pen, float, float], None]
"""Draws a strip with its upper left corner at (x, y)."""

USUAL_GRID = 14.0
"""Distance of the baselines of a page of text of 10.5 points."""

COLUMN_GAP = 8.0 * MM
"""White between two columns of text."""


@dataclass(frozen=True)
class Strip:
    """A piece of the page and how to draw it; `keys` are the link targets it holds, `kind` and `name` tell what."""

    piece: Piece
    draw: Draw
    keys: tuple[str, ...] = ()
    kind: str = "text"
    name: str = ""


@dataclass(frozen=True)
class Desk:
    """What drawing needs to know of the book. `folios` (target key -> printed page number) is filled once composed."""

    sheet: Sheet
    styles: Styles
    setter: TypeSetter
    labels: Mapping[str, str]
    levels: int = 10
    folios: dict[str, str] = field(default_factory=dict)

    @property
    def width(self) -> float:
        """Width of the text block."""
        return self.sheet.text_width

    @property
    def grid(self) -> float:
        """Distance of baselines."""
        return self.sheet.grid

    @property
    def white(self) -> float:
        """How much more or less white stands between music than on the usual page: it grows with the text, but less."""
        return math.sqrt(self.grid / USUAL_GRID)

    @property
    def wide(self) -> bool:
        """Whether two columns of text fit side by side."""
        return self.width >= 35 * self.sheet.text_size

    @property
    def side(self) -> float:
        """Width of the side column where two columns fit: lists and tempo ladders stand in it."""
        return 0.36 * (self.width - COLUMN_GAP)

    @property
    def main(self) -> float:
        """Width of the column beside it."""
        return self.width - self.side - COLUMN_GAP

    def measure(self) -> float:
        """The widest comfortable line of prose: about 75 letters."""
        return min(self.width, 36 * self.styles.body.size)

    def height_of(self, lines: Sequence[Line], style: Style) -> float:
        """Height of set lines: whole grid steps."""
        return len(lines) * style.lines * self.grid

    def draw_lines(
        self, pen: Pen, x: float, y: float, lines: Sequence[Line], style: Style, align: str = "left"
    ) -> float:
        """Draw set lines from the upper edge `y`, baselines on the grid; the lower edge."""
        for line in lines:
            y += style.lines * self.grid
            pen.text(x, y - (1 - BASELINE) * self.grid, line, style, align=align)
        return y

    def tagged(self, pen: Pen, x: float, y: float, lines: Sequence[Line], style: Style, kind: str = "P") -> float:
        """Draw lines as one element of the document's structure; the lower edge."""
        if not lines:
            return y
        with pen.tag(kind):
            return self.draw_lines(pen, x, y, lines, style)

    def on_grid(self, height: float) -> float:
        """The least whole number of grid steps that holds `height`."""
        return math.ceil(height / self.grid - 1e-6) * self.grid

    def bullets(self, items: Sequence[str], style: Style, width: float) -> tuple[tuple[Line, ...], ...]:
        """The lines of each item of a list, set in from the bullet."""
        return tuple(
            lines for item in items if (lines := self.setter.paragraph(item, style, width - self.indent(style)))
        )

    def indent(self, style: Style) -> float:
        """How far a list's text is set in."""
        return round(style.size * 1.15, 1)

    def draw_bullets(self, pen: Pen, x: float, y: float, items: Sequence[Sequence[Line]], style: Style) -> float:
        """Draw a list; the lower edge."""
        with pen.group("L"):
            for lines in items:
                with pen.group("LI"):
                    with pen.artifact():
                        middle = y + BASELINE * self.grid - 0.24 * style.size
                        side = 0.26 * style.size
                        pen.box(Frame(x + 0.1 * style.size, middle - side / 2, side, side), fill=0.0)
                    y = self.tagged(pen, x + self.indent(style), y, lines, style, "LBody")
        return y
