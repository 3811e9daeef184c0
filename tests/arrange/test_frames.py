"""Octave frames against FACTS §2 and music21; kinds of non-chord tones; voice leading measured."""

from __future__ import annotations

from itertools import combinations, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import chord as m21_chord

from bookbuild.arrange.frames import Ask, close_chord, frame_choices, pick_frames
from bookbuild.arrange.tone_kinds import (
    Neighbours,
    Reading,
    ToneKind,
    add_dominant_seventh,
    basic_tones,
    highest_below,
    read_tone,
)
from bookbuild.arrange.voice_leading import lead_voices, measure_motion
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.pitch import Key, Pitch, Tone

TRIADS = ("", "m", "dim", "aug")
SEVENTHS = ("7", "maj7", "m7", "m7b5", "dim7", "m(maj7)", "maj7#5", "aug7")
ROOTS = [Tone.from_fifths(place) for place in range(-5, 7)]


def pitch(name: str) -> Pitch:
    return Pitch.from_name(name)


def frames(melody: str, symbol: str, span: int = 12, lowest: str = "C0", **around: str) -> set[str]:
    reading = read_tone(pitch(melody), Chord.parse(symbol), Neighbours(**{k: pitch(v) for k, v in around.items()}))
    choices = frame_choices(Ask(pitch(melody), reading), span, pitch(lowest))
    return {" ".join(tone.name for tone in choice) for choice in choices}


@pytest.mark.parametrize(("melody", "expected"), [("G5", "G4 B4 D5"), ("B5", "B4 D5 G5"), ("D6", "D5 G5 B5")])
def test_octave_frames_of_g_major(melody, expected):
    """FACTS §2, common practice, no source."""
    assert frames(melody, "G") == {expected}


@pytest.mark.parametrize("quality", TRIADS + SEVENTHS)
@pytest.mark.parametrize("root", ROOTS, ids=lambda tone: tone.name)
def test_inversions_agree_with_music21(root, quality):
    """The closed chord beneath every chord tone in every key has the inversion music21's Chord.inversion() names."""
    chord = Chord(root, quality)
    for place, tone in enumerate(basic_tones(chord)):
        melody = tone.at(5)
        shape = (*close_chord(melody, chord), melody)
        assert m21_chord.Chord([p.midi for p in shape]).bass().midi == melody.midi - 12
        assert m21_chord.Chord([_m21_name(p) for p in shape]).inversion() == place


@pytest.mark.parametrize("quality", TRIADS + SEVENTHS)
@pytest.mark.parametrize("root", ROOTS, ids=lambda tone: tone.name)
def test_frames_start_an_octave_below_and_keep_the_inversion(root, quality):
    """What is left of a seventh chord keeps the inversion; music21 is told the root, which three tones may hide."""
    chord = Chord(root, quality)
    for place, tone in enumerate(basic_tones(chord)):
        melody = tone.at(5)
        for choice in frame_choices(Ask(melody, read_tone(melody, chord, Neighbours())), 12):
            assert choice[0] == melody.shift_octaves(-1)
            assert len(choice) <= 3
            shape = m21_chord.Chord([_m21_name(p) for p in (*choice, melody)])
            if root.pc in {p.midi % 12 for p in (*choice, melody)}:
                shape.root(_m21_name(root.at(4))[:-1])
                assert shape.inversion() == place


def _m21_name(tone: Pitch) -> str:
    return tone.name.replace("b", "-")


@pytest.mark.parametrize(("melody", "symbol", "expected"), [
    ("G5", "G7", {"G4 B4 D5"}),            # the seventh would lie a second below the melody
    ("B5", "G7", {"B4 F5 G5"}),            # the plain fifth is left out of a dominant
    ("D6", "G7", {"D5 F5 B5"}),            # both leading tones stay, the left hand has the root
    ("F5", "G7", {"F4 G4 B4"}),
    ("B5", "Cmaj7", {"B4 E5 G5"}),         # no semitone B–C inside the hand
    ("C5", "Csus4", {"C4 F4 G4"}),
    ("G5", "Csus4", {"G4 C5"}),
    ("E5", "Caug", {"E4 G#4 C5"}),
    ("C5", "C5", {"C4 G4"}),
    ("D5", "C9", {"E4 G4 Bb4"}),           # the ninth over third, fifth and seventh
    ("A5", "C13", {"Bb4 C5 E5"}),          # the thirteenth over seventh and third
    ("D#5", "C7#9", {"E4 Bb4 C5"}),
    ("D5", "Cadd9", {"E4 G4"}),
])
def test_sevenths_and_extensions(melody, symbol, expected):
    """Common practice, no source."""
    assert frames(melody, symbol) == expected


@pytest.mark.parametrize(("span", "expected"), [
    (12, "G4 B4 D5"), (11, "B4 D5"), (9, "B4 D5"), (7, "D5"), (4, ""),
])
def test_small_hands_thin_the_frame_from_below(span, expected):
    assert frames("G5", "G", span) == {expected}


def test_without_the_octave_a_seventh_chord_is_complete():
    assert frames("D6", "G7", span=10) == {"F5 G5 B5"}


def test_keyboard_end_thins_the_frame_and_says_so():
    assert frames("B4", "G", lowest="C4") == {"D4 G4"}
    melody = pitch("B4")
    asks = [Ask(melody, read_tone(melody, Chord.parse("G"), Neighbours()))]
    assert pick_frames(asks, 12, pitch("C4"))[0].clipped
    assert not pick_frames(asks, 12, pitch("B3"))[0].clipped


@pytest.mark.parametrize(("melody", "around", "kind", "expected"), [
    ("A5", {"before": "G5", "after": "B5"}, ToneKind.PASSING, "B4 D5"),        # frame of B without G5
    ("A5", {"before": "B5", "after": "G5"}, ToneKind.PASSING, "B4 D5"),        # frame of G; G4 is out of the hand
    ("F#5", {"before": "G5", "after": "G5"}, ToneKind.NEIGHBOUR, "B4 D5"),     # no G4 a major seventh below F sharp
    ("C6", {"after": "B5"}, ToneKind.APPOGGIATURA, "D5 G5"),
    ("E6", {"before": "D6", "after": "G5"}, ToneKind.ESCAPE, "G5 B5"),
    ("E6", {"before": "G5", "after": "C6"}, ToneKind.FREE, "G5 B5"),
])
def test_non_chord_tones_over_g(melody, around, kind, expected):
    """Definitions from memory of common-practice harmony; frames by the rule of FACTS §2."""
    neighbours = Neighbours(**{name: pitch(value) for name, value in around.items()})
    assert read_tone(pitch(melody), Chord.parse("G"), neighbours).kind is kind
    assert frames(melody, "G", **around) == {expected}


def test_suspension_keeps_the_frame_of_its_resolution():
    """Four–three over G: C held over from C major resolves to B; from memory of common-practice harmony."""
    around = Neighbours(after=pitch("B5"), prepared=True)
    reading = read_tone(pitch("C6"), Chord.parse("G"), around)
    assert reading == Reading(ToneKind.SUSPENSION, Chord.parse("G"), pitch("B5"))
    assert frame_choices(Ask(pitch("C6"), reading), 12) == ((pitch("D5"), pitch("G5")),)


def test_anticipation_keeps_the_chord_it_leaves():
    around = Neighbours(before=pitch("B5"), repeated_in=Chord.parse("C"))
    assert read_tone(pitch("C6"), Chord.parse("G"), around).kind is ToneKind.ANTICIPATION


def test_dominant_takes_the_seventh_the_melody_sings():
    """D major before G with C in the melody is D7 in third inversion; the same C over D that goes nowhere is not."""
    d, c, g = Chord.parse("D"), pitch("C5"), Tone.parse("G")
    assert add_dominant_seventh(d, c, Chord.parse("Em"), g).quality == "7"
    assert add_dominant_seventh(d, c, Chord.parse("G"), Tone.parse("A")).quality == "7"
    assert add_dominant_seventh(d, c, Chord.parse("Em"), Tone.parse("A")) == d
    assert add_dominant_seventh(Chord.parse("Dm"), c, Chord.parse("G"), g) == Chord.parse("Dm")
    reading = read_tone(c, add_dominant_seventh(d, c, Chord.parse("G"), g), Neighbours())
    assert frame_choices(Ask(c, reading), 12) == ((pitch("C4"), pitch("D4"), pitch("F#4")),)


def key_pitch(midi: int) -> Pitch:
    return highest_below(Key.parse("C major").spell(midi), midi + 1)


every_reading = st.builds(
    lambda melody, root, quality, before, after, prepared: (
        melody, read_tone(melody, Chord(root, quality), Neighbours(before, after, prepared))),
    st.integers(60, 96).map(key_pitch), st.sampled_from(ROOTS), st.sampled_from(sorted(QUALITIES)),
    st.none() | st.integers(60, 96).map(key_pitch), st.none() | st.integers(60, 96).map(key_pitch), st.booleans(),
)


@given(every_reading, st.integers(3, 14))
@settings(deadline=None)
def test_no_frame_clashes_or_leaves_the_hand(drawn, span):
    melody, reading = drawn
    for choice in frame_choices(Ask(melody, reading), span, pitch("F3")):
        assert len(choice) <= 3
        assert all(3 <= melody.midi - tone.midi <= span for tone in choice)
        assert {tone.midi % 12 for tone in choice} <= reading.chord.pcs
        assert all(tone.midi >= pitch("F3").midi for tone in choice)
        light = frame_choices(Ask(melody, reading, light=True), span)[0]
        assert len(light) <= 2
        assert all(melody.midi - tone.midi <= 9 for tone in light)


@pytest.mark.parametrize(("other", "motion"), [("C4 Eb4 G4", 1), ("B3 E4 G4", 1), ("C4 E4 A4", 2)])
def test_motion_of_parallel_leading_tone_and_relative_triads(other, motion):
    """The three neo-Riemannian moves from C major cost 1, 1 and 2 semitones (from memory)."""
    start, end = (tuple(pitch(name).midi for name in names.split()) for names in ("C4 E4 G4", other))
    assert measure_motion(start, end) == motion


grips = st.lists(st.integers(55, 80), min_size=1, max_size=3, unique=True).map(lambda keys: tuple(sorted(keys)))


@given(grips, grips)
def test_motion_is_the_least_over_all_pairings(start, end):
    """Brute force: every way to give each key of both sets a partner."""
    pairs = list(product(start, end))
    pairings = (chosen for count in range(1, len(pairs) + 1) for chosen in combinations(pairs, count))
    complete = (p for p in pairings if {a for a, _ in p} == set(start) and {b for _, b in p} == set(end))
    assert measure_motion(start, end) == min(sum(abs(a - b) for a, b in pairing) for pairing in complete)


@given(st.lists(st.lists(grips, min_size=1, max_size=3), min_size=1, max_size=4))
@settings(max_examples=50)
def test_chosen_frames_move_least(keys):
    choices = [[tuple(key_pitch(key) for key in grip) for grip in options] for options in keys]

    def move(path):
        keys = [tuple(one.midi for one in grip) for grip in path]
        return sum(measure_motion(one, other) for one, other in pairwise(keys))

    assert move(lead_voices(choices)) == min(map(move, product(*choices)))
