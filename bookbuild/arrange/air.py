"""How much air the sounding voices take, and the moments at which no note is held: what a bellows plan starts from.

Time is laid on a whole-number grid so that the planner compares integers, never rounded figures. Air is counted in
units: one unit is what one voice at ease takes in a tick, divided so that the share of a further voice is whole too.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import lcm
from typing import TypeAlias

from bookbuild.arrange.model import Bar, Event, Role, Voice
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Air, Tempo

EASE = Fraction(1, 5)
"""How much more or less air than at ease a player can spend on a stretch by pressure; common practice, no source."""

Notes: TypeAlias = tuple[tuple[int, ...], tuple[int, ...]]
"""Sorted onsets and ends of a voice's notes, in ticks."""


@dataclass(frozen=True)
class Sound:
    """The sound of some voices on a grid of `grid` ticks a whole note, from 0 to the music's end.

    Between `changes[k]` and `changes[k + 1]` (ticks) `sounding[k]` voices sound; `spent[k]` units of air are used by
    `changes[k]`. `notes` holds, voice by voice, the sorted onsets and ends of its notes. `full` is what the bellows
    hold, in units.
    """

    grid: int
    changes: tuple[int, ...]
    sounding: tuple[int, ...]
    spent: tuple[int, ...]
    rates: tuple[int, ...]
    """Units a tick for 0, 1, 2… sounding voices."""
    notes: tuple[Notes, ...]
    accents: frozenset[int]
    full: Fraction

    def tick(self, moment: Fraction) -> int:
        """A moment in whole notes as ticks; raises ValueError when it is not on the grid."""
        ticks = moment * self.grid
        if ticks.denominator != 1:
            raise ValueError(f"{moment} does not lie on a grid of {self.grid} to the whole note")
        return ticks.numerator

    def air_until(self, tick: int) -> int:
        """Units of air used from the start to a tick."""
        index = bisect_right(self.changes, tick) - 1
        return self.spent[index] + (tick - self.changes[index]) * self.rates[self.sounding[index]]

    def is_free(self, tick: int) -> bool:
        """True when no note of any voice is held through the tick (beginning or ending there is free)."""
        for onsets, ends in self.notes:
            index = bisect_left(onsets, tick) - 1
            if index >= 0 and ends[index] > tick:
                return False
        return True

    def list_silences(self, least: int) -> list[tuple[int, int]]:
        """(start, end) of the stretches of at least `least` ticks in which no voice sounds."""
        found: list[tuple[int, int]] = []
        for start, end, voices in zip(self.changes, self.changes[1:], self.sounding, strict=False):
            if voices:
                continue
            if found and found[-1][1] == start:
                found[-1] = (found[-1][0], end)
            else:
                found.append((start, end))
        return [(start, end) for start, end in found if end - start >= least]


def play_seconds(tempo: Tempo, bpm: int | None = None) -> Fraction:
    """Seconds a whole note lasts at `bpm` beats a minute (None: the slowest step of the ladder)."""
    return Fraction(60, bpm or tempo.start) / tempo.beat


def measure_sound(voices: Iterable[Voice], bars: Sequence[Bar], air: Air, seconds: Fraction,
                  moments: Iterable[Fraction] = ()) -> Sound:
    """Lay voices on a grid and add up their air; claps take none.

    `seconds` is how long a whole note lasts; `moments` are further moments that must lie on the grid.
    """
    heard = [[e for e in voice.events if e.pitches and e.length > 0] for voice in voices if voice.role is not Role.CLAP]
    times = [*moments, *(time for bar in bars for time in (bar.onset, bar.length))]
    times += [time for events in heard for event in events for time in (event.onset, event.length)]
    grid = lcm(*{time.denominator for time in times})
    notes = [_lay_notes(events, grid) for events in heard]
    share = _exact(air.voice)
    rates = tuple(share.denominator + share.numerator * (n - 1) if n else 0 for n in range(len(notes) + 1))
    changes, sounding = _count_voices(notes, _whole(bars[-1].end, grid))
    spent = [0]
    for start, end, count in zip(changes, changes[1:], sounding, strict=False):
        spent.append(spent[-1] + (end - start) * rates[count])
    return Sound(grid, changes, sounding, tuple(spent), rates, tuple(notes),
                 frozenset(_whole(e.onset, grid) for events in heard for e in events if e.accent),
                 _exact(air.full) * grid * share.denominator / seconds)


def _lay_notes(events: Sequence[Event], grid: int) -> Notes:
    onsets = tuple(_whole(event.onset, grid) for event in events)
    return onsets, tuple(onset + _whole(event.length, grid) for onset, event in zip(onsets, events, strict=True))


def _whole(time: Fraction, grid: int) -> int:
    """A time on the grid in ticks; plain integers, for this is where a plan's time goes."""
    return time.numerator * (grid // time.denominator)


def _count_voices(notes: Iterable[Notes], end: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Ticks at which voices begin or stop, from 0 to `end`, and how many sound from each on."""
    steps = {0: 0, end: 0}
    for onsets, ends in notes:
        for tick in onsets:
            steps[tick] = steps.get(tick, 0) + 1
        for tick in ends:
            steps[tick] = steps.get(tick, 0) - 1
    changes = tuple(sorted(steps))
    sounding, now = [], 0
    for tick in changes:
        now += steps[tick]
        sounding.append(now)
    return changes, tuple(sounding)


def _exact(value: float) -> Fraction:
    """The fraction a teacher meant by a decimal figure: 0.25 is 1/4, 0.1 is 1/10."""
    return Fraction(str(value))
