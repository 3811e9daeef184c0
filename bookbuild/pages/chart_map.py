"""The course on one page: skills down, weeks across, the difficulty of each week as a bar over its number."""

from __future__ import annotations

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import CourseMap, MapRow
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import CAPITALS, Style

COLUMN = 9.5 * MM
"""Widest column of a week."""

NAMES = 0.42
"""Share of the width that the names of the skills may take."""

BAR = 13.0 * MM
"""Height of the bar of the hardest week there could be."""

LEAST_ROW, MOST_ROW = 0.8, 1.0
"""Height of a skill's row in grid steps."""

COMPANY = 17
"""Grid steps left for a title and for what may stand on the same page."""


def map_strip(desk: Desk, chart: CourseMap) -> Strip:
    """The map as one strip, no higher than a page."""
    layout = _Layout(desk, chart)
    return Strip(Piece(layout.height, above=desk.grid), layout.draw, kind="chart", name="course-map")


class _Layout:
    """From the top: the weeks' titles, upwards, where there is room; their bars and numbers; the skills."""

    def __init__(self, desk: Desk, chart: CourseMap) -> None:
        self.desk, self.chart = desk, chart
        style, weeks = desk.styles.small, len(chart.rows)
        longest = max((desk.setter.width(skill, style) for skill in chart.skills), default=0.0)
        self.names = min(longest + 4 * MM, NAMES * desk.width)
        self.column = min(COLUMN, (desk.width - self.names) / weeks)
        title = max(desk.setter.width(row.title, style) for row in chart.rows) + 3 * MM
        fixed, room = BAR + 2 * desk.grid, desk.sheet.text_height - COMPANY * desk.grid
        shortest = LEAST_ROW * desk.grid * len(chart.skills)
        fits = self.column >= 1.15 * style.size and room - fixed - shortest >= title
        self.title = title if fits else 0.0
        row = (room - fixed - self.title) / len(chart.skills)
        self.row = max(LEAST_ROW * desk.grid, min(MOST_ROW * desk.grid, row))
        self.head = self.title + fixed
        self.height = desk.on_grid(self.head + self.row * len(chart.skills) + 2 * desk.grid)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner."""
        desk, top = self.desk, y + self.head
        bottom = top + len(self.chart.skills) * self.row
        with pen.tag("Figure", alt=self.chart.alt or desk.labels["difficulty"]):
            label, fitted = desk.setter.fit(desk.labels["difficulty"], desk.styles.small, self.names - 4 * MM)
            pen.text(x, y + self.title + BAR, label, fitted)
            for place, week in enumerate(self.chart.rows):
                self._draw_week(pen, x + self.names + (place + 0.5) * self.column, y, week)
            for place, skill in enumerate(self.chart.skills):
                self._draw_skill(pen, x, top + place * self.row, place, skill)
            pen.rule(x, bottom, x + self._width, bottom, 0.8)
            self._draw_key(pen, x + self._width, bottom + 1.2 * desk.grid)
        for place, week in enumerate(self.chart.rows):
            left, name = x + self.names + place * self.column, f"{desk.labels['week']} {week.number}"
            pen.link(Frame(left, y, self.column, bottom - y), f"week-{week.number}", name)

    @property
    def _width(self) -> float:
        return self.names + self.column * len(self.chart.rows)

    def _draw_week(self, pen: Pen, middle: float, y: float, week: MapRow) -> None:
        """Title, bar and number over the column round `middle`."""
        desk, style = self.desk, self.desk.styles.small
        if self.title:
            title = desk.setter.line(week.title, style)
            pen.turned(middle + CAPITALS / 2 * style.size, y + self.title - 2 * MM, title, style)
        foot, width = y + self.title + BAR, min(0.5 * self.column, 4 * MM)
        high = max(1.0, max(0.0, min(1.0, week.difficulty)) * BAR)
        pen.rule(middle - self.column / 2, foot, middle + self.column / 2, foot, 0.4)
        pen.box(Frame(middle - width / 2, foot - high, width, high), fill=0.0)
        strong = Style("sans-bold", style.size)
        number, fitted = desk.setter.fit(str(week.number), strong, self.column - 1, 0.5)
        pen.text(middle, foot + 1.1 * desk.grid, number, fitted, align="centre")

    def _draw_skill(self, pen: Pen, x: float, y: float, place: int, skill: str) -> None:
        """A skill's name and its state in every week."""
        desk = self.desk
        pen.rule(x, y, x + self._width, y, 0.4, 0.3)
        line, fitted = desk.setter.fit(skill, desk.styles.small, self.names - 2 * MM, 0.6)
        pen.text(x, y + self.row / 2 + CAPITALS / 2 * fitted.size, line, fitted)
        for week, row in enumerate(self.chart.rows):
            self._draw_state(pen, x + self.names + (week + 0.5) * self.column, y + self.row / 2, row.skills[place])

    def _draw_state(self, pen: Pen, x: float, y: float, state: int) -> None:
        """New skills are black discs, practised ones open circles."""
        radius = min(0.3 * self.column, 0.3 * self.row, 1.7 * MM)
        if state == 2:
            pen.disc(x, y, radius, 0.0)
        elif state == 1:
            pen.disc(x, y, 0.62 * radius, None, 0.6)

    def _draw_key(self, pen: Pen, right: float, baseline: float) -> None:
        style = self.desk.styles.small
        middle = baseline - CAPITALS / 2 * style.size
        for state, key in ((1, "skill_practised"), (2, "skill_new")):
            line = self.desk.setter.line(self.desk.labels[key], style)
            pen.text(right, baseline, line, style, align="right")
            self._draw_state(pen, right - line.width - 2.5 * MM, middle, state)
            right -= line.width + 9 * MM
