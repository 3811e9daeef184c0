"""What a plain dance accompaniment prefers, as numbers: chords of a key, steps between them, cadences.

All weights are common practice for dance and folk accompaniment, no source; they were set by reason and then held
against tunes with chords written by people (see `tests/corpus/measure_chords.py`). One unit is the gain of a chord tone
that sounds through a whole slice.
"""

from __future__ import annotations

from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Key

TONE_GAIN = {0: 1.0, 1: 0.9, 2: 0.85, 3: 0.35}
"""Gain of a melody note that is the chord's root, third, fifth, seventh."""
CLASH = -1.2
"""A melody note outside the chord."""
PASSING = 0.35
"""Share of the clash that counts for a note that comes and goes by step and begins off the beat."""

STRONG, BEAT, OFF = 1.4, 1.0, 0.6
"""Weight of a note that begins on the bar's first beat, on another beat, off the beat."""

MAJOR_DEGREES = {
    (0, ""): 0.75, (7, "7"): 0.3, (7, ""): 0.3, (5, ""): 0.5, (2, "m"): 0.0, (9, "m"): 0.0, (4, "m"): -0.5,
    (10, ""): -0.7, (2, "7"): -0.55, (2, ""): -0.8, (9, "7"): -0.9, (4, "7"): -0.9, (0, "7"): -0.6, (7, "m"): -0.9,
    (5, "m"): -1.0,
}
MINOR_DEGREES = {
    (0, "m"): 0.75, (7, "7"): 0.3, (7, ""): 0.2, (5, "m"): 0.3, (10, ""): 0.15, (3, ""): 0.1, (8, ""): 0.0,
    (7, "m"): -0.2, (5, ""): -0.5, (0, ""): -1.0, (10, "7"): -0.4, (0, "7"): -0.8, (2, "7"): -0.9,
}
PHRYGIAN_DEGREES = {
    (0, ""): 0.75, (5, "m"): 0.35, (10, "m"): 0.3, (1, ""): 0.25, (0, "7"): 0.0, (8, ""): -0.3, (3, ""): -0.5,
    (7, "m"): -0.9,
}
"""Liking of a chord by (semitones of its root above the tonic, kind). In phrygian tunes the tonic takes a major chord,
as dance musicians of the Balkans and of Jewish tradition play it."""
UNLIKELY = -1.5
"""Every chord that the tables do not name."""
MODAL_SEVENTH = 0.35
"""Extra liking of the chord a whole tone under the tonic in modes with a flat seventh."""

STAY, STAY_ON_A_DRONE = 0.35, 0.0
"""Keeping the chord, and keeping it where the whole strain would stand on one."""
STEPS = {5: 0.35, 7: 0.2, 2: 0.15, 10: 0.0, 9: 0.05, 3: 0.0, 4: -0.2, 8: 0.0, 1: -0.4, 11: -0.4, 6: -0.7, 0: -0.1}
"""Moving to another root, by the semitones it rises: a fourth up (5) is the step of the cadence; 0 changes the kind."""
RESOLVE = 0.3
"""Extra for a seventh chord that moves a fourth up, as it wants to."""
UNRESOLVED = -0.35
"""A seventh chord that moves anywhere else."""
MID_BAR = -0.8
"""A change inside the bar."""
LEAD_IN = -0.3
"""The same where the dominant leads into a strain's last bar, or the tonic follows it in that bar's middle: there
cadences stand, in minor above all."""

STATED_KEY = 0.03
"""Trust in the key the tune states, for each slice; another key must gain more than that."""

FIRST = 0.6
"""The tonic chord at the beginning of the tune."""
LAST = 1.6
"""The tonic chord at the end of the tune."""
STRAIN_END = 0.5
"""The tonic or dominant chord at the end of any other strain."""
CADENCE = 0.6
"""The dominant just before a closing tonic."""


def like_chord(chord: Chord, key: Key) -> float:
    """Liking of a chord in a key, whatever sounds above it."""
    place = ((chord.root.pc - key.tonic.pc) % 12, chord.quality)
    if key.mode == "phrygian":
        return PHRYGIAN_DEGREES.get(place, UNLIKELY)
    minor = _is_minor(key)
    liking = (MINOR_DEGREES if minor else MAJOR_DEGREES).get(place, UNLIKELY)
    scale = {tone.pc for tone in key.tones}
    flat_seventh = (key.tonic.pc + 10) % 12 in scale
    if not minor and flat_seventh and place == (10, ""):
        liking += 1.0
    if minor and place == (5, "") and (key.tonic.pc + 9) % 12 in scale:
        liking += 0.8
    if flat_seventh and place == (10, ""):
        liking += MODAL_SEVENTH
    if not chord.pcs <= scale and not (minor and place[0] == 7):
        liking -= 0.15
    return liking


def _is_minor(key: Key) -> bool:
    return key.mode in ("minor", "dorian", "locrian")


def step_gain(before: Chord, after: Chord, stay: float = STAY) -> float:
    """Gain of moving from one chord to the next, `stay` of keeping it."""
    if before == after:
        return stay
    rise = (after.root.pc - before.root.pc) % 12
    gain = STEPS[rise]
    if before.quality == "7":
        gain += RESOLVE if rise == 5 else UNRESOLVED if rise else 0.0
    return gain


def is_tonic(chord: Chord, key: Key) -> bool:
    """True for the chord on the tonic that the mode asks for."""
    return chord.root.pc == key.tonic.pc and chord.quality == ("m" if _is_minor(key) else "")


def is_dominant(chord: Chord, key: Key) -> bool:
    """True for the major chord on the fifth; in modes with a flat seventh also for the chord under the tonic."""
    rise = (chord.root.pc - key.tonic.pc) % 12
    if key.mode == "phrygian":
        return rise == 10 and chord.quality == "m"
    modal = (key.tonic.pc + 10) % 12 in {tone.pc for tone in key.tones}
    return (rise == 7 and chord.quality in ("", "7")) or (modal and rise == 10 and chord.quality == "")
