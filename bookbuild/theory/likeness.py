"""How alike two rows of numbers are."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import StatisticsError, correlation


def correlate(first: Sequence[float], second: Sequence[float]) -> float:
    """Pearson's r, −1 to 1; 0 where one side does not vary. Both have the same length, two or more."""
    try:
        return correlation(first, second)
    except StatisticsError:
        return 0.0
