"""The practice plan of a week: every minute counted, turns short and alternating, rests, reviews, strain limited."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.grading.plan import make_plan, order_rows, rest_minutes, split_turns
from bookbuild.grading.practice import FREE, HEAVY, MOST_STRAIN, REST_EVERY, TURN, Task

PLANS = settings(max_examples=80, deadline=None)

strains = st.sampled_from([0.0, 0.0, 0.0, 0.2, 0.44, 1.0])
weeks = st.lists(st.tuples(st.floats(0, 100), strains), min_size=0, max_size=12).map(
    lambda found: [Task(f"5.{n}", points, strain) for n, (points, strain) in enumerate(found, start=1)])
reviews = st.lists(st.floats(0, 100), max_size=4).map(
    lambda found: [Task(f"{n}.1", points, review=True) for n, points in enumerate(found, start=1)])
minutes = st.integers(20, 90)
days = st.integers(1, 7)


@given(weeks, reviews, st.integers(1, 300), days)
@PLANS
def test_every_day_adds_up(week, back, total, count):
    plan = make_plan(week + back, total, count)
    assert plan.days == count
    for day in range(count):
        assert sum(item.minutes[day] for item in plan.items) + plan.rest == total
        assert sum(turn.minutes for turn in plan.each_day[day].turns) + plan.rest == total
        for item in plan.items:
            own = [turn.minutes for turn in plan.each_day[day].turns if turn.number == item.number]
            assert sum(own) == item.minutes[day]


@given(weeks, reviews, minutes, days)
@PLANS
def test_turns_are_short_and_alternate(week, back, total, count):
    """Carter & Grahn 2016: turns of three minutes, never one exercise twice in a row."""
    plan = make_plan(week + back, total, count)
    for day in plan.each_day:
        assert all(1 <= turn.minutes <= TURN + 1 for turn in day.turns)
        assert all(a.number != b.number or a.number == FREE.number for a, b in pairwise(day.turns))


@given(weeks, reviews, minutes, days)
@PLANS
def test_each_day_goes_down_the_log_again_and_again(week, back, total, count):
    plan = make_plan(week + back, total, count)
    place = {item.number: row for row, item in enumerate(plan.items)}
    for day in plan.each_day:
        left = {number: sum(turn.number == number for turn in day.turns) for number in place}
        walked = []
        while any(left.values()):
            for number in sorted(place, key=place.__getitem__):
                if left[number]:
                    walked.append(number)
                    left[number] -= 1
        assert [turn.number for turn in day.turns] == walked


@given(weeks, reviews, minutes, days)
@PLANS
def test_strain_is_limited_apart_and_slow_at_first(week, back, total, count):
    """Common practice, no source, except that heavier work needs more rest (Klickstein 2011)."""
    strain = {task.number: task.strain for task in week}
    plan = make_plan(week + back, total, count)
    work = total - plan.rest
    for number, day in enumerate(plan.each_day):
        weights = [strain.get(turn.number, 0.0) for turn in day.turns]
        spent = sum(weight * turn.minutes for weight, turn in zip(weights, day.turns, strict=True))
        assert spent <= MOST_STRAIN * work + 1e-9
        assert weights[0] < HEAVY
        assert not any(a and b and max(a, b) >= HEAVY for a, b in pairwise(weights))
        assert all(turn.slow == (number == 0 and weight > 0)
                   for weight, turn in zip(weights, day.turns, strict=True))
    assert plan.slow_start == any(item.strenuous and item.minutes[0] for item in plan.items)


@given(weeks, reviews, minutes, days)
@PLANS
def test_rest_in_every_half_hour(week, back, total, count):
    """Klickstein 2011: about five minutes in every 25-30."""
    plan = make_plan(week + back, total, count)
    assert plan.rest == 5 * (total // 30)
    for day in plan.each_day:
        assert len(day.rests) == plan.rest // 5
        stretches, stretch = [], 0
        for index, turn in enumerate(day.turns):
            stretch += turn.minutes
            if index in day.rests:
                stretches.append(stretch)
                stretch = 0
        stretches.append(stretch)
        assert max(stretches) <= REST_EVERY
        assert all(stretches)
        assert max(stretches) - min(stretches) <= 2 * (TURN + 1)


@given(weeks.filter(lambda week: len(week) > 1), reviews, minutes, st.integers(3, 7))
@PLANS
def test_every_calm_exercise_comes_on_two_days_and_more(week, back, total, count):
    plan = make_plan(week + back, total, count)
    rows = {item.number: item for item in plan.items}
    for task in week:
        if not task.strain:
            assert sum(minutes > 0 for minutes in rows[task.number].minutes) >= 2
    for task in back:
        assert task.number in rows


@given(weeks, reviews, minutes, st.integers(2, 7))
@PLANS
def test_what_finds_no_room_is_said(week, back, total, count):
    plan = make_plan(week + back, total, count)
    planned = {item.number for item in plan.items}
    assert {task.number for task in week + back} == (planned | set(plan.left_out)) - {FREE.number}
    heavy = [task for task in week if task.heavy]
    if len(heavy) <= count and all(not task.strain or task.heavy for task in week):
        assert plan.left_out == ()


@given(weeks.filter(lambda week: sum(not task.strain for task in week) >= 4), reviews, minutes, days)
@PLANS
def test_a_full_week_needs_no_free_playing(week, back, total, count):
    assert all(item.number for item in make_plan(week + back, total, count).items)


def test_gaps_between_days_grow():
    """Cepeda et al. 2008: for a week, gaps of 20-40 % of it, 1.4 to 2.8 days; Kang et al. 2014: gaps that expand."""
    week = [Task(f"5.{n}", 20.0) for n in range(1, 11)]
    plan = make_plan(week, 30, 7)
    whole = []
    for item in plan.items:
        played = [day for day, minutes in enumerate(item.minutes) if minutes]
        gaps = [b - a for a, b in pairwise(played)]
        assert max(gaps) <= 3
        whole.append(sum(gaps) / len(gaps))
    assert 1.2 <= sum(whole) / len(whole) <= 2.8
    first = next(item for item in plan.items if item.number == "5.1")
    days_played = [day for day, minutes in enumerate(first.minutes) if minutes]
    assert days_played[:3] == [0, 1, 3]


def test_the_hardest_gets_most_time():
    week = [Task(f"5.{n}", 10.0 * n) for n in range(1, 8)]
    items = make_plan(week, 45, 6).items
    total = {item.number: sum(item.minutes) for item in items}
    assert max(total, key=total.__getitem__) in ("5.6", "5.7")
    assert total["5.7"] > total["5.1"]


def test_exercises_begin_in_their_order():
    week = [Task(f"5.{n}", 30.0) for n in range(1, 10)]
    plan = make_plan(week, 30, 5)
    first = [next(day for day, minutes in enumerate(item.minutes) if minutes) for item in plan.items]
    assert first == sorted(first)
    assert first[0] == 0
    assert first[-1] <= 3


def test_rows_hold_shakes_apart():
    calm = [Task(f"5.{n}", 10.0) for n in range(1, 6)]
    shakes = [Task(f"5.{n}", 20.0, 1.0) for n in range(6, 9)]
    back = [Task("4.1", 30.0, review=True), Task("2.3", 30.0, review=True)]
    rows = [task.number for task in order_rows([*calm, *shakes, *back])]
    assert rows[0] == "4.1"
    places = [rows.index(task.number) for task in shakes]
    assert all(b - a == 3 for a, b in pairwise(places))
    assert [row for row in rows if row in {task.number for task in calm}] == [task.number for task in calm]


@pytest.mark.parametrize(("total", "rest"), [(20, 0), (29, 0), (30, 5), (45, 5), (60, 10), (89, 10), (90, 15)])
def test_minutes_of_rest(total, rest):
    assert rest_minutes(total) == rest


@given(st.integers(1, 300), st.integers(0, 40), days)
def test_turns_fill_the_work(work, tasks, count):
    lengths = split_turns(work, tasks, count)
    assert sum(lengths) == work
    assert lengths == sorted(lengths, reverse=True)
    assert max(lengths) - min(lengths) <= 1


def test_a_week_of_shakes_leaves_time_to_play_freely():
    plan = make_plan([Task("9.1", 20.0, 1.0), Task("9.2", 20.0, 1.0)], 30, 5)
    assert plan.items[0].number == FREE.number
    assert {"9.1", "9.2"} <= {item.number for item in plan.items}


@pytest.mark.parametrize(("total", "count"), [(0, 5), (30, 0)])
def test_nothing_to_plan(total, count):
    with pytest.raises(ValueError, match="nothing to plan"):
        make_plan([], total, count)


@pytest.mark.parametrize("total", range(20, 91))
def test_the_demo_course_for_every_length_of_day(planned_weeks, total):
    # A third of the weeks for each length: every week meets lengths of all sizes.
    for tasks in planned_weeks[total % 3::3]:
        plan = make_plan(tasks, total, 5)
        assert {sum(column) + plan.rest for column in zip(*(i.minutes for i in plan.items), strict=True)} == {total}
        assert plan.left_out == ()
