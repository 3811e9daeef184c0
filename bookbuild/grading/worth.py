"""How much a week's practice is served when the music of an exercise lies on the stand: its own, and what it contains.

An exercise is worth the minutes its week gives it, twice where it teaches what no earlier week taught or is what the
hands alone lead to. Its staves also serve what can be practised from them: both hands together hold each hand alone.
The shares are a teacher's judgement: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from bookbuild.arrange.course import Exercise
from bookbuild.arrange.exercises import choose_sections
from bookbuild.grading.learning import Step
from bookbuild.lessons.model import ExerciseSpec

WHOLE, CONTAINED, LIKE = 10, 9, 5
"""Tenths of its worth that an exercise is served by its own music, by staves that contain it, by the same groove or
shake on other chords."""

AT_HEART = 2
"""How much more an exercise is worth that teaches something new, or is one of these kinds."""
GOALS = frozenset({"together", "arrangement"})

_LAYERS = {
    "count": {"rhythm"},
    "melody": {"rhythm", "melody"},
    "shapes": {"rhythm", "melody", "shapes"},
    "fill": {"rhythm", "melody", "fill"},
    "left-hand": {"left"},
    "together": {"rhythm", "melody", "left"},
    "arrangement": {"rhythm", "melody", "left"},
}
"""What can be practised from the staves of a kind; shakes stand for themselves."""


def rate_music(
    steps: Sequence[Step], minutes: Mapping[str, int], known: Collection[str]
) -> tuple[tuple[int, ...], ...]:
    """For every exercise of a week the points it serves each of them, its own among them.

    `minutes` are those of the whole week by exercise number; `known` is what earlier weeks taught.
    """
    worth = [_worth(step, minutes.get(step.exercise.number, 0), known) for step in steps]
    return tuple(
        tuple(each * share_served(step.exercise, other.exercise) for each, other in zip(worth, steps, strict=True))
        for step in steps
    )


def _worth(step: Step, minutes: int, known: Collection[str]) -> int:
    new = any(need not in known for need in step.teaches if not need.startswith("tune:"))
    return max(1, minutes) * (AT_HEART if new or step.kind in GOALS else 1)


def share_served(shown: Exercise, other: Exercise) -> int:
    """Tenths of exercise `other` that can be practised from the music of `shown`."""
    if shown.number == other.number:
        return WHOLE
    if _is_on_one_chord(other):
        return LIKE if _groove(shown) == _groove(other) and _has_left_hand(shown, other.spec.kind) else 0
    return CONTAINED if _contains(shown, other) else 0


def _is_on_one_chord(exercise: Exercise) -> bool:
    return exercise.spec.kind in ("left-hand-one-chord", "shake-one-bass")


def _groove(exercise: Exercise) -> str:
    return exercise.groove.name if exercise.groove else ""


def _has_left_hand(shown: Exercise, kind: str) -> bool:
    """Whether the left hand of `shown` plays what an exercise of `kind` on one chord drills."""
    if kind == "shake-one-bass":
        return shown.spec.kind in ("shake-one-bass", "shake-groove")
    return shown.spec.kind == kind or "left" in layers_of(shown.spec)


def layers_of(spec: ExerciseSpec) -> frozenset[str]:
    """What can be practised from the staves of an exercise: rhythm, melody, shapes, fill, left (hand)."""
    right = spec.right or ("fill" if spec.kind == "arrangement" else "")
    return frozenset(_LAYERS.get(spec.kind, set()) | ({right} if right else set()))


def _contains(shown: Exercise, other: Exercise) -> bool:
    """Whether the staves of `shown` hold those of `other`: its layers, its sections and bars, its groove."""
    inner, outer = layers_of(other.spec), layers_of(shown.spec)
    if not inner or not inner <= outer or shown.tune is None or shown.tune != other.tune:
        return False
    if inner & {"left", "fill"} and _groove(shown) != _groove(other):
        return False
    mine, theirs = (choose_sections(each.spec, shown.tune) for each in (shown, other))
    if shown.spec.bars:
        # Cut to its first bars, it holds no more than the first bars of the same beginning.
        return 0 < other.spec.bars <= shown.spec.bars and mine[:1] == theirs[:1]
    return set(theirs) <= set(mine)
