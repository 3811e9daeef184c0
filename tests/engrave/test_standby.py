"""An engraver kept ready draws what a fresh one draws; when it or its copy fails, a fresh one does its work."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from bookbuild.arrange.course import Exercise
from bookbuild.engrave import run_batch
from bookbuild.engrave.batch import start_drawing
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.engine import Engraver, EngraverFailure, Runs, find_engraver
from bookbuild.engrave.run_batch import BatchResult, Task, draw_batch
from bookbuild.engrave.source import book_text
from bookbuild.engrave.standby import Standby, engrave_in_copy, keep_ready
from bookbuild.engrave.style import Style
from bookbuild.workshop import fonts_folder

pytestmark = [
    pytest.mark.engraver,
    pytest.mark.skipif(sys.platform == "win32", reason="this system does not copy running programs"),
]
NOTE = '\\bookpart { \\paper { bb-name = "x0" } \\score { { c\'4 } \\layout { } } }'
STYLE = Style()


@pytest.fixture(scope="module")
def standby(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Standby]:
    with keep_ready(find_engraver(), STYLE, fonts_folder(), tmp_path_factory.mktemp("standby"), Runs()) as made:
        assert made is not None
        yield made


@pytest.fixture
def tasks(exercises: list[Exercise]) -> tuple[Task, ...]:
    """Exercises of every kind, short ones first."""
    kinds = {exercise.spec.kind: exercise for exercise in reversed(exercises)}
    return tuple(Task(exercise.number, exercise.arrangement) for exercise in kinds.values())


def draw(tasks: tuple[Task, ...], standby: Standby | None, style: Style = STYLE) -> BatchResult:
    return draw_batch(tasks, style, find_engraver(), fonts_folder(), standby)


def forbid_fresh_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **words: object) -> Path:
        raise AssertionError("a fresh engraver was started")

    monkeypatch.setattr(run_batch, "run_engraver", refuse)


def work_in(standby: Standby, name: str) -> Path:
    work = standby.folder / name
    work.mkdir()
    return work


def running(pid: int) -> bool:
    """Whether a process is there and at work; one that is only waited for is over."""
    state = Path(f"/proc/{pid}/stat")
    if state.parent.parent.joinpath("self").exists():
        return state.exists() and state.read_text().rpartition(")")[2].split()[0] != "Z"
    return subprocess.run(["ps", "-p", str(pid)], capture_output=True, check=False).returncode == 0


def test_a_copy_draws_the_same_bytes_as_a_fresh_run(
    tasks: tuple[Task, ...], standby: Standby, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh = draw(tasks, None)
    forbid_fresh_runs(monkeypatch)
    assert draw(tasks, standby) == fresh
    # One copy leaves nothing behind for the next, nor files.
    assert draw(tasks[:2], standby) == draw(tasks[:2], standby)
    assert {path.name for path in standby.folder.iterdir()} <= {"fontcache", "orders", "ready"}
    assert (standby.ready / "log").read_text() == ""


def test_another_style_needs_a_fresh_run(tasks: tuple[Task, ...], standby: Standby) -> None:
    large = replace(STYLE, staff=9.0)
    assert draw(tasks[:1], standby, large) == draw(tasks[:1], None, large) != draw(tasks[:1], standby)


def test_faulty_music_is_told_in_the_engraver_s_words(standby: Standby) -> None:
    with pytest.raises(EngraverFailure, match="notacommand"):
        engrave_in_copy(standby, book_text(["\\notacommand"]), work_in(standby, "run-fault"), seconds=60)
    with pytest.raises(EngraverFailure, match="ended before it had drawn"):
        engrave_in_copy(standby, "#(primitive-_exit 0)", work_in(standby, "run-exit"), seconds=60)
    # The engraver itself has lived through that.
    assert engrave_in_copy(standby, book_text([NOTE]), work_in(standby, "run-note"), seconds=60).exists()


def test_a_copy_that_hangs_is_ended(standby: Standby) -> None:
    work = work_in(standby, "run-hangs")
    endless = '#(begin (format (open-output-file "number") "~a" (getpid)) (flush-all-ports) (let loop () (loop)))'
    with pytest.raises(EngraverFailure, match="longer than 1 seconds") as told:
        engrave_in_copy(standby, endless, work, seconds=1)
    assert told.value.late
    pid, until = int((work / "number").read_text()), time.monotonic() + 10
    while running(pid) and time.monotonic() < until:
        time.sleep(0.02)
    assert not running(pid)


def test_a_copy_is_bounded(standby: Standby) -> None:
    # Also when nobody waits any more: the system ends it when it has computed for so long.
    asked = '#(begin (write (list (getrlimit (quote cpu)) (getrlimit (quote core))) (open-output-file "bounds")))'
    work = work_in(standby, "run-bounds")
    engrave_in_copy(standby, asked + "#(flush-all-ports)" + book_text([NOTE]), work, seconds=41)
    assert (work / "bounds").read_text() == "(42 0)"


def test_when_the_engraver_is_gone_a_fresh_one_draws(tasks: tuple[Task, ...], tmp_path: Path) -> None:
    with keep_ready(find_engraver(), STYLE, fonts_folder(), tmp_path, Runs()) as standby:
        assert standby is not None
        with pytest.raises(EngraverFailure, match="no PDF"):
            engrave_in_copy(standby, "#(kill (getppid) SIGKILL)", work_in(standby, "run-kills"), seconds=60)
        with pytest.raises(OSError, match="No such device"):
            engrave_in_copy(standby, book_text([NOTE]), work_in(standby, "run-late"), seconds=60)
        assert draw(tasks[:1], standby) == draw(tasks[:1], None)


def test_nothing_is_left_of_it(tmp_path: Path) -> None:
    with keep_ready(find_engraver(), STYLE, fonts_folder(), tmp_path, Runs()) as standby:
        assert standby is not None
        tell = '#(begin (format (open-output-file "number") "~a" (getppid)) (flush-all-ports))'
        work = work_in(standby, "run-tells")
        engrave_in_copy(standby, tell + book_text([NOTE]), work, seconds=60)
        pid = int((work / "number").read_text())
        assert running(pid)
    assert not running(pid)


def test_a_copy_that_cannot_begin_is_not_waited_for(standby: Standby, tasks: tuple[Task, ...]) -> None:
    work = standby.folder / "run-blocked"
    (work / "log").mkdir(parents=True)
    with pytest.raises((EngraverFailure, OSError)):
        engrave_in_copy(standby, book_text([NOTE]), work, seconds=60)
    # Nor does it spoil the next.
    assert engrave_in_copy(standby, book_text([NOTE]), work_in(standby, "run-next"), seconds=60).exists()


def test_one_that_does_not_begin_is_done_without(
    tasks: tuple[Task, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bookbuild.engrave.standby.BEGINNING", 0.3)
    asleep = tmp_path / "engraver"
    asleep.write_text("#!/bin/sh\nexec sleep 600\n")
    asleep.chmod(0o755)
    with keep_ready(Engraver(asleep, "2.24.3"), STYLE, fonts_folder(), tmp_path, Runs()) as standby:
        assert standby is not None
        with pytest.raises(EngraverFailure, match="does not begin") as told:
            engrave_in_copy(standby, book_text([NOTE]), work_in(standby, "run-waits"), seconds=60)
        assert not told.value.late
        assert draw(tasks[:1], standby) == draw(tasks[:1], None)


class Fault(Exception):
    """What ends a build."""


@pytest.mark.parametrize("ready", [True, False], ids=["on standby", "without"])
@pytest.mark.parametrize("fault", [True, False], ids=["fault", "end"])
def test_what_is_given_up_is_not_begun_anew(
    ready: bool, fault: bool, tasks: tuple[Task, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As when the last week of a course is at fault, and the first is being drawn already.
    temporary, store = tmp_path / "temporary", Cache(tmp_path / "cache")
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    begun: list[subprocess.Popen[bytes]] = []
    begin = Runs.begin

    def note(runs: Runs, start: Callable[[], subprocess.Popen[bytes]]) -> subprocess.Popen[bytes]:
        begun.append(begin(runs, start))
        return begun[-1]

    monkeypatch.setattr(Runs, "begin", note)
    if not ready:
        monkeypatch.setattr(os, "mkfifo", refuse_pipe)
    with suppress(Fault), start_drawing(STYLE, find_engraver(), fonts_folder(), store, workers=2) as drawing:
        drawing.begin(tasks)
        while not begun:
            time.sleep(0.01)
        if fault:
            raise Fault
    assert len(begun) <= (1 if ready else 2)
    assert not any(running(child.pid) for child in begun)
    assert list(temporary.iterdir()) == []


def refuse_pipe(path: Path) -> None:
    raise OSError("no pipes here")


def test_one_build_s_end_does_not_touch_another(tmp_path: Path) -> None:
    one, other = Runs(), Runs()
    child = other.begin(lambda: subprocess.Popen(["sleep", "600"], start_new_session=True))
    one.close()
    assert child.poll() is None
    with pytest.raises(EngraverFailure, match="given up") as told:
        one.begin(lambda: subprocess.Popen(["sleep", "600"]))
    assert told.value.late
    other.close()
    other.end(child)
    assert child.poll() is not None
