"""The course on one page: weeks down, skills across, difficulty as bars."""

from __future__ import annotations

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import CourseMap, MapRow
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import CAPITALS, Style

COLUMN = 8.0 * MM
"""Widest column of a skill."""


def map_strip(desk: Desk, chart: CourseMap) -> Strip:
    """The map as one strip, no higher than a page."""
    layout = _Layout(desk, chart)
    return Strip(Piece(layout.height, above=desk.grid), layout.draw, kind="chart", name="course-map")


class _Layout:
    """Columns: number, title, difficulty, one for each skill; skills' names read upwards."""

    def __init__(self, desk: Desk, chart: CourseMap) -> None:
        self.desk, self.chart = desk, chart
        style = desk.styles.small
        self.number = 8 * MM
        self.bar = min(26 * MM, 0.15 * desk.width)
        rest = desk.width - self.number - self.bar - 6 * MM
        self.title = max(0.0, min(0.34 * desk.width, rest - len(chart.skills) * 4.2 * MM))
        self.column = min(COLUMN, (rest - self.title) / max(1, len(chart.skills)))
        self.title = rest - self.column * len(chart.skills)
        longest = max((desk.setter.width(skill, style) for skill in chart.skills), default=0.0)
        self.head = min(longest, 0.42 * desk.sheet.text_height) + 2 * MM
        room = desk.sheet.text_height - self.head - 7 * desk.grid
        self.row = max(0.7 * desk.grid, min(2 * desk.grid, room / max(1, len(chart.rows))))
        self.height = desk.on_grid(self.head + self.row * len(chart.rows) + 2 * desk.grid)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner."""
        desk, style = self.desk, self.desk.styles.small
        top, skills = y + self.head, x + self.number + self.title + self.bar + 6 * MM
        with pen.tag("Figure", alt=self.chart.alt or desk.labels["difficulty"]):
            label, fitted = desk.setter.fit(desk.labels["difficulty"], style, self.bar + 4 * MM)
            pen.text(x + self.number + self.title, top - 2 * MM, label, fitted)
            for place, skill in enumerate(self.chart.skills):
                line, fitted = desk.setter.fit(skill, style, self.head - 2 * MM)
                pen.turned(
                    skills + (place + 0.5) * self.column + CAPITALS / 2 * fitted.size, top - 2 * MM, line, fitted
                )
            for place, row in enumerate(self.chart.rows):
                self._draw_row(pen, x, top + place * self.row, row, skills)
            bottom = top + len(self.chart.rows) * self.row
            pen.rule(x, bottom, x + desk.width, bottom, 0.8)
            self._draw_key(pen, skills, bottom + 1.2 * desk.grid)
        for place, row in enumerate(self.chart.rows):
            name = f"{desk.labels['week']} {row.number}"
            pen.link(Frame(x, top + place * self.row, desk.width, self.row), f"week-{row.number}", name)

    def _draw_row(self, pen: Pen, x: float, y: float, row: MapRow, skills: float) -> None:
        style = self.desk.styles.small
        pen.rule(x, y, x + self.desk.width, y, 0.4, 0.3)
        baseline, middle = y + self.row / 2 + CAPITALS / 2 * style.size, y + self.row / 2
        strong = Style("sans-bold", style.size)
        pen.text(x, baseline, self.desk.setter.line(str(row.number), strong), strong)
        if self.title > 12 * MM:
            line, fitted = self.desk.setter.fit(row.title, style, self.title - 3 * MM)
            pen.text(x + self.number, baseline, line, fitted)
        left, height = x + self.number + self.title, 0.45 * self.row
        pen.rule(left, middle, left + self.bar, middle, 0.4, 0.4)
        length = max(0.0, min(1.0, row.difficulty)) * self.bar
        pen.box(Frame(left, middle - height / 2, max(length, 1.0), height), fill=0.0)
        for place, state in enumerate(row.skills):
            self._draw_state(pen, skills + (place + 0.5) * self.column, middle, state)

    def _draw_state(self, pen: Pen, x: float, y: float, state: int) -> None:
        """New skills are black discs, practised ones open circles."""
        radius = min(0.3 * self.column, 0.3 * self.row, 1.7 * MM)
        if state == 2:
            pen.disc(x, y, radius, 0.0)
        elif state == 1:
            pen.disc(x, y, 0.62 * radius, None, 0.6)

    def _draw_key(self, pen: Pen, x: float, baseline: float) -> None:
        style = self.desk.styles.small
        middle, right = baseline - CAPITALS / 2 * style.size, x + self.column * len(self.chart.skills)
        for state, key in ((1, "skill_practised"), (2, "skill_new")):
            line = self.desk.setter.line(self.desk.labels[key], style)
            pen.text(right, baseline, line, style, align="right")
            self._draw_state(pen, right - line.width - 2.5 * MM, middle, state)
            right -= line.width + 9 * MM
