"""Names of tones and chords in several languages."""

from __future__ import annotations

import pytest

from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.naming import ENGLISH_TONES, LONGEST_NAME, ToneNames, read_names
from bookbuild.theory.pitch import Pitch, Tone

ENGLISH = ToneNames.parse(ENGLISH_TONES)
GERMAN = ToneNames.parse("C D E F G A B H")
"""LilyPond Notation Reference, "Note names in other languages": deutsch calls B natural h and B flat b."""
ITALIAN = ToneNames.parse("Do Re Mi Fa Sol La Si♭ Si")
"""The same place: italiano, with do, re, mi, fa, sol, la, si."""


@pytest.mark.parametrize(
    ("symbol", "english", "german", "italian"),
    [
        ("B", "B", "H", "Si"), ("Bb", "B♭", "B", "Si♭"), ("B#", "B♯", "H♯", "Si♯"), ("Bbb", "B♭♭", "H♭♭", "Si♭♭"),
        ("Bm7b5/D", "Bm7♭5/D", "Hm7♭5/D", "Sim7♭5/Re"), ("Eb/Bb", "E♭/B♭", "E♭/B", "Mi♭/Si♭"),
        ("F#7#9", "F♯7♯9", "F♯7♯9", "Fa♯7♯9"), ("Gm", "Gm", "Gm", "Solm"),
        ("Cadd9/B", "Cadd9/B", "Cadd9/H", "Doadd9/Si"),
    ],
)
def test_a_chord_is_printed_with_the_names_of_a_language(symbol: str, english: str, german: str, italian: str) -> None:
    chord = Chord.parse(symbol)
    assert [names.print(chord) for names in (ENGLISH, GERMAN, ITALIAN)] == [english, german, italian]


def test_every_name_can_be_told_from_every_other() -> None:
    tones = [Tone(step, alter) for step in range(7) for alter in range(-2, 3)]
    for names in (ENGLISH, GERMAN, ITALIAN):
        assert len({names.print(tone) for tone in tones}) == len(tones)


def test_english_names_are_read_as_what_they_name() -> None:
    for quality in QUALITIES:
        chord = Chord(Tone.parse("Bb"), quality, Tone.parse("F#"))
        assert Chord.parse(ENGLISH.print(chord)) == chord
    assert ENGLISH.print(Pitch.from_name("Bb3")) == "B♭3"
    assert GERMAN.print(Pitch.from_name("B4")) == "H4"


def test_names_are_read_as_they_are_printed() -> None:
    assert read_names(" C  D E F G A A# B ") == "C D E F G A A♯ B"
    assert read_names("Do Re\u0301 Mi Fa Sol La Si♭ Si").split()[1] == "R\u00e9"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "0 names"), ("C D E F G A B", "7 names"), ("C D E F G A B H I", "9 names"),
        ("C D E F G A B B", "two tones"),
        ("C D E F G A B \"", "at most"), ("C D E F G A B \u200b", "at most"), ("C D E F G A B ♭", "at most"),
        ("C D E F G A B " + "H" * (LONGEST_NAME + 1), "at most"), ("C D E F G A 7 H", "at most"),
    ],
)
def test_what_names_no_eight_tones_is_refused(text: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        read_names(text)
