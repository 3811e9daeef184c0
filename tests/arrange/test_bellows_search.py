"""The bellows search against brute force: every choice of turns and air button on short tunes, priced a second time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction as F
from itertools import pairwise, product

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from small_arrangements import make_bars, make_voice

from bookbuild.arrange.air import EASE
from bookbuild.arrange.bellows import REGULAR_BARS, Task, find_plan, set_task
from bookbuild.arrange.bellows_search import (
    AIR_AT_TURN,
    AIR_IN_REST,
    LEFT_OPEN,
    NEARLY,
    OVERRUN,
    PASSED,
    STRETCHED,
    UNEVEN,
    Limits,
    Part,
)
from bookbuild.arrange.bellows_turns import Turn
from bookbuild.arrange.model import Role
from bookbuild.lessons.model import Air, Tempo


def price(first: Turn, last: Turn, passed: int, regular: int, limits: Limits) -> tuple[int, F, F]:
    """The cost model written down a second time, in Fractions."""
    ticks, air = last.tick - first.tick, F(last.air - first.air) * limits.ease
    cost = passed * PASSED
    if ticks != regular:
        whole, rest = divmod(abs(ticks - regular), limits.beat)
        beats = whole + (1 if rest else 0)
        cost += NEARLY if beats == 1 else UNEVEN + beats
    if air > limits.full:
        cost += STRETCHED
    if air * (1 - EASE) > limits.full:
        whole, rest = divmod((air * (1 - EASE) - limits.full) * 20, limits.full)
        return cost + OVERRUN + int(whole) + (1 if rest else 0), F(limits.full), F(limits.full)
    return cost, air * (1 - EASE), air * (1 + EASE)


def choose_turns(turns: tuple[Turn, ...]) -> Iterator[tuple[tuple[Turn, bool], ...]]:
    """Every choice of turns, each with and without the air button."""
    for choice in product((None, False, True), repeat=len(turns)):
        yield tuple((turn, air) for turn, air in zip(turns, choice, strict=True) if air is not None)


def air_points(turn: Turn) -> int:
    return AIR_IN_REST if turn.silent else AIR_AT_TURN


def play_turns(route: tuple[Turn, ...], taken: tuple[tuple[Turn, bool], ...], regular: int, limits: Limits,
               opens: bool, low: F, high: F) -> tuple[int, bool, F, F] | None:
    """Cost, next direction and places after playing these turns; None where the air or the model forbids it."""
    cost = 0
    for (first, _), (last, air) in pairwise(taken):
        start, stop = route.index(first), route.index(last)
        points, least, most = price(first, last, sum(t.phrase for t in route[start + 1:stop]), regular, limits)
        if stop > start + 1 and (last.tick - first.tick > 2 * regular or points >= OVERRUN):
            return None
        low, high = ((low + least, min(F(limits.full), high + most)) if opens
                     else (max(F(0), low - most), high - least))
        if low > high:
            return None
        cost, opens = cost + points, not opens
        if last is not route[-1]:
            cost += last.cost
        if air:
            cost, low, high = cost + air_points(last), F(0), F(limits.full)
    return cost, opens, low, high


def finish_costs(part: Part, route: tuple[Turn, ...], beginning: tuple[tuple[Turn, bool], ...], regular: int,
                 limits: Limits, state: tuple[bool, F, F]) -> Iterator[int]:
    for taken in choose_turns(route[:-1]):
        for air in (False, True):
            played = play_turns(part.body + route, (beginning[-1], *taken, (route[-1], air)), regular, limits, *state)
            if played is None:
                continue
            cost, opens, low, high = played
            if opens is not part.opens_after:
                if air:
                    yield cost + LEFT_OPEN
            elif low <= part.goal <= high:
                yield cost


def brute_part(part: Part, regular: int, limits: Limits) -> int:
    costs = []
    for taken in choose_turns(part.body[1:]):
        for air in (False, True) if part.air_before else (False,):
            beginning = ((part.body[0], air), *taken)
            low, high = (F(0), F(limits.full)) if air else map(F, part.start)
            played = play_turns((*part.body, part.routes[0][-1]), beginning, regular, limits, part.opens, low, high)
            if played is None:
                continue
            ends = [list(finish_costs(part, route, beginning, regular, limits, played[1:])) for route in part.routes]
            if all(ends):
                costs.append(played[0] + (air_points(part.body[0]) if air else 0) + sum(map(min, ends)))
    return min(costs)


def brute_plan(task: Task, part: Part) -> int:
    lengths = {points: task.ground.bar * bars for bars, points in REGULAR_BARS.items()}
    fitting = {points: int(length) for points, length in lengths.items() if length >= task.ground.bar
               or length % task.ground.beat == 0}
    return min(points + brute_part(part, length, task.limits) for points, length in fitting.items())


NOTE_LENGTHS = st.sampled_from([F(1, 8), F(1, 4), F(3, 8), F(1, 2), F(3, 4), F(1, 1), F(-1, 8), F(-1, 4), F(-1, 2)])


@st.composite
def short_tasks(draw: st.DrawFn) -> Task:
    """Two to five bars, so few turns that all plans can be tried."""
    count = draw(st.integers(2, 5))
    signs: dict[str, dict[int, object]] = {}
    if draw(st.booleans()):
        signs = {"opens_repeat": {1: True}, "closes_repeat": {count - 1: True},
                 "ending": {count - 1: "1.", count: "2."}}
    bars = make_bars(count, phrase=draw(st.integers(1, 4)), **signs)
    end = bars[-1].end
    voices = tuple(make_voice(role, end, *draw(st.lists(NOTE_LENGTHS, min_size=1, max_size=5)))
                   for role in (Role.MELODY, Role.LEFT))
    tempo = Tempo(draw(st.integers(20, 120)), 120, F(1, 4))
    return set_task(bars, voices, tempo, Air(full=draw(st.sampled_from([4.0, 8.0, 14.0]))))


@settings(max_examples=40, deadline=None)
@given(short_tasks())
def test_search_finds_the_cost_brute_force_finds(task: Task) -> None:
    for part in task.parts:
        assume(len(part.body) - 1 + sum(len(route) - 1 for route in part.routes) <= 6)
        assert find_plan(task, part).cost == brute_plan(task, part)
