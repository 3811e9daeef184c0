"""Key finding against music21's analysis with the same published profiles."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.theory.keyfinding import MAJOR_PROFILE, MINOR_PROFILE, key_of_signature, rank_keys
from bookbuild.theory.pitch import Key, Tone

weights = st.dictionaries(st.integers(0, 11), st.fractions(Fraction(1, 16), 8, max_denominator=16), min_size=2)


def test_profiles_are_the_published_ones() -> None:
    """music21 carries the Krumhansl–Kessler weights as well."""
    other = music21.analysis.discrete.KrumhanslKessler()
    assert tuple(other.getWeights("major")) == MAJOR_PROFILE
    assert tuple(other.getWeights("minor")) == MINOR_PROFILE


def test_the_best_key_is_the_one_music21_finds() -> None:
    """The melodies of 25 chorales; the same algorithm in another program, so every key must agree."""
    files = sorted((Path(music21.__file__).parent / "corpus" / "bach").glob("bwv2[0-9][0-9].mxl"))[:25]
    assert len(files) == 25
    for file in files:
        part = music21.converter.parse(file, forceSource=True).parts[0]
        heard: dict[int, Fraction] = {}
        for note in part.recurse().notes:
            heard[note.pitch.pitchClass] = heard.get(note.pitch.pitchClass, Fraction(0)) + Fraction(note.quarterLength)
        theirs = music21.analysis.discrete.KrumhanslKessler(part).getSolution(part)
        best, score = rank_keys(heard)[0]
        assert (best.tonic.pc, best.mode) == (theirs.tonic.pitchClass, theirs.mode), file.name
        assert score == pytest.approx(theirs.correlationCoefficient, abs=1e-6)


@given(weights, st.integers(0, 11))
def test_transposed_notes_have_transposed_keys(heard: dict[int, Fraction], shift: int) -> None:
    best, score = rank_keys(heard)[0]
    moved = rank_keys({(pc + shift) % 12: weight for pc, weight in heard.items()})
    match = next(value for key, value in moved if (key.tonic.pc, key.mode) == ((best.tonic.pc + shift) % 12, best.mode))
    assert match == pytest.approx(score)
    assert moved[0][1] == pytest.approx(score)


@given(weights)
def test_all_keys_are_ranked_and_printable(heard: dict[int, Fraction]) -> None:
    ranked = rank_keys(heard, last=0)
    assert len({(key.tonic.pc, key.mode) for key, _ in ranked}) == 24
    assert all(abs(key.signature) <= 6 for key, _ in ranked)


def test_the_last_note_settles_a_relative_pair() -> None:
    even = dict.fromkeys((0, 2, 4, 5, 7, 9, 11), Fraction(1))
    assert rank_keys(even, last=9)[0][0].name == "A minor"
    assert rank_keys(even, last=0)[0][0].name == "C major"


def test_silence_has_no_key() -> None:
    with pytest.raises(ValueError, match="no note"):
        rank_keys({})


@pytest.mark.parametrize(("fifths", "last", "name"), [
    (-1, "F", "F major"), (-1, "D", "D minor"), (-1, "G", "G dorian"), (-1, "C", "C mixolydian"),
    (7, "C#", "C# major"), (-7, "Ab", "Ab minor")])
def test_a_signature_and_a_last_note_name_a_mode(fifths: int, last: str, name: str) -> None:
    assert key_of_signature(fifths, {0: Fraction(1)}, Tone.parse(last)) == Key.parse(name)


def test_a_signature_alone_is_settled_by_the_notes() -> None:
    minor = {9: Fraction(4), 0: Fraction(2), 4: Fraction(3), 11: Fraction(1)}
    assert key_of_signature(0, minor, Tone.parse("B")).name == "A minor"
    assert key_of_signature(0, {}, None).name == "C major"
    with pytest.raises(ValueError, match="signature"):
        key_of_signature(8, {}, None)
