"""Chord symbols of MusicXML (<harmony>): kind and degrees to a chord of our table."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from bookbuild.importers.chord_text import chord_from_degrees
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.pitch import Tone

KINDS = {
    "major": "", "minor": "m", "augmented": "aug", "diminished": "dim", "dominant": "7", "major-seventh": "maj7",
    "minor-seventh": "m7", "diminished-seventh": "dim7", "augmented-seventh": "aug7", "half-diminished": "m7b5",
    "major-minor": "m(maj7)", "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9",
    "minor-ninth": "m9", "dominant-11th": "11", "dominant-13th": "13", "suspended-second": "sus2",
    "suspended-fourth": "sus4", "power": "5",
}
"""Kinds of MusicXML 4.0 that our table has."""
NEAR = {"major-11th": "maj9", "minor-11th": "m9", "major-13th": "maj9", "minor-13th": "m9", "pedal": "5"}
"""Kinds that lose a tone."""
DEGREES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}
"""Semitones of a degree over the root; the seventh is the minor one (MusicXML 4.0, degree-value)."""


def read_harmony(element: Element) -> tuple[Chord | None, bool]:
    """The chord of a <harmony> and whether it was simplified; (None, False) is no chord.

    Raises ValueError where it is given by function or numeral only, or its kind is unknown.
    """
    kind = (element.findtext("kind") or "").strip()
    if kind == "none":
        return None, False
    root = _tone(element.find("root"), "root")
    if root is None:
        raise ValueError("it has no root")
    if kind not in KINDS and kind not in NEAR:
        raise ValueError(f"the chord kind '{kind[:30]}' is not known")
    quality = KINDS.get(kind, NEAR.get(kind, ""))
    bass = _tone(element.find("bass"), "bass")
    degrees = element.findall("degree")
    if not degrees:
        return Chord(root, quality, bass), kind in NEAR
    semitones = {interval.semitones % 12 for interval in Chord(root, quality).intervals}
    for degree in degrees:
        _apply_degree(semitones, degree, kind.startswith("major"))
    exact = [name for name in QUALITIES if _pcs(name) == semitones]
    if exact:
        return Chord(root, quality if quality in exact else exact[0], bass), False
    chord, changed = chord_from_degrees(root, frozenset(semitones), bass)
    return chord, changed


def _pcs(quality: str) -> set[int]:
    return {interval.semitones % 12 for interval in Chord(Tone(0), quality).intervals}


def _apply_degree(semitones: set[int], degree: Element, major: bool) -> None:
    value, alter = _number(degree, "degree-value"), _number(degree, "degree-alter")
    plain = DEGREES.get(value)
    if plain is None:
        raise ValueError(f"the chord degree {value} is not known")
    kind = (degree.findtext("degree-type") or "add").strip()
    if kind == "subtract":
        semitones.discard((plain + alter) % 12)
    elif kind == "alter":
        semitones.discard(11 if value == 7 and major else plain % 12)
        semitones.add((plain + alter) % 12)
    else:
        semitones.add((plain + alter) % 12)


def _tone(parent: Element | None, name: str) -> Tone | None:
    if parent is None:
        return None
    step = (parent.findtext(f"{name}-step") or "").strip()
    alter = _number(parent, f"{name}-alter")
    if step not in "CDEFGAB" or len(step) != 1 or abs(alter) > 2:
        raise ValueError(f"the {name} '{step[:10]}' is not a note")
    return Tone("CDEFGAB".index(step), alter)


def _number(parent: Element, name: str) -> int:
    """The number in a child, 0 without one, the nearest whole one of quarter tones."""
    text = (parent.findtext(name) or "").strip() or "0"
    if not re.fullmatch(r"[+-]?[0-9]{1,3}(\.[0-9]{1,6})?", text):
        raise ValueError(f"'{text[:20]}' is not a number")
    return round(float(text))
