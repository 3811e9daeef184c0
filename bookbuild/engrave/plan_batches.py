"""Which exercises share a batch. Fonts, so bytes, depend on it: a book must come out the same whatever was kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil

BATCH_SIZE = 40
"""Exercises in a batch at most. Batches never depend on the number of cores."""


def split_batches(weights: Sequence[int], size: int = BATCH_SIZE) -> list[range]:
    """Cut a sequence into an even number of runs of at most `size` and nearly equal weight."""
    count = len(weights)
    if count < 4:
        return [range(count)] if count else []
    batches = 2 * ceil(count / (2 * size))
    total, done, at = sum(weights), 0, 0
    cuts = []
    for number in range(batches):
        start = at
        goal = total * (number + 1) / batches
        last = count - (batches - number - 1)
        while at < last and at - start < size and (at == start or done + weights[at] / 2 < goal):
            done += weights[at]
            at += 1
        cuts.append(range(start, at))
    while at < count:
        cuts.append(range(at, min(at + size, count)))
        at = cuts[-1].stop
    return cuts


def plan_batches(
    keys: Sequence[str], weights: Sequence[int], kept: set[str], earlier: Iterable[tuple[str, ...]]
) -> list[list[str]]:
    """The batches to engrave so that every key is drawn, as lists of keys; `kept` keys need no drawing.

    `earlier` are batches of former runs, as known from what was kept of them. One that is wanted as a whole and has
    lost a part is drawn again as it was; so is a whole batch that a clean build would make and nothing was kept of.
    What is left, the edited exercises, makes batches of its own.
    """
    wanted, missing = set(keys), [key for key in keys if key not in kept]
    again = [list(batch) for batch in sorted(set(earlier)) if wanted.issuperset(batch) and not kept.issuperset(batch)]
    planned: list[list[str]] = []
    open_keys = set(missing)
    for batch in [*again, *([keys[index] for index in run] for run in split_batches(weights))]:
        if open_keys.intersection(batch) and (batch in again or open_keys.issuperset(batch)):
            planned.append(batch)
            open_keys.difference_update(batch)
    rest = [key for key in missing if key in open_keys]
    weight_of = dict(zip(keys, weights, strict=True))
    runs = split_batches([weight_of[key] for key in rest])
    return [*planned, *([rest[index] for index in run] for run in runs)]
