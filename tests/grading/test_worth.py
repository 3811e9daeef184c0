"""What the music of an exercise is worth on the stand: its own minutes, and what can be practised from it.

The shares are a teacher's judgement: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.grading.course import make_stages
from bookbuild.grading.learning import Stage
from bookbuild.grading.weights import choose_weights
from bookbuild.grading.worth import CONTAINED, LIKE, WHOLE, rate_music, share_served
from bookbuild.lessons.model import Course, Edition


@pytest.fixture(scope="module")
def by_number(lessons: Sequence[Lesson]) -> Mapping[str, Exercise]:
    return {exercise.number: exercise for lesson in lessons for exercise in lesson.exercises}


@pytest.fixture(scope="module")
def stages(course: Course, edition: Edition, lessons: Sequence[Lesson]) -> Sequence[Stage]:
    return make_stages(lessons[:4], course.instruments[course.default_instrument], choose_weights(course.weights))


@pytest.mark.parametrize(("shown", "other", "share"), [
    ("3.4", "3.4", WHOLE),
    ("3.4", "3.2", CONTAINED),  # both hands together hold the melody of the same section …
    ("3.4", "3.3", CONTAINED),  # … and the left hand in the same groove
    ("3.2", "3.4", 0),
    ("3.4", "3.7", 0),  # another section
    ("3.8", "3.6", CONTAINED),  # the count is printed under the notes
    ("1.7", "1.6", CONTAINED),  # its first four bars
    ("1.6", "1.7", 0),
    ("2.4", "2.2", CONTAINED),  # sections A and B hold B
    ("2.4", "2.7", 0),  # another groove
    ("2.7", "2.5", LIKE),  # the groove on one chord, drilled by the left hand that plays it
    ("2.5", "2.6", LIKE),
    ("2.4", "2.5", 0),
    ("5.8", "5.9", 0),
    ("9.8", "9.7", LIKE),  # the shake on one bass, drilled by a longer one
    ("9.6", "9.5", 0),
    ("9.6", "9.3", CONTAINED),  # the fill goes on under the melody
])
def test_what_can_be_practised_from_what(by_number: Mapping[str, Exercise], shown: str, other: str, share: int) -> None:
    assert share_served(by_number[shown], by_number[other]) == share


def test_nothing_contains_what_contains_it_unless_they_are_alike(by_number: Mapping[str, Exercise]) -> None:
    """Of two exercises with other bars, sections or layers only one can hold the other."""
    for one in by_number.values():
        for two in by_number.values():
            if one is not two and share_served(one, two) == share_served(two, one) == CONTAINED:
                assert (one.spec.kind, one.spec.sections, one.spec.bars) == (
                    two.spec.kind, two.spec.sections, two.spec.bars)


def test_minutes_count_and_count_twice_for_what_is_new_or_the_goal(stages: Sequence[Stage]) -> None:
    week = stages[2]
    minutes = {step.exercise.number: 10 for step in week.steps}
    known = {need for stage in stages[:2] for step in stage.steps for need in step.teaches}
    own = [row[place] for place, row in enumerate(rate_music(week.steps, minutes, known))]
    worth = dict(zip((step.exercise.number for step in week.steps), own, strict=True))
    assert worth["3.5"] == 2 * worth["3.3"]  # shapes are new in week 3, the polka is not
    assert worth["3.4"] == 2 * worth["3.3"]  # hands together are what the hands alone lead to
    assert worth["3.1"] == worth["3.3"]
    longer = rate_music(week.steps, minutes | {"3.1": 20}, known)
    assert longer[0][0] == 2 * worth["3.1"]


def test_an_exercise_the_plan_leaves_out_is_worth_a_little(stages: Sequence[Stage]) -> None:
    rows = rate_music(stages[0].steps, {}, ())
    assert all(row[place] > 0 for place, row in enumerate(rows))
