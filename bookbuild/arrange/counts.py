"""Counting syllables for every slot of an arrangement, and which of them are struck, between or held."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from bookbuild.arrange.model import Bar, Count, CountState, Role, Voice
from bookbuild.lessons.model import Counting
from bookbuild.theory.counting import syllables
from bookbuild.theory.meter import Meter

_SLOTS = (1, 2, 3, 4, 6)
_MAIN = (Role.CLAP, Role.MELODY, Role.LEFT, Role.BASS)


def slots_for(positions: Iterable[Fraction], beat: Fraction, least: int) -> int:
    """The smallest division of a beat (at least `least`) on which all positions (from the beat's start) fall.

    Finer than sixths or sixteenths of a quarter, the notes are simply counted on the finest grid there is.
    """
    places = [position / beat for position in positions]
    for slots in _SLOTS:
        if slots >= least and slots % least == 0 and all((place * slots).denominator == 1 for place in places):
            return slots
    for slots in _SLOTS:
        if all((place * slots).denominator == 1 for place in places):
            return slots
    return max(least, 4)


def _onsets(voices: Sequence[Voice]) -> set[Fraction]:
    return {event.onset for voice in voices for event in voice.events if event.pitches}


def _beat_starts(bar: Bar, meter: Meter) -> list[tuple[Fraction, int]]:
    """(moment, beat index) of the beats that begin in a bar; an upbeat holds the bar's last beats."""
    offset = meter.bar - bar.length if bar.number == 0 else Fraction(0)
    first = bar.onset - offset
    return [
        (first + meter.beat * k, k)
        for k in range(meter.beats)
        if first + meter.beat * (k + 1) > bar.onset and first + meter.beat * k < bar.end
    ]


def count_bars(
    bars: Sequence[Bar], meter: Meter, voices: Sequence[Voice], counting: Counting, slots: int
) -> tuple[Count, ...]:
    """A Count on every slot of every bar. `slots` is the groove's grid; a beat whose notes need another gets its own.

    STRUCK where the main voice (clap, melody, else left hand) begins a note, OFF where only another voice does,
    HELD where nothing begins. Raises ValueError when the table cannot count the division.
    """
    main_role = next((role for role in _MAIN if any(v.role is role for v in voices)), None)
    # The left hand alone may be written in two voices; both are then the main voice.
    main = [v for v in voices if v.role is main_role or (main_role is Role.BASS and v.role is Role.CHORD)]
    struck, sounded = _onsets(main), _onsets(voices)
    main_onsets, all_onsets = sorted(struck), sorted(sounded)
    tables: dict[int, tuple[str, ...]] = {}
    made = []
    for bar in bars:
        for start, index in _beat_starts(bar, meter):
            in_beat = [t - start for t in all_onsets if start <= t < start + meter.beat]
            main_in_beat = [t - start for t in main_onsets if start <= t < start + meter.beat]
            count = slots_for(in_beat, meter.beat, slots)
            if count not in _SLOTS or any((p / meter.beat * count).denominator != 1 for p in in_beat):
                count = slots_for(main_in_beat, meter.beat, 1)
            if count not in tables:
                tables[count] = syllables(meter, count, counting)
            length = meter.beat / count
            for k in range(count):
                onset = start + length * k
                if bar.onset <= onset < bar.end:
                    state = (
                        CountState.STRUCK
                        if onset in struck
                        else CountState.OFF
                        if onset in sounded
                        else CountState.HELD
                    )
                    made.append(Count(onset, min(length, bar.end - onset), tables[count][index * count + k], state))
    return tuple(made)
