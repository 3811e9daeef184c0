"""An exercise: number, title, level, instruction, tempo ladder, then its systems."""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from bookbuild.pages.desk import Desk, Draw, Strip
from bookbuild.pages.draw_ladder import SetLadder
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Block, System
from bookbuild.pages.paper import HEAD_RULE, MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.record import Node
from bookbuild.pages.typography import BASELINE, CAPITALS

SYSTEM_GAP, SYSTEM_STRETCH, SYSTEM_SHRINK = 4.5 * MM, 12.0 * MM, 2.0 * MM
"""White between the inks of two systems, how much it may grow, how much it may shrink."""

FIRST_GAP, FIRST_STRETCH, FIRST_SHRINK = 2.4 * MM, 1.2 * MM, 0.7 * MM
"""White between the heading and the first system's ink."""

BLOCK_GAP, BLOCK_STRETCH, BLOCK_SHRINK = 8.5 * MM, 14.0 * MM, 2.5 * MM
"""White above an exercise."""

NOTICE_INDENT = 4.0 * MM
"""How far a remark is set in from the bar at its left."""


def block_key(block: Block) -> str:
    """The link target of an exercise."""
    return f"exercise-{block.number}"


class SetHeading(Protocol):
    """A set heading of an exercise, `height` points high."""

    height: float

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""


def block_strips(desk: Desk, block: Block, heading: SetHeading | None = None) -> list[Strip]:
    """The heading and the systems of an exercise; the usual heading unless another is given."""
    # A sample, which has no level and no ladder, is looked at, not played: it may be turned anywhere.
    unit = unit_of(block.number) if block.level or block.ladder else -1
    figure = Node("Figure", block.alt or f"{desk.labels['music_of']} {block.number}")
    strips = [_heading_strip(desk, block, unit, heading or _Heading(desk, block))]
    for index, system in enumerate(block.systems):
        gap = (FIRST_GAP, FIRST_STRETCH, FIRST_SHRINK) if index == 0 else (SYSTEM_GAP, SYSTEM_STRETCH, SYSTEM_SHRINK)
        piece = _spaced(desk, system.height, gap, unit)
        piece = replace(piece, music=True, turn_ok=system.turn_ok_after, on_grid=False)
        strips.append(Strip(piece, _system_drawer(system, figure), (), "system", block.number))
    return strips


def _spaced(desk: Desk, height: float, gap: tuple[float, float, float], unit: int) -> Piece:
    """A piece of an exercise under a gap (white, stretch, shrink) of the usual page."""
    above, stretch, shrink = gap
    return Piece(height, above * desk.white, stretch * desk.white, shrink * desk.white, unit)


def unit_of(number: str) -> int:
    """A whole number of its own for each exercise number, the same in every run."""
    return int.from_bytes(number.encode(), "big")


def _system_drawer(system: System, figure: Node) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        with pen.within(figure), pen.tag("Figure", node=figure):
            pen.system(system, x, y)

    return draw


def _heading_strip(desk: Desk, block: Block, unit: int, heading: SetHeading) -> Strip:
    def draw(pen: Pen, x: float, y: float) -> None:
        pen.target(block_key(block), y)
        pen.bookmark(1, f"{block.number} {block.title}", block_key(block))
        heading.draw(pen, x, y)

    piece = _spaced(desk, heading.height, (BLOCK_GAP, BLOCK_STRETCH, BLOCK_SHRINK), unit)
    piece = replace(piece, keep_next=bool(block.systems))
    return Strip(piece, draw, (block_key(block),), "heading", block.number)


class _Heading:
    """Set heading of an exercise: a rule, number and title, level at the right; below, instruction and tempo ladder.

    Where two columns fit, the ladder stands in the side column that the week's lists use, so that all ladders align.
    """

    def __init__(self, desk: Desk, block: Block) -> None:
        self.desk, self.block = desk, block
        setter, styles = desk.setter, desk.styles
        self.number = setter.line(block.number, styles.number)
        self.left = self.number.width + 0.75 * styles.heading.size
        level = level_width(desk, block.level) + 4 * MM if block.level else 0.0
        self.title = setter.paragraph(block.title, styles.heading, desk.width - self.left - level, markup=False)
        ladder = block.ladder if block.ladder and block.ladder.steps else None
        self.beside = desk.wide and ladder is not None
        self.ladder = SetLadder(desk, ladder, desk.side if self.beside else desk.width) if ladder else None
        measure = desk.main if self.beside else desk.measure()
        self.instruction = setter.paragraph(block.instruction, styles.body, measure)
        self.notices = [setter.paragraph(text, styles.note, measure - NOTICE_INDENT) for text in block.notices]
        rungs = len(self.ladder.rows) if self.ladder else 0
        text = len(self.instruction) + sum(len(lines) for lines in self.notices)
        self.height = (len(self.title) + (max(text, rungs) if self.beside else text + rungs)) * desk.grid

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""
        desk, styles, right = self.desk, self.desk.styles, x + self.desk.width
        if self.block.level or self.ladder:
            # An exercise to work at; the samples of the front matter stand without a rule.
            with pen.artifact():
                pen.rule(x, y - HEAD_RULE * desk.grid, right, y - HEAD_RULE * desk.grid, 0.5)
        with pen.tag("H2"):
            pen.text(x, y + BASELINE * desk.grid, self.number, styles.number)
            below = desk.draw_lines(pen, x + self.left, y, self.title, styles.heading)
        if self.block.level:
            draw_level(desk, pen, right, y + BASELINE * desk.grid, self.block.level)
        lower = desk.tagged(pen, x, below, self.instruction, styles.body)
        if self.ladder:
            start, top = (right - desk.side, below) if self.beside else (x, lower)
            bottom = self.ladder.draw(pen, start, top)
            lower = lower if self.beside else bottom
        for lines in self.notices:
            with pen.artifact():
                pen.rule(x + 0.8, lower + 0.2 * desk.grid, x + 0.8, lower + (len(lines) - 0.05) * desk.grid, 1.6)
            lower = desk.tagged(pen, x + NOTICE_INDENT, lower, lines, styles.note)


def level_step(desk: Desk) -> float:
    """Distance of the bars of a level's scale."""
    return 0.4 * desk.sheet.text_size


def level_width(desk: Desk, level: int) -> float:
    """Width of a level's word, figure and scale."""
    return desk.setter.width(f"{desk.labels['level']} {level}", desk.styles.small) + (desk.levels + 1) * level_step(
        desk
    )


def draw_level(desk: Desk, pen: Pen, right: float, baseline: float, level: int) -> None:
    """The level's word and figure, then a scale of small bars, filled up to the level, ending at `right`."""
    style, step = desk.styles.small, level_step(desk)
    left = right - desk.levels * step
    with pen.tag("P"):
        line = desk.setter.line(f"{desk.labels['level']} {level}", style)
        pen.text(left - step, baseline, line, style, align="right")
    with pen.artifact():
        cap = CAPITALS * style.size
        for place in range(desk.levels):
            frame = Frame(left + place * step + 0.5, baseline - cap, step - 1.4, cap)
            if place < level:
                pen.box(frame, fill=0.0)
            else:
                pen.rule(frame.x, baseline - 0.25, frame.right, baseline - 0.25, 0.5)
