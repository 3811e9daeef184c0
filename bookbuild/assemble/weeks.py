"""A week as the page room knows it."""

from __future__ import annotations

from bookbuild.arrange.course import Lesson
from bookbuild.assemble.blocks import Drawings, Words, exercise_block, exercise_title
from bookbuild.grading.course import LessonGrade
from bookbuild.lessons.words import fill_words
from bookbuild.pages.model import Plan, PlanRow, WeekPage


def week_page(lesson: Lesson, grade: LessonGrade, words: Words, drawings: Drawings) -> WeekPage:
    """The week with its exercises drawn, graded and planned."""
    seen: set[str] = set()
    blocks = []
    for exercise in lesson.exercises:
        kind = exercise.spec.kind
        blocks.append(
            exercise_block(exercise, words, drawings, grade.level_of(exercise.number), first=kind not in seen)
        )
        seen.add(kind)
    week = lesson.week
    return WeekPage(
        lesson.number,
        week.title,
        week.aim,
        week.text,
        week.new,
        week.listen,
        week.caution,
        week.link,
        grade.level,
        tuple(blocks),
        plan=practice_plan(lesson, grade, words),
    )


def practice_plan(lesson: Lesson, grade: LessonGrade, words: Words) -> Plan:
    """The practice log: every exercise, and the reviews, with minutes a day."""
    titles = {exercise.number: exercise_title(exercise, words) for exercise in lesson.exercises}
    rows = tuple(
        PlanRow(
            f"{item.number} {titles[item.number]}"
            if item.number in titles
            else fill_words(words["page.review"], number=item.number),
            item.minutes,
        )
        for item in grade.plan.items
    )
    return Plan(rows, grade.plan.days, words["book.practise-rest"])
