"""Measures of syncopation against the tables and examples of the literature."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.theory.meter import Meter
from bookbuild.theory.syncopation import (
    Syncopation,
    find_syncopations,
    salience,
    score_syncopation,
    weigh_beat_distance,
    weigh_syncopation,
)

METERS = ["2/4", "3/4", "4/4", "2/2", "6/8", "9/8", "12/8", "5/4"]
SIXTEENTH = Fraction(1, 16)


@pytest.mark.parametrize(
    ("meter", "unit", "weights"),
    # Longuet-Higgins & Lee 1984, through the open implementation by Smith & Honing.
    [
        ("4/4", 8, "0 -3 -2 -3 -1 -3 -2 -3"), ("6/8", 8, "0 -2 -2 -1 -2 -2"), ("3/4", 8, "0 -2 -1 -2 -1 -2"),
        ("9/8", 8, "0 -2 -2 -1 -2 -2 -1 -2 -2"), ("12/8", 8, "0 -3 -3 -2 -3 -3 -1 -3 -3 -2 -3 -3"),
        ("3/2", 8, "0 -3 -2 -3 -1 -3 -2 -3 -1 -3 -2 -3"), ("2/4", 16, "0 -3 -2 -3 -1 -3 -2 -3"),
    ],
)
def test_salience(meter: str, unit: int, weights: str) -> None:
    parsed = Meter.parse(meter)
    places = [Fraction(at, unit) for at in range(int(parsed.bar * unit))]
    assert [salience(place, parsed) for place in places] == [int(weight) for weight in weights.split()]


def onsets_of(intervals: Sequence[int], grid: int, meter: Meter) -> tuple[list[Fraction], Fraction]:
    """Onsets and end of a rhythm given as inter-onset intervals on a bar of `grid` pulses."""
    pulse = meter.bar / grid
    moments = [at * pulse for at in accumulate(intervals, initial=0)]
    return moments[:-1], moments[-1]


@pytest.mark.parametrize(
    ("intervals", "grid", "meter", "score"),
    # Longuet-Higgins & Lee 1984, Fig. 9: divisions (2 2), (2 2 2) and (3) of the bar.
    [
        ((1, 3), 4, "4/4", 1), ((2, 1, 3, 2), 8, "4/4", 2), ((3, 1), 4, "4/4", None), ((2, 1), 3, "3/4", None),
        ((1, 2), 3, "3/4", 0),
    ],
)
def test_figure_nine(intervals: tuple[int, ...], grid: int, meter: str, score: int | None) -> None:
    parsed = Meter.parse(meter)
    onsets, end = onsets_of(intervals, grid, parsed)
    assert score_syncopation(onsets, end, parsed) == score


@pytest.mark.parametrize(
    ("intervals", "grid", "meter", "weights"),
    # Further examples in the open implementation by Smith & Honing; its numbers are the strength + 1 of each note.
    [
        ((3, 1, 2), 6, "6/8", [1]), ((1, 2, 1), 4, "4/4", [2]), ((1, 2, 1, 1, 3), 8, "4/4", [2, 2]),
        ((1, 4, 3), 8, "4/4", [3, 2]), ((1, 2, 2, 2, 1), 8, "4/4", [2, 3, 2]), ((2, 1, 3, 2), 8, "4/4", [3]),
    ],
)
def test_further_examples(intervals: tuple[int, ...], grid: int, meter: str, weights: list[int]) -> None:
    parsed = Meter.parse(meter)
    onsets, end = onsets_of(intervals, grid, parsed)
    assert [item.strength + 1 for item in find_syncopations(onsets, end, parsed)] == weights
    assert weigh_syncopation(onsets, end, parsed) == sum(weights)


def read_onsets(pattern: str, pulse: Fraction) -> list[Fraction]:
    """Onsets of a rhythm written as ones and zeros, the way the literature has it."""
    return [at * pulse for at, sign in enumerate(pattern) if sign == "1"]


TIMELINES = {
    "shiko": "1000101000101000", "son": "1001001000101000", "rumba": "1001000100101000",
    "soukous": "1001001000110000", "gahu": "1001001000100010", "bossa": "1001001000100100",
}


@pytest.mark.parametrize(
    ("name", "distance"),
    # Gómez, Melvin, Rappaport & Toussaint 2005, Fig. 8; Toussaint 2013.
    [
        ("shiko", Fraction(6, 5)), ("son", Fraction(14, 5)), ("rumba", Fraction(18, 5)),
        ("soukous", Fraction(18, 5)), ("gahu", Fraction(18, 5)), ("bossa", Fraction(4)),
    ],
)
def test_sixteen_pulse_timelines(name: str, distance: Fraction) -> None:
    moments = read_onsets(TIMELINES[name], SIXTEENTH)
    assert weigh_beat_distance([16 * moment for moment in moments], 16, 4) == distance
    assert weigh_beat_distance(moments, Fraction(1), Fraction(1, 4)) == distance


@pytest.mark.parametrize(
    ("intervals", "distance"),
    # Gómez, Melvin, Rappaport & Toussaint 2005, Fig. 11 (twelve pulses, beats of three), in an open transcription.
    [
        ((2, 2, 2, 2, 1, 2, 1), Fraction(15, 7)), ((2, 2, 2, 1, 2, 2, 1), Fraction(15, 7)),
        ((2, 2, 1, 2, 2, 2, 1), Fraction(3)), ((1, 2, 2, 1, 2, 2, 2), Fraction(15, 7)),
        ((2, 2, 1, 2, 2, 1, 2), Fraction(3)), ((2, 1, 2, 1, 2, 2, 2), Fraction(15, 7)),
        ((2, 2, 2, 1, 2, 1, 2), Fraction(15, 7)), ((1, 1, 2, 2, 2, 2, 2), Fraction(3)),
        ((2, 1, 2, 2, 2, 1, 2), Fraction(15, 7)), ((2, 1, 2, 2, 1, 2, 2), Fraction(3)),
    ],
)
def test_twelve_pulse_timelines(intervals: tuple[int, ...], distance: Fraction) -> None:
    onsets = list(accumulate(intervals[:-1], initial=0))
    assert weigh_beat_distance(onsets, 12, 3) == distance


@pytest.mark.parametrize(
    ("pattern", "meter", "score"),
    # Sums of R - N by arithmetic from the rule of Longuet-Higgins & Lee 1984; no syncopation counts 0.
    [
        (TIMELINES["shiko"], "4/4", 2), (TIMELINES["son"], "4/4", 4), (TIMELINES["rumba"], "4/4", 5),
        (TIMELINES["soukous"], "4/4", 6), (TIMELINES["gahu"], "4/4", 5), (TIMELINES["bossa"], "4/4", 6),
        ("10010010", "2/4", 2), ("10110110", "2/4", 2), ("10011010", "2/4", 0),
    ],
)
def test_sums_over_dance_rhythms(pattern: str, meter: str, score: int) -> None:
    parsed = Meter.parse(meter)
    assert (score_syncopation(read_onsets(pattern, SIXTEENTH), parsed.bar, parsed) or 0) == score


# Shmulevich & Povel 2000, mean judged difficulty (1-5) of sixteen-pulse rhythms: the first twelve pulses; 1000 follows.
JUDGED = """
111110011010:1.56 111010111001:2.12 101110111001:2.08 101011111001:1.88 100110101111:1.80 111011101100:2.44
101111011001:2.20 110011111010:2.56 110010111011:3.00 101110111100:2.04 111011001101:2.76 110111101001:2.72
110110111100:3.00 110011011011:3.16 100111011101:2.04 110111101100:2.88 110111011100:2.60 110111001101:2.60
111110110100:3.08 111101001110:3.04 111001101110:3.04 101110010111:2.56 101001111011:2.56 111101010011:2.84
110111010011:3.60 110100111011:2.68 101111010011:3.28 100111110110:3.08 111101110010:3.52 111100110110:3.60
110111100110:3.04 110100111110:2.88 101001110111:3.08
"""
# Numbers 19 and 20 of the list are left out: one of them is a transcription error.


def rank(values: Sequence[float]) -> list[float]:
    """Ranks from 1, ties sharing their mean rank."""
    ordered = sorted(values)
    return [ordered.index(value) + (ordered.count(value) + 1) / 2 for value in values]


def correlate_ranks(left: Sequence[float], right: Sequence[float]) -> float:
    """Spearman's coefficient: Pearson's over the ranks."""
    a, b = rank(left), rank(right)
    mean_a, mean_b = sum(a) / len(a), sum(b) / len(b)
    top = sum((x - mean_a) * (y - mean_b) for x, y in zip(a, b, strict=True))
    return top / (sum((x - mean_a) ** 2 for x in a) * sum((y - mean_b) ** 2 for y in b)) ** 0.5


def test_spearman_itself() -> None:
    # By arithmetic: order kept 1, reversed -1; with d = (0, -1, 1, 0) over four ranks 1 - 6*2/(4*15) = 0.8.
    assert correlate_ranks([1, 5, 9], [2, 3, 4]) == pytest.approx(1)
    assert correlate_ranks([1, 5, 9], [4, 3, 2]) == pytest.approx(-1)
    assert correlate_ranks([1, 2, 3, 4], [1, 3, 2, 4]) == pytest.approx(0.8)
    assert rank([3, 1, 3]) == [2.5, 1, 2.5]


def test_rhythms_rank_as_listeners_judged_them() -> None:
    meter = Meter(4, 4)
    pairs = [entry.split(":") for entry in JUDGED.split()]
    weights = [weigh_syncopation(read_onsets(f"{rhythm}1000", SIXTEENTH), meter.bar, meter) for rhythm, _ in pairs]
    assert len(pairs) == 33
    # Measured: 0.73.
    assert correlate_ranks(weights, [float(judged) for _, judged in pairs]) > 0.7


@given(st.sampled_from(METERS), st.integers(1, 6), st.sampled_from([1, 2, 3, 4, 6, 8]))
def test_an_even_pulse_is_never_syncopated(text: str, bars: int, parts: int) -> None:
    meter = Meter.parse(text)
    if meter.compound and parts in (2, 4, 8):
        return
    pulse = meter.beat / parts
    every = [number * pulse for number in range(int(bars * meter.bar / pulse))]
    assert find_syncopations(every, bars * meter.bar, meter) == ()


def test_a_duplet_leans_against_the_compound_beat() -> None:
    # By the rule: in 6/8 the second of two even notes sounds through the third eighth, a level above its own place.
    duplet = [Fraction(0), Fraction(3, 16)]
    assert find_syncopations(duplet, Fraction(3, 8), Meter(6, 8)) == (Syncopation(Fraction(3, 16), 1),)


@given(st.sampled_from(METERS), st.sets(st.integers(0, 47), min_size=1), st.sampled_from([8, 16, 32]))
def test_syncopations_equal_a_search_over_the_grid(text: str, numbers: set[int], parts: int) -> None:
    """Against the definition itself, place by place, for rhythms on one grid without tuplets beside plain notes."""
    meter = Meter.parse(text)
    pulse = Fraction(1, parts)
    if (meter.beat / pulse).denominator != 1:
        return
    onsets = sorted(number * pulse for number in numbers)
    end = (onsets[-1] // meter.bar + 1) * meter.bar
    found = []
    for onset, following in zip(onsets, [*onsets[1:], end], strict=True):
        between = [number * pulse for number in range(int(onset / pulse) + 1, int(following / pulse))]
        if between:
            highest = max(salience(place, meter) for place in between)
            if highest >= salience(onset, meter):
                found.append(Syncopation(onset, highest - salience(onset, meter)))
    assert list(find_syncopations(onsets, end, meter)) == found


@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4"])
def test_a_triplet_is_heard_in_three(meter: str) -> None:
    """By the rule: a triplet's beat is salient like a compound beat, so long-short is plain and short-long weighs 0."""
    parsed = Meter.parse(meter)
    third = parsed.beat / 3
    assert find_syncopations([0 * third, 2 * third], parsed.beat, parsed) == ()
    assert find_syncopations([0 * third, third], parsed.beat, parsed) == (Syncopation(third, 0),)
    assert find_syncopations([0 * third, third, 2 * third], parsed.beat, parsed) == ()


@given(st.sets(st.integers(0, 15), min_size=1), st.integers(1, 3))
def test_measures_do_not_change_when_the_cycle_is_played_again(pulses: set[int], times: int) -> None:
    once = sorted(pulses)
    again = [pulse + 16 * time for time in range(2**times) for pulse in once]
    assert weigh_beat_distance(again, 16 * 2**times, 4) == weigh_beat_distance(once, 16, 4)


def test_beats_alone_measure_nothing() -> None:
    beats = (0, 4, 8, 12)
    assert weigh_beat_distance(beats, 16, 4) == 0
    assert weigh_beat_distance((), 16, 4) == 0


def test_impossible_rhythms_are_refused() -> None:
    with pytest.raises(ValueError, match="must rise"):
        find_syncopations([Fraction(1, 2), Fraction(1, 4)], Fraction(1), Meter(4, 4))
    with pytest.raises(ValueError, match="must rise"):
        find_syncopations([Fraction(1)], Fraction(1), Meter(4, 4))
    with pytest.raises(ValueError, match="inside the cycle"):
        weigh_beat_distance((3, 2), 16, 4)
