"""Ladders that start lower for hard music, and what `bookbuild check` prints."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_course import make_exercise, renumber, stages_of

from bookbuild.arrange.air import EASE
from bookbuild.grading.course import LessonGrade, grade_course
from bookbuild.grading.ladder import choose_ladder, lower_start
from bookbuild.grading.practice import PracticePlan
from bookbuild.grading.report import LADDER_HEAD, ladder_table, suggest_table
from bookbuild.grading.weights import MEASURES
from bookbuild.lessons.words import DEFAULT_WORDS
from bookbuild.theory.tempo import FEWEST_STEPS, MAELZEL_MARKS, MOST_STEPS


@given(st.integers(40, 208), st.integers(1, 9))
def test_harder_never_starts_higher(start, level):
    assert lower_start(start, level + 1) <= lower_start(start, level) <= start


@given(st.integers(40, 208))
def test_a_lower_start_stays_within_the_air_the_bellows_plan_leaves(start):
    """The plan reckons with pressure that spends a fifth less air than at ease; slower by s takes 1/(1 - s) times."""
    slowest = F(lower_start(start, 10))
    assert F(start) / slowest * (1 - EASE) <= 1
    assert lower_start(start, 5) == start


def test_ladders_of_the_demo_course(grades, lessons):
    lowered = 0
    for lesson, grade in zip(lessons, grades, strict=True):
        for exercise in lesson.exercises:
            made, ladder = exercise.arrangement, grade.ladder_of(exercise.number)
            assert set(ladder) <= set(MAELZEL_MARKS)
            assert list(ladder) == sorted(set(ladder))
            assert ladder[-1] == made.ladder[-1]
            assert ladder[0] <= made.ladder[0]
            assert len(ladder) <= MOST_STEPS
            assert len(ladder) >= min(FEWEST_STEPS, len(made.ladder))
            if ladder[0] < made.ladder[0]:
                lowered += 1
                assert grade.level_of(exercise.number) > 5
    assert lowered >= 4


def test_a_start_the_teacher_wrote_stays(course, setting):
    own = make_exercise(course, setting, "1.1", "melody", "felt-boots", start=60)
    free = make_exercise(course, setting, "1.2", "melody", "felt-boots")
    assert choose_ladder(own, 10) == own.arrangement.ladder
    assert choose_ladder(free, 10)[0] < free.arrangement.ladder[0]
    assert choose_ladder(free, 5) == free.arrangement.ladder
    bare = replace(free, arrangement=replace(free.arrangement, ladder=()))
    assert choose_ladder(bare, 10) == ()


def test_ladder_table_has_a_row_for_each_week_and_exercise(grades, lessons):
    rows = ladder_table(lessons, grades)
    assert [row[0] for row in rows if "." not in row[0]] == [str(lesson.number) for lesson in lessons]
    assert [row[0] for row in rows if "." in row[0]] == [e.number for lesson in lessons for e in lesson.exercises]
    assert all(len(row) == len(LADDER_HEAD) for row in rows)
    last = rows[-1]
    assert last[1].strip().startswith("The whole arrangement")
    assert last[2] == str(grades[-1].level_of(last[0]))
    assert last[4].count("–") == 1
    assert "bellows shake" in last[5]


def test_suggested_order_as_a_table(grades, course, lessons, setting):
    rows = suggest_table(course, lessons, grades)
    assert sorted(row[1] for row in rows[:-1]) == sorted(week.name for week in course.weeks)
    turned = renumber(stages_of(lessons, setting)[::-1])
    plan = PracticePlan((), (), 0, 0)
    shuffled = [LessonGrade(1, 0.0, plan, exercises={s.exercise.number: s for s in stage.steps}) for stage in turned]
    other = suggest_table(replace(course, weeks=course.weeks[::-1]), [stage.lesson for stage in turned], shuffled)
    assert [row[1] for row in other[:-1]] == [row[1] for row in rows[:-1]]
    assert other[0][2].startswith("now week 12; level")
    assert "agreement" in other[-1][2]


def test_reasons_have_words(grades):
    for key in (*MEASURES, "early-left", "held-fingers"):
        assert DEFAULT_WORDS[f"why.{key}"]
    given_reasons = {reason for grade in grades for number in grade.exercises for reason in grade.reasons_of(number)}
    assert given_reasons <= {key for key in DEFAULT_WORDS if key.startswith("why.")}
    assert len(given_reasons) >= 10
    assert grades[0].reasons_of("1.1") == ()
    assert "why.held-fingers" in {r for g in grades for n, step in g.exercises.items() if step.kind == "fill"
                                  for r in g.reasons_of(n)}


def test_an_exercise_of_another_week_is_not_known(grades):
    with pytest.raises(KeyError):
        grades[0].level_of("9.9")


def test_no_room_in_the_log_is_said(course, edition, lessons):
    short = replace(edition, minutes=10, days=1)
    _, findings = grade_course(course, short, lessons)
    assert findings
    assert all("finds no room in the practice log of 1 days with 10 minutes" in finding.message for finding in findings)
    assert all(finding.line for finding in findings)
