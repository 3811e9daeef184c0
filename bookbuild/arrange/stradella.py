"""The left-hand buttons: where they lie, what they sound, how they are printed.

A button is (row, column): a row of `lessons.model.ROWS` and the place of the column's fundamental on the line of
fifths (C = 0, G = 1, F = -1). The counterbass lies a major third above the fundamental of its column.
Lengths in millimetres; the spacing of the buttons is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import hypot
from typing import NamedTuple

from bookbuild.lessons.model import ROWS, Instrument
from bookbuild.theory.pitch import Pitch, Tone


class Button(NamedTuple):
    """A left-hand button; equal to the plain pair stored in `Event.buttons`."""

    row: str
    column: int


class Press(NamedTuple):
    """A button to press and the tone it is printed with (F# or Gb may name the same button)."""

    button: Button
    tone: Tone


BASS_ROWS = ROWS[:2]
CHORD_ROWS = ROWS[2:]
LETTERS = {"major": "M", "minor": "m", "seventh": "7", "diminished": "d"}
"""The letter printed for each chord row."""

COLUMN_STEP = 16.5
"""Millimetres from one button to the next in a row, towards the chin."""
ROW_STEP = 14.0
"""Millimetres from one row to the next, away from the bellows."""
ROW_SLANT = 4.0
"""Millimetres each row lies nearer the chin than the row on its bellows side: columns run diagonally upwards."""
WIDEST_REACH = 80.0
"""Millimetres between the two farthest buttons a left hand in the strap takes at once; common practice, no source."""

BASS_FLOOR = Pitch(2, 0, 2).diatonic
"""Lowest staff place of a printed bass note (E2): basses fold into E2–D3, so they never rise above the middle line."""
CHORD_FLOOR = BASS_FLOOR + 7
"""Lowest staff place of a printed chord root (E3): chord roots fold into E3–D4, above the middle line."""
BASS_SOUND = 40
"""Lowest MIDI key of a bass in playback (E2)."""
CHORD_SOUND = 55
"""Lowest MIDI key of a chord button in playback (G3). On the instrument the octave depends on the reeds drawn."""

_MAJOR_TRIAD = (0, 4, 7)
_MINOR_TRIAD = (0, 3, 7)
_COUNTERBASS_FIFTHS = 4


def list_columns(instrument: Instrument) -> range:
    """Places of the instrument's columns on the line of fifths, flattest first."""
    first = instrument.first_column.fifths
    return range(first, first + instrument.columns)


@lru_cache(maxsize=256)
def list_buttons(instrument: Instrument, rows: tuple[str, ...] = ROWS) -> tuple[Button, ...]:
    """Every button in those of `rows` the instrument has, row by row from the bellows, flattest column first."""
    return tuple(Button(row, column) for row in rows if row in instrument.rows for column in list_columns(instrument))


def find_basses(pc: int, instrument: Instrument) -> tuple[Button, ...]:
    """Every bass button that sounds this pitch class, on either bass row."""
    return tuple(button for button in list_buttons(instrument, BASS_ROWS) if name_button(button).pc == pc % 12)


def is_bass(button: tuple[str, int]) -> bool:
    """True for a button of the counterbass or fundamental row."""
    return button[0] in BASS_ROWS


def name_button(button: tuple[str, int]) -> Tone:
    """The tone a bass button sounds, or the fundamental of a chord button, spelled by its column."""
    row, column = button
    return Tone.from_fifths(column + _COUNTERBASS_FIFTHS if row == "counterbass" else column)


@lru_cache(maxsize=4096)
def sound_classes(button: Button, instrument: Instrument) -> frozenset[int]:
    """Pitch classes a button sounds on this instrument (its seventh and diminished rows are data)."""
    root = name_button(button).pc
    if is_bass(button):
        return frozenset({root})
    tones = {
        "major": _MAJOR_TRIAD, "minor": _MINOR_TRIAD,
        "seventh": instrument.seventh_tones, "diminished": instrument.diminished_tones,
    }[button.row]
    return frozenset((root + tone) % 12 for tone in tones)


def unite_classes(buttons: Iterable[Button], instrument: Instrument) -> frozenset[int]:
    """Pitch classes that several buttons sound together."""
    return frozenset().union(*(sound_classes(button, instrument) for button in buttons))


def sound_keys(button: Button, instrument: Instrument) -> tuple[int, ...]:
    """MIDI keys for playback, low to high: a bass within E2–D#3, a chord button within G3–F#4 (common practice)."""
    floor = BASS_SOUND if is_bass(button) else CHORD_SOUND
    return tuple(sorted(floor + (pc - floor) % 12 for pc in sound_classes(button, instrument)))


def print_pitch(press: Press) -> Pitch:
    """Where a button is printed in the bass clef: below or on the middle line for a bass, above it for a chord root.

    The fold goes by staff place, not by semitone, so that a letter keeps its place whatever its accidental. Source:
    Music Braille Code 1997 §25.4 for bass below, chord above; the exact boundary is from memory.
    """
    floor = BASS_FLOOR if is_bass(press.button) else CHORD_FLOOR
    return press.tone.at((floor - press.tone.step + 6) // 7)


def locate_button(button: tuple[str, int]) -> tuple[float, float]:
    """(x, y) of a button's centre in millimetres: x away from the bellows, y towards the chin; C counterbass = 0, 0."""
    rank = ROWS.index(button[0])
    return rank * ROW_STEP, button[1] * COLUMN_STEP + rank * ROW_SLANT


def measure_distance(first: tuple[str, int], second: tuple[str, int]) -> float:
    """Millimetres between two buttons."""
    (x1, y1), (x2, y2) = locate_button(first), locate_button(second)
    return hypot(x2 - x1, y2 - y1)


def measure_reach(buttons: Iterable[tuple[str, int]]) -> float:
    """Millimetres between the two farthest of these buttons; 0 for one button."""
    pressed = tuple(buttons)
    return max((measure_distance(a, b) for a in pressed for b in pressed), default=0.0)


def spell_press(button: Button, wanted: Iterable[Tone]) -> Press:
    """A press of the button, spelled like the one of the `wanted` tones it sounds, else by its column.

    Double accidentals are respelled (Bbb reads A): a bass note names a button here, not a degree.
    """
    own = name_button(button)
    return Press(button, spell_plainly(next((tone for tone in wanted if tone.pc == own.pc), own)))


def spell_plainly(tone: Tone) -> Tone:
    """The tone without a double accidental: Bbb becomes A, F## becomes G."""
    while abs(tone.alter) > 1:
        tone = Tone.from_fifths(tone.fifths + (12 if tone.alter < 0 else -12))
    return tone
