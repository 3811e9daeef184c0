"""A week's own parts: its header, caution, link and practice log, as strips."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.draw_block import block_strips
from bookbuild.pages.draw_header import header_strips
from bookbuild.pages.draw_items import item_strips
from bookbuild.pages.draw_log import log_strips
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import WeekPage
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.qr import draw_qr
from bookbuild.pages.typography import Style

LOG_SECOND, LOG_LAST, LOG_BEFORE_LAST = 25.0, 1000.0, 2500.0
"""The practice log stands at best before the first exercise. What it costs behind each system of the first, at the
week's end, and before the last exercise, which is better than a page too empty (`rules` says what other things cost).
"""


def week_layouts(desk: Desk, week: WeekPage, name_line: bool = False) -> list[tuple[float, list[Strip]]]:
    """Ways to lay out a week in reading order, each with what it costs; they differ in where the practice log stands.

    `name_line` puts a line for the student's name on top (a single sheet).
    """
    head = header_strips(desk, week, name_line)
    if week.caution:
        head.append(caution_strip(desk, week.caution))
    head += item_strips(desk, week.charts)
    blocks = [block_strips(desk, block) for block in week.blocks]
    link = [_link(desk, week.link)] if week.link else []
    if week.plan is None:
        return [(0.0, [*head, *chain(*blocks), *link])]
    log = log_strips(desk, week.plan, at_foot=False)
    layouts = [
        (0.0, [*head, *log, *chain(*blocks), *link]),
        (LOG_LAST, [*head, *chain(*blocks), *link, *log_strips(desk, week.plan)]),
    ]
    if len(blocks) > 1:
        # Between exercises the log begins a page.
        between = [replace(strip, piece=replace(strip.piece, leads=True)) for strip in log]
        layouts += [
            (LOG_SECOND * len(week.blocks[0].systems), [*head, *blocks[0], *between, *chain(*blocks[1:]), *link]),
            (LOG_BEFORE_LAST, [*head, *chain(*blocks[:-1]), *between, *blocks[-1], *link]),
        ]
    return layouts


def caution_strip(desk: Desk, text: str) -> Strip:
    """A ruled box with the caution's sign, so that it is found at a glance; its word runs in."""
    style: Style = desk.styles.small
    inset, bar = 3 * MM, 7 * MM
    word = desk.labels["caution"].replace("*", "\\*")
    lines = desk.setter.paragraph(f"**{word}**  {text}", style, desk.width - bar - 2 * inset)
    height = (len(lines) + 0.7) * desk.grid

    def draw(pen: Pen, x: float, y: float) -> None:
        with pen.artifact():
            pen.box(Frame(x, y, desk.width, height), weight=0.8, radius=2.0)
            pen.box(Frame(x, y, bar, height), fill=0.0, radius=2.0)
            mark, baseline = desk.styles.heading, y + height / 2 + 0.33 * desk.styles.heading.size
            pen.text(x + bar / 2, baseline, desk.setter.line("!", mark), mark, gray=1.0, align="centre")
        desk.tagged(pen, x + bar + inset, y + 0.35 * desk.grid, lines, style)

    piece = Piece(desk.on_grid(height), above=desk.grid, stretch=desk.grid, shrink=0.3 * desk.grid)
    return Strip(piece, draw, (), "caution")


class SetLink:
    """An address with its QR code at the left, set into `width` points."""

    SIDE, GAP = 22 * MM, 5 * MM

    def __init__(self, desk: Desk, address: str, width: float) -> None:
        self.desk, self.address, self.width = desk, address, width
        self.lines = desk.setter.paragraph(address, desk.styles.small, width - self.SIDE - self.GAP, markup=False)
        self.height = desk.on_grid(max(self.SIDE, (1 + len(self.lines)) * desk.grid))

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""
        desk, left = self.desk, x + self.SIDE + self.GAP
        draw_qr(pen, self.address, Frame(x, y, self.SIDE, self.SIDE), f"QR code: {self.address}")
        label = desk.setter.line(desk.labels["more"], desk.styles.label)
        below = desk.tagged(pen, left, y, [label], desk.styles.label)
        with pen.tag("Link") as node:
            bottom = desk.draw_lines(pen, left, below, self.lines, desk.styles.small)
        pen.link(Frame(x, y, self.width, max(self.SIDE, bottom - y)), self.address, self.address, node)


def _link(desk: Desk, address: str) -> Strip:
    """The week's address at the foot of its page."""
    link = SetLink(desk, address, desk.width)
    piece = Piece(link.height, above=desk.grid, stretch=desk.grid, at_foot=True)
    return Strip(piece, link.draw, (), "link")
