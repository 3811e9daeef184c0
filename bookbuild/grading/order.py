"""The order of weeks that the music itself suggests."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from bookbuild.grading.learning import Stage, follow_stage

POINTS_A_SKILL = 2.5
"""What a skill that is new to the student adds to a week's points when the next week is looked for; common practice,
no source."""


def suggest_order(stages: Sequence[Stage]) -> tuple[int, ...]:
    """Indices of the weeks in the order proposed.

    Week by week the smallest step is taken: among the weeks that need nothing untaught (where none is left, that lack
    least) the one with fewest points, its new skills counted in. What no week teaches is taken as known.
    """
    ever = frozenset().union(*(stage.teaches for stage in stages))
    left, order, taught = list(range(len(stages))), [], frozenset[str]()

    def rank(index: int) -> tuple[int, float, int]:
        gaps, _ = follow_stage(stages[index], taught)
        new = len(set(stages[index].skills) - taught)
        return sum(gap.need in ever for gap in gaps), stages[index].points + POINTS_A_SKILL * new, index

    while left:
        chosen = min(left, key=rank)
        _, taught = follow_stage(stages[chosen], taught)
        left.remove(chosen)
        order.append(chosen)
    return tuple(order)


def measure_agreement(order: Sequence[int]) -> float:
    """Kendall's tau between an order of 0, 1, 2 … and the rising one: 1 the same, −1 reversed.

    Source: Kendall 1938, *Biometrika* 30, 81–93 (tau a: there are no ties).
    """
    pairs = list(combinations(order, 2))
    return sum(1 if first < second else -1 for first, second in pairs) / len(pairs) if pairs else 1.0
