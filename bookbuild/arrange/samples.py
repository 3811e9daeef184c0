"""Short pieces of the course's own music for the page that explains the signs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.arrange.exercises import Setting, arrange_exercise

SAMPLE_BARS = 4


def _find(lessons: Iterable[Lesson], kinds: Sequence[str]) -> Exercise | None:
    every = [exercise for lesson in lessons for exercise in lesson.exercises]
    return next((e for kind in kinds for e in every if e.spec.kind == kind and e.tune and e.groove), None)


def sample_exercises(lessons: Sequence[Lesson], setting: Setting) -> tuple[Exercise, ...]:
    """Up to two samples: hands together with fill, and a bellows shake. Their numbers are the letters A and B."""
    together = _find(lessons, ("together", "arrangement", "fill"))
    shake = _find(lessons, ("shake-melody", "shake-groove"))
    made: list[Exercise] = []
    for source, kind in ((together, "together"), (shake, shake.spec.kind if shake else "")):
        if source is None:
            continue
        spec = replace(
            source.spec,
            kind=kind,
            sections=(),
            bars=SAMPLE_BARS,
            shake=(),
            introduction=0,
            right="fill" if kind == "together" else "",
        )
        arrangement = arrange_exercise(spec, source.tune, source.groove, setting)
        made.append(Exercise("AB"[len(made)], spec, source.tune, source.groove, arrangement))
    return tuple(made)
