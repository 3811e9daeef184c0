"""Real folk tunes (music21's ABC corpus) through import, chords, groove and every exercise kind, held to the rules.

    python -m tests.corpus.run_arrange 500

Prints a table: arrangements that keep every rule, that break one and say so in print, that break one unexplained,
and anything that was raised. The corpus is data of the registry package music21; nothing of it is kept here.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import music21

from bookbuild.arrange.check import check_arrangement
from bookbuild.arrange.course import edition_setting
from bookbuild.arrange.exercises import arrange_exercise
from bookbuild.arrange.groove_fit import rank_grooves
from bookbuild.arrange.harmonise import suggest_chords
from bookbuild.diagnostics import BookbuildError
from bookbuild.importers.read import read_tunes
from bookbuild.importers.write import has_chords
from bookbuild.lessons.files import read_course
from bookbuild.lessons.model import KINDS, ExerciseSpec, Tune

CONTENT = Path(__file__).parent.parent.parent / "content"
WITHOUT_GROOVE = ("count", "melody", "shapes")


@dataclass
class Tally:
    """What became of the arrangements."""

    outcomes: Counter = field(default_factory=Counter)
    rules: Counter = field(default_factory=Counter)
    examples: dict = field(default_factory=dict)

    def add(self, outcome: str, what: str, why: str) -> None:
        self.outcomes[outcome] += 1
        if outcome not in ("keeps every rule",):
            self.examples.setdefault(f"{outcome}: {why}", what)

    def merge(self, other: Tally) -> None:
        self.outcomes += other.outcomes
        self.rules += other.rules
        self.examples = {**other.examples, **self.examples}


def corpus_tunes(count: int) -> list[Tune]:
    """The first `count` tunes that import from the shuffled corpus files (always in the same order)."""
    files = sorted((Path(music21.__file__).parent / "corpus").rglob("*.abc"))
    random.Random(1).shuffle(files)
    tunes: list[Tune] = []
    for file in files:
        try:
            tunes += [item.tune for item in read_tunes(file) if item.tune]
        except BookbuildError:
            continue
        if len(tunes) >= count:
            break
    return tunes[:count]


def specs(tune: Tune, groove: str) -> Iterator[ExerciseSpec]:
    """Every kind the tune can be arranged in."""
    for kind in KINDS:
        if not groove and kind not in WITHOUT_GROOVE:
            continue
        whole = kind == "arrangement"
        yield ExerciseSpec(kind, tune.name, groove, shake=tune.form[:1] if whole else (),
                           introduction=2 if whole else 0)


def arrange_all(tunes: list[Tune]) -> Tally:
    """Arrange and check every kind of every tune."""
    course = read_course(CONTENT)
    setting = edition_setting(course, course.editions[course.default_edition])
    tally = Tally()
    for tune in tunes:
        tune = tune if has_chords(tune) else suggest_chords(tune, setting.instrument)
        best = rank_grooves(tune, course.grooves.values())[0]
        groove = best.groove if best.fits else None
        if groove is None:
            tally.add("no groove fits", tune.name, f"{tune.meter}")
        for spec in specs(tune, groove.name if groove else ""):
            what = f"{tune.name}, {spec.kind}"
            try:
                made = arrange_exercise(spec, tune, groove, setting)
            except ValueError as reason:
                tally.add("refused with a reason", what, str(reason))
                continue
            except Exception as error:  # the table must name what crashes, whatever it is
                tally.add("crashed", what, repr(error))
                continue
            findings = check_arrangement(made, setting.instrument, groove, span=setting.span)
            tally.rules.update(finding.rule for finding in findings)
            unexplained = [finding for finding in findings if not finding.explained]
            outcome = ("keeps every rule" if not findings else "breaks a rule, said in print" if not unexplained
                       else "breaks a rule, not said")
            tally.add(outcome, what, (unexplained or findings)[0].message if findings else "")
    return tally


def main(count: int) -> int:
    """Print the table; exit code 1 when anything crashed or broke a rule unsaid."""
    tunes = corpus_tunes(count)
    parts = [tunes[i::8] for i in range(8)]
    total = Tally()
    with ProcessPoolExecutor(2) as pool:
        for tally in pool.map(arrange_all, parts):
            total.merge(tally)
    print(f"{len(tunes)} tunes")
    for outcome, number in total.outcomes.most_common():
        print(f"{number:7}  {outcome}")
    print("rules broken:", dict(total.rules.most_common()) or "none")
    for why, example in sorted(total.examples.items()):
        print(f"  {why}  (such as {example})")
    return 1 if total.outcomes["crashed"] or total.outcomes["breaks a rule, not said"] else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 500))
