"""Checks of the right hand: what it can reach, what may sound together, where the fill strikes."""

from __future__ import annotations

from collections.abc import Iterator

from bookbuild.arrange.check_common import NAMES, RIGHT, Finding, Reporter, find_bar, list_sounding, pair_overlaps
from bookbuild.arrange.model import Arrangement, Event, Line, Role
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Groove, Instrument, MelodyNote
from bookbuild.theory.pitch import Pitch

_SECONDS = (1, 2)
_FULL_VALUE_KINDS = ("melody", "fill", "together")
"""Exercise kinds in which the melody is printed as the teacher wrote it."""


def check_range(arr: Arrangement, instrument: Instrument) -> Iterator[Finding]:
    """Every right-hand note has a key on the instrument."""
    say, low, high = Reporter(arr, "right-range"), instrument.lowest, instrument.highest
    for voice in arr.voices:
        for event in voice.events if voice.role in RIGHT else ():
            for pitch in event.pitches:
                if not low.midi <= pitch.midi <= high.midi:
                    yield say(event.onset, f"{NAMES[voice.role]} asks for {pitch.name}; this keyboard goes from "
                                           f"{low.name} to {high.name}.")


def check_span(arr: Arrangement, span: int) -> Iterator[Finding]:
    """At no moment does the right hand hold notes farther apart than `span` semitones."""
    say, held = Reporter(arr, "right-span"), list[Event]()
    for note in list_sounding(voice for voice in arr.voices if voice.role in RIGHT):
        held = [other for other in held if other.end > note.onset] + [note]
        keys = [pitch.midi for event in held for pitch in event.pitches]
        wide = max(keys) - min(keys)
        if wide > span:
            yield say(note.onset, f"the right hand would stretch {wide} semitones; {span} is the widest grip here.")


def check_frames(arr: Arrangement) -> Iterator[Finding]:
    """Nothing lies a second from the melody note or on its key, and what the fill strikes lies below it."""
    melody, fill = arr.voice(Role.MELODY), arr.voice(Role.FILL)
    notes = list_sounding([melody] if melody else [])
    say, say_above = Reporter(arr, "clash"), Reporter(arr, "frame-below")
    for event in notes:
        for pitch in event.pitches[:-1]:
            if _rubs(pitch, event.pitches[-1]):
                yield say(event.onset, f"{pitch.name} rubs against the melody's {event.pitches[-1].name}.")
    for struck, held in pair_overlaps(list_sounding([fill] if fill else []), notes):
        top = held.pitches[-1]
        for pitch in struck.pitches:
            if _rubs(pitch, top):
                yield say(struck.onset, f"the fill's {pitch.name} rubs against the melody's {top.name}.")
            elif pitch.midi > top.midi:
                yield say_above(struck.onset, f"the fill's {pitch.name} lies above the melody's {top.name}.")


def _rubs(pitch: Pitch, melody: Pitch) -> bool:
    """True for a second, or for the very key the melody holds."""
    return abs(pitch.midi - melody.midi) in (0, *_SECONDS)


def check_fill(arr: Arrangement, groove: Groove | None) -> Iterator[Finding]:
    """The fill never strikes with the melody, and with a groove only on the groove's fill slots."""
    melody, fill = arr.voice(Role.MELODY), arr.voice(Role.FILL)
    struck = {event.onset for event in list_sounding([melody] if melody else [])}
    say, say_slot = Reporter(arr, "fill-strike"), Reporter(arr, "fill-slot")
    for event in list_sounding([fill] if fill else []):
        if event.onset in struck:
            yield say(event.onset, "the fill strikes together with the melody; it belongs in between.")
        if groove and not _is_fill_slot(arr, groove, event.onset):
            yield say_slot(event.onset, "the fill strikes where the groove has no stroke for it.")


def _is_fill_slot(arr: Arrangement, groove: Groove, onset: Fraction) -> bool:
    """True when some bar of the groove's cell has a fill stroke at this place.

    A short bar may count from its barline or from where a full bar would begin.
    """
    bar = find_bar(arr, onset)
    places = {place % groove.meter.bar for place, _ in groove.fill}
    return any((onset - start) % groove.meter.bar in places for start in (bar.onset, bar.end - arr.meter.bar))


def check_melody(arr: Arrangement, line: Line) -> Iterator[Finding]:
    """In melody and fill work each melody note is there, by its own name, for its full written value."""
    melody = arr.voice(Role.MELODY)
    if melody is None or arr.kind not in _FULL_VALUE_KINDS:
        return
    say = Reporter(arr, "melody-value")
    played = {event.onset: event for event in melody.events if event.pitches}
    for note in line.notes:
        if note.pitch is not None and not _is_same_note(played.pop(note.onset, None), note):
            yield say(note.onset, f"the melody's {note.pitch.name} is not held for its full value.")
    for onset in sorted(played):
        yield say(onset, "the melody has a note that the tune does not have.")


def _is_same_note(event: Event | None, note: MelodyNote) -> bool:
    """True when the event's top note is the melody note, in whatever octave the keyboard has it."""
    if event is None or note.pitch is None:
        return False
    return event.length == note.length and event.pitches[-1].midi % 12 == note.pitch.midi % 12
