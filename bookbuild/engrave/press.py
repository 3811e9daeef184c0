"""What batches are engraved by: threads of our own, or somebody's executor, and an engraver on standby."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from bookbuild.diagnostics import MachineError
from bookbuild.engrave.engine import Engraver, Runs
from bookbuild.engrave.standby import Standby, keep_ready
from bookbuild.engrave.style import Style


@dataclass(frozen=True)
class Press:
    """An executor; where its tasks run in this program, an engraver on standby, and the runs they are."""

    executor: Executor
    standby: Standby | None = None
    runs: Runs | None = None


@contextmanager
def open_press(engraver: Engraver, style: Style, fonts: Path, workers: int) -> Iterator[Press]:
    """An engraver made ready beside other work for batches of one style, and threads that give it orders."""
    with ExitStack() as stack:
        # In the end no run may begin any more and all are ended, then the threads have nothing to wait for, and then
        # nobody works in the folder.
        standby, runs = None, Runs()
        # One that cannot be had is missed, and told of, when there is something to draw.
        with suppress(MachineError, OSError):
            folder = stack.enter_context(TemporaryDirectory(prefix="bookbuild-", ignore_cleanup_errors=True))
            standby = stack.enter_context(keep_ready(engraver, style, fonts, Path(folder), runs))
        pool = ThreadPoolExecutor(workers)
        stack.callback(pool.shutdown, cancel_futures=True)
        stack.callback(runs.close)
        yield Press(pool, standby, runs)
