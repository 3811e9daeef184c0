"""The demo course graded once, and its weeks as tasks to plan."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bookbuild.arrange.course import Lesson
from bookbuild.diagnostics import Diagnostic
from bookbuild.grading.course import LessonGrade, grade_course
from bookbuild.grading.measure_hands import share_shaken
from bookbuild.grading.practice import Task
from bookbuild.lessons.model import Course, Edition


@pytest.fixture(scope="session")
def graded(course: Course, edition: Edition, lessons: Sequence[Lesson],
           ) -> tuple[tuple[LessonGrade, ...], list[Diagnostic]]:
    """Grades and findings of the demo course."""
    return grade_course(course, edition, lessons)


@pytest.fixture(scope="session")
def grades(graded: tuple[tuple[LessonGrade, ...], list[Diagnostic]]) -> tuple[LessonGrade, ...]:
    """A grade for each week of the demo course."""
    return graded[0]


@pytest.fixture(scope="session")
def planned_weeks(grades: Sequence[LessonGrade]) -> list[list[Task]]:
    """Exercises and reviews of every week, as `make_plan` takes them."""
    return [
        [Task(number, step.difficulty.total, float(share_shaken(step.exercise.arrangement)))
         for number, step in grade.exercises.items()]
        + [Task(step.exercise.number, step.difficulty.total, review=True) for step in grade.reviews]
        for grade in grades
    ]
