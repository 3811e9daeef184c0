"""The steps of one tune's sheet: bars that fit, and no fill where the melody leaves it no room."""

from __future__ import annotations

import pytest

from bookbuild.arrange.sheet import choose_section, sheet_weeks
from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import Course

STEPS = ["count", "left-hand", "melody", "shapes", "fill", "together"]


@pytest.mark.parametrize(("tune", "groove", "filled"), [
    ("wide-water", "waltz", True), ("tide-mill", "jig", True), ("last-one-sweeps-the-floor", "polka", False),
])
def test_only_a_melody_that_leaves_room_is_filled(course: Course, tune: str, groove: str, filled: bool) -> None:
    week = next(sheet_weeks(course.tunes[tune], course.grooves[groove]))
    assert [spec.kind for spec in week.exercises] == [kind for kind in STEPS if filled or kind != "fill"]
    assert week.exercises[-1].right == ("fill" if filled else "")
    assert week.exercises[-1].bars == (4 if filled else 8)


@pytest.mark.parametrize(("tune", "groove"), [("wide-water", "waltz"), ("last-one-sweeps-the-floor", "polka")])
def test_each_choice_is_smaller_and_prepares_what_hands_together_play(course: Course, tune: str, groove: str) -> None:
    choices = [{spec.kind: spec.bars for spec in week.exercises}
               for week in sheet_weeks(course.tunes[tune], course.grooves[groove])]
    sizes = [sum(bars.values()) for bars in choices]
    assert sizes == sorted(sizes, reverse=True)
    for bars in choices:
        assert list(bars)[-1] == "together"
        assert {"left-hand", "melody"} <= set(bars)
        assert all(bars[kind] >= bars["together"] for kind in ("left-hand", "melody"))


def test_long_bars_are_fewer(course: Course) -> None:
    tune = read_abc('X:1\nT:Slide\nM:12/8\nL:1/8\nK:G\n' + '"G"g3 a3 b3 g3|' * 8 + "]\n", "t.abc")[0].tune
    assert tune is not None
    week = next(sheet_weeks(tune, course.grooves["four-wheels"]))
    assert {spec.kind: spec.bars for spec in week.exercises} == {
        "count": 2, "left-hand": 2, "melody": 4, "shapes": 2, "fill": 2, "together": 2}


def test_a_first_section_of_a_bar_or_two_is_passed_over() -> None:
    tune = read_abc("X:1\nT:T\nM:2/4\nL:1/8\nK:G\nG2 B2||GABc|d4|edcB|A4||G4|]\n", "t.abc")[0].tune
    assert tune is not None
    assert choose_section(tune) == "B"
