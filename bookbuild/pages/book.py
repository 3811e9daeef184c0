"""From a book's parts to its file: strips, pages, drawing, writing. The only public way into this room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bookbuild.pages.compose import Composition, compose_pages
from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.draw_front import contents_strips, cover_strip, imprint_strip, staves_strip
from bookbuild.pages.draw_items import section_strips
from bookbuild.pages.draw_week import week_strips
from bookbuild.pages.fonts import FontSet
from bookbuild.pages.furniture import draw_folio, draw_head, draw_tab
from bookbuild.pages.ink import Pen, Placed
from bookbuild.pages.labels import choose_labels
from bookbuild.pages.model import Book, WeekPage
from bookbuild.pages.paper import Frame, PaperOptions, Sheet, plan_sheet
from bookbuild.pages.typography import TypeSetter, choose_styles
from bookbuild.pages.write_pdf import Metadata, write_pdf


@dataclass(frozen=True)
class PageReport:
    """A page as printed: its number, part ("front", "week 3", "back"), empty share, whether a week or section ends."""

    folio: str
    part: str
    blank: float
    ends_chapter: bool
    right_hand: bool
    frame: Frame
    """Where all ink but the furniture lies."""


@dataclass(frozen=True)
class BookReport:
    """What was made: pages in order, everything placed on them, and the characters no font could show."""

    path: Path
    pages: tuple[PageReport, ...]
    placed: tuple[Placed, ...]
    missing: tuple[str, ...]
    cost: float

    def emptiest(self, count: int = 5) -> tuple[PageReport, ...]:
        """The emptiest pages of the weeks that do not end one, emptiest first."""
        inner = [page for page in self.pages if page.part.startswith("week") and not page.ends_chapter]
        return tuple(sorted(inner, key=lambda page: -page.blank)[:count])


@dataclass(frozen=True)
class _Part:
    """A run of pages that share a running head and a tab."""

    name: str
    head: str
    tab: int
    strips: Sequence[Strip]
    furnished: bool = True


def make_book(
    book: Book, options: PaperOptions, out: Path, *, created: datetime, fonts: Path, pages: int = 100
) -> BookReport:
    """Compose and write the whole book to `out`, replacing it in one move; `pages` is a guess for the inner margin.

    Raises MachineError when fonts are missing or the file cannot be written, ValueError for an unusable paper or ISBN.
    """
    sheet = plan_sheet(options, pages)
    desk = _lay_desk(book, sheet, fonts)
    front = [
        _Part("front", "", 0, [cover_strip(desk, book), imprint_strip(desk, book)], False),
        _Part("front", desk.labels["contents"], 0, contents_strips(desk, book)),
        *(
            _Part("front", section.title, 0, section_strips(desk, section, not place))
            for place, section in enumerate(book.front)
        ),
    ]
    weeks = [_week_part(desk, week, False) for week in book.weeks]
    back = [
        _Part("back", section.title, 0, section_strips(desk, section, not place))
        for place, section in enumerate(book.back)
    ]
    return _print(book, desk, front, [*weeks, *back], out, created)


def make_week(
    book: Book, number: int, options: PaperOptions, out: Path, *, created: datetime, fonts: Path
) -> BookReport:
    """Write the sheet of one week alone, with a line for the student's name; exercise numbers are the book's.

    Raises KeyError for a week the book does not have, and what `make_book` raises.
    """
    week = next((week for week in book.weeks if week.number == number), None)
    if week is None:
        raise KeyError(number)
    desk = _lay_desk(book, plan_sheet(options, 1), fonts)
    return _print(book, desk, [], [_week_part(desk, week, True)], out, created)


def _lay_desk(book: Book, sheet: Sheet, fonts: Path) -> Desk:
    return Desk(sheet, choose_styles(sheet), TypeSetter(FontSet(fonts)), choose_labels(book.words), book.levels)


def _week_part(desk: Desk, week: WeekPage, name_line: bool) -> _Part:
    head = f"{desk.labels['week']} {week.number} · {week.title}"
    return _Part(f"week {week.number}", head, week.number, week_strips(desk, week, name_line))


def _print(book: Book, desk: Desk, front: list[_Part], body: list[_Part], out: Path, created: datetime) -> BookReport:
    """Compose both numberings, draw every page, write the file."""
    prelude = _compose(desk, front)
    if front and len(prelude.pages) % 2 and desk.sheet.double_sided:
        front = [*front, _Part("front", "", 0, [staves_strip(desk)])]
        prelude = _compose(desk, front)
    main = _compose(desk, body)
    printer = _Printer(book, desk, len(book.weeks))
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
        prelude.cost + main.cost,
    )


def _compose(desk: Desk, parts: Sequence[_Part]) -> Composition:
    pieces = [strip.piece for part in parts for strip in part.strips]
    return compose_pages(pieces, desk.sheet.text_height, desk.grid, single_sided=not desk.sheet.double_sided)


class _Printer:
    """Draws composed parts page by page."""

    def __init__(self, book: Book, desk: Desk, weeks: int) -> None:
        self.book, self.desk, self.weeks = book, desk, weeks
        self.pen = Pen(desk.sheet, desk.setter.fonts, book.language)
        self.pages: list[PageReport] = []

    def number(self, parts: Sequence[_Part], composition: Composition, roman: bool) -> None:
        """Tell the desk on which printed page every target lies."""
        strips = [strip for part in parts for strip in part.strips]
        for place, page in enumerate(composition.pages, 1):
            for strip in strips[page.first : page.last]:
                for key in strip.keys:
                    self.desk.folios[key] = write_roman(place) if roman else str(place)

    def draw(self, parts: Sequence[_Part], composition: Composition, roman: bool) -> None:
        """Draw all pages of a numbering."""
        owners = [part for part in parts for _ in part.strips]
        strips = [strip for part in parts for strip in part.strips]
        for place, page in enumerate(composition.pages, 1):
            part = owners[page.first]
            frame, ink = self.desk.sheet.frame(page.right_hand), self.desk.sheet.ink_frame(page.right_hand)
            folio = write_roman(place) if roman else str(place)
            self.pen.start_page()
            self._furnish(part, frame, page.right_hand, folio, strips[page.first].piece.fresh)
            for strip, top in zip(strips[page.first : page.last], page.tops, strict=True):
                self._draw_strip(strip, frame, top)
            self.pages.append(PageReport(folio, part.name, page.blank, page.ends_chapter, page.right_hand, ink))

    def _draw_strip(self, strip: Strip, frame: Frame, top: float) -> None:
        strip.draw(self.pen, frame.x, frame.y + top)
        if strip.kind != "system":
            self.pen.note_placed(strip.kind, strip.name, Frame(frame.x, frame.y + top, frame.width, strip.piece.height))

    def _furnish(self, part: _Part, frame: Frame, right_hand: bool, folio: str, fresh: bool) -> None:
        if not part.furnished:
            return
        if not fresh:
            draw_head(self.desk, self.pen, frame, right_hand, self.book.title, part.head)
        draw_folio(self.desk, self.pen, frame, right_hand, folio)
        if part.tab:
            draw_tab(self.desk, self.pen, part.tab, self.weeks, right_hand)


def write_roman(number: int) -> str:
    """A small roman numeral."""
    text = ""
    for value, sign in (
        (1000, "m"),
        (900, "cm"),
        (500, "d"),
        (400, "cd"),
        (100, "c"),
        (90, "xc"),
        (50, "l"),
        (40, "xl"),
        (10, "x"),
        (9, "ix"),
        (5, "v"),
        (4, "iv"),
        (1, "i"),
    ):
        while number >= value:
            text, number = text + sign, number - value
    return text
