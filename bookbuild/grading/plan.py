"""A week's practice: which exercise on which day, in short alternating turns, with rests and reviews.

Sources: turns of three minutes that alternate did better than one long stretch in one study of ten clarinettists
(Carter & Grahn 2016, *Front. Psychol.* 7, 1251); about five minutes of rest in every 25–30 (Klickstein,
musiciansway.com, 2011). How much of a day may be strenuous is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from bookbuild.grading.spacing import days_until_again

TURN = 3
"""Minutes of a turn; shorter only where a week has more exercises than turns."""
REST, REST_EVERY = 5, 30
"""Minutes of rest in so many minutes."""
MOST_STRAIN = 0.25
"""Share of a day's practice that may be strenuous."""
HEAVY = 0.5
"""From this share of shaken time on an exercise counts as a shake: never two in a row, never first."""
DUE = 2
"""Urgency (`_Planner._urgency`) up to which a task has its turn before any other gets a second one."""
LEARNING_SHARE = 0.6
"""Share of the week's days on which something new may begin; the rest is for bringing it together."""
TURNS_AT_FIRST = 3
"""Turns for each new exercise that a day must hold before all of them may begin on it."""
_SECOND_REVIEW = 3
"""Days after which the latest week's review comes back."""


@dataclass(frozen=True)
class Task:
    """Something to practise: an exercise's number, its points, the share of it that is shaken (0 to 1)."""

    number: str
    points: float
    strain: float = 0.0
    review: bool = False

    @property
    def heavy(self) -> bool:
        """True for a shake."""
        return self.strain >= HEAVY


FREE = Task("", 0.0)
"""Playing what one likes: fills the minutes for which a week has nothing fitting."""


@dataclass(frozen=True)
class Turn:
    """One turn at an exercise; `slow` asks for the lowest steps of its ladder only."""

    number: str
    minutes: int
    slow: bool = False


@dataclass(frozen=True)
class Day:
    """A day's turns in order; after each index of `rests` (from 0) five minutes of rest follow."""

    turns: tuple[Turn, ...]
    rests: tuple[int, ...]


@dataclass(frozen=True)
class PlanItem:
    """A line of the practice log: an exercise ('' = what one likes) with its minutes on each day (0 = not that day)."""

    number: str
    minutes: tuple[int, ...]
    review: bool = False
    strenuous: bool = False


@dataclass(frozen=True)
class PracticePlan:
    """A week's plan: `items` in playing order, every day's turns, rest and total minutes of a day.

    Each day goes down the items, one turn each, and begins again with those that have turns left. `left_out` are
    exercises for which the week has no room.
    """

    items: tuple[PlanItem, ...]
    each_day: tuple[Day, ...]
    rest: int
    minutes: int
    left_out: tuple[str, ...] = ()

    @property
    def days(self) -> int:
        """Practice days."""
        return len(self.each_day)

    @property
    def slow_start(self) -> bool:
        """True when the first day asks for a strenuous exercise, which is then played slowly."""
        return any(turn.slow for day in self.each_day for turn in day.turns)


def rest_minutes(minutes: int) -> int:
    """Minutes of rest in a sitting: five for every full half hour."""
    return REST * (minutes // REST_EVERY)


def split_turns(work: int, tasks: int, days: int) -> list[int]:
    """Lengths of a day's turns, which add up to `work`: three minutes and a little more.

    Shorter turns, down to a minute, where three would not give every task two turns in the week.
    """
    turn = next((length for length in (TURN, 2) if work // length * days >= 2 * tasks), 1)
    count = max(1, work // turn)
    base, more = divmod(work, count)
    return [base + 1] * more + [base] * (count - more)


def order_rows(tasks: Sequence[Task]) -> list[Task]:
    """The log's lines: a review to warm up with, the exercises in order, reviews and calm work between the shakes."""
    calm = [task for task in tasks if not task.heavy and not task.review]
    reviews = [task for task in tasks if not task.heavy and task.review]
    heavy = [task for task in tasks if task.heavy]
    rows = reviews[:1] + calm + reviews[1:]
    space = min(2, max(1, len(rows) // max(1, len(heavy))))
    for place, task in enumerate(reversed(heavy)):
        rows.insert(max(0, len(rows) - place * (space + 1)), task)
    return rows


def make_plan(tasks: Sequence[Task], minutes: int, days: int) -> PracticePlan:
    """The plan of a week; every day's turns and rest add up to `minutes`. `tasks` are the week's exercises in order,
    then its reviews, the latest week's first. Raises ValueError for less than a minute or a day.
    """
    if minutes < 1 or days < 1:
        raise ValueError(f"there is nothing to plan in {minutes} minutes on {days} days")
    rest = rest_minutes(minutes)
    lengths = split_turns(minutes - rest, len(tasks), days)
    planner = _Planner([FREE, *order_rows(tasks)], tasks, lengths, days)
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


class _Planner:
    """Chooses each day's turns; remembers when everything was last practised and how often."""

    def __init__(self, rows: Sequence[Task], tasks: Sequence[Task], lengths: Sequence[int], days: int) -> None:
        self.rows, self.lengths, self.days = list(rows), lengths, days
        self.times = dict.fromkeys(self.rows, 0)
        self.last: dict[Task, int] = {}
        own = [task for task in tasks if not task.review]
        reviews = [task for task in tasks if task.review]
        over = min(ceil(days * LEARNING_SHARE), ceil(TURNS_AT_FIRST * len(own) / len(lengths)))
        over = min(days, max(over, ceil(len(own) / len(lengths)), 1))
        self.first = {task: place * over // len(own) for place, task in enumerate(own)}
        self.first |= {task: place % days for place, task in enumerate(reviews)}
        self.latest = reviews[0] if reviews else None
        self.room = MOST_STRAIN * sum(lengths)

    def plan_day(self, day: int) -> Day:
        """The turns of one day."""
        wanted = sorted((task for task in self.rows if task is not FREE), key=lambda task: self._urgency(task, day))
        turns = self._choose(wanted, day)
        while any(task.heavy for task in turns) and not _keeps_apart(self._sequence(turns)):
            heavy = [task for task in wanted if task.heavy and task in turns]
            del turns[heavy[-1]]
            self._fill(turns, day)
        for task in turns:
            self.times[task] += 1
            self.last[task] = day
        return Day(self._write(self._sequence(turns), day), ())

    def _urgency(self, task: Task, day: int) -> tuple[int, float, float]:
        """Sort key: what is new today, reviews, what is due again, the rest, what comes later in the week."""
        times, last = self.times[task], self.last.get(task, day)
        if day < self.first[task]:
            return 4, self.first[task], self.rows.index(task)
        if not times:
            return (1 if task.review else 0), self.first[task], self.rows.index(task)
        if task.review:
            again = task is self.latest and day - last >= _SECOND_REVIEW
            return (1 if again else 5), times, -task.points
        overdue = day - last - days_until_again(times)
        return (2 if overdue >= 0 else 3), -(overdue + 1) * (task.points + 1), times

    def _choose(self, wanted: Sequence[Task], day: int) -> dict[Task, int]:
        """Number of turns by task: one for all that is new or due, the most urgent first, then `_fill`."""
        turns: dict[Task, int] = {}
        for task in wanted:
            due = self._urgency(task, day)[0] <= DUE
            if due and sum(turns.values()) < len(self.lengths) and self._bears(_one_more(turns, task)):
                turns[task] = 1
        self._fill(turns, day)
        return turns

    def _fill(self, turns: dict[Task, int], day: int) -> None:
        """Add turns until the day is full: the calm task that is worth most each time, else what one likes."""
        met = [task for task in self.rows if task is not FREE and day >= self.first[task]]
        while sum(turns.values()) < len(self.lengths):
            fitting = [
                task for task in met
                if turns.get(task, 0) < _most_turns(task, day)
                and self._bears(more := _one_more(turns, task))
                and _alternates(self._sequence(more))
            ]
            task = max(fitting, key=lambda task: self._worth(task, turns), default=FREE)
            turns[task] = turns.get(task, 0) + 1

    def _worth(self, task: Task, turns: dict[Task, int]) -> float:
        """What one more turn is worth: the harder and the less practised, the more; a review a third."""
        points = task.points / 3 if task.review else task.points
        return (points + 1) / (1 + self.times[task] + 2 * turns.get(task, 0))

    def _bears(self, turns: dict[Task, int]) -> bool:
        """True when a day with these turns, the longer ones given to the calmest, is not too strenuous."""
        strains = sorted((task.strain for task, count in turns.items() for _ in range(count)), reverse=True)
        return sum(strain * length for strain, length in zip(strains, self.lengths[::-1], strict=False)) <= self.room

    def _sequence(self, turns: dict[Task, int]) -> list[Task]:
        """Down the rows, one turn each, then again with those that have turns left."""
        most = max(turns.values(), default=0)
        return [task for lap in range(most) for task in self.rows if turns.get(task, 0) > lap]

    def _write(self, sequence: Sequence[Task], day: int) -> tuple[Turn, ...]:
        """The turns with their minutes: the longer turns go to the least strenuous, then to the hardest."""
        order = sorted(range(len(sequence)), key=lambda place: (sequence[place].strain, -sequence[place].points, place))
        minutes = dict(zip(order, self.lengths, strict=True))
        return tuple(Turn(task.number, minutes[place], slow=day == 0 and task.strain > 0)
                     for place, task in enumerate(sequence))


def _most_turns(task: Task, day: int) -> float:
    """How many turns of a task make sense on a day: a shake has its turn when it is due, a review one, what is
    partly shaken one on the first day and two later."""
    if task.heavy:
        return 0
    if task.review:
        return 1
    return float("inf") if not task.strain else 2 if day else 1


def _one_more(turns: dict[Task, int], task: Task) -> dict[Task, int]:
    return {**turns, task: turns.get(task, 0) + 1}


def _alternates(sequence: Sequence[Task]) -> bool:
    """True when no task follows itself (playing what one likes may)."""
    return all(a is FREE or a != b for a, b in pairwise(sequence))


def _keeps_apart(sequence: Sequence[Task]) -> bool:
    """True when no shake comes first or follows another."""
    apart = all(not (a.heavy and b.heavy) for a, b in pairwise(sequence))
    return apart and not (sequence and sequence[0].heavy)
