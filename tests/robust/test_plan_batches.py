"""Batches come out as in a clean build, whatever the cache has lost; an edit makes a batch of its own."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.engrave.plan_batches import BATCH_SIZE, plan_batches, split_batches

WEIGHTS = st.lists(st.integers(40, 900), min_size=1, max_size=180)


def clean_plan(weights: list[int]) -> tuple[list[str], list[list[str]]]:
    keys = [f"k{index}" for index in range(len(weights))]
    return keys, plan_batches(keys, weights, set(), [])


@given(WEIGHTS)
def test_a_clean_plan_draws_everything_once_in_order(weights: list[int]) -> None:
    keys, batches = clean_plan(weights)
    assert [key for batch in batches for key in batch] == keys
    assert max(map(len, batches)) <= BATCH_SIZE
    assert len(batches) % 2 == 0 or len(keys) < 4


@given(WEIGHTS, st.data())
def test_what_was_lost_is_drawn_in_the_batches_it_was_in(weights: list[int], data: st.DataObject) -> None:
    keys, batches = clean_plan(weights)
    lost = data.draw(st.sets(st.sampled_from(keys)))
    # The entries that are left name their batches; of a batch that left none, nothing is known.
    known = [tuple(batch) for batch in batches if not lost.issuperset(batch)]
    planned = plan_batches(keys, weights, set(keys) - lost, known)
    assert sorted(planned) == sorted(batch for batch in batches if lost.intersection(batch))


@given(WEIGHTS, st.data())
def test_an_edited_exercise_is_drawn_alone(weights: list[int], data: st.DataObject) -> None:
    keys, batches = clean_plan(weights)
    edited = data.draw(st.sampled_from(range(len(keys))))
    now = [*keys[:edited], "new", *keys[edited + 1 :]]
    planned = plan_batches(now, weights, set(keys) & set(now), [tuple(batch) for batch in batches])
    assert planned == [["new"]]


@given(WEIGHTS, st.sets(st.integers(0, 179)), st.lists(st.lists(st.integers(0, 200), max_size=60), max_size=6))
def test_everything_missing_is_planned_whatever_is_remembered(
    weights: list[int], kept: set[int], earlier: list[list[int]]
) -> None:
    keys = [f"k{index}" for index in range(len(weights))]
    have = {f"k{index}" for index in kept} & set(keys)
    memories = [tuple(dict.fromkeys(f"k{index}" for index in batch)) for batch in earlier]
    planned = plan_batches(keys, weights, have, memories)
    drawn = [key for batch in planned for key in batch]
    assert set(keys) - have <= set(drawn) <= set(keys)
    assert all(planned)


@given(WEIGHTS, st.integers(1, 60))
def test_runs_cover_everything_and_are_bounded(weights: list[int], size: int) -> None:
    runs = split_batches(weights, size)
    assert [index for run in runs for index in run] == list(range(len(weights)))
    assert all(len(run) <= max(size, 3) for run in runs)
