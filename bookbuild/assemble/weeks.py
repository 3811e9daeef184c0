"""A week as the page room knows it."""

from __future__ import annotations

from bookbuild.arrange.course import Lesson
from bookbuild.assemble.blocks import Drawings, Words, exercise_block, exercise_title
from bookbuild.assemble.charts import button_chart, used_buttons
from bookbuild.grading.course import LessonGrade
from bookbuild.grading.practice import REST, TURN
from bookbuild.lessons.model import Instrument
from bookbuild.lessons.words import fill_words
from bookbuild.pages.model import Plan, PlanRow, WeekPage


def week_page(
    lesson: Lesson, grade: LessonGrade, words: Words, drawings: Drawings, instrument: Instrument
) -> WeekPage:
    """The week with its exercises drawn, graded and planned, and the buttons its left hand needs."""
    seen: set[str] = set()
    blocks = []
    for exercise in lesson.exercises:
        kind = exercise.spec.kind
        blocks.append(
            exercise_block(
                exercise,
                words,
                drawings,
                grade.level_of(exercise.number),
                grade.ladder_of(exercise.number),
                first=kind not in seen,
            )
        )
        seen.add(kind)
    week = lesson.week
    made = [exercise.arrangement for exercise in lesson.exercises]
    shaken = any(span.stroke for arrangement in made for span in arrangement.bellows)
    buttons = used_buttons(made)
    charts = (button_chart(instrument, buttons, words, words["book.week-buttons"]),) if buttons else ()
    return WeekPage(
        lesson.number,
        week.title,
        week.aim,
        week.text,
        week.new,
        week.listen,
        week.caution or (words["book.caution-shake"] if shaken else ""),
        week.link,
        grade.level,
        tuple(blocks),
        charts=charts,
        plan=practice_plan(lesson, grade, words),
    )


def practice_plan(lesson: Lesson, grade: LessonGrade, words: Words, how: str = "plan.how") -> Plan:
    """The practice log: exercises, reviews and the rest, with minutes for each day; `how` to go through it below."""
    plan = grade.plan
    titles = {exercise.number: f"{exercise.number} {exercise_title(exercise, words)}" for exercise in lesson.exercises}
    for step in grade.reviews:
        tune = f" · {step.exercise.tune.title}" if step.exercise.tune else ""
        titles[step.exercise.number] = fill_words(words["page.review"], number=f"{step.exercise.number}{tune}")
    rows = [PlanRow(titles.get(item.number, words["plan.free"]), each_day=item.minutes) for item in plan.items]
    if plan.rest:
        text = fill_words(words["plan.rest"], count=plan.rest // REST, minutes=REST)
        rows.append(PlanRow(text, each_day=(plan.rest,) * plan.days))
    longest = max(turn.minutes for day in plan.each_day for turn in day.turns)
    notes = [fill_words(words[how], turn=min(longest, TURN))]
    notes += [words["plan.strenuous"]] if any(item.strenuous for item in plan.items) else []
    notes += [words["plan.slow"]] if plan.slow_start else []
    return Plan(tuple(rows), plan.days, " ".join(notes))
