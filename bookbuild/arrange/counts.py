"""Counting syllables for every slot of an arrangement, and which of them are struck, between or held."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import lcm

from bookbuild.arrange.model import Bar, BellowsSpan, Count, CountState, Role, Voice
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Counting
from bookbuild.theory.counting import syllables
from bookbuild.theory.meter import Meter

_SLOTS = (1, 2, 3, 4, 6)
_MAIN = (Role.CLAP, Role.MELODY, Role.LEFT, Role.BASS)


@lru_cache(maxsize=4096)
def slots_for(places: tuple[int, ...], beat: int, least: int) -> int:
    """How many slots a beat is counted in: `least` when all places fall on them. Places and beat are in ticks.

    Else the fewest on which they all fall, so that a triplet is counted in three. Notes finer than any grid are
    counted on the finest there is.
    """
    for slots in (least, *_SLOTS):
        if all(place * slots % beat == 0 for place in places):
            return slots
    return max(least, 4)


def _onsets(voices: Sequence[Voice]) -> set[Fraction]:
    return {event.onset for voice in voices for event in voice.events if event.pitches}


@dataclass(frozen=True)
class _Ticks:
    """Bars and onsets as whole ticks, `whole` to a whole note: counting a book in Fractions takes seconds."""

    whole: int
    bars: tuple[tuple[int, int, int], ...]
    """(downbeat, onset, end) of each bar; the downbeat of an upbeat is where a full bar would have begun."""
    beat: int

    def of(self, moment: Fraction) -> int:
        """A moment in ticks."""
        return moment.numerator * (self.whole // moment.denominator)

    def moment(self, ticks: int) -> Fraction:
        """A moment from ticks."""
        return Fraction(ticks, self.whole)

    def places_by_beat(self, onsets: Iterable[int]) -> dict[int, tuple[int, ...]]:
        """Start of each beat in which something begins -> how far into the beat it does."""
        found: dict[int, list[int]] = {}
        ends = [end for _, _, end in self.bars]
        for onset in sorted(onsets):
            downbeat = self.bars[bisect_right(ends, onset)][0]
            place = (onset - downbeat) % self.beat
            found.setdefault(onset - place, []).append(place)
        return {start: tuple(places) for start, places in found.items()}


def _lay_ticks(bars: Sequence[Bar], meter: Meter, onsets: Iterable[Fraction]) -> _Ticks:
    """Ticks fine enough for all bars, all onsets and every division of a beat."""
    denominators = {value.denominator for bar in bars for value in (bar.onset, bar.length)}
    denominators |= {onset.denominator for onset in onsets} | {meter.beat.denominator * lcm(*_SLOTS), meter.unit}
    bare = _Ticks(lcm(*denominators), (), 0)
    laid = []
    for bar in bars:
        onset, end = bare.of(bar.onset), bare.of(bar.end)
        laid.append((end - bare.of(meter.bar) if bar.number == 0 else onset, onset, end))
    return _Ticks(bare.whole, tuple(laid), bare.of(meter.beat))


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


def _choose_slots(places: tuple[int, ...], main: tuple[int, ...], beat: int, least: int) -> int:
    """The grid of one beat: all notes that begin in it if they share one, else those of the main voice."""
    slots = slots_for(places, beat, least)
    return slots if all(place * slots % beat == 0 for place in places) else slots_for(main, beat, 1)


def _stroke_slots(start: Fraction, beat: Fraction, shakes: Sequence[BellowsSpan], least: int) -> int:
    """The grid of a beat that begins at `start`: fine enough for every stroke where the bellows shake."""
    strokes = [span.stroke for span in shakes if span.stroke and span.onset < start + beat and start < span.end]
    return max(least, int(beat / min(strokes))) if strokes else least


def count_bars(
    bars: Sequence[Bar], meter: Meter, voices: Sequence[Voice], counting: Counting, slots: int,
    shakes: Sequence[BellowsSpan] = (),
) -> tuple[Count, ...]:
    """A Count on every slot of every bar. `slots` is the groove's grid, in `shakes` every stroke is counted; a beat
    whose notes need another grid gets its own, as each beat does where the syllables name note values.

    STRUCK where the main voice (clap, melody, else left hand) begins a note, OFF where only another voice does,
    HELD where nothing begins. Raises ValueError when the table cannot count the meter at all.
    """
    onsets = _onsets(voices)
    ticks = _lay_ticks(bars, meter, onsets)
    sounded = {ticks.of(onset) for onset in onsets}
    struck = {ticks.of(onset) for onset in _onsets(_main_voices(voices))}
    places, main = ticks.places_by_beat(sounded), ticks.places_by_beat(struck)
    table = _Table(meter, counting)
    made: list[Count] = []
    slots = 1 if counting.by_value else slots
    for downbeat, first, last in ticks.bars:
        for index in range(meter.beats):
            start = downbeat + ticks.beat * index
            if start + ticks.beat <= first or start >= last:
                continue
            least = _stroke_slots(ticks.moment(start), meter.beat, shakes, slots) if shakes else slots
            size, spoken = table.row(_choose_slots(places.get(start, ()), main.get(start, ()), ticks.beat, least))
            for k in range(size):
                # An upbeat may begin inside a slot that has no finer syllable: it is spoken where the music begins.
                onset = max(start + ticks.beat * k // size, first)
                end = min(start + ticks.beat * (k + 1) // size, last)
                if end <= onset:
                    continue
                state = CountState.OFF if onset in sounded else CountState.HELD
                state = CountState.STRUCK if onset in struck else state
                made.append(Count(ticks.moment(onset), ticks.moment(end - onset), spoken[index * size + k], state))
    return tuple(made)
