"""Clean builds give the same bytes, whatever the machine's settings; the date is the one asked for."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pikepdf
import pytest
from small_book import Said, digest, environment, make_course, run_book

pytestmark = pytest.mark.engraver

SETTINGS: dict[str, dict[str, str | None]] = {
    "another order of sets": {"PYTHONHASHSEED": "4711"},
    "another place and language": {"TZ": "Pacific/Auckland", "LANG": "C", "LC_ALL": "C", "HOME": "/nonexistent"},
    "optimised": {"PYTHONOPTIMIZE": "1", "PYTHONUTF8": "0"},
    "the default date by name": {"SOURCE_DATE_EPOCH": "315532800"},
    "an empty date": {"SOURCE_DATE_EPOCH": ""},
}


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_course(tmp_path_factory.mktemp("course"))


def build_clean(course: Path, folder: Path, settings: Mapping[str, str | None]) -> tuple[Said, Path]:
    """A book from an empty cache."""
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
def test_two_clean_builds_are_the_same(settings: str, course: Path, clean: Path, tmp_path: Path) -> None:
    said, out = build_clean(course, tmp_path / "a folder of another name", SETTINGS[settings])
    assert said.code == 0, said
    assert "0 of them reused" in said.out
    assert digest(out) == digest(clean)


def test_a_copy_of_the_course_makes_the_same_book(clean: Path, tmp_path: Path) -> None:
    said, out = build_clean(make_course(tmp_path / "elsewhere"), tmp_path / "out", {})
    assert said.code == 0, said
    assert digest(out) == digest(clean)


def test_the_date_asked_for_is_in_the_book(course: Path, clean: Path, tmp_path: Path) -> None:
    # 1 March 2025, 12:30 UTC, by the calendar.
    when = {"SOURCE_DATE_EPOCH": "1740832200", "TZ": "America/New_York"}
    first, second = (build_clean(course, tmp_path / name, when)[1] for name in ("first", "second"))
    assert digest(first) == digest(second) != digest(clean)
    with pikepdf.open(first) as pdf:
        assert str(pdf.docinfo["/CreationDate"]) == str(pdf.docinfo["/ModDate"]) == "D:20250301123000Z"
        with pdf.open_metadata() as xmp:
            assert xmp["xmp:CreateDate"] == xmp["xmp:ModifyDate"] == "2025-03-01T12:30:00Z"
    with pikepdf.open(clean) as pdf:
        assert str(pdf.docinfo["/CreationDate"]) == "D:19800101000000Z"


@pytest.mark.parametrize("epoch", ["tomorrow", "1e9", "-99999999999999", "9" * 40, "12.5", "\N{SUPERSCRIPT TWO}"])
def test_a_date_that_is_none_is_the_calls_fault(epoch: str, course: Path, tmp_path: Path) -> None:
    said, out = build_clean(course, tmp_path, {"SOURCE_DATE_EPOCH": epoch})
    assert said.code == 2, said
    assert said.first.startswith("bookbuild: SOURCE_DATE_EPOCH is '")
    assert len(said.errors.splitlines()) == 2
    assert not out.exists()
