"""Every tune and score that the package music21 carries, through import, YAML, the course's reader and MusicXML.

    python tests/corpus/run_corpus.py            all of them (ten minutes; one folder takes seconds)
    python tests/corpus/run_corpus.py ryansMammoth bach

Prints a table: files, tunes carried over, refused with a reason, and the slowest file; then the reasons. Ends with
exit code 1 when anything crashed or came back different. Not collected by pytest.
"""

from __future__ import annotations

import re
import sys
import time
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

import music21

from bookbuild.diagnostics import BookbuildError, Severity
from bookbuild.importers.read import read_tunes
from bookbuild.lessons.model import MelodyNote, Place, Stretch, Tune
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report
from bookbuild.lessons.write_tune import tune_yaml
from tests.importers.reading import tune_musicxml

PACKAGE = Path(music21.__file__).parent
SUFFIXES = {".abc", ".xml", ".mxl", ".musicxml", ".mid"}
FOLDERS = {"lilypondTestSuite": PACKAGE / "musicxml" / "lilypondTestSuite",
           "testPrimitive": PACKAGE / "midi" / "testPrimitive"}


@dataclass
class Tally:
    """What became of one folder's files."""

    files: int = 0
    carried: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    crashed: list[str] = field(default_factory=list)
    different: list[str] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")


def merge_rests(stretch: Stretch) -> Stretch:
    made: list[MelodyNote] = []
    for note in stretch.notes:
        if made and note.pitch is None and made[-1].pitch is None:
            made[-1] = replace(made[-1], length=made[-1].length + note.length)
        else:
            made.append(note)
    return replace(stretch, notes=tuple(made))


def comparable(tune: Tune) -> Tune:
    sections = tuple(replace(section, body=merge_rests(section.body), endings=tuple(map(merge_rests, section.endings)))
                     for section in tune.sections)
    return replace(tune, sections=sections, place=Place(""))


def run_tune(tune: Tune, tally: Tally) -> None:
    """Write the tune, read it, compare, export it."""
    try:
        text = tune_yaml(tune)
    except ValueError as error:
        tally.refused[plain(str(error))] += 1
        return
    report = Report()
    again = parse_tune(text.encode(), tune.name, "tune.yaml", report)
    if again is None:
        first = next(found.message for found in report.in_order() if found.severity is Severity.ERROR)
        tally.refused[f"reader: {plain(first)}"] += 1
        return
    if comparable(again) != comparable(tune):
        tally.different.append(tune.title)
    tune_musicxml(again)
    tally.carried += 1


def run_file(path: Path, tally: Tally) -> None:
    """One file; a crash is noted and the run goes on."""
    started = time.perf_counter()
    tally.files += 1
    try:
        for item in read_tunes(path):
            if item.tune is None:
                tally.refused[plain(item.reason)] += 1
            else:
                run_tune(item.tune, tally)
    except BookbuildError as fault:
        tally.refused[f"file: {plain(fault.message.split(': ', 1)[-1])}"] += 1
    except Exception as error:  # the run is there to find these
        tally.crashed.append(f"{path.name}: {error!r}")
    tally.slowest = max(tally.slowest, (time.perf_counter() - started, path.name))


def plain(reason: str) -> str:
    """A reason without its numbers, to count equal ones together."""
    return re.sub(r"'[^']*'", "'…'", re.sub(r"\d+(/\d+)?", "#", reason))


def main(names: list[str]) -> int:
    folders = {folder.name: folder for folder in sorted((PACKAGE / "corpus").iterdir()) if folder.is_dir()} | FOLDERS
    chosen = {name: folders[name] for name in names} if names else folders
    reasons: Counter[str] = Counter()
    bad = 0
    print(f"{'folder':22}{'files':>7}{'carried':>9}{'refused':>9}{'crashed':>9}{'differ':>8}  slowest file")
    for name, folder in chosen.items():
        tally = Tally()
        for path in sorted(folder.rglob("*")):
            if path.suffix in SUFFIXES:
                run_file(path, tally)
        if not tally.files:
            continue
        print(f"{name:22}{tally.files:7}{tally.carried:9}{tally.refused.total():9}{len(tally.crashed):9}"
              f"{len(tally.different):8}  {tally.slowest[0]:.2f} s {tally.slowest[1]}")
        for line in (*tally.crashed, *tally.different):
            print("    ", line)
        reasons += tally.refused
        bad += len(tally.crashed) + len(tally.different)
    for reason, count in reasons.most_common():
        print(f"{count:6}  {reason}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
