"""Changed course files through the whole program short of the engraver, counted.

    python tests/robust/fuzz_yaml.py --count 10000 [--seed 1] [--processes 2] [--engrave]

An input fails when anything but a finding comes out, when it takes more than five seconds, or when a finding lacks its
place or its remedy. What can still be read is arranged, graded, and written out for the engraver; one in `PAGES_EVERY`
is also laid out on pages. With `--engrave` the music of all that could be arranged is engraved as well.
"""

from __future__ import annotations

import argparse
import pickle
import random
import re
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from course_scenes import FOLDERS, make_scene, write_scene
from yaml_mutations import mutate

from bookbuild.arrange.course import arrange_course, edition_setting
from bookbuild.arrange.model import Arrangement
from bookbuild.arrange.samples import sample_exercises
from bookbuild.assemble.book import assemble_book, paper_options
from bookbuild.diagnostics import ContentError, Diagnostic, MachineError, Severity
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.engrave.engine import EngraverFailure, find_engraver
from bookbuild.engrave.run_batch import Task, blame, draw_batch
from bookbuild.engrave.score import bookpart_text
from bookbuild.engrave.style import Style
from bookbuild.grading.course import grade_course
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import Course
from bookbuild.pages.book import make_book
from bookbuild.printing import engraving_style
from bookbuild.workshop import fonts_folder

SECONDS = 5.0
"""More work than this is a hang; time of the processor, so that a busy machine does not matter."""
PAGES_EVERY = 8
KEEP_MUSIC = False
"""Whether verdicts carry the music, to be engraved afterwards."""
WHOLE_FILE = re.compile(
    "holds more than|saved as UTF-16|not YAML text|file is empty|findings in this file|printed in English|"
    "cannot be read|not part of the course|no exercise of this course teaches"
)
"""Messages about a file as a whole, which have no line."""


class Hang(BaseException):
    """Raised by the clock; not an Exception, so that no handler in the program swallows it."""


@dataclass(frozen=True)
class Verdict:
    """What became of one input: `outcome` is `refused`, `arranged` or `failed`, `fault` says why it failed."""

    number: int
    kind: str
    changes: tuple[str, ...]
    outcome: str
    seconds: float
    findings: int = 0
    fault: str = ""
    music: tuple[bytes, ...] = ()
    """The arrangements, pickled: as objects, ten thousand inputs' would burden the garbage collector."""


@contextmanager
def time_limit(seconds: float) -> Iterator[None]:
    """Raise Hang after `seconds` of work."""

    def ring(*_: object) -> None:
        raise Hang

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def find_fault(findings: Sequence[Diagnostic], lengths: dict[str, int]) -> str:
    """What a finding lacks: its file, its line inside the file (`lengths` in lines), words, a remedy; '' is none."""
    for finding in findings:
        told = str(finding)
        if not finding.message.strip() or not finding.hint.strip():
            return f"no words or no remedy: {told}"
        if finding.file not in lengths:
            return f"names no file of the course: {told}"
        if finding.line and not (1 <= finding.line <= lengths[finding.file] and finding.column >= 1):
            return f"a place outside the file: {told}"
        if not finding.line and not WHOLE_FILE.search(finding.message):
            return f"no line: {told}"
        if any(not character.isprintable() and character != "\n" for character in told):
            return f"does not print: {told!r}"
        if len(told) > 1500:
            return f"too long to read: {told[:300]}"
    return ""


def follow(course: Course, folder: Path, on_pages: bool) -> tuple[list[Diagnostic], tuple[Arrangement, ...]]:
    """Everything a build does after reading, without the engraver."""
    edition = course.editions[course.default_edition]
    lessons, findings = arrange_course(course, edition)
    if findings:
        return findings, ()
    grades, findings = grade_course(course, edition, lessons)
    samples = sample_exercises(lessons, edition_setting(course, edition))
    exercises = [*(exercise for lesson in lessons for exercise in lesson.exercises), *samples]
    style = engraving_style(course, edition)
    for exercise in exercises:
        bookpart_text("x", exercise.arrangement, style)
    if on_pages:
        empty = {exercise.number: (folder, DrawnExercise("", ())) for exercise in exercises}
        book = assemble_book(course, folder, edition, lessons, grades, samples, empty)
        with tempfile.TemporaryDirectory() as place:
            out = Path(place) / "book.pdf"
            make_book(book, paper_options(edition), out, created=datetime(1980, 1, 1, tzinfo=UTC), fonts=fonts_folder())
    return findings, tuple(exercise.arrangement for exercise in exercises)


def make_input(seed: int, number: int) -> tuple[str, dict[str, bytes], str, tuple[str, ...]]:
    """Kind, files, changed file and changes of one numbered input."""
    chance = random.Random(f"{seed}/{number}")
    kind = list(FOLDERS)[number % len(FOLDERS)]
    files, victim = make_scene(kind, chance)
    files[victim], changes = mutate(files[victim].decode(), chance)
    return kind, files, victim, tuple(changes)


def try_input(seed: int, number: int, folder: Path) -> Verdict:
    """Run one input in `folder`."""
    kind, files, _, changes = make_input(seed, number)
    write_scene(folder, files)
    lengths = {file: len(re.split(rb"\r\n|\r|\n", content)) for file, content in files.items()}
    started = time.process_time()
    outcome, fault, findings, arranged = "refused", "", [], ()
    try:
        with time_limit(SECONDS):
            course, findings = inspect_course(folder)
            if course is None and not any(finding.severity is Severity.ERROR for finding in findings):
                fault = "refused without a reason"
            if course is not None and course.weeks:
                outcome = "arranged"
                more, arranged = follow(course, folder, number // len(FOLDERS) % PAGES_EVERY == 0)
                findings = [*findings, *more]
        fault = fault or find_fault(findings, lengths)
    except ContentError as refused:
        outcome, fault = "refused", find_fault([*findings, *refused.diagnostics], lengths)
    except Hang:
        fault = "hang\n" + "".join(traceback.format_exc(limit=-6))
    except MachineError as error:
        fault = f"the machine was blamed: {error.message}"
    except Exception:
        fault = traceback.format_exc(limit=-6)
    seconds = time.process_time() - started
    music = tuple(pickle.dumps(made) for made in arranged) if KEEP_MUSIC else ()
    return Verdict(number, kind, changes, "failed" if fault else outcome, seconds, len(findings), fault, music)


def _run_share(seed: int, numbers: Sequence[int]) -> list[Verdict]:
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        return [try_input(seed, number, Path(folder)) for number in numbers]


RunShare = Callable[[int, Sequence[int]], list[Verdict]]
"""What runs the inputs of some numbers, for a seed."""


def run_many(seed: int, count: int, processes: int = 1, first: int = 0, run_share: RunShare = _run_share,
             ) -> Iterator[Verdict]:
    """Verdicts of `count` inputs from number `first` on."""
    shares = [range(start, min(start + 200, first + count)) for start in range(first, first + count, 200)]
    if processes == 1:
        for share in shares:
            yield from run_share(seed, share)
        return
    with ProcessPoolExecutor(processes) as pool:
        for verdicts in pool.map(run_share, [seed] * len(shares), shares):
            yield from verdicts


def engrave_all(music: Sequence[bytes], size: int = 40) -> list[str]:
    """Engrave pickled arrangements in batches; what could not be engraved, told."""
    engraver, fonts, style, faults = find_engraver(), fonts_folder(), Style(), []
    for start in range(0, len(music), size):
        batch = tuple(Task(str(number), pickle.loads(music[number])) for number in range(start, len(music))[:size])
        tasks = {task.name: task for task in batch}
        while batch:
            try:
                draw_batch(batch, style, engraver, fonts)
                break
            except EngraverFailure as failure:
                told = blame(batch, style, engraver, fonts, failure).message
                name = told.split()[1]
                faults.append(f"{told}\n{tasks[name].arrangement.kind if name in tasks else batch}")
                if name not in tasks:
                    return faults
                batch = tuple(task for task in batch if task.name != name)
    return faults


def tell(verdicts: Sequence[Verdict], seconds: float) -> str:
    """The figures of a run."""
    outcomes = Counter(verdict.outcome for verdict in verdicts)
    kinds = Counter(f"{verdict.kind} {verdict.outcome}" for verdict in verdicts)
    slowest = max(verdicts, key=lambda verdict: verdict.seconds)
    found = sum(verdict.findings for verdict in verdicts)
    return (
        f"{len(verdicts)} inputs: {dict(outcomes)}; {found} findings; {seconds:.0f} s in all, "
        f"slowest {slowest.seconds:.2f} s of work (input {slowest.number})\n"
        + "  ".join(f"{name}: {count}" for name, count in sorted(kinds.items()))
    )


def make_parser() -> argparse.ArgumentParser:
    """How many inputs, from which number on, and on how many processes."""
    parser = argparse.ArgumentParser()
    for name, number in (("count", 10_000), ("first", 0), ("seed", 1), ("processes", 2)):
        parser.add_argument(f"--{name}", type=int, default=number)
    return parser


def run_and_tell(words: argparse.Namespace, run_share: RunShare) -> list[Verdict]:
    """Run the inputs asked for; faults are told as they come, the figures in the end."""
    started, verdicts = time.monotonic(), []
    for verdict in run_many(words.seed, words.count, words.processes, words.first, run_share):
        verdicts.append(verdict)
        if verdict.fault:
            told = f": {', '.join(verdict.changes)}" if verdict.changes else ""
            print(f"--- input {verdict.number} ({verdict.kind}{told})\n{verdict.fault}", flush=True)
    print(tell(verdicts, time.monotonic() - started), flush=True)
    return verdicts


def main() -> int:
    """Run, tell, and end with 1 when anything failed."""
    parser = make_parser()
    parser.add_argument("--engrave", action="store_true")
    words = parser.parse_args()
    global KEEP_MUSIC
    KEEP_MUSIC = words.engrave
    verdicts = run_and_tell(words, _run_share)
    faults = [verdict.fault for verdict in verdicts if verdict.fault]
    if words.engrave:
        music = list(dict.fromkeys(made for verdict in verdicts for made in verdict.music))
        failed = engrave_all(music)
        faults += failed
        print("\n".join([*failed, f"{len(music)} different exercises engraved, {len(failed)} failed"]))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
