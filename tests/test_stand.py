"""A week's leaf for the music stand: every week of every demo edition, set without the engraver; one read back."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import pytest

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.assemble.book import paper_options
from bookbuild.assemble.stand import assemble_stand
from bookbuild.engrave.drawn import DrawnExercise, DrawnSystem
from bookbuild.engrave.style import Style
from bookbuild.engrave.systems import break_lines
from bookbuild.grading.course import LessonGrade, grade_course, make_stages, plan_week
from bookbuild.grading.learning import Stage
from bookbuild.grading.weights import choose_weights
from bookbuild.lessons.model import Course, Edition
from bookbuild.pages.book import lay_desk
from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.model import Book, Stand
from bookbuild.pages.paper import MM, plan_sheet
from bookbuild.pages.stand import SIDES, compose_stand
from bookbuild.printing import engraving_style
from tests.pages.made_up import FONTS

EDITIONS = ("booklet", "concert", "deutsch", "large-print", "letter", "pocket", "print-shop", "small-hands", "standard",
            "studio")
TALLEST = {"count": 50, "melody": 108, "left-hand": 121, "left-hand-one-chord": 121, "shapes": 130, "fill": 148,
           "together": 220, "arrangement": 222}
"""Points of the tallest line of a kind in the demo course at a staff of 7.5 mm (measured); shakes have 174."""


def draw_made_up(exercise: Exercise, style: Style) -> tuple[Path, DrawnExercise]:
    """An exercise as lines of about the height the engraver would give them."""
    height = TALLEST.get(exercise.spec.kind, 174) * style.staff / 7.5
    rows = break_lines(exercise.arrangement, style.width_in_staves)
    width = style.width * MM
    systems = tuple(DrawnSystem(0, 0, width, 0, height, 0, style.staff * MM, 1, 4, True) for _ in rows)
    return Path("drawn.pdf"), DrawnExercise("", systems)


Graded = tuple[Sequence[Stage], Sequence[LessonGrade]]


@pytest.fixture(scope="module")
def graded(course: Course, edition: Edition, lessons: Sequence[Lesson]) -> Graded:
    stages = make_stages(lessons, course.instruments[course.default_instrument], choose_weights(course.weights))
    return stages, grade_course(course, edition, lessons)[0]


@dataclass(frozen=True)
class Leaf:
    """A week's leaf as it was set: strips by page, tops within the page's text block."""

    stand: Stand
    strips: tuple[tuple[Strip, ...], ...]
    tops: tuple[tuple[float, ...], ...]
    height: float

    def shown(self) -> list[str]:
        """Numbers of the exercises on it."""
        return [strip.name for page in self.strips for strip in page if strip.kind == "heading"]


@pytest.fixture(scope="module", params=EDITIONS)
def leaves(
    request: pytest.FixtureRequest, course: Course, lessons: Sequence[Lesson],
    graded: Graded,
) -> list[Leaf]:
    """All weeks in one edition: its paper, text size, language, days and minutes; the usual edition's music."""
    printing = course.editions[request.param]
    grades = [replace(grade, plan=plan_week(stage, grade.reviews, printing.minutes, printing.days))
              for stage, grade in zip(*graded, strict=True)]
    style = engraving_style(course, printing)
    drawings = {e.number: draw_made_up(e, style) for lesson in lessons for e in lesson.exercises}
    folios = {number: str(place) for place, number in enumerate(drawings, 100)}
    words = {key.removeprefix("page."): text for key, text in course.words[printing.language].items()}
    desk = lay_desk(Book("", words=words), plan_sheet(replace(paper_options(printing), booklet=False), 1), FONTS)
    return [set_leaf(desk, assemble_stand(course, printing, lessons, grades, number, drawings, folios))
            for number in range(1, len(lessons) + 1)]


def set_leaf(desk: Desk, stand: Stand) -> Leaf:
    strips, found = compose_stand(desk, stand)
    pages = tuple(tuple(strips[page.first : page.last]) for page in found.pages)
    return Leaf(stand, pages, tuple(page.tops for page in found.pages), desk.sheet.text_height)


def test_every_week_takes_one_leaf(leaves: list[Leaf]) -> None:
    assert len(leaves) == 12
    assert all(len(leaf.strips) <= SIDES for leaf in leaves)


def test_nothing_overlaps_or_leaves_the_page(leaves: list[Leaf]) -> None:
    for leaf in leaves:
        for strips, tops in zip(leaf.strips, leaf.tops, strict=True):
            assert tops[0] >= -1e-6
            for (strip, top), below in pairwise(zip(strips, tops, strict=True)):
                assert top + strip.piece.height <= below[1] + 1e-6, (leaf.stand.week.number, strip.kind)
            assert tops[-1] + strips[-1].piece.height <= leaf.height + 1e-6, leaf.stand.week.number


def test_exercises_are_whole_and_their_music_follows_their_heading(leaves: list[Leaf]) -> None:
    for leaf in leaves:
        lines = {block.number: len(block.systems) for block in leaf.stand.week.blocks}
        for strips in leaf.strips:
            order = [(strip.kind, strip.name) for strip in strips if strip.kind in ("heading", "system")]
            numbers = [name for kind, name in order if kind == "heading"]
            assert order == [pair for name in numbers
                             for pair in [("heading", name), *[("system", name)] * lines[name]]]


def test_every_leaf_has_head_log_caution_and_music(leaves: list[Leaf]) -> None:
    for leaf in leaves:
        kinds = [strip.kind for strips in leaf.strips for strip in strips]
        assert (kinds.count("header"), kinds.count("log")) == (1, 1)
        assert kinds.count("caution") == bool(leaf.stand.week.caution)
        assert leaf.shown(), leaf.stand.week.number


def test_the_log_names_every_exercise_with_its_page_in_the_book(leaves: list[Leaf]) -> None:
    for leaf in leaves:
        where = {each.number: each.row.where for each in leaf.stand.rows if each.number}
        assert {block.number for block in leaf.stand.week.blocks} <= where.keys()
        assert all(re.fullmatch(r"\D+\d{3}", text) for text in where.values())


def test_pages_are_well_filled(leaves: list[Leaf]) -> None:
    """Half of the leaf's two pages at least is taken; our own rule, like that of the book's pages."""
    for leaf in leaves:
        used = sum(strip.piece.height for strips in leaf.strips for strip in strips)
        assert used > 0.5 * SIDES * leaf.height, leaf.stand.week.number
