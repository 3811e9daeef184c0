"""Counting syllables for every slot of an arrangement, and which of them are struck, between or held."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from fractions import Fraction

from bookbuild.arrange.model import Bar, Count, CountState, Role, Voice
from bookbuild.lessons.model import Counting
from bookbuild.theory.counting import syllables
from bookbuild.theory.meter import Meter

_SLOTS = (1, 2, 3, 4, 6)
_MAIN = (Role.CLAP, Role.MELODY, Role.LEFT, Role.BASS)


def slots_for(positions: Iterable[Fraction], beat: Fraction, least: int) -> int:
    """How many slots a beat is counted in: `least` when all positions (from the beat's start) fall on them.

    Else the fewest on which they all fall, so that a triplet is counted in three. Notes finer than any grid are
    counted on the finest there is.
    """
    places = [position / beat for position in positions]
    for slots in (least, *_SLOTS):
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


def _main_voices(voices: Sequence[Voice]) -> list[Voice]:
    """The voices whose notes are counted black: clap, else melody, else the left hand (in one voice or two)."""
    role = next((role for role in _MAIN if any(voice.role is role for voice in voices)), None)
    return [v for v in voices if v.role is role or (role is Role.BASS and v.role is Role.CHORD)]


class _Table:
    """A counting's rows for a meter; a division it has no syllables for is counted on the next coarser grid."""

    def __init__(self, meter: Meter, counting: Counting) -> None:
        self.meter, self.counting = meter, counting
        self.rows: dict[int, tuple[str, ...]] = {}

    def row(self, slots: int) -> tuple[int, tuple[str, ...]]:
        """Slots in a beat and the bar's syllables on them; raises ValueError when not even the beats can be counted."""
        coarser = [size for size in range(slots, 0, -1) if slots % size == 0]
        for size in coarser:
            if size not in self.rows:
                try:
                    self.rows[size] = syllables(self.meter, size, self.counting)
                except ValueError:
                    if size == 1:
                        raise
                    continue
            return size, self.rows[size]
        raise AssertionError("every number is divided by 1")


def _choose_slots(
    start: Fraction, beat: Fraction, onsets: Sequence[Fraction], main: Sequence[Fraction], least: int
) -> int:
    """The grid of one beat: all notes that begin in it if they share one, else those of the main voice."""
    in_beat = [t - start for t in onsets[bisect_left(onsets, start):bisect_left(onsets, start + beat)]]
    slots = slots_for(in_beat, beat, least)
    if all((place / beat * slots).denominator == 1 for place in in_beat):
        return slots
    return slots_for([t - start for t in main[bisect_left(main, start):bisect_left(main, start + beat)]], beat, 1)


def count_bars(
    bars: Sequence[Bar], meter: Meter, voices: Sequence[Voice], counting: Counting, slots: int
) -> tuple[Count, ...]:
    """A Count on every slot of every bar. `slots` is the groove's grid; a beat whose notes need another gets its own.

    STRUCK where the main voice (clap, melody, else left hand) begins a note, OFF where only another voice does,
    HELD where nothing begins. Raises ValueError when the table cannot count the meter at all.
    """
    struck, sounded = _onsets(_main_voices(voices)), _onsets(voices)
    main, onsets = sorted(struck), sorted(sounded)
    table = _Table(meter, counting)
    made = []
    for bar in bars:
        for start, index in _beat_starts(bar, meter):
            size, spoken = table.row(_choose_slots(start, meter.beat, onsets, main, slots))
            length = meter.beat / size
            for k in range(size):
                onset, end = start + length * k, start + length * (k + 1)
                if end <= bar.onset or onset >= bar.end:
                    continue
                # An upbeat may begin inside a slot that has no finer syllable: it is spoken where the music begins.
                onset = max(onset, bar.onset)
                state = CountState.OFF if onset in sounded else CountState.HELD
                state = CountState.STRUCK if onset in struck else state
                made.append(Count(onset, min(end, bar.end) - onset, spoken[index * size + k], state))
    return tuple(made)
