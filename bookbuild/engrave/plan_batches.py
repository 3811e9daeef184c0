"""How many exercises share a batch."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

BATCH_WEIGHT = 2600
"""A batch is full when its exercises weigh so much (`batch.weigh`). Batches never depend on the number of cores."""
FIRST_WEIGHT = 1000
"""The first batch is full sooner, so that the engraver soon has something to do."""
USUAL_WEIGHT = 100
"""What an exercise weighs."""
FEW = 4
"""Fewer exercises than this are not divided."""


def expect_batches(count: int) -> int:
    """About how many batches so many exercises make."""
    return count * USUAL_WEIGHT // BATCH_WEIGHT + 2


def is_full(weights: Sequence[int], place: int) -> bool:
    """Whether the batch at a `place` from 0 that holds such exercises takes no more."""
    return sum(weights) >= (BATCH_WEIGHT if place else FIRST_WEIGHT)


def halve(weights: Sequence[int]) -> list[range]:
    """A sequence cut into two runs of nearly equal weight, of one piece where there are few; none of nothing."""
    count = len(weights)
    if count < FEW:
        return [range(count)] if count else []
    sums = list(accumulate(weights))
    cut = min(range(1, count), key=lambda at: abs(2 * sums[at - 1] - sums[-1]))
    return [range(cut), range(cut, count)]
