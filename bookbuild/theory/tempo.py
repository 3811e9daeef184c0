"""Metronome marks and the tempo ladder an exercise climbs. Tempi are whole beats a minute."""

from __future__ import annotations

from bisect import bisect_left
from functools import lru_cache
from math import lcm

from bookbuild.exact import Fraction

MAELZEL_MARKS: tuple[int, ...] = (
    *range(40, 60, 2), *range(60, 72, 3), *range(72, 120, 4), *range(120, 144, 6), *range(144, 209, 8),
)
"""The 39 marks of Maelzel's metronome: 40–60 by 2, –72 by 3, –120 by 4, –144 by 6, –208 by 8."""

FEWEST_STEPS = 4
MOST_STEPS = 8
_EASY_RATIO = Fraction(9, 8)
"""A step of up to an eighth is small enough to practise towards (common practice, no source)."""


def nearest_mark(tempo: float | Fraction) -> int:
    """The Maelzel mark nearest to a tempo in beats a minute; halfway between two, the slower one.

    Tempi off the scale get its first or last mark. Raises ValueError unless the tempo is above 0.
    """
    if not tempo > 0:
        raise ValueError(f"a tempo must be above 0 beats a minute, not {tempo}")
    return min(MAELZEL_MARKS, key=lambda mark: (abs(mark - tempo), mark))


def _count_steps(start: int, goal: int) -> int:
    """Fewest steps, within the usual bounds, that need no jump of more than `_EASY_RATIO`."""
    for steps in range(FEWEST_STEPS, MOST_STEPS):
        if goal <= start * _EASY_RATIO ** (steps - 1):
            return steps
    return MOST_STEPS


@lru_cache(maxsize=1024)
def _choose_evenly(marks: tuple[int, ...], steps: int) -> tuple[int, ...]:
    """`steps` of the marks, first and last included, whose neighbours' ratios are most alike.

    The ratios multiply to goal/start whatever is chosen, so their sum is least where they are most even (the mean
    inequality): an exact criterion without logarithms, in whole numbers over the marks' common multiple. Shortest
    paths over the marks, one layer a step.
    """
    whole = lcm(*marks)
    best: dict[int, tuple[int, tuple[int, ...]]] = {marks[0]: (0, marks[:1])}
    for _ in range(steps - 1):
        best = {
            mark: min(
                (total + mark * (whole // last), (*path, mark)) for last, (total, path) in best.items() if last < mark
            )
            for mark in marks if mark > min(best)
        }
    return best[marks[-1]][1]


def tempo_ladder(start: int, goal: int, steps: int | None = None) -> tuple[int, ...]:
    """Maelzel marks from `start` to `goal`, rising, as even in ratio as the marks allow.

    The ends are the marks nearest to `start` and `goal`. Without `steps` there are 4 to 8, more for a wider climb;
    where the scale has fewer marks between the ends, all of them are used. `steps` counts both ends.
    Raises ValueError for a goal below the start or for fewer than two steps.
    """
    if goal < start:
        raise ValueError(f"the goal of {goal} beats a minute is slower than the start of {start}")
    if steps is not None and steps < 2:
        raise ValueError(f"a tempo ladder needs at least 2 steps, not {steps}")
    low, high = nearest_mark(start), nearest_mark(goal)
    marks = MAELZEL_MARKS[bisect_left(MAELZEL_MARKS, low):bisect_left(MAELZEL_MARKS, high) + 1]
    wanted = _count_steps(low, high) if steps is None else steps
    return marks if len(marks) <= wanted else _choose_evenly(marks, wanted)
