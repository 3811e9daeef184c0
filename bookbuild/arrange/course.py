"""A whole course arranged for one edition: every week's exercises with their numbers, tunes swapped as asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

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


def swap_tune(spec: ExerciseSpec, asked: Tune, tune: Tune) -> ExerciseSpec:
    """The exercise for another tune: a section that tune lacks becomes the one at its place, or its last."""
    own = [section.name for section in tune.sections]
    place = {section.name: own[min(i, len(own) - 1)] for i, section in enumerate(asked.sections)}

    def fit(names: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(name if name in own else place.get(name, own[-1]) for name in names)

    return replace(spec, tune=tune.name, sections=fit(spec.sections), shake=fit(spec.shake))


def arrange_week(course: Course, edition: Edition, number: int) -> tuple[Lesson, list[Diagnostic]]:
    """Week `number` (from 1) arranged; exercises that cannot be made are left out and explained."""
    week = course.weeks[number - 1]
    setting = edition_setting(course, edition)
    made, findings = [], []
    for index, spec in enumerate(week.exercises, start=1):
        tune = course.tunes[spec.tune] if spec.tune else None
        if tune and spec.tune in edition.swaps:
            swapped = course.tunes[edition.swaps[spec.tune]]
            spec, tune = swap_tune(spec, tune, swapped), swapped
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
    arranged: Callable[[Lesson], None] = lambda lesson: None,
) -> tuple[tuple[Lesson, ...], list[Diagnostic]]:
    """Every week of the course, and every finding on the way; `arranged` is told each week as soon as it is made."""
    lessons, findings = [], []
    for number in range(1, len(course.weeks) + 1):
        lesson, found = arrange_week(course, edition, number)
        lessons.append(lesson)
        findings += found
        arranged(lesson)
    return tuple(lessons), findings
