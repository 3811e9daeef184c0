"""Leaves of the engraver's tree, made the same way on every supported abjad (3.19 on Python 3.11, 3.31 from 3.12)."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from typing import Any

import abjad

from bookbuild.theory.pitch import STEP_LETTERS, Pitch

_ENGLISH_ALTER = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}


@cache
def _named_pitch(pitch: Pitch) -> Any:
    marks = "'" * (pitch.octave - 3) if pitch.octave >= 3 else "," * (3 - pitch.octave)
    return abjad.NamedPitch(STEP_LETTERS[pitch.step].lower() + _ENGLISH_ALTER[pitch.alter] + marks)


def _duration(length: Fraction) -> Any:
    return abjad.Duration(length.numerator, length.denominator)


def make_note(pitches: Sequence[Pitch], length: Fraction) -> Any:
    """A note (one pitch) or chord (several) of a printable `length`."""
    names = [_named_pitch(pitch) for pitch in pitches]
    if len(names) == 1:
        if hasattr(abjad.Note, "from_duration_and_pitch"):
            return abjad.Note.from_duration_and_pitch(_duration(length), names[0])
        return abjad.Note(names[0], _duration(length))
    if hasattr(abjad.Chord, "from_duration_and_pitches"):
        return abjad.Chord.from_duration_and_pitches(_duration(length), names)
    return abjad.Chord(names, _duration(length))


def make_silence(length: Fraction, *, hidden: bool) -> Any:
    """A rest of a printable `length`, or a skip that keeps its time undrawn."""
    kind = abjad.Skip if hidden else abjad.Rest
    if hasattr(kind, "from_duration"):
        return kind.from_duration(_duration(length))
    return kind(_duration(length))


def make_bar_rest(bar: Fraction) -> Any:
    """The rest of a silent bar, of whatever length, drawn in its middle."""
    if hasattr(abjad.MultimeasureRest, "from_duration"):
        return abjad.MultimeasureRest.from_duration(abjad.Duration(1, 1), dmp=(bar.numerator, bar.denominator))
    return abjad.MultimeasureRest(abjad.Duration(1, 1), multiplier=(bar.numerator, bar.denominator))


def make_tuplet(ratio: str, leaves: Sequence[Any]) -> Any:
    """A tuplet; `ratio` "3:2" puts three written values in the time of two."""
    return abjad.Tuplet(ratio, list(leaves))


def attach_text(leaf: Any, text: str, *, before: bool = False) -> None:
    """Put engraver text right before or after a leaf or a tuplet."""
    abjad.attach(abjad.LilyPondLiteral([text], site="before" if before else "after"), leaf)


def make_voice(leaves: Sequence[Any], name: str) -> Any:
    """A named voice."""
    return abjad.Voice(list(leaves), name=name)


def to_lilypond(component: Any) -> str:
    """The engraver's text of a tree."""
    return str(abjad.lilypond(component))
