"""Whole builds: swaps touch only their weeks, folders of tunes, thick books, outputs that survive a failure."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from bookbuild import build as stages
from bookbuild import finished
from bookbuild.arrange.course import arrange_course, swap_tune
from bookbuild.build import Outcome, build, load_course
from bookbuild.diagnostics import ContentError
from bookbuild.engrave.engine import Engraver
from bookbuild.finished import finished_key
from bookbuild.grading.course import grade_course
from bookbuild.lessons.model import Course, Edition, ExerciseSpec
from bookbuild.workshop import Workshop, open_workshop
from tests.conftest import CONTENT

SWAPS = {"salt-and-lime": "paper-kites-on-the-quay", "chestnut-night": "tide-mill"}


def weeks_with(course: Course, edition: Edition, tunes: set[str]) -> set[int]:
    """Weeks whose page names one of the tunes: among its exercises or among what it reviews."""
    lessons, _ = arrange_course(course, edition)
    grades, _ = grade_course(course, edition, lessons)
    found = set()
    for lesson, grade in zip(lessons, grades, strict=True):
        shown = [e.tune.name for e in lesson.exercises if e.tune]
        shown += [step.exercise.tune.name for step in grade.reviews if step.exercise.tune]
        if tunes & set(shown):
            found.add(lesson.number)
    return found


def remember(plain: Callable[..., Any]) -> Callable[..., Any]:
    """A function of a course and an edition that works once for each edition."""
    known: dict[str, Any] = {}

    def recall(course: Course, edition: Edition, *more: Any) -> Any:
        if repr(edition) not in known:
            known[repr(edition)] = plain(course, edition, *more)
        return known[repr(edition)]

    return recall


@pytest.mark.engraver
def test_swapping_two_tunes_changes_only_the_weeks_that_show_them(
    course: Course,
    edition: Edition,
    tmp_path: Path,
    built: Outcome,
    drawings_cache: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Both are pure, and every week asks them the same question.
    for name, plain in (("arrange_course", arrange_course), ("grade_course", grade_course)):
        monkeypatch.setattr(stages, name, remember(plain))
    shop = open_workshop(drawings_cache)
    (tmp_path / "content").symlink_to(CONTENT)
    swapped = replace(edition, swaps=SWAPS)
    touched = weeks_with(course, edition, set(SWAPS)) | weeks_with(course, swapped, set(SWAPS.values()) - {"tide-mill"})
    changed = set()
    for week in range(1, len(course.weeks) + 1):
        sums = []
        for name, one in (("before", edition), ("after", swapped)):
            out = tmp_path / f"{name}-{week}.pdf"
            stages.build_course(course, CONTENT, one, out, shop, [], week, lambda *_: None)
            sums.append(hashlib.sha256(out.read_bytes()).hexdigest())
        if sums[0] != sums[1]:
            changed.add(week)
    assert changed <= touched
    assert {lesson.number for lesson in arrange_course(course, edition)[0]
            if any(e.tune and e.tune.name in SWAPS for e in lesson.exercises)} <= changed
    assert len(changed) < len(course.weeks)


def test_a_swapped_tune_without_that_section_plays_its_own(course: Course) -> None:
    asked = course.tunes["last-one-sweeps-the-floor"]
    short = replace(course.tunes["salt-and-lime"], sections=course.tunes["salt-and-lime"].sections[:1])
    spec = swap_tune(ExerciseSpec("melody", asked.name, sections=("A", "C")), asked, short)
    assert spec.tune == "salt-and-lime"
    assert spec.sections == ("A", "A")


def test_a_folder_of_tunes_and_one_edition_is_laid_over_the_demo_course(tmp_path: Path) -> None:
    (tmp_path / "tunes").mkdir()
    (tmp_path / "editions").mkdir()
    mine = (CONTENT / "tunes" / "salt-and-lime.yaml").read_text().replace("Salt and Lime", "Pepper and Plum")
    (tmp_path / "tunes" / "pepper.yaml").write_text(mine)
    (tmp_path / "editions" / "house.yaml").write_text(
        'title: "House"\nstudio: {name: "Corner Room"}\nswaps: {salt-and-lime: pepper}\n')
    course, findings = load_course(tmp_path)
    assert course.default_edition == "house"
    assert course.tunes["pepper"].title == "Pepper and Plum"
    assert len(course.weeks) >= 10
    assert [f.severity.value for f in findings] == ["note"]


def test_a_folder_with_neither_course_nor_tunes_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ContentError) as caught:
        load_course(tmp_path)
    assert caught.value.diagnostics[0].file == "course.yaml"


def test_a_finished_book_is_named_by_all_it_was_made_from(
    course: Course, edition: Edition, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = open_workshop(tmp_path / "cache")
    (tmp_path / "logo.png").write_bytes(b"one")
    logo = replace(edition, studio=replace(edition.studio, logo="logo.png"))

    def name(course: Course = course, edition: Edition = logo, what: str = "0", shop: Workshop = shop) -> str:
        return finished_key(course, tmp_path, edition, what, shop)

    keys = [name(), name(course=replace(course, title="Another")), name(edition=replace(logo, staff=8.0)),
            name(what="3"), name(shop=replace(shop, created=datetime(2001, 2, 3, tzinfo=UTC))),
            name(shop=replace(shop, engraver=Engraver(Path("other"), "2.24.4"))),
            name(shop=replace(shop, fonts=CONTENT))]
    for part in ("program_digest", "library_versions"):
        with monkeypatch.context() as patch:
            patch.setattr(finished, part, lambda *_: "another")
            keys.append(name())
    (tmp_path / "logo.png").write_bytes(b"two")
    keys.append(name())
    assert len(set(keys)) == len(keys)
    (tmp_path / "logo.png").write_bytes(b"one")
    assert name() == keys[0]


@pytest.mark.engraver
def test_a_rebuild_is_a_copy_and_says_the_same(tmp_path: Path, drawings_cache: Path) -> None:
    built = build(CONTENT, tmp_path / "first.pdf", open_workshop(drawings_cache))
    again = build(CONTENT, tmp_path / "again.pdf", open_workshop(drawings_cache))
    assert again.reused == again.exercises == built.exercises
    assert again.pages == built.pages
    assert again.findings == built.findings
    assert (tmp_path / "again.pdf").read_bytes() == built.out.read_bytes()
