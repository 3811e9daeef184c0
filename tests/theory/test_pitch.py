"""Pitches, intervals and keys against music21, an independent open library."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch

from bookbuild.theory.pitch import MODE_FIFTHS, Interval, Key, Pitch, Tone

TONES = [Tone(step, alter) for step in range(7) for alter in (-2, -1, 0, 1, 2)]
INTERVAL_NAMES = [
    "P1", "A1", "m2", "M2", "A2", "d3", "m3", "M3", "d4", "P4", "A4", "d5", "P5", "A5", "m6", "M6", "A6", "d7", "m7",
    "M7", "P8", "m9", "M9", "M10", "P12",
]
pitches = st.builds(Pitch, st.integers(0, 6), st.integers(-2, 2), st.integers(0, 8))


def as_music21(pitch: Pitch) -> m21_pitch.Pitch:
    return m21_pitch.Pitch(pitch.name.replace("b", "-"))


def as_interval(name: str) -> Interval:
    theirs = m21_interval.Interval(name)
    return Interval(theirs.generic.staffDistance, int(theirs.semitones))


@pytest.mark.parametrize("tone", TONES, ids=lambda tone: tone.name)
@pytest.mark.parametrize("octave", [1, 4])
def test_midi_and_pitch_class(tone: Tone, octave: int) -> None:
    pitch = tone.at(octave)
    assert pitch.midi == as_music21(pitch).midi
    assert tone.pc == as_music21(pitch).pitchClass


@pytest.mark.parametrize("name", INTERVAL_NAMES)
def test_transposing(name: str) -> None:
    interval = as_interval(name)
    for tone, sign in itertools.product(TONES, (1,) if interval.steps == 0 else (1, -1)):
        pitch = tone.at(4)
        moved = pitch.transpose(Interval(sign * interval.steps, sign * interval.semitones))
        theirs = m21_interval.Interval(f"-{name}" if sign < 0 else name).transposePitch(as_music21(pitch))
        assert moved.midi == pitch.midi + sign * interval.semitones
        if theirs.accidental is None or abs(theirs.accidental.alter) <= 2:
            assert moved.name.replace("b", "-") == theirs.nameWithOctave
        assert abs(moved.alter) <= 2


@given(pitches, st.integers(-14, 14), st.integers(-24, 24))
def test_transposing_keeps_the_sound(pitch: Pitch, steps: int, semitones: int) -> None:
    moved = pitch.transpose(Interval(steps, semitones))
    assert moved.midi == pitch.midi + semitones
    assert abs(moved.alter) <= 2


@given(pitches)
def test_names_and_engraver_names_read_back(pitch: Pitch) -> None:
    assert Pitch.from_name(pitch.name) == pitch
    assert Pitch.from_lily(pitch.lily) == pitch
    assert Tone.parse(pitch.tone.name) == pitch.tone


@pytest.mark.parametrize(
    ("text", "name"),
    # The engraver's note-entry language, Dutch names: LilyPond Notation Reference, "Writing pitches".
    [("c'", "C4"), ("c", "C3"), ("c,", "C2"), ("es'", "Eb4"), ("ees'", "Eb4"), ("as", "Ab3"), ("aes", "Ab3"),
     ("bes,", "Bb2"), ("fis''", "F#5"), ("cisis'", "C##4"), ("ases", "Abb3"), ("eses'", "Ebb4"), ("beses", "Bbb3")],
)
def test_engraver_names(text: str, name: str) -> None:
    assert Pitch.from_lily(text).name == name


@pytest.mark.parametrize("text", ["", "h", "c'\n", "c',", "cs", "gs'", "C'", "c#", "c4", "cis is"])
def test_what_is_no_engraver_name_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a note name"):
        Pitch.from_lily(text)


@pytest.mark.parametrize("text", ["", "H4", "C", "C#", "C4 ", "C4\n", "C###4", "C٤"])
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a pitch"):
        Pitch.from_name(text)


@pytest.mark.parametrize("tone", TONES, ids=lambda tone: tone.name)
def test_line_of_fifths(tone: Tone) -> None:
    assert Tone.from_fifths(tone.fifths) == tone
    fifth_up = tone.transpose(Interval(4, 7))
    if abs(fifth_up.fifths - tone.fifths) == 1:
        assert fifth_up.fifths == tone.fifths + 1
    assert Tone.from_fifths(tone.fifths + 1).pc == (tone.pc + 7) % 12


@pytest.mark.parametrize("mode", MODE_FIFTHS)
def test_keys(mode: str) -> None:
    checked = 0
    for tone in TONES:
        key = Key(tone, mode)
        if abs(key.signature) > 7:
            continue
        theirs = m21_key.Key(tone.name.replace("b", "-"), mode)
        assert key.signature == theirs.sharps
        assert [t.name.replace("b", "-") for t in key.tones] == [p.name for p in theirs.pitches[:7]]
        assert Key.parse(key.name) == key
        checked += 1
    assert checked == 15


@pytest.mark.parametrize("text", ["G", "G Major minor", "H major", "G# major", "Fb major", "g major", "C blues", ""])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a key|not a note name|accidentals in its signature"):
        Key.parse(text)


@pytest.mark.parametrize("mode", MODE_FIFTHS)
def test_scale_tones_keep_their_names(mode: str) -> None:
    for tonic in TONES:
        key = Key(tonic, mode)
        if abs(key.signature) <= 7:
            assert [key.spell(tone.pc) for tone in key.tones] == list(key.tones)


@pytest.mark.parametrize(
    ("key", "pc", "name"),
    # Common practice, no source: leading tones of minor keys and the usual chromatic steps of tunes.
    [("A minor", 8, "G#"), ("E minor", 3, "D#"), ("D minor", 1, "C#"), ("C minor", 11, "B"), ("G minor", 6, "F#"),
     ("C major", 6, "F#"), ("C major", 10, "Bb"), ("C major", 8, "G#"), ("D dorian", 1, "C#"), ("Eb major", 11, "B"),
     ("F major", 3, "Eb"), ("G major", 5, "F")],
)
def test_chromatic_spelling(key: str, pc: int, name: str) -> None:
    assert Key.parse(key).spell(pc).name == name
