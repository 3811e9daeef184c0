"""Bringing a melody onto an instrument's right-hand keyboard."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bookbuild.arrange.model import Line
from bookbuild.arrange.moments import read_moments
from bookbuild.arrange.notices import say
from bookbuild.lessons.model import Instrument, MelodyNote
from bookbuild.theory.pitch import Pitch

_OCTAVES = (0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6)


def fit_melody(
    notes: Sequence[MelodyNote], instrument: Instrument
) -> tuple[tuple[MelodyNote, ...], tuple[str, ...]]:
    """The notes on the keyboard, and remarks. All move by the same octaves where that fits; else each phrase does (up
    to a breath or rest); else each note that lies outside, alone. The keyboard holds an octave or more."""
    shift = _common_shift(_keys(notes), instrument)
    if shift is not None:
        return tuple(_move(note, shift) for note in notes), (_remark_whole(shift, instrument),) if shift else ()
    fitted: list[MelodyNote] = []
    for phrase in _phrases(notes):
        shift = _common_shift(_keys(phrase), instrument)
        fitted += [_move(note, _own_shift(note, instrument) if shift is None else shift) for note in phrase]
    return tuple(fitted), (_remark_some(say("say.some-places"), instrument),)


def fit_line(line: Line, instrument: Instrument) -> tuple[Line, tuple[str, ...]]:
    """The line with its melody on the keyboard, and remarks that name the bars where single notes moved."""
    notes, notices = fit_melody(line.notes, instrument)
    moved = [new.onset for new, old in zip(notes, line.notes, strict=True) if new.pitch != old.pitch]
    if notices and len(moved) < sum(note.pitch is not None for note in line.notes):
        notices = (_remark_some(read_moments(line).name_bars(moved), instrument),)
    return replace(line, notes=notes), notices


def _keys(notes: Iterable[MelodyNote]) -> list[int]:
    return [note.pitch.midi for note in notes if note.pitch is not None]


def _common_shift(keys: Sequence[int], instrument: Instrument) -> int | None:
    """Octaves by which all keys move onto the keyboard, the fewest; None when there is no such number."""
    if not keys:
        return 0
    room_below, room_above = min(keys) - instrument.lowest.midi, instrument.highest.midi - max(keys)
    return next((octaves for octaves in _OCTAVES if -room_below <= 12 * octaves <= room_above), None)


def _own_shift(note: MelodyNote, instrument: Instrument) -> int:
    return _common_shift(_keys([note]), instrument) or 0


def _move(note: MelodyNote, octaves: int) -> MelodyNote:
    return replace(note, pitch=_raise_octaves(note.pitch, octaves)) if octaves else note


def _raise_octaves(pitch: Pitch | None, octaves: int) -> Pitch | None:
    return pitch.shift_octaves(octaves) if pitch is not None else None


def _phrases(notes: Sequence[MelodyNote]) -> list[list[MelodyNote]]:
    phrases: list[list[MelodyNote]] = [[]]
    for note in notes:
        phrases[-1].append(note)
        if note.breath or note.pitch is None:
            phrases.append([])
    return [phrase for phrase in phrases if phrase]


def _remark_whole(octaves: int, instrument: Instrument) -> str:
    named = {1: "say.octave", 2: "say.octaves-2"}.get(abs(octaves), "say.octaves")
    return say("say.moved-up" if octaves > 0 else "say.moved-down", octaves=say(named, count=abs(octaves)),
               lowest=instrument.lowest, highest=instrument.highest)


def _remark_some(where: str, instrument: Instrument) -> str:
    return say("say.some-moved", where=where, lowest=instrument.lowest, highest=instrument.highest)
