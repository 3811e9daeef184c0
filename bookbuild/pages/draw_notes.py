"""Lines to write on where a week leaves a hole in a page."""

from __future__ import annotations

from bookbuild.pages.desk import Desk
from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import Frame

LEAST_LINES = 4
"""A hole with room for fewer lines stays white."""

ABOVE, PITCH = 2.5, 2.0
"""Grid steps from the hole's upper edge to the word, and between two lines."""


def note_lines(desk: Desk, height: float) -> int:
    """How many lines a hole of `height` takes; 0 when it is better left white."""
    count = int((height / desk.grid - ABOVE - 2.0) // PITCH)
    return count if count >= LEAST_LINES else 0


def draw_notes(desk: Desk, pen: Pen, hole: Frame) -> None:
    """The word for notes and the lines, on the grid."""
    count, style = note_lines(desk, hole.height), desk.styles.label
    y = hole.y + (ABOVE * desk.grid if hole.y > desk.sheet.top else 0.0)
    top = desk.sheet.top + round((y - desk.sheet.top) / desk.grid) * desk.grid
    below = desk.tagged(pen, hole.x, top, [desk.setter.line(desk.labels["notes"], style)], style)
    with pen.artifact():
        for line in range(1, count + 1):
            baseline = below + line * PITCH * desk.grid - 0.5 * desk.grid
            pen.rule(hole.x, baseline, hole.right, baseline, 0.35, 0.45)
    pen.note_placed("notes", "", Frame(hole.x, top, hole.width, (count * PITCH + 0.5) * desk.grid))
