"""Bars on a line: phrases stay whole or are cut evenly."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.arrange.model import Arrangement, Bar, Count, CountState
from bookbuild.engrave.systems import EASE, LEAD_EM, bar_widths, break_lines, syllable_width
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


def needed(made: Arrangement, row: range) -> float:
    """Staff heights a row of bars takes at least, with its clef."""
    widths = bar_widths(made)
    return LEAD_EM + sum(widths[i] for i in row)


def test_a_phrase_of_four_that_fits_three_is_cut_in_two_and_two() -> None:
    made = arrangement([4, 4])
    width = needed(made, range(3)) + 0.01
    assert row_sizes(made, width) == [2, 2, 2, 2]


def test_a_phrase_stays_whole_when_it_just_fits_but_two_share_a_line_only_at_ease() -> None:
    made = arrangement([4, 4])
    assert row_sizes(made, needed(made, range(4)) + 0.01) == [4, 4]
    assert row_sizes(made, needed(made, range(8)) + 0.01) == [4, 4]
    assert row_sizes(made, EASE * needed(made, range(8))) == [8]


def test_a_bar_with_a_triplet_does_not_thin_out_the_other_rows() -> None:
    made = arrangement([4, 4])
    triplet = tuple(Count(F(k, 12), F(1, 12), "la", CountState.OFF) for k in (1, 2))
    fuller = replace(made, counts=tuple(sorted((*made.counts, *triplet), key=lambda count: count.onset)))
    width = needed(made, range(4)) + 0.01
    assert row_sizes(fuller, width) == [2, 2, 4]


def test_long_syllables_take_more_room() -> None:
    made = arrangement([2])
    wide = replace(made, counts=tuple(replace(count, text="tri-o") for count in made.counts))
    assert bar_widths(wide)[0] > bar_widths(made)[0]


@pytest.mark.parametrize("text", ["1", "&", "la", "ta", "mi", "tri", "té", "di", "e", "12"])
def test_the_rule_of_thumb_for_widths_covers_the_fonts_own(text: str) -> None:
    font = TTFont(Path(__file__).parents[2] / "fonts" / "SourceSans3-Bold.ttf")
    advances, names = font["hmtx"], font.getBestCmap()
    em = 11 * 2 ** (-0.5 / 6) / 20  # the counting's size against the staff: LilyPond's text size 11 pt on a 20 pt staff
    real = sum(advances[names[ord(letter)]][0] for letter in text) / font["head"].unitsPerEm * em
    assert real - 0.03 <= syllable_width(text) <= real + 0.15


def test_two_phrases_share_a_line_when_they_fit() -> None:
    assert row_sizes(arrangement([4, 4], slots=1), 24.0) == [8]


def test_rows_are_alike_or_phrases_stand_alone() -> None:
    even, odd = arrangement([4, 4, 4, 4]), arrangement([4, 4, 4])
    width = EASE * needed(even, range(8))
    assert row_sizes(even, width) == [8, 8]
    assert row_sizes(odd, width) == [4, 4, 4]


def test_a_wider_line_does_not_spoil_even_rows() -> None:
    made = arrangement([4, 4, 4, 4])
    for bars in (8, 12):
        assert row_sizes(made, LEAD_EM + EASE * sum(bar_widths(made)[:bars]) + 0.01) == [8, 8]


def test_an_introduction_joins_the_phrase_it_leads_to() -> None:
    made = arrangement([2, 4, 4])
    assert row_sizes(made, EASE * needed(made, range(6))) == [6, 4]


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
    widths = bar_widths(made)
    for row in rows:
        full = sum(1 for i in row if made.bars[i].number)
        assert full == 1 or LEAD_EM + sum(widths[i] for i in row) <= width + 1e-6
