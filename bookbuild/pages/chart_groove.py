"""A groove on its grid of slots, under the counting it is spoken with."""

from __future__ import annotations

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import GrooveChart
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, CAPITALS, Line, Style

WIDEST, NARROWEST = 8.5 * MM, 4.6 * MM
"""Width of a slot; a groove that would need narrower ones is broken at a barline."""

ROW = 5.6 * MM
"""Height of a row, unless its text needs more."""

INSET = 1.2
"""White left and right of a stroke's block."""


def groove_strips(desk: Desk, chart: GrooveChart) -> list[Strip]:
    """Title, remark and grid as one strip."""
    layout = _Layout(desk, chart)
    piece = Piece(layout.height, above=1.5 * desk.grid, stretch=1.5 * desk.grid, shrink=0.25 * desk.grid)
    return [Strip(piece, layout.draw, kind="chart", name=chart.title)]


def split_at_bars(slots: int, bars: tuple[int, ...], most: int) -> list[tuple[int, int]]:
    """(first, last + 1) slots of each line, broken at barlines, at most `most` slots where bars allow."""
    edges = [*sorted(set(bars) | {0}), slots]
    lines, start = [], 0
    for edge, following in zip(edges[1:], [*edges[2:], slots + most + 1], strict=False):
        if following - start > most or edge == slots:
            lines.append((start, edge))
            start = edge
    return [line for line in lines if line[1] > line[0]]


class _Layout:
    """A set groove chart: title over the grid; the remark in the side column, or under the title on a narrow page."""

    def __init__(self, desk: Desk, chart: GrooveChart) -> None:
        self.desk, self.chart = desk, chart
        setter, styles = desk.setter, desk.styles
        self.beside = desk.wide and bool(chart.text)
        width = desk.main if self.beside else desk.width
        self.title = setter.paragraph(chart.title, styles.figure, width, markup=False)
        self.text = setter.paragraph(chart.text, styles.small, desk.side if self.beside else desk.measure())
        self.names = max(setter.width(name, styles.small) for name, _ in chart.rows) + 3 * MM
        room = width - self.names
        self.lines = split_at_bars(len(chart.counts), chart.bars, int(room // NARROWEST))
        self.slot = min(WIDEST, room / max(last - first for first, last in self.lines))
        self.block = min(self.slot - 2 * INSET, 3.4 * MM)
        self.onset = INSET + self.block / 2
        self.row = min(1.3 * desk.grid, max(desk.grid, ROW))
        self.line_height = desk.grid + len(chart.rows) * self.row + 0.4 * desk.grid
        grid = len(self.title) * desk.grid + len(self.lines) * self.line_height
        text = len(self.text) * desk.grid
        self.height = desk.on_grid(max(grid, text + desk.grid) if self.beside else grid + text)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner."""
        desk = self.desk
        below = desk.tagged(pen, x, y, self.title, desk.styles.figure, "H2")
        if self.beside:
            desk.tagged(pen, x + desk.width - desk.side, below, self.text, desk.styles.small)
        else:
            below = desk.tagged(pen, x, below, self.text, desk.styles.small)
        with pen.tag("Figure", alt=self.chart.alt or self.chart.title):
            for first, last in self.lines:
                self._draw_line(pen, x, below, first, last)
                below += self.line_height

    def _draw_line(self, pen: Pen, x: float, y: float, first: int, last: int) -> None:
        left, top = x + self.names, y + 1.05 * self.desk.grid
        bottom = top + len(self.chart.rows) * self.row
        for slot in range(first, last):
            self._draw_count(pen, left + (slot - first) * self.slot + self.onset, y + BASELINE * self.desk.grid, slot)
            strong = slot in self.chart.bars
            if strong or slot in self.chart.beats:
                edge = left + (slot - first) * self.slot
                pen.rule(edge, top, edge, bottom, 1.0 if strong else 0.4, 0.0 if strong else 0.3)
        pen.rule(left + (last - first) * self.slot, top, left + (last - first) * self.slot, bottom, 1.0)
        for row, (name, signs) in enumerate(self.chart.rows):
            middle = top + (row + 0.5) * self.row
            style = self.desk.styles.small
            pen.text(x, middle + CAPITALS / 2 * style.size, self._line(name, style), style)
            self._draw_signs(pen, left, middle, signs[first:last], signs[first - 1 : first])

    def _draw_count(self, pen: Pen, middle: float, baseline: float, slot: int) -> None:
        style = self.desk.styles.figure if slot in self.chart.beats else self.desk.styles.small
        line, fitted = self.desk.setter.fit(self.chart.counts[slot], style, self.slot * 0.96, 0.6)
        pen.text(middle, baseline, line, fitted, align="centre")

    def _draw_signs(self, pen: Pen, left: float, middle: float, signs: str, before: str) -> None:
        """A block where a stroke sounds, a bar while it is held, a dot where all is silent; accents are taller."""
        tall = 0.36 * self.row
        for place, sign in enumerate(signs):
            x, previous = left + place * self.slot, signs[place - 1] if place else before
            if sign in "xX":
                height = tall * (1.25 if sign == "X" else 0.85)
                pen.box(Frame(x + INSET, middle - height, self.block, 2 * height), fill=0.0, radius=0.8)
                if signs[place + 1 : place + 2] == "-":
                    start = INSET + self.block
                    pen.box(Frame(x + start, middle - 0.8, self.slot - start, 1.6), fill=0.0)
            elif sign == "-":
                start = 0.0 if previous in ("x", "X", "-") else INSET
                end = 0.0 if signs[place + 1 : place + 2] == "-" else INSET
                pen.box(Frame(x + start, middle - 0.8, self.slot - start - end, 1.6), fill=0.0)
            else:
                pen.disc(x + self.onset, middle, 0.7, 0.45)

    def _line(self, text: str, style: Style) -> Line:
        return self.desk.setter.line(text, style)
