"""Tones, pitches and chords by the names of a language: `H` for B natural, `B` for B flat, `Sol♯m7`."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from bookbuild.theory.chords import Chord, print_quality
from bookbuild.theory.pitch import STEP_LETTERS, Pitch, Tone

ENGLISH_TONES = "C D E F G A B♭ B"
LONGEST_NAME = 5
"""Characters in the name of a tone; more does not fit on a button of the chart."""
_SIGNS = {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}
_B = STEP_LETTERS.index("B")


def read_names(text: str) -> str:
    """Eight names as somebody wrote them, in the spelling that is printed; raises ValueError with what is wrong."""
    names = unicodedata.normalize("NFC", text).replace("#", "♯").split()
    if any(len(name) > LONGEST_NAME or not name.rstrip("♯♭").isalpha() for name in names):
        raise ValueError(f"a name has at most {LONGEST_NAME} letters, and ♯ or ♭ after them")
    if len(names) > len(set(names)):
        raise ValueError("one name stands for two tones")
    ToneNames.parse(" ".join(names))
    return " ".join(names)


@dataclass(frozen=True)
class ToneNames:
    """The names of the seven natural tones, C first, and that of B flat, which some languages have a word for."""

    naturals: tuple[str, ...]
    b_flat: str

    @classmethod
    @lru_cache(maxsize=64)
    def parse(cls, text: str) -> ToneNames:
        """Read eight names from C up, B flat before B natural, as in `ENGLISH_TONES`; raises ValueError."""
        names = text.split()
        if len(names) != len(STEP_LETTERS) + 1:
            raise ValueError(f"{len(names)} names are not eight")
        *naturals, b_flat, b_natural = names
        return cls((*naturals, b_natural), b_flat)

    def print(self, named: Tone | Pitch | Chord) -> str:
        """`B♭`, `B♭3`, `B♭m7/D`: the name with real signs; B double flat counts its flats from B natural."""
        if isinstance(named, Chord):
            bass = f"/{self.print(named.bass)}" if named.bass else ""
            return self.print(named.root) + print_quality(named.quality) + bass
        if isinstance(named, Pitch):
            return f"{self.print(named.tone)}{named.octave}"
        if named == Tone(_B, -1):
            return self.b_flat
        return self.naturals[named.step] + _SIGNS[named.alter]
