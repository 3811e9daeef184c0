"""What a practice plan is made of: tasks to practise, turns, days, and the lines of the log. Times in minutes."""

from __future__ import annotations

from dataclasses import dataclass

TURN = 3
"""Minutes of a turn; shorter only where a week has more exercises than turns."""
REST, REST_EVERY = 5, 30
"""Minutes of rest in so many minutes."""
MOST_STRAIN = 0.25
"""Share of a day's practice that may be strenuous."""
HEAVY = 0.5
"""From this share of shaken time on an exercise counts as a shake: never two in a row, never first."""


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
