"""Finding the key of a melody: the Krumhansl–Kessler key profiles, and the final note."""

from __future__ import annotations

from collections.abc import Mapping

from bookbuild.exact import Fraction
from bookbuild.theory.likeness import correlate
from bookbuild.theory.pitch import MODE_FIFTHS, Key, Tone

MAJOR_PROFILE = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
MINOR_PROFILE = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
"""Probe-tone ratings from the tonic up: Krumhansl & Kessler, Psychological Review 89 (1982) 334–368."""

FINAL_BONUS = 0.15
"""Added to the correlation of keys whose tonic is the melody's last note (common practice, no source: folk melodies
nearly always end on their tonic)."""

_FOLK_MODES = ("major", "minor", "dorian", "mixolydian")

Weights = Mapping[int, Fraction]
"""Pitch class 0–11 -> how long it sounds, in whole notes."""


def rank_keys(weights: Weights, last: int | None = None) -> list[tuple[Key, float]]:
    """All 24 major and minor keys with the correlation of profile and weights, best first.

    `last` is the pitch class of the last note, if it shall count. Each key is spelled with the fewest accidentals.
    Raises ValueError when nothing sounds.
    """
    if not any(weights.values()):
        raise ValueError("no note sounds")
    heard = [float(weights.get(pc, 0)) for pc in range(12)]
    ranked = []
    for tonic in range(12):
        for mode, profile in (("major", MAJOR_PROFILE), ("minor", MINOR_PROFILE)):
            turned = [profile[(pc - tonic) % 12] for pc in range(12)]
            bonus = FINAL_BONUS if last == tonic else 0.0
            ranked.append((_spell_key(tonic, mode), correlate(heard, turned) + bonus))
    return sorted(ranked, key=lambda item: -item[1])


def _spell_key(tonic: int, mode: str) -> Key:
    keys = [Key(Tone.from_fifths(fifths), mode) for fifths in range(-8, 12) if Tone.from_fifths(fifths).pc == tonic]
    return min(keys, key=lambda key: (abs(key.signature), -key.signature))


def key_of_signature(fifths: int, weights: Weights, last: Tone | None) -> Key:
    """The key meant by a bare signature: the folk mode whose tonic is the last note, else major or minor by profile.

    `fifths` counts sharps (positive) or flats (negative), −7 to 7; raises ValueError outside.
    """
    if abs(fifths) > 7:
        raise ValueError(f"{fifths} is not a key signature")
    keys = {mode: Key(Tone.from_fifths(fifths - MODE_FIFTHS[mode]), mode) for mode in _FOLK_MODES}
    for key in keys.values():
        if last is not None and key.tonic.pc == last.pc:
            return key
    if not any(weights.values()):
        return keys["major"]
    score = {key.name: value for key, value in rank_keys(weights)}
    return max((keys["major"], keys["minor"]), key=lambda key: score.get(_spell_key(key.tonic.pc, key.mode).name, 0.0))
