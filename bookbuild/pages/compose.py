"""Page composition as an optimisation: where pages break, and how white space is shared. Pure; lengths in points.

The book is a list of pieces (headings, systems, boxes) in reading order. Every way to break it into pages has a cost,
the sum of its pages' costs; the least is found exactly by dynamic programming over (first piece of a page, its side).
"""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.pages.pieces import Composition, PagePlan, Piece, ends_chapter, natural_height
from bookbuild.pages.rules import side_cost, standing_cost


def compose_pages(
    pieces: Sequence[Piece],
    height: float,
    grid: float,
    *,
    right_first: bool = True,
    single_sided: bool = False,
    page_cost: float = 0.0,
) -> Composition:
    """Break the pieces into pages of `height` at the least cost; the first is a right-hand page if `right_first`.

    `page_cost` is added for every page.
    """
    if not pieces:
        return Composition((), 0.0)
    count = len(pieces)
    best: list[list[tuple[float, int]]] = [[(0.0, count)] * 2 for _ in range(count + 1)]
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
    pages, first, side = [], 0, int(right_first)
    total = best[0][side][0]
    while first < count:
        last = best[first][side][1]
        pages.append(_plan_page(pieces, first, last, side == 1 or single_sided, height, grid))
        first, side = last, 1 - side
    return Composition(tuple(pages), total)


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
    """Move the first piece that belongs at the foot, and all after it, down to the foot of the page."""
    start = next((index for index, piece in enumerate(strips) if piece.at_foot), None)
    if start is None:
        return tuple(tops)
    drop = max(0.0, (height - tops[-1] - strips[-1].height) // grid * grid)
    return tuple(top + drop if index >= start else top for index, top in enumerate(tops))
