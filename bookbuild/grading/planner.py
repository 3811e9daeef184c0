"""Which exercise has its turns on which day of a week: new ones in order, again after growing gaps, shakes apart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil

from bookbuild.grading.practice import FREE, MOST_STRAIN, Day, Task, Turn
from bookbuild.grading.spacing import days_until_again

DUE = 2
"""Urgency (`Planner._urgency`) up to which a task has its turn before any other gets a second one."""
LEARNING_SHARE = 0.6
"""Share of the week's days on which something new may begin; the rest is for bringing it together."""
TURNS_AT_FIRST = 3
"""Turns for each new exercise that a day must hold before all of them may begin on it."""
_SECOND_REVIEW = 3
"""Days after which the latest week's review comes back."""


class Planner:
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
        shakes_a_day = max(1, int(self.room / lengths[-1]))
        for place, task in enumerate(reversed([task for task in own if task.heavy])):
            self.first[task] = max(0, min(self.first[task], days - 1 - place // shakes_a_day))

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
        times = self.times[task]
        if day < self.first[task]:
            return 4, self.first[task], self.rows.index(task)
        if not times:
            return (1 if task.review else 0), self.first[task], self.rows.index(task)
        if task.review:
            again = task is self.latest and day - self.last[task] >= _SECOND_REVIEW
            return (1 if again else 5), times, -task.points
        overdue = self._overdue(task, day)
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
        """Add turns until the day is full: the calm task that is worth most each time, else what one likes.

        What is to begin on a later day begins today when nothing else is left.
        """
        own = [task for task in self.rows if task is not FREE]
        while sum(turns.values()) < len(self.lengths):
            fitting = [
                task for task in own
                if turns.get(task, 0) < _most_turns(task, day)
                and self._bears(more := _one_more(turns, task))
                and _alternates(self._sequence(more))
            ]
            met = [task for task in fitting if day >= self.first[task]]
            task = max(met, key=lambda task: self._worth(task, turns, day), default=next(iter(fitting), FREE))
            turns[task] = turns.get(task, 0) + 1

    def _worth(self, task: Task, turns: dict[Task, int], day: int) -> float:
        """What one more turn is worth: the harder and the less practised, the more.

        A review is worth a quarter, what had better rest until a later day half as much.
        """
        early = task in self.last and task not in turns and self._overdue(task, day) < 0
        share = 1 / 4 if task.review else 1 / 2 if early else 1.0
        return share * (task.points + 1) / (1 + self.times[task] + 2 * turns.get(task, 0))

    def _overdue(self, task: Task, day: int) -> int:
        """Days by which a task that was practised before is due again; below 0 before its day."""
        return day - self.last[task] - days_until_again(self.times[task])

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
    """True when no shake comes first or stands next to another, be that shaken only in part."""
    apart = all(not (a.strain and b.strain and (a.heavy or b.heavy)) for a, b in pairwise(sequence))
    return apart and not (sequence and sequence[0].heavy)
