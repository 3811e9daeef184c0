"""Clean builds give the same bytes, whatever the machine's settings; the date is the one asked for."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pikepdf
import pytest
from small_book import Said, call_book, digest, environment, make_course, run_book

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
