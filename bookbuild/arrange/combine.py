"""Chord symbol -> buttons: exact combinations found by search, and the practical choice for one groove stroke."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from bookbuild.arrange.chord_fit import cost_missing, name_missing
from bookbuild.arrange.notices import say_all
from bookbuild.arrange.stradella import (
    CHORD_ROWS,
    COLUMN_STEP,
    WIDEST_REACH,
    Button,
    find_basses,
    is_bass,
    list_buttons,
    measure_reach,
    sound_classes,
    unite_classes,
)
from bookbuild.lessons.model import Instrument
from bookbuild.theory.chords import Chord

BUTTON_COST = 0.3
"""What one more finger costs against a tone left out (`chord_fit`); common practice, no source."""
REACH_COST = 1 / 50
"""What a millimetre of reach costs against a tone left out; common practice, no source."""


@dataclass(frozen=True)
class Combination:
    """Buttons that together stand for a chord; `exact` when they sound its pitch classes and no others.

    `basses` begins with the button of the bass (root or slash bass). `reason` says in the teacher's words why the
    combination is not exact; '' when it is.
    """

    basses: tuple[Button, ...]
    chords: tuple[Button, ...]
    exact: bool = True
    reason: str = ""

    @property
    def buttons(self) -> tuple[Button, ...]:
        """All the buttons: basses, then chords."""
        return self.basses + self.chords

    @property
    def reach(self) -> float:
        """Millimetres between the two farthest buttons."""
        return measure_reach(self.buttons)


@lru_cache(maxsize=512)
def find_combinations(chord: Chord, instrument: Instrument) -> tuple[Combination, ...]:
    """Every exact combination of one or two basses (the root or slash bass among them) and at most two chord buttons.

    Exact: the union of the pitch classes equals the chord's (with its slash bass). A button that adds nothing is left
    out. Order: those within a hand's reach first, then fewest fingers, then shortest reach (a counterbass in place of
    the fundamental counts as a further column), then nearest to the chord's own column. Empty when there is none.
    """
    target = _target(chord)
    bass_pc = _bass_pc(chord)
    found = [
        Combination(basses, chords)
        for basses in _choose_basses(bass_pc, target, instrument)
        for chords in _cover(target, basses, instrument)
    ]
    return tuple(sorted(found, key=lambda combination: _rank(combination, chord)))


def choose_combination(chord: Chord, instrument: Instrument) -> Combination | None:
    """The best exact combination a hand can reach, else the fullest set of the chord's own tones, with the reason.

    The nearest choice only drops tones: it never adds one, so no third is wrong and nothing clashes. None when the
    instrument has no button inside the chord.
    """
    exact = find_combinations(chord, instrument)
    if exact and exact[0].reach <= WIDEST_REACH:
        return exact[0]
    best = min(_list_partial(chord, instrument), key=lambda c: _cost_partial(c, chord, instrument), default=None)
    if best is None:
        return None
    return Combination(best.basses, best.chords, exact=False, reason=_explain(best, chord, instrument, bool(exact)))


def _target(chord: Chord) -> frozenset[int]:
    return chord.pcs | ({chord.bass.pc} if chord.bass else set())


def _bass_pc(chord: Chord) -> int:
    return (chord.bass or chord.root).pc


def _choose_basses(bass_pc: int, target: frozenset[int], instrument: Instrument) -> Iterator[tuple[Button, ...]]:
    """The bass alone, then with one further bass inside the chord."""
    others = [button for pc in sorted(target - {bass_pc}) for button in find_basses(pc, instrument)]
    for bass in find_basses(bass_pc, instrument):
        yield (bass,)
        for other in others:
            yield (bass, other)


def _inside(target: frozenset[int], instrument: Instrument) -> list[Button]:
    """Chord buttons that sound nothing outside the target."""
    return [b for b in list_buttons(instrument, CHORD_ROWS) if sound_classes(b, instrument) <= target]


def _cover(target: frozenset[int], basses: tuple[Button, ...], instrument: Instrument) -> Iterator[tuple[Button, ...]]:
    """Sets of at most two chord buttons that complete the basses exactly, none of the buttons idle."""
    low = unite_classes(basses, instrument)
    inside = _inside(target, instrument)
    for count in range(3):
        for chords in combinations(inside, count):
            if low | unite_classes(chords, instrument) == target and not _idle(basses, chords, target, instrument):
                yield chords


def _idle(basses: tuple[Button, ...], chords: tuple[Button, ...], target: frozenset[int],
          instrument: Instrument) -> bool:
    """True when a button other than the first bass could be left out."""
    pressed = basses + chords
    return any(unite_classes(pressed[:i] + pressed[i + 1:], instrument) == target for i in range(1, len(pressed)))


def _rank(combination: Combination, chord: Chord) -> tuple[bool, int, float, int, tuple[Button, ...]]:
    """Sort key of an exact combination."""
    reach = combination.reach
    bass = combination.basses[0]
    stretch = round(reach + (COLUMN_STEP if bass.row == "counterbass" else 0), 3)
    away = abs(bass.column - (chord.bass or chord.root).fifths)
    return reach > WIDEST_REACH, len(combination.buttons), stretch, away, combination.buttons


def _list_partial(chord: Chord, instrument: Instrument) -> Iterator[Combination]:
    """Combinations within reach whose tones all belong to the chord; without its bass where that button is missing."""
    target = _target(chord)
    inside = _inside(target, instrument)
    basses = tuple(_choose_basses(_bass_pc(chord), target, instrument)) or tuple(
        (button,) for pc in sorted(target) for button in find_basses(pc, instrument))
    for low in basses or ((),):
        for count in range(3):
            for chords in combinations(inside, count):
                combination = Combination(low, chords, exact=False)
                if combination.buttons and combination.reach <= WIDEST_REACH:
                    yield combination


def _cost_partial(combination: Combination, chord: Chord,
                  instrument: Instrument) -> tuple[float, int, tuple[Button, ...]]:
    """Tones missed, then fingers and reach."""
    missing = cost_missing(chord, unite_classes(combination.buttons, instrument))
    cost = missing + BUTTON_COST * len(combination.buttons) + REACH_COST * combination.reach
    away = sum(abs(button.column - chord.root.fifths) for button in combination.buttons)
    return round(cost, 6), away, combination.buttons


def _explain(combination: Combination, chord: Chord, instrument: Instrument, too_far: bool) -> str:
    """Why this is not the chord itself, in the teacher's words."""
    why = "its buttons lie too far apart for one hand" if too_far else "no buttons of this instrument sound it exactly"
    pcs = unite_classes(combination.buttons, instrument)
    left_out = name_missing(chord, pcs) or (() if cost_missing(chord, pcs) == 0 else ("the fifth",))
    text = f"{chord.symbol}: {why}"
    if chord.bass and not any(is_bass(b) and chord.bass.pc in sound_classes(b, instrument) for b in combination.basses):
        text += f"; there is no bass {chord.bass.name}"
    return text + (f"; without {say_all(left_out)}" if left_out else "")
