"""What `bookbuild check` prints about a course: its ladder of levels, and the order its music suggests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.grading.course import LessonGrade, make_stages
from bookbuild.grading.order import measure_agreement, suggest_order
from bookbuild.grading.weights import choose_weights
from bookbuild.lessons.model import Course, Edition


@dataclass(frozen=True)
class LadderRow:
    """A line of the course's ladder: a week (`is_week`) or one of its exercises.

    `name` is what it is called, `level` 1 to 10, `points` of ten a level, `tempi` the ends of its tempo ladder (a week
    has none), `words` the new skills of a week or the reasons of an exercise, in words.
    """

    number: str
    name: str
    level: int
    points: float
    tempi: tuple[int, int] | None
    words: tuple[str, ...]
    is_week: bool = False


@dataclass(frozen=True)
class OrderAdvice:
    """An order of weeks: file names in `weeks` as proposed, and how far that agrees with the course as it stands.

    `agreement` is Kendall's tau: 1 the same order, −1 the reverse.
    """

    weeks: tuple[str, ...]
    agreement: float


def ladder_table(
    lessons: Sequence[Lesson], grades: Sequence[LessonGrade], words: Mapping[str, str]
) -> tuple[LadderRow, ...]:
    """Every week, each followed by its exercises; `words` are the printed labels of a language."""
    rows: list[LadderRow] = []
    for lesson, grade in zip(lessons, grades, strict=True):
        points = max((found.total for found in grade.exercises.values()), default=0.0)
        new = tuple(words[f"skill.{skill}"] for skill in grade.new_skills)
        rows.append(LadderRow(str(lesson.number), lesson.week.title, grade.level, points, None, new, True))
        rows += [_exercise_row(exercise, grade, words) for exercise in lesson.exercises]
    return tuple(rows)


def _exercise_row(exercise: Exercise, grade: LessonGrade, words: Mapping[str, str]) -> LadderRow:
    found, ladder = grade.exercises[exercise.number], grade.ladder_of(exercise.number)
    parts = (exercise.tune and exercise.tune.title, exercise.groove and exercise.groove.title)
    name = " · ".join((words[f"kind.{exercise.spec.kind}"], *filter(None, parts)))
    reasons = tuple(words[reason] for reason in found.reasons)
    tempi = (ladder[0], ladder[-1]) if ladder else None
    return LadderRow(exercise.number, name, found.level, found.total, tempi, reasons)


def suggest_weeks(course: Course, edition: Edition, lessons: Sequence[Lesson]) -> OrderAdvice:
    """The order of weeks that the music suggests, as names for `weeks` in course.yaml."""
    instrument = course.instruments[edition.instrument or course.default_instrument]
    order = suggest_order(make_stages(lessons, instrument, choose_weights(course.weights)))
    return OrderAdvice(tuple(lessons[index].week.name for index in order), measure_agreement(order))
