"""The practice log: a row for each thing to practise, a column for each day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Plan, PlanRow
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, Line

ROW = 1.1
"""Least height of a row of one line, in grid steps."""


def log_strips(desk: Desk, plan: Plan, *, at_foot: bool = True) -> list[Strip]:
    """The log, at the foot of its page if `at_foot`; one higher than a page is parted between its rows."""
    table = SetLog(desk, plan)
    if table.height > desk.sheet.text_height and len(plan.rows) > 1:
        half = len(plan.rows) // 2
        first, second = replace(plan, rows=plan.rows[:half], note=""), replace(plan, rows=plan.rows[half:])
        return [*log_strips(desk, first, at_foot=at_foot), *log_strips(desk, second, at_foot=at_foot)]
    return [log_strip(desk, table, at_foot=at_foot)]


def log_strip(desk: Desk, table: SetLog, *, at_foot: bool = True) -> Strip:
    """A set log as one strip."""
    piece = Piece(table.height, above=1.5 * desk.grid, stretch=2 * desk.grid, shrink=0.75 * desk.grid, at_foot=at_foot)
    return Strip(piece, table.draw, (), "log")


class SetLog:
    """A set practice log; its rows are `row` grid steps high, more where their text takes several lines."""

    def __init__(self, desk: Desk, plan: Plan, row: float = ROW) -> None:
        self.desk, self.plan = desk, plan
        self.day = min(15 * MM, desk.width * 0.5 / max(1, plan.days))
        self.label = desk.width - plan.days * self.day
        style = desk.styles.small
        self.head = desk.setter.line(plan.where, style)
        # A log that tells where music is keeps room for `here` in every row, so that its height never depends on it.
        here = desk.setter.width(desk.labels["here"], style, "strong") if plan.where else 0.0
        aside = max((self._aside(row).width for row in plan.rows), default=0.0)
        room = self.label - max(aside, here) - 4 * MM
        self.rows = [
            (
                self._text(row, room),
                self._aside(row),
                [desk.setter.line(str(each) if each else "–", style) for each in row.each_day],
            )
            for row in plan.rows
        ]
        self.note = desk.setter.paragraph(plan.note, style, desk.width)
        self.pitch = row * desk.grid
        body = sum(self._row_height(lines) for lines, _, _ in self.rows)
        self.height = desk.on_grid((2 + len(self.note)) * desk.grid + body)

    def _text(self, row: PlanRow, room: float) -> tuple[Line, ...]:
        """The row's text, its short one where the long one would be broken."""
        setter, style = self.desk.setter, self.desk.styles.small
        lines = setter.paragraph(row.text, style, room)
        return setter.paragraph(row.short, style, room) if len(lines) > 1 and row.short else lines

    def _aside(self, row: PlanRow) -> Line:
        """What stands before the boxes: where the music is, or the minutes."""
        minutes = f"{row.minutes} {self.desk.labels['minutes']}" if row.minutes else ""
        text = (row.where or minutes).replace(" ", "\N{NO-BREAK SPACE}")
        lines = self.desk.setter.paragraph(text, self.desk.styles.small, self.label)
        return lines[0] if lines else self.desk.setter.line("", self.desk.styles.small)

    def _row_height(self, lines: Sequence[Line]) -> float:
        return max(self.pitch, (len(lines) + ROW - 1) * self.desk.grid)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw the table with its upper left corner at (x, y)."""
        desk, styles = self.desk, self.desk.styles
        with pen.group("Table"):
            with pen.group("TR"):
                self._draw_head(pen, x, y)
            y += 1.15 * desk.grid
            with pen.artifact():
                pen.rule(x, y, x + desk.width, y, 0.8)
            for lines, aside, each_day in self.rows:
                with pen.group("TR"):
                    y = self._draw_row(pen, x, y, lines, aside, each_day)
        desk.tagged(pen, x, y + 0.35 * desk.grid, self.note, styles.small)

    def _draw_head(self, pen: Pen, x: float, y: float) -> None:
        desk, styles = self.desk, self.desk.styles
        with pen.tag("TH", scope="Column"):
            pen.text(x, y + BASELINE * desk.grid, desk.setter.line(desk.labels["plan"], styles.label), styles.label)
        word, style, baseline = desk.labels["day"], styles.small, y + BASELINE * desk.grid
        in_boxes = desk.setter.width(f"{word} {self.plan.days}", style) <= self.day - 2 * MM
        aside = self.head if in_boxes else desk.setter.line(word, style)
        if aside.chunks and self.plan.days:
            with pen.tag("TH", scope="Column"):
                pen.text(x + self.label - (3 if in_boxes else 2) * MM, baseline, aside, style, align="right")
        for day in range(self.plan.days):
            with pen.tag("TH", scope="Column"):
                line = desk.setter.line(f"{word} {day + 1}" if in_boxes else str(day + 1), style)
                pen.text(x + self.label + (day + 0.5) * self.day, baseline, line, style, align="centre")

    def _draw_row(
        self, pen: Pen, x: float, y: float, lines: Sequence[Line], aside: Line, each_day: Sequence[Line]
    ) -> float:
        desk, style = self.desk, self.desk.styles.small
        height = self._row_height(lines)
        start = y + (height - len(lines) * desk.grid) / 2
        with pen.tag("TH", scope="Row"):
            desk.draw_lines(pen, x, start, lines, style)
            pen.text(x + self.label - 3 * MM, start + BASELINE * desk.grid, aside, style, align="right")
        with pen.artifact():
            pen.rule(x, y + height, x + desk.width, y + height, 0.4, 0.3)
            for day in range(self.plan.days):
                left = x + self.label + day * self.day
                pen.rule(left, y, left, y + height, 0.4, 0.3)
        for day in range(self.plan.days):
            with pen.tag("TD") if day < len(each_day) else pen.group("TD"):
                if day < len(each_day):
                    # The figure stands at the left of its box and leaves the rest for the student's tick.
                    left = x + self.label + day * self.day + 1.5 * MM
                    pen.text(left, start + BASELINE * desk.grid, each_day[day], style)
        pen.note_placed("row", "log", Frame(x, y, desk.width, height))
        return y + height
