"""Page composition as an optimisation: where pages break, and how white space is shared. Pure; lengths in points.

The book is a list of pieces (headings, systems, boxes) in reading order. Every way to break it into pages has a cost,
the sum of its pages' costs; the least is found exactly by dynamic programming over (first piece of a page, its side).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

KEEP, ORPHAN, TURN, EMPTY, TURN_AT_REST, SPLIT, PAGE = 1e6, 1e5, 3000.0, 2000.0, 600.0, 60.0, 60.0
"""Costs, so far apart that a graver fault is never bought with a few lesser ones: a heading parted from its music, a
single system alone, a page turn in mid-phrase, a page emptier than `EMPTIEST`, a turn on a rest or phrase end, an
exercise running on within a spread, a further page."""

FILL, SQUEEZE = 400.0, 60.0
"""Cost of an entirely empty page (it grows with the square) and of white space shrunk to its least."""

LAST_FILL = 0.04
"""How much less an empty end matters on the last page of a week."""

EMPTIEST = 0.35
"""Share of a page that may stay empty below its last piece; a week's last page may be emptier."""

OVERFULL = 1e8
"""Cost of a piece higher than a page, per page height it sticks out; it is set alone."""


@dataclass(frozen=True)
class Piece:
    """A strip of the page that is never broken.

    `above` is the white space over it (none at the top of a page), which may grow by `stretch` and shrink by `shrink`.
    `unit` groups the pieces of one exercise (−1: none); `music` marks its systems.
    """

    height: float
    above: float = 0.0
    stretch: float = 0.0
    shrink: float = 0.0
    unit: int = -1
    music: bool = False
    keep_next: bool = False
    """True when no page may end with it."""
    turn_ok: bool = False
    """True when a page turn after it falls on a rest or a phrase end."""
    fresh: bool = False
    """True when it begins a new page: a week, a section."""
    on_grid: bool = True
    """True when its upper edge stands on the baseline grid; systems float between."""
    at_foot: bool = False
    """True when it and all that follows on its page stand at the page's foot."""


@dataclass(frozen=True)
class PagePlan:
    """A page: pieces `first` … `last` − 1, and the top of each below the text block's upper edge.

    `hole` is the largest white strip left once white space is spread: mostly at the foot, or over the practice log.
    """

    first: int
    last: int
    right_hand: bool
    tops: tuple[float, ...]
    hole: tuple[float, float]
    ends_chapter: bool


@dataclass(frozen=True)
class Composition:
    """All pages and what they cost."""

    pages: tuple[PagePlan, ...]
    cost: float


def ends_chapter(pieces: Sequence[Piece], last: int) -> bool:
    """Whether a page that ends before piece `last` ends a week or section."""
    return last == len(pieces) or pieces[last].fresh


def page_cost(
    pieces: Sequence[Piece], first: int, last: int, right_hand: bool, height: float, single_sided: bool
) -> float:
    """What a page holding pieces `first` … `last` − 1 costs, with the break after it."""
    final = ends_chapter(pieces, last)
    cost = PAGE + _fill_cost(pieces[first:last], height, final) + _orphan_cost(pieces, first, last)
    if final:
        return cost
    before, after = pieces[last - 1], pieces[last]
    if before.keep_next:
        cost += KEEP
    if before.unit >= 0 and before.unit == after.unit:
        turns = right_hand or single_sided
        cost += SPLIT + ((TURN_AT_REST if before.turn_ok else TURN) if turns else 0.0)
    return cost


def _fill_cost(strips: Sequence[Piece], height: float, final: bool) -> float:
    """Cost of too much or too little white space on a page."""
    natural = natural_height(strips)
    if natural > height:
        shrink = sum(piece.shrink for piece in strips[1:])
        if natural - shrink > height + 1e-6:
            return OVERFULL * (1 + (natural - shrink - height) / height)
        return SQUEEZE * ((natural - height) / shrink) ** 2
    empty = (height - natural) / height
    if final:
        return FILL * LAST_FILL * empty**2
    left = empty - sum(piece.stretch for piece in strips[1:]) / height
    return FILL * empty**2 + (EMPTY if left > EMPTIEST else 0.0)


def _orphan_cost(pieces: Sequence[Piece], first: int, last: int) -> float:
    """Cost of single systems parted from two or more others of their exercise by the page's ends."""
    cost = 0.0
    for edge, outside in ((first, first - 1), (last - 1, last)):
        unit = pieces[edge].unit
        if unit < 0 or not 0 <= outside < len(pieces) or pieces[outside].unit != unit:
            continue
        here = sum(piece.music for piece in pieces[first:last] if piece.unit == unit)
        if here == 1 and _systems_of(pieces, edge) >= 3:
            cost += ORPHAN
    return cost


def _systems_of(pieces: Sequence[Piece], member: int) -> int:
    """Number of systems of the exercise piece `member` belongs to."""
    unit, low, high = pieces[member].unit, member, member
    while low > 0 and pieces[low - 1].unit == unit:
        low -= 1
    while high + 1 < len(pieces) and pieces[high + 1].unit == unit:
        high += 1
    return sum(piece.music for piece in pieces[low : high + 1])


def natural_height(strips: Sequence[Piece]) -> float:
    """Height of pieces on one page with their natural white space."""
    return sum(piece.height for piece in strips) + sum(piece.above for piece in strips[1:])


def compose_pages(
    pieces: Sequence[Piece], height: float, grid: float, *, right_first: bool = True, single_sided: bool = False
) -> Composition:
    """Break the pieces into pages of `height` at the least cost; the first is a right-hand page if `right_first`."""
    if not pieces:
        return Composition((), 0.0)
    count = len(pieces)
    best: list[list[tuple[float, int]]] = [[(0.0, count)] * 2 for _ in range(count + 1)]
    for first in range(count - 1, -1, -1):
        for side in (0, 1):
            options = []
            for last in _possible_ends(pieces, first, height):
                cost = page_cost(pieces, first, last, side == 1, height, single_sided)
                options.append((cost + best[last][1 - side][0], last))
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
