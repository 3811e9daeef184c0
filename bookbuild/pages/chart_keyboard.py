"""Stretches of the right-hand keyboard with the keys of a shape marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.pages.desk import Desk, Draw, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import KeyboardChart, Keyboards, KeyMark
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import CAPITALS, Line, Style

KEY, KEY_HEIGHT, BLACK_KEY, BLACK_HEIGHT = 4.4 * MM, 17.0 * MM, 2.7 * MM, 10.5 * MM
"""Width and height of white and black keys at full size."""

GAP = 6.0 * MM
"""White between two keyboards."""

USUAL_KEYS, LEAST_SCALE = 11, 0.8
"""White keys an octave shape needs, so that all charts of a book align; and how small keys may become."""

LEAST_LARGE, LARGEST = 1.5, 1.8
"""How small and how large keys may become in large print, so that the fingers on them can be read."""

BLACK = (1, 3, 6, 8, 10)


def is_black(midi: int) -> bool:
    """Whether a MIDI key is a black one."""
    return midi % 12 in BLACK


def white_keys(lowest: int, highest: int) -> int:
    """Number of white keys from `lowest` to `highest`."""
    return sum(not is_black(midi) for midi in range(lowest, highest + 1))


def key_frame(chart: KeyboardChart, midi: int, scale: float) -> Frame:
    """The key's rectangle below the chart's upper left corner."""
    place = white_keys(chart.lowest, midi - 1)
    if is_black(midi):
        return Frame((place * KEY - BLACK_KEY / 2) * scale, 0.0, BLACK_KEY * scale, BLACK_HEIGHT * scale)
    return Frame(place * KEY * scale, 0.0, KEY * scale, KEY_HEIGHT * scale)


def keyboard_strips(desk: Desk, keyboards: Keyboards) -> list[Strip]:
    """The charts in rows, each row a strip; no page parts them."""
    if not keyboards.charts:
        return []
    keys = max(USUAL_KEYS, *(white_keys(chart.lowest, chart.highest) for chart in keyboards.charts))
    least = LEAST_LARGE if desk.sheet.large_print else LEAST_SCALE
    columns = next((count for count in (4, 3, 2) if _scale(desk, keys, count) >= least), 1)
    scale = min(LARGEST if desk.sheet.large_print else 1.0, _scale(desk, keys, columns))
    cell = (desk.width + GAP) / columns
    rows = [keyboards.charts[start : start + columns] for start in range(0, len(keyboards.charts), columns)]
    titles = [[_set_title(desk, chart.title, cell - GAP) for chart in row] for row in rows]
    lines = max(len(title) for row in titles for title in row)
    height = desk.on_grid((lines + 0.25) * desk.grid + KEY_HEIGHT * scale)
    piece = Piece(height, above=0.75 * desk.grid, stretch=0.75 * desk.grid)
    pieces = [replace(piece, keep_next=True)] * (len(rows) - 1) + [piece]
    return [
        Strip(kept, _row(desk, row, heads, cell, scale), kind="chart")
        for kept, row, heads in zip(pieces, rows, titles, strict=True)
    ]


def _set_title(desk: Desk, title: str, width: float) -> tuple[Line, ...]:
    return desk.setter.paragraph(title, desk.styles.small, width, markup=False)


def _scale(desk: Desk, keys: int, columns: int) -> float:
    """Size of the keys when `columns` keyboards of `keys` white keys stand side by side."""
    return ((desk.width + GAP) / columns - GAP) / (keys * KEY)


def _row(
    desk: Desk, charts: Sequence[KeyboardChart], titles: Sequence[Sequence[Line]], cell: float, scale: float
) -> Draw:
    lines = max(map(len, titles))

    def draw(pen: Pen, x: float, y: float) -> None:
        below = y + (lines + 0.2) * desk.grid
        for place, (chart, title) in enumerate(zip(charts, titles, strict=True)):
            left = x + place * cell
            desk.tagged(pen, left, y + (lines - len(title)) * desk.grid, title, desk.styles.small)
            with pen.tag("Figure", alt=chart.alt or chart.title):
                _draw_keyboard(desk, pen, chart, left, below, scale)

    return draw


def _draw_keyboard(desk: Desk, pen: Pen, chart: KeyboardChart, x: float, y: float, scale: float) -> None:
    """White keys, black keys over them, then the marks."""
    whites = white_keys(chart.lowest, chart.highest)
    height = KEY_HEIGHT * scale
    for place in range(whites + 1):
        pen.rule(x + place * KEY * scale, y, x + place * KEY * scale, y + height, 0.5)
    pen.rule(x, y + height, x + whites * KEY * scale, y + height, 0.5)
    pen.rule(x, y, x + whites * KEY * scale, y, 0.5)
    for midi in range(chart.lowest, chart.highest + 1):
        if is_black(midi):
            key = key_frame(chart, midi, scale)
            left, right = max(0.0, key.x), min(whites * KEY * scale, key.right)
            pen.box(Frame(x + left, y, right - left, key.height), fill=0.0)
    for mark in chart.marks:
        if chart.lowest <= mark.midi <= chart.highest:
            _draw_mark(desk, pen, mark, key_frame(chart, mark.midi, scale), x, y, scale)


def _draw_mark(desk: Desk, pen: Pen, mark: KeyMark, key: Frame, x: float, y: float, scale: float) -> None:
    """A disc low on the key: the melody's is solid, the others' are open. It is as large on a black key as on a white
    one, so that its finger can be read, and stands out there by a white rim.
    """
    radius = 1.75 * MM * scale
    middle_x, middle_y = x + key.x + key.width / 2, y + key.height - radius - 1.0 * MM * scale
    if is_black(mark.midi):
        pen.disc(middle_x, middle_y, radius + 0.8, 1.0)
    if mark.melody:
        pen.disc(middle_x, middle_y, radius, 0.0)
    else:
        pen.disc(middle_x, middle_y, radius, 1.0, 0.8)
    style = Style("sans-bold", radius * 1.45)
    line, fitted = desk.setter.fit(mark.label, style, 1.8 * radius, 0.5)
    pen.text(middle_x, middle_y + CAPITALS / 2 * fitted.size, line, fitted, 1.0 if mark.melody else 0.0, "centre")
