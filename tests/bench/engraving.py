"""How fast a build is, as ratios measured in one run on this machine; writes the table in DEVELOPERS.md.

    python -m tests.bench.engraving [--runs 5] [--write]

(a) the bare engraver as it comes on the same input, in halves of equal weight, one on each core; (b) one such process
an exercise, the way a script would do it; (c) the engraver's own document tool. Medians; the machine should have
nothing else to do.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

from bookbuild.arrange.course import arrange_course, edition_setting
from bookbuild.arrange.exercises import arrange_exercise
from bookbuild.arrange.samples import sample_exercises
from bookbuild.assemble.book import assemble_book, paper_options
from bookbuild.build import build, choose_edition, load_course
from bookbuild.engrave.batch import start_drawing
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.engine import run_engraver
from bookbuild.engrave.plan_batches import halve
from bookbuild.engrave.run_batch import Task
from bookbuild.engrave.score import bookpart_text
from bookbuild.engrave.source import batch_text, prelude_text, settings_text
from bookbuild.engrave.style import Style
from bookbuild.grading.course import grade_course
from bookbuild.lessons.model import KINDS, ExerciseSpec
from bookbuild.pages.book import make_book
from bookbuild.printing import Work, begin_drawing, draw, engraving_style, no_progress
from bookbuild.workshop import Workshop, open_workshop

ROOT = Path(__file__).parent.parent.parent
CORES = 2
SAMPLE = 12
"""Exercises engraved one by one, and by the document tool, to scale up from."""


def _time(work: Callable[[int], object], run: int) -> float:
    """Seconds of one run of a piece of work."""
    start = time.perf_counter()
    work(run)
    return time.perf_counter() - start


@dataclass(frozen=True)
class Bench:
    """What is measured on: the demo course's exercises, and an empty folder."""

    tasks: list[Task]
    style: Style
    folder: Path
    runs: int

    def shop(self, name: str) -> Workshop:
        """A workshop with a cache of its own."""
        return open_workshop(self.folder / name, CORES)

    def timed(self, work: Callable[[int], object], runs: int = 0) -> float:
        """Median seconds of a piece of work; it gets the number of the run."""
        return median(_time(work, run) for run in range(runs or self.runs))

    def timed_in_turn(self, *works: Callable[[int], object]) -> list[float]:
        """Median seconds of pieces of work that take turns: a machine is not as fast at all times."""
        rounds = [[_time(work, run) for work in works] for run in range(self.runs)]
        return [median(seconds) for seconds in zip(*rounds, strict=True)]


def prepare(bench: Bench, tasks: list[Task]) -> list[str]:
    """Engraver input for the tasks, ready-made: a text a core, of about equal weight."""
    fonts = bench.shop("bare").fonts
    parts = [bookpart_text(f"x{i}", task.arrangement, bench.style) for i, task in enumerate(tasks)]
    return [batch_text([parts[i] for i in run], bench.style, fonts) for run in halve([len(part) for part in parts])]


def engrave_bare(bench: Bench, texts: list[str], *, tuned: bool = False) -> None:
    """The engraver alone on ready-made texts, one process a core: as it comes, or `tuned` as the program runs it."""
    engraver = bench.shop("bare").engraver

    def run(number: int, text: str, folder: Path) -> None:
        work = folder / f"run{number}"
        if tuned:
            run_engraver(engraver, text, work, seconds=900)
            return
        work.mkdir()
        (work / "input.ly").write_text(text, encoding="utf-8")
        flags = ["--loglevel=WARNING", "-dbackend=cairo", "--pdf", "-dno-point-and-click", "--output=book", "input.ly"]
        subprocess.run([str(engraver.path), *flags], cwd=work, check=True)

    with tempfile.TemporaryDirectory(dir=bench.folder) as folder, ThreadPoolExecutor(CORES) as pool:
        list(pool.map(lambda item: run(*item, Path(folder)), enumerate(texts)))


def document_tool(bench: Bench) -> float | None:
    """Seconds an exercise of the engraver's own document tool; None where it does not run."""
    shop = bench.shop("bare")
    tool = shop.engraver.path.parent / "lilypond-book"
    work = bench.folder / "document"
    work.mkdir()
    scores = [bookpart_text(f"x{i}", task.arrangement, bench.style).replace(f'\\paper {{ bb-name = "x{i}" }}', "")
              for i, task in enumerate(bench.tasks[:SAMPLE])]
    bodies = [re.sub(r"^\\bookpart \{(.*)\}$", r"\1", text, flags=re.DOTALL) for text in scores]
    head = settings_text(bench.style, shop.fonts) + "\n" + prelude_text()
    (work / "book.lytex").write_text("\\documentclass{article}\n\\begin{document}\n" + "\n".join(
        f"\\begin{{lilypond}}\n{head}\n{body}\n\\end{{lilypond}}" for body in bodies) + "\n\\end{document}\n")
    start = time.perf_counter()
    done = subprocess.run([str(tool), "--pdf", "--output=out", "--loglevel=ERROR",
                           f"--process={shop.engraver.path} -dbackend=eps", "book.lytex"],
                          cwd=work, capture_output=True, check=False)
    seconds = (time.perf_counter() - start) / SAMPLE
    return seconds if done.returncode == 0 else None


def edit_course(folder: Path, run: int) -> None:
    """Change one exercise: its tempo's goal, another each run, so that one arrangement is new."""
    week = next((folder / "weeks").glob("03*.yaml"))
    text = week.read_text(encoding="utf-8")
    week.write_text(re.sub(r"(kind: shapes\n(?:    .*\n)*?    goal:) \d+", rf"\1 {60 + run}", text), encoding="utf-8")


def copies(tasks: list[Task], count: int) -> list[Task]:
    """`count` different tasks made of the demo's, told apart by their tempo."""
    made = []
    for i in range(count):
        task = tasks[i % len(tasks)]
        tempo = replace(task.arrangement.tempo, start=40 + i // len(tasks))
        made.append(Task(f"c{i}", replace(task.arrangement, tempo=tempo)))
    return made


class Rows(list[tuple[str, str]]):
    """Rows of the table, what and the figure; each is shown when it is measured."""

    def append(self, row: tuple[str, str]) -> None:
        print(f"{row[0]}: {row[1]}", flush=True)
        super().append(row)


def measure(bench: Bench) -> Rows:
    """Rows of the table."""
    rows = Rows()
    everything = bench.tasks
    texts = prepare(bench, everything)
    bare, tuned, cold = bench.timed_in_turn(
        lambda run: engrave_bare(bench, texts),
        lambda run: engrave_bare(bench, texts, tuned=True),
        lambda run: build(ROOT / "content", bench.folder / "cold.pdf", bench.shop(f"cold{run}")),
    )
    rows.append(("cold build of the demo course, imports aside / (a) the bare engraver on both cores",
                 f"{cold / bare:.2f} ({cold:.1f} s / {bare:.1f} s)"))
    rows.append(("the same / the engraver run the way the program runs it", f"{cold / tuned:.2f} ({tuned:.1f} s)"))
    singles = []
    for task in everything[::max(1, len(everything) // SAMPLE)][:SAMPLE]:
        single_text = prepare(bench, [task])
        singles.append(bench.timed(lambda run, text=single_text: engrave_bare(bench, text), 1))
    alone = sum(singles) / len(singles) * len(everything)
    rows.append(("(b) one process an exercise / cold build", f"{alone / cold:.1f}"))
    tool = document_tool(bench)
    rows.append(("(c) the engraver's document tool / cold build",
                 f"{tool * len(everything) / cold:.1f}" if tool else "did not run here"))
    course = bench.folder / "content"
    shutil.copytree(ROOT / "content", course)
    shop = bench.shop("warm")
    build(course, bench.folder / "warm.pdf", shop)
    warm = bench.timed(lambda run: build(course, bench.folder / "warm.pdf", shop))
    rows.append(("unchanged rebuild / cold build", f"{warm / cold:.3f} ({warm:.2f} s)"))
    edited = []
    for run in range(bench.runs):
        edit_course(course, run)
        start = time.perf_counter()
        build(course, bench.folder / "warm.pdf", shop)
        edited.append(time.perf_counter() - start)
    pages_only = _pages_seconds(bench, course)
    shapes = next(task for task in everything if task.arrangement.kind == "shapes")
    shapes_text = prepare(bench, [shapes])
    single = bench.timed(lambda run: engrave_bare(bench, shapes_text))
    rows.append(("one exercise edited / (bare engraver on it + page writing)",
                 f"{median(edited) / (single + pages_only):.2f} ({median(edited):.2f} s)"))
    each = {}
    for count in (10, 100, 1000):
        tasks = copies(everything, count)
        each[count] = bench.timed(lambda run, count=count, tasks=tasks: _draw(bench, tasks, f"n{count}-{run}"),
                                  min(3, bench.runs)) / count
    rows.append(("seconds an exercise at 10, 100, 1000", ", ".join(f"{each[n]:.3f}" for n in each)))
    rows.append(("cost of an exercise at 1000 / at 100", f"{each[1000] / each[100]:.2f}"))
    rows.append(("arranging a 32-bar tune in every kind / engraving it", f"{arranging_ratio(bench):.3f}"))
    rows.append(("memory of all processes together, cold build", peak_memory(bench)))
    size = (bench.folder / "cold.pdf").stat().st_size
    rows.append(("PDF an exercise", f"{size / len(everything) / 1024:.1f} KB"))
    return rows


def _pages_seconds(bench: Bench, folder: Path) -> float:
    """Page writing alone: composing, drawing and writing the book of exercises already drawn."""
    course, _ = load_course(folder)
    edition = choose_edition(course, "")
    lessons, _ = arrange_course(course, edition)
    grades, _ = grade_course(course, edition, lessons)
    samples = sample_exercises(lessons, edition_setting(course, edition))
    shop = bench.shop("warm")
    exercises = [*(exercise for lesson in lessons for exercise in lesson.exercises), *samples]
    with begin_drawing(bench.style, shop, len(exercises)) as drawing:
        work = Work(course, folder, edition, lessons, lambda: (grades, []), 0, False, shop, no_progress, drawing)
        drawings, _ = draw(exercises, bench.style, work)

    def write(run: int) -> None:
        book = assemble_book(course, folder, edition, lessons, grades, samples, drawings)
        make_book(book, paper_options(edition), bench.folder / "pages.pdf", created=shop.created, fonts=shop.fonts)

    return bench.timed(write)


def peak_memory(bench: Bench) -> str:
    """Most memory that a cold build and all its processes hold at once, shared pages counted once (Linux)."""
    if not Path("/proc/self/smaps_rollup").exists():
        return "not measured here"
    child = subprocess.Popen([sys.executable, "-m", "bookbuild", "book", "--out", str(bench.folder / "memory.pdf")],
                             cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                             env={**os.environ, "BOOKBUILD_CACHE": str(bench.folder / "memory")})
    peak = 0
    while child.poll() is None:
        peak = max(peak, sum(map(_held_by, _family(child.pid))))
        time.sleep(0.02)
    return f"{peak / 1024:.0f} MB"


def _family(pid: int) -> list[int]:
    """A process and all it started."""
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [pid, *(found for child in children for found in _family(int(child)))]


def _held_by(pid: int) -> int:
    """Proportional set size of a process, in KB."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    except (OSError, StopIteration):
        return 0


def _draw(bench: Bench, tasks: list[Task], name: str) -> None:
    shop = bench.shop(name)
    cache = Cache(shop.cache.folder)
    with start_drawing(bench.style, shop.engraver, shop.fonts, cache, workers=CORES) as drawing:
        drawing.finish(tasks)


def arranging_ratio(bench: Bench) -> float:
    """Arranging a 32-bar tune in every kind it fits / engraving that in one process."""
    course, _ = load_course(ROOT / "content")
    edition = choose_edition(course, "")
    setting, tune = edition_setting(course, edition), course.tunes["wide-water"]
    groove = course.grooves["waltz"]
    specs = [ExerciseSpec(kind, tune.name, groove.name, sections=tune.form, introduction=4 * (kind == "arrangement"))
             for kind in KINDS]
    made = [Task(spec.kind, arrange_exercise(spec, tune, groove, setting)) for spec in specs]
    arranging = bench.timed(lambda run: [arrange_exercise(spec, tune, groove, setting) for spec in specs])
    shop = bench.shop("bare")
    text = batch_text([bookpart_text(f"x{i}", task.arrangement, bench.style) for i, task in enumerate(made)],
                      bench.style, shop.fonts)
    return arranging / bench.timed(lambda run: engrave_bare(bench, [text]))


def write_table(rows: list[tuple[str, str]]) -> None:
    """Put the table between its marks in DEVELOPERS.md."""
    path = ROOT / "DEVELOPERS.md"
    text = path.read_text(encoding="utf-8")
    lines = ["| What | Ratio or figure |", "|---|---|", *(f"| {what} | {figure} |" for what, figure in rows)]
    table = "\n".join(["<!-- bench -->", *lines, "<!-- /bench -->"])
    text = re.sub(r"<!-- bench -->.*<!-- /bench -->", lambda _: table, text, flags=re.DOTALL)
    path.write_text(text, encoding="utf-8")


def main() -> None:
    """Measure and print; `--write` puts the table into DEVELOPERS.md."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--write", action="store_true")
    words = parser.parse_args()
    course, _ = load_course(ROOT / "content")
    edition = choose_edition(course, "")
    lessons, _ = arrange_course(course, edition)
    tasks = [Task(exercise.number, exercise.arrangement) for lesson in lessons for exercise in lesson.exercises]
    with tempfile.TemporaryDirectory(prefix="bookbuild-bench-") as folder:
        rows = measure(Bench(tasks, engraving_style(course, edition), Path(folder), words.runs))
    if words.write:
        write_table(rows)


if __name__ == "__main__":
    main()
