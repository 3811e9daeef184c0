"""A week's practice: which exercise on which day, in short alternating turns, with rests and reviews.

Sources: turns of three minutes that alternate did better than one long stretch in one study of ten clarinettists
(Carter & Grahn 2016, *Front. Psychol.* 7, 1251); about five minutes of rest in every 25–30 (Klickstein,
musiciansway.com, 2011). How much of a day may be strenuous is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bookbuild.grading.planner import Planner
from bookbuild.grading.practice import FREE, REST, REST_EVERY, TURN, Day, PlanItem, PracticePlan, Task, Turn

TURNS_A_WEEK = 2.5
"""Turns a week must hold for each task, so that everything comes on two days at least."""


def rest_minutes(minutes: int) -> int:
    """Minutes of rest in a sitting: five for every full half hour."""
    return REST * (minutes // REST_EVERY)


def split_turns(work: int, tasks: int, days: int) -> list[int]:
    """Lengths of a day's turns, which add up to `work`: three minutes and a little more.

    Shorter turns, down to a minute, where three minutes would not give every task its turns in the week.
    """
    turn = next((length for length in (TURN, 2) if work // length * days >= TURNS_A_WEEK * tasks), 1)
    count = max(1, work // turn)
    base, more = divmod(work, count)
    return [base + 1] * more + [base] * (count - more)


def order_rows(tasks: Sequence[Task]) -> list[Task]:
    """The log's lines: a review to warm up with, the exercises in order, reviews and calm work between the shakes."""
    calm = [task for task in tasks if not task.heavy and not task.review]
    reviews = [task for task in tasks if not task.heavy and task.review]
    heavy = [task for task in tasks if task.heavy]
    rows = reviews[:1] + calm + reviews[1:]
    space, place = min(2, max(1, len(rows) // max(1, len(heavy)))), len(rows)
    for task in reversed(heavy):
        place = _find_calm(rows, place)
        rows.insert(place, task)
        place = max(0, place - space)
    return rows


def _find_calm(rows: Sequence[Task], wanted: int) -> int:
    """The last place up to `wanted` where no partly shaken exercise stands next to a shake; `wanted` when none is free.

    Reviews are looked past, for a day may leave them out.
    """
    def is_calm(place: int) -> bool:
        before = next((task for task in reversed(rows[:place]) if not task.review), FREE)
        after = next((task for task in rows[place:] if not task.review), FREE)
        return not any(task.strain and not task.heavy for task in (before, after))

    return next((place for place in range(wanted, 0, -1) if is_calm(place)), wanted)


def make_plan(tasks: Sequence[Task], minutes: int, days: int) -> PracticePlan:
    """The plan of a week; every day's turns and rest add up to `minutes`. `tasks` are the week's exercises in order,
    then its reviews, the latest week's first. Raises ValueError for less than a minute or a day.
    """
    if minutes < 1 or days < 1:
        raise ValueError(f"there is nothing to plan in {minutes} minutes on {days} days")
    rest = rest_minutes(minutes)
    lengths = split_turns(minutes - rest, len(tasks), days)
    planner = Planner([FREE, *order_rows(tasks)], tasks, lengths, days)
    each_day = tuple(planner.plan_day(day) for day in range(days))
    placed = tuple(replace(day, rests=_place_rests(day.turns, rest // REST)) for day in each_day)
    items = tuple(item for task in planner.rows if any((item := _make_item(task, placed)).minutes))
    done = {item.number for item in items}
    return PracticePlan(items, placed, rest, minutes, tuple(t.number for t in tasks if t.number not in done))


def _make_item(task: Task, days: Iterable[Day]) -> PlanItem:
    minutes = tuple(sum(turn.minutes for turn in day.turns if turn.number == task.number) for day in days)
    return PlanItem(task.number, minutes, task.review, task.strain > 0)


def _place_rests(turns: Sequence[Turn], count: int) -> tuple[int, ...]:
    """After which turns to rest so that the stretches between are as even as the turns allow."""
    work, done = sum(turn.minutes for turn in turns), 0
    rests: list[int] = []
    for index, turn in enumerate(turns[:-1]):
        before, done = done, done + turn.minutes
        wanted = work * (len(rests) + 1) / (count + 1)
        following = done + turns[index + 1].minutes
        if len(rests) < count and before < wanted and abs(done - wanted) <= abs(following - wanted):
            rests.append(index)
    return tuple(rests)
