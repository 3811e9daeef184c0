"""The way in on a fresh machine: which Pythons are served, an environment broken off, failures told in one line."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from bookbuild import bootstrap

Caught = pytest.CaptureFixture[str]


def test_the_pythons_served_are_those_of_pyproject() -> None:
    project = tomllib.loads((bootstrap.ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    bounds = re.fullmatch(r">=(\d+)\.(\d+),<(\d+)\.(\d+)", project["requires-python"])
    assert bounds
    first, last, beyond, minor = map(int, bounds.groups())
    assert ((first, last), (beyond, minor)) == (bootstrap.OLDEST, bootstrap.BEYOND)


@pytest.mark.parametrize("version", [(3, 10, 4), (3, 15, 0), (4, 0, 0)])
def test_another_python_is_told_at_once(
    version: tuple[int, int, int], monkeypatch: pytest.MonkeyPatch, capsys: Caught
) -> None:
    monkeypatch.setattr(sys, "version_info", version)
    assert bootstrap.main(["book"]) == 3
    assert capsys.readouterr().err.startswith("bookbuild needs Python 3.11 to 3.14, and this is ")


def test_another_word_prints_how_it_is_used(capsys: Caught) -> None:
    assert bootstrap.main(["make"]) == 2
    assert "bookbuild.bootstrap book" in capsys.readouterr().out


def test_an_environment_broken_off_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bootstrap, "ENVIRONMENT", tmp_path / ".venv")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", tmp_path / ".venv"], check=True)
    assert bootstrap.environment_python().exists()
    assert not bootstrap.has_pip()
    bootstrap.make_environment()
    assert bootstrap.has_pip()


@pytest.mark.parametrize(("step", "told"), [("make_environment", "python3-venv"), ("install", "pip's message")])
def test_what_fails_is_told_without_a_traceback(
    step: str, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Caught
) -> None:
    def fail(*_: object) -> None:
        raise subprocess.CalledProcessError(1, "pip")

    monkeypatch.setattr(bootstrap, "ENVIRONMENT", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "make_environment", lambda: None)
    monkeypatch.setattr(bootstrap, step, fail)
    assert bootstrap.main(["book"]) == 3
    assert told in capsys.readouterr().err
