"""Metronome marks and tempo ladders."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.theory.tempo import MAELZEL_MARKS, nearest_mark, tempo_ladder

tempi = st.integers(20, 260)


def test_the_scale() -> None:
    """Maelzel's metronome scale: 39 marks, 40-60 by 2, -72 by 3, -120 by 4, -144 by 6, -208 by 8."""
    marks = [40]
    for limit, step in ((60, 2), (72, 3), (120, 4), (144, 6), (208, 8)):
        while marks[-1] < limit:
            marks.append(marks[-1] + step)
    assert list(MAELZEL_MARKS) == marks
    assert len(MAELZEL_MARKS) == 39
    # Marks every player has seen on the dial (common practice, no source).
    assert {60, 63, 66, 69, 72, 76, 80, 120, 126, 132, 144, 152, 208} <= set(MAELZEL_MARKS)


@given(st.integers(1, 400))
def test_no_mark_is_nearer(tempo: int) -> None:
    mark = nearest_mark(tempo)
    assert mark in MAELZEL_MARKS
    gap = abs(mark - tempo)
    assert all(gap <= abs(other - tempo) for other in MAELZEL_MARKS)
    assert all(gap < abs(other - tempo) for other in MAELZEL_MARKS if other < mark)


@pytest.mark.parametrize(("tempo", "mark"), [(41, 40), (61, 60), (62, 63), (74, 72), (75, 76), (10, 40), (300, 208)])
def test_halfway_is_rounded_down(tempo: int, mark: int) -> None:
    assert nearest_mark(tempo) == mark


@given(tempi, tempi, st.none() | st.integers(2, 12))
def test_ladders(start: int, goal: int, steps: int | None) -> None:
    start, goal = sorted((start, goal))
    ladder = tempo_ladder(start, goal, steps)
    assert set(ladder) <= set(MAELZEL_MARKS)
    assert ladder[0] == nearest_mark(start)
    assert ladder[-1] == nearest_mark(goal)
    assert all(slower < faster for slower, faster in pairwise(ladder))
    between = [mark for mark in MAELZEL_MARKS if ladder[0] <= mark <= ladder[-1]]
    if steps is None:
        assert len(ladder) <= 8
        assert len(ladder) >= min(4, len(between))
    else:
        assert len(ladder) == min(steps, len(between))
    if len(between) < 4 and (steps is None or steps >= len(between)):
        assert list(ladder) == between


@given(tempi, tempi, tempi)
def test_a_wider_climb_never_has_fewer_steps(start: int, middle: int, goal: int) -> None:
    start, middle, goal = sorted((start, middle, goal))
    assert len(tempo_ladder(start, middle)) <= len(tempo_ladder(start, goal))


def unevenness(ladder: tuple[int, ...]) -> float:
    """Variance of the steps' logarithms: 0 when every step has the same ratio."""
    steps = [log(faster / slower) for slower, faster in pairwise(ladder)]
    mean = sum(steps) / len(steps)
    return sum((step - mean) ** 2 for step in steps)


@given(st.integers(0, 38), st.integers(1, 14), st.integers(3, 6))
def test_no_choice_of_marks_is_more_even(first: int, width: int, steps: int) -> None:
    """Brute force over every choice of marks, by a criterion of its own."""
    marks = MAELZEL_MARKS[first : first + width + 1]
    if len(marks) < steps:
        return
    ladder = tempo_ladder(marks[0], marks[-1], steps)
    least = min(unevenness((marks[0], *inner, marks[-1])) for inner in combinations(marks[1:-1], steps - 2))
    assert unevenness(ladder) == pytest.approx(least, abs=1e-12)


@pytest.mark.parametrize(
    ("start", "goal", "ladder"),
    # By hand from the scale: too few marks between the ends, so all are taken.
    [(60, 66, (60, 63, 66)), (60, 60, (60,)), (60, 69, (60, 63, 66, 69)), (200, 260, (200, 208)), (20, 30, (40,))],
)
def test_narrow_climbs_take_every_mark(start: int, goal: int, ladder: tuple[int, ...]) -> None:
    assert tempo_ladder(start, goal) == ladder


def test_what_cannot_be_climbed_is_refused() -> None:
    with pytest.raises(ValueError, match="slower than the start"):
        tempo_ladder(80, 60)
    with pytest.raises(ValueError, match="at least 2 steps"):
        tempo_ladder(60, 80, 1)
    with pytest.raises(ValueError, match="above 0"):
        nearest_mark(0)
    with pytest.raises(ValueError, match="above 0"):
        nearest_mark(float("nan"))
