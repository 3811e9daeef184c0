"""A week's own parts: its header, caution, link and practice log, as strips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.pages.desk import COLUMN_GAP, Desk, Strip
from bookbuild.pages.draw_block import block_strips, draw_level
from bookbuild.pages.draw_items import item_strips
from bookbuild.pages.draw_log import log_strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import WeekPage
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.qr import draw_qr
from bookbuild.pages.typography import BASELINE, CAPITALS, Line, Style

HEADER_ALONE = 0.5
"""A week's header higher than this share of the page may stand there alone."""

TITLE_DROP = 0.75
"""Grid steps from a week's label to its title: a little less than a line, so that the aim below has air."""


def week_key(week: WeekPage) -> str:
    """The link target of a week."""
    return f"week-{week.number}"


def week_strips(desk: Desk, week: WeekPage, name_line: bool = False) -> list[Strip]:
    """All strips of a week in reading order; `name_line` puts a line for the student's name on top (a single sheet)."""
    strips = [_header(desk, week, name_line)]
    if week.caution:
        strips.append(_caution(desk, week.caution))
    strips += item_strips(desk, week.charts)
    for block in week.blocks:
        strips += block_strips(desk, block)
    if week.link:
        strips.append(_link(desk, week.link))
    if week.plan is not None:
        strips.append(log_strip(desk, week.plan))
    return strips


def _header(desk: Desk, week: WeekPage, name_line: bool) -> Strip:
    """Number, title, aim, level; then the text beside what is new and what to listen for."""
    top = _name_height(desk) if name_line else 0.0
    banner = _Banner(desk, week)
    columns = _Columns(desk, week)

    def draw(pen: Pen, x: float, y: float) -> None:
        pen.target(week_key(week), y)
        pen.bookmark(0, f"{desk.labels['week']} {week.number} · {week.title}", week_key(week))
        if name_line:
            _draw_name(desk, pen, x, y)
        banner.draw(pen, x, y + top)
        columns.draw(pen, x, y + top + banner.height)

    height = top + banner.height + columns.height
    return Strip(
        Piece(height, fresh=True, keep_next=height < HEADER_ALONE * desk.sheet.text_height),
        draw,
        (week_key(week),),
        "header",
        week_key(week),
    )


class _Banner:
    """The week's number, large, with its title and aim beside it over a rule."""

    def __init__(self, desk: Desk, week: WeekPage) -> None:
        self.desk, self.week = desk, week
        styles = desk.styles
        # The numeral reaches from the top of the label's capitals down to the title's first baseline.
        self.cap_top = BASELINE * desk.grid - CAPITALS * styles.label.size
        tall = (TITLE_DROP + styles.title.lines - 1 + BASELINE) * desk.grid - self.cap_top
        self.numeral_style = replace(styles.numeral, size=tall / CAPITALS)
        self.numeral = desk.setter.line(str(week.number), self.numeral_style)
        self.left = max(self.numeral.width, self.numeral_style.size * 0.56) + 5 * MM
        room = desk.width - self.left
        self.title = desk.setter.paragraph(week.title, styles.title, room, markup=False)
        self.aim = desk.setter.paragraph(week.aim, styles.aim, room)
        self.lines = 1 + len(self.title) * styles.title.lines + len(self.aim) * styles.aim.lines
        self.height = (self.lines + 1) * desk.grid

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw it from the upper left corner (x, y)."""
        desk, styles, week = self.desk, self.desk.styles, self.week
        with pen.artifact():
            baseline = y + (TITLE_DROP + styles.title.lines - 1 + BASELINE) * desk.grid
            pen.text(x - self.numeral_style.size * 0.04, baseline, self.numeral, self.numeral_style)
            pen.rule(x, y + (self.lines + 0.4) * desk.grid, x + desk.width, y + (self.lines + 0.4) * desk.grid, 1.2)
        label = f"{desk.labels['week']} {week.number}"
        with pen.tag("P"):
            desk.draw_lines(pen, x + self.left, y, [desk.setter.line(label, styles.label)], styles.label)
        if week.level:
            draw_level(desk, pen, x + desk.width, y + BASELINE * desk.grid, week.level)
        desk.tagged(pen, x + self.left, y + TITLE_DROP * desk.grid, self.title, styles.title, "H1")
        below = y + (1 + len(self.title) * styles.title.lines) * desk.grid
        desk.tagged(pen, x + self.left, below, self.aim, styles.aim)


class _Columns:
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
        self.height = self._height()

    def _height(self) -> float:
        grid = self.desk.grid
        text = sum(len(lines) for lines in self.text) + max(0, len(self.text) - 1) * 0.5
        heights = [1 + sum(len(lines) for lines in items) for _, items in self.set_lists]
        stacked = sum(heights) + max(0, len(heights) - 1) * 0.5 if not self.across else max(heights, default=0)
        lines = max(text, stacked) if self.side_by_side else text + stacked + (0.5 if text and stacked else 0)
        return float(-(-lines // 1)) * grid

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw both columns from the upper left corner."""
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


def _name_height(desk: Desk) -> float:
    return 2 * desk.grid


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


def _caution(desk: Desk, text: str) -> Strip:
    """A ruled box with the caution's sign, so that it is found at a glance."""
    style: Style = desk.styles.small
    inset, bar = 3 * MM, 7 * MM
    label = desk.setter.line(desk.labels["caution"], desk.styles.label)
    room = min(desk.width - bar - 2 * inset, 46 * style.size)
    lines = desk.setter.paragraph(text, style, room)
    height = (1 + len(lines) + 0.7) * desk.grid

    def draw(pen: Pen, x: float, y: float) -> None:
        with pen.artifact():
            pen.box(Frame(x, y, desk.width, height), weight=0.8, radius=2.0)
            pen.box(Frame(x, y, bar, height), fill=0.0, radius=2.0)
            mark = desk.styles.heading
            pen.text(
                x + bar / 2,
                y + height / 2 + 0.33 * mark.size,
                desk.setter.line("!", mark),
                mark,
                gray=1.0,
                align="centre",
            )
        below = desk.tagged(pen, x + bar + inset, y + 0.35 * desk.grid, [label], desk.styles.label)
        desk.tagged(pen, x + bar + inset, below, lines, style)

    return Strip(
        Piece(-(-height // desk.grid) * desk.grid, above=desk.grid, stretch=desk.grid, shrink=0.3 * desk.grid),
        draw,
        (),
        "caution",
    )


def _link(desk: Desk, address: str) -> Strip:
    """The week's address with its QR code."""
    side = 22 * MM
    label = desk.setter.line(desk.labels["more"], desk.styles.label)
    lines = desk.setter.paragraph(address, desk.styles.small, desk.width - side - 5 * MM, markup=False)
    height = max(side, (1 + len(lines)) * desk.grid)

    def draw(pen: Pen, x: float, y: float) -> None:
        draw_qr(pen, address, Frame(x, y, side, side), f"QR code: {address}")
        below = desk.tagged(pen, x + side + 5 * MM, y, [label], desk.styles.label)
        with pen.tag("Link") as node:
            bottom = desk.draw_lines(pen, x + side + 5 * MM, below, lines, desk.styles.small)
        pen.link(Frame(x, y, desk.width, max(side, bottom - y)), address, address, node)

    return Strip(
        Piece(-(-height // desk.grid) * desk.grid, above=desk.grid, stretch=desk.grid, at_foot=True), draw, (), "link"
    )
