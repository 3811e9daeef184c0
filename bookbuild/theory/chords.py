"""Chord symbols: a table of qualities, as data, and a reader."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from bookbuild.theory.pitch import Interval, Tone

_NAMED = {
    "1": (0, 0), "b2": (1, 1), "2": (1, 2), "#2": (1, 3), "b3": (2, 3), "3": (2, 4), "4": (3, 5), "#4": (3, 6),
    "b5": (4, 6), "5": (4, 7), "#5": (4, 8), "6": (5, 9), "bb7": (6, 9), "b7": (6, 10), "7": (6, 11),
    "b9": (8, 13), "9": (8, 14), "#9": (8, 15), "11": (10, 17), "#11": (10, 18), "b13": (12, 20), "13": (12, 21),
}

QUALITIES: dict[str, str] = {
    "": "1 3 5", "m": "1 b3 5", "7": "1 3 5 b7", "dim": "1 b3 b5", "dim7": "1 b3 b5 bb7", "aug": "1 3 #5",
    "aug7": "1 3 #5 b7", "m7": "1 b3 5 b7", "maj7": "1 3 5 7", "m7b5": "1 b3 b5 b7", "6": "1 3 5 6", "m6": "1 b3 5 6",
    "m(maj7)": "1 b3 5 7", "9": "1 3 5 b7 9", "maj9": "1 3 5 7 9", "m9": "1 b3 5 b7 9", "7b9": "1 3 5 b7 b9",
    "7#9": "1 3 5 b7 #9", "add9": "1 3 5 9", "madd9": "1 b3 5 9", "7b5": "1 3 b5 b7", "maj7#5": "1 3 #5 7",
    "maj7b5": "1 3 b5 7", "9sus4": "1 4 5 b7 9", "sus2": "1 2 5", "sus4": "1 4 5", "7sus4": "1 4 5 b7", "5": "1 5",
    "69": "1 3 5 6 9", "11": "1 5 b7 9 11", "13": "1 3 b7 9 13",
}
"""Quality symbol as printed -> chord degrees."""

ALIASES: dict[str, str] = {
    "M": "", "maj": "", "Maj": "", "min": "m", "mi": "m", "-": "m", "°": "dim", "o": "dim", "°7": "dim7", "o7": "dim7",
    "+": "aug", "+7": "aug7", "7#5": "aug7", "7+5": "aug7", "7+": "aug7", "min7": "m7", "mi7": "m7", "-7": "m7",
    "Maj7": "maj7", "M7": "maj7", "ma7": "maj7", "Δ": "maj7", "Δ7": "maj7", "ø": "m7b5", "ø7": "m7b5",
    "min7b5": "m7b5", "-7b5": "m7b5", "m7-5": "m7b5", "min6": "m6", "-6": "m6", "maj6": "6", "M6": "6",
    "mM7": "m(maj7)", "mmaj7": "m(maj7)", "minmaj7": "m(maj7)", "-maj7": "m(maj7)", "mΔ": "m(maj7)",
    "min9": "m9", "-9": "m9", "M9": "maj9", "Maj9": "maj9", "7-9": "7b9", "7+9": "7#9", "7-5": "7b5",
    "M7#5": "maj7#5", "+maj7": "maj7#5", "M7b5": "maj7b5", "sus": "sus4", "7sus": "7sus4", "9sus": "9sus4",
    "2": "sus2", "add2": "add9", "madd2": "madd9", "6/9": "69", "dom7": "7",
}
"""Other spellings of a quality -> its key in `QUALITIES`. Brackets and signs are dealt with before the look-up."""

_TONE = r"[A-G](?:##|bb|#|b|♯♯|♭♭|♯|♭)?"
_SYMBOL = re.compile(rf"({_TONE})([^/]*(?:/9)?)(?:/({_TONE}))?")
_PLAIN_SIGNS = str.maketrans({"♭": "b", "♯": "#", "△": "Δ", "º": "°", "−": "-", "–": "-"})


def _read_quality(text: str) -> str | None:
    """The key of `QUALITIES` that a written quality means; brackets round an alteration may be left out or set."""
    plain = text.translate(_PLAIN_SIGNS)
    for spelling in (plain, plain.replace("(", "").replace(")", "")):
        quality = ALIASES.get(spelling, spelling)
        if quality in QUALITIES:
            return quality
    return None


_ACCIDENTAL = re.compile(r"[#b](?=\d)")


@dataclass(frozen=True)
class Chord:
    """A chord symbol: `root`, `quality` (a key of `QUALITIES`) and, for a slash chord, its `bass`."""

    root: Tone
    quality: str
    bass: Tone | None = None

    @classmethod
    def parse(cls, text: str) -> Chord:
        """Read `Am7/G`; raises ValueError."""
        match = _SYMBOL.fullmatch(text)
        if not match:
            raise ValueError(f"'{text}' is not a chord symbol")
        quality = _read_quality(match[2])
        if quality is None:
            raise ValueError(f"'{text}': the chord kind '{match[2]}' is not known")
        return cls(Tone.parse(match[1]), quality, Tone.parse(match[3]) if match[3] else None)

    @property
    def intervals(self) -> tuple[Interval, ...]:
        """Intervals of the tones above the root, lowest first."""
        return tuple(Interval(*_NAMED[name]) for name in QUALITIES[self.quality].split())

    @property
    def tones(self) -> tuple[Tone, ...]:
        """Spelled tones from the root up."""
        return _stack_tones(self.root, self.quality)

    @property
    def pcs(self) -> frozenset[int]:
        """Pitch classes of the chord, without a slash bass."""
        return frozenset(tone.pc for tone in self.tones)

    @property
    def symbol(self) -> str:
        """As written, with plain # and b."""
        return self.root.name + self.quality + (f"/{self.bass.name}" if self.bass else "")

    def transpose(self, interval: Interval) -> Chord:
        """The chord an interval away."""
        return Chord(self.root.transpose(interval), self.quality, self.bass.transpose(interval) if self.bass else None)


def print_quality(quality: str) -> str:
    """A quality with real signs: # and b become ♯ and ♭ before a degree (`m7♭5`)."""
    return _ACCIDENTAL.sub(lambda match: {"#": "♯", "b": "♭"}[match[0]], quality)


@lru_cache(maxsize=4096)
def _stack_tones(root: Tone, quality: str) -> tuple[Tone, ...]:
    """The tones of a quality on a root, from the root up."""
    return tuple(root.transpose(interval) for interval in Chord(root, quality).intervals)
