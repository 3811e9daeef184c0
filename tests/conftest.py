"""Shared by all tests: the demo course, arranged once; one engraver run over all of it; one built book."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from bookbuild.arrange.course import Exercise, Lesson, arrange_course, edition_setting
from bookbuild.build import Outcome, build
from bookbuild.engrave.engine import find_engraver, run_engraver
from bookbuild.engrave.score import bookpart_text
from bookbuild.engrave.source import batch_text
from bookbuild.lessons.files import read_course
from bookbuild.lessons.model import Course, Edition
from bookbuild.printing import engraving_style
from bookbuild.workshop import Workshop, fonts_folder, open_workshop

# A busy machine must not fail a property, and CI asks the same questions each time; at home they vary.
settings.register_profile("home", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "home")

CONTENT = Path(__file__).parent.parent / "content"


@dataclass(frozen=True)
class Engraved:
    """An exercise with what the engraver made of it: its MIDI file and its pages (boxes of notes and syllables)."""

    exercise: Exercise
    midi: Path
    pages: tuple[dict[str, Any], ...]


@pytest.fixture(scope="session")
def course() -> Course:
    return read_course(CONTENT)


@pytest.fixture(scope="session")
def edition(course: Course) -> Edition:
    return course.editions[course.default_edition]


@pytest.fixture(scope="session")
def lessons(course: Course, edition: Edition) -> tuple[Lesson, ...]:
    lessons, findings = arrange_course(course, edition)
    assert not findings
    return lessons


@pytest.fixture(scope="session")
def exercises(lessons: Sequence[Lesson]) -> list[Exercise]:
    return [exercise for lesson in lessons for exercise in lesson.exercises]


def engrave_for_checks(exercises: Sequence[Exercise], course: Course, edition: Edition, work: Path) -> list[Engraved]:
    """Engrave exercises in one run that also writes MIDI and the boxes of all notes and syllables."""
    style = engraving_style(course, edition)
    parts = [bookpart_text(f"x{i}", exercise.arrangement, style, midi=True) for i, exercise in enumerate(exercises)]
    run_engraver(find_engraver(), batch_text(parts, style, fonts_folder(), dump_grobs=True), work, seconds=300)
    pages = [json.loads(line) for line in _join_json(work / "geometry.jsonl")]
    return [
        Engraved(
            exercise,
            work / (f"book-{i}.midi" if i else "book.midi"),
            tuple(page for page in pages if page["exercise"] == f"x{i}"),
        )
        for i, exercise in enumerate(exercises)
    ]


def _join_json(path: Path) -> list[str]:
    """The dump's objects: each begins a line with the exercise's name and may run over several lines."""
    text = path.read_text(encoding="utf-8")
    return ['{"exercise"' + part for part in text.split('{"exercise"')[1:]]


@pytest.fixture(scope="session")
def engraved(
    exercises: list[Exercise],
    course: Course,
    edition: Edition,
    tmp_path_factory: pytest.TempPathFactory,
) -> list[Engraved]:
    """Every exercise of the demo course, engraved in two runs side by side."""
    folder = tmp_path_factory.mktemp("engraved")
    half = len(exercises) // 2
    halves = (exercises[:half], exercises[half:])
    with ThreadPoolExecutor(2) as pool:
        runs = [
            pool.submit(engrave_for_checks, part, course, edition, folder / str(i)) for i, part in enumerate(halves)
        ]
        return [made for run in runs for made in run.result()]


@pytest.fixture(scope="session")
def drawings_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One cache for all builds of a test run."""
    return tmp_path_factory.mktemp("cache")


def shop_that_reports(cache: Path) -> Workshop:
    """A workshop that keeps drawings but no finished book: only a book made anew tells how its pages were filled."""
    shutil.rmtree(cache / "finished", ignore_errors=True)
    return open_workshop(cache)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory, drawings_cache: Path) -> Outcome:
    """The demo course book, built once."""
    return build(CONTENT, tmp_path_factory.mktemp("book") / "book.pdf", shop_that_reports(drawings_cache))


@pytest.fixture(scope="session")
def setting(course: Course, edition: Edition):  # type: ignore[no-untyped-def]
    return edition_setting(course, edition)
