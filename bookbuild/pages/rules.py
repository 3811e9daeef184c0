"""The rules of the page as costs, and the faults a composition could not avoid. Pure; lengths in points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bookbuild.pages.pieces import Composition, Piece, ends_chapter, natural_height

KEEP, ORPHAN, TURN = 1e6, 1e5, 12000.0
"""Costs of what no reader forgives: a heading parted from its music, a single system left alone, a page turn in
mid-phrase. They lie so far apart that a graver fault is never bought with a few lesser ones."""

EMPTY, EMPTIER = 4000.0, 5000.0
"""Cost of a page emptier than `EMPTIEST`, and of a whole page more of emptiness beyond that."""

SPREAD, TURN_AT_REST = 1500.0, 1000.0
"""Cost of a turn on a rest or phrase end inside a piece that would fill a spread, and inside another exercise: either
is better than a page too empty."""

LEAF, LEAF_IN_PHRASE = 200.0, 1200.0
"""Cost of a page break inside an exercise of a single-sided book, on a rest or phrase end and elsewhere: its leaves can
lie side by side on the stand."""

SINGLE, ALONE, INSIDE = 1200.0, 400.0, 1500.0
"""Cost of a single system of three or more on the page that faces the others, of a practice log alone on a page, and of
something inside a page that should lead it."""

SPLIT, PAGE, SCARCE_PAGE = 60.0, 200.0, 20000.0
"""Cost of an exercise that runs on within a spread, of a further page, and of one more where pages are scarce: a tune's
sheet takes the fewest, wherever they break."""

FILL, SQUEEZE = 1500.0, 200.0
"""Cost of an entirely empty page (it grows with the square) and of white space shrunk to its least."""

LAST_FILL = 0.04
"""How much less an empty end matters on the last page of a week."""

EMPTIEST = 0.35
"""Share of a page that may stay empty below its last piece; a week's last page may be emptier."""

OVERFULL = 1e8
"""Cost of a piece higher than a page, per page height it sticks out; it is set alone."""


def page_cost(
    pieces: Sequence[Piece], first: int, last: int, right_hand: bool, height: float, single_sided: bool
) -> float:
    """What a page holding pieces `first` … `last` − 1 costs, with the break after it."""
    side = side_cost(pieces, first, last, right_hand, height, single_sided)
    return standing_cost(pieces, first, last, height) + side


def standing_cost(pieces: Sequence[Piece], first: int, last: int, height: float) -> float:
    """What the page costs on either side of the book."""
    final = ends_chapter(pieces, last)
    cost = PAGE + _fill_cost(pieces[first:last], height, final) + (ALONE if pieces[first].at_foot else 0.0)
    cost += INSIDE * sum(piece.leads for piece in pieces[first + 1 : last])
    if final:
        return cost
    before = pieces[last - 1]
    if before.keep_next:
        cost += KEEP
    return cost + (SPLIT if before.unit >= 0 and before.unit == pieces[last].unit else 0.0)


def side_cost(
    pieces: Sequence[Piece], first: int, last: int, right_hand: bool, height: float, single_sided: bool
) -> float:
    """What the page costs as a left-hand or right-hand one: the turn after it, single systems at its ends."""
    turn = turn_cost(pieces, last, right_hand, height, single_sided)
    return turn + sum(single_systems(pieces, first, last, right_hand, single_sided))


def turn_cost(pieces: Sequence[Piece], last: int, right_hand: bool, height: float, single_sided: bool) -> float:
    """What the break before piece `last` costs because the page is turned there, inside an exercise."""
    if not (right_hand or single_sided) or ends_chapter(pieces, last):
        return 0.0
    before = pieces[last - 1]
    if before.unit < 0 or before.unit != pieces[last].unit:
        return 0.0
    if single_sided:
        return LEAF if before.turn_ok else LEAF_IN_PHRASE
    if not before.turn_ok:
        return TURN
    return SPREAD if fills_a_spread(pieces, last, height) else TURN_AT_REST


def fills_a_spread(pieces: Sequence[Piece], member: int, height: float) -> bool:
    """Whether the exercise of piece `member` is too long for one page and fits on two."""
    low, high = _unit_bounds(pieces, member)
    return height < natural_height(pieces[low:high]) <= 2 * height


def _fill_cost(strips: Sequence[Piece], height: float, final: bool) -> float:
    """Cost of too much or too little white space on a page."""
    natural = natural_height(strips)
    if natural > height + 1e-6:
        shrink = sum(piece.shrink for piece in strips[1:])
        if natural - shrink > height + 1e-6:
            return OVERFULL * (1 + (natural - shrink - height) / height)
        return SQUEEZE * ((natural - height) / shrink) ** 2
    empty = (height - natural) / height
    if final:
        return FILL * LAST_FILL * empty**2
    beyond = empty - sum(piece.stretch for piece in strips[1:]) / height - EMPTIEST
    return FILL * empty**2 + (EMPTY + EMPTIER * beyond if beyond > 0 else 0.0)


def single_systems(
    pieces: Sequence[Piece], first: int, last: int, right_hand: bool, single_sided: bool
) -> list[float]:
    """Costs of the single systems that the page's beginning and end part from the rest of their exercise.

    One of three or more is left alone when a turn parts it from the others (the leaves of a single-sided book lie side
    by side), and any one when it has the page to itself.
    """
    costs = []
    for edge, outside, turned in ((first, first - 1, not right_hand), (last - 1, last, right_hand)):
        unit = pieces[edge].unit
        if unit < 0 or not 0 <= outside < len(pieces) or pieces[outside].unit != unit:
            continue
        if sum(piece.music for piece in pieces[first:last] if piece.unit == unit) != 1:
            continue
        if last - first == 1:
            costs.append(ORPHAN)
        elif _systems_of(pieces, edge) >= 3:
            costs.append(ORPHAN if turned and not single_sided else SINGLE)
    return costs


def _systems_of(pieces: Sequence[Piece], member: int) -> int:
    """Number of systems of the exercise piece `member` belongs to."""
    low, high = _unit_bounds(pieces, member)
    return sum(piece.music for piece in pieces[low:high])


def _unit_bounds(pieces: Sequence[Piece], member: int) -> tuple[int, int]:
    """First and last + 1 of the pieces of an exercise."""
    unit, low, high = pieces[member].unit, member, member + 1
    while low > 0 and pieces[low - 1].unit == unit:
        low -= 1
    while high < len(pieces) and pieces[high].unit == unit:
        high += 1
    return low, high


@dataclass(frozen=True)
class Fault:
    """A rule broken because nothing better was possible, on page `page` (from 0).

    `kind`: "heading" parted from its music, "orphan" system left alone, "turn" in mid-phrase, "spread" (a piece of two
    pages that do not face each other), "split" (another exercise turned on a rest or phrase end), "leaf" (an exercise
    of a single-sided book that breaks in mid-phrase), "empty" page, "overfull" page.
    """

    kind: str
    page: int
    unit: int


_TURNS = {TURN: "turn", LEAF_IN_PHRASE: "leaf", SPREAD: "spread", TURN_AT_REST: "split"}


def find_faults(pieces: Sequence[Piece], found: Composition, height: float, single_sided: bool) -> tuple[Fault, ...]:
    """Every rule of the page that the composition breaks."""
    faults = []
    for index, page in enumerate(found.pages):
        strips, before = pieces[page.first : page.last], pieces[page.last - 1]
        if page.tops[-1] + strips[-1].height > height + 1e-6:
            faults.append(Fault("overfull", index, before.unit))
        if ORPHAN in single_systems(pieces, page.first, page.last, page.right_hand, single_sided):
            faults.append(Fault("orphan", index, before.unit))
        if page.ends_chapter:
            continue
        if before.keep_next:
            faults.append(Fault("heading", index, before.unit))
        if page.hole[1] - page.hole[0] > EMPTIEST * height:
            faults.append(Fault("empty", index, before.unit))
        kind = _TURNS.get(turn_cost(pieces, page.last, page.right_hand, height, single_sided))
        if kind:
            faults.append(Fault(kind, index, before.unit))
    return tuple(faults)
