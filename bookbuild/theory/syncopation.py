"""Measures of syncopation from the literature: what a rhythm holds against its meter.

Moments are Fractions of a whole note counted from a downbeat, in any meter; a cycle may also be given in pulses, as
rhythms such as `1001001000101000` are written in the literature.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from bookbuild.exact import Fraction
from bookbuild.theory.meter import Meter, odd_part


@dataclass(frozen=True)
class Syncopation:
    """A note that sounds on through a place at least as strong as its own.

    `strength` is 0 for an equally strong place and grows by one for each level the place lies higher.
    """

    onset: Fraction
    strength: int


def salience(place: Fraction, meter: Meter) -> int:
    """Weight of a place in the bar: 0 the downbeat, −k what is first reached by the k-th division.

    Source: Longuet-Higgins & Lee 1984, *Music Perception* 1(4) 424–441.
    """
    return -meter.level(place)


def _tuplet_of(place: Fraction, meter: Meter) -> int:
    """3, 5… when a place lies on a tuplet of its beat, else 1."""
    return odd_part((place / meter.beat * (3 if meter.compound else 1)).denominator)


def _grids_inside_beat(meter: Meter, tuplet: int) -> Iterator[Fraction]:
    """Ever finer grids of one beat, as lengths: its thirds when compound, its tuplet if it has one, then halves."""
    step = meter.beat
    for division in ((3,) if meter.compound else ()) + ((tuplet,) if tuplet > 1 else ()):
        step /= division
        yield step
    while True:
        step /= 2
        yield step


def _strongest_between(start: Fraction, stop: Fraction, meter: Meter) -> int:
    """Highest salience of the places strictly between two moments."""
    beat = start // meter.beat + 1
    if beat * meter.beat < stop:
        # Any beat outweighs the places inside beats, so only beats need comparing.
        best = salience(beat * meter.beat, meter)
        while best < 0 and (beat + 1) * meter.beat < stop:
            beat += 1
            best = max(best, salience(beat * meter.beat, meter))
        return best
    # Inside one beat its notes decide whether it is heard in halves or in a tuplet.
    tuplet = max(_tuplet_of(start, meter), _tuplet_of(stop, meter))
    depth_of_beat = meter.units.index(meter.beat)
    grids = enumerate(_grids_inside_beat(meter, tuplet), start=depth_of_beat + 1)
    return -next(depth for depth, step in grids if (start // step + 1) * step < stop)


def find_syncopations(onsets: Sequence[Fraction], end: Fraction, meter: Meter) -> tuple[Syncopation, ...]:
    """Every syncopated note of a rhythm, in order.

    `onsets` rise, count from a downbeat and may span several bars; `end` is the onset heard after the last one, as a
    rule the next downbeat. A note counts when the strongest place before the next onset is no weaker than its own.
    Raises ValueError when the onsets do not rise to `end`.
    Source: Longuet-Higgins & Lee 1984, *Music Perception* 1(4) 424–441.
    """
    found = []
    for onset, following in pairwise((*onsets, end)):
        if following <= onset:
            raise ValueError(f"the onsets must rise: {following} does not come after {onset}")
        strength = _strongest_between(onset, following, meter) - salience(onset, meter)
        if strength >= 0:
            found.append(Syncopation(onset, strength))
    return tuple(found)


def score_syncopation(onsets: Sequence[Fraction], end: Fraction, meter: Meter) -> int | None:
    """Sum of the strengths of `find_syncopations`, None when no note is syncopated."""
    found = find_syncopations(onsets, end, meter)
    return sum(item.strength for item in found) if found else None


def weigh_syncopation(onsets: Sequence[Fraction], end: Fraction, meter: Meter) -> int:
    """Sum of strength + 1 over the syncopated notes: 0 for a plain rhythm, so rhythms can be ranked.

    The added one, which tells a weak syncopation from none, follows the open implementation by Smith & Honing.
    """
    return sum(item.strength + 1 for item in find_syncopations(onsets, end, meter))


def _gaps(onsets: Sequence[Fraction | int], cycle: Fraction | int) -> list[Fraction]:
    """Length of each note of a cycle up to the next onset; the last reaches the first of the next cycle."""
    if not all(0 <= onset < cycle for onset in onsets) or any(b <= a for a, b in pairwise(onsets)):
        raise ValueError("the onsets must rise and lie inside the cycle")
    return [Fraction(b - a) for a, b in pairwise((*onsets, onsets[0] + cycle))] if onsets else []


def weigh_beat_distance(
    onsets: Sequence[Fraction | int], cycle: Fraction | int, beat: Fraction | int
) -> Fraction:
    """Weighted note-to-beat distance (WNBD): mean over the notes of a cycle; 0 when all fall on beats.

    `onsets` and `beat` share one unit (pulses or whole notes); `cycle` is the length after which the rhythm repeats.
    A note off the beat weighs one over its distance to the nearest beat, in beats, and twice that when it sounds past
    the following beat and stops before the one after. Raises ValueError for onsets outside the cycle.
    Source: Gómez, Melvin, Rappaport & Toussaint 2005; their printed table needs "before", not "at or before" (soukous).
    """
    gaps = _gaps(onsets, cycle)
    total = sum((_off_beat_weight(Fraction(onset % beat), gap, Fraction(beat))
                 for onset, gap in zip(onsets, gaps, strict=True)), Fraction(0))
    return total / len(onsets) if onsets else total


@lru_cache(maxsize=1 << 12)
def _off_beat_weight(place: Fraction, length: Fraction, beat: Fraction) -> Fraction:
    """What one note at a place in the beat weighs in `weigh_beat_distance`."""
    into = place / beat
    if into == 0:
        return Fraction(0)
    ends = into + length / beat
    return (2 if 1 < ends < 2 else 1) / min(into, 1 - into)
