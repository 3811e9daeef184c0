"""The right hand's melody, and its shapes: the chord struck beneath each melody note.

Which notes carry a shape (common practice, no source). A melody note at least a slot long (a quarter of a plain beat, a
sixth of a beat in three) carries one when it begins on a beat, when the chord changes with it, when it lasts a beat, or
when it begins off the beat and sounds on through the next. All others stand alone: where the melody moves faster than
the beat, the hand takes a shape on the beat and plays the rest from it. Notes shorter than half a beat (a third of a
beat in three) also stand alone when they are foreign to the chord or repeat the note before under the same chord; those
that do carry a shape take a light one, two tones within a sixth, so that the hand can run on.

A note struck off the beat and held into a new chord takes the new chord's shape when it belongs to that one. A longer
note over a chord that changes on a beat, with a beat or more still to sound, is struck again with the new shape.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bookbuild.arrange.frames import Ask, Frame, pick_frames
from bookbuild.arrange.keyboard import fit_line
from bookbuild.arrange.melody_fingering import finger_grip, finger_melody, outer_fingers, printed_fingers
from bookbuild.arrange.model import Event, Line, Role, Voice
from bookbuild.arrange.moments import Moments, close_with_rests, read_moments
from bookbuild.arrange.notices import say
from bookbuild.arrange.tone_kinds import Reading, ToneKind, read_note
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Instrument, MelodyNote
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch


@dataclass(frozen=True)
class Shape:
    """A melody note, or the part of one under one chord, with what is struck beneath it; `frame` None = alone."""

    index: int
    """Of the note among the line's pitched notes."""
    onset: Fraction
    length: Fraction
    melody: Pitch
    frame: Frame | None

    @property
    def pitches(self) -> tuple[Pitch, ...]:
        """All that is struck, low to high."""
        return (*(self.frame.pitches if self.frame else ()), self.melody)


@dataclass(frozen=True)
class _Strike:
    index: int
    onset: Fraction
    length: Fraction
    reading: Reading | None


def melody_voice(line: Line, instrument: Instrument) -> tuple[Voice, tuple[str, ...]]:
    """The melody alone with the fingers worth printing, folded onto the keyboard; remarks say where."""
    fitted, notices = fit_line(line, instrument)
    notes = sounding_notes(fitted)
    return voice_melody(fitted, notes, printed_fingers(notes, finger_melody(notes))), notices


def sounding_notes(line: Line) -> tuple[MelodyNote, ...]:
    """The line's notes without its rests."""
    return tuple(note for note in line.notes if note.pitch is not None)


def voice_melody(line: Line, notes: Sequence[MelodyNote], shown: Sequence[int]) -> Voice:
    """Pitched notes and the finger to print at each (0 = none) as a voice closed with rests."""
    events = [Event(note.onset, note.length, (note.pitch,), (finger,))
              for note, finger in zip(notes, shown, strict=True) if note.pitch is not None]
    return Voice(Role.MELODY, close_with_rests(events, read_moments(line)))


def plan_shapes(line: Line, instrument: Instrument, span: int) -> tuple[tuple[Shape, ...], tuple[str, ...]]:
    """Every melody note with its shape by the rule above; `span` is the widest grip in semitones. Remarks say where
    notes moved or the keyboard's low end cost a tone."""
    fitted, notices = fit_line(line, instrument)
    moments, notes = read_moments(fitted), sounding_notes(fitted)
    strikes = [strike for index in range(len(notes)) for strike in _strikes_of(moments, notes, index)]
    asks = [Ask(_pitch(notes[strike.index]), strike.reading, _is_short(notes[strike.index], line.meter))
            for strike in strikes if strike.reading]
    frames = iter(pick_frames(asks, span, instrument.lowest))
    shapes = tuple(Shape(strike.index, strike.onset, strike.length, _pitch(notes[strike.index]),
                         next(frames) if strike.reading else None) for strike in strikes)
    clipped = [shape.onset for shape in shapes if shape.frame and shape.frame.clipped]
    return shapes, (*notices, *remark_clipped(moments, clipped, instrument))


def shapes_voice(line: Line, instrument: Instrument, span: int) -> tuple[Voice, tuple[str, ...]]:
    """The shapes of `plan_shapes` as one voice, melody on top, each grip with its fingers where it is first taken.

    A finger the teacher gave to a melody note stays only where it leaves enough fingers for the chord beneath.
    """
    shapes, notices = plan_shapes(line, instrument, span)
    fitted, _ = fit_line(line, instrument)
    notes = sounding_notes(fitted)
    grips: dict[int, list[list[int]]] = {}
    for shape in shapes:
        if len(shape.pitches) > 1:
            grips.setdefault(shape.index, []).append([pitch.midi for pitch in shape.pitches])
    held = {index: outer_fingers(keys, notes[index].finger) for index, keys in grips.items()}
    fingers = finger_melody(notes, held=held)
    events = list(_shape_events(shapes, fingers, printed_fingers(notes, fingers)))
    return Voice(Role.MELODY, close_with_rests(events, read_moments(fitted))), notices


def remark_clipped(moments: Moments, onsets: Sequence[Fraction], instrument: Instrument) -> tuple[str, ...]:
    """What to say where chord tones fall off the keyboard's low end."""
    if not onsets:
        return ()
    return (say("say.fewer-notes", where=moments.name_bars(onsets), lowest=instrument.lowest),)


def _pitch(note: MelodyNote) -> Pitch:
    if note.pitch is None:
        raise ValueError("a rest carries no shape")
    return note.pitch


def _strikes_of(moments: Moments, notes: Sequence[MelodyNote], index: int) -> Iterator[_Strike]:
    """The note's strikes: one, or one more for each chord that enters beneath it on a beat."""
    note, beat = notes[index], moments.line.meter.beat
    reading, taken = _read_strike(moments, notes, index)
    if not _carries(moments, notes, index, reading):
        yield _Strike(index, note.onset, note.length, None)
        return
    edges = [note.onset]
    for change in moments.changes_in(max(note.onset, taken), note.end):
        if moments.on_beat(change) and note.end - change >= beat and _has_new_tones(moments, change):
            edges.append(change)
    for place, (start, end) in enumerate(zip(edges, [*edges[1:], note.end], strict=True)):
        yield _Strike(index, start, end - start, reading if place == 0 else read_note(moments, notes, index, start))


def _has_new_tones(moments: Moments, change: Fraction) -> bool:
    """False where only the bass of the chord changes: Am and Am/C have one shape."""
    place = moments.chord_index(change)
    old, new = moments.chords[place - 1].chord if place else None, moments.chords[place].chord
    return old is None or new is None or old.pcs != new.pcs


def _read_strike(moments: Moments, notes: Sequence[MelodyNote], index: int) -> tuple[Reading, Fraction]:
    """The note read against its chord, or the one it anticipates, with the moment that chord holds."""
    note = notes[index]
    reading = read_note(moments, notes, index, note.onset)
    changes = moments.changes_in(note.onset, note.end)
    if not changes or moments.on_beat(note.onset) or changes[0] > moments.next_beat(note.onset):
        return reading, note.onset
    ahead = read_note(moments, notes, index, changes[0])
    belongs = (ToneKind.CHORD, ToneKind.TENSION)
    held_over = note.end - changes[0] >= changes[0] - note.onset
    if held_over and (ahead.kind in belongs or reading.kind not in belongs):
        return ahead, changes[0]
    return reading, note.onset


def _carries(moments: Moments, notes: Sequence[MelodyNote], index: int, reading: Reading) -> bool:
    """The rule of the module: does this note carry a shape?"""
    note, meter = notes[index], moments.line.meter
    if reading.chord is None or note.length < meter.beat / (6 if meter.compound else 4):
        return False
    placed = moments.on_beat(note.onset) or note.onset in moments.chord_onsets[1:]
    if not (placed or note.length >= meter.beat or note.end > moments.next_beat(note.onset)):
        return False
    if not _is_short(note, meter):
        return True
    before = notes[index - 1] if index else None
    repeats = (before is not None and before.end == note.onset and _pitch(before).midi == _pitch(note).midi
               and moments.chord_at(before.onset) == moments.chord_at(note.onset))
    return reading.kind in (ToneKind.CHORD, ToneKind.TENSION) and not repeats


def _is_short(note: MelodyNote, meter: Meter) -> bool:
    return note.length < meter.beat / (3 if meter.compound else 2)


def _shape_events(shapes: Sequence[Shape], fingers: Sequence[int], shown: Sequence[int]) -> Iterator[Event]:
    taken: set[tuple[tuple[Pitch, ...], tuple[int, ...]]] = set()
    for shape in shapes:
        pitches, top = shape.pitches, fingers[shape.index]
        grip = finger_grip(tuple(pitch.midi for pitch in pitches), top) if len(pitches) > 1 else (top,)
        known = (pitches, grip) in taken if len(pitches) > 1 else not shown[shape.index]
        taken.add((pitches, grip))
        yield Event(shape.onset, shape.length, pitches, (0,) * len(grip) if known else grip)
