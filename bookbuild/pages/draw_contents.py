"""The contents: every week and exercise with its page, in two columns where the page is wide enough."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bookbuild.pages.desk import COLUMN_GAP, Desk, Draw, Strip
from bookbuild.pages.draw_block import block_key
from bookbuild.pages.draw_header import week_key
from bookbuild.pages.draw_items import section_key, title_strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.model import Book
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.record import Node
from bookbuild.pages.typography import BASELINE

LEVEL_STEP = 0.34
"""Distance of the bars of a level, in text sizes."""

LEAST_COLUMN = 21
"""Width of the narrower columns, in text sizes, that still hold most titles on a line."""

DOTS, DOT = 2.0 * MM, 0.7
"""Distance and side of the dots that lead to a page number."""


@dataclass(frozen=True)
class Entry:
    """A line of the contents; `strong` ones are weeks and sections, `keep` ones are not parted from what follows."""

    number: str
    title: str
    key: str
    level: int = 0
    strong: bool = False
    keep: bool = False


def contents_strips(desk: Desk, book: Book) -> list[Strip]:
    """Contents with page numbers, levels and links; page numbers are read from the desk when drawn."""
    title, toc = title_strip(desk, desk.labels["contents"], "contents"), Node("TOC")
    two = (desk.width - COLUMN_GAP) / 2 >= LEAST_COLUMN * desk.sheet.text_size
    width = (desk.width - COLUMN_GAP) / 2 if two else desk.width
    entries = [_SetEntry(desk, toc, entry, width) for entry in list_entries(book, week_levels_only=two)]
    if not two:
        return [title, *(entry.strip() for entry in entries)]
    strips, room = [title], desk.sheet.text_height - title.piece.height
    for page in _fill_pages(entries, room, desk):
        height = max(sum(entry.room(not place) for place, entry in enumerate(column)) for column in page)
        strips.append(Strip(Piece(desk.on_grid(height)), _page_drawer(page, width + COLUMN_GAP), kind="contents"))
    return strips


def list_entries(book: Book, *, week_levels_only: bool) -> Iterator[Entry]:
    """Sections, weeks and exercises in printing order."""
    for section in book.front:
        yield Entry("", section.title, section_key(section), strong=True)
    for week in book.weeks:
        yield Entry(str(week.number), week.title, week_key(week), week.level, strong=True, keep=bool(week.blocks))
        for place, block in enumerate(week.blocks):
            level = 0 if week_levels_only else block.level
            yield Entry(block.number, block.title, block_key(block), level, keep=place in (0, len(week.blocks) - 2))
    for place, section in enumerate(book.back, 1):
        yield Entry("", section.title, section_key(section), strong=True, keep=place < len(book.back))


class _SetEntry:
    """An entry set in a column of `width`: number, title, dots, level, page; a long title takes more lines."""

    def __init__(self, desk: Desk, toc: Node, entry: Entry, width: float) -> None:
        self.desk, self.toc, self.entry, self.width = desk, toc, entry, width
        self.style = desk.styles.figure if entry.strong else desk.styles.small
        size = desk.styles.body.size
        self.left, self.page_room = 2.9 * size, 2.4 * size
        self.level_room = desk.levels * LEVEL_STEP * desk.sheet.text_size + 4 * MM if entry.level else 0.0
        room = width - self.left - self.page_room - self.level_room - 3 * MM
        self.lines = desk.setter.paragraph(entry.title, self.style, room, markup=False)
        self.height = max(1, len(self.lines)) * desk.grid
        self.above = 0.5 * desk.grid if entry.strong else 0.0

    def room(self, at_top: bool) -> float:
        """What it takes of a column."""
        return self.height + (0.0 if at_top else self.above)

    def strip(self) -> Strip:
        """The entry as a strip of its own."""
        piece = Piece(self.height, self.above, 0.0, self.above / 2, keep_next=self.entry.keep)
        return Strip(piece, self.draw, (), "entry", self.entry.key)

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """Draw from the upper left corner (x, y)."""
        desk, entry, style = self.desk, self.entry, self.style
        baseline, right = y + self.height - (1 - BASELINE) * desk.grid, x + self.width
        page = desk.folios.get(entry.key, "")
        with pen.within(self.toc), pen.group("TOCI"):
            with pen.tag("Link") as node:
                pen.text(x, y + BASELINE * desk.grid, desk.setter.line(entry.number, style), style)
                desk.draw_lines(pen, x + self.left, y, self.lines, style)
                pen.text(right, baseline, desk.setter.line(page, style), style, align="right")
            label = f"{entry.title}, {desk.labels['page']} {page}"
            pen.link(Frame(x, y, self.width, self.height), entry.key, label, node)
        with pen.artifact():
            start = x + self.left + (self.lines[-1].width if self.lines else 0.0) + 2 * MM
            _lead(pen, start, right - self.page_room - self.level_room, baseline)
            if entry.level:
                self._draw_level(pen, right - self.page_room, baseline)

    def _draw_level(self, pen: Pen, right: float, baseline: float) -> None:
        step, cap = LEVEL_STEP * self.desk.sheet.text_size, 0.6 * self.style.size
        left = right - self.desk.levels * step - 2 * MM
        for place in range(self.desk.levels):
            high = cap if place < self.entry.level else 0.5
            pen.box(Frame(left + place * step, baseline - high, step - 1.1, high), fill=0.0)


def _fill_columns(entries: Sequence[_SetEntry], room: float) -> list[list[_SetEntry]]:
    """Entries in columns of a height, broken where an entry may be parted from the next."""
    columns: list[list[_SetEntry]] = [[]]
    used = 0.0
    for group in _groups(entries):
        need = sum(entry.room(False) for entry in group)
        if columns[-1] and used + need > room + 1e-6:
            columns.append([])
            used = 0.0
        used += need if columns[-1] else need - group[0].above
        columns[-1] += group
    return columns


def _groups(entries: Sequence[_SetEntry]) -> Iterator[list[_SetEntry]]:
    """Entries that are never parted."""
    group: list[_SetEntry] = []
    for entry in entries:
        group.append(entry)
        if not entry.entry.keep:
            yield group
            group = []
    if group:
        yield group


def _fill_pages(entries: Sequence[_SetEntry], room: float, desk: Desk) -> Iterator[list[list[_SetEntry]]]:
    """Pages of two columns; the first has `room` below the title, the last one's columns are of about one height."""
    while entries:
        columns = _fill_columns(entries, room)
        while len(columns) <= 2 and len(_fill_columns(entries, room - desk.grid)) <= 2 and room > 2 * desk.grid:
            room -= desk.grid
            columns = _fill_columns(entries, room)
        yield columns[:2]
        entries = [entry for column in columns[2:] for entry in column]
        room = desk.sheet.text_height


def _page_drawer(page: Sequence[Sequence[_SetEntry]], pitch: float) -> Draw:
    def draw(pen: Pen, x: float, y: float) -> None:
        for place, column in enumerate(page):
            below = y
            for line, entry in enumerate(column):
                below += entry.room(not line)
                entry.draw(pen, x + place * pitch, below - entry.height)

    return draw


def _lead(pen: Pen, left: float, right: float, baseline: float) -> None:
    """Dots in columns from a title to its page number."""
    start = -(-left // DOTS) * DOTS
    if start < right - DOTS:
        pen.dots(start, baseline - DOT / 2, right - DOTS, DOTS, DOT, 0.4)
