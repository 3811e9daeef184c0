"""Rhythm measured: syncopation, distance from the beat, speed, and how far the parts go separate ways."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations
from math import ceil

from bookbuild.arrange.model import Event
from bookbuild.grading.parts import Music, Part, off_beat
from bookbuild.theory.syncopation import weigh_beat_distance, weigh_syncopation

_PART_ALONE = 1.0
"""What every part beyond the first adds, however well the parts agree; common practice, no source."""
_CROSSING = 1.0
"""What a pair of lone strokes adds, one in each part, for each beat; common practice, no source."""
_INSIDE = 0.25
"""What a lone stroke adds that only subdivides the other part, for each beat; common practice, no source."""


def measure_syncopation(music: Music) -> float:
    """Weight of the syncopated notes a beat, in the hand that has most.

    Source: Longuet-Higgins & Lee 1984, *Music Perception* 1(4) 424–441, one added a note (`weigh_syncopation`).
    """
    meter, full = music.made.meter, music.made.meter.bar
    end = -(-(music.bar_starts[-1] + music.made.bars[-1].length) // full) * full
    weights = [weigh_syncopation(music.place(hand), end, meter) for hand in music.list_hands()]
    return float(max(weights, default=0) / music.beats)


def measure_beat_distance(music: Music) -> float:
    """Weighted note-to-beat distance of the hand that has most; 0 when all notes fall on beats.

    Source: Gómez, Melvin, Rappaport & Toussaint 2005 (`weigh_beat_distance`).
    """
    meter = music.made.meter
    cycle = (music.bar_starts[-1] // meter.bar + 1) * meter.bar
    weights = [weigh_beat_distance(music.place(hand), cycle, meter.beat) for hand in music.list_hands()]
    return float(max(weights, default=0))


def measure_rate(music: Music) -> float:
    """Strokes a second of the busiest hand in its busiest quarter of bars, at the goal tempo."""
    second = music.seconds(music.made.meter.bar)
    rates = [0.0]
    for hand in music.list_hands(bellows=False):
        counts = sorted((len(bar) for bar in music.split_bars(hand)), reverse=True)
        busiest = counts[: ceil(len(counts) / 4)]
        rates.append(sum(busiest) / len(busiest) / second)
    return max(rates)


def measure_independence(music: Music) -> float:
    """How far the parts go separate ways, a beat: 0 for one part alone.

    Parts that strike together add only their number. Where each has strokes that the other has not, the hands cross;
    where one merely divides the beats of the other, that adds a little.
    """
    parts = [part for part in music.parts if part.name != "clap"]
    crossing, inside = 0, 0
    for first, second in combinations(parts, 2):
        for alone, other in _lone_strokes(music, first, second):
            crossing += min(alone, other)
            inside += abs(alone - other)
    extra = max(0, len(parts) - 1)
    return extra * _PART_ALONE + float((crossing * _CROSSING + inside * Fraction(_INSIDE)) / music.beats)


def _lone_strokes(music: Music, first: Part, second: Part) -> Iterator[tuple[int, int]]:
    """Bar by bar: how many moments only the first part strikes, how many only the second."""
    rows = (music.split_bars(first.strikes), music.split_bars(second.strikes))
    for one, two in zip(*rows, strict=True):
        yield len(set(one) - set(two)), len(set(two) - set(one))


def find_early_left(music: Music) -> tuple[Fraction, ...]:
    """Moments at which the left hand strikes between beats under a melody note that began before and sounds on."""
    melody, left = music.part("melody"), music.part("left")
    if melody is None or left is None:
        return ()
    beats = zip(left.strikes, music.place(left.strikes), strict=True)
    between = [moment for moment, placed in beats if off_beat(placed, music.made.meter)]
    return tuple(moment for moment in between if _held_over(moment, melody.events, music.made.meter.beat))


def _held_over(moment: Fraction, events: tuple[Event, ...], beat: Fraction) -> bool:
    """True when one event sounds from before a moment until at least half a beat after it."""
    return any(event.onset < moment and event.end >= moment + beat / 2 for event in events)


def measure_counting(music: Music) -> int:
    """How finely and how variously the beat is counted; common practice, no source.

    Each way of dividing it counts once: halves (thirds of a compound beat) 1, finer divisions and tuplets 2.
    """
    meter = music.made.meter
    plain = 3 if meter.compound else 2
    found = {(place / meter.beat).denominator for hand in music.list_hands() for place in music.place(hand)}
    return sum(1 if division == plain else 2 for division in found if division > 1)
