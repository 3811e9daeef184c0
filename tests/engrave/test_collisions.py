"""Nothing that is read stands on anything else: fingers, syllables, stradella letters, noteheads, rests."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest

from tests.conftest import Engraved

pytestmark = pytest.mark.engraver

READ = {"LyricText", "Fingering", "TextScript"}
MUSIC = {"NoteHead", "Rest"}
TOUCH = 0.5
"""Points by which two boxes may overlap: a glyph's ink is smaller than its box."""


def overlap(one: dict[str, Any], two: dict[str, Any], axis: str) -> float:
    """By how many points two boxes overlap along an axis; negative is the white between them."""
    return float(min(one[axis][1], two[axis][1]) - max(one[axis][0], two[axis][0]))


def collisions(page: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Pairs of marks of a system of which at least one is read, and that stand on each other, with their moment."""
    marks = [m for m in page["grobs"] if m["name"] in READ | MUSIC and None not in (*m["x"], *m["y"])]
    return [
        (one["name"], two["name"], one["when"])
        for one, two in combinations(marks, 2)
        if {one["name"], two["name"]} & READ and overlap(one, two, "x") > TOUCH and overlap(one, two, "y") > TOUCH
    ]


def test_no_two_marks_stand_on_each_other(engraved: list[Engraved]) -> None:
    found = {made.exercise.number: hits for made in engraved for page in made.pages if (hits := collisions(page))}
    assert found == {}


def test_a_collision_would_be_seen(engraved: list[Engraved]) -> None:
    page = engraved[0].pages[0]
    syllable = next(mark for mark in page["grobs"] if mark["name"] == "LyricText")
    assert collisions({"grobs": [*page["grobs"], {**syllable, "name": "Fingering"}]})


def test_syllables_of_a_row_keep_a_gap(engraved: list[Engraved]) -> None:
    """A point and a half at least, so that they are not read as one word."""
    for made in engraved:
        for page in made.pages:
            words = sorted((m for m in page["grobs"] if m["name"] == "LyricText"), key=lambda mark: mark["x"][0])
            for one, two in combinations(words, 2):
                if overlap(one, two, "y") > 2:
                    assert overlap(one, two, "x") <= -1.5, (made.exercise.number, one["what"], two["what"])
