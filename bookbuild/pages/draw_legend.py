"""Signs and their meaning, each sign drawn as it stands in the music."""

from __future__ import annotations

from collections.abc import Callable

from bookbuild.exact import Fraction
from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.draw_ladder import tick_side
from bookbuild.pages.glyphs import SIGNS, ellipse, note_outline, polygon
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Legend
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import CAPITALS, Line, Style

SIGN_COLUMN, SIGN_SIZES = 17.0 * MM, 3.6
"""Least width kept for the sign left of its meaning, and what the widest needs in text sizes."""

LEAST_ROW = 1.5
"""Height of a row in grid steps, so that a note on its staff has room."""


def legend_strips(desk: Desk, legend: Legend) -> list[Strip]:
    """Entries in two columns where they fit, each row a strip."""
    columns = 2 if desk.wide else 1
    cell = (desk.width - (columns - 1) * 8 * MM) / columns
    count = -(-len(legend.entries) // columns)
    rows = [legend.entries[start::count] for start in range(count)]
    return [_row(desk, legend, row, cell, first=index == 0) for index, row in enumerate(rows)]


def _sign_column(desk: Desk) -> float:
    return max(SIGN_COLUMN, SIGN_SIZES * desk.styles.body.size)


def _row(desk: Desk, legend: Legend, entries: tuple[tuple[str, str], ...], cell: float, first: bool) -> Strip:
    style = desk.styles.small
    texts = [desk.setter.paragraph(meaning, style, cell - _sign_column(desk)) for _, meaning in entries]
    height = max(LEAST_ROW, *(len(lines) for lines in texts)) * desk.grid

    def draw(pen: Pen, x: float, y: float) -> None:
        for place, ((sign, _), lines) in enumerate(zip(entries, texts, strict=True)):
            left = x + place * (cell + 8 * MM)
            with pen.artifact():
                _draw_sign(desk, pen, legend, sign, left, y + height / 2)
            start = y + (height - len(lines) * desk.grid) / 2
            desk.tagged(pen, left + _sign_column(desk), start, lines, style)

    return Strip(Piece(height, above=desk.grid if first else 0.0), draw, kind="legend")


def _draw_sign(desk: Desk, pen: Pen, legend: Legend, sign: str, x: float, middle: float) -> None:
    """Draw a sign of `model.SIGNS`, or print any other text, centred on the height `middle`."""
    counted = {"struck": legend.beats, "off": legend.parts[-2:], "held": legend.parts[:2]}
    if sign in counted:
        _paint_count(desk, pen, counted[sign], *_COUNTED[sign], x, middle)
        return
    painter = _PAINTERS.get(sign)
    if painter is not None:
        painter(desk, pen, x, middle)
        return
    style = Style("sans-bold", desk.styles.body.size)
    line, fitted = desk.setter.fit(sign, style, _sign_column(desk) - 2 * MM)
    pen.text(x, middle + CAPITALS / 2 * fitted.size, line, fitted)


def _glyph(name: str) -> Callable[[Desk, Pen, float, float], None]:
    def paint(desk: Desk, pen: Pen, x: float, middle: float) -> None:
        size = desk.styles.body.size * 1.2
        pen.outline(SIGNS[name][0], x, middle + 0.35 * size, size, gray=0.0)

    return paint


def _paint_shake(desk: Desk, pen: Pen, x: float, middle: float) -> None:
    size = desk.styles.body.size * 0.95
    for place, name in enumerate(("open", "close", "open", "close")):
        pen.outline(SIGNS[name][0], x + place * 0.78 * size, middle + 0.35 * size, size, gray=0.0)


def _paint_count(
    desk: Desk, pen: Pen, syllables: tuple[str, ...], face: str, gray: float, x: float, middle: float
) -> None:
    style = Style(face, desk.styles.body.size)
    for text in syllables:
        line: Line = desk.setter.line(text, style)
        pen.text(x, middle + CAPITALS / 2 * style.size, line, style, gray)
        x += max(1.1 * style.size, desk.setter.width(text, style) + 0.4 * style.size)


def _paint_tick(desk: Desk, pen: Pen, x: float, middle: float) -> None:
    side = tick_side(desk)
    pen.box(Frame(x, middle - side / 2, side, side), weight=0.7, radius=0.6)
    pen.outline(SIGNS["tick"][0], x + 0.12 * side, middle + 0.35 * side, side * 1.15, gray=0.0)


def _paint_level(desk: Desk, pen: Pen, x: float, middle: float) -> None:
    cap = CAPITALS * desk.styles.small.size
    for place in range(6):
        frame = Frame(x + place * 1.5 * MM, middle - cap / 2, 1.5 * MM - 0.9, cap)
        if place < 3:
            pen.box(frame, fill=0.0)
        else:
            pen.rule(frame.x, frame.bottom, frame.right, frame.bottom, 0.5)


def _paint_turn(desk: Desk, pen: Pen, x: float, middle: float) -> None:
    size = desk.styles.body.size
    arrow = polygon((0.0, 0.31), (0.9, 0.31), (0.9, 0.12), (1.3, 0.35), (0.9, 0.58), (0.9, 0.39), (0.0, 0.39))
    pen.outline(arrow, x, middle + 0.35 * size, size, gray=0.0)


def _paint_note(desk: Desk, pen: Pen, x: float, middle: float) -> None:
    size = desk.styles.body.size * 1.2
    pen.outline(note_outline(Fraction(1, 4))[0], x, middle + 0.45 * size, size, gray=0.0)


def _paint_on_staff(place: int, stem_up: bool) -> Callable[[Desk, Pen, float, float], None]:
    """A note on five lines; `place` counts half spaces up from the middle line."""

    def paint(desk: Desk, pen: Pen, x: float, middle: float) -> None:
        space = 1.35 * MM
        for line in range(-2, 3):
            pen.rule(x, middle + line * space, x + 11 * MM, middle + line * space, 0.35)
        left, y = x + 5 * MM, middle - place * space / 2
        pen.outline(ellipse(0, 0, 0.62, 0.43, 24), left, y, space, gray=0.0)
        stem = left + (0.56 if stem_up else -0.56) * space
        pen.rule(stem, y, stem, y + (-3.2 if stem_up else 3.2) * space, 0.6)

    return paint


_COUNTED = {"struck": ("sans-bold", 0.0), "off": ("sans", 0.0), "held": ("sans", 0.55)}
"""Face and grey of the syllables on struck, other and held places."""

_PAINTERS: dict[str, Callable[[Desk, Pen, float, float], None]] = {
    "open": _glyph("open"),
    "close": _glyph("close"),
    "shake": _paint_shake,
    "tick": _paint_tick,
    "level": _paint_level,
    "turn": _paint_turn,
    "note": _paint_note,
    "bass": _paint_on_staff(-3, True),
    "chord": _paint_on_staff(2, False),
}
