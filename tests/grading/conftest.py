"""The demo course's weeks as tasks to plan."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bookbuild.arrange.course import Lesson
from bookbuild.grading.course import grade_course
from bookbuild.grading.measure_hands import share_shaken
from bookbuild.grading.practice import Task
from bookbuild.lessons.model import Course, Edition


@pytest.fixture(scope="session")
def planned_weeks(course: Course, edition: Edition, lessons: Sequence[Lesson]) -> list[list[Task]]:
    """Exercises and reviews of every week, as `make_plan` takes them."""
    grades, _ = grade_course(course, edition, lessons)
    return [
        [Task(number, step.difficulty.total, float(share_shaken(step.exercise.arrangement)))
         for number, step in grade.exercises.items()]
        + [Task(step.exercise.number, step.difficulty.total, review=True) for step in grade.reviews]
        for grade in grades
    ]
