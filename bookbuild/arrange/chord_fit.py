"""How well a set of tones stands for a chord: what is left out, what is added, what would clash, and how to say it.

The costs are common practice, no source: they rank what an accompanist misses first (the third, then the seventh
that makes a dominant) and what is heard as a wrong chord (a foreign third, a semitone against a chord tone).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from bookbuild.arrange.notices import say
from bookbuild.arrange.stradella import spell_plainly
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Interval, Tone

THIRD, FOURTH, SECOND = 6.0, 4.0, 1.0
FIFTH, ALTERED_FIFTH = 0.5, 1.5
DOMINANT_SEVENTH, SEVENTH = 3.0, 1.0
COLOUR = 0.5
ROOT = 2.0
FOREIGN_TONE, FOREIGN_FOURTH, FOREIGN_SEVENTH, FOREIGN_SIXTH = 1.5, 3.0, 5.0, 3.0

_FOREIGN_STEPS = {1: 8, 2: 8, 5: 3, 6: 3, 8: 5, 9: 5, 10: 6, 11: 6}
"""Semitones above the root -> the staff steps above the root a foreign tone is named by."""


def _weigh_interval(interval: Interval, minor_third: bool) -> float:
    """Cost of leaving out one chord tone."""
    step = interval.steps
    if step == 4:
        return FIFTH if interval.semitones == 7 else ALTERED_FIFTH
    if step == 6:
        return DOMINANT_SEVENTH if interval.semitones == 10 and not minor_third else SEVENTH
    return {0: ROOT, 1: SECOND, 2: THIRD, 3: FOURTH}.get(step, COLOUR)


@lru_cache(maxsize=1024)
def weigh_tones(chord: Chord) -> tuple[tuple[int, float], ...]:
    """(pitch class, cost of leaving it out) of each chord tone. The slash bass is not among them."""
    minor_third = has_third(chord, 3)
    return tuple((tone.pc, _weigh_interval(interval, minor_third))
                 for tone, interval in zip(chord.tones, chord.intervals, strict=True))


def has_third(chord: Chord, semitones: int) -> bool:
    """True when the chord has a minor (3) or major (4) third."""
    return any(i.steps == 2 and i.semitones == semitones for i in chord.intervals)


def cost_missing(chord: Chord, pcs: Iterable[int]) -> float:
    """Cost of the chord tones that are not among these pitch classes."""
    sounding = set(pcs)
    return sum(weight for pc, weight in weigh_tones(chord) if pc not in sounding)


def cost_foreign(chord: Chord, pcs: Iterable[int]) -> float | None:
    """Cost of the pitch classes that do not belong to the chord; None when one of them would be heard as wrong.

    Wrong is: a semitone from a chord tone, a third where the chord has another or none, another altered fifth. The
    plain fifth that a symbol leaves unsaid costs nothing.
    """
    has_fifth = degree_tone(chord, 4) is not None
    total = 0.0
    for pc in set(pcs) - chord.pcs:
        if any((pc - tone) % 12 in (1, 11) for tone in chord.pcs):
            return None
        above = (pc - chord.root.pc) % 12
        if above in (3, 4) or (has_fifth and above in (6, 8)):
            return None
        total += _cost_foreign_tone(chord, above)
    return total


def _cost_foreign_tone(chord: Chord, above: int) -> float:
    """Cost of one foreign tone by its semitones above the root."""
    sus = not (has_third(chord, 3) or has_third(chord, 4))
    if above == 7:
        return 0.0
    if above == 10:
        raised_fifth = any(i.steps == 4 and i.semitones == 8 for i in chord.intervals)
        return FOREIGN_TONE if has_third(chord, 3) or raised_fifth else FOREIGN_SEVENTH
    if above == 9:
        if chord.quality == "dim":
            return 0.0  # every diminished button sounds a diminished seventh: the trade plays the triad with it
        return FOREIGN_SIXTH if sus else FOREIGN_TONE
    return FOREIGN_FOURTH if above == 5 else FOREIGN_TONE


def name_missing(chord: Chord, pcs: Iterable[int]) -> tuple[str, ...]:
    """The chord tones left out, for example `the seventh B♭`; a plain fifth is not worth a word."""
    sounding = set(pcs)
    return tuple(
        _name_tone(interval.steps, spell_plainly(tone))
        for tone, interval in zip(chord.tones, chord.intervals, strict=True)
        if tone.pc not in sounding and (interval.steps, interval.semitones) != (4, 7)
    )


def name_foreign(chord: Chord, pcs: Iterable[int]) -> tuple[str, ...]:
    """The tones added to the chord, for example `the sixth A`.

    Not worth a word: a plain fifth, and the sixth that every diminished button adds to the triad.
    """
    silent = (7, 9) if chord.quality == "dim" else (7,)
    extra = sorted((pc - chord.root.pc) % 12 for pc in set(pcs) - chord.pcs)
    return tuple(
        _name_tone(step, _name_above(chord, step % 7, above))
        for above in extra if above not in silent
        for step in (_FOREIGN_STEPS[above],)
    )


def _name_tone(step: int, tone: Tone) -> str:
    """`the sixth A`: a tone by its staff steps above the root."""
    return say("say.tone", degree=say(f"degree.{step}"), tone=tone)


def _name_above(chord: Chord, step: int, semitones: int) -> Tone:
    return spell_plainly(chord.root.transpose(Interval(step, semitones)))


def degree_tone(chord: Chord, step: int) -> Tone | None:
    """The chord's tone on a staff step above the root (2 third, 4 fifth), or None when the chord has none."""
    for tone, interval in zip(chord.tones, chord.intervals, strict=True):
        if interval.steps == step:
            return tone
    return None


def fifth_tone(chord: Chord) -> Tone:
    """The chord's own fifth, or the perfect fifth where its symbol leaves it out."""
    return degree_tone(chord, 4) or chord.root.transpose(Interval(4, 7))


def list_spellings(chord: Chord) -> tuple[Tone, ...]:
    """The chord's spellings, slash bass first."""
    return ((chord.bass,) if chord.bass else ()) + chord.tones


def home_row(chord: Chord) -> str:
    """The chord row a player looks for first: d for diminished, 7 for dominants, m for minor, M for the rest."""
    kinds = {(i.steps, i.semitones) for i in chord.intervals}
    if chord.quality in ("dim", "dim7"):
        return "diminished"
    if (2, 3) in kinds:
        return "minor"
    return "seventh" if (2, 4) in kinds and (6, 10) in kinds else "major"
