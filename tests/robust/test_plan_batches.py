"""Batches come out as in a clean build, whatever the cache has lost; an edit makes a batch of its own."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.engrave.plan_batches import BATCH_WEIGHT, FEW, FIRST_WEIGHT, halve, is_full, plan_batches, split_batches

WEIGHTS = st.lists(st.integers(40, 900), min_size=1, max_size=180)


def clean_plan(weights: list[int]) -> tuple[list[str], list[list[str]]]:
    keys = [f"k{index}" for index in range(len(weights))]
    return keys, plan_batches(weigh(keys, weights), set(), [])


def weigh(keys: list[str], weights: list[int]) -> dict[str, int]:
    return dict(zip(keys, weights, strict=True))


@given(WEIGHTS)
def test_a_clean_plan_draws_everything_once_in_order(weights: list[int]) -> None:
    keys, batches = clean_plan(weights)
    assert [key for batch in batches for key in batch] == keys
    known = weigh(keys, weights)
    sums = [sum(known[key] for key in batch) for batch in batches]
    # Full but for the last two, and never much more than full; few exercises alone are not shared out.
    full = [FIRST_WEIGHT, *[BATCH_WEIGHT] * len(batches)]
    assert all(total >= most for total, most in zip(sums[:-2], full, strict=False))
    assert all(total - known[batch[-1]] < most for total, batch, most in zip(sums, batches, full, strict=False))
    assert len(batches) > 1 or len(keys) < FEW or is_full(weights, 0)


@given(WEIGHTS, st.integers(0, 180))
def test_a_batch_is_full_whatever_follows_it(weights: list[int], count: int) -> None:
    # So that it can be engraved before the rest is known.
    runs = enumerate(split_batches(weights[:count]))
    early = [run for place, run in runs if is_full([weights[index] for index in run], place)]
    assert split_batches(weights)[:len(early)] == early


@given(WEIGHTS)
def test_halves_weigh_nearly_the_same(weights: list[int]) -> None:
    runs = halve(weights)
    assert [index for run in runs for index in run] == list(range(len(weights)))
    if len(weights) >= FEW:
        first, second = (sum(weights[index] for index in run) for run in runs)
        assert abs(first - second) <= max(weights)


@given(WEIGHTS, st.data())
def test_what_was_lost_is_drawn_in_the_batches_it_was_in(weights: list[int], data: st.DataObject) -> None:
    keys, batches = clean_plan(weights)
    lost = data.draw(st.sets(st.sampled_from(keys)))
    # The entries that are left name their batches; of a batch that left none, nothing is known.
    known = [tuple(batch) for batch in batches if not lost.issuperset(batch)]
    planned = plan_batches(weigh(keys, weights), set(keys) - lost, known)
    assert sorted(planned) == sorted(batch for batch in batches if lost.intersection(batch))


@given(WEIGHTS, st.data())
def test_an_edited_exercise_is_drawn_alone(weights: list[int], data: st.DataObject) -> None:
    keys, batches = clean_plan(weights)
    edited = data.draw(st.sampled_from(range(len(keys))))
    now = [*keys[:edited], "new", *keys[edited + 1 :]]
    planned = plan_batches(weigh(now, weights), set(keys) & set(now), [tuple(batch) for batch in batches])
    assert planned == [["new"]]


@given(WEIGHTS, st.sets(st.integers(0, 179)), st.lists(st.lists(st.integers(0, 200), max_size=60), max_size=6))
def test_everything_missing_is_planned_whatever_is_remembered(
    weights: list[int], kept: set[int], earlier: list[list[int]]
) -> None:
    keys = [f"k{index}" for index in range(len(weights))]
    have = {f"k{index}" for index in kept} & set(keys)
    memories = [tuple(dict.fromkeys(f"k{index}" for index in batch)) for batch in earlier]
    planned = plan_batches(weigh(keys, weights), have, memories)
    drawn = [key for batch in planned for key in batch]
    assert set(keys) - have <= set(drawn) <= set(keys)
    assert all(planned)
