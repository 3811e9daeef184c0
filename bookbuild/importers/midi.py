"""A tune from a Standard MIDI file, through mido: the melody line, drawn to a grid of sixteenths and triplets."""

from __future__ import annotations

import io
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from bookbuild.diagnostics import MachineError
from bookbuild.exact import Fraction
from bookbuild.importers.assemble import assemble_tunes
from bookbuild.importers.midi_grid import Struck, bar_notes, draw_to_grid
from bookbuild.importers.titles import clean_text, clean_title, title_of_file
from bookbuild.importers.written import MOST_BARS, ImportedTune, ImportFault, TuneFault, WrittenTune
from bookbuild.lessons.model import Place
from bookbuild.theory.keyfinding import rank_keys
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key

MOST_BYTES = 400_000
"""A MIDI file of a tune has a few kilobytes, of a song for a band about a hundred."""
MOST_NOTES = 20_000
DRUMS = 9
"""Channel 10, counted from 0 (General MIDI)."""
_MELODY_NAMES = ("melod", "lead", "solo", "tune", "right", "voice", "vocal", "treble")


@dataclass
class _Score:
    """What the file says. Moments are in ticks."""

    ticks: int
    lines: dict[tuple[int, int], list[tuple[int, int, int]]] = field(default_factory=lambda: defaultdict(list))
    """(track, channel) -> (onset, end, MIDI key)."""
    names: dict[int, str] = field(default_factory=dict)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    keys: list[str] = field(default_factory=list)
    tempo: int = 0
    rights: str = ""


def read_midi(data: bytes, file: str) -> list[ImportedTune]:
    """The tune of a MIDI file, a list of one; a refused tune carries its reason.

    Raises ImportFault for damaged files, MachineError when mido is not installed.
    """
    score = _collect(_open(data, file))
    title = clean_title(_title(score)) or title_of_file(file)
    try:
        return assemble_tunes(_write(score, title), file)
    except TuneFault as fault:
        return [ImportedTune(title, Place(file), None, (), fault.reason)]


def _open(data: bytes, file: str) -> Any:
    try:
        import mido
    except ImportError as error:
        hint = 'run: pip install "bookbuild[import]"'
        raise MachineError(f"{file}: reading MIDI needs the library mido", hint) from error
    if data.startswith(b"RIFF"):
        start = data.find(b"MThd")
        if start < 0:
            raise ImportFault(f"{file}: is a sound file, not a MIDI file", "Export the tune as Standard MIDI.")
        data = data[start:]
    if len(data) > MOST_BYTES:
        raise ImportFault(f"{file}: has {len(data) / 1e6:.1f} MB; {MOST_BYTES / 1e6:.1f} MB of MIDI are read",
                          "Export only the melody track.")
    try:
        opened = mido.MidiFile(file=io.BytesIO(data))
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError, OverflowError) as error:
        raise ImportFault(f"{file}: is a damaged MIDI file ({str(error)[:60] or 'it ends too early'})",
                          "Export it again from the program it comes from.") from error
    except mido.KeySignatureError as error:
        raise ImportFault(f"{file}: is a damaged MIDI file (its key signature cannot be read)",
                          "Export it again from the program it comes from.") from error
    if opened.ticks_per_beat <= 0 or opened.ticks_per_beat >= 0x8000:
        raise ImportFault(f"{file}: counts time in film frames, not in beats", "Export it with ticks per quarter note.")
    return opened


def _collect(opened: Any) -> _Score:
    score = _Score(opened.ticks_per_beat)
    for number, track in enumerate(opened.tracks):
        now = 0
        sounding: dict[tuple[int, int], int] = {}
        for message in track:
            now += message.time
            if message.type in ("note_on", "note_off"):
                _strike(score, number, message, now, sounding)
            elif message.is_meta:
                _read_meta(score, number, message, now)
        for (channel, key), onset in sounding.items():
            score.lines[number, channel].append((onset, now, key))
    return score


def _strike(score: _Score, track: int, message: Any, now: int, sounding: dict[tuple[int, int], int]) -> None:
    place = (message.channel, message.note)
    onset = sounding.pop(place, None)
    if onset is not None and now > onset:
        score.lines[track, message.channel].append((onset, now, message.note))
    if message.type == "note_on" and message.velocity:
        sounding[place] = now


def _read_meta(score: _Score, track: int, message: Any, now: int) -> None:
    if message.type == "track_name" and track not in score.names:
        score.names[track] = clean_text(message.name)
    elif message.type == "time_signature":
        score.meters.append((now, message.numerator, message.denominator))
    elif message.type == "key_signature":
        score.keys.append(message.key)
    elif message.type == "set_tempo" and not score.tempo:
        score.tempo = message.tempo
    elif message.type == "copyright" and not score.rights:
        score.rights = message.text


def _title(score: _Score) -> str:
    name = score.names.get(0, "")
    return name if len(score.names) > 1 or len(score.lines) == 1 else ""


def _choose_line(score: _Score) -> tuple[int, int]:
    """The melody: a track named so, else the highest line that is mostly one note at a time."""
    lines = {place: notes for place, notes in score.lines.items() if place[1] != DRUMS}
    if not lines:
        raise TuneFault("it has no pitched notes")

    def weigh(place: tuple[int, int]) -> tuple[bool, bool, float]:
        notes = lines[place]
        alone = len({onset for onset, _, _ in notes}) / len(notes)
        name = score.names.get(place[0], "").lower()
        height = sum(key for _, _, key in notes) / len(notes)
        return any(word in name for word in _MELODY_NAMES), alone > 0.7 and len(notes) > 8, height

    return max(sorted(lines), key=weigh)


def _write(score: _Score, title: str) -> WrittenTune:
    place = _choose_line(score)
    line = score.lines[place]
    if len(line) > MOST_NOTES:
        raise TuneFault(f"its melody has {len(line)} notes")
    notes = ["a MIDI file names no chords, endings or repeats: the melody is written out as it is played"]
    if len(score.lines) > 1:
        notes.append("only the melody's track is carried over")
    struck = _skyline(line, score.ticks)
    meter = _meter(score, notes)
    if struck[-1].end > MOST_BARS * meter.bar:
        raise TuneFault(f"it lasts more than {MOST_BARS} bars")
    grid, moved = draw_to_grid(struck)
    if moved > Fraction(1, 40):
        notes.append("the notes were played freely: they were moved to the nearest sixteenth or triplet, please check")
    key = _key(score, grid, notes)
    tempo = (Fraction(1, 4), Fraction(60_000_000, score.tempo)) if score.tempo else None
    bars = bar_notes(grid, meter, key, notes)
    return WrittenTune(title, key, bars, tuple(notes), statement=score.rights, tempo=tempo)


def _skyline(line: list[tuple[int, int, int]], ticks: int) -> list[Struck]:
    """The top note of every onset, each cut where the next begins. Moments become Fractions of a whole note."""
    top: dict[int, tuple[int, int]] = {}
    for onset, end, key in line:
        if onset not in top or key > top[onset][1]:
            top[onset] = (end, key)
    onsets = [*sorted(top), max(end for _, end, _ in line)]
    made = []
    for onset, following in pairwise(onsets):
        end, key = top[onset]
        if following > onset:
            made.append(Struck(Fraction(onset, ticks * 4), Fraction(min(end, following), ticks * 4), key))
    return made


def _meter(score: _Score, notes: list[str]) -> Meter:
    if not score.meters:
        notes.append("no meter is stated: 4/4 was taken")
        return Meter(4, 4)
    if len({meter[1:] for meter in score.meters}) > 1:
        raise TuneFault("its meter changes on the way")
    _, count, unit = score.meters[0]
    try:
        return Meter.parse(f"{count}/{unit}")
    except ValueError as error:
        raise TuneFault(f"the meter {error}") from error


def _key(score: _Score, grid: list[Struck], notes: list[str]) -> Key:
    """The stated key; C major is the default many programs write, so it is held against the notes."""
    weights: dict[int, Fraction] = defaultdict(Fraction)
    for note in grid:
        weights[note.key % 12] += note.end - note.onset
    found = rank_keys(weights, grid[-1].key % 12)[0][0]
    stated = score.keys[0] if score.keys else ""
    if stated and stated != "C":
        name = f"{stated[:-1]} minor" if stated.endswith("m") else f"{stated} major"
        return Key.parse(name)
    if stated == "C" and found.signature == 0:
        return found if found.mode == "major" else Key.parse("C major")
    notes.append(f"the key is not stated: {found.name} was found from the notes, please check")
    return found
