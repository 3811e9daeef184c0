"""Spelled pitches, intervals and keys. Lengths of time are elsewhere; here only height and spelling."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

STEP_LETTERS = "CDEFGAB"
STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_ALTER_SIGN = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_LILY_ALTER = {-2: "eses", -1: "es", 0: "", 1: "is", 2: "isis"}
_LILY_PITCH = re.compile(r"([a-g])(isis|eses|is|es|ses|s)?('*|,*)")
_SIGN_ALTER = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "♯♯": 2, "bb": -2, "♭♭": -2}
_SIGN = "##|bb|♯♯|♭♭|#|b|♯|♭"
_TONE_NAME = re.compile(rf"([A-G])({_SIGN})?")
_NAME = re.compile(rf"([A-Ga-g])({_SIGN})?(-?[0-9]{{1,2}})")


@dataclass(frozen=True, order=True)
class Tone:
    """A spelled pitch class: `step` 0–6 is C–B, `alter` in semitones (−2…2)."""

    step: int
    alter: int = 0

    @property
    def pc(self) -> int:
        """Pitch class 0–11, C = 0."""
        return (STEP_SEMITONES[self.step] + self.alter) % 12

    @property
    def name(self) -> str:
        """For example `Bb`, `F#`."""
        return STEP_LETTERS[self.step] + _ALTER_SIGN[self.alter]

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C = 0, G = 1, F = −1."""
        return (0, 2, 4, -1, 1, 3, 5)[self.step] + 7 * self.alter

    @classmethod
    def from_fifths(cls, fifths: int) -> Tone:
        """The tone at a place on the line of fifths (C = 0)."""
        step = (0, 4, 1, 5, 2, 6, 3)[fifths % 7]
        return cls(step, (fifths - (0, 2, 4, -1, 1, 3, 5)[step]) // 7)

    @classmethod
    def parse(cls, text: str) -> Tone:
        """Read `Bb`, `F#`, `E♭`; raises ValueError."""
        match = _TONE_NAME.fullmatch(text)
        if not match:
            raise ValueError(f"'{text}' is not a note name")
        return cls(STEP_LETTERS.index(match[1]), _SIGN_ALTER[match[2] or ""])

    def at(self, octave: int) -> Pitch:
        """This tone in a scientific octave (C4 is middle C)."""
        return Pitch(self.step, self.alter, octave)

    def transpose(self, interval: Interval) -> Tone:
        """The tone an interval away, spelled by the interval."""
        return self.at(4).transpose(interval).tone


@dataclass(frozen=True)
class Interval:
    """A spelled interval: diatonic `steps` and `semitones`, both signed (a fifth up is 4, 7)."""

    steps: int
    semitones: int


@dataclass(frozen=True)
class Pitch:
    """A spelled pitch; `octave` is scientific (C4 = middle C = MIDI 60)."""

    step: int
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI key number."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.step] + self.alter

    @property
    def tone(self) -> Tone:
        """The pitch class with its spelling."""
        return Tone(self.step, self.alter)

    @property
    def diatonic(self) -> int:
        """Staff places from C0: 7 an octave; middle C is 28."""
        return 7 * self.octave + self.step

    @property
    def name(self) -> str:
        """For example `Bb4`."""
        return f"{self.tone.name}{self.octave}"

    @property
    def lily(self) -> str:
        """Absolute LilyPond (Dutch) name: `bes'`."""
        marks = "'" * (self.octave - 3) if self.octave >= 3 else "," * (3 - self.octave)
        return STEP_LETTERS[self.step].lower() + _LILY_ALTER[self.alter] + marks

    @classmethod
    def from_lily(cls, text: str) -> Pitch:
        """Read an absolute note name such as `fis''`, `es'`, `bes,`; raises ValueError."""
        match = _LILY_PITCH.fullmatch(text)
        if not match:
            raise ValueError(f"'{text}' is not a note name")
        letter, sign, marks = match[1], match[2] or "", match[3]
        if sign in ("s", "ses") and letter not in "ea":
            raise ValueError(f"'{text}' is not a note name")
        alter = {"": 0, "is": 1, "isis": 2, "es": -1, "s": -1, "eses": -2, "ses": -2}[sign]
        return cls(STEP_LETTERS.index(letter.upper()), alter, 3 + marks.count("'") - marks.count(","))

    @classmethod
    def from_name(cls, text: str) -> Pitch:
        """Read a scientific name such as `F#4`; raises ValueError."""
        match = _NAME.fullmatch(text)
        if not match:
            raise ValueError(f"'{text}' is not a pitch such as F#4")
        return Tone.parse(match[1].upper() + (match[2] or "")).at(int(match[3]))

    def transpose(self, interval: Interval) -> Pitch:
        """The pitch an interval away; beyond double accidentals it is respelled enharmonically."""
        octave, step = divmod(self.diatonic + interval.steps, 7)
        alter = self.midi + interval.semitones - (12 * (octave + 1) + STEP_SEMITONES[step])
        while abs(alter) > 2:
            octave, step = divmod(7 * octave + step + (1 if alter > 0 else -1), 7)
            alter = self.midi + interval.semitones - (12 * (octave + 1) + STEP_SEMITONES[step])
        return Pitch(step, alter, octave)

    def shift_octaves(self, count: int) -> Pitch:
        """The same tone `count` octaves higher."""
        return Pitch(self.step, self.alter, self.octave + count)


MODE_FIFTHS = {"major": 0, "minor": -3, "dorian": -2, "phrygian": -4, "lydian": 1, "mixolydian": -1, "locrian": -5}
"""How far each mode's signature lies from the major key on the same tonic, on the line of fifths."""


@dataclass(frozen=True)
class Key:
    """A tonic and a mode of `MODE_FIFTHS`."""

    tonic: Tone
    mode: str

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) in the key signature."""
        return self.tonic.fifths + MODE_FIFTHS[self.mode]

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The seven tones of the scale, from the tonic up."""
        return _scale(self.tonic, self.signature)

    @property
    def name(self) -> str:
        """For example `E minor`."""
        return f"{self.tonic.name} {self.mode}"

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read `G major`, `Bb dorian`; raises ValueError."""
        words = text.split()
        if len(words) != 2 or words[1] not in MODE_FIFTHS:
            raise ValueError(f"'{text}' is not a key such as 'G major' or 'D dorian'")
        key = cls(Tone.parse(words[0]), words[1])
        if abs(key.signature) > 7:
            raise ValueError(f"'{text}' needs {abs(key.signature)} accidentals in its signature; 7 are the most")
        return key

    def transpose(self, interval: Interval) -> Key:
        """The key an interval away."""
        return Key(self.tonic.transpose(interval), self.mode)

    def spell(self, pc: int) -> Tone:
        """The nearest spelling of a pitch class on the line of fifths around this key.

        The centre is the middle of the scale; in minor it lies a fifth further up, so that the raised sixth and
        seventh keep their names (G# in A minor). Of two equally near the sharper is taken: it leads up to a tone of the
        scale (G# to A in C major), which is the commoner chromatic step in tunes (common practice, no source).
        """
        centre = self.signature + (3 if self.mode == "minor" else 2)
        return min((Tone.from_fifths(p) for p in range(-14, 20) if Tone.from_fifths(p).pc == pc % 12),
                   key=lambda tone: (abs(tone.fifths - centre), -tone.fifths))


@lru_cache(maxsize=1024)
def _scale(tonic: Tone, signature: int) -> tuple[Tone, ...]:
    """The seven tones of a key signature, from a tonic up."""
    by_step = {tone.step: tone for tone in map(Tone.from_fifths, range(signature - 1, signature + 6))}
    return tuple(by_step[(tonic.step + degree) % 7] for degree in range(7))
