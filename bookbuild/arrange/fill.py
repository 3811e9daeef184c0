"""The fill: the outer finger holds the melody, the others strike the frame on the groove's fill slots.

Rules (common practice, no source). The fill is silent where the melody strikes in the same slot, so it rests wherever
the melody moves as fast as the slots. A strike lasts as written, or until the next strike of fill or melody or the next
chord, on the groove's grid, and never over a repeat sign. It takes the chord of its own moment, always below the
sounding melody note and never a second from it. Under a rest of the melody it keeps to the hand's last place; before
the first melody note, in upbeats and after the last bar's closing beat it is silent.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bookbuild.arrange.frames import Ask, Frame, pick_frames
from bookbuild.arrange.keyboard import fit_line
from bookbuild.arrange.left_close import closing_beat
from bookbuild.arrange.left_strokes import place_cells
from bookbuild.arrange.melody_fingering import finger_grip, finger_melody, outer_fingers, printed_fingers
from bookbuild.arrange.model import Bar, Event, Line, Role, Voice
from bookbuild.arrange.moments import Moments, close_with_rests, read_moments
from bookbuild.arrange.playing_order import list_plain_joins
from bookbuild.arrange.right_hand import remark_clipped, sounding_notes, voice_melody
from bookbuild.arrange.tone_kinds import Reading, read_note
from bookbuild.exact import Fraction
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
    accent: bool


def fill_voices(
    line: Line, groove: Groove, instrument: Instrument, span: int
) -> tuple[Voice, Voice, tuple[str, ...]]:
    """Melody voice, fill voice and remarks; `span` is the widest grip in semitones from lowest tone to melody.

    The melody keeps its full values; a finger the teacher gave stays only where it leaves enough for the fill. Both
    voices cover the line exactly; the fill's rests are hidden.
    """
    fitted, notices = fit_line(line, instrument)
    moments, notes = read_moments(fitted), sounding_notes(fitted)
    strikes = _plan_strikes(moments, notes, groove)
    frames = pick_frames([Ask(strike.melody, strike.reading) for strike in strikes], span, instrument.lowest)
    held = _held_tops(notes, strikes, frames)
    fingers = finger_melody(notes, held=held)
    melody = voice_melody(fitted, notes, printed_fingers(notes, fingers, held))
    fill = Voice(Role.FILL, close_with_rests(list(_fill_events(strikes, frames, fingers)), moments, hidden=True))
    clipped = [strike.onset for strike, frame in zip(strikes, frames, strict=True) if frame.clipped]
    return melody, fill, (*notices, *remark_clipped(moments, clipped, instrument))


def leaves_room(line: Line, groove: Groove) -> bool:
    """True where the melody leaves the fill at least one strike in two bars, so that there is something to practise."""
    moments, notes = read_moments(line), sounding_notes(line)
    return 2 * len(_plan_strikes(moments, notes, groove)) >= len([bar for bar in line.bars if bar.number])


@dataclass(frozen=True)
class Slot:
    """A place where the groove asks for fill, as long as it may last there."""

    onset: Fraction
    length: Fraction
    accent: bool


def fill_slots(line: Line, groove: Groove) -> Iterator[Slot]:
    """The groove's fill laid over a line, in order, before the melody is looked at. Cells lie as in the left hand."""
    joins = list_plain_joins(line.bars)
    for bar, place, joined in zip(line.bars, place_cells(line, groove), joins, strict=True):
        limit = line.length if joined else bar.end
        for onset, length in _laid_over(bar, place, groove):
            if bar is not line.bars[-1] or onset <= closing_beat(line):
                accent = (onset - bar.onset + (place or 0)) % groove.cell in groove.fill_accents
                yield Slot(onset, min(length, limit - onset), accent)


def _laid_over(bar: Bar, place: Fraction | None, groove: Groove) -> Iterator[tuple[Fraction, Fraction]]:
    """(moment, length) of the fill's strokes in a bar that begins at `place` in the cell; none in an upbeat (None)."""
    start = bar.end if place is None else bar.onset - place
    while start < bar.end:
        yield from ((start + onset, length) for onset, length in sorted(groove.fill)
                    if bar.onset <= start + onset < bar.end)
        start += groove.cell


def _plan_strikes(moments: Moments, notes: Sequence[MelodyNote], groove: Groove) -> list[_Strike]:
    """The strikes that the melody leaves room for and the chords give notes to."""
    onsets = [note.onset for note in notes]
    slots = list(fill_slots(moments.line, groove))
    strikes = []
    for place, slot in enumerate(slots):
        onset = slot.onset
        following, index = bisect_left(onsets, onset), bisect_right(onsets, onset) - 1
        if index < 0:
            continue
        end = min([onset + slot.length, *(later.onset for later in slots[place + 1:place + 2])])
        cuts = [*onsets[following:following + 1], *moments.changes_in(onset, end)[:1]]
        if cuts and min(cuts) < end:
            # On the groove's grid: nothing is left where the melody strikes in the slot itself.
            end = onset + (min(cuts) - onset) // groove.slot * groove.slot
        reading = read_note(moments, notes, index, onset)
        melody = notes[index].pitch
        if melody is not None and reading.chord is not None and end > onset:
            strikes.append(_Strike(onset, end, index, melody, reading, slot.accent))
    return strikes


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
        yield Event(strike.onset, strike.end - strike.onset, frame.pitches, printed, accent=strike.accent)


def _keys(strike: _Strike, frame: Frame) -> tuple[int, ...]:
    return (*(pitch.midi for pitch in frame.pitches), strike.melody.midi)
