"""Standard MIDI files read: made with mido, played evenly, loosely and with an upbeat."""

from __future__ import annotations

import builtins
import io
import random
from fractions import Fraction
from typing import Any

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading import carried, names

from bookbuild.diagnostics import MachineError
from bookbuild.importers.read import read_bytes

TICKS = 480


def file_of(notes: list[tuple[float, float, int]], *, meter: tuple[int, int] | None = (2, 4), key: str | None = None,
            name: str = "", extra: list[tuple[float, float, int]] | None = None) -> bytes:
    """Notes as (onset, end, MIDI key) in quarters; `extra` is a second track."""
    file = mido.MidiFile(ticks_per_beat=TICKS)
    head = mido.MidiTrack()
    if name:
        head.append(mido.MetaMessage("track_name", name=name))
    if meter:
        head.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
    if key:
        head.append(mido.MetaMessage("key_signature", key=key))
    head.append(mido.MetaMessage("set_tempo", tempo=500_000))
    file.tracks.append(head)
    for channel, line in enumerate([notes, *([extra] if extra else [])]):
        events = [(round(t * TICKS), kind, k) for on, off, k in line for t, kind, k in ((on, 1, k), (off, 0, k))]
        track, now = mido.MidiTrack(), 0
        for tick, kind, k in sorted(events):
            track.append(mido.Message("note_on" if kind else "note_off", channel=channel, note=k,
                                      velocity=64 * kind, time=tick - now))
            now = tick
        file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def test_a_plain_line_with_rests() -> None:
    data = file_of([(0, 0.5, 67), (0.5, 1, 69), (1, 1.5, 71), (2, 4, 67)], key="G", name="A tune")
    tune = carried(read_bytes(data, "some file.mid"))
    assert (tune.title, tune.key.name, str(tune.meter)) == ("A tune", "G major", "2/4")
    assert names(tune.sections[0].body) == "G4 1/8 A4 1/8 B4 1/8 r 1/8 G4 1/2"
    assert (tune.tempo.goal, tune.tempo.beat) == (120, Fraction(1, 4))


def test_long_notes_are_tied_over_the_barline() -> None:
    tune = carried(read_bytes(file_of([(0, 1, 60), (1, 3, 62), (3, 4, 60)]), "t.mid"))
    assert names(tune.sections[0].body) == "C4 1/4 D4 1/2 C4 1/4"


def test_triplets_and_sixteenths_beat_by_beat() -> None:
    third = 1 / 3
    data = file_of([(0, third, 60), (third, 2 * third, 62), (2 * third, 1, 64), (1, 1.25, 65), (1.25, 2, 67)])
    assert names(carried(read_bytes(data, "t.mid")).sections[0].body) == (
        "C4 1/12 D4 1/12 E4 1/12 F4 1/16 G4 3/16")


def test_the_top_notes_of_the_named_track_are_the_melody() -> None:
    data = file_of([(0, 1, 60), (0, 1, 64), (1, 2, 62)], extra=[(0, 2, 80)], name="Song")
    assert "E4" not in names(carried(read_bytes(data, "t.mid")).sections[0].body)
    low_named = file_of([(0, 1, 60), (0, 1, 64), (1, 2, 62), (2, 4, 60)])
    assert names(carried(read_bytes(low_named, "t.mid")).sections[0].body).startswith("E4 1/4 D4 1/4")


def test_silence_before_the_first_note_is_an_upbeat() -> None:
    item = read_bytes(file_of([(1.5, 2, 62), (2, 4, 67), (4, 6, 67)]), "t.mid")[0]
    assert item.tune is not None
    assert item.tune.sections[0].upbeat == Fraction(1, 8)
    assert any("upbeat" in note for note in item.notes)


def test_the_key_is_found_where_none_is_stated() -> None:
    scale = [62, 64, 66, 67, 69, 71, 73, 74, 74, 69, 66, 62]
    item = read_bytes(file_of([(i / 2, i / 2 + 0.5, k) for i, k in enumerate(scale)], meter=(3, 4)), "t.mid")[0]
    assert item.tune is not None
    assert item.tune.key.name == "D major"
    assert any("D major" in note for note in item.notes)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.sampled_from([0.25, 0.5, 0.75, 1.0, 1.5, 2.0]), min_size=4, max_size=30), st.integers(0, 2**31))
def test_loose_playing_is_drawn_to_the_written_rhythm(lengths: list[float], seed: int) -> None:
    """Onsets moved by up to a fiftieth of a beat come out as written."""
    chance = random.Random(seed)
    notes, now = [], 0.0
    for index, length in enumerate(lengths):
        loose = now + (chance.uniform(-0.02, 0.02) if index else 0.0)
        notes.append((max(0.0, loose), now + length * 0.97, 60 + index % 12))
        now += length
    tune = carried(read_bytes(file_of(notes), "t.mid"))
    onsets = [note.onset for section in _in_order(tune) for note in section if note.pitch]
    wanted, total = [], Fraction(0)
    for length in lengths:
        wanted.append(total)
        total += Fraction(length) / 4
    assert onsets == wanted


def _in_order(tune: Any) -> list[list[Any]]:
    """The notes of the tune's strains in playing order, onsets from the tune's start."""
    from dataclasses import replace

    made, start = [], Fraction(0)
    for name in tune.form:
        body = tune.section(name).body
        made.append([replace(note, onset=note.onset + start) for note in body.notes])
        start += body.length
    return made


def test_a_meter_that_changes_is_refused() -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack([
        mido.MetaMessage("time_signature", numerator=2, denominator=4),
        mido.Message("note_on", note=60, velocity=60), mido.Message("note_off", note=60, time=480),
        mido.MetaMessage("time_signature", numerator=3, denominator=4)])
    file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    assert read_bytes(buffer.getvalue(), "t.mid")[0].reason == "its meter changes on the way"


def test_drums_alone_are_refused() -> None:
    file = mido.MidiFile()
    file.tracks.append(mido.MidiTrack([mido.Message("note_on", channel=9, note=40), mido.Message("note_off", channel=9,
                                                                                                 note=40, time=99)]))
    buffer = io.BytesIO()
    file.save(file=buffer)
    assert read_bytes(buffer.getvalue(), "t.mid")[0].reason == "it has no pitched notes"


def test_without_the_library_the_remedy_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def refuse(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "mido":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(MachineError) as caught:
        read_bytes(b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0", "t.mid")
    assert "bookbuild[import]" in caught.value.hint
