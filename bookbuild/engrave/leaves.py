"""Leaves of a voice and their spelling, the same on every supported abjad (3.19 on Python 3.11, 3.31 from 3.12).

A groove repeats itself, so most leaves of a course were spelled before: a leaf is plain data, spelled once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache, lru_cache
from typing import Any

import abjad

from bookbuild.exact import Fraction
from bookbuild.theory.pitch import STEP_LETTERS, Pitch

_ENGLISH_ALTER = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}


@cache
def _named_pitch(pitch: Pitch) -> Any:
    marks = "'" * (pitch.octave - 3) if pitch.octave >= 3 else "," * (3 - pitch.octave)
    return abjad.NamedPitch(STEP_LETTERS[pitch.step].lower() + _ENGLISH_ALTER[pitch.alter] + marks)


def _duration(length: Fraction) -> Any:
    return abjad.Duration(length.numerator, length.denominator)


class Silence(Enum):
    """What stands where nothing sounds."""

    REST = "rest"
    SKIP = "skip"
    """Time kept without a sign."""
    BAR = "bar"
    """The rest of a silent bar, of whatever length, drawn in its middle."""


@dataclass(frozen=True)
class Leaf:
    """A note (one pitch), chord (several) or silence (none) of a printable `length`, or a bar's; with engraver text
    right `before` and `after` it."""

    pitches: tuple[Pitch, ...]
    length: Fraction
    silence: Silence = Silence.REST
    before: str = ""
    after: str = ""


@dataclass(frozen=True)
class Group:
    """A tuplet; `ratio` "3:2" puts three written values in the time of two. `before` as in `Leaf`."""

    ratio: str
    leaves: tuple[Leaf, ...]
    before: str = ""


@lru_cache(maxsize=1 << 13)
def spell(part: Leaf | Group) -> str:
    """The engraver's text of a leaf or a tuplet."""
    if isinstance(part, Leaf):
        return str(abjad.lilypond(_make_leaf(part)))
    made = abjad.Tuplet(part.ratio, [_make_leaf(leaf) for leaf in part.leaves])
    return str(abjad.lilypond(_attach(made, part.before, "before")))


def spell_voice(parts: Sequence[Leaf | Group], name: str) -> str:
    """The engraver's text of a voice of that name."""
    body = "\n".join(spell(part) for part in parts)
    return f'\\context Voice = "{name}"\n{{\n{body}\n}}'


def _make_leaf(leaf: Leaf) -> Any:
    made = _make_sound(leaf.pitches, leaf.length) if leaf.pitches else _make_silence(leaf.length, leaf.silence)
    return _attach(_attach(made, leaf.before, "before"), leaf.after, "after")


def _attach(component: Any, text: str, site: str) -> Any:
    if text:
        abjad.attach(abjad.LilyPondLiteral([text], site=site), component)
    return component


def _make_sound(pitches: Sequence[Pitch], length: Fraction) -> Any:
    names = [_named_pitch(pitch) for pitch in pitches]
    if len(names) == 1:
        if hasattr(abjad.Note, "from_duration_and_pitch"):
            return abjad.Note.from_duration_and_pitch(_duration(length), names[0])
        return abjad.Note(names[0], _duration(length))
    if hasattr(abjad.Chord, "from_duration_and_pitches"):
        return abjad.Chord.from_duration_and_pitches(_duration(length), names)
    return abjad.Chord(names, _duration(length))


def _make_silence(length: Fraction, silence: Silence) -> Any:
    if silence is Silence.BAR:
        if hasattr(abjad.MultimeasureRest, "from_duration"):
            return abjad.MultimeasureRest.from_duration(
                abjad.Duration(1, 1), dmp=(length.numerator, length.denominator))
        return abjad.MultimeasureRest(abjad.Duration(1, 1), multiplier=(length.numerator, length.denominator))
    kind = abjad.Skip if silence is Silence.SKIP else abjad.Rest
    if hasattr(kind, "from_duration"):
        return kind.from_duration(_duration(length))
    return kind(_duration(length))
