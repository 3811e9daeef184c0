"""Many exercises through the engraver: cached ones reused, the rest in batches spread over an executor."""

from __future__ import annotations

import hashlib
import multiprocessing
import pickle
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict, replace
from functools import cache, partial
from pathlib import Path

from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import MachineError
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.engrave.engine import Engraver, EngraverFailure, end_with_parent
from bookbuild.engrave.plan_batches import plan_batches
from bookbuild.engrave.run_batch import BatchResult, Task, blame, draw_batch, draw_packed
from bookbuild.engrave.style import Style
from bookbuild.engrave.text import known_characters, spell

FEW = 4
"""Fewer exercises than this are not worth a process of their own where that must load the program anew."""


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


def spell_texts(tasks: Sequence[Task], style: Style, fonts: Path) -> tuple[list[Task], Style]:
    """Tasks and style with the teacher's own texts in characters the fonts have. Raises MachineError."""
    known = known_characters(fonts)

    def spell_task(task: Task) -> Task:
        counts = tuple(replace(count, text=spell(count.text, known)) for count in task.arrangement.counts)
        return replace(task, arrangement=replace(task.arrangement, counts=counts))

    words = {name: spell(text, known) for name, text in asdict(style.words).items()}
    return [spell_task(task) for task in tasks], replace(style, words=replace(style.words, **words))


@contextmanager
def start_drawing(
    tasks: Sequence[Task],
    style: Style,
    engraver: Engraver,
    fonts: Path,
    cache: Cache,
    *,
    executor: Executor | None = None,
    workers: int = 2,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Iterator[Callable[[], tuple[list[DrawnExercise], int]]]:
    """Begin to draw; it goes on beside other work, and the function given waits for the result. Raises MachineError.

    The result: drawn exercises in the order of `tasks`, and how many of them were reused. `progress(done, total)`
    counts exercises. Without `executor` the batches run in `workers` processes.
    """
    tasks, style = spell_texts(tasks, style, fonts)
    keys = [cache_key(task.arrangement, style, engraver, fonts) for task in tasks]
    by_key = dict(zip(keys, tasks, strict=True))
    remembered = {key: entry for key in by_key if (entry := cache.recall(key)) is not None}
    drawn = {key: entry for key, entry in remembered.items() if cache.has_batch(entry.batch)}
    weights = [_weigh(task) for task in by_key.values()]
    batches = plan_batches(list(by_key), weights, set(drawn), (entry.members for entry in remembered.values()))
    open_keys = {key for batch in batches for key in batch}
    reused = sum(key not in open_keys for key in keys)
    progress(reused, len(tasks))
    with (_pool(executor, min(workers, len(batches)), len(open_keys)) as pool,
          _hand_out(batches, by_key, style, engraver, fonts, pool) as results):

        def finish() -> tuple[list[DrawnExercise], int]:
            for batch, result in results:
                drawn.update(_keep(batch, result, cache))
                open_keys.difference_update(batch)
                progress(sum(key not in open_keys for key in keys), len(tasks))
            if batches:
                cache.trim({entry.batch for entry in drawn.values()})
            return [drawn[key] for key in keys], reused

        yield finish


def _weigh(task: Task) -> int:
    """About how long an exercise takes, in events."""
    return sum(len(voice.events) for voice in task.arrangement.voices) + 40


def _keep(batch: Sequence[str], result: BatchResult, cache: Cache) -> dict[str, DrawnExercise]:
    """Put a drawn batch into the cache; its exercises by key."""
    name = cache.store_batch(result.pdf)
    drawn = {
        key: DrawnExercise(name, systems, tuple(batch)) for key, systems in zip(batch, result.systems, strict=True)
    }
    for key, exercise in drawn.items():
        cache.store(key, exercise)
    return drawn


@contextmanager
def _pool(executor: Executor | None, workers: int, count: int) -> Iterator[Executor | None]:
    """What `count` exercises are engraved by: the executor given, processes of our own, or None for so few."""
    costly = multiprocessing.get_start_method() != "fork"
    if executor is not None or not count or (costly and count < FEW):
        yield executor
        return
    own = ProcessPoolExecutor(workers, initializer=end_with_parent)
    try:
        yield own
    finally:
        own.shutdown(cancel_futures=True)


@contextmanager
def _hand_out(
    batches: Sequence[list[str]],
    by_key: Mapping[str, Task],
    style: Style,
    engraver: Engraver,
    fonts: Path,
    pool: Executor | None,
) -> Iterator[Iterator[tuple[list[str], BatchResult]]]:
    """Hand the batches to the pool; gives them with what was drawn of them, as they get ready.

    Without a pool they are drawn when they are asked for. Raises MachineError.
    """
    parts = [tuple(by_key[key] for key in batch) for batch in batches]
    futures: dict[Future[BatchResult], int] = {}

    def collect() -> Iterator[tuple[list[str], BatchResult]]:
        for future in as_completed(futures):
            number = futures[future]
            yield batches[number], _explain(future.result, parts[number], style, engraver, fonts)

    def draw() -> Iterator[tuple[list[str], BatchResult]]:
        for batch, part in zip(batches, parts, strict=True):
            yield batch, _explain(partial(draw_batch, part, style, engraver, fonts), part, style, engraver, fonts)

    try:
        if pool is not None:
            # Packed here and now: a pool packs in a thread of its own, beside other work on the same exercises.
            packed = [pickle.dumps(part) for part in parts]
            futures = {pool.submit(draw_packed, part, style, engraver, fonts): n for n, part in enumerate(packed)}
        yield draw() if pool is None else collect()
    finally:
        for future in futures:
            future.cancel()


def _explain(
    draw: Callable[[], BatchResult], part: tuple[Task, ...], style: Style, engraver: Engraver, fonts: Path
) -> BatchResult:
    """The result of `draw`, its failures told as what is at fault."""
    try:
        return draw()
    except EngraverFailure as failure:
        raise blame(part, style, engraver, fonts, failure) from failure
    except BrokenExecutor as failure:
        hint = "build again, with --workers 1 if memory is short"
        raise MachineError("a process of this program was ended by the system", hint) from failure
