"""The fill: the outer finger holds the melody, the others strike the frame on the groove's fill slots.

Rules (common practice, no source). The fill is silent where the melody strikes in the same slot, so it rests wherever
the melody moves as fast as the slots. A strike lasts as written, or until the next strike of fill or melody, on the
groove's grid, and never over a repeat sign or into another section. It takes the chord of its own moment, always below
the sounding melody note and never a second from it. Under a rest of the melody it keeps to the hand's last place;
before the first melody note and in upbeats it is silent.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from bookbuild.arrange.frames import Ask, Frame, pick_frames
from bookbuild.arrange.keyboard import fit_line
from bookbuild.arrange.melody_fingering import finger_grip, finger_melody, outer_fingers, printed_fingers
from bookbuild.arrange.model import Bar, Event, Line, Role, Voice
from bookbuild.arrange.moments import Moments, close_with_rests, read_moments
from bookbuild.arrange.right_hand import remark_clipped, remark_fingers, sounding_notes, voice_melody
from bookbuild.arrange.tone_kinds import Neighbours, Reading, read_note, read_tone
from bookbuild.lessons.model import Groove, Instrument, MelodyNote
from bookbuild.theory.pitch import Pitch


@dataclass(frozen=True)
class _Strike:
    """A strike of the fill under the note at `index` of the pitched notes, or after it in a rest."""

    onset: Fraction
    end: Fraction
    index: int
    melody: Pitch
    reading: Reading


def fill_voices(
    line: Line, groove: Groove, instrument: Instrument, span: int
) -> tuple[Voice, Voice, tuple[str, ...]]:
    """Melody voice, fill voice and remarks; `span` is the widest grip in semitones from lowest tone to melody.

    The melody keeps its full values. Both voices cover the line exactly; the fill's rests are hidden.
    """
    fitted, notices = fit_line(line, instrument)
    moments, notes = read_moments(fitted), sounding_notes(fitted)
    strikes = _plan_strikes(moments, notes, groove)
    frames = pick_frames([Ask(strike.melody, strike.reading) for strike in strikes], span, instrument.lowest)
    fingers = finger_melody(notes, held=_held_tops(notes, strikes, frames))
    melody = voice_melody(fitted, notes, printed_fingers(notes, fingers))
    fill = Voice(Role.FILL, close_with_rests(list(_fill_events(strikes, frames, fingers)), moments, hidden=True))
    clipped = [strike.onset for strike, frame in zip(strikes, frames, strict=True) if frame.clipped]
    return melody, fill, (*notices, *remark_clipped(moments, clipped, instrument),
                          *remark_fingers(moments, notes, fingers))


def fill_slots(line: Line, groove: Groove) -> Iterator[tuple[Fraction, Fraction]]:
    """(onset, length) of the groove's fill over a line, in order, before the melody is looked at.

    The cell begins with the first full bar, again at each section, and at each ending where the first ending began it.
    """
    edges = [bar.onset for before, bar in pairwise(line.bars) if _parts(before, bar)] + [line.length]
    for bar, phase in _cell_phases(line.bars, groove):
        for onset, length in sorted(groove.fill):
            if phase <= onset < phase + bar.length:
                start = bar.onset + onset - phase
                yield start, min(length, edges[bisect_right(edges, start)] - start)


def _parts(before: Bar, bar: Bar) -> bool:
    """True when what sounds in one bar does not lead on into the next as printed."""
    return bool(bar.section) or before.closes_repeat or bar.opens_repeat or bar.ending != before.ending


def _cell_phases(bars: Sequence[Bar], groove: Groove) -> Iterator[tuple[Bar, Fraction]]:
    """Each full bar with the place in the cell at which it begins; upbeats are left out."""
    count, fork, ending = 0, 0, ""
    for bar in bars:
        if bar.section:
            count = 0
        if bar.ending and not ending:
            fork = count
        elif bar.ending != ending and bar.ending:
            count = fork
        ending = bar.ending
        if bar.number == 0:
            continue
        yield bar, groove.meter.bar * (count % groove.cell_bars)
        count += 1


def _plan_strikes(moments: Moments, notes: Sequence[MelodyNote], groove: Groove) -> list[_Strike]:
    """The strikes that the melody leaves room for and the chords give notes to."""
    onsets = [note.onset for note in notes]
    slots = list(fill_slots(moments.line, groove))
    strikes = []
    for place, (onset, length) in enumerate(slots):
        following = bisect_left(onsets, onset)
        index = bisect_right(onsets, onset) - 1
        struck = following < len(onsets) and onsets[following] < onset + groove.slot
        if struck or index < 0:
            continue
        end = min([onset + length, *(start for start, _ in slots[place + 1:place + 2])])
        if following < len(onsets) and onsets[following] < end:
            end = onset + (onsets[following] - onset) // groove.slot * groove.slot
        reading = _read_under(moments, notes, index, onset)
        melody = notes[index].pitch
        if melody is not None and reading.chord is not None:
            strikes.append(_Strike(onset, end, index, melody, reading))
    return strikes


def _read_under(moments: Moments, notes: Sequence[MelodyNote], index: int, moment: Fraction) -> Reading:
    """The sounding note against the chord of the moment; in a rest the last note, which gives the hand's place."""
    melody = notes[index].pitch
    if melody is not None and notes[index].end <= moment:
        return read_tone(melody, moments.chord_at(moment), Neighbours())
    return read_note(moments, notes, index, moment)


def _held_tops(
    notes: Sequence[MelodyNote], strikes: Sequence[_Strike], frames: Sequence[Frame]
) -> dict[int, tuple[int, ...]]:
    """The outer fingers that can hold each note with fill beneath it."""
    grips: dict[int, list[tuple[int, ...]]] = {}
    for strike, frame in zip(strikes, frames, strict=True):
        if frame.pitches:
            grips.setdefault(strike.index, []).append(_keys(strike, frame))
    return {index: outer_fingers(keys, notes[index].finger) for index, keys in grips.items()}


def _fill_events(strikes: Sequence[_Strike], frames: Sequence[Frame], fingers: Sequence[int]) -> Iterator[Event]:
    """The strikes as events, fingers printed where the hand takes a new grip."""
    last: tuple[int, ...] = ()
    for strike, frame in zip(strikes, frames, strict=True):
        if not frame.pitches:
            continue
        grip = finger_grip(_keys(strike, frame), fingers[strike.index])[:-1]
        printed = (0,) * len(grip) if grip == last else grip
        last = grip
        yield Event(strike.onset, strike.end - strike.onset, frame.pitches, printed)


def _keys(strike: _Strike, frame: Frame) -> tuple[int, ...]:
    return (*(pitch.midi for pitch in frame.pitches), strike.melody.midi)
