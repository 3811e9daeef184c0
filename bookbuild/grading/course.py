"""A whole course graded: levels, skills, ladders and practice plans of its weeks, and what is wrong with its order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bookbuild.arrange.course import Lesson
from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.grading.difficulty import grade_music, level_of_points, share_of_points
from bookbuild.grading.ladder import choose_ladder
from bookbuild.grading.learning import Stage, Step
from bookbuild.grading.measure_hands import share_shaken
from bookbuild.grading.parts import read_music
from bookbuild.grading.plan import make_plan
from bookbuild.grading.practice import PracticePlan, Task
from bookbuild.grading.progress import check_progress
from bookbuild.grading.skills import find_needs
from bookbuild.grading.spacing import choose_reviews
from bookbuild.grading.weights import check_weights, choose_weights
from bookbuild.lessons.model import Course, Edition, Instrument


@dataclass(frozen=True)
class LessonGrade:
    """A week graded: it is as hard as its hardest exercise. `difficulty` is 0 to 1, `level` 1 to 10.

    `skills` are keys of `skills.SKILLS` in the usual order, `new_skills` those that no week before it used. Exercises
    are looked up by their printed number ("3.2").
    """

    level: int
    difficulty: float
    plan: PracticePlan
    new_skills: tuple[str, ...] = ()
    skills: tuple[str, ...] = ()
    reviews: tuple[Step, ...] = ()
    """Exercises of earlier weeks that the plan plays again."""
    exercises: Mapping[str, Step] = field(default_factory=dict, hash=False)
    ladders: Mapping[str, tuple[int, ...]] = field(default_factory=dict, hash=False)

    def level_of(self, number: str) -> int:
        """Level of an exercise, 1 to 10; raises KeyError for one that is not in the week."""
        return self.exercises[number].difficulty.level

    def ladder_of(self, number: str) -> tuple[int, ...]:
        """Tempo ladder of an exercise, its start lowered where it is hard; raises KeyError."""
        return self.ladders[number]

    def reasons_of(self, number: str) -> tuple[str, ...]:
        """Keys `why.*` of what makes an exercise hard; raises KeyError."""
        return self.exercises[number].difficulty.reasons


def grade_course(
    course: Course, edition: Edition, lessons: Sequence[Lesson]
) -> tuple[tuple[LessonGrade, ...], list[Diagnostic]]:
    """A grade for each lesson, and warnings about the order and the steps of the course."""
    chosen = choose_weights(course.weights)
    instrument = course.instruments[edition.instrument or course.default_instrument]
    stages = make_stages(lessons, instrument, chosen)
    findings = [*check_weights(course.weights), *check_progress(stages, chosen)]
    used: set[str] = set()
    grades = []
    for index, stage in enumerate(stages):
        new = tuple(skill for skill in stage.skills if skill not in used)
        used |= set(new)
        reviews = choose_reviews(stages, index)
        plan = plan_week(stage, reviews, edition.minutes, edition.days)
        findings += _tell_left_out(stage, plan, edition)
        grades.append(_grade_stage(stage, new, plan, reviews))
    return tuple(grades), findings


def make_stages(lessons: Sequence[Lesson], instrument: Instrument, chosen: Mapping[str, float]) -> tuple[Stage, ...]:
    """The lessons with every exercise measured; `chosen` holds the points of every measure (`choose_weights`)."""
    stages = []
    for lesson in lessons:
        steps = []
        for exercise in lesson.exercises:
            music = read_music(exercise.arrangement)
            steps.append(Step(exercise, grade_music(music, instrument, chosen), find_needs(exercise, music)))
        stages.append(Stage(lesson, tuple(steps)))
    return tuple(stages)


def plan_week(stage: Stage, reviews: Sequence[Step], minutes: int, days: int) -> PracticePlan:
    """The practice plan of a week: its exercises, and reviews of weeks before it (the latest week's first)."""
    tasks = [
        Task(step.exercise.number, step.difficulty.total, float(share_shaken(step.exercise.arrangement)))
        for step in stage.steps
    ]
    tasks += [Task(step.exercise.number, step.difficulty.total, review=True) for step in reviews]
    return make_plan(tasks, minutes, days)


def _tell_left_out(stage: Stage, plan: PracticePlan, edition: Edition) -> Iterator[Diagnostic]:
    """A note for each exercise that the practice log has no room for."""
    for step in stage.steps:
        if step.exercise.number in plan.left_out:
            place = step.exercise.spec.place
            message = (
                f"exercise {step.exercise.number} finds no room in the practice log of {plan.days} days "
                f"with {plan.minutes} minutes"
            )
            hint = f"Give edition '{edition.name}' more 'minutes' or 'days', or ask for less strenuous work in a week."
            yield Diagnostic(Severity.NOTE, place.file, place.line, place.column, message, hint)


def _grade_stage(stage: Stage, new: tuple[str, ...], plan: PracticePlan, reviews: tuple[Step, ...]) -> LessonGrade:
    return LessonGrade(
        level_of_points(stage.points),
        share_of_points(stage.points),
        plan,
        new,
        stage.skills,
        reviews,
        {step.exercise.number: step for step in stage.steps},
        {step.exercise.number: choose_ladder(step.exercise, step.difficulty.level) for step in stage.steps},
    )
