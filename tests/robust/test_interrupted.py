"""Builds that are killed, meet each other or find damage leave whole books (the whole: interrupt_builds.py)."""

from __future__ import annotations

import shutil
import signal
import sys
import time
from pathlib import Path

import pytest
from interrupt_builds import Bench, strike, wait_until_alone
from small_book import call_book, digest, is_whole

pytestmark = [
    pytest.mark.engraver,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="left-over processes are looked for in /proc"),
]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("bench"), call_book)


@pytest.mark.parametrize(("blow", "count"), [("kills", 4), ("pairs", 2), ("damages", 6)])
def test_the_earlier_book_stays_whole_and_the_next_one_is_right(bench: Bench, blow: str, count: int) -> None:
    assert set(strike(bench, blow, count, seed=2)) == {"same"}


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGHUP])
def test_who_is_asked_to_end_leaves_nothing_over(ending: signal.Signals, bench: Bench, tmp_path: Path) -> None:
    work = tmp_path / "tmp"
    work.mkdir()
    child = bench.start(1, tmp_path / "book.pdf", tmp_path / "cache", TMPDIR=str(work))
    while child.poll() is None and not list(work.glob("bookbuild-*/ready/log")):
        time.sleep(0.01)
    child.send_signal(ending)
    said = child.communicate()[1]
    assert (child.returncode, said, list(work.iterdir())) == (128 + ending, b"", [])
    assert wait_until_alone(bench)
    assert not (tmp_path / "book.pdf").exists()


def test_the_bench_itself_tells_books_apart(bench: Bench, tmp_path: Path) -> None:
    first, second = bench.clean
    assert is_whole(first)
    assert digest(first) != digest(second)
    assert bench.judge(0, first) == "same"
    assert bench.judge(1, first) == "wrong"
    cut = tmp_path / "cut.pdf"
    cut.write_bytes(first.read_bytes()[:-2000])
    with pytest.raises(Exception, match=r".*"):
        is_whole(cut)


@pytest.mark.parametrize("lost", ["one entry", "a batch", "all entries of a batch", "all batches", "the finished book"])
def test_what_the_cache_lost_comes_back_with_the_same_bytes(bench: Bench, lost: str, tmp_path: Path) -> None:
    cache, out = tmp_path / "cache", tmp_path / "book.pdf"
    shutil.copytree(bench.folder / "clean1", cache)
    batches = sorted((cache / "batches").iterdir())
    entries = sorted(path for path in (cache / "entries").rglob("*") if path.is_file())
    assert len(batches) == 2
    assert len(entries) > 4
    doomed = {
        "one entry": entries[:1],
        "a batch": batches[:1],
        "all entries of a batch": [path for path in entries if batches[0].stem in path.read_text()],
        "all batches": batches,
        "the finished book": [],
    }[lost]
    shutil.rmtree(cache / "finished")
    for path in doomed:
        path.unlink()
    said = call_book(bench.courses[1], out, cache)
    assert said.code == 0, said
    assert digest(out) == digest(bench.clean[1])
    redrawn = {"one entry": 1, "a batch": 3, "all entries of a batch": 3, "all batches": 6, "the finished book": 0}[
        lost
    ]
    assert f"6 exercises, {6 - redrawn} of them reused" in said.out
