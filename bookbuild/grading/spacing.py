"""When to practise something again: gaps that grow, in days inside a week and in weeks over the course.

Sources: the best gap before a review is about 20–40 % of the time it must be remembered when that is a week, 5–10 %
when it is a year (Cepeda et al. 2008, *Psychological Science* 19, 1095–1102); gaps that expand do as well as equal
ones in the end and better on the way (Kang et al. 2014). What fails a review starts again with the shortest gap
(Leitner 1972): that is left to teacher and student.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bookbuild.grading.learning import Stage, Step
from bookbuild.grading.measure_hands import share_shaken

FIRST_REVIEW = 1
"""Weeks after which a week is reviewed first; each further gap is twice the one before."""
PIECES = ("arrangement", "together", "fill", "melody")
"""Kinds worth playing again: music before drill."""


def days_until_again(times: int) -> int:
    """Days to wait after something was practised `times` times in a week: 1, 2, 3 …"""
    return max(1, times)


def list_review_ages() -> Iterator[int]:
    """How many weeks after its own a week is reviewed: 1, 3, 7, 15 … (gaps of 1, 2, 4, 8 weeks)."""
    age, gap = 0, FIRST_REVIEW
    while True:
        age += gap
        yield age
        gap *= 2


def weeks_to_review(week: int) -> tuple[int, ...]:
    """Numbers (from 1) of the weeks that week `week` reviews, the latest first."""
    found: list[int] = []
    for age in list_review_ages():
        if age >= week:
            return tuple(found)
        found.append(week - age)
    raise AssertionError("the ages rise without end")


def choose_reviews(stages: Sequence[Stage], index: int) -> tuple[Step, ...]:
    """One exercise of each week that the week at `index` reviews, the latest week first.

    The hardest piece it has, shakes left out; a tune that this week plays anyway, or that is reviewed already, only
    where there is no other.
    """
    heard = {step.exercise.tune.name for step in stages[index].steps if step.exercise.tune}
    chosen: list[Step] = []
    for number in weeks_to_review(index + 1):
        step = _choose_piece(stages[number - 1], heard)
        if step is not None:
            chosen.append(step)
            heard |= {step.exercise.tune.name} if step.exercise.tune else set()
    return tuple(chosen)


def _choose_piece(stage: Stage, heard: set[str]) -> Step | None:
    calm = [step for step in stage.steps if not share_shaken(step.exercise.arrangement)]

    def rank(step: Step) -> tuple[bool, bool, float]:
        tune = step.exercise.tune
        return step.kind in PIECES, tune is not None and tune.name not in heard, step.difficulty.total

    return max(calm, key=rank, default=None)
