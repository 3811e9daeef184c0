"""What the engraver made of every exercise of the demo course is what was arranged, note for note and slot for slot."""

from __future__ import annotations

import itertools
from collections import Counter
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from bookbuild.arrange.model import Arrangement
from tests.conftest import Engraved

pytestmark = pytest.mark.engraver

MOST_OFF = 0.6 * 72 / 25.4
"""Points a syllable may stand beside the middle of its notehead: 0.6 mm."""


def read_midi(path: Path) -> Counter[tuple[int, Fraction, Fraction]]:
    """(key, onset, length) of every note of a MIDI file, in whole notes, read with mido."""
    file = mido.MidiFile(path)
    whole = file.ticks_per_beat * 4
    notes: Counter[tuple[int, Fraction, Fraction]] = Counter()
    for track in file.tracks:
        now, on = 0, {}
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                assert (message.channel, message.note) not in on
                on[message.channel, message.note] = now
            elif message.type in ("note_off", "note_on"):
                start = on.pop((message.channel, message.note))
                notes[message.note, Fraction(start, whole), Fraction(now - start, whole)] += 1
        assert not on
    return notes


def arranged_notes(arrangement: Arrangement) -> Counter[tuple[int, Fraction, Fraction]]:
    """(key, onset, length) of every printed note."""
    return Counter(
        (pitch.midi, event.onset, event.length)
        for voice in arrangement.voices
        for event in voice.events
        for pitch in event.pitches
    )


def test_engraved_music_is_the_arranged_music(engraved: list[Engraved]) -> None:
    assert len(engraved) >= 60
    for made in engraved:
        wanted, got = arranged_notes(made.exercise.arrangement), read_midi(made.midi)
        assert got == wanted, f"{made.exercise.number}: missing {wanted - got}, extra {got - wanted}"


def grobs(made: Engraved, name: str) -> list[tuple[int, Fraction, dict]]:
    return [
        (number, Fraction(grob["when"]), grob)
        for number, page in enumerate(made.pages)
        for grob in page["grobs"]
        if grob["name"] == name
    ]


def middle(grob: dict) -> float:
    return (grob["x"][0] + grob["x"][1]) / 2


def test_each_syllable_stands_under_its_slot(engraved: list[Engraved]) -> None:
    checked = 0
    for made in engraved:
        heads: dict[tuple[int, Fraction], list[float]] = {}
        for page, when, head in grobs(made, "NoteHead"):
            heads.setdefault((page, when), []).append(middle(head))
        syllables = [(page, when, grob) for page, when, grob in grobs(made, "LyricText") if grob["what"]]
        # A grob's moment counts from the first full bar in the engraver: an upbeat lies before 0.
        shift = -min(when for _, when, _ in syllables)
        counts = {count.onset: count.text for count in made.exercise.arrangement.counts}
        assert {when + shift: grob["what"] for _, when, grob in syllables} == counts, made.exercise.number
        for page, when, grob in syllables:
            for x in heads.get((page, when), []):
                off = min(abs(middle(grob) - x) for x in heads[page, when])
                assert off <= MOST_OFF, f"{made.exercise.number}: '{grob['what']}' at {when} stands {off:.2f} pt beside"
                checked += 1
    assert checked > 3000


def test_syllables_never_touch(engraved: list[Engraved]) -> None:
    for made in engraved:
        rows: dict[int, list[list[float]]] = {}
        for page, _, grob in grobs(made, "LyricText"):
            if grob["what"]:
                rows.setdefault(page, []).append(grob["x"])
        for row in rows.values():
            row.sort()
            assert all(a[1] < b[0] for a, b in itertools.pairwise(row)), made.exercise.number


def test_the_staff_has_the_height_that_was_asked_for(engraved: list[Engraved], edition) -> None:  # type: ignore[no-untyped-def]
    for made in engraved:
        for page in made.pages:
            for _, (low, high) in page["staves"]:
                # One-line staves (clapping) have no height.
                assert high - low < 1.0 or abs((high - low) - edition.staff * 72 / 25.4) < 0.6
