"""Page composition as an optimisation: where pages break, and how white space is shared. Pure; lengths in points.

The book is a list of pieces (headings, systems, boxes) in reading order. Every way to break it into pages has a cost,
the sum of its pages' costs; the least is found exactly by dynamic programming over (first piece of a page, its side).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from bookbuild.pages.pieces import Composition, PagePlan, Piece, ends_chapter, natural_height
from bookbuild.pages.rules import side_cost, standing_cost

_Sides = tuple[float, float]
"""Costs on a left-hand and on a right-hand page."""

_Best = list[list[tuple[float, int]]]
_Searched = tuple[int, _Best]


@dataclass(frozen=True)
class Layout:
    """One way to lay a chapter out: its pieces, and what choosing it costs beside its pages."""

    pieces: Sequence[Piece]
    cost: float = 0.0


def compose_pages(
    pieces: Sequence[Piece], height: float, grid: float, *, right_first: bool = True, single_sided: bool = False
) -> Composition:
    """Break the pieces into pages of `height` at the least cost; the first is a right-hand page if `right_first`."""
    chapters = [[Layout(pieces)]] if pieces else []
    return compose_chapters(chapters, height, grid, right_first=right_first, single_sided=single_sided)[1]


def compose_chapters(
    chapters: Sequence[Sequence[Layout]],
    height: float,
    grid: float,
    *,
    right_first: bool = True,
    single_sided: bool = False,
    page_cost: float = 0.0,
) -> tuple[tuple[int, ...], Composition]:
    """The layouts of the chapters, each beginning a page, that cost least together, and the pages they are broken into.

    The pieces of the pages are numbered through the chosen layouts; `page_cost` is added for every page. Later chapters
    are searched first, since a chapter only hands on which side the next one begins on.
    """
    rest: _Sides = (0.0, 0.0)
    searched: list[tuple[_Searched, _Searched]] = []
    for layouts in reversed(chapters):
        found = [(k, _search(layout, height, single_sided, page_cost, rest)) for k, layout in enumerate(layouts)]
        left, right = (min(found, key=lambda option: (option[1][0][side][0], option[0])) for side in (0, 1))
        rest = (left[1][0][0][0], right[1][0][1][0])
        searched.append((left, right))
    chosen: list[int] = []
    pages: list[PagePlan] = []
    side, offset = int(right_first), 0
    for layouts, options in zip(chapters, reversed(searched), strict=True):
        place, best = options[side]
        pieces, first = layouts[place].pieces, 0
        while first < len(pieces):
            last = best[first][side][1]
            page = _plan_page(pieces, first, last, side == 1 or single_sided, height, grid)
            pages.append(replace(page, first=offset + first, last=offset + last))
            first, side = last, 1 - side
        chosen.append(place)
        offset += len(pieces)
    return tuple(chosen), Composition(tuple(pages), rest[int(right_first)])


def _search(layout: Layout, height: float, single_sided: bool, page_cost: float, rest: _Sides) -> _Best:
    """For each piece of the layout and each side: the least cost of everything from a page that begins there, and that
    page's end. `rest` is the cost of the chapters that follow, by the side they begin on.
    """
    pieces, count = layout.pieces, len(layout.pieces)
    best: _Best = [[(0.0, count)] * 2 for _ in range(count)] + [[(cost, count) for cost in rest]]
    for first in range(count - 1, -1, -1):
        ends = [
            (last, page_cost + standing_cost(pieces, first, last, height))
            for last in _possible_ends(pieces, first, height)
        ]
        for side in (0, 1):
            options = []
            for last, cost in ends:
                sided = side_cost(pieces, first, last, side == 1, height, single_sided)
                options.append((cost + sided + best[last][1 - side][0], last))
            best[first][side] = min(options)
    best[0] = [(cost + layout.cost, last) for cost, last in best[0]]
    return best


def compose_given(
    pieces: Sequence[Piece], breaks: Sequence[int], height: float, grid: float, *, single_sided: bool = False
) -> Composition:
    """Pages that end before the pieces `breaks`, whatever that costs; each ends a chapter, none may be too full."""
    pages, cost, side = [], 0.0, True
    for first, last in pairwise((0, *breaks)):
        strips = pieces[first:last]
        tops = spread_white(strips, height, grid, final=False)
        pages.append(PagePlan(first, last, side or single_sided, tops, _find_hole(strips, tops, height), True))
        cost += standing_cost(pieces, first, last, height)
        side = not side
    return Composition(tuple(pages), cost)


def _possible_ends(pieces: Sequence[Piece], first: int, height: float) -> list[int]:
    """Every `last` a page from `first` may have: one piece at least, then while they fit and no new chapter begins."""
    ends, used = [first + 1], pieces[first].height
    for last in range(first + 1, len(pieces)):
        piece = pieces[last]
        used += piece.height + piece.above - piece.shrink
        if piece.fresh or used > height + 1e-6:
            break
        ends.append(last + 1)
    return ends


def _plan_page(
    pieces: Sequence[Piece], first: int, last: int, right_hand: bool, height: float, grid: float
) -> PagePlan:
    strips, final = pieces[first:last], ends_chapter(pieces, last)
    tops = spread_white(strips, height, grid, final)
    return PagePlan(first, last, right_hand, tops, _find_hole(strips, tops, height), final)


def _find_hole(strips: Sequence[Piece], tops: Sequence[float], height: float) -> tuple[float, float]:
    """Upper and lower edge of the largest white strip between two pieces, or between a piece and the page's end."""
    bottoms = [0.0, *(top + piece.height for top, piece in zip(tops, strips, strict=True))]
    return max(zip(bottoms, [*tops, height], strict=True), key=lambda hole: hole[1] - hole[0])


LAST_STRETCH = 0.3
"""How far white space may stretch on a week's last page, as a share of its stretch."""


def spread_white(strips: Sequence[Piece], height: float, grid: float, final: bool) -> tuple[float, ...]:
    """Tops of the pieces of one page: white space stretched or shrunk evenly, text on the baseline grid.

    On a page too full for the grid the pieces stand where their white space puts them.
    """
    spare = height - natural_height(strips)
    give = sum(piece.stretch if spare > 0 else piece.shrink for piece in strips[1:])
    ratio = max(-1.0, min(LAST_STRETCH if final else 1.0, spare / give)) if give else 0.0
    tops = _tops(strips, ratio)
    for step in range(21):
        snapped = _snap(strips, _tops(strips, max(-1.0, ratio - step / 10)), grid)
        if snapped[-1] + strips[-1].height <= height + 1e-6:
            tops = snapped
            break
    return _lower_to_foot(strips, tops, height, grid)


def _tops(strips: Sequence[Piece], ratio: float) -> list[float]:
    """Tops with every gap stretched (ratio > 0) or shrunk (ratio < 0)."""
    tops, y = [], 0.0
    for index, piece in enumerate(strips):
        if index:
            y += piece.above + ratio * (piece.stretch if ratio > 0 else piece.shrink)
        tops.append(y)
        y += piece.height
    return tops


def _snap(strips: Sequence[Piece], tops: Sequence[float], grid: float) -> list[float]:
    """Move text to the nearest grid line, and what follows with it; the order and the least white space are kept."""
    snapped: list[float] = []
    shift, floor = 0.0, 0.0
    for piece, top in zip(strips, tops, strict=True):
        if piece.on_grid:
            y = round(top / grid) * grid
            least = floor + max(0.0, piece.above - piece.shrink - grid / 4 if snapped else 0.0)
            while y < least - 1e-6:
                y += grid
            shift = y - top
        y = max(top + shift, floor)
        snapped.append(y)
        floor = y + piece.height
    return snapped


def _lower_to_foot(strips: Sequence[Piece], tops: list[float], height: float, grid: float) -> tuple[float, ...]:
    """Move the first piece that belongs at the foot, and all after it, down to the foot of the page.

    One that came to stand alone on its page begins at the top.
    """
    start = next((index for index, piece in enumerate(strips) if piece.at_foot), None)
    if start is None or (start == 0 and not strips[0].fresh):
        return tuple(tops)
    drop = max(0.0, (height - tops[-1] - strips[-1].height) // grid * grid)
    return tuple(top + drop if index >= start else top for index, top in enumerate(tops))
