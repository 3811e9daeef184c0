"""What `bookbuild check` prints of a course: its ladder of levels, and the order its music suggests. In English."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.grading.course import LessonGrade
from bookbuild.grading.learning import Stage
from bookbuild.grading.order import measure_agreement, suggest_order
from bookbuild.lessons.model import Course
from bookbuild.lessons.words import DEFAULT_WORDS

LADDER_HEAD = ("", "what", "level", "points", "tempo", "new in the week; hard because")
"""Names of the columns of `ladder_table`."""


def ladder_table(lessons: Sequence[Lesson], grades: Sequence[LessonGrade]) -> list[tuple[str, ...]]:
    """A row for every week with its new skills, then one for each exercise with what makes it hard (`LADDER_HEAD`)."""
    rows: list[tuple[str, ...]] = []
    for lesson, grade in zip(lessons, grades, strict=True):
        points = max((step.difficulty.total for step in grade.exercises.values()), default=0.0)
        new = name_skills(grade.new_skills)
        rows.append((str(lesson.number), lesson.week.title, str(grade.level), f"{points:.0f}", "", new))
        rows += [_exercise_row(exercise, grade) for exercise in lesson.exercises]
    return rows


def _exercise_row(exercise: Exercise, grade: LessonGrade) -> tuple[str, ...]:
    number, ladder = exercise.number, grade.ladder_of(exercise.number)
    reasons = "; ".join(DEFAULT_WORDS[reason] for reason in grade.reasons_of(number))
    points = f"{grade.exercises[number].difficulty.total:.0f}"
    tempo = f"{ladder[0]}–{ladder[-1]}" if ladder else ""
    return number, f"  {name_exercise(exercise)}", str(grade.level_of(number)), points, tempo, reasons


def name_exercise(exercise: Exercise) -> str:
    """Kind, tune and groove of an exercise: `Hands together · Wide Water · Round Waltz`."""
    titles = [piece.title for piece in (exercise.tune, exercise.groove) if piece]
    return " · ".join([DEFAULT_WORDS[f"kind.{exercise.spec.kind}"], *titles])


def name_skills(skills: Sequence[str]) -> str:
    """Skills by their English names, with commas."""
    return ", ".join(DEFAULT_WORDS[f"skill.{skill}"] for skill in skills)


def suggest_table(
    course: Course, lessons: Sequence[Lesson], grades: Sequence[LessonGrade]
) -> list[tuple[str, str, str]]:
    """The order of weeks that the music suggests, as rows of place, the week's name in course.yaml, and why there.

    The last row says how far it agrees with the order as it stands (Kendall's tau).
    """
    stages = [
        Stage(lesson, tuple(grade.exercises.values())) for lesson, grade in zip(lessons, grades, strict=True)
    ]
    order, used = suggest_order(stages), set[str]()
    rows = []
    for place, index in enumerate(order, start=1):
        stage, moved = stages[index], "" if index + 1 == place else f"now week {index + 1}; "
        new = [skill for skill in stage.skills if skill not in used]
        used |= set(new)
        brings = f"; brings {name_skills(new)}" if new else ""
        rows.append((str(place), course.weeks[index].name, f"{moved}level {grades[index].level}{brings}"))
    tau = measure_agreement(order)
    same = "the order stands as it is" if tau == 1 else f"agreement with the order as it stands: {tau:.2f} of 1"
    return [*rows, ("", "", same)]
