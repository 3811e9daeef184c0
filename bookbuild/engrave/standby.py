"""An engraver kept ready: it has read and looked up what every run needs, and carries each run out in a copy of itself.

Where the system cannot copy a running program there is none; where one fails, `engine.run_engraver` does its work.
"""

from __future__ import annotations

import os
import selectors
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from bookbuild.engrave.engine import (
    Engraver,
    EngraverFailure,
    Runs,
    check_log,
    check_room,
    end_copy,
    lay_out,
    read_log,
    start_engraver,
    take_result,
    too_late,
    undisturbed,
)
from bookbuild.engrave.source import standby_text
from bookbuild.engrave.style import Style

COMPUTING = 3600.0
"""Seconds of computing an engraver kept ready may take; each copy has a bound of its own."""
BEGINNING = 30.0
"""Seconds within which a copy must have begun; it takes some hundredths, and the engraver half a second before."""
LOOK_AGAIN = 0.25
"""Seconds after which to see whether the engraver still lives."""
DRAWN = b"drawn\n"


@dataclass(frozen=True)
class Standby:
    """An engraver that waits for orders: its folder, and what it has read."""

    folder: Path
    style: Style
    fonts: Path

    @property
    def ready(self) -> Path:
        """The folder it runs in."""
        return self.folder / "ready"

    @property
    def orders(self) -> Path:
        """The pipe it reads its orders from."""
        return self.folder / "orders"


@contextmanager
def keep_ready(engraver: Engraver, style: Style, fonts: Path, folder: Path, runs: Runs) -> Iterator[Standby | None]:
    """An engraver kept ready in an empty `folder` for batches of one style, as one of the `runs`.

    None where the system cannot copy a running program. Raises MachineError or OSError when it cannot be started.
    """
    if sys.platform == "win32":
        yield None
        return
    standby = Standby(folder, style, fonts)
    os.mkfifo(standby.orders)
    with ExitStack() as stack:
        # When this program is killed the pipe has no more writers, and the engraver ends by itself; a copy of this
        # program that knows nothing of it would keep it waiting.
        with ExitStack() as opening:
            # Opened for both at first: a pipe does not open for one side while nobody has the other.
            _open(standby.orders, os.O_RDWR, opening)
            reading = _open(standby.orders, os.O_RDONLY, opening)
            _open(standby.orders, os.O_WRONLY, stack)
            text = standby_text(style, fonts)
            start = partial(start_engraver, engraver, text, standby.ready, seconds=COMPUTING, orders=reading)
            with undisturbed():
                stack.callback(runs.end, runs.begin(start))
        yield standby


def _open(path: Path, how: int, stack: ExitStack) -> int:
    """Open a file that is closed with the stack."""
    opened = os.open(path, how)
    stack.callback(os.close, opened)
    return opened


def engrave_in_copy(standby: Standby, source: str, work: Path, *, seconds: float) -> Path:
    """Engrave `source`, without what the engraver has read already, in `work`, an empty folder beside `standby.ready`.

    Returns the PDF's path. Raises EngraverFailure and MachineError as `engine.run_engraver`, OSError when a pipe
    cannot be had.
    """
    if sys.platform == "win32":
        raise EngraverFailure("this system does not copy running programs")
    lay_out(work, source)
    os.mkfifo(work / "end")
    told = bytearray()
    with ExitStack() as stack:
        end = _open(work / "end", os.O_RDONLY | os.O_NONBLOCK, stack)
        _order(standby, f"../{work.name} {int(seconds) + 1}\n")
        try:
            drawn = _hear_end(end, told, standby, seconds)
        except BaseException:
            number, line, _ = told.partition(b"\n")
            if line:
                end_copy(int(number))
            raise
    if not drawn:
        check_room(work)
        raise EngraverFailure(read_log(work) or "a copy of it ended before it had drawn")
    check_log(read_log(standby.ready))
    return take_result(work)


def _order(standby: Standby, words: str) -> None:
    """Write an order; raises OSError when nobody reads it."""
    with ExitStack() as stack:
        # Short enough to arrive in one piece, whoever else writes (POSIX, PIPE_BUF).
        os.write(_open(standby.orders, os.O_WRONLY | os.O_NONBLOCK, stack), words.encode("ascii"))


def _hear_end(end: int, told: bytearray, standby: Standby, seconds: float) -> bool:
    """Hear the number of a copy, then whether it came to its end.

    Raises EngraverFailure when it takes longer, or does not even begin, OSError when there is no engraver.
    """
    began = time.monotonic()
    with selectors.DefaultSelector() as selector:
        selector.register(end, selectors.EVENT_READ)
        while not told.endswith(DRAWN):
            if time.monotonic() > began + (seconds if told else min(seconds, BEGINNING)):
                raise too_late(seconds) if told else EngraverFailure("a copy of it does not begin")
            ready = selector.select(LOOK_AGAIN)
            heard = os.read(end, 1000) if ready else b""
            told.extend(heard)
            if ready and not heard:
                if told:
                    return False
                # Where its writer has gone, and on some systems before it comes, a pipe can be read at once.
                time.sleep(LOOK_AGAIN / 10)
            if not told:
                check_log(read_log(standby.ready))
                # Nothing to say: this only sees whether there still is a reader.
                _order(standby, "")
    return True
