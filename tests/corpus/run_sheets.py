"""Real folk tunes all the way to paper: import, chords, groove, every step of a sheet engraved, a PDF each.

    python -m tests.corpus.run_sheets 500

Prints how many sheets were printed, on how many pages, how many tunes were explained instead, and what crashed. The
corpus is data of the registry package music21 (ABC, and its small MusicXML files); nothing of it is kept here.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import music21

from bookbuild.arrange.groove_fit import rank_grooves
from bookbuild.arrange.harmonise import suggest_chords
from bookbuild.build import build_sheet, choose_edition, load_course
from bookbuild.diagnostics import BookbuildError
from bookbuild.importers.read import read_tunes
from bookbuild.importers.write import has_chords
from bookbuild.lessons.model import Tune
from bookbuild.workshop import open_workshop
from tests.corpus.run_arrange import CONTENT, corpus_tunes

SMALL = 150_000
"""Bytes of a small MusicXML file."""


def musicxml_tunes() -> list[Tune]:
    """Tunes of music21's small MusicXML files that import."""
    tunes = []
    root = Path(music21.__file__).parent / "corpus"
    for file in sorted(p for p in root.rglob("*") if p.suffix in (".xml", ".musicxml", ".mxl")):
        if file.stat().st_size > SMALL:
            continue
        try:
            tunes += [item.tune for item in read_tunes(file) if item.tune]
        except BookbuildError:
            continue
    return tunes


def print_sheets(tunes: list[Tune]) -> list[tuple[str, str]]:
    """(outcome, tune and reason) of each tune."""
    course, _ = load_course(CONTENT)
    edition = choose_edition(course, "")
    made = []
    with tempfile.TemporaryDirectory(prefix="bookbuild-sheets-") as folder:
        shop = open_workshop(Path(folder) / "cache", 1)
        for tune in tunes:
            tune = tune if has_chords(tune) else suggest_chords(tune, course.instruments[course.default_instrument])
            best = rank_grooves(tune, course.grooves.values())[0]
            if not best.fits:
                made.append(("explained: no groove fits", f"{tune.name}: {best.reasons[0]}"))
                continue
            try:
                done = build_sheet(course, CONTENT, edition, tune, best.groove, Path(folder) / "sheet.pdf", shop)
                made.append((f"printed on {done.pages} page{'s' * (done.pages > 1)}", tune.name))
            except BookbuildError as error:
                made.append(("explained", f"{tune.name}: {error.message}"))
            except Exception as error:  # the table must name what crashes, whatever it is
                made.append(("crashed", f"{tune.name}: {error!r}"))
    return made


def main(count: int) -> int:
    """Print the table; exit code 1 when anything crashed."""
    tunes = corpus_tunes(count) + musicxml_tunes()
    outcomes: Counter[str] = Counter()
    told: dict[str, list[str]] = {}
    with ProcessPoolExecutor(2) as pool:
        for made in pool.map(print_sheets, [tunes[i::20] for i in range(20)]):
            for outcome, what in made:
                outcomes[outcome] += 1
                told.setdefault(outcome, []).append(what)
    print(f"{len(tunes)} tunes")
    for outcome, number in outcomes.most_common():
        print(f"{number:6}  {outcome}" + ("" if outcome.startswith("printed") else f": {'; '.join(told[outcome][:8])}"))
    return 1 if outcomes["crashed"] else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 500))
