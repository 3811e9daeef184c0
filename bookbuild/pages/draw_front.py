"""Cover, imprint, and the page of empty staves that fills an odd front matter."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.pages.barcodes import draw_ean, isbn_digits, write_isbn
from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.ink import Pen
from bookbuild.pages.logo import draw_logo
from bookbuild.pages.model import Book
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.pieces import Piece
from bookbuild.pages.typography import BASELINE, Line

BARS_ROOM = 27.0 * MM
"""Height of the ISBN's bars with their digits."""

STAFF_SPACE = 7.5 * MM / 4
"""Distance of the lines of an empty staff to write on."""


def cover_strip(desk: Desk, book: Book) -> Strip:
    """The cover: a full page drawn on the same frame as all others."""
    height = desk.sheet.text_height

    def draw(pen: Pen, x: float, y: float) -> None:
        pen.target("cover", y)
        pen.bookmark(0, desk.labels["cover"], "cover")
        _draw_cover(desk, pen, book, Frame(x, y, desk.width, height))

    return Strip(Piece(height, fresh=True), draw, ("cover",), "cover")


def _draw_cover(desk: Desk, pen: Pen, book: Book, frame: Frame) -> None:
    """Title and subtitle in the upper third over five staff lines, studio at the foot."""
    styles, setter, grid = desk.styles, desk.setter, desk.grid
    y = frame.y + round(frame.height * 0.16 / grid) * grid
    title = setter.paragraph(book.title, styles.cover, frame.width, markup=False)
    y = desk.tagged(pen, frame.x, y, title, styles.cover, "H1") + grid
    y = desk.tagged(
        pen, frame.x, y, setter.paragraph(book.subtitle, styles.cover_sub, frame.width * 0.8), styles.cover_sub
    )
    _draw_bellows(pen, Frame(frame.x, y + 3 * grid, frame.width, frame.height * 0.24))
    foot = frame.bottom - grid
    if book.edition:
        desk.tagged(pen, frame.x, foot, [setter.line(book.edition, styles.small)], styles.small)
    name = setter.line(book.imprint.name, styles.heading)
    if book.imprint.name:
        desk.tagged(pen, frame.x, foot - grid, [name], styles.heading)
    if book.imprint.logo is not None:
        draw_logo(
            pen,
            book.imprint.logo,
            Frame(frame.right - 40 * MM, frame.bottom - 20 * MM, 40 * MM, 20 * MM),
            book.imprint.name,
        )


def _draw_bellows(pen: Pen, frame: Frame) -> None:
    """The cover's only ornament: bellows, opening from left to right; every second fold lies inside."""
    count, depth = 30, 4.5 * MM
    places = [frame.x + frame.width * (0.3 * k + 0.7 * k * k / count) / count for k in range(count + 1)]
    tops = [frame.y + depth * (k % 2) for k in range(count + 1)]
    bottoms = [frame.bottom - depth * (k % 2) for k in range(count + 1)]
    with pen.artifact():
        for k, x in enumerate(places):
            pen.rule(x, tops[k], x, bottoms[k], 0.4 if k % 2 else 1.6)
        for edge in (tops, bottoms):
            for k in range(count):
                pen.rule(places[k], edge[k], places[k + 1], edge[k + 1], 0.8)


def imprint_strips(desk: Desk, book: Book) -> list[Strip]:
    """Behind the cover: what the book is about; at the foot who publishes it, rights, edition, ISBN with its bars."""
    body, small = desk.styles.body, desk.styles.small
    about = [lines for part in book.text.split("\n\n") if (lines := desk.setter.paragraph(part, body, desk.measure()))]
    strips = [_about_strip(desk, lines, first=not place) for place, lines in enumerate(about)]
    texts = dict.fromkeys([book.title, *book.imprint.lines, book.edition, book.imprint.name, book.imprint.address])
    paragraphs = [lines for text in texts if (lines := desk.setter.paragraph(text, small, desk.measure()))]
    isbn = isbn_digits(book.imprint.isbn) if book.imprint.isbn else ""
    height = sum(len(lines) + 0.5 for lines in paragraphs) * desk.grid + (BARS_ROOM + desk.grid if isbn else 0.0)

    def draw(pen: Pen, x: float, y: float) -> None:
        if not about:
            _mark_imprint(desk, pen, y)
        for paragraph in paragraphs:
            y = desk.tagged(pen, x, y, paragraph, small) + 0.5 * desk.grid
        if isbn:
            line = desk.setter.line(f"{desk.labels['isbn']} {write_isbn(isbn)}", small)
            y = desk.tagged(pen, x, y, [line], small)
            draw_ean(pen, desk.setter, isbn, x, y + 2 * MM)

    piece = Piece(desk.on_grid(height), above=2 * desk.grid, fresh=not about, at_foot=True)
    return [*strips, Strip(piece, draw, () if about else ("imprint",), "imprint")]


def _about_strip(desk: Desk, lines: Sequence[Line], first: bool) -> Strip:
    """A paragraph of the book's own text."""

    def draw(pen: Pen, x: float, y: float) -> None:
        if first:
            _mark_imprint(desk, pen, y)
        desk.tagged(pen, x, y, lines, desk.styles.body)

    piece = Piece(len(lines) * desk.grid, above=0.5 * desk.grid, fresh=first)
    return Strip(piece, draw, ("imprint",) if first else ())


def _mark_imprint(desk: Desk, pen: Pen, y: float) -> None:
    pen.target("imprint", y)
    pen.bookmark(0, desk.labels["imprint"], "imprint")


def staves_strip(desk: Desk) -> Strip:
    """A page of empty staves under the word for notes, so that the first week begins on a right-hand page."""
    height = desk.sheet.text_height

    def draw(pen: Pen, x: float, y: float) -> None:
        label = desk.setter.line(desk.labels["notes"], desk.styles.label)
        with pen.tag("P"):
            pen.text(x, y + BASELINE * desk.grid, label, desk.styles.label)
        with pen.artifact():
            draw_staves(pen, Frame(x, y + 2.5 * desk.grid, desk.width, height - 2.5 * desk.grid))

    return Strip(Piece(height, fresh=True), draw, (), "notes")


def draw_staves(pen: Pen, frame: Frame) -> None:
    """As many empty staves as the frame holds, spread evenly; the caller marks them."""
    staff = 4 * STAFF_SPACE
    count = int((frame.height + 2 * staff) // (2.6 * staff))
    pitch = (frame.height - staff) / (count - 1) if count > 1 else 0.0
    for index in range(count):
        for line in range(5):
            y = frame.y + index * pitch + line * STAFF_SPACE
            pen.rule(frame.x, y, frame.right, y, 0.4)
