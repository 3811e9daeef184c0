"""Reviews of earlier weeks against the published rules of spacing."""

from __future__ import annotations

from itertools import islice, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.grading.measure_hands import share_shaken
from bookbuild.grading.spacing import days_until_again, list_review_ages, weeks_to_review


def test_gaps_expand():
    """Kang et al. 2014: expanding gaps; Leitner 1972: each success moves on to a longer one."""
    ages = list(islice(list_review_ages(), 5))
    gaps = [b - a for a, b in pairwise([0, *ages])]
    assert gaps == [1, 2, 4, 8, 16]
    assert [days_until_again(times) for times in range(5)] == [1, 1, 2, 3, 4]


def test_gaps_lie_where_they_were_found_best():
    """Cepeda et al. 2008: 20-40 % of a week, 5-10 % of a year, before the review that counts."""
    assert 0.2 * 7 <= days_until_again(2) <= 0.4 * 7
    second_gap_of_a_year = next(b - a for a, b in pairwise(list_review_ages()) if b >= 7)
    assert 0.05 * 52 <= second_gap_of_a_year <= 0.1 * 52


@pytest.mark.parametrize(
    ("week", "back"), [(1, ()), (2, (1,)), (4, (3, 1)), (8, (7, 5, 1)), (12, (11, 9, 5)), (16, (15, 13, 9, 1))])
def test_weeks_reviewed(week, back):
    assert weeks_to_review(week) == back


@given(st.integers(1, 60))
def test_every_week_comes_back_on_the_same_rule(week):
    later = [number for number in range(week + 1, week + 32) if week in weeks_to_review(number)]
    assert [number - week for number in later] == [1, 3, 7, 15, 31]


def test_reviews_of_the_demo_course(grades):
    for number, grade in enumerate(grades, start=1):
        weeks = [int(step.exercise.number.split(".")[0]) for step in grade.reviews]
        assert weeks == list(weeks_to_review(number))
        assert all(not share_shaken(step.exercise.arrangement) for step in grade.reviews)
        planned = {item.number for item in grade.plan.items if item.review}
        assert planned == {step.exercise.number for step in grade.reviews}


def test_reviews_play_music_and_spread_over_tunes(grades):
    for grade in grades:
        assert all(step.kind in ("arrangement", "together", "fill", "melody") for step in grade.reviews)
        tunes = [step.exercise.tune.name for step in grade.reviews if step.exercise.tune]
        assert len(tunes) - len(set(tunes)) <= 1
