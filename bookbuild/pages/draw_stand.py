"""The parts of a week's leaf for the music stand: a short head, and exercises with their ladder beside the title."""

from __future__ import annotations

from dataclasses import replace

from bookbuild.pages.desk import COLUMN_GAP, Desk, Strip
from bookbuild.pages.draw_block import NOTICE_INDENT
from bookbuild.pages.draw_header import Banner, Columns, week_key
from bookbuild.pages.draw_ladder import SetLadder
from bookbuild.pages.draw_week import SetLink
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Block, WeekPage
from bookbuild.pages.paper import HEAD_RULE, MM
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE

LADDER_GAP = 6 * MM
"""Least white between an exercise's title and the ladder beside it."""


def stand_head(desk: Desk, week: WeekPage) -> Strip:
    """Name, title, aim and what to listen for.

    Where two columns fit, the second holds the week's address or, without one, what is new; a narrow page has the
    address below and leaves out what is new.
    """
    beside = desk.wide and bool(week.link)
    banner = Banner(desk, week, name_line=True)
    lists = Columns(desk, replace(week, text="", new=() if beside or not desk.wide else week.new))
    link = SetLink(desk, week.link, (desk.width - COLUMN_GAP) / 2 if beside else desk.width) if week.link else None
    below = 0.0 if link is None or beside else link.height + 0.5 * desk.grid
    body = max(lists.height, link.height if link and beside else 0.0)

    def draw(pen: Pen, x: float, y: float) -> None:
        banner.draw(pen, x, y)
        y += banner.height
        lists.draw(pen, x, y)
        if link and beside:
            link.draw(pen, x + desk.width - link.width, y)
        elif link:
            link.draw(pen, x, y + body + 0.5 * desk.grid)

    height = desk.on_grid(banner.height + body + below)
    return Strip(Piece(height, fresh=True, keep_next=True), draw, (week_key(week),), "header", week_key(week))


class StandHeading:
    """Set heading of an exercise on the stand: number and title, the tempo ladder on the same line where it has room.

    Its instruction is printed where `instructed`; a level is not.
    """

    def __init__(self, desk: Desk, block: Block, *, instructed: bool = False) -> None:
        self.desk = desk
        setter, styles = desk.setter, desk.styles
        self.number = setter.line(block.number, styles.number)
        self.left = self.number.width + 0.75 * styles.heading.size
        self.title = setter.paragraph(block.title, styles.heading, desk.width - self.left, markup=False)
        self.ladder = SetLadder(desk, block.ladder, desk.width) if block.ladder and block.ladder.steps else None
        self.beside = self.ladder is not None and self._fits_beside(self.ladder)
        self.instruction = setter.paragraph(block.instruction if instructed else "", styles.body, desk.width)
        self.notices = [setter.paragraph(text, styles.note, desk.width - NOTICE_INDENT) for text in block.notices]
        rungs = len(self.ladder.rows) if self.ladder and not self.beside else 0
        text = len(self.instruction) + sum(len(lines) for lines in self.notices)
        self.height = (len(self.title) + rungs + text) * desk.grid

    def _fits_beside(self, ladder: SetLadder) -> bool:
        title = max(line.width for line in self.title) if self.title else 0.0
        return len(ladder.rows) == 1 and self.left + title + LADDER_GAP + ladder.width <= self.desk.width

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""
        desk, styles = self.desk, self.desk.styles
        with pen.artifact():
            pen.rule(x, y - HEAD_RULE * desk.grid, x + desk.width, y - HEAD_RULE * desk.grid, 0.5)
        with pen.tag("H2"):
            pen.text(x, y + BASELINE * desk.grid, self.number, styles.number)
            lower = desk.draw_lines(pen, x + self.left, y, self.title, styles.heading)
        if self.ladder and self.beside:
            self.ladder.draw(pen, x + desk.width - self.ladder.width, y)
        elif self.ladder:
            lower = self.ladder.draw(pen, x, lower)
        lower = desk.tagged(pen, x, lower, self.instruction, styles.body)
        for lines in self.notices:
            with pen.artifact():
                pen.rule(x + 0.8, lower + 0.2 * desk.grid, x + 0.8, lower + (len(lines) - 0.05) * desk.grid, 1.6)
            lower = desk.tagged(pen, x + NOTICE_INDENT, lower, lines, styles.note)
