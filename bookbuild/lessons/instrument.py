"""The accordion as data: keyboard, left-hand buttons, air."""

from __future__ import annotations

from dataclasses import dataclass

from bookbuild.lessons.places import NOWHERE, Place
from bookbuild.theory.pitch import Pitch, Tone

ROWS = ("counterbass", "bass", "major", "minor", "seventh", "diminished")
"""The left-hand rows from the bellows outward."""


@dataclass(frozen=True)
class Air:
    """How the bellows spend air. All values are common practice, set in the instrument's YAML.

    `full`: how far the bellows open, in seconds of one voice at ease; `voice`: share added by each further sounding
    voice (0 = none); `shake`: net drift of a shake, as a share of the air of its length.
    """

    full: float = 14.0
    voice: float = 0.25
    shake: float = 0.05


@dataclass(frozen=True)
class Instrument:
    """An accordion as data: its keyboard and its left-hand buttons."""

    name: str
    title: str
    lowest: Pitch
    highest: Pitch
    rows: tuple[str, ...]
    """Which of `ROWS` it has, in that order."""
    first_column: Tone
    """The fundamental of the flattest column."""
    columns: int
    seventh_tones: tuple[int, ...] = (0, 4, 10)
    diminished_tones: tuple[int, ...] = (0, 3, 9)
    air: Air = Air()
    fingering: str = "three"
    """Left-hand finger system: `two` (3 bass, 2 chord) or `three` (4 bass, 3 chord, 2 alternating fifth)."""
    text: str = ""
    place: Place = NOWHERE
