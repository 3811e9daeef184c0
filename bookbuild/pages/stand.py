"""A week on one leaf for the music stand: head, practice log, and whole exercises chosen to serve the practice best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from bookbuild.pages.book import BookReport, lay_desk, print_composed
from bookbuild.pages.choose_music import Choice, Offer, choose_music, serve
from bookbuild.pages.compose import compose_given, compose_pages
from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.draw_block import BLOCK_GAP, BLOCK_SHRINK, block_strips
from bookbuild.pages.draw_header import header_strips, week_name
from bookbuild.pages.draw_log import ROW, SetLog, log_strip, log_strips
from bookbuild.pages.draw_stand import StandHeading, stand_head
from bookbuild.pages.draw_week import caution_strip
from bookbuild.pages.model import Block, Book, Plan, Stand
from bookbuild.pages.paper import PaperOptions, plan_sheet
from bookbuild.pages.pieces import Composition, Piece, natural_height
from bookbuild.pages.printer import Part, Printer

SIDES = 2
"""Pages of a leaf."""

SQUEEZE = 0.8
"""Share of the white between the systems that may be given up to make room for music."""

TALLEST_ROW = 1.6
"""How high the log's rows may grow where a page has room, in grid steps: pencils want more than print needs."""


@dataclass(frozen=True)
class Way:
    """How what is not music is set: the log's note and the week's aim or not, caution and log on which page (from 0).

    Another way than the first is taken where its music gains more than `price`, a share of all points of the week.
    """

    price: float
    note: bool = True
    aim: bool = True
    caution_page: int = 0
    log_page: int = 0


WAYS = (
    Way(0.0),
    Way(0.1, note=False),
    Way(0.15, note=False, aim=False),
    Way(0.15, note=False, caution_page=1),
    Way(0.2, note=False, aim=False, caution_page=1),
    Way(0.25, log_page=1),
    Way(0.3, note=False, log_page=1),
)


@dataclass(frozen=True)
class LeafLayout:
    """A way that fits a week, and the music chosen for the room that it leaves."""

    way: Way
    rooms: tuple[float, ...]
    """Points for music on each page, the white above its first exercise among them."""
    choice: Choice


def make_stand(
    book: Book, stand: Stand, weeks: int, options: PaperOptions, out: Path, *, created: datetime, fonts: Path
) -> BookReport:
    """Write the leaf of a week of a course of `weeks` weeks to `out`; `book` gives title, words and language.

    It has at most two pages, unless the week's own words need more. Raises what `make_book` raises.
    """
    # A leaf is turned over, not folded into a booklet; its pages keep the booklet's size and margins.
    sheet = plan_sheet(replace(options, double_sided=options.double_sided or options.booklet, booklet=False), 1)
    desk = lay_desk(book, sheet, fonts)
    strips, composed = compose_stand(desk, stand)
    name = week_name(desk, stand.week)
    head = " · ".join(filter(None, (book.imprint.name, book.title, name)))
    printer = Printer(desk, head, book.language, weeks)
    part = Part(f"week {stand.week.number}", head, stand.week.number, strips)
    nothing: tuple[list[Part], Composition] = ([], Composition((), 0.0))
    return print_composed(replace(book, subtitle=name), desk, printer, nothing, ([part], composed), out, created)


def compose_stand(desk: Desk, stand: Stand) -> tuple[list[Strip], Composition]:
    """All strips of a leaf in reading order, and where they stand."""
    layout = choose_layout(desk, stand)
    height, step, single = desk.sheet.text_height, desk.grid / 2, not desk.sheet.double_sided
    if layout is None:
        strips = _words_alone(desk, stand)
        return strips, compose_pages([strip.piece for strip in strips], height, step, single_sided=single)
    pages = [page for page in _fill_pages(desk, stand, layout) if page]
    breaks = [sum(map(len, pages[: place + 1])) for place in range(len(pages))]
    strips = [strip for page in pages for strip in page]
    return strips, compose_given([strip.piece for strip in strips], breaks, height, step, single_sided=single)


def choose_layout(desk: Desk, stand: Stand) -> LeafLayout | None:
    """The way whose music serves most, its price paid; the first of equal ones, None when no way fits."""
    offers = [_offer(desk, block, points) for block, points in zip(stand.week.blocks, stand.serves, strict=True)]
    total = serve(offers, range(len(offers)))
    sizes = _measure(desk, stand)
    found: list[tuple[float, LeafLayout]] = []
    for way in WAYS:
        rooms = sizes.rooms(way, desk.sheet.text_height)
        if min(rooms) >= 0 and (sizes.caution or not way.caution_page):
            choice = choose_music(offers, rooms)
            found.append((choice.points - way.price * total, LeafLayout(way, rooms, choice)))
    return max(found, key=lambda each: each[0])[1] if found else None


@dataclass(frozen=True)
class Sizes:
    """What is not music: the head with its aim and without, the caution, the log with its note and without."""

    heads: tuple[Piece, Piece]
    caution: Piece | None
    logs: tuple[Piece, Piece]
    gap: float
    """The white above an exercise, squeezed."""

    def rooms(self, way: Way, height: float) -> tuple[float, ...]:
        """Points left for music on each page of `height`, the white above its first exercise among them."""
        rooms = []
        for page in range(SIDES):
            pieces = [self.heads[not way.aim]] if page == 0 else []
            pieces += [self.caution] if self.caution and page == way.caution_page else []
            # A page that begins with music needs no white above it.
            used = natural_height(pieces) if pieces else -self.gap
            log = self.logs[not way.note]
            rooms.append(height - used - (log.height + log.above if page == way.log_page else 0.0))
        return tuple(rooms)


def _measure(desk: Desk, stand: Stand) -> Sizes:
    week = stand.week
    heads = (stand_head(desk, week).piece, stand_head(desk, replace(week, aim="")).piece)
    logs = tuple(log_strip(desk, _set_log(desk, stand, (), note)).piece for note in (True, False))
    caution = caution_strip(desk, week.caution).piece if week.caution else None
    return Sizes(heads, caution, (logs[0], logs[1]), desk.white * (BLOCK_GAP - SQUEEZE * BLOCK_SHRINK))


def _top_strips(desk: Desk, stand: Stand, way: Way, page: int) -> list[Strip]:
    """What stands above the music of a page."""
    week = stand.week if way.aim else replace(stand.week, aim="")
    strips = [stand_head(desk, week)] if page == 0 else []
    return [*strips, caution_strip(desk, week.caution)] if week.caution and page == way.caution_page else strips


def _offer(desk: Desk, block: Block, points: tuple[int, ...]) -> Offer:
    pieces = [strip.piece for strip in block_strips(desk, block, StandHeading(desk, block))]
    return Offer(sum(piece.height + piece.above - SQUEEZE * piece.shrink for piece in pieces), points)


def _set_log(desk: Desk, stand: Stand, shown: Sequence[str], note: bool, row: float = ROW) -> SetLog:
    """The log: an exercise whose number is `shown` has its music here, the others where their row says."""
    plan = stand.week.plan or Plan(())
    here = f"**{desk.labels['here']}**"
    rows = (replace(each.row, where=here) if each.number in shown else each.row for each in stand.rows)
    return SetLog(desk, replace(plan, rows=tuple(rows), note=plan.note if note else ""), row)


def _fill_pages(desk: Desk, stand: Stand, layout: LeafLayout) -> Iterator[list[Strip]]:
    """The strips of each page: what room the music leaves goes to its instructions, then to the log's rows."""
    way, shown = layout.way, [stand.week.blocks[place].number for page in layout.choice.pages for place in page]
    instructed: set[str] = set()
    for page, chosen in enumerate(layout.choice.pages):
        strips, said = _top_strips(desk, stand, way, page), set[str]()
        blocks = [_unsaid(stand.week.blocks[place], said) for place in chosen]
        spare = layout.rooms[page] - sum(_natural_room(block_strips(desk, b, StandHeading(desk, b))) for b in blocks)
        for block in blocks:
            plain = StandHeading(desk, block)
            heading = StandHeading(desk, block, instructed=block.instruction not in instructed)
            if heading.height - plain.height > spare:
                heading = plain
            else:
                instructed.add(block.instruction)
            spare -= heading.height - plain.height
            strips += block_strips(desk, block, heading)
        if page == way.log_page:
            row = ROW + max(0.0, spare - desk.grid) / (max(1, len(stand.rows)) * desk.grid)
            strips.append(log_strip(desk, _set_log(desk, stand, shown, way.note, min(TALLEST_ROW, row))))
        yield strips


def _unsaid(block: Block, said: set[str]) -> Block:
    """The block without the remarks already made on its page, which are noted in `said`."""
    notices = tuple(text for text in block.notices if text not in said)
    said |= set(notices)
    return replace(block, notices=notices)


def _natural_room(strips: Sequence[Strip]) -> float:
    return sum(strip.piece.height + strip.piece.above for strip in strips)


def _words_alone(desk: Desk, stand: Stand) -> list[Strip]:
    """A week whose own words fill more than a leaf: head and log on as many pages as they take."""
    week = stand.week
    strips = header_strips(desk, replace(week, text=""), name_line=True)
    strips += [caution_strip(desk, week.caution)] if week.caution else []
    return [*strips, *log_strips(desk, _set_log(desk, stand, (), True).plan)]
