"""Rhythm measured: syncopation, distance from the beat, speed, and how far the parts go separate ways."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from math import ceil

from bookbuild.exact import Fraction
from bookbuild.grading.parts import Music, Part, off_beat
from bookbuild.theory.meter import Meter
from bookbuild.theory.syncopation import score_syncopation, weigh_beat_distance

_PART_ALONE = 1.0
"""What every part beyond the first adds, however well the parts agree; common practice, no source."""
_CROSSING = 1.0
"""What a pair of lone strokes adds, one in each part, for each beat; common practice, no source."""
_INSIDE = 0.25
"""What a lone stroke adds that only subdivides the other part, for each beat; common practice, no source."""


def measure_syncopation(music: Music) -> float:
    """Weight of the syncopated notes a beat, in the hand that has most.

    Source: Longuet-Higgins & Lee 1984, *Music Perception* 1(4) 424–441, one added a note as in `weigh_syncopation`.
    """
    weights = [sum(lean + 1 for _, lean in list_leans(music, hand)) for hand in music.sounding]
    return float(max(weights, default=0) / music.beats)


def list_leans(music: Music, placed: Sequence[Fraction]) -> list[tuple[Fraction, int]]:
    """(moment, strength) of the syncopated notes among moments on the grid of whole bars (`find_syncopations`)."""
    meter = music.made.meter
    end = (music.bar_starts[-1] // meter.bar + 1) * meter.bar
    lengths = [after - moment for moment, after in pairwise((*placed, end))]
    leans = ((moment, _lean(moment % meter.bar, length, meter)) for moment, length in zip(placed, lengths, strict=True))
    return [(moment, lean) for moment, lean in leans if lean is not None]


@lru_cache(maxsize=1 << 14)
def _lean(place: Fraction, length: Fraction, meter: Meter) -> int | None:
    """How strongly one note at a place in the bar is syncopated; None when it is not. Bars are much alike: kept."""
    return score_syncopation((place,), place + length, meter)


def measure_beat_distance(music: Music) -> float:
    """Weighted note-to-beat distance of the hand that has most; 0 when all notes fall on beats.

    Source: Gómez, Melvin, Rappaport & Toussaint 2005 (`weigh_beat_distance`).
    """
    meter = music.made.meter
    cycle = (music.bar_starts[-1] // meter.bar + 1) * meter.bar
    weights = [weigh_beat_distance(hand, cycle, meter.beat) for hand in music.sounding]
    return float(max(weights, default=0))


def measure_rate(music: Music) -> float:
    """Strokes a second of the busiest hand in its busiest quarter of bars, at the goal tempo."""
    second = music.seconds(music.made.meter.bar)
    rates = [0.0]
    for hand in music.striking:
        counts = sorted((len(bar) for bar in music.split_bars(hand)), reverse=True)
        busiest = counts[: ceil(len(counts) / 4)]
        rates.append(sum(busiest) / len(busiest) / second)
    return max(rates)


def measure_independence(music: Music) -> float:
    """How far the parts go separate ways, a beat: 0 for one part alone.

    Parts that strike together add only their number; a shaking arm is a part where fingers move inside the shake.
    Where each of two parts has strokes that the other has not, the hands cross; where one merely divides the beats of
    the other, that adds a little.
    """
    parts = [part for part in music.parts if part.name != "clap"]
    crossing, inside = 0, 0
    for first, second in combinations(parts, 2):
        for alone, other in _lone_strokes(music, first, second):
            crossing += min(alone, other)
            inside += abs(alone - other)
    extra = max(0, len(parts) - 1 + _moves_in_shake(music))
    return extra * _PART_ALONE + float((crossing * _CROSSING + inside * Fraction(_INSIDE)) / music.beats)


def _moves_in_shake(music: Music) -> bool:
    """True when fingers go on striking inside a bellows shake."""
    shaken = [span for span in music.made.bellows if span.stroke is not None]
    return any(span.onset < moment < span.end for part in music.parts for moment in part.strikes for span in shaken)


def _lone_strokes(music: Music, first: Part, second: Part) -> Iterator[tuple[int, int]]:
    """Bar by bar: how many moments only the first part strikes, how many only the second."""
    rows = [music.split_bars(music.place(part.strikes)) for part in (first, second)]
    for one, two in zip(*rows, strict=True):
        yield len(set(one) - set(two)), len(set(two) - set(one))


def find_early_left(music: Music) -> tuple[Fraction, ...]:
    """Moments at which the left hand strikes between beats under a melody note that began before and sounds on
    for half a beat and more."""
    melody, left = music.part("melody"), music.part("left")
    if melody is None or left is None:
        return ()
    onsets, beat = [event.onset for event in melody.events], music.made.meter.beat
    found = []
    for moment, placed in zip(left.strikes, music.place(left.strikes), strict=True):
        before = bisect_left(onsets, moment) - 1
        if before >= 0 and off_beat(placed, music.made.meter) and melody.events[before].end >= moment + beat / 2:
            found.append(moment)
    return tuple(found)


def measure_counting(music: Music) -> int:
    """How finely and how variously the beat is counted; common practice, no source.

    Each way of dividing it counts once: halves (thirds of a compound beat) 1, finer divisions and tuplets 2.
    """
    meter = music.made.meter
    plain = 3 if meter.compound else 2
    found = {(place / meter.beat).denominator for hand in music.sounding for place in hand}
    return sum(1 if division == plain else 2 for division in found if division > 1)
