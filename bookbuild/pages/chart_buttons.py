"""The instrument's left-hand buttons as slanting rows, the used ones black."""

from __future__ import annotations

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import ButtonChart
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, CAPITALS, Style

WIDEST, NARROWEST, LARGE, TALL = 8.5 * MM, 7.0 * MM, 12.0 * MM, 11.0 * MM
"""Distance of buttons in a row, at most and at least, and at most in large print; closer than the narrowest, the chart
is set on its side, its columns running down, at most the last apart."""

SLANT = 0.4
"""How far each row is shifted against the one before, in buttons: rows lie aslant on the instrument."""


def button_strip(desk: Desk, chart: ButtonChart) -> Strip:
    """The chart as one strip."""
    layout = _Layout(desk, chart)
    piece = Piece(desk.on_grid(layout.height), above=desk.grid, stretch=desk.grid, shrink=0.5 * desk.grid)
    return Strip(piece, layout.draw, kind="chart", name=chart.title)


class _Layout:
    """Where the buttons stand: along the page when they fit, else down it."""

    def __init__(self, desk: Desk, chart: ButtonChart) -> None:
        self.desk, self.chart = desk, chart
        columns = max(len(labels) for _, labels in chart.rows)
        rows = len(chart.rows)
        style = desk.styles.small
        self.title = desk.setter.paragraph(chart.title, desk.styles.figure, desk.width, markup=False)
        self.names = max(desk.setter.width(name, style) for name, _ in chart.rows) + 3 * MM
        across = (desk.width - self.names) / (columns + SLANT * (rows - 1))
        self.down = across < NARROWEST
        head, widest = len(self.title) * desk.grid, LARGE if desk.sheet.large_print else WIDEST
        if self.down:
            room = desk.sheet.text_height - head - 9 * desk.grid
            self.pitch = min(TALL, room / (columns + SLANT * (rows - 1)))
            self.step = min(1.5 * TALL, desk.width / rows)
            self.height = head + 1.5 * desk.grid + self.pitch * (columns + SLANT * (rows - 1))
        else:
            self.pitch = self.step = min(widest, across)
            self.height = head + 0.5 * desk.grid + self.step * rows
        self.radius = 0.43 * min(self.pitch, self.step)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw the chart from its upper left corner."""
        desk = self.desk
        below = desk.tagged(pen, x, y, self.title, desk.styles.figure, "H2")
        with pen.tag("Figure", alt=self.chart.alt or self.chart.title):
            for row, (name, labels) in enumerate(self.chart.rows):
                self._draw_name(pen, x, below, row, name)
                for column, label in enumerate(labels):
                    across, along = self._place(row, column)
                    self._draw_button(pen, x + across, below + along, row, column, label)
        pen.note_placed("buttons", self.chart.title, Frame(x, below, desk.width, self.height - (below - y)))

    def _place(self, row: int, column: int) -> tuple[float, float]:
        """Centre of a button below the title."""
        along = (column + SLANT * row + 0.5) * self.pitch
        if self.down:
            return (row + 0.5) * self.step, 1.5 * self.desk.grid + along
        return self.names + along, 0.5 * self.desk.grid + (row + 0.5) * self.step

    def _draw_name(self, pen: Pen, x: float, y: float, row: int, name: str) -> None:
        style = self.desk.styles.small
        if self.down:
            line, fitted = self.desk.setter.fit(name, style, self.step - 2)
            pen.text(x + (row + 0.5) * self.step, y + BASELINE * self.desk.grid, line, fitted, align="centre")
        else:
            middle = self._place(row, 0)[1] + CAPITALS / 2 * style.size
            pen.text(x, y + middle, self.desk.setter.line(name, style), style)

    def _draw_button(self, pen: Pen, x: float, y: float, row: int, column: int, label: str) -> None:
        marked = (row, column) in self.chart.marked
        pen.disc(x, y, self.radius, 0.0 if marked else None, 0.0 if marked else 0.6)
        if column == self.chart.home and not marked:
            pen.disc(x, y, self.radius - 1.6, None, 0.4)
        style = Style("sans-semibold" if marked else "sans", min(self.desk.styles.small.size, self.radius * 0.92))
        line, fitted = self.desk.setter.fit(label, style, 1.7 * self.radius, 0.5)
        pen.text(x, y + CAPITALS / 2 * fitted.size, line, fitted, 1.0 if marked else 0.0, "centre")
        if column == self.chart.home and marked:
            pen.disc(x, y, self.radius + 1.2, None, 0.4)
