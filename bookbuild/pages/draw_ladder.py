"""The tempo ladder: the beat's note, then every tempo with a box to tick, in columns."""

from __future__ import annotations

from bookbuild.pages.desk import Desk
from bookbuild.pages.glyphs import note_outline
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Ladder
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.typography import BASELINE, CAPITALS

NOTE_SCALE = 1.15
"""Size of the note against the figures beside it."""

GAP = 3.6 * MM
"""White between a box and the next tempo."""


def tick_side(desk: Desk) -> float:
    """Side of a box to tick."""
    return max(3.1 * MM, 0.85 * desk.styles.figure.size)


class SetLadder:
    """A ladder set into `room` points: as many tempi in a row as fit, the rows as even as possible."""

    def __init__(self, desk: Desk, ladder: Ladder, room: float) -> None:
        self.desk, self.ladder = desk, ladder
        style = desk.styles.figure
        self.side = tick_side(desk)
        self.note = note_outline(ladder.beat)[1] * style.size * NOTE_SCALE + desk.setter.width(" = ", style)
        self.figure = max(desk.setter.width(str(step), style) for step in ladder.steps)
        cell = self.figure + 1.2 * MM + self.side
        most = max(1, int((room - self.note + GAP) // (cell + GAP)))
        lines = -(-len(ladder.steps) // most)
        self.columns = -(-len(ladder.steps) // lines)
        self.rows = [ladder.steps[start : start + self.columns] for start in range(0, len(ladder.steps), self.columns)]
        self.pitch = cell + GAP
        self.width = self.note + self.columns * self.pitch - GAP

    def draw(self, pen: Pen, x: float, y: float) -> float:
        """Draw from the upper left corner (x, y); the lower edge."""
        desk, style, ladder = self.desk, self.desk.styles.figure, self.ladder
        baselines = [y + (row + BASELINE) * desk.grid for row in range(len(self.rows))]
        with pen.tag("P", alt=f"{desk.labels['tempo']}: {', '.join(map(str, ladder.steps))}"):
            pen.outline(note_outline(ladder.beat)[0], x, baselines[0], style.size * NOTE_SCALE, gray=0.0)
            equals = desk.setter.line("= ", style)
            pen.text(x + self.note, baselines[0], equals, style, align="right")
            for baseline, row in zip(baselines, self.rows, strict=True):
                for column, step in enumerate(row):
                    line = desk.setter.line(str(step), style)
                    pen.text(x + self.note + column * self.pitch + self.figure, baseline, line, style, align="right")
        with pen.artifact():
            for baseline, row in zip(baselines, self.rows, strict=True):
                for column in range(len(row)):
                    left = x + self.note + column * self.pitch + self.figure + 1.2 * MM
                    middle = baseline - CAPITALS / 2 * style.size
                    pen.box(Frame(left, middle - self.side / 2, self.side, self.side), weight=0.7, radius=0.6)
        return y + len(self.rows) * desk.grid
