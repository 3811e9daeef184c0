"""Many exercises through the engraver: cached ones reused, the rest in batches spread over an executor."""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass, replace
from functools import cache
from math import ceil
from pathlib import Path

from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import MachineError
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise, DrawnSystem
from bookbuild.engrave.engine import Engraver, EngraverFailure, run_engraver
from bookbuild.engrave.score import Style
from bookbuild.engrave.systems import break_lines
from bookbuild.engrave.text import known_characters, spell

BATCH_SIZE = 50
"""Exercises in a batch at most. Batches never depend on the number of cores: font subsets, so bytes, do on batches."""
SECONDS_A_SYSTEM = 3.0
MM = 72 / 25.4


@dataclass(frozen=True)
class Task:
    """One exercise to draw; `name` is used in messages and must be unique in a call."""

    name: str
    arrangement: Arrangement


@dataclass(frozen=True)
class BatchResult:
    """A batch PDF and the systems of each of its exercises, in order."""

    pdf: bytes
    systems: tuple[tuple[DrawnSystem, ...], ...]


@cache
def _code_digest() -> str:
    """Hash of this room's own source: a change of engraving code makes old drawings stale."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.[pi][yl]*")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


@cache
def fonts_digest(fonts: Path) -> str:
    """Hash of the font files the engraver may use."""
    digest = hashlib.sha256()
    for path in sorted(fonts.glob("*.ttf")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def cache_key(arrangement: Arrangement, style: Style, engraver: Engraver, fonts: Path) -> str:
    """Name of a drawing by all that shapes it: music, style, engraver, fonts and our own code."""
    parts = (repr(arrangement), repr(style), engraver.version, fonts_digest(fonts), _code_digest())
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def split_batches(weights: Sequence[int], size: int = BATCH_SIZE) -> list[range]:
    """Cut a sequence into an even number of runs of at most `size` and nearly equal weight."""
    count = len(weights)
    if count < 4:
        return [range(count)] if count else []
    batches = 2 * ceil(count / (2 * size))
    total, done, at = sum(weights), 0, 0
    cuts = []
    for number in range(batches):
        start = at
        goal = total * (number + 1) / batches
        last = count - (batches - number - 1)
        while at < last and at - start < size and (at == start or done + weights[at] / 2 < goal):
            done += weights[at]
            at += 1
        cuts.append(range(start, at))
    while at < count:
        cuts.append(range(at, min(at + size, count)))
        at = cuts[-1].stop
    return cuts


def draw_batch(tasks: tuple[Task, ...], style: Style, engraver: Engraver, fonts: Path) -> BatchResult:
    """Engrave one batch in a folder of its own; raises EngraverFailure. Runs in a worker, wherever that is."""
    from bookbuild.engrave.score import bookpart_text
    from bookbuild.engrave.source import batch_text

    parts = [bookpart_text(f"x{index}", task.arrangement, style) for index, task in enumerate(tasks)]
    seconds = 60 + SECONDS_A_SYSTEM * sum(len(task.arrangement.bars) for task in tasks)
    with tempfile.TemporaryDirectory(prefix="bookbuild-") as folder:
        pdf = run_engraver(engraver, batch_text(parts, style, fonts), Path(folder) / "run", seconds=seconds)
        pages = [json.loads(line) for line in (pdf.parent / "geometry.jsonl").read_text(encoding="utf-8").splitlines()]
        return BatchResult(pdf.read_bytes(), read_systems(pages, tasks, style))


def read_systems(pages: Sequence[dict], tasks: Sequence[Task], style: Style) -> tuple[tuple[DrawnSystem, ...], ...]:
    """The engraver's page dump as systems of each task; raises EngraverFailure when it does not fit the request."""
    found: list[list[DrawnSystem]] = [[] for _ in tasks]
    for number, page in enumerate(pages):
        index = int(page["exercise"][1:])
        arrangement = tasks[index].arrangement
        rows = break_lines(arrangement, style.width_in_staves)
        if page["lines"] != 1 or len(found[index]) >= len(rows):
            raise EngraverFailure(f"{tasks[index].name}: the engraver broke the lines elsewhere than asked")
        row = rows[len(found[index])]
        found[index].append(_system(number, page, arrangement, row, style))
    for task, systems in zip(tasks, found, strict=True):
        if len(systems) != len(break_lines(task.arrangement, style.width_in_staves)):
            raise EngraverFailure(f"{task.name}: the engraver drew {len(systems)} systems")
    return tuple(tuple(systems) for systems in found)


def _system(number: int, page: dict, arrangement: Arrangement, row: Sequence[int], style: Style) -> DrawnSystem:
    staves = page["staves"]
    left, top = page["left"], page["top"]
    bars = arrangement.bars
    end = bars[row[-1]].end
    silent = any(event.end == end and not event.pitches for voice in arrangement.voices for event in voice.events)
    return DrawnSystem(
        page=number,
        left=left + page["x"][0],
        right=left + page["x"][1],
        top=top - page["y"][1],
        bottom=top - page["y"][0],
        staff_left=left + min(s[0][0] for s in staves),
        staff_right=left + max(s[0][1] for s in staves),
        staff_height=style.staff * MM,
        first_bar=bars[row[0]].number,
        last_bar=bars[row[-1]].number,
        turn_ok=bars[row[-1]].phrase_end or silent,
    )


def spell_texts(tasks: Sequence[Task], style: Style, fonts: Path) -> tuple[list[Task], Style]:
    """Tasks and style with the teacher's own texts in characters the fonts have. Raises MachineError."""
    known = known_characters(fonts)

    def spell_task(task: Task) -> Task:
        counts = tuple(replace(count, text=spell(count.text, known)) for count in task.arrangement.counts)
        return replace(task, arrangement=replace(task.arrangement, counts=counts))

    words = {name: spell(text, known) for name, text in asdict(style.words).items()}
    return [spell_task(task) for task in tasks], replace(style, words=replace(style.words, **words))


def draw_exercises(
    tasks: Sequence[Task],
    style: Style,
    engraver: Engraver,
    fonts: Path,
    cache: Cache,
    *,
    executor: Executor | None = None,
    workers: int = 2,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[list[DrawnExercise], int]:
    """Drawn exercises in the order of `tasks`, and how many of them were reused. Raises MachineError.

    `progress(done, total)` counts exercises. Without `executor` the batches run in `workers` processes.
    """
    tasks, style = spell_texts(tasks, style, fonts)
    keys = [cache_key(task.arrangement, style, engraver, fonts) for task in tasks]
    drawn: dict[str, DrawnExercise] = {}
    for key in dict.fromkeys(keys):
        entry = cache.load(key)
        if entry is not None:
            drawn[key] = entry
    reused = sum(key in drawn for key in keys)
    missing = {key: task for key, task in zip(keys, tasks, strict=True) if key not in drawn}
    progress(reused, len(tasks))
    if missing:
        own = ProcessPoolExecutor(workers) if executor is None and len(missing) >= 4 else None
        try:
            _draw_missing(
                missing,
                drawn,
                style,
                engraver,
                fonts,
                cache,
                executor or own,
                lambda done: progress(reused + done, len(tasks)),
            )
        finally:
            if own is not None:
                own.shutdown(cancel_futures=True)
    result = [drawn[key] for key in keys]
    if missing:
        cache.trim({entry.batch for entry in result})
    return result, reused


def _draw_missing(
    missing: Mapping[str, Task],
    drawn: dict[str, DrawnExercise],
    style: Style,
    engraver: Engraver,
    fonts: Path,
    cache: Cache,
    executor: Executor | None,
    progress: Callable[[int], None],
) -> None:
    keys, tasks = list(missing), list(missing.values())
    weights = [sum(len(voice.events) for voice in task.arrangement.voices) + 40 for task in tasks]
    runs = split_batches(weights)
    done = 0

    def keep(run: range, result: BatchResult) -> None:
        nonlocal done
        batch = cache.store_batch(result.pdf)
        for index, systems in zip(run, result.systems, strict=True):
            drawn[keys[index]] = DrawnExercise(batch, systems)
            cache.store(keys[index], drawn[keys[index]])
        done += len(run)
        progress(done)

    def attempt(run: range) -> tuple:
        return draw_batch, tuple(tasks[i] for i in run), style, engraver, fonts

    if executor is None:
        for run in runs:
            try:
                keep(run, draw_batch(*attempt(run)[1:]))
            except EngraverFailure as failure:
                raise blame(attempt(run)[1], style, engraver, fonts, failure) from failure
        return
    futures = {executor.submit(*attempt(run)): run for run in runs}
    for future in as_completed(futures):
        try:
            result = future.result()
        except EngraverFailure as failure:
            raise blame(attempt(futures[future])[1], style, engraver, fonts, failure) from failure
        keep(futures[future], result)


def blame(
    tasks: tuple[Task, ...], style: Style, engraver: Engraver, fonts: Path, failure: EngraverFailure
) -> MachineError:
    """Which exercise of a failed batch is at fault, by halving; returns the error to raise."""
    while len(tasks) > 1:
        half = tasks[: len(tasks) // 2]
        try:
            draw_batch(half, style, engraver, fonts)
            tasks = tasks[len(half) :]
        except EngraverFailure as smaller:
            tasks, failure = half, smaller
    reason = re.sub(r"\s+", " ", failure.log)[:300]
    return MachineError(
        f"exercise {tasks[0].name} could not be engraved: {reason}",
        "this is a fault of the program: please report it with the tune's file",
    )
