"""Real tunes all the way to paper: import, chords, groove, every step of a sheet engraved, a PDF each.

    python -m tests.corpus.run_sheets                              500 ABC tunes and every small MusicXML file
    python -m tests.corpus.run_sheets --keep DIR --slice 3/10      the third tenth; sheets and rows stay in DIR
    python -m tests.corpus.run_sheets --keep DIR --slice 0         the tables of what DIR holds, nothing made
    python -m tests.corpus.run_sheets --edition letter --tunes 60

Prints how many sheets were printed, on how many pages, how many tunes were explained instead and why, and what crashed;
then the tunes that a teacher should look at first. The corpus is data of the registry package music21 (its ABC
collections, its scores, its copy of the MusicXML test files); nothing of it is kept here.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import music21

from bookbuild.arrange.groove_fit import explain_refusal, rank_grooves
from bookbuild.arrange.harmonise import suggest_chords
from bookbuild.build import build_sheet, choose_edition, load_course
from bookbuild.diagnostics import BookbuildError
from bookbuild.importers.read import read_tunes
from bookbuild.importers.write import has_chords
from bookbuild.importers.written import ImportedTune
from bookbuild.lessons.model import Course, Edition, Place, Tune
from bookbuild.workshop import Workshop, open_workshop
from tests.corpus.run_arrange import CONTENT

PACKAGE = Path(music21.__file__).parent
STRIDE = 16
"""Every sixteenth tune is printed first, then those beside them."""
SMALL = 150_000
"""Bytes of a small MusicXML file."""
PRINTED, EXPLAINED, CRASHED = "printed", "explained", "crashed"


@dataclass(frozen=True)
class Row:
    """What became of one tune: `why` it was explained or how it crashed; `leap` in semitones, `fit` of its groove."""

    number: int
    source: str
    title: str
    outcome: str
    why: str = ""
    pages: int = 0
    leap: int = 0
    fit: float = 0.0
    groove: str = ""
    remarks: int = 0
    chords: str = ""


def abc_items(count: int) -> list[ImportedTune]:
    """The first `count` tunes of the shuffled ABC files, carried over or refused (always in the same order)."""
    files = sorted((PACKAGE / "corpus").rglob("*.abc"))
    random.Random(1).shuffle(files)
    items: list[ImportedTune] = []
    for file in files:
        items += import_file(file)
        if len(items) >= count:
            break
    return items[:count]


def score_items() -> list[ImportedTune]:
    """Every tune of the small MusicXML files, carried over or refused."""
    files = sorted(p for p in PACKAGE.rglob("*") if p.suffix in (".xml", ".musicxml", ".mxl"))
    return [item for file in files if file.stat().st_size <= SMALL for item in import_file(file)]


def import_file(file: Path) -> list[ImportedTune]:
    """The file's tunes; a file that cannot be read as a whole is one refused tune, a crash is told as such."""
    try:
        return read_tunes(file)
    except BookbuildError as error:
        return [ImportedTune("", Place(file.name), None, (), error.message.split(": ", 1)[-1])]
    except Exception as error:  # the table must name what crashes, whatever it is
        return [ImportedTune("", Place(file.name), None, (), f"{CRASHED} {error!r}")]


@dataclass(frozen=True)
class Press:
    """Everything a sheet is printed with; `keep` is the folder of the PDFs."""

    course: Course
    edition: Edition
    shop: Workshop
    keep: Path

    def make(self, number: int, item: ImportedTune) -> Row:
        """Print one tune's sheet."""
        source = f"{item.place.file}:{item.place.line}"
        if item.tune is None:
            return Row(number, source, item.title, CRASHED if item.reason.startswith(CRASHED) else EXPLAINED,
                       item.reason)
        instrument = self.course.instruments[self.edition.instrument or self.course.default_instrument]
        tune = item.tune if has_chords(item.tune) else suggest_chords(item.tune, instrument)
        ranked = rank_grooves(tune, self.course.grooves.values())
        best = ranked[0]
        if not best.fits:
            return Row(number, source, item.title, EXPLAINED, f"no groove fits: {explain_refusal(tune, ranked)}")
        seen: dict[str, Any] = {"leap": widest_leap(tune), "fit": round(best.score, 3), "groove": best.groove.name,
                "remarks": len(item.notes), "chords": chord_line(tune)}
        try:
            done = build_sheet(self.course, CONTENT, self.edition, tune, best.groove,
                               self.keep / f"{number:04}.pdf", self.shop)
        except BookbuildError as error:
            return Row(number, source, item.title, EXPLAINED, error.message, **seen)
        except Exception as error:  # as above
            return Row(number, source, item.title, CRASHED, repr(error), **seen)
        return Row(number, source, item.title, PRINTED, "", done.pages, **seen)


def widest_leap(tune: Tune) -> int:
    """Semitones of the widest step between two notes of a stretch."""
    rows = ([note.pitch.midi for note in stretch.notes if note.pitch]
            for section in tune.sections for stretch in (section.body, *section.endings))
    return max((abs(b - a) for row in rows for a, b in pairwise(row)), default=0)


def chord_line(tune: Tune) -> str:
    """The chords of the first section."""
    body = tune.section(tune.form[0]).body
    return f"{tune.key.name}: " + " ".join(span.chord.symbol if span.chord else "N.C." for span in body.chords)


def make_rows(items: Sequence[tuple[int, ImportedTune]], edition_name: str, keep: Path) -> Iterator[Row]:
    """A row for each tune, kept in `keep/rows.jsonl` as it is made; tunes that have one are not made again."""
    course, _ = load_course(CONTENT)
    known = {row.number for row in read_rows(keep)}
    with tempfile.TemporaryDirectory(prefix="bookbuild-sheets-") as cache:
        press = Press(course, choose_edition(course, edition_name), open_workshop(Path(cache), 1), keep)
        for number, item in items:
            if number in known:
                continue
            row = press.make(number, item)
            with (keep / "rows.jsonl").open("a", encoding="utf-8") as stream:
                stream.write(json.dumps(asdict(row), ensure_ascii=False) + "\n")
            yield row


def read_rows(keep: Path) -> list[Row]:
    """The rows kept so far."""
    path = keep / "rows.jsonl"
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    return [Row(**json.loads(line)) for line in lines]


def plain(reason: str) -> str:
    """A reason without its numbers and names, to count equal ones together."""
    if found := re.match(r"no groove fits: the tune is in [\d/]+", reason):
        return found[0]
    return re.sub(r"'[^']*'|\b[A-G][#b]*\d\b", "…", re.sub(r"\d+(/\d+)?", "#", reason))[:100]


def print_tables(rows: Sequence[Row]) -> None:
    """Outcomes, pages, reasons, crashes; then the rows that stand at the edge of something."""
    outcomes = Counter(row.outcome for row in rows)
    print(f"{len(rows)} tunes: " + ", ".join(f"{outcomes[name]} {name}" for name in (PRINTED, EXPLAINED, CRASHED)))
    printed = [row for row in rows if row.outcome == PRINTED]
    for pages, count in sorted(Counter(row.pages for row in printed).items()):
        print(f"{count:6}  on {pages} page{'s' * (pages > 1)}")
    for reason, count in Counter(plain(row.why) for row in rows if row.outcome == EXPLAINED).most_common():
        print(f"{count:6}  explained: {reason}")
    for row in rows:
        if row.outcome == CRASHED:
            print(f"        crashed: {row.source} {row.title}: {row.why}")
    edges = (("most pages", lambda row: -row.pages), ("lowest groove fit", lambda row: row.fit),
             ("widest leaps", lambda row: -row.leap), ("most remarks at import", lambda row: -row.remarks))
    for what, order in edges:
        print(what)
        for row in sorted(printed, key=order)[:8]:
            print(f"    {row.number:04} {row.source:30} {row.title[:34]:36} pages {row.pages}  fit {row.fit:.2f} "
                  f"{row.groove}  leap {row.leap}  remarks {row.remarks}")


def main(words: Sequence[str]) -> int:
    """Print the tables; exit code 1 when anything crashed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", nargs="?", type=int, default=500, help="ABC tunes")
    parser.add_argument("--tunes", type=int, default=0, help="of all tunes only so many, of every collection some")
    parser.add_argument("--slice", default="1/1", help="3/10 is the third tenth, 0 makes nothing")
    parser.add_argument("--edition", default="")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args(words)
    with tempfile.TemporaryDirectory(prefix="bookbuild-sheets-") as scratch:
        keep = asked.keep or Path(scratch)
        keep.mkdir(parents=True, exist_ok=True)
        part, _, parts = asked.slice.partition("/")
        if int(part):
            items = list(enumerate([*abc_items(asked.count), *score_items()]))
            # A run that is stopped early has met every collection all the same.
            items = [pair for start in range(STRIDE) for pair in items[start::STRIDE]]
            items = items[: asked.tunes or None]
            for row in make_rows(items[int(part) - 1 :: int(parts or 1)], asked.edition, keep):
                print(f"{row.number:04} {row.outcome} {row.pages or row.why} {row.title}", file=sys.stderr)
        rows = read_rows(keep)
    print_tables(rows)
    return 1 if any(row.outcome == CRASHED for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
