"""Which exercises share a batch. Fonts, so bytes, depend on it: a book must come out the same whatever was kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
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


def split_batches(weights: Sequence[int]) -> list[range]:
    """Cut a sequence into full batches from its beginning, and what remains into two."""
    batches: list[range] = []
    start = 0
    for end in range(1, len(weights) + 1):
        if is_full(weights[start:end], len(batches)):
            batches.append(range(start, end))
            start = end
    return [*batches, *(range(start + run.start, start + run.stop) for run in halve(weights[start:]))]


def plan_batches(weights: Mapping[str, int], kept: Set[str], earlier: Iterable[tuple[str, ...]]) -> list[list[str]]:
    """The batches to engrave so that every key of `weights` is drawn, as lists of keys; `kept` ones need no drawing.

    `earlier` are batches of former runs, as known from what was kept of them. One that is wanted as a whole and has
    lost a part is drawn again as it was; so is a whole batch that a clean build would make and nothing was kept of.
    What is left, the edited exercises, makes batches of its own.
    """
    keys = list(weights)
    missing = [key for key in keys if key not in kept]
    again = [list(batch) for batch in sorted(set(earlier)) if weights.keys() >= set(batch) and not kept >= set(batch)]
    planned: list[list[str]] = []
    open_keys = set(missing)
    for batch in [*again, *(keys[run.start : run.stop] for run in split_batches(list(weights.values())))]:
        if open_keys.intersection(batch) and (batch in again or open_keys.issuperset(batch)):
            planned.append(batch)
            open_keys.difference_update(batch)
    rest = [key for key in missing if key in open_keys]
    runs = split_batches([weights[key] for key in rest])
    return [*planned, *(rest[run.start : run.stop] for run in runs)]
