"""The exercises of a course held to the rules: the demo keeps them all, a broken one is told with its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from bookbuild.arrange.check_course import check_lessons
from bookbuild.arrange.course import Lesson, arrange_course, edition_setting
from bookbuild.arrange.exercises import Setting
from bookbuild.arrange.model import Role
from bookbuild.diagnostics import Severity
from bookbuild.lessons.model import Course


@pytest.mark.parametrize("name", ["standard", "small-hands", "concert"])
def test_the_demo_course_breaks_no_rule(course: Course, name: str) -> None:
    edition = course.editions[name]
    lessons, _ = arrange_course(course, edition)
    assert list(check_lessons(lessons, edition_setting(course, edition))) == []


def broken(lessons: Sequence[Lesson], kind: str, role: Role, **change: object) -> list[Lesson]:
    """The first exercise of a kind alone, the first note of one of its voices changed."""
    lesson = next(one for one in lessons if any(e.spec.kind == kind for e in one.exercises))
    exercise = next(e for e in lesson.exercises if e.spec.kind == kind)
    made = exercise.arrangement
    voice = made.voice(role)
    assert voice is not None
    place = next(i for i, event in enumerate(voice.events) if event.pitches)
    events = [*voice.events]
    events[place] = replace(events[place], **change)  # type: ignore[arg-type]
    voices = tuple(replace(voice, events=tuple(events)) if one is voice else one for one in made.voices)
    return [replace(lesson, exercises=(replace(exercise, arrangement=replace(made, voices=voices)),))]


def test_a_broken_rule_is_told_with_the_exercise_and_its_place(lessons: Sequence[Lesson], setting: Setting) -> None:
    course = broken(lessons, "left-hand", Role.LEFT, fingers=(1,))
    (told,) = check_lessons(course, setting)
    exercise = course[0].exercises[0]
    assert told.severity is Severity.WARNING
    assert told.message.startswith(f"exercise {exercise.number}, bar 1, beat 1: ")
    assert "thumb" in told.message
    assert told.hint.startswith("The left thumb never plays.")
    assert (told.file, told.line) == (exercise.spec.place.file, exercise.spec.place.line)


def test_the_melody_is_held_to_the_tune(lessons: Sequence[Lesson], setting: Setting) -> None:
    course = broken(lessons, "melody", Role.MELODY, pitches=(setting.instrument.lowest,), fingers=())
    assert any("is not held for its full value" in told.message for told in check_lessons(course, setting))
