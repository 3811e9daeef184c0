"""The parts of front and back matter as strips: headings, prose, lists of terms, exercises and charts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.pages.chart_buttons import button_strip
from bookbuild.pages.chart_groove import groove_strips
from bookbuild.pages.chart_keyboard import keyboard_strips
from bookbuild.pages.chart_map import map_strip
from bookbuild.pages.desk import COLUMN_GAP, Desk, Draw, Strip
from bookbuild.pages.draw_block import block_strips
from bookbuild.pages.draw_legend import legend_strips
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import (
    Block,
    ButtonChart,
    CourseMap,
    GrooveChart,
    Heading,
    Item,
    Keyboards,
    Legend,
    Pairs,
    Section,
    Text,
)
from bookbuild.pages.paper import MM
from bookbuild.pages.pieces import Piece, natural_height
from bookbuild.pages.record import Node
from bookbuild.pages.typography import Line, Style

SHORT = 0.35
"""A section lower than this share of a page stays whole."""

LEAST_FOR_COLUMNS, MOST_FOR_COLUMNS = 6, 24
"""A list of fewer or more pairs stands in one column, however short they are."""

TOGETHER = 4
"""Lines of a paragraph that a page break never parts."""


def section_key(section: Section) -> str:
    """The link target of a section."""
    return f"section-{section.key}"


def section_strips(desk: Desk, section: Section, fresh: bool) -> list[Strip]:
    """A section of the front or back matter; `fresh` begins a new page, otherwise it runs on where there is room.

    A short one is not parted.
    """
    strips = [title_strip(desk, section.title, section_key(section), fresh), *item_strips(desk, section.items)]
    if natural_height([strip.piece for strip in strips]) > SHORT * desk.sheet.text_height:
        return strips
    return [*map(_keep, strips[:-1]), strips[-1]]


def title_strip(desk: Desk, title: str, key: str, fresh: bool = True) -> Strip:
    """A section's title over a rule."""
    style = desk.styles.section
    lines = desk.setter.paragraph(title, style, desk.width, markup=False)
    height = desk.height_of(lines, style) + desk.grid

    def draw(pen: Pen, x: float, y: float) -> None:
        pen.target(key, y)
        pen.bookmark(0, title, key)
        below = desk.tagged(pen, x, y, lines, style, "H1")
        with pen.artifact():
            pen.rule(x, below + 0.35 * desk.grid, x + desk.width, below + 0.35 * desk.grid, 1.2)

    piece = Piece(height, 3 * desk.grid, 2 * desk.grid, desk.grid, fresh=fresh, keep_next=True)
    return Strip(piece, draw, (key,), "title", title)


def item_strips(desk: Desk, items: Sequence[Item]) -> list[Strip]:
    """The strips of items in order; a chart without content is left out. A text is not parted from what it leads to."""
    strips: list[Strip] = []
    for item, following in zip(items, [*items[1:], None], strict=False):
        match item:
            case Text() if following is not None and not isinstance(following, Text | Heading):
                lines = prose_strips(desk, item.text)
                strips += [*lines[:-1], *map(_keep, lines[-1:])]
            case Text():
                strips += prose_strips(desk, item.text)
            case Heading():
                strips.append(_heading(desk, item.text))
            case Pairs():
                strips += _pairs(desk, item)
            case Block():
                strips += block_strips(desk, item)
            case Legend():
                strips += legend_strips(desk, item)
            case ButtonChart() if any(labels for _, labels in item.rows):
                strips.append(button_strip(desk, item))
            case Keyboards():
                strips += keyboard_strips(desk, item)
            case GrooveChart() if item.counts and item.rows:
                strips += groove_strips(desk, item)
            case CourseMap() if item.rows and item.skills:
                strips.append(map_strip(desk, item))
    return strips


def _keep(strip: Strip) -> Strip:
    """The strip, no longer parted from what follows."""
    return replace(strip, piece=replace(strip.piece, keep_next=True))


def prose_strips(desk: Desk, text: str) -> list[Strip]:
    """Paragraphs; a blank line in `text` parts them. A long one may run on to the next page, but not by a line."""
    style, strips = desk.styles.body, []
    for part in text.split("\n\n"):
        lines, node = desk.setter.paragraph(part, style, desk.measure()), Node("P")
        for place, group in enumerate(_part_lines(lines)):
            piece = Piece(desk.height_of(group, style), above=0.0 if place else 0.5 * desk.grid)
            strips.append(Strip(piece, _part_drawer(desk, group, node)))
    return strips


def _part_lines(lines: Sequence[Line]) -> list[Sequence[Line]]:
    """The lines of a paragraph in groups of `TOGETHER` or a few more; a short paragraph is one group."""
    if not lines:
        return []
    starts = list(range(0, max(1, len(lines) - TOGETHER + 1), TOGETHER))
    return [lines[start:end] for start, end in zip(starts, [*starts[1:], len(lines)], strict=True)]


def _part_drawer(desk: Desk, lines: Sequence[Line], node: Node) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        with pen.within(node), pen.tag("P", node=node):
            desk.draw_lines(pen, x, y, lines, desk.styles.body)

    return draw


def _heading(desk: Desk, text: str) -> Strip:
    style = desk.styles.heading
    lines = desk.setter.paragraph(text, style, desk.width, markup=False)
    piece = Piece(desk.height_of(lines, style), above=desk.grid, stretch=desk.grid, keep_next=True)
    return Strip(piece, _line_drawer(desk, lines, style, "H2"), kind="heading")


def _line_drawer(desk: Desk, lines: Sequence[Line], style: Style, kind: str) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        desk.tagged(pen, x, y, lines, style, kind)

    return draw


def _pairs(desk: Desk, pairs: Pairs) -> list[Strip]:
    """A list of terms, their meanings beside them; no page ends with the first or begins with the last of them.

    Where all are short they stand in two columns, which no page parts.
    """
    columns = _short_pairs(desk, pairs)
    strips = columns or [_pair(desk, term, meaning) for term, meaning in pairs.pairs]
    kept = (set(range(len(columns))) or {0, len(strips) - 2}) - {len(strips) - 1}
    return [_keep(strip) if place in kept else strip for place, strip in enumerate(strips)]


def _short_pairs(desk: Desk, pairs: Pairs) -> list[Strip]:
    """The rows of two columns, read downwards; [] where a pair or the list is too long or too short for that."""
    label, body, half = desk.styles.figure, desk.styles.body, (desk.width - COLUMN_GAP) / 2
    terms = [desk.setter.line(term, label) for term, _ in pairs.pairs]
    lead = max((term.width for term in terms), default=0.0) + 4 * MM
    meanings = [desk.setter.paragraph(meaning, body, half - lead) for _, meaning in pairs.pairs]
    few = LEAST_FOR_COLUMNS <= len(terms) <= MOST_FOR_COLUMNS
    if not few or lead > half / 2 or any(len(lines) > 1 for lines in meanings):
        return []
    rows = -(-len(terms) // 2)

    def drawer(places: range) -> Draw:
        def draw(pen: Pen, x: float, y: float) -> None:
            for column, place in enumerate(places):
                left = x + column * (half + COLUMN_GAP)
                desk.tagged(pen, left, y, [terms[place]], label)
                desk.tagged(pen, left + lead, y, meanings[place], body)

        return draw

    piece = Piece(desk.grid, above=0.5 * desk.grid)
    return [Strip(piece, drawer(range(row, len(terms), rows)), kind="pair") for row in range(rows)]


def _pair(desk: Desk, term: str, meaning: str) -> Strip:
    label, body = desk.styles.figure, desk.styles.body
    column = desk.width * 0.26 if desk.wide else desk.width
    terms = desk.setter.paragraph(term, label, column - 4 * MM, markup=False)
    room = desk.width - column if desk.wide else desk.width - 4 * MM
    lines = desk.setter.paragraph(meaning, body, min(room, desk.measure()))
    count = max(len(terms), len(lines)) if desk.wide else len(terms) + len(lines)

    def draw(pen: Pen, x: float, y: float) -> None:
        below = desk.tagged(pen, x, y, terms, label)
        desk.tagged(pen, x + (column if desk.wide else 4 * MM), y if desk.wide else below, lines, body)

    return Strip(Piece(count * desk.grid, above=0.5 * desk.grid), draw, kind="pair", name=term)
