"""The same tasks on any executor give the same drawings: threads, processes, a cluster on this machine."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_book import ROOT, call_book, digest, make_course

from bookbuild import cluster
from bookbuild.arrange.course import Exercise
from bookbuild.arrange.model import Arrangement
from bookbuild.build import build
from bookbuild.diagnostics import CallError, MachineError
from bookbuild.engrave.batch import cache_key, spell_counts, spell_words, start_drawing
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.engrave.engine import find_engraver
from bookbuild.engrave.run_batch import Task, write_order
from bookbuild.engrave.style import Style
from bookbuild.workshop import fonts_folder, open_workshop

pytestmark = pytest.mark.engraver


@pytest.fixture(scope="module")
def course_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_course(tmp_path_factory.mktemp("course"))


class NotingExecutor(Executor):
    """Notes what it is handed, and does nothing."""

    def __init__(self) -> None:
        self.handed: list[tuple[Any, ...]] = []

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.handed.append(args)
        return Future()


def unread(made: Arrangement) -> Arrangement:
    """The same music in events of which nothing has been asked yet."""
    voices = tuple(replace(voice, events=tuple(map(replace, voice.events))) for voice in made.voices)
    return replace(made, voices=voices)


def test_what_is_handed_out_stays_as_it_was(exercises: list[Exercise], tmp_path: Path) -> None:
    # A pool packs its tasks in a thread while grading reads the same exercises, and what is read is kept in them.
    shop, executor = open_workshop(tmp_path), NotingExecutor()
    tasks = [Task(exercise.number, unread(exercise.arrangement)) for exercise in exercises[:6]]
    with start_drawing(Style(), shop.engraver, shop.fonts, Cache(tmp_path), executor=executor) as drawing:
        drawing.begin(tasks)
        before = [pickle.dumps(args) for args in executor.handed]
        assert all(event.end > 0 for task in tasks for voice in task.arrangement.voices for event in voice.events)
        assert [pickle.dumps(args) for args in executor.handed] == before
    assert len(before) == 2


def test_full_batches_are_handed_out_while_others_are_arranged(exercises: list[Exercise], tmp_path: Path) -> None:
    shop = open_workshop(tmp_path)
    tasks = [Task(exercise.number, exercise.arrangement) for exercise in exercises]

    def hand_out(pieces: list[list[Task]]) -> tuple[list[str], int]:
        """What is handed out of tasks that come in pieces, and how much of it before the end."""
        executor = NotingExecutor()
        with start_drawing(Style(), shop.engraver, shop.fonts, Cache(tmp_path), executor=executor) as drawing:
            for piece in pieces:
                drawing.add(piece)
            early = len(executor.handed)
            drawing.begin(tasks)
        return [repr(args) for args in executor.handed], early

    at_once, none = hand_out([])
    one_by_one, early = hand_out([[task] for task in tasks])
    assert at_once == one_by_one
    assert none == 0
    assert len(at_once) - 2 <= early < len(at_once)


def test_only_what_is_missing_is_handed_out(exercises: list[Exercise], tmp_path: Path) -> None:
    shop, executor, store = open_workshop(tmp_path), NotingExecutor(), Cache(tmp_path)
    tasks = [Task(exercise.number, exercise.arrangement) for exercise in exercises]
    kept = set(range(0, len(tasks), 3))
    style, name = spell_words(Style(), shop.fonts), store.store_batch(b"drawn before")
    for place in kept:
        spelled = spell_counts(tasks[place], shop.fonts)
        store.store(cache_key(spelled.arrangement, style, shop.engraver, shop.fonts), DrawnExercise(name, ()))
    with start_drawing(Style(), shop.engraver, shop.fonts, store, executor=executor) as drawing:
        drawing.begin(tasks)
    handed = [part for order, *_ in executor.handed for part in order.parts[1:]]
    assert len(handed) == len(tasks) - len(kept)
    wanted = [write_order([task], style).parts[1] for place, task in enumerate(tasks) if place not in kept]
    assert [_of_music(part) for part in handed] == [_of_music(part) for part in wanted]


def _of_music(part: str) -> str:
    """A part without its name, which counts the parts of its batch."""
    return part.partition("\n")[2]


def test_where_all_was_drawn_no_engraver_is_started(
    exercises: list[Exercise], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop, tasks = open_workshop(tmp_path), [Task(each.number, each.arrangement) for each in exercises[:3]]
    given = (Style(), shop.engraver, shop.fonts, Cache(tmp_path))
    with start_drawing(*given) as drawing:
        drawn, reused = drawing.finish(tasks)
    assert reused == 0
    monkeypatch.setattr(subprocess, "Popen", None)
    with start_drawing(*given) as drawing:
        assert drawing.finish(tasks) == (drawn, 3)


@pytest.fixture(scope="module")
def plain(course_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book built in the usual way, by threads of our own."""
    folder = tmp_path_factory.mktemp("plain")
    build(course_folder, folder / "book.pdf", open_workshop(folder / "cache", workers=2))
    return folder / "book.pdf"


class LazyExecutor(Executor):
    """The least an executor may be: every task runs when it is handed over."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


@pytest.mark.parametrize("make", [lambda: ThreadPoolExecutor(2), LazyExecutor])
def test_any_executor_makes_the_same_book(make: Any, course_folder: Path, plain: Path, tmp_path: Path) -> None:
    with make() as executor:
        build(course_folder, tmp_path / "book.pdf", open_workshop(tmp_path / "cache", executor=executor))
    assert digest(tmp_path / "book.pdf") == digest(plain)


def test_the_number_of_workers_does_not_matter(course_folder: Path, plain: Path, tmp_path: Path) -> None:
    build(course_folder, tmp_path / "book.pdf", open_workshop(tmp_path / "cache", workers=1))
    assert digest(tmp_path / "book.pdf") == digest(plain)


def test_drawings_come_in_the_order_of_the_tasks(exercises: list[Exercise], tmp_path: Path) -> None:
    # Twice the same exercise, and a pair whose music differs: every task has its own drawing, equal music the same one.
    shop = open_workshop(tmp_path)
    picked = [exercise.arrangement for exercise in exercises[:5]]
    tasks = [Task(str(index), made) for index, made in enumerate([*picked, picked[0]])]
    steps: list[tuple[int, int]] = []
    given = (Style(), shop.engraver, shop.fonts, Cache(tmp_path))
    with ThreadPoolExecutor(2) as threads, start_drawing(*given, executor=threads) as drawing:
        drawn, reused = drawing.finish(tasks, lambda done, total: steps.append((done, total)))
    assert reused == 0
    assert drawn[0] == drawn[5]
    assert len({(one.batch, one.systems[0].page) for one in drawn[:5]}) == 5
    assert [bars[-1].last_bar for bars in (one.systems for one in drawn[:5])] == [
        max(bar.number for bar in made.bars) for made in picked
    ]
    assert steps[0] == (0, 6)
    assert steps[-1] == (6, 6)
    assert steps == sorted(steps)
    with start_drawing(*given, workers=1) as drawing:
        again, reused = drawing.finish(tasks[::-1])
    assert (again[::-1], reused) == (drawn, 6)


@pytest.fixture(scope="module")
def loopback() -> Iterator[Any]:
    """A scheduler with two workers on this machine, as a publisher's would be on many."""
    distributed = pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    import dask

    before = os.environ.get("PYTHONPATH", "")
    os.environ["PYTHONPATH"] = f"{ROOT}{os.pathsep}{before}"
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 0}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50
        ) as made,
    ):
        yield made
    os.environ["PYTHONPATH"] = before


def reach(address: str) -> AbstractContextManager[Executor]:
    """A connection with this machine's engraver and fonts."""
    return cluster.connect(address, find_engraver().path, fonts_folder())


def test_a_cluster_makes_the_same_book(loopback: Any, course_folder: Path, plain: Path, tmp_path: Path) -> None:
    said = call_book(course_folder, tmp_path / "book.pdf", tmp_path / "cache", "--cluster", loopback.scheduler_address)
    assert said.code == 0, said
    assert "0 of them reused" in said.out
    assert digest(tmp_path / "book.pdf") == digest(plain)


def test_both_workers_of_the_cluster_work(loopback: Any) -> None:
    with reach(loopback.scheduler_address) as executor:
        # Longer than handing over takes, so that one worker cannot do both.
        futures = [executor.submit(_tell_process, number) for number in range(4)]
        pids = {future.result(timeout=30) for future in futures}
    assert len(pids) == 2
    assert os.getpid() not in pids


def _tell_process(number: int) -> int:
    time.sleep(0.5)
    return os.getpid()


def _end(number: int) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_workers_of_another_version_are_refused(loopback: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "program_digest", lambda: "of another day")
    cluster.tell_equipment.cache_clear()
    try:
        with pytest.raises(MachineError, match="has another version of bookbuild") as told:
            reach(loopback.scheduler_address).__enter__()
    finally:
        cluster.tell_equipment.cache_clear()
    assert "the worker tcp://127.0.0.1:" in told.value.message
    assert "install the same version" in told.value.hint


def test_a_worker_that_comes_later_is_looked_at_too(loopback: Any) -> None:
    with reach(loopback.scheduler_address) as executor:
        other = replace(executor, fonts=ROOT / "content")
        with pytest.raises(MachineError, match="a worker of the cluster has other fonts"):
            other.inner.submit(
                cluster.run_alike, cluster.tell_equipment(executor.engraver, executor.fonts), executor.engraver,
                other.fonts, _tell_process, 1,
            ).result(timeout=30)


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (cluster.Equipment("a", "b", "x"), "has other fonts"),
        (cluster.Equipment("a", "x", "x"), "has another engraver and other fonts"),
        (ModuleNotFoundError("No module named 'bookbuild'"), "cannot run this bookbuild: No module named"),
    ],
)
def test_what_differs_is_told(found: object, words: str) -> None:
    with pytest.raises(MachineError, match=words):
        cluster.compare_equipment(cluster.Equipment("a", "b", "c"), found, "the worker x")
    cluster.compare_equipment(cluster.Equipment("a", "b", "c"), cluster.Equipment("a", "b", "c"), "the worker x")


def test_a_cluster_whose_workers_are_lost(loopback: Any) -> None:
    with pytest.raises(MachineError, match="the cluster was lost"), reach(loopback.scheduler_address) as made:
        made.submit(_end, 1).result(timeout=60)


def test_a_cluster_whose_scheduler_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    monkeypatch.setattr(cluster, "ANSWER_SECONDS", 1.0)
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, protocol="tcp", dashboard_address=":0", silence_logs=50
        ) as made,
        pytest.raises(MachineError, match="the cluster was lost"),
    ):
        _work_while_it_ends(made)


def _work_while_it_ends(made: Any) -> None:
    with reach(made.scheduler_address) as executor:
        future = executor.submit(_tell_process, 1)
        made.close()
        future.result(timeout=30)


def test_an_address_where_nothing_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    monkeypatch.setattr(cluster, "ANSWER_SECONDS", 1.0)
    with pytest.raises(CallError, match="no scheduler answers"), reach("tcp://127.0.0.1:9"):
        pass


def test_the_call_with_a_poor_address_is_told_in_two_lines(course_folder: Path, tmp_path: Path) -> None:
    said = call_book(course_folder, tmp_path / "book.pdf", tmp_path, "--cluster", "nonsense")
    assert said.code == 2, said
    assert "is not a scheduler's address" in said.errors
    assert len(said.errors.splitlines()) == 2


def test_without_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MachineError, match="one more package"), reach("tcp://127.0.0.1:9"):
        pass


def test_a_scheduler_without_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    monkeypatch.setattr(cluster, "ANSWER_SECONDS", 1.0)
    with (
        distributed.LocalCluster(n_workers=0, host="127.0.0.1", dashboard_address=":0", silence_logs=50) as made,
        pytest.raises(MachineError, match="has no workers"),
        reach(made.scheduler_address),
    ):
        pass


def test_an_address_has_a_host_and_a_port() -> None:
    pytest.importorskip("distributed", reason="the extra [cluster] is not installed")
    for address in ("", "tcp://", "127.0.0.1", "ucx://a:1", "tcp://a b:1", "tcp://a:1/x", "http://a:80"):
        with pytest.raises(CallError, match="is not a scheduler's address"), reach(address):
            pass
