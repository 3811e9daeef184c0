"""The tempo ladder of an exercise: hard material starts lower."""

from __future__ import annotations

from bookbuild.arrange.course import Exercise
from bookbuild.exact import Fraction
from bookbuild.theory.tempo import tempo_ladder

HARD = 5
"""The highest level that starts where its tune says."""
LOWER_A_LEVEL = Fraction(1, 30)
"""Share by which each level above `HARD` lowers the start, so that level 10 starts a sixth lower.

Common practice, no source. The bellows plan is made for the start written in the course and leaves a fifth of the air
in reserve: music slower by a sixth takes a fifth more air, so the plan holds at the lowered start too.
"""


def lower_start(start: int, level: int) -> int:
    """Where a ladder begins, in beats a minute, for music of a level (1 to 10)."""
    return round(start * (1 - LOWER_A_LEVEL * max(0, level - HARD)))


def choose_ladder(exercise: Exercise, level: int) -> tuple[int, ...]:
    """The exercise's ladder for its level; a start the teacher wrote for this exercise stays."""
    made = exercise.arrangement
    if not made.ladder or exercise.spec.start or level <= HARD:
        return made.ladder
    return tempo_ladder(lower_start(made.tempo.start, level), made.tempo.goal)
