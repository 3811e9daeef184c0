"""A week's leaf for the music stand: its exercises as they may be printed, its log with the pages of the book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.assemble.blocks import Drawings, Words, exercise_instruction, exercise_title
from bookbuild.assemble.weeks import practice_plan, week_page
from bookbuild.grading.course import LessonGrade
from bookbuild.grading.worth import rate_music
from bookbuild.lessons.model import Course, Edition
from bookbuild.lessons.words import fill_words
from bookbuild.pages.model import PlanRow, Stand, StandRow


def assemble_stand(
    course: Course,
    edition: Edition,
    lessons: Sequence[Lesson],
    grades: Sequence[LessonGrade],
    number: int,
    drawings: Drawings,
    folios: Mapping[str, str],
) -> Stand:
    """Week `number` (from 1) for the stand; `folios` are the book's printed pages by exercise number."""
    words = course.words[edition.language]
    instrument = course.instruments[edition.instrument or course.default_instrument]
    lesson, grade = lessons[number - 1], grades[number - 1]
    week = week_page(lesson, grade, words, drawings, instrument)
    blocks = tuple(
        replace(block, instruction=exercise_instruction(exercise, words, first=True))
        for block, exercise in zip(week.blocks, lesson.exercises, strict=True)
    )
    plan = replace(practice_plan(lesson, grade, words, "plan.how-short"), where=words["page.in_book"])
    known = {need for before in grades[: number - 1] for step in before.exercises.values() for need in step.teaches}
    minutes = {item.number: sum(item.minutes) for item in grade.plan.items}
    steps = [grade.exercises[exercise.number] for exercise in lesson.exercises]
    return Stand(
        replace(week, blocks=blocks, plan=plan),
        rate_music(steps, minutes, known),
        tuple(_stand_rows(lesson, grade, plan.rows, words, folios)),
    )


def _stand_rows(
    lesson: Lesson, grade: LessonGrade, rows: Sequence[PlanRow], words: Words, folios: Mapping[str, str]
) -> list[StandRow]:
    """The log's lines with their numbers and pages; the exercises the plan has no room for end it."""
    own = {exercise.number: exercise for exercise in lesson.exercises}
    numbers = [item.number for item in grade.plan.items]
    made = []
    for place, row in enumerate(rows):
        number = numbers[place] if place < len(numbers) else ""
        exercise = own.get(number)
        short = short_title(exercise, words) if exercise else fill_words(words["page.review"], number=number)
        made.append(StandRow(replace(row, short=short if number else "", where=_at(number, words, folios)), number))
    for number in grade.plan.left_out:
        if number in own:
            text = f"{number} {exercise_title(own[number], words)}"
            row = PlanRow(text, 0, (0,) * grade.plan.days, short_title(own[number], words), _at(number, words, folios))
            made.append(StandRow(row, number))
    return made


def _at(number: str, words: Words, folios: Mapping[str, str]) -> str:
    return fill_words(words["page.at"], page=folios[number]) if number in folios else ""


def short_title(exercise: Exercise, words: Words) -> str:
    """Number and kind, for a narrow line."""
    return f"{exercise.number} {words[f'kind.{exercise.spec.kind}']}"
