"""An exercise: number, title, level, instruction, tempo ladder, then its systems."""

from __future__ import annotations

from fractions import Fraction

from bookbuild.pages.compose import Piece
from bookbuild.pages.desk import Desk, Draw, Strip
from bookbuild.pages.glyphs import note_outline
from bookbuild.pages.ink import Node, Pen
from bookbuild.pages.model import Block, Ladder, System
from bookbuild.pages.paper import HEAD_RULE, MM, Frame
from bookbuild.pages.typography import BASELINE

SYSTEM_GAP, SYSTEM_STRETCH, SYSTEM_SHRINK = 4.5 * MM, 5.0 * MM, 1.5 * MM
"""White between the inks of two systems, how much it may grow, how much it may shrink."""

FIRST_GAP = 2.2 * MM
"""White between the heading and the first system's ink."""

BLOCK_GAP, BLOCK_STRETCH, BLOCK_SHRINK = 8.0 * MM, 9.0 * MM, 2.0 * MM
"""White above an exercise."""


def block_key(block: Block) -> str:
    """The link target of an exercise."""
    return f"exercise-{block.number}"


def block_strips(desk: Desk, block: Block) -> list[Strip]:
    """The heading and the systems of an exercise."""
    unit = unit_of(block.number)
    figure = Node("Figure", block.alt or f"{desk.labels['music_of']} {block.number}")
    strips = [_heading_strip(desk, block, unit)]
    for index, system in enumerate(block.systems):
        gap = (FIRST_GAP, 1.2 * MM, 0.0) if index == 0 else (SYSTEM_GAP, SYSTEM_STRETCH, SYSTEM_SHRINK)
        piece = Piece(system.height, *gap, unit=unit, music=True, turn_ok=system.turn_ok_after, on_grid=False)
        strips.append(Strip(piece, _system_drawer(system, figure, index == 0), (), "system", block.number))
    return strips


def unit_of(number: str) -> int:
    """A whole number of its own for each exercise number, the same in every run."""
    return int.from_bytes(number.encode(), "big")


def _system_drawer(system: System, figure: Node, first: bool) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        if first:
            pen.adopt(figure)
        with pen.tag("Figure", node=figure):
            pen.system(system, x, y)

    return draw


def _heading_strip(desk: Desk, block: Block, unit: int) -> Strip:
    heading = _Heading(desk, block)

    def draw(pen: Pen, x: float, y: float) -> None:
        pen.target(block_key(block), y)
        pen.bookmark(1, f"{block.number} {block.title}", block_key(block))
        heading.draw(pen, x, y)

    piece = Piece(heading.height, BLOCK_GAP, BLOCK_STRETCH, BLOCK_SHRINK, unit=unit, keep_next=bool(block.systems))
    return Strip(piece, draw, (block_key(block),), "heading", block.number)


class _Heading:
    """Set heading of an exercise: a hairline, number and title, level at the right; instruction and ladder under it."""

    def __init__(self, desk: Desk, block: Block) -> None:
        self.desk, self.block = desk, block
        setter, styles = desk.setter, desk.styles
        self.number = setter.line(block.number, styles.number)
        self.left = self.number.width + 0.75 * styles.heading.size
        self.level = level_width(desk, block.level) if block.level else 0.0
        self.title = setter.paragraph(
            block.title, styles.heading, desk.width - self.left - self.level - 4 * MM, markup=False
        )
        self.ladder = ladder_width(desk, block.ladder) if block.ladder else 0.0
        whole = setter.paragraph(block.instruction, styles.body, desk.measure())
        beside = desk.width - self.ladder - 8 * MM
        beside_lines = (
            setter.paragraph(block.instruction, styles.body, min(beside, desk.measure()))
            if beside > 0.4 * desk.width
            else ()
        )
        self.beside = bool(self.ladder) and (
            (len(beside_lines) <= max(2, len(whole)) and bool(beside_lines)) or not whole
        )
        self.instruction = beside_lines if self.beside else whole
        self.notices = [setter.paragraph(text, styles.note, desk.measure() - 4 * MM) for text in block.notices]
        ladder_lines = self._ladder_lines() if self.ladder else 0
        text_lines = len(self.instruction)
        below = max(text_lines, ladder_lines) if self.beside else text_lines + ladder_lines
        self.height = (len(self.title) + below + sum(len(lines) for lines in self.notices)) * desk.grid

    def _ladder_lines(self) -> int:
        assert self.block.ladder is not None
        return len(ladder_rows(self.desk, self.block.ladder))

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""
        desk, styles, right = self.desk, self.desk.styles, x + self.desk.width
        with pen.artifact():
            rule = y - HEAD_RULE * desk.grid
            pen.rule(x, rule, right, rule, 0.5)
        with pen.tag("H2"):
            pen.text(x, y + BASELINE * desk.grid, self.number, styles.number)
            below = desk.draw_lines(pen, x + self.left, y, self.title, styles.heading)
        if self.block.level:
            draw_level(desk, pen, right, y + BASELINE * desk.grid, self.block.level)
        lower = desk.tagged(pen, x, below, self.instruction, styles.body)
        if self.block.ladder:
            start = right - self.ladder if self.beside else x
            lowest = draw_ladder(desk, pen, start, below if self.beside else lower, self.block.ladder)
            lower = max(lower, lowest)
        for lines in self.notices:
            with pen.artifact():
                pen.rule(x + 0.8, lower + 0.2 * desk.grid, x + 0.8, lower + (len(lines) - 0.05) * desk.grid, 1.6, 0.0)
            lower = desk.tagged(pen, x + 4 * MM, lower, lines, styles.note)


def level_width(desk: Desk, level: int) -> float:
    """Width of a level's word, figure and scale."""
    return desk.setter.width(f"{desk.labels['level']} {level}", desk.styles.small) + 1.5 * MM + desk.levels * 1.5 * MM


def draw_level(desk: Desk, pen: Pen, right: float, baseline: float, level: int) -> None:
    """The level's word and figure, then a scale of small bars, filled up to the level, ending at `right`."""
    style, step = desk.styles.small, 1.5 * MM
    left = right - desk.levels * step
    with pen.tag("P"):
        line = desk.setter.line(f"{desk.labels['level']} {level}", style)
        pen.text(left - 1.5 * MM, baseline, line, style, align="right")
    with pen.artifact():
        cap = 0.66 * style.size
        for place in range(desk.levels):
            frame = Frame(left + place * step + 0.5, baseline - cap, step - 1.4, cap)
            if place < level:
                pen.box(frame, fill=0.0)
            else:
                pen.rule(frame.x, baseline - 0.25, frame.right, baseline - 0.25, 0.5)


def _step_width(desk: Desk, text: str) -> float:
    return desk.setter.width(text, desk.styles.figure) + 1.2 * MM + tick_side(desk) + 4.2 * MM


def tick_side(desk: Desk) -> float:
    """Side of a box to tick."""
    return max(3.1 * MM, 0.85 * desk.styles.figure.size)


def _note_width(desk: Desk, beat: Fraction) -> float:
    return note_outline(beat)[1] * desk.styles.figure.size * 1.15 + desk.setter.width(" = ", desk.styles.figure)


def ladder_rows(desk: Desk, ladder: Ladder) -> list[tuple[int, ...]]:
    """The steps in rows that fit the text block."""
    room = desk.width - _note_width(desk, ladder.beat)
    rows: list[tuple[int, ...]] = [()]
    used = 0.0
    for step in ladder.steps:
        width = _step_width(desk, str(step))
        if used + width - 4.2 * MM > room and rows[-1]:
            rows.append(())
            used = 0.0
        rows[-1] = (*rows[-1], step)
        used += width
    return rows


def ladder_width(desk: Desk, ladder: Ladder) -> float:
    """Width of the widest row of the ladder."""
    rows = ladder_rows(desk, ladder)
    return (
        _note_width(desk, ladder.beat)
        + max(sum(_step_width(desk, str(step)) for step in row) for row in rows)
        - 4.2 * MM
    )


def draw_ladder(desk: Desk, pen: Pen, x: float, y: float, ladder: Ladder) -> float:
    """The beat's note, then each tempo with its box to tick; the lower edge."""
    style, side = desk.styles.figure, tick_side(desk)
    path, _ = note_outline(ladder.beat)
    for index, row in enumerate(ladder_rows(desk, ladder)):
        baseline, left = y + BASELINE * desk.grid, x + _note_width(desk, ladder.beat)
        if index == 0:
            with pen.tag("Span", alt=f"{desk.labels['tempo_reached']}"):
                pen.outline(path, x, baseline, style.size * 1.15, gray=0.0)
                equals = desk.setter.line("=", style)
                pen.text(left - desk.setter.width(" ", style) - equals.width, baseline, equals, style)
        for step in row:
            line = desk.setter.line(str(step), style)
            with pen.tag("P"):
                pen.text(left, baseline, line, style)
            with pen.artifact():
                box = Frame(left + line.width + 1.2 * MM, baseline - 0.33 * style.size - side / 2, side, side)
                pen.box(box, weight=0.7, radius=0.6)
            left += _step_width(desk, str(step))
        y += desk.grid
    return y
