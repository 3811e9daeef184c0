"""A whole course arranged for one edition: every week's exercises with their numbers, tunes swapped as asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bookbuild.arrange.exercises import Setting, arrange_exercise
from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.lessons.model import Course, Edition, ExerciseSpec, Groove, Tune, Week


@dataclass(frozen=True)
class Exercise:
    """One arranged exercise; `number` is week and place, as printed: `3.2`."""

    number: str
    spec: ExerciseSpec
    tune: Tune | None
    groove: Groove | None
    arrangement: Arrangement


@dataclass(frozen=True)
class Lesson:
    """A week with its arranged exercises; `number` counts from 1."""

    number: int
    week: Week
    exercises: tuple[Exercise, ...]


def edition_setting(course: Course, edition: Edition) -> Setting:
    """Instrument, counting and grip of an edition."""
    return Setting(
        course.instruments[edition.instrument or course.default_instrument],
        course.countings[edition.counting],
        edition.widest_span,
    )


def arrange_week(course: Course, edition: Edition, number: int) -> tuple[Lesson, list[Diagnostic]]:
    """Week `number` (from 1) arranged; exercises that cannot be made are left out and explained."""
    week = course.weeks[number - 1]
    setting = edition_setting(course, edition)
    made, findings = [], []
    for index, spec in enumerate(week.exercises, start=1):
        tune = course.tunes[edition.swaps.get(spec.tune, spec.tune)] if spec.tune else None
        groove = course.grooves[spec.groove] if spec.groove else None
        try:
            arrangement = arrange_exercise(spec, tune, groove, setting)
        except ValueError as reason:
            findings.append(
                Diagnostic(
                    Severity.ERROR,
                    spec.place.file,
                    spec.place.line,
                    spec.place.column,
                    str(reason),
                    "choose another groove, tune or kind for this exercise",
                )
            )
            continue
        made.append(Exercise(f"{number}.{index}", spec, tune, groove, arrangement))
    return Lesson(number, week, tuple(made)), findings


def arrange_course(
    course: Course,
    edition: Edition,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[tuple[Lesson, ...], list[Diagnostic]]:
    """Every week of the course, and every finding on the way; `progress(done, total)` counts weeks."""
    lessons, findings = [], []
    for number in range(1, len(course.weeks) + 1):
        lesson, found = arrange_week(course, edition, number)
        lessons.append(lesson)
        findings += found
        progress(number, len(course.weeks))
    return tuple(lessons), findings
