"""Bars on a line: phrases stay whole or are cut evenly."""

from __future__ import annotations

from fractions import Fraction as F

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.arrange.model import Arrangement, Bar, Count, CountState
from bookbuild.engrave.systems import bars_per_line, break_lines
from bookbuild.lessons.model import Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key


def arrangement(phrases: list[int], slots: int = 4, upbeat: bool = False) -> Arrangement:
    bars, now = [], F(0)
    if upbeat:
        bars.append(Bar(now, F(1, 8), 0))
        now += F(1, 8)
    ends = {sum(phrases[: i + 1]) for i in range(len(phrases))}
    for number in range(1, sum(phrases) + 1):
        bars.append(Bar(now, F(1, 2), number, phrase_end=number in ends))
        now += F(1, 2)
    slot = F(1, 4) / slots
    counts = tuple(Count(slot * i, slot, "x", CountState.OFF) for i in range(int(now / slot)))
    return Arrangement(
        "count", Meter(2, 4), Key.parse("C major"), tuple(bars), (), counts, (), (), Tempo(50, 80, F(1, 4))
    )


def row_sizes(made: Arrangement, width: float) -> list[int]:
    return [len(row) for row in break_lines(made, width)]


def test_a_phrase_of_four_that_fits_three_is_cut_in_two_and_two() -> None:
    made = arrangement([4, 4])
    width = 20.0
    assert 3 <= bars_per_line(made, width) < 4
    assert row_sizes(made, width) == [2, 2, 2, 2]


def test_two_phrases_share_a_line_when_they_fit() -> None:
    assert row_sizes(arrangement([4, 4], slots=1), 24.0) == [8]


def test_an_upbeat_stays_with_its_phrase() -> None:
    assert row_sizes(arrangement([4, 4], slots=2, upbeat=True), 20.0) == [5, 4]


@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=6),
    st.sampled_from([1, 2, 3, 4, 6]),
    st.booleans(),
    st.floats(8, 40),
)
def test_rows_hold_every_bar_once_in_order_and_never_overfill(
    phrases: list[int], slots: int, upbeat: bool, width: float
) -> None:
    made = arrangement(phrases, slots, upbeat)
    rows = break_lines(made, width)
    assert [i for row in rows for i in row] == list(range(len(made.bars)))
    fit = bars_per_line(made, width)
    for row in rows:
        full = sum(1 for i in row if made.bars[i].number)
        assert full <= max(1, fit) + 1
