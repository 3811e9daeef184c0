"""Pearson's correlation against published data, and where it is not defined."""

from __future__ import annotations

import pytest

from bookbuild.theory.likeness import correlate


def test_a_published_pair_of_rows() -> None:
    # Anscombe 1973, The American Statistician 27(1) 17-21, first data set: r = 0.816 (from memory).
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    assert correlate(x, y) == pytest.approx(0.816, abs=5e-4)
    assert correlate(x, [-one for one in x]) == pytest.approx(-1)


def test_what_does_not_vary_is_like_nothing() -> None:
    assert correlate([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]) == 0.0
