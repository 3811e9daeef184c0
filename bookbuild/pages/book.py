"""From a book's parts to its file: strips, pages, drawing, writing. With `stand`, the only public way into the room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bookbuild.pages.compose import Layout, compose_chapters
from bookbuild.pages.desk import Desk
from bookbuild.pages.draw_contents import contents_strips
from bookbuild.pages.draw_front import cover_strip, imprint_strips, staves_strip
from bookbuild.pages.draw_header import week_name
from bookbuild.pages.draw_items import section_strips
from bookbuild.pages.draw_week import week_layouts
from bookbuild.pages.fonts import FontSet
from bookbuild.pages.labels import choose_labels
from bookbuild.pages.model import Book, WeekPage
from bookbuild.pages.paper import MM, PaperOptions, Sheet, least_gutter, plan_sheet
from bookbuild.pages.pieces import Composition, Piece
from bookbuild.pages.printer import PageReport, Part, Printer, write_folio
from bookbuild.pages.record import Node, Placed
from bookbuild.pages.rules import SCARCE_PAGE, find_faults
from bookbuild.pages.typography import TypeSetter, choose_styles
from bookbuild.pages.write_pdf import Metadata, write_pdf


@dataclass(frozen=True)
class BookReport:
    """What was made: pages in order, everything placed on them, and the characters no font could show."""

    path: Path
    pages: tuple[PageReport, ...]
    placed: tuple[Placed, ...]
    missing: tuple[str, ...]
    faults: tuple[str, ...]
    """Rules of the page that could not be kept, for example `page 19: empty`; see `rules.Fault`."""
    cost: float

    def folios(self) -> dict[str, str]:
        """The printed page of every exercise of the weeks, by its number."""
        headings = (placed for placed in self.placed if placed.kind == "heading")
        return {
            placed.name: self.pages[placed.page].folio
            for placed in headings
            if self.pages[placed.page].part.startswith("week")
        }


def make_book(
    book: Book, options: PaperOptions, out: Path, *, created: datetime, fonts: Path, pages: int = 100
) -> BookReport:
    """Compose and write the whole book to `out`, replacing it in one move; `pages` is a guess for the inner margin.

    Raises MachineError when fonts are missing or the file cannot be written, ValueError for an unusable paper or ISBN.
    """
    sheet = plan_sheet(options, pages)
    desk = lay_desk(book, sheet, fonts)
    front = [
        Part("front", "", 0, [cover_strip(desk, book), *imprint_strips(desk, book)], False),
        Part("front", desk.labels["contents"], 0, contents_strips(desk, book)),
        *(
            Part("front", section.title, 0, section_strips(desk, section, not place))
            for place, section in enumerate(book.front)
        ),
    ]
    back = [
        Part("back", section.title, 0, section_strips(desk, section, not place))
        for place, section in enumerate(book.back)
    ]
    chapters = [*(_week_options(desk, week) for week in book.weeks), *([[_Option(back)]] if back else [])]
    return _print(book, desk, front, chapters, out, created)


def make_week(
    book: Book, number: int, options: PaperOptions, out: Path, *, created: datetime, fonts: Path
) -> BookReport:
    """Write the sheet of one week alone, with a line for the student's name; exercise numbers are the book's.

    Raises KeyError for a week the book does not have, and what `make_book` raises.
    """
    week = next((week for week in book.weeks if week.number == number), None)
    if week is None:
        raise KeyError(number)
    desk = lay_desk(book, plan_sheet(options, 1), fonts)
    return _print(book, desk, [], [_week_options(desk, week, name_line=True)], out, created)


def lay_desk(book: Book, sheet: Sheet, fonts: Path) -> Desk:
    """The desk for a book on a sheet."""
    return Desk(sheet, choose_styles(sheet), TypeSetter(FontSet(fonts)), choose_labels(book.words), book.levels)


@dataclass(frozen=True)
class _Option:
    """A way to print a chapter: its parts, and what choosing it costs beside its pages."""

    parts: list[Part]
    cost: float = 0.0


def _week_options(desk: Desk, week: WeekPage, *, name_line: bool = False) -> list[_Option]:
    name, node = week_name(desk, week), Node("Sect")
    return [
        _Option([Part(f"week {week.number}", name, week.number, strips, node=node)], cost)
        for cost, strips in week_layouts(desk, week, name_line)
    ]


def _print(
    book: Book, desk: Desk, front: list[Part], chapters: Sequence[Sequence[_Option]], out: Path, created: datetime
) -> BookReport:
    """Compose both numberings, draw every page, write the file; of each chapter the option that costs least in all."""
    prelude = _compose(desk, [[_Option(front)]] if front else [])[1]
    if front and len(prelude.pages) % 2 and desk.sheet.double_sided:
        front = [*front, Part("front", "", 0, [staves_strip(desk)])]
        prelude = _compose(desk, [[_Option(front)]])[1]
    body, main = _compose(desk, chapters, scarce=any(week.number == 0 for week in book.weeks))
    tabs = max((week.number for week in book.weeks), default=0)
    printer = Printer(desk, book.title, book.language, max(tabs, len(book.weeks)))
    return print_composed(book, desk, printer, (front, prelude), (body, main), out, created)


Composed = tuple[Sequence[Part], Composition]
"""Parts and the pages they were composed into."""


def print_composed(
    book: Book, desk: Desk, printer: Printer, opening: Composed, rest: Composed, out: Path, created: datetime
) -> BookReport:
    """Draw composed parts, the pages of `opening` numbered i, ii, …, and write the file."""
    (front, prelude), (body, main) = opening, rest
    printer.number(front, prelude, roman=True)
    printer.number(body, main, roman=False)
    printer.draw(front, prelude, roman=True)
    printer.draw(body, main, roman=False)
    meta = Metadata(book.title, book.imprint.name, book.subtitle, book.language, created, len(prelude.pages))
    write_pdf(printer.pen.finish(), printer.pen.record, desk.sheet, meta, out)
    return BookReport(
        out,
        tuple(printer.pages),
        tuple(printer.pen.record.placed),
        tuple(sorted(desk.setter.fonts.missing)),
        (*_faults(desk, front, prelude, True), *_faults(desk, body, main, False), *_gutter_fault(desk, printer.pages)),
        prelude.cost + main.cost,
    )


def _faults(desk: Desk, parts: Sequence[Part], found: Composition, roman: bool) -> list[str]:
    """What the rules of the page say of a composition, with printed page numbers."""
    faults = find_faults(_pieces(parts), found, desk.sheet.text_height, not desk.sheet.double_sided)
    return [f"page {write_folio(fault.page + 1, roman)}: {fault.kind}" for fault in faults]


def _gutter_fault(desk: Desk, pages: Sequence[PageReport]) -> list[str]:
    least = least_gutter(len(pages))
    if desk.sheet.inner >= least * MM - 0.01:
        return []
    return [f"inner margin: {desk.sheet.inner / MM:.1f} mm, a book of {len(pages)} pages needs {least} mm"]


def _compose(
    desk: Desk, chapters: Sequence[Sequence[_Option]], *, scarce: bool = False
) -> tuple[list[Part], Composition]:
    """The parts of the options chosen, and their pages; as few as can be where they are `scarce`."""
    layouts = [[Layout(_pieces(option.parts), option.cost) for option in options] for options in chapters]
    height, single = desk.sheet.text_height, not desk.sheet.double_sided
    cost = SCARCE_PAGE if scarce else 0.0
    chosen, found = compose_chapters(layouts, height, desk.grid / 2, single_sided=single, page_cost=cost)
    return [part for place, options in zip(chosen, chapters, strict=True) for part in options[place].parts], found


def _pieces(parts: Sequence[Part]) -> list[Piece]:
    return [strip.piece for part in parts for strip in part.strips]
