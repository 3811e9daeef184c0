"""A course of one week that builds in two seconds, and the program run on it as its user would."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from collections.abc import Mapping
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pikepdf
from course_scenes import CONTENT, write_scene

from bookbuild.cli import run

ROOT = CONTENT.parent
_WEEK = """\
title: "One week"
aim: "Play it."
exercises:
  - {kind: melody, tune: lamplighters-round, sections: A, bars: 4}
  - {kind: left-hand, tune: lamplighters-round, groove: promenade, sections: A, bars: 4}
  - {kind: together, tune: lamplighters-round, groove: promenade, sections: A, bars: 4}
  - {kind: shake-melody, tune: lamplighters-round, groove: promenade, sections: A, bars: 2}
"""
_COURSE = 'title: "Small"\nweeks: [one]\nedition: plain\n'
_KEPT = ("tunes/lamplighters-round.yaml", "grooves/promenade.yaml", "instruments/34-keys-72-basses.yaml")


def small_files(title: str = "Small edition", **edition: object) -> dict[str, bytes]:
    """The files of the course; more keys of its edition may be given."""
    files = {name: (CONTENT / name).read_bytes() for name in _KEPT}
    more = "".join(f"{key}: {value}\n" for key, value in edition.items())
    files |= {"course.yaml": _COURSE.encode(), "weeks/one.yaml": _WEEK.encode()}
    return files | {"editions/plain.yaml": f'title: "{title}"\ninstrument: 34-keys-72-basses\n{more}'.encode()}


@dataclass(frozen=True)
class Said:
    """How a run ended and what it said."""

    code: int
    out: str
    errors: str

    @property
    def first(self) -> str:
        """The first line of what went wrong."""
        return self.errors.splitlines()[0] if self.errors else ""


def command(course: Path, out: Path, cache: Path | None, *more: str) -> list[str]:
    """The call that builds the book."""
    return [sys.executable, "-m", "bookbuild", *_words(course, out, cache, *more)]


def _words(course: Path, out: Path, cache: Path | None, *more: str) -> list[str]:
    kept = ["--cache", str(cache)] if cache else []
    return ["book", "--course", str(course), "--out", str(out), *kept, *more]


def call_book(course: Path, out: Path, cache: Path | None, *more: str) -> Said:
    """Build the book by the same command in this process, which spares a second of imports."""
    told, errors = io.StringIO(), io.StringIO()
    with redirect_stdout(told), redirect_stderr(errors):
        code = run(_words(course, out, cache, *more))
    return Said(code, told.getvalue(), errors.getvalue())


def environment(**changes: str | None) -> dict[str, str]:
    """This process's environment with the program on its path; None takes a name out."""
    merged: dict[str, str | None] = {**os.environ, "PYTHONPATH": str(ROOT), **changes}
    return {name: value for name, value in merged.items() if value is not None}


def run_book(
    course: Path,
    out: Path,
    cache: Path | None,
    *more: str,
    env: Mapping[str, str] | None = None,
    seconds: float = 120,
) -> Said:
    """Build the book in a process of its own, in the course's folder."""
    done = subprocess.run(
        command(course, out, cache, *more),
        cwd=course,
        env=dict(env) if env else environment(),
        capture_output=True,
        text=True,
        timeout=seconds,
        check=False,
    )
    return Said(done.returncode, done.stdout, done.stderr)


def digest(path: Path) -> str:
    """SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def is_whole(path: Path) -> bool:
    """Whether a PDF opens without a repair and all its pages can be read."""
    with pikepdf.open(path, attempt_recovery=False) as pdf:
        return pdf.check_pdf_syntax() == [] and all(page.Contents is not None for page in pdf.pages)


def make_course(folder: Path, title: str = "Small edition", **edition: object) -> Path:
    """The small course in `folder`."""
    return write_scene(folder, small_files(title, **edition))
