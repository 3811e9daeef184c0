"""How exercises are shared out to batches."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.engrave.plan_batches import BATCH_WEIGHT, FEW, FIRST_WEIGHT, halve, is_full

WEIGHTS = st.lists(st.integers(40, 900), min_size=1, max_size=180)


@given(WEIGHTS)
def test_halves_weigh_nearly_the_same(weights: list[int]) -> None:
    runs = halve(weights)
    assert [index for run in runs for index in run] == list(range(len(weights)))
    if len(weights) >= FEW:
        first, second = (sum(weights[index] for index in run) for run in runs)
        assert abs(first - second) <= max(weights)


def test_few_stay_together_and_nothing_makes_no_batch() -> None:
    assert halve([]) == []
    assert halve([1] * (FEW - 1)) == [range(FEW - 1)]


def test_the_first_batch_is_full_sooner() -> None:
    assert FIRST_WEIGHT < BATCH_WEIGHT
    assert [is_full([FIRST_WEIGHT], place) for place in (0, 1)] == [True, False]
    assert [is_full([BATCH_WEIGHT - 1, 1], place) for place in (0, 1)] == [True, True]
