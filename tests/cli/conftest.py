"""A small course of its own for each test of the command line, and one cache for all of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from bookbuild.lessons.new_course import write_new_course
from tests.conftest import CONTENT


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, drawings_cache: Path) -> Path:
    """A small course in an empty working folder; drawings are shared through the test run's cache."""
    folder = tmp_path / "course"
    write_new_course(CONTENT, folder)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BOOKBUILD_CACHE", str(drawings_cache))
    return folder
