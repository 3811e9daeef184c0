"""Clean builds give the same bytes, whatever the machine's settings; the date is the one asked for."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from pathlib import Path

import pikepdf
import pytest
from small_book import ROOT, Said, call_book, digest, environment, make_course, run_book

from bookbuild.build import build
from bookbuild.workshop import open_workshop

pytestmark = pytest.mark.engraver

SETTINGS: dict[str, dict[str, str | None]] = {
    "another place and language": {
        "PYTHONHASHSEED": "4711",
        "TZ": "Pacific/Auckland",
        "LANG": "C",
        "LC_ALL": "C",
        "HOME": "/nonexistent",
        "SOURCE_DATE_EPOCH": "315532800",
    },
    "another Python": {"PYTHONHASHSEED": "8", "PYTHONOPTIMIZE": "1", "PYTHONUTF8": "0", "SOURCE_DATE_EPOCH": ""},
}


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_course(tmp_path_factory.mktemp("course"))


def build_clean(course: Path, folder: Path, settings: Mapping[str, str | None]) -> tuple[Said, Path]:
    """A book from an empty cache, in a process of its own."""
    folder.mkdir(exist_ok=True)
    base: dict[str, str | None] = {"PYTHONHASHSEED": "0", "SOURCE_DATE_EPOCH": None, "TMPDIR": str(folder)}
    out = folder / "book.pdf"
    return run_book(course, out, folder / "cache", env=environment(**{**base, **settings})), out


@pytest.fixture(scope="module")
def clean(course: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    said, out = build_clean(course, tmp_path_factory.mktemp("clean"), {})
    assert said.code == 0, said
    return out


@pytest.mark.parametrize("settings", SETTINGS)
def test_two_clean_builds_are_the_same(settings: str, clean: Path, tmp_path: Path) -> None:
    copy = make_course(tmp_path / "a course of another name")
    said, out = build_clean(copy, tmp_path / "a folder of another name", SETTINGS[settings])
    assert said.code == 0, said
    assert "0 of them reused" in said.out
    assert digest(out) == digest(clean)


def test_the_date_asked_for_is_in_the_book(
    course: Path, clean: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 1 March 2025, 12:30 UTC, by the calendar. The drawings are the clean book's; they hold no date.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1740832200")
    monkeypatch.setenv("TZ", "America/New_York")
    made = []
    for name in ("first", "second"):
        shutil.copytree(clean.parent / "cache", tmp_path / name)
        said = call_book(course, tmp_path / f"{name}.pdf", tmp_path / name)
        assert "6 of them reused" in said.out
        made.append(tmp_path / f"{name}.pdf")
    assert digest(made[0]) == digest(made[1]) != digest(clean)
    with pikepdf.open(made[0]) as pdf:
        assert str(pdf.docinfo["/CreationDate"]) == str(pdf.docinfo["/ModDate"]) == "D:20250301123000Z"
        with pdf.open_metadata() as xmp:
            assert xmp["xmp:CreateDate"] == xmp["xmp:ModifyDate"] == "2025-03-01T12:30:00Z"
    with pikepdf.open(clean) as pdf:
        assert str(pdf.docinfo["/CreationDate"]) == "D:19800101000000Z"


@pytest.fixture(scope="module")
def three_weeks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's weeks 5 to 7 in German, whose words have letters beyond the plain ones."""
    folder = tmp_path_factory.mktemp("weeks") / "course"
    shutil.copytree(ROOT / "content", folder)
    text = (folder / "course.yaml").read_text()
    kept = re.sub(r"(?m)^  - (?!05|06|07)\d\d-.*\n", "", text).replace("edition: standard", "edition: deutsch")
    (folder / "course.yaml").write_text(kept)
    return folder


def test_a_book_is_the_same_whatever_was_drawn_before_it(three_weeks: Path, tmp_path: Path) -> None:
    clean, grown = tmp_path / "clean.pdf", tmp_path / "grown.pdf"
    build(three_weeks, clean, open_workshop(tmp_path / "clean", workers=2))
    for week in (3, 1, 2):
        build(three_weeks, tmp_path / "week.pdf", open_workshop(tmp_path / "grown", workers=2), week=week)
    outcome = build(three_weeks, grown, open_workshop(tmp_path / "grown", workers=2))
    assert outcome.reused == outcome.exercises - 1
    assert digest(grown) == digest(clean)


def test_an_edited_book_is_the_same_as_one_that_was_always_so(three_weeks: Path, tmp_path: Path) -> None:
    edited = tmp_path / "course"
    shutil.copytree(three_weeks, edited)
    build(edited, tmp_path / "book.pdf", open_workshop(tmp_path / "grown", workers=2))
    tune = edited / "tunes" / "a-window-in-november.yaml"
    words = tune.read_text()
    tune.write_text(words.replace("b''4 gis'' f''", "b''4 a'' f''"))
    assert tune.read_text() != words
    clean, grown = tmp_path / "clean.pdf", tmp_path / "grown.pdf"
    outcome = build(edited, grown, open_workshop(tmp_path / "grown", workers=2))
    assert 0 < outcome.reused < outcome.exercises
    build(edited, clean, open_workshop(tmp_path / "clean", workers=2))
    assert digest(grown) == digest(clean)


@pytest.mark.parametrize("epoch", ["tomorrow", "1e9", "-99999999999999", "9" * 40, "12.5", "\N{SUPERSCRIPT TWO}"])
def test_a_date_that_is_none_is_the_calls_fault(
    epoch: str, course: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    out = tmp_path / "book.pdf"
    said = call_book(course, out, tmp_path / "cache")
    assert said.code == 2, said
    assert said.first.startswith("bookbuild: SOURCE_DATE_EPOCH is '")
    assert len(said.errors.splitlines()) == 2
    assert not out.exists()
