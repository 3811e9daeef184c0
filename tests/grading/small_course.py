"""A course of a few exercises, arranged, for tests of skills, order and diagnostics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.arrange.exercises import Setting, arrange_exercise
from bookbuild.grading.course import make_stages
from bookbuild.grading.learning import Stage
from bookbuild.grading.parts import read_music
from bookbuild.grading.skills import find_needs
from bookbuild.grading.weights import choose_weights
from bookbuild.lessons.model import Course, ExerciseSpec, Place, Week


def make_exercise(course: Course, setting: Setting, number: str, kind: str, tune: str = "", groove: str = "",
                  **options: object) -> Exercise:
    spec = ExerciseSpec(kind, tune, groove, place=Place("weeks/x.yaml", int(number.split(".")[-1]) * 10, 5),
                        **options)  # type: ignore[arg-type]
    found_tune, found_groove = course.tunes.get(tune), course.grooves.get(groove)
    return Exercise(number, spec, found_tune, found_groove,
                    arrange_exercise(spec, found_tune, found_groove, setting))


def make_lessons(weeks: Sequence[Sequence[Exercise]]) -> list[Lesson]:
    return [Lesson(number, Week(f"week-{number}", f"Week {number}", "", "", (), (), ()), tuple(exercises))
            for number, exercises in enumerate(weeks, start=1)]


def needs_of(exercise: Exercise) -> set[str]:
    return set(find_needs(exercise, read_music(exercise.arrangement)))


def stages_of(lessons: Sequence[Lesson], setting: Setting) -> tuple[Stage, ...]:
    return make_stages(lessons, setting.instrument, choose_weights({}))


def renumber(stages: Sequence[Stage]) -> list[Stage]:
    """The weeks as they would be printed in this order: weeks and exercises numbered anew."""
    made = []
    for number, stage in enumerate(stages, start=1):
        steps = tuple(replace(step, exercise=replace(step.exercise, number=f"{number}.{place}"))
                      for place, step in enumerate(stage.steps, start=1))
        exercises = tuple(step.exercise for step in steps)
        made.append(Stage(replace(stage.lesson, number=number, exercises=exercises), steps))
    return made
