"""A small course to begin from: a week, a tune, a few grooves, and everything they need."""

from __future__ import annotations

import re
from pathlib import Path

from bookbuild.diagnostics import CallError
from bookbuild.lessons.schema import json_schemas

INSTRUMENT = "34-keys-72-basses"
TUNE = "lamplighters-round"
GROOVES = ("promenade", "polka", "waltz")
SCHEMAS = ".schemas"
"""Folder of the JSON Schema files in a course; an editor that reads them completes and checks what is written."""

_COURSE = f"""\
title: "My course"
subtitle: "First steps"
text: |
  Who this course is for, and how to use it. This text is printed on its own page.
rights: "What you state about the course as a whole."
weeks:
  - 01-first-steps
edition: standard
instrument: {INSTRUMENT}
"""

_WEEK = f"""\
title: "First steps"
aim: "Play bass and chord in a steady walk, and a tune above it."
text: |
  One to three short paragraphs to the student.
new:
  - "The bass and the chord: two buttons of one column"
listen:
  - "Bass and chord have the same length"
exercises:
  - kind: left-hand-one-chord
    groove: promenade
    chord: C
  - kind: count
    tune: {TUNE}
  - kind: melody
    tune: {TUNE}
  - kind: left-hand
    tune: {TUNE}
    groove: promenade
  - kind: together
    tune: {TUNE}
    groove: promenade
"""


def write_new_course(source: Path, folder: Path) -> int:
    """Make a small course in `folder` from the demo course in `source`; returns how many files were written.

    Raises CallError when the folder holds anything already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CallError(f"{folder} is not empty", "name a new or empty folder; nothing was changed")
    files = {f"{SCHEMAS}/{kind}.json": text for kind, text in json_schemas().items()}
    files["course.yaml"] = _with_schema(_COURSE, "course", ".")
    files["weeks/01-first-steps.yaml"] = _with_schema(_WEEK, "week", "..")
    copied = [("tunes", "tune", TUNE), ("editions", "edition", "standard")]
    copied += [("grooves", "groove", name) for name in GROOVES]
    for part, kind in (("instruments", "instrument"), ("counting", "counting"), ("words", "words")):
        copied += [(part, kind, path.stem) for path in sorted((source / part).glob("*.yaml"))]
    for part, kind, name in copied:
        text = (source / part / f"{name}.yaml").read_text(encoding="utf-8")
        files[f"{part}/{name}.yaml"] = _with_schema(text, kind, "..")
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return len(files)


def _with_schema(text: str, kind: str, up: str) -> str:
    """The text with a first line that names its schema beside the course."""
    bare = re.sub(r"\A# yaml-language-server:.*\n", "", text)
    return f"# yaml-language-server: $schema={up}/{SCHEMAS}/{kind}.json\n{bare}"
