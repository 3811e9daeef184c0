"""Lengths as tied values and as rests: rules of teaching texts, invariants, and music21 for what is printable."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import duration as m21_duration

from bookbuild.theory.meter import Meter
from bookbuild.theory.notes import is_printable, is_tuplet, notated_values, split_dots

METERS = ["2/4", "3/4", "4/4", "2/2", "3/2", "3/8", "6/8", "9/8", "12/8", "5/4", "7/8", "6/4"]
grid_numbers = st.integers(0, 200)


def write(values: tuple[Fraction, ...]) -> str:
    """Note values as an engraver writes them: `4.` a dotted quarter."""
    names = []
    for value in values:
        base, dots = split_dots(value)
        names.append(f"{base.denominator}{'.' * dots}" if base <= 1 else f"breve{'.' * dots}")
    return " ".join(names)


def lay_out(question: str, *, rest: bool = False) -> str:
    """The written values for a question such as `4/4 at 3/8 for 1/4`."""
    meter, _, start, _, length = question.split()
    return write(notated_values(Meter.parse(meter), Fraction(start), Fraction(length), rest=rest))


@pytest.mark.parametrize(
    "case",
    [
        # A published teaching page on ties and the middle of the bar: in 4/4, 3 + 3 + 2 eighths are not 4. 4. 4.
        "4/4 at 0 for 3/8: 4.", "4/4 at 3/8 for 3/8: 8 4", "4/4 at 3/4 for 1/4: 4",
        # A published note on half notes across beat 3 in 4/4: the half may fall on beats 2-3, not on eighths 4-7;
        # a dotted value takes the first or the last three quarters of its group.
        "4/4 at 1/4 for 1/2: 2", "4/4 at 3/8 for 1/2: 8 4.", "4/4 at 1/8 for 1/2: 4. 8", "2/4 at 1/8 for 3/8: 4.",
        # A published summary on grouping: in compound time no undotted value is longer than a beat.
        "6/8 at 0 for 1/2: 4. 8", "6/8 at 0 for 5/8: 4. 4", "12/8 at 0 for 1: 2. 4", "6/8 at 1/4 for 1/4: 8 8",
        # Common practice, no source: plain values on strong places.
        "4/4 at 0 for 1: 1", "4/4 at 0 for 3/4: 2.", "4/4 at 1/2 for 1/2: 2", "2/4 at 0 for 1/2: 2",
        "3/4 at 0 for 3/4: 2.", "3/4 at 0 for 1/2: 2", "3/4 at 1/4 for 1/2: 2", "3/4 at 1/4 for 3/8: 4.",
        "2/2 at 0 for 1: 1", "6/8 at 0 for 3/4: 2.", "9/8 at 0 for 9/8: 2. 4.", "9/8 at 3/8 for 3/4: 2.",
        "12/8 at 0 for 3/2: 1.", "12/8 at 3/8 for 3/4: 4. 4.", "3/8 at 0 for 3/8: 4.",
        # Common practice, no source: the plain syncopations and dotted figures.
        "2/4 at 1/8 for 1/4: 4", "4/4 at 5/8 for 1/4: 4", "3/4 at 1/8 for 1/4: 4", "2/4 at 1/16 for 1/8: 8",
        "2/4 at 1/16 for 3/16: 8.", "2/4 at 0 for 3/16: 8.", "6/8 at 0 for 3/16: 8.", "6/8 at 1/8 for 1/4: 4",
        "2/4 at 0 for 7/16: 4..", "4/4 at 0 for 7/8: 2..",
        # Common practice, no source: what must be tied. (A dotted half on beat 2 of 4/4 is often printed; this book
        # keeps to the stricter rule and shows the middle of the bar.)
        "4/4 at 3/8 for 1/4: 8 8", "2/4 at 3/16 for 1/8: 16 16", "2/4 at 3/16 for 5/16: 16 4",
        "2/4 at 1/8 for 3/16: 8 16", "4/4 at 1/4 for 3/8: 4 8", "4/4 at 1/4 for 3/4: 4 2", "4/4 at 0 for 5/8: 2 8",
        "4/4 at 3/8 for 5/8: 8 2", "3/4 at 0 for 5/8: 2 8", "3/4 at 1/8 for 5/8: 8 2", "3/4 at 3/8 for 3/8: 8 4",
        "2/4 at 0 for 5/16: 4 16", "6/8 at 1/8 for 5/8: 4 4.", "6/8 at 1/8 for 3/8: 4 8", "6/8 at 0 for 5/16: 4 16",
        # From one bar into the next.
        "2/4 at 1/4 for 1/2: 4 4", "3/4 at 0 for 3/2: 2. 2.", "2/4 at 3/8 for 1: 8 2 4.", "2/4 at 5/4 for 1/4: 4",
    ],
)
def test_notes(case: str) -> None:
    question, written = case.split(": ")
    assert lay_out(question) == written


@pytest.mark.parametrize(
    "case",
    [
        # Open University, "An introduction to music theory", 4.2 Grouping rests, Examples 34-36.
        "3/4 at 1/4 for 1/2: 4 4", "3/4 at 3/8 for 3/8: 8 4", "4/4 at 1/2 for 1/2: 2", "4/4 at 0 for 1/2: 2",
        "4/4 at 1/4 for 1/2: 4 4", "2/4 at 1/16 for 1/8: 16 16", "2/4 at 1/16 for 3/16: 16 8",
        # mymusictheory.com, grade 3 lesson 8: complete the beat, then whole beats; 9/8 two eighths, two dotted
        # quarters.
        "6/8 at 1/4 for 1/2: 8 4.", "9/8 at 1/8 for 1: 8 8 4. 4.", "3/4 at 1/4 for 1/4: 4",
        # Music Theory Online, grade 4, rests: 6/8 first two eighths one rest, last two always two; 4/4 halves.
        "6/8 at 0 for 1/4: 4", "6/8 at 1/8 for 1/4: 8 8", "6/8 at 3/8 for 3/8: 4.", "4/4 at 1/4 for 3/4: 4 2",
        # A published summary on grouping: dotted rests in simple time only within a beat.
        "4/4 at 0 for 3/8: 4 8", "2/4 at 0 for 3/16: 8.", "4/4 at 0 for 3/4: 2 4", "2/2 at 0 for 3/8: 4 8",
        # Common practice, no source.
        "12/8 at 0 for 3/4: 2.", "12/8 at 3/8 for 3/4: 4. 4.", "2/4 at 1/8 for 1/4: 8 8", "4/4 at 0 for 1: 1",
        "6/8 at 0 for 3/16: 8 16", "3/4 at 1/8 for 5/8: 8 4 4",
    ],
)
def test_rests(case: str) -> None:
    question, written = case.split(": ")
    assert lay_out(question, rest=True) == written


@given(st.sampled_from(METERS), grid_numbers, st.integers(1, 200), st.sampled_from([8, 16, 32, 64, 128]), st.booleans())
def test_values_sum_up_and_are_printable_inside_bars(text: str, at: int, count: int, parts: int, rest: bool) -> None:
    meter, start, length = Meter.parse(text), Fraction(at, parts), Fraction(count, parts)
    values = notated_values(meter, start, length, rest=rest)
    assert sum(values) == length
    place = start
    for value in values:
        base, dots = split_dots(value)
        assert is_printable(value)
        assert base * (2 - Fraction(1, 2**dots)) == value
        assert place // meter.bar == (place + value - Fraction(1, 256)) // meter.bar
        place += value


@given(st.sampled_from(METERS), grid_numbers, st.integers(1, 64), st.sampled_from([8, 16, 32]), st.booleans())
def test_every_value_stands_by_itself_where_it_was_put(text: str, at: int, count: int, parts: int, rest: bool) -> None:
    meter, place = Meter.parse(text), Fraction(at, parts)
    for value in notated_values(meter, place, Fraction(count, parts), rest=rest):
        assert notated_values(meter, place, value, rest=rest) == (value,)
        place += value


@given(st.integers(0, 31), st.integers(1, 32))
def test_the_middle_of_four_four_is_shown(at: int, count: int) -> None:
    meter, place = Meter(4, 4), Fraction(at, 32)
    for value in notated_values(meter, place, Fraction(count, 32)):
        inside, end = place % 1, place % 1 + value
        if inside < Fraction(1, 2) < end:
            assert inside == 0 or (inside, value) == (Fraction(1, 4), Fraction(1, 2))
        place += value


@given(st.sampled_from(["6/8", "9/8", "12/8"]), st.integers(0, 47), st.integers(1, 48), st.booleans())
def test_dotted_beats_are_shown(text: str, at: int, count: int, rest: bool) -> None:
    meter, place = Meter.parse(text), Fraction(at, 32)
    for value in notated_values(meter, place, Fraction(count, 32), rest=rest):
        end = place + value
        if place // meter.beat + 1 < end / meter.beat:
            assert place % meter.beat == 0
            assert end % meter.beat == 0
        place = end


@given(st.sampled_from(["2/4", "3/4", "4/4"]), st.integers(0, 31), st.integers(1, 32))
def test_rests_in_simple_time_show_every_beat(text: str, at: int, count: int) -> None:
    meter, place = Meter.parse(text), Fraction(at, 32)
    for value in notated_values(meter, place, Fraction(count, 32), rest=True):
        end = place + value
        if place // meter.beat + 1 < end / meter.beat:
            assert value == meter.bar or (text == "4/4" and value == Fraction(1, 2) and place % value == 0)
        place = end


@given(st.integers(1, 512), st.sampled_from([1, 2, 4, 8, 16, 32, 64, 128]))
def test_printable_values_are_those_music21_needs_no_tie_for(count: int, parts: int) -> None:
    value = Fraction(count, parts)
    theirs = m21_duration.Duration(quarterLength=value * 4)
    undotted = value / (2 - Fraction(1, 2**theirs.dots))
    fits = theirs.type != "complex" and theirs.dots <= 2
    assert is_printable(value) == (fits and undotted >= Fraction(1, 128) and value <= 3)
    if is_printable(value):
        base, dots = split_dots(value)
        assert dots == theirs.dots
        assert m21_duration.Duration(type=theirs.type).quarterLength == base * 4


@pytest.mark.parametrize(
    ("length", "tuplet"),
    [("1/4", False), ("5/16", False), ("3", False), ("1/12", True), ("1/6", True), ("1/20", True), ("7/96", True)],
)
def test_tuplets(length: str, tuplet: bool) -> None:
    assert is_tuplet(Fraction(length)) == tuplet


@pytest.mark.parametrize(
    ("start", "length", "reason"),
    [("0", "0", "cannot start"), ("0", "-1/4", "cannot start"), ("-1/4", "1/4", "cannot start"),
     ("0", "1/12", "tuplet"), ("1/12", "1/4", "tuplet"), ("0", "1/256", "finer than"), ("1/256", "1/4", "finer than")],
)
def test_what_cannot_be_written_is_refused(start: str, length: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        notated_values(Meter(4, 4), Fraction(start), Fraction(length))


def test_what_is_no_single_value_is_refused() -> None:
    with pytest.raises(ValueError, match="not one printable"):
        split_dots(Fraction(5, 16))
