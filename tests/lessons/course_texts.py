"""A small sound course as texts by file, for tests that break one thing at a time."""

from __future__ import annotations

from pathlib import Path

from bookbuild.diagnostics import Diagnostic
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import Course

Changes = dict[str, str | bytes | None]
"""Files of the course by name: text, bytes, or None where the file is left out."""

COURSE = """\
title: "First Steps"
subtitle: "Ten minutes a day"
weeks: [one, two]
edition: studio
instrument: small
glossary:
  - {term: bellows, text: "The lungs."}
"""

WEEK_ONE = """\
title: "The bass speaks"
aim: "Alternate bass and chord evenly."
new: ["Bass and chord"]
listen: ["Short chords"]
exercises:
  - kind: left-hand-one-chord
    groove: step
    chord: G
    bars: 4
  - kind: melody
    tune: lane
    sections: "A"
"""

WEEK_TWO = """\
title: "Hands together"
aim: "Play the tune with its groove."
exercises:
  - kind: together
    tune: lane
    groove: step
    sections: [A, B]
    instruction: "Play {tune} over {groove}."
  - kind: arrangement
    tune: lane
    groove: step
    shake: B
    introduction: 2
"""

TUNE = """\
title: "Lane"
rights: {composer: "Written for a test", source: new, statement: free}
meter: 2/4
key: G major
upbeat: 1/8
tempo: {start: 50, goal: 96}
sections:
  A:
    melody: |
      d'8 | g' b' d'' b' | c''4. d''8 | b'4 a' | g'4. \\breathe |
    chords: |
      G | C . | G D7 | G |
  B:
    melody: |
      d'8 | e''4 d'' | c''8 b' a' g' | a'2 | g'4. |
    chords: |
      N.C. | C G | Am | D7 | G |
form: A A B B
"""

OTHER_TUNE = """\
title: "Mill"
meter: 3/4
key: E minor
tempo: {start: 60, goal: 120}
sections:
  A:
    melody: |
      e'4 g' b' | e''2.
    chords: Em | B7
form: [A]
"""

GROOVE = """\
title: "Step"
meter: 2/4
slots: 2
tempo: [40, 120]
count: 1 & 2 &
bass: x . f .
chord: . x . x
accent: "> . . ."
"""

INSTRUMENT = """\
title: "48 basses"
right: {lowest: "b", highest: "c''''"}
left:
  rows: [bass, major, minor, seventh]
  first_column: Eb
  columns: 12
"""

FILES = {
    "course.yaml": COURSE,
    "weeks/one.yaml": WEEK_ONE,
    "weeks/two.yaml": WEEK_TWO,
    "tunes/lane.yaml": TUNE,
    "tunes/mill.yaml": OTHER_TUNE,
    "grooves/step.yaml": GROOVE,
    "instruments/small.yaml": INSTRUMENT,
    "counting/plain.yaml": 'title: Plain\nsimple: {1: [n], 2: [n, "&"]}\n',
    "words/en.yaml": "page.week: Lesson\n",
    "editions/studio.yaml": "title: Studio print\ncounting: plain\npaper: A5\n",
}


def write_course(folder: Path, changes: Changes | None = None) -> Path:
    """Write the small course with some files changed (None leaves one out)."""
    for name, content in {**FILES, **(changes or {})}.items():
        if content is None:
            continue
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def inspect(folder: Path, changes: Changes | None = None) -> tuple[Course | None, list[Diagnostic]]:
    """The small course, changed, as it is read."""
    return inspect_course(write_course(folder, changes))


def change(file: str, old: str, new: str) -> Changes:
    """One file of the small course with one piece of text replaced; the piece must be there."""
    assert old in FILES[file], f"{old!r} is not in {file}"
    return {file: FILES[file].replace(old, new, 1)}
