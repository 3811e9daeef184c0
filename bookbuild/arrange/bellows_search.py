"""The cheapest bellows spans of one passage: a best-first search that is exact, over turn moments and air.

State: the last turn, the direction from it on, and the interval of places the bellows can be at. A span that takes `a`
at ease takes between `a * low` and `a * high`, as the player chooses by pressure; the interval moves and widens by that
and is cut to the bellows' length. Since cost does not depend on where in the interval the bellows are, a state whose
interval lies inside that of a cheaper one at the same turn can be dropped: nothing is lost. The estimate of what is
still to come leaves air out of account, so it never exceeds the truth and the first complete plan is the cheapest.

Costs in points (common practice, no source): the turn's own (`bellows_turns`), `UNEVEN` and one a beat where a span
is not as long as the regular one (`NEARLY` where it misses it by a beat at most, as an upbeat does), `PASSED` for
each phrase end without a turn, and dear ones for the air button. There is always a plan: where the air does not come
out even, the air button puts the bellows where they are wanted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush
from itertools import count
from typing import NamedTuple

from bookbuild.arrange.bellows_turns import Turn

UNEVEN, NEARLY = 3, 1
PASSED = 1
STRETCHED = 4
"""A span that fits the bellows only with light pressure."""
AIR_IN_REST, AIR_AT_TURN = 20, 60
"""The air button in a rest, and where there is none."""
LEFT_OPEN = 100
"""A passage whose last span opens: the air button must shut the bellows."""
OVERRUN = 1000
"""A span longer than the bellows, plus a point for each twentieth of their length that is missing."""

_NEVER = 1 << 60


@dataclass(frozen=True)
class Limits:
    """What the bellows allow: places 0 to `full`; a span takes its air times `low` to `high`, at ease times `ease`."""

    full: int
    low: int
    ease: int
    high: int
    beat: int
    """Ticks."""


@dataclass(frozen=True)
class Part:
    """A passage for the search. `body` begins with the passage's start; each of `routes` ends it on one pass.

    `start` (least and most) and `goal` are places of the bellows; `opens` tells the first direction,
    `opens_after` the one that follows the passage.
    `air_before` allows the air button before the first span: only where the same span comes before it on every pass.
    """

    body: tuple[Turn, ...]
    routes: tuple[tuple[Turn, ...], ...]
    opens: bool = True
    start: tuple[int, int] = (0, 0)
    opens_after: bool = True
    goal: int = 0
    air_before: bool = False


class Step(NamedTuple):
    """A turn taken; `air` when the air button is used there."""

    turn: Turn
    air: bool


class Edge(NamedTuple):
    """A span that may be played: index of the turn it ends at, its cost, and the least and most air it takes."""

    to: int
    cost: int
    least: int
    most: int


class Tail(NamedTuple):
    """A way to finish a passage from a turn: its cost, the places it may begin at, the turns to come."""

    cost: int
    low: int
    high: int
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Found:
    """The cheapest plan of a part: turns taken in the body (the start first), then those of each route."""

    cost: int
    body: tuple[Step, ...]
    tails: tuple[tuple[Step, ...], ...]


def price_span(first: Turn, last: Turn, passed: int, regular: int, limits: Limits) -> tuple[int, int, int]:
    """(cost, least air, most air) of a span with `passed` phrase ends inside; the turn that ends it is not in it."""
    ticks, air = last.tick - first.tick, last.air - first.air
    cost = passed * PASSED
    if ticks != regular:
        beats = -(-abs(ticks - regular) // limits.beat)
        cost += NEARLY if beats == 1 else UNEVEN + beats
    if air * limits.ease > limits.full:
        cost += STRETCHED
    least, most = air * limits.low, air * limits.high
    if least > limits.full:
        cost += OVERRUN - (-(least - limits.full) * 20 // limits.full)
        return cost, limits.full, limits.full
    return cost, least, most


def air_cost(turn: Turn) -> int:
    """Points for using the air button at a turn."""
    return AIR_IN_REST if turn.silent else AIR_AT_TURN


def keep_best(tails: list[Tail]) -> list[Tail]:
    """The tails that no other beats in cost and places, cheapest first."""
    kept: list[Tail] = []
    for tail in sorted(tails, key=lambda tail: (tail.cost, tail.low - tail.high)):
        if not any(other.low <= tail.low and tail.high <= other.high for other in kept):
            kept.append(tail)
    return kept


class PartSearch:
    """The search over one part for spans of a regular length (ticks)."""

    def __init__(self, part: Part, regular: int, limits: Limits) -> None:
        self.part, self.regular, self.limits = part, regular, limits
        self._routes = [part.body + route for route in part.routes]
        self._passed = [self._count_phrases(route) for route in self._routes]
        self._tails: dict[tuple[int, int, bool], list[Tail]] = {}
        self._edges: dict[tuple[int, int], list[Edge]] = {}

    @staticmethod
    def _count_phrases(route: tuple[Turn, ...]) -> list[int]:
        """How many phrase ends lie at or before each turn of a route."""
        counts, now = [], 0
        for turn in route:
            now += turn.phrase
            counts.append(now)
        return counts

    def _spans_from(self, route: int, first: int) -> list[Edge]:
        """Spans from a turn of a route: up to twice the regular length, the nearest turn in any case."""
        known = self._edges.get((route, first))
        if known is None:
            known = self._edges[(route, first)] = list(self._list_spans(route, first))
        return known

    def _list_spans(self, route: int, first: int) -> Iterator[Edge]:
        turns, passed = self._routes[route], self._passed[route]
        start = turns[first]
        for to in range(first + 1, len(turns)):
            turn = turns[to]
            if to > first + 1 and (turn.tick - start.tick > 2 * self.regular
                                   or (turn.air - start.air) * self.limits.low > self.limits.full):
                return
            yield Edge(to, *price_span(start, turn, passed[to - 1] - passed[first], self.regular, self.limits))

    def _move_back(self, edge: Edge, low: int, high: int, opens: bool) -> tuple[int, int]:
        """Places from which a span can reach the interval; empty when low > high."""
        if opens:
            return max(0, low - edge.most), min(self.limits.full, high - edge.least)
        return max(0, low + edge.least), min(self.limits.full, high + edge.most)

    def _arrive(self, route: int, at: int, opens: bool) -> list[Tail]:
        """Ways to finish a route once the span before turn `at` is played; `opens` is the direction after it."""
        turn, full = self._routes[route][at], self.limits.full
        if at == len(self._routes[route]) - 1:
            if opens != self.part.opens_after:
                return [Tail(LEFT_OPEN + air_cost(turn), 0, full, (Step(turn, True),))]
            return [Tail(0, self.part.goal, self.part.goal, (Step(turn, False),)),
                    Tail(air_cost(turn), 0, full, (Step(turn, True),))]
        onward = self.finish(route, at, opens)
        ways = [Tail(turn.cost + way.cost, way.low, way.high, (Step(turn, False), *way.steps)) for way in onward]
        if onward:
            best = onward[0]
            ways.append(Tail(turn.cost + best.cost + air_cost(turn), 0, full, (Step(turn, True), *best.steps)))
        return keep_best(ways)

    def finish(self, route: int, first: int, opens: bool) -> list[Tail]:
        """Ways to finish a route whose next span runs from turn `first` into the route's own turns."""
        key = (route, first, opens)
        if key not in self._tails:
            ways = []
            for edge in reversed(self._spans_from(route, first)):
                if edge.to < len(self.part.body):
                    break
                for way in self._arrive(route, edge.to, not opens):
                    low, high = self._move_back(edge, way.low, way.high, opens)
                    if low <= high:
                        ways.append(Tail(edge.cost + way.cost, low, high, way.steps))
            self._tails[key] = keep_best(ways)
        return self._tails[key]

    @cached_property
    def estimates(self) -> list[tuple[int, int]]:
        """For each turn of the body, the least points to come if the next span closes, and if it opens, air apart."""
        body = self.part.body
        known = [(_NEVER, _NEVER)] * len(body)
        for first in range(len(body) - 1, -1, -1):
            closing, opening = (self._cost_to_finish(first, opens) for opens in (False, True))
            for edge in self._spans_from(0, first):
                if edge.to >= len(body):
                    break
                cost, (then_closing, then_opening) = edge.cost + body[edge.to].cost, known[edge.to]
                if cost + then_opening < closing:
                    closing = cost + then_opening
                if cost + then_closing < opening:
                    opening = cost + then_closing
            known[first] = (closing, opening)
        return known

    def _cost_to_finish(self, first: int, opens: bool) -> int:
        """The least points for leaving the body with the span from this turn, over all passes, air apart."""
        tails = [self.finish(route, first, opens) for route in range(len(self._routes))]
        return sum(ways[0].cost for ways in tails) if all(tails) else _NEVER

    @property
    def least_cost(self) -> int:
        """No plan of the part costs less."""
        return self.estimates[0][self.part.opens]

    def run(self) -> Found:
        """The cheapest plan. Never fails: the air button makes any passage playable."""
        part, full, order = self.part, self.limits.full, count()
        settled: dict[tuple[int, bool], list[tuple[int, int]]] = {}
        queue: list[tuple[int, int, _Label | Found]] = []

        def push(label: _Label) -> None:
            heappush(queue, (label.cost + self.estimates[label.at][label.opens], next(order), label))

        push(_Label(0, 0, part.opens, *part.start, (Step(part.body[0], False),)))
        if part.air_before:
            push(_Label(air_cost(part.body[0]), 0, part.opens, 0, full, (Step(part.body[0], True),)))
        while True:
            _, _, label = heappop(queue)
            if isinstance(label, Found):
                return label
            done = settled.setdefault((label.at, label.opens), [])
            if any(low <= label.low and label.high <= high for low, high in done):
                continue
            done.append((label.low, label.high))
            found = self._complete(label)
            if found:
                heappush(queue, (found.cost, next(order), found))
            for onward in self._go_on(label):
                push(onward)

    def _complete(self, label: _Label) -> Found | None:
        """The plan that leaves the body after this turn, with the cheapest finish on each pass."""
        chosen = []
        for route in range(len(self._routes)):
            ways = self.finish(route, label.at, label.opens)
            way = next((way for way in ways if way.low <= label.high and label.low <= way.high), None)
            if way is None:
                return None
            chosen.append(way)
        return Found(label.cost + sum(way.cost for way in chosen), label.steps, tuple(way.steps for way in chosen))

    def _go_on(self, label: _Label) -> Iterator[_Label]:
        """Every span from here to another turn of the body, with and without the air button at its end."""
        full = self.limits.full
        for edge in self._spans_from(0, label.at):
            if edge.to >= len(self.part.body):
                return
            if label.opens:
                low, high = label.low + edge.least, min(full, label.high + edge.most)
            else:
                low, high = max(0, label.low - edge.most), label.high - edge.least
            if low > high:
                continue
            turn = self.part.body[edge.to]
            cost = label.cost + edge.cost + turn.cost
            yield _Label(cost, edge.to, not label.opens, low, high, (*label.steps, Step(turn, False)))
            yield _Label(cost + air_cost(turn), edge.to, not label.opens, 0, full, (*label.steps, Step(turn, True)))


class _Label(NamedTuple):
    """A beginning of a plan: its cost, the turn reached, the next direction, the places the bellows may be at."""

    cost: int
    at: int
    opens: bool
    low: int
    high: int
    steps: tuple[Step, ...]
