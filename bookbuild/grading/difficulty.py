"""How hard an arrangement is: measures, points, a level from 1 to 10, and the reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from bookbuild.grading.measure_hands import (
    count_bars,
    measure_grips,
    measure_leaps,
    measure_left_fingers,
    measure_left_travel,
    measure_reading,
    measure_shake_length,
    measure_shake_rate,
    measure_turns,
)
from bookbuild.grading.measure_rhythm import (
    find_early_left,
    measure_beat_distance,
    measure_counting,
    measure_independence,
    measure_rate,
    measure_syncopation,
)
from bookbuild.grading.parts import Music
from bookbuild.grading.weights import LEVELS, MEASURES, POINTS_A_LEVEL, weigh
from bookbuild.lessons.model import Instrument

MOST_REASONS = 2
LEAST_SHARE = 1 / 3
"""Share of its points that a measure must have added to be named as a reason."""


@dataclass(frozen=True)
class Difficulty:
    """An exercise graded: `measures` as measured (units in `weights.MEASURES`) and the points each of them adds.

    `reasons` are keys `why.*` of what makes it hard, the most telling first: at most two, () for what is easy.
    """

    measures: Mapping[str, float]
    points: Mapping[str, float]
    reasons: tuple[str, ...] = ()

    @cached_property
    def total(self) -> float:
        """All points."""
        return sum(self.points.values())

    @property
    def level(self) -> int:
        """1 to 10."""
        return level_of_points(self.total)


def level_of_points(points: float) -> int:
    """The level of a number of points: ten points a level, 1 to 10."""
    return min(LEVELS, 1 + int(points // POINTS_A_LEVEL))


def share_of_points(points: float) -> float:
    """Points as a share of all ten levels, 0 to 1."""
    return min(1.0, points / (LEVELS * POINTS_A_LEVEL))


def measure_all(music: Music, instrument: Instrument) -> dict[str, float]:
    """Every measure of `weights.MEASURES`; none falls when the goal is faster, or when a hand is added."""
    return {
        "syncopation": measure_syncopation(music),
        "off-beat": measure_beat_distance(music),
        "counting": float(measure_counting(music)),
        "speed": measure_rate(music),
        "independence": measure_independence(music),
        "grips": measure_grips(music),
        "leaps": measure_leaps(music),
        "left-travel": measure_left_travel(music),
        "left-fingers": measure_left_fingers(music, instrument),
        "bellows": measure_turns(music),
        "shake-speed": measure_shake_rate(music),
        "shake-length": float(measure_shake_length(music)),
        "reading": measure_reading(music),
        "length": float(count_bars(music)),
    }


def grade_music(music: Music, instrument: Instrument, chosen: Mapping[str, float]) -> Difficulty:
    """How hard music is at its goal tempo; `chosen` holds the points of every measure (`choose_weights`)."""
    measures = measure_all(music, instrument)
    shares = {key: weigh(amount, MEASURES[key].half) for key, amount in measures.items()}
    points = {key: chosen[key] * share for key, share in shares.items()}
    telling = [key for key in points if points[key] and shares[key] >= LEAST_SHARE]
    reasons = sorted(telling, key=lambda key: -points[key] * shares[key])[:MOST_REASONS]
    return Difficulty(measures, points, tuple(_name_reason(key, music) for key in reasons))


def _name_reason(key: str, music: Music) -> str:
    """The key of a reason's words; independence has its own for fill alone and for a left hand between the beats."""
    if key != "independence":
        return f"why.{key}"
    if music.part("left") is None:
        return "why.held-fingers"
    return "why.early-left" if 2 * len(find_early_left(music)) >= len(music.made.bars) else "why.independence"
