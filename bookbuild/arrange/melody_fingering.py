"""Fingers of the right hand in an exercise: of the melody, of whole grips, and which of them are worth printing."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations

from bookbuild.arrange.right_fingering import FINGERS, SPANS, best_fingering, is_black
from bookbuild.exact import Fraction
from bookbuild.lessons.model import MelodyNote

OUTER = (5, 4)
"""Fingers that hold the melody while the others play beneath it."""
OUT_OF_REACH = 100
"""Points for a pair of fingers wider apart than any hand: only taken when nothing else is left."""
TOO_FEW = 10_000
"""Points where a finger on top leaves fewer than the grip has notes: never taken."""

TIME_TO_HOP = Fraction(1, 8)
"""Whole notes that a note must last for the hand to move as a whole after it."""
GIVEN_STRAIN = 3
"""Points by which the teacher's finger for a melody note may strain a grip more than the fifth finger would."""


def finger_melody(
    notes: Sequence[MelodyNote],
    *,
    held: Mapping[int, Collection[int]] | None = None,
) -> tuple[int, ...]:
    """A finger for every note, 0 for rests; `held` (index -> allowed fingers) are notes with others beneath them.

    Fingers the teacher gives are fixed points, a repeated note keeps its finger, after a rest or a breath the start is
    free. Next to a held note the hand may move as a whole, if there is time.
    """
    held = held or {}
    fingers = [0] * len(notes)
    for run in _sounding_runs(notes):
        groups = list(_repeated_groups(notes, run, held))
        pitches = [_key(notes[group[0]]) for group in groups]
        allowed = {place: found for place, group in enumerate(groups) if (found := _allowed(notes, group, held))}
        taken = {place for place, group in enumerate(groups) if held.keys() & set(group)}
        hops = {place for place in taken | {place + 1 for place in taken}
                if 0 < place < len(groups) and notes[groups[place - 1][-1]].length >= TIME_TO_HOP}
        steps = [_place(notes[group[0]]) for group in groups]
        best = best_fingering(pitches, held=allowed, hops=hops, steps=steps)
        for group, finger in zip(groups, best, strict=True):
            for index in group:
                fingers[index] = finger
    return tuple(fingers)


def printed_fingers(
    notes: Sequence[MelodyNote], fingers: Sequence[int], held: Collection[int] = ()
) -> tuple[int, ...]:
    """The fingers worth printing, 0 elsewhere: those the teacher gave, the first of a phrase, and every finger that the
    hand's position does not predict (one finger a staff place from the note before), so thumb passes and leaps.

    From one of the `held` notes (indices) to the next the outer finger is expected to stay the same.
    """
    shown = []
    for index, (note, finger) in enumerate(zip(notes, fingers, strict=True)):
        before = notes[index - 1] if index else None
        if note.pitch is None or not finger:
            shown.append(0)
        elif note.finger == finger or before is None or before.breath or before.end < note.onset:
            shown.append(finger)
        else:
            rise = note.pitch.diatonic - before.pitch.diatonic if before.pitch else 0
            moved = 0 if {index - 1, index} <= set(held) else rise
            predicted = before.pitch is not None and finger == fingers[index - 1] + moved
            shown.append(0 if predicted else finger)
    return tuple(shown)


@lru_cache(maxsize=1 << 14)
def finger_grip(keys: tuple[int, ...], top: int | None = None) -> tuple[int, ...]:
    """Fingers for up to five MIDI keys struck together, low to high; `top` fixes the highest note's finger.

    Least strain by the span table of Parncutt et al. 1997 (rules 1–3 between neighbours and for the whole grip, 1 for
    the thumb on black); without `top` the outer fingers 5 and 4 take the highest note. Raises ValueError
    when `top` leaves too few fingers.
    """
    tops = OUTER if top is None else (top,)
    grips = [grip for grip in combinations(FINGERS, len(keys)) if grip[-1] in tops]
    if not grips:
        raise ValueError(f"finger {top} on top leaves too few fingers for {len(keys)} notes")
    return min(grips, key=lambda grip: (_strain(keys, grip), -grip[-1], grip))


def outer_fingers(grips: Sequence[Sequence[int]], given: int = 0) -> tuple[int, ...]:
    """Fingers that can hold the highest key of every grip (MIDI keys low to high): the teacher's `given`, meant for the
    melody alone, if it holds them nearly as well, else 5, and 4 where it strains the hand hardly more."""
    if given and _total_strain(grips, given) <= _total_strain(grips, 5) + GIVEN_STRAIN * len(grips):
        return (given,)
    return tuple(finger for finger in OUTER if _total_strain(grips, finger) <= _total_strain(grips, 5) + 1)


def _total_strain(grips: Sequence[Sequence[int]], top: int) -> int:
    if any(len(keys) > top for keys in grips):
        return TOO_FEW * len(grips)
    return sum(_strain(keys, finger_grip(tuple(keys), top)) for keys in grips)


def _strain(keys: Sequence[int], grip: Sequence[int]) -> int:
    pairs = [*zip(range(len(keys)), range(1, len(keys)), strict=False)]
    if len(keys) > 2:
        pairs.append((0, len(keys) - 1))
    points = int(grip[0] == 1 and is_black(keys[0]))
    for low, high in pairs:
        span = keys[high] - keys[low]
        points += _span_points(span, grip[low], grip[high])
        reach = SPANS[grip[low], grip[high]]
        points += 0 if reach[0] <= span <= reach[5] else OUT_OF_REACH
    return points


def _span_points(span: int, low: int, high: int) -> int:
    """Rules 1 to 3 of a pair of fingers struck together."""
    _, min_comf, min_rel, max_rel, max_comf, _ = SPANS[low, high]
    rate = 1 if low == 1 else 2
    return 2 * max(0, span - max_comf, min_comf - span) + rate * max(0, min_rel - span, span - max_rel)


def _key(note: MelodyNote) -> int:
    return note.pitch.midi if note.pitch else -1


def _place(note: MelodyNote) -> int:
    return note.pitch.diatonic if note.pitch else 0


def _sounding_runs(notes: Sequence[MelodyNote]) -> Iterator[list[int]]:
    """Indices of notes that follow each other without a rest or a breath."""
    run: list[int] = []
    for index, note in enumerate(notes):
        if run and (note.pitch is None or notes[run[-1]].end < note.onset or notes[run[-1]].breath):
            yield run
            run = []
        if note.pitch is not None:
            run.append(index)
    if run:
        yield run


def _repeated_groups(
    notes: Sequence[MelodyNote], run: Sequence[int], held: Mapping[int, Collection[int]]
) -> Iterator[tuple[int, ...]]:
    """The run's notes, direct repetitions together unless their fixed fingers exclude each other."""
    group: list[int] = []
    for index in run:
        same = group and _key(notes[group[0]]) == _key(notes[index])
        if group and not (same and _allowed(notes, [*group, index], held) != ()):
            yield tuple(group)
            group = []
        group.append(index)
    yield tuple(group)


def _allowed(
    notes: Sequence[MelodyNote], group: Sequence[int], held: Mapping[int, Collection[int]]
) -> tuple[int, ...] | None:
    """Fingers the whole group may take: None when nothing is fixed, () when the fixed fingers exclude each other."""
    sets = [held[index] if index in held else (notes[index].finger,)
            for index in group if index in held or notes[index].finger]
    if not sets:
        return None
    return tuple(finger for finger in FINGERS if all(finger in fixed for fixed in sets))
