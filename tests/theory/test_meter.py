"""Meters: reading, beats, and the levels of the bar."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import meter as m21_meter

from bookbuild.theory.meter import Meter, odd_part

METERS = ["2/4", "3/4", "4/4", "2/2", "3/2", "6/8", "9/8", "12/8", "5/4", "7/8", "6/16"]


@pytest.mark.parametrize("text", METERS)
def test_beats_agree_with_music21(text: str) -> None:
    theirs = m21_meter.TimeSignature(text)
    ours = Meter.parse(text)
    assert ours.beats == theirs.beatCount
    assert ours.beat == Fraction(theirs.beatDuration.quarterLength) / 4
    assert ours.bar == Fraction(theirs.barDuration.quarterLength) / 4
    assert ours.compound == (theirs.beatDivisionCount == 3)


@pytest.mark.parametrize(
    "text", ["", "4", "4/", "/4", "4/4/4", "4/3", "0/4", "25/4", "-3/4", "3/²", "²/4", "3/4\nx", "3.0/4"]
)
def test_what_is_no_meter_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match="not a meter"):
        Meter.parse(text)


def test_spaces_are_allowed() -> None:
    assert Meter.parse(" 6 / 8 ") == Meter(6, 8)
    assert str(Meter.parse("12/8")) == "12/8"


@pytest.mark.parametrize(
    ("text", "divisions"),
    # The divisions that Smith & Honing's open implementation of Longuet-Higgins & Lee 1984 lists for these meters,
    # down to the beat (compound: to its three).
    [("4/4", (2, 2)), ("3/4", (3,)), ("6/8", (2, 3)), ("9/8", (3, 3)), ("12/8", (2, 2, 3)), ("3/2", (3,))],
)
def test_divisions(text: str, divisions: tuple[int, ...]) -> None:
    assert Meter.parse(text).divisions == divisions


@pytest.mark.parametrize("text", METERS)
def test_units_multiply_to_the_bar(text: str) -> None:
    meter = Meter.parse(text)
    assert meter.units[0] == meter.bar
    assert meter.units[-1] == (meter.beat / 3 if meter.compound else meter.beat)
    for longer, shorter, division in zip(meter.units, meter.units[1:], meter.divisions, strict=False):
        assert longer == shorter * division


@given(st.sampled_from(METERS), st.integers(0, 400), st.sampled_from([16, 24, 32, 48, 80]), st.integers(0, 3))
def test_levels_repeat_and_units_reach_them(text: str, number: int, parts: int, bars: int) -> None:
    meter = Meter.parse(text)
    place = Fraction(number, parts)
    assert meter.level(place) == meter.level(place + bars * meter.bar)
    assert (meter.level(place) == 0) == (place % meter.bar == 0)
    for depth, unit in enumerate(meter.units):
        if odd_part(parts) == 1:
            assert (meter.level(place) <= depth) == (place % unit == 0)
