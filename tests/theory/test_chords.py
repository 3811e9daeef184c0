"""Chord symbols against music21's table of chord kinds, and against the button unions of a stradella left hand."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import harmony

from bookbuild.theory.chords import ALIASES, QUALITIES, Chord
from bookbuild.theory.pitch import Interval, Tone

# Our quality -> music21's kind (harmony.CHORD_TYPES) where music21 has a kind of exactly these degrees.
KINDS = {
    "": "major", "m": "minor", "7": "dominant-seventh", "dim": "diminished", "dim7": "diminished-seventh",
    "aug": "augmented", "aug7": "augmented-seventh", "m7": "minor-seventh", "maj7": "major-seventh",
    "m7b5": "half-diminished-seventh", "6": "major-sixth", "m6": "minor-sixth", "m(maj7)": "minor-major-seventh",
    "9": "dominant-ninth", "maj9": "major-ninth", "m9": "minor-ninth", "7b5": "seventh-flat-five",
    "maj7#5": "augmented-major-seventh", "sus2": "suspended-second", "sus4": "suspended-fourth",
    "7sus4": "suspended-fourth-seventh", "5": "power",
}
# Figures that music21 reads as a kind with an added or altered degree.
FIGURES = ("7b9", "7#9", "add9", "madd9", "maj7b5")
# The printed eleventh and thirteenth leave tones out of the stacked chord (common practice, no source).
THINNED = {"11": "dominant-11th", "13": "dominant-13th"}
# No kind in music21: six-nine is the sixth chord with a ninth, 9sus4 the suspended seventh with one.
BUILT = {"69": ("6", 14), "9sus4": ("7sus4", 14)}

ROOTS = [Tone.parse(name) for name in ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")]
roots = st.builds(Tone, st.integers(0, 6), st.integers(-2, 2))
chords = st.builds(Chord, roots, st.sampled_from(sorted(QUALITIES)), st.none() | roots)


def test_every_quality_is_checked_somewhere() -> None:
    assert set(QUALITIES) == set(KINDS) | set(FIGURES) | set(THINNED) | set(BUILT)


@pytest.mark.parametrize("quality", KINDS)
def test_degrees_equal_music21s(quality: str) -> None:
    theirs = harmony.CHORD_TYPES[KINDS[quality]][0].replace("-", "b").split(",")
    assert QUALITIES[quality].split() == theirs


@pytest.mark.parametrize("quality", KINDS)
def test_spelled_tones_equal_music21s(quality: str) -> None:
    for root in ROOTS:
        theirs = harmony.ChordSymbol(root=root.name.replace("b", "-"), kind=KINDS[quality])
        assert {tone.name.replace("b", "-") for tone in Chord(root, quality).tones} == {p.name for p in theirs.pitches}


@pytest.mark.parametrize("quality", FIGURES)
def test_altered_figures_equal_music21s(quality: str) -> None:
    for root in ROOTS:
        figure = root.name.replace("b", "-") + quality
        theirs = harmony.ChordSymbol(figure)
        assert {tone.name.replace("b", "-") for tone in Chord(root, quality).tones} == {p.name for p in theirs.pitches}


@pytest.mark.parametrize("quality", THINNED)
def test_thinned_chords_are_part_of_the_stack(quality: str) -> None:
    stack = harmony.CHORD_TYPES[THINNED[quality]][0].replace("-", "b").split(",")
    ours = QUALITIES[quality].split()
    assert set(ours) < set(stack)
    assert {"1", "b7", stack[-1]} <= set(ours)


@pytest.mark.parametrize("quality", BUILT)
def test_built_chords(quality: str) -> None:
    base, added = BUILT[quality]
    assert Chord(ROOTS[0], quality).pcs == Chord(ROOTS[0], base).pcs | {added % 12}


# A chord button sounds three pitch classes: FACTS §1, wiki article "Stradella bass system". Unions: by arithmetic.
BUTTONS = {"M": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 10), "d": (0, 3, 9)}
UNIONS = {
    "m7": "C Eb:M", "maj7": "C E:m", "7": "C G:d", "m7b5": "C Eb:m", "dim7": "C Gb:d", "dim": "C Eb:d",
    "6": "C A C:M", "m6": "C A C:m", "m(maj7)": "C B C:m", "9": "C C:M G:m", "maj9": "C E:m G:M", "m9": "C C:m G:m",
    "7b9": "C Bb E:d", "7#9": "C Eb G:d", "add9": "C D C:M", "aug7": "C Ab C:7", "7b5": "C Gb:7", "maj7#5": "C E:M",
    "9sus4": "C G:m Bb:M",
}


@pytest.mark.parametrize("quality", UNIONS)
def test_pitch_classes_equal_the_left_hands_unions(quality: str) -> None:
    sounding: set[int] = set()
    for button in UNIONS[quality].split():
        name, _, row = button.partition(":")
        root = Tone.parse(name).pc
        sounding |= {(root + tone) % 12 for tone in (BUTTONS[row] if row else (0,))}
    assert Chord.parse("C" + quality).pcs == sounding


@given(chords)
def test_symbols_read_back(chord: Chord) -> None:
    assert Chord.parse(chord.symbol) == chord


@given(chords, st.integers(-7, 7))
def test_transposing_moves_every_tone_alike(chord: Chord, steps: int) -> None:
    interval = Interval(steps, round(steps * 12 / 7))
    moved = chord.transpose(interval)
    assert moved.pcs == {(pc + interval.semitones) % 12 for pc in chord.pcs}
    assert (moved.bass is None) == (chord.bass is None)


@given(roots, st.sampled_from(sorted(QUALITIES)))
def test_tones_sound_their_intervals(root: Tone, quality: str) -> None:
    chord = Chord(root, quality)
    assert [tone.pc for tone in chord.tones] == [(root.pc + i.semitones) % 12 for i in chord.intervals]
    heights = [interval.semitones for interval in chord.intervals]
    assert heights == sorted(heights)
    assert heights[0] == 0
    assert len(chord.pcs) == len(chord.tones)


@pytest.mark.parametrize("alias", ALIASES)
def test_aliases_mean_a_known_quality_and_nothing_else(alias: str) -> None:
    assert ALIASES[alias] in QUALITIES
    assert alias not in QUALITIES
    for root, bass in itertools.product(("C", "Bb", "F#"), ("", "/G", "/Ab")):
        chord = Chord.parse(root + alias + bass)
        assert chord == Chord.parse(root + ALIASES[alias] + bass)
        assert Chord.parse(chord.symbol) == chord


@pytest.mark.parametrize(
    ("text", "root", "quality", "bass"),
    [
        ("Bb", "Bb", "", None), ("Bbm7b5", "Bb", "m7b5", None), ("Bm7b5", "B", "m7b5", None), ("C6/9", "C", "69", None),
        ("C6/9/G", "C", "69", "G"), ("C/G", "C", "", "G"), ("Am7/G", "A", "m7", "G"), ("F♯m7♭5/C", "F#", "m7b5", "C"),
        ("C7(b9)", "C", "7b9", None), ("Cm(maj7)", "C", "m(maj7)", None), ("Cmmaj7", "C", "m(maj7)", None),
        ("B♭△7", "Bb", "maj7", None), ("Eº7", "E", "dim7", None), ("A−7", "A", "m7", None), ("Ebb7", "Ebb", "7", None),
        ("G7sus", "G", "7sus4", None), ("CM7", "C", "maj7", None), ("Cm7", "C", "m7", None), ("Bb5", "Bb", "5", None),
    ],
)
def test_the_longest_reading_wins(text: str, root: str, quality: str, bass: str | None) -> None:
    assert Chord.parse(text) == Chord(Tone.parse(root), quality, Tone.parse(bass) if bass else None)


@pytest.mark.parametrize(
    "text", ["", "c", "H7", "C/", "C//G", "C/H", "C/G\n", "Cfoo", "C7 ", "Cm7b", "C()7x", "NC", "C/9"]
)
def test_what_is_no_chord_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a chord symbol|is not known"):
        Chord.parse(text)
