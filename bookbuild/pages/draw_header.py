"""The head of a week: number, title, aim, level; its text beside what is new and what to listen for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.pages.desk import COLUMN_GAP, Desk, Draw, Strip
from bookbuild.pages.draw_block import draw_level, level_width
from bookbuild.pages.draw_items import prose_strips
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import WeekPage
from bookbuild.pages.paper import MM
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, CAPITALS, Line

HEADER_ALONE = 0.5
"""A week's header higher than this share of the page may stand there alone."""

TITLE_DROP = 0.75
"""Grid steps from a week's label to its title: a little less than a line, so that the aim below has air."""

NAME_LINES = 2
"""Grid steps kept for the student's name over a single sheet."""


def week_key(week: WeekPage) -> str:
    """The link target of a week."""
    return f"week-{week.number}"


def week_name(desk: Desk, week: WeekPage) -> str:
    """A week in the outline and the running head: `Week 3 · Over the Fence`; a sheet without number by its title."""
    return f"{desk.labels['week']} {week.number} · {week.title}" if week.number else week.title


def header_strips(desk: Desk, week: WeekPage, name_line: bool) -> list[Strip]:
    """The head as one strip; its lists as strips of their own where they stand below the text, all of it in several
    strips where it is higher than a page.
    """
    banner, columns = Banner(desk, week, name_line), Columns(desk, week)
    lists = []
    if not columns.level:
        columns, lists = Columns(desk, replace(week, new=(), listen=())), _list_strips(desk, week)
    height = banner.height + columns.height

    def draw(pen: Pen, x: float, y: float) -> None:
        banner.draw(pen, x, y)
        columns.draw(pen, x, y + banner.height)

    whole = height <= desk.sheet.text_height
    keep = not whole or height < HEADER_ALONE * desk.sheet.text_height
    piece = Piece(height if whole else banner.height, fresh=True, keep_next=keep)
    head = Strip(piece, draw if whole else banner.draw, (week_key(week),), "header", week_key(week))
    return [head, *lists] if whole else [head, *prose_strips(desk, week.text), *_list_strips(desk, week)]


def _list_strips(desk: Desk, week: WeekPage) -> list[Strip]:
    """The week's lists, point by point; no page ends inside one."""
    strips = []
    for key, items in (("new", week.new), ("listen", week.listen)):
        label = [desk.setter.line(desk.labels[key], desk.styles.label)]
        points = desk.bullets(items, desk.styles.small, desk.width)
        for place, lines in enumerate(points):
            head = label if place == 0 else []
            above = 0.5 * desk.grid if head else 0.0
            kept = place < len(points) - 1
            piece = Piece((len(head) + len(lines)) * desk.grid, above, above, keep_next=kept)
            strips.append(Strip(piece, _point_drawer(desk, head, lines)))
    return strips


def _point_drawer(desk: Desk, head: Sequence[Line], lines: Sequence[Line]) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        y = desk.tagged(pen, x, y, head, desk.styles.label, "H2")
        desk.draw_bullets(pen, x, y, [lines], desk.styles.small)

    return draw


class Banner:
    """The week's number, large, with its title and aim beside it over a rule; a sheet without number (0) has none."""

    def __init__(self, desk: Desk, week: WeekPage, name_line: bool) -> None:
        self.desk, self.week, self.name_line = desk, week, name_line
        styles = desk.styles
        # The numeral reaches from the top of the label's capitals down to the title's first baseline.
        self.cap_top = BASELINE * desk.grid - CAPITALS * styles.label.size
        tall = (TITLE_DROP + styles.title.lines - 1 + BASELINE) * desk.grid - self.cap_top
        self.numeral_style = replace(styles.numeral, size=tall / CAPITALS)
        self.numeral = desk.setter.line(str(week.number), self.numeral_style)
        self.left = max(self.numeral.width, self.numeral_style.size * 0.56) + 5 * MM if week.number else 0.0
        self.drop = TITLE_DROP if week.number else 0.0
        room = desk.width - self.left - (0.0 if week.number else level_width(desk, week.level) + 4 * MM)
        self.title = desk.setter.paragraph(week.title, styles.title, room, markup=False)
        self.aim = desk.setter.paragraph(week.aim, styles.aim, room)
        self.lines = (1 if week.number else 0) + len(self.title) * styles.title.lines + len(self.aim) * styles.aim.lines
        self.height = (self.lines + 1 + (NAME_LINES if name_line else 0)) * desk.grid

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw it from the upper left corner (x, y)."""
        desk, styles, week = self.desk, self.desk.styles, self.week
        pen.target(week_key(week), y)
        pen.bookmark(0, week_name(desk, week), week_key(week))
        if self.name_line:
            _draw_name(desk, pen, x, y)
            y += NAME_LINES * desk.grid
        with pen.artifact():
            pen.rule(x, y + (self.lines + 0.4) * desk.grid, x + desk.width, y + (self.lines + 0.4) * desk.grid, 1.2)
        if week.number:
            self._draw_number(pen, x, y)
        if week.level:
            draw_level(desk, pen, x + desk.width, y + BASELINE * desk.grid, week.level)
        desk.tagged(pen, x + self.left, y + self.drop * desk.grid, self.title, styles.title, "H1")
        below = y + (self.lines - len(self.aim) * styles.aim.lines) * desk.grid
        desk.tagged(pen, x + self.left, below, self.aim, styles.aim)

    def _draw_number(self, pen: Pen, x: float, y: float) -> None:
        """The numeral, and the word with the number for those who listen."""
        desk, styles = self.desk, self.desk.styles
        with pen.artifact():
            baseline = y + (TITLE_DROP + styles.title.lines - 1 + BASELINE) * desk.grid
            pen.text(x - self.numeral_style.size * 0.04, baseline, self.numeral, self.numeral_style)
        label = desk.setter.line(f"{desk.labels['week']} {self.week.number}", styles.label)
        desk.tagged(pen, x + self.left, y, [label], styles.label)


class Columns:
    """The week's text, beside or above its lists."""

    def __init__(self, desk: Desk, week: WeekPage) -> None:
        self.desk = desk
        self.lists = [(desk.labels[key], items) for key, items in (("new", week.new), ("listen", week.listen)) if items]
        self.side_by_side = desk.wide and bool(self.lists) and bool(week.text)
        self.side = desk.side if self.side_by_side else desk.width
        self.main = desk.main if self.side_by_side else desk.measure()
        self.text = [
            lines
            for part in week.text.split("\n\n")
            if (lines := desk.setter.paragraph(part, desk.styles.body, self.main))
        ]
        two = desk.wide and not self.side_by_side
        self.list_width = (desk.width - COLUMN_GAP) / 2 if two else self.side
        self.set_lists = [
            (desk.setter.line(title, desk.styles.label), desk.bullets(items, desk.styles.small, self.list_width))
            for title, items in self.lists
        ]
        self.across = two
        self.level = two or self.side_by_side
        """Whether anything stands beside anything else."""
        self.height = self._height()

    def _height(self) -> float:
        grid = self.desk.grid
        text = sum(len(lines) for lines in self.text) + max(0, len(self.text) - 1) * 0.5
        heights = [1 + sum(len(lines) for lines in items) for _, items in self.set_lists]
        stacked = sum(heights) + max(0, len(heights) - 1) * 0.5 if not self.across else max(heights, default=0)
        lines = max(text, stacked) if self.side_by_side else text + stacked + (0.5 if text and stacked else 0)
        return float(-(-lines // 1)) * grid

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw both columns from the upper left corner (x, y)."""
        desk, start = self.desk, y
        for index, lines in enumerate(self.text):
            y = desk.tagged(pen, x, y + (0.5 * desk.grid if index else 0.0), lines, desk.styles.body)
        left, top = (
            (x + desk.width - self.side, start)
            if self.side_by_side
            else (x, y + (0.5 * desk.grid if self.text else 0.0))
        )
        if self.side_by_side:
            with pen.artifact():
                pen.rule(
                    left - COLUMN_GAP / 2,
                    start + 0.1 * desk.grid,
                    left - COLUMN_GAP / 2,
                    start + self.height - 0.2 * desk.grid,
                    0.5,
                    0.45,
                )
        for title, items in self.set_lists:
            bottom = self._draw_list(pen, left, top, title, items)
            if self.across:
                left += self.list_width + COLUMN_GAP
            else:
                top = bottom + 0.5 * desk.grid

    def _draw_list(self, pen: Pen, x: float, y: float, title: Line, items: Sequence[Sequence[Line]]) -> float:
        y = self.desk.tagged(pen, x, y, [title], self.desk.styles.label, "H2")
        return self.desk.draw_bullets(pen, x, y, items, self.desk.styles.small)


def _draw_name(desk: Desk, pen: Pen, x: float, y: float) -> None:
    """Lines to write the student's name and the date on."""
    baseline, style = y + BASELINE * desk.grid, desk.styles.label
    start = x
    for key, share in (("name", 0.66), ("date", 0.34)):
        label = desk.setter.line(desk.labels[key], style)
        end = start + desk.width * share - (6 * MM if key == "name" else 0)
        with pen.tag("P"):
            pen.text(start, baseline, label, style)
        with pen.artifact():
            pen.rule(start + label.width + 2 * MM, baseline + 1.5, end, baseline + 1.5, 0.5)
        start = end + 6 * MM
