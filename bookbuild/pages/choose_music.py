"""Which exercises a sheet of two pages prints: the choice that serves practice best. Pure; lengths in points.

An exercise is printed whole, on one of the pages, or not at all. Printed, it serves itself and, in part, exercises that
can be practised from its staves (the melody alone from both hands together); each is served by the best of the chosen
ones. The best choice is found exactly, by branch and bound over a fractional bound (Dantzig 1957, *Operations Research*
5(2), 266–288: the linear relaxation of a knapsack takes the best value for its room first).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

PATIENCE = 4_000
"""Branches looked at before the best choice so far is taken: weeks of up to some thirty exercises need fewer."""


@dataclass(frozen=True)
class Offer:
    """An exercise that may be printed: its `height` with the white above it, and how much it serves each exercise."""

    height: float
    serves: tuple[int, ...]
    """Points for every exercise of the week in order, its own among them; none is negative."""


@dataclass(frozen=True)
class Choice:
    """The exercises (from 0) on each page in reading order, the points they serve together, and the room they fill."""

    pages: tuple[tuple[int, ...], ...]
    points: int
    filled: float


def serve(offers: Sequence[Offer], chosen: Sequence[int]) -> int:
    """Points of a choice: every exercise counts as the best of the chosen ones serves it."""
    return sum(map(max, zip(*(offers[place].serves for place in chosen), strict=True))) if chosen else 0


def choose_music(offers: Sequence[Offer], rooms: Sequence[float]) -> Choice:
    """The choice of most points; of equal ones the one that fills more room, then the one found first."""
    search = _Search(offers, rooms)
    search.branch(0, list(rooms), [0] * len(offers), 0)
    return Choice(order_pages(offers, rooms, search.best), search.points, search.filled)


def order_pages(
    offers: Sequence[Offer], rooms: Sequence[float], pages: Sequence[Sequence[int]]
) -> tuple[tuple[int, ...], ...]:
    """The same exercises in the order of their numbers, page after page, where they fit so; else as they are."""
    chosen, place, ordered = sorted(place for page in pages for place in page), 0, []
    for room in rooms:
        page = []
        while place < len(chosen) and offers[chosen[place]].height <= room:
            room -= offers[chosen[place]].height
            page.append(chosen[place])
            place += 1
        ordered.append(tuple(page))
    return tuple(ordered) if place == len(chosen) else tuple(tuple(sorted(page)) for page in pages)


@dataclass
class _Search:
    """Depth first, the exercises with most points for their height first, each on every page it fits, then left out."""

    offers: Sequence[Offer]
    rooms: Sequence[float]
    points: int = 0
    filled: float = 0.0
    best: list[list[int]] = field(default_factory=list)
    _pages: list[list[int]] = field(default_factory=list)
    _order: list[int] = field(default_factory=list)
    _seen: int = 0

    def __post_init__(self) -> None:
        self.best, self._pages = [[] for _ in self.rooms], [[] for _ in self.rooms]
        fitting = [place for place, offer in enumerate(self.offers) if offer.height <= max(self.rooms, default=0.0)]
        self._order = sorted(fitting, key=lambda place: -sum(self.offers[place].serves) / self.offers[place].height)

    def branch(self, depth: int, rooms: list[float], served: list[int], filled: float) -> None:
        """Look at every choice that continues the one made so far, unless none can be better than the best."""
        self._seen += 1
        points = sum(served)
        if (points, round(filled, 3)) > (self.points, round(self.filled, 3)):
            self.points, self.filled = points, filled
            self.best = [list(page) for page in self._pages]
        if depth == len(self._order) or self._seen > PATIENCE or not self._may_win(depth, rooms, served, filled):
            return
        place = self._order[depth]
        offer, tried = self.offers[place], set[float]()
        for page, room in enumerate(rooms):
            if offer.height <= room and room not in tried:
                # Two pages with the same room left are the same to an exercise.
                tried.add(room)
                self._pages[page].append(place)
                left = [*rooms[:page], room - offer.height, *rooms[page + 1 :]]
                self.branch(depth + 1, left, list(map(max, served, offer.serves)), filled + offer.height)
                self._pages[page].pop()
        self.branch(depth + 1, rooms, served, filled)

    def _may_win(self, depth: int, rooms: list[float], served: list[int], filled: float) -> bool:
        """Whether the exercises left could serve more, were they cut to fill all the room that is left."""
        most, room = max(rooms), sum(rooms)
        gains = []
        for place in self._order[depth:]:
            offer = self.offers[place]
            if offer.height <= most:
                more = sum(max(0, new - old) for new, old in zip(offer.serves, served, strict=True))
                gains.append((more, offer.height))
        points = float(sum(served))
        if points + sum(gain for gain, _ in gains) == self.points:
            return filled + min(room, sum(height for _, height in gains)) > self.filled + 1e-3
        for gain, height in sorted(gains, key=lambda one: -one[0] / one[1]):
            if height >= room:
                return points + gain * room / height >= self.points
            points, room = points + gain, room - height
        return points >= self.points
