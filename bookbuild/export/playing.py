"""Printed time to played time: repeats and endings followed, swing applied."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.model import Arrangement, Bar
from bookbuild.arrange.playing_order import list_successors
from bookbuild.exact import Fraction

MOST_BARS = 5000
"""More played bars than that are never asked for; the walk stops there."""


def play_order(bars: Sequence[Bar]) -> list[int]:
    """Indices of the bars in the order they are played."""
    ways = list_successors(bars)
    visits = [0] * len(bars)
    order: list[int] = []
    at: int | None = 0
    while at is not None and len(order) < MOST_BARS:
        order.append(at)
        choices = ways[at]
        visits[at] += 1
        at = choices[min(visits[at], len(choices)) - 1]
    return order


def play_runs(bars: Sequence[Bar]) -> list[tuple[Fraction, Fraction]]:
    """The played stretches as (printed start, printed end), neighbours joined."""
    runs: list[tuple[Fraction, Fraction]] = []
    previous = None
    for index in play_order(bars):
        bar = bars[index]
        if previous is not None and index == previous + 1:
            runs[-1] = (runs[-1][0], bar.end)
        else:
            runs.append((bar.onset, bar.end))
        previous = index
    return runs


def swing_moment(moment: Fraction, arrangement: Arrangement) -> Fraction:
    """Where a printed moment is played: the first slot of every pair takes the groove's share of the pair.

    Pairs are counted from the beats; where a beat does not hold whole pairs nothing moves.
    """
    share, pair = arrangement.swing, arrangement.swung
    if share == Fraction(1, 2) or not pair or (arrangement.meter.beat / pair).denominator != 1:
        return moment
    bar = next((bar for bar in arrangement.bars if bar.onset <= moment < bar.end), arrangement.bars[-1])
    lead = arrangement.meter.bar - bar.length if bar.number == 0 else Fraction(0)
    place = (moment - bar.onset + lead) % pair / pair
    half = Fraction(1, 2)
    moved = place * 2 * share if place < half else share + (place - half) * 2 * (1 - share)
    return moment + (moved - place) * pair
