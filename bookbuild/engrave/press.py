"""What batches are engraved by: threads of our own, or somebody's executor, and an engraver on standby."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from bookbuild.diagnostics import MachineError
from bookbuild.engrave.engine import Engraver, end_runs
from bookbuild.engrave.standby import Standby, keep_ready
from bookbuild.engrave.style import Style


@dataclass(frozen=True)
class Press:
    """An executor, and an engraver on standby where its tasks run on this machine."""

    executor: Executor
    standby: Standby | None = None


@contextmanager
def open_press(engraver: Engraver, style: Style, fonts: Path, workers: int) -> Iterator[Press]:
    """An engraver made ready beside other work for batches of one style, and threads that give it orders."""
    with ExitStack() as stack:
        # One that cannot be had is missed, and told of, when there is something to draw. It goes first, so that the
        # threads have nothing to wait for, then they, then the folder they work in.
        folder = standby = None
        with suppress(OSError):
            folder = stack.enter_context(TemporaryDirectory(prefix="bookbuild-", ignore_cleanup_errors=True))
        pool = ThreadPoolExecutor(workers)
        stack.callback(pool.shutdown, cancel_futures=True)
        if folder:
            with suppress(MachineError, OSError):
                standby = stack.enter_context(keep_ready(engraver, style, fonts, Path(folder)))
        try:
            yield Press(pool, standby)
        except BaseException:
            end_runs()
            raise
