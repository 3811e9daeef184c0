"""Many exercises through the engraver: cached ones reused, the rest in batches spread over an executor."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor, as_completed
from dataclasses import asdict, replace
from functools import cache
from math import ceil
from pathlib import Path

from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import MachineError
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.engrave.engine import Engraver, EngraverFailure, end_with_parent
from bookbuild.engrave.run_batch import BatchResult, Task, blame, draw_batch
from bookbuild.engrave.score import Style
from bookbuild.engrave.text import known_characters, spell

BATCH_SIZE = 50
"""Exercises in a batch at most. Batches never depend on the number of cores: font subsets, so bytes, do on batches."""


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
    parts = (repr(arrangement), repr(style), engraver.identity, fonts_digest(fonts), _code_digest())
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
        alone = executor is not None or len(missing) < 4
        own = None if alone else ProcessPoolExecutor(workers, initializer=end_with_parent)
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
        except BrokenExecutor as failure:
            hint = "build again, with --workers 1 if memory is short"
            raise MachineError("a process of this program was ended by the system", hint) from failure
        keep(futures[future], result)
