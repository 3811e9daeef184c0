"""Chord symbols as other programs and older files write them, brought to the symbols of `theory.chords`."""

from __future__ import annotations

import re
from collections.abc import Iterable

from bookbuild.theory.chords import ALIASES, QUALITIES, Chord
from bookbuild.theory.pitch import Tone

NO_CHORD = frozenset({"N.C.", "NC", "N.C", "NO CHORD", "N C"})

MOST_NAMED = 6
GERMAN = " (H is written B here, and a German B is written Bb: check every B of this tune)"

_SHAPE = re.compile(r"([A-G](?:##|bb|#|b|♯|♭)?)\s*([^/]*?)\s*(?:/\s*([A-Ga-g](?:##|bb|#|b|♯|♭|\+)?)[',]*)?")
_SPELLINGS = (
    (re.compile(r"[()\s,]"), ""), (re.compile("(?i)minor|min"), "m"), (re.compile("(?i)major"), "maj"),
    (re.compile("Maj|MAJ|ma(?!j)|Ma(?!j)"), "maj"), (re.compile("^mi(?!n)"), "m"), (re.compile("Dim|DIM"), "dim"),
    (re.compile("Aug|AUG"), "aug"), (re.compile("Sus|SUS"), "sus"), (re.compile("♭"), "b"), (re.compile("♯"), "#"),
    (re.compile("^dom"), ""), (re.compile("-5"), "b5"), (re.compile(r"\+5"), "#5"), (re.compile("-9"), "b9"),
    (re.compile(r"\+9"), "#9"),
)
_EXTRA = {
    "mmaj7": "m(maj7)", "7+": "aug7", "7aug": "aug7", "m7-5": "m7b5", "7sus2": "7sus4", "sus9": "9sus4",
    "maj6": "6", "min": "m", "m11": "m9", "m13": "m9", "maj11": "maj9", "maj13": "maj9", "aug9": "aug7",
    "7b13": "7", "7#11": "7b5", "+": "aug", "dim9": "dim7",
}
"""Kinds outside the table -> the nearest kind inside it (a tone is dropped, never added to another function)."""


def read_chord(text: str) -> tuple[Chord | None, bool]:
    """Read `G`, `Am7`, `D7/F#`, `Cmin7`, `Am/c`; returns (chord, True where it had to be simplified).

    (None, False) is "no chord" (N.C.). Raises ValueError when the text is no chord symbol at all.
    """
    plain = text.strip()
    if plain.upper() in NO_CHORD:
        return None, False
    try:
        return Chord.parse(plain), False
    except ValueError:
        pass
    match = _SHAPE.fullmatch(plain)
    if not match:
        raise ValueError(f"'{text}' is not a chord symbol")
    quality, changed = _fit_quality(match[2])
    return Chord(Tone.parse(match[1]), quality, _read_bass(match[3])), changed


def _read_bass(text: str | None) -> Tone | None:
    return Tone.parse(text[0].upper() + text[1:].replace("+", "#")) if text else None


def _fit_quality(written: str) -> tuple[str, bool]:
    """The known kind for a written one; raises ValueError where not even its beginning is known."""
    text = written
    for pattern, plain in _SPELLINGS:
        text = pattern.sub(plain, text)
    found = _known(text)
    if found is not None:
        return found, text in _EXTRA and text not in ("mmaj7", "7+", "7aug", "maj6", "min", "+")
    for end in range(len(text) - 1, 0, -1):
        found = _known(text[:end])
        if found is not None:
            return found, True
    raise ValueError(f"the chord kind '{written}' is not known")


def _known(text: str) -> str | None:
    quality = ALIASES.get(text, _EXTRA.get(text, text))
    return quality if quality in QUALITIES else None


def name_unread(texts: Iterable[str]) -> list[str]:
    """A remark that quotes what stands where chords stand and is none, so that no chord is lost unseen."""
    found = list(texts)
    if not found:
        return []
    more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    german = any(re.fullmatch("H(m|[0-9/]|$).*", text) for text in found)
    return [f"not read as chords: {', '.join(found[:MOST_NAMED])}{more}" + GERMAN * german]


def chord_from_degrees(root: Tone, semitones: frozenset[int], bass: Tone | None) -> tuple[Chord, bool]:
    """The kind of the table whose tones are nearest to a set of semitones above the root; True where not equal.

    Equal means the same pitch classes; otherwise the kind that shares third and seventh and differs least.
    """
    def distance(quality: str) -> tuple[int, int, int]:
        tones = {interval.semitones % 12 for interval in Chord(Tone(0), quality).intervals}
        frame = (tones ^ semitones) & {3, 4, 10, 11}
        return len(frame), len(tones ^ semitones), len(tones)

    best = min(QUALITIES, key=distance)
    return Chord(root, best, bass), distance(best)[1] > 0
