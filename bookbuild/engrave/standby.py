"""An engraver kept ready: it has read and looked up what every run needs, and carries each run out in a copy of itself.

Where the system cannot copy a running program there is none; where one fails, `engine.run_engraver` does its work.
"""

from __future__ import annotations

import os
import select
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from bookbuild.engrave.engine import (
    Engraver,
    EngraverFailure,
    check_log,
    check_room,
    end_copy,
    end_run,
    lay_out,
    read_log,
    start_engraver,
    take_result,
    too_late,
)
from bookbuild.engrave.source import standby_text
from bookbuild.engrave.style import Style

COMPUTING = 3600.0
"""Seconds of computing an engraver kept ready may take; each copy has a bound of its own."""
LOOK_AGAIN = 0.25
"""Seconds after which to see whether it still lives."""
DRAWN = b"drawn\n"


@dataclass(frozen=True)
class Standby:
    """An engraver that waits for orders from any process of this machine: its folder, and what it has read."""

    folder: Path
    style: Style
    fonts: Path

    @property
    def ready(self) -> Path:
        """The folder it runs in."""
        return self.folder / "ready"

    @property
    def orders(self) -> Path:
        """The pipe it reads its orders from, as long as there are any."""
        return self.folder / "orders"


@contextmanager
def keep_ready(engraver: Engraver, style: Style, fonts: Path, folder: Path) -> Iterator[Standby | None]:
    """An engraver kept ready in an empty `folder` for batches of one style.

    None where the system cannot copy a running program. Raises MachineError or OSError when it cannot be started.
    """
    if sys.platform == "win32":
        yield None
        return
    standby = Standby(folder, style, fonts)
    os.mkfifo(standby.orders)
    # Opened for both at first: a pipe does not open for one side while nobody has the other.
    both = os.open(standby.orders, os.O_RDWR)
    reading, writing = os.open(standby.orders, os.O_RDONLY), os.open(standby.orders, os.O_WRONLY)
    os.close(both)
    try:
        text = standby_text(style, fonts)
        child = start_engraver(engraver, text, standby.ready, seconds=COMPUTING, orders=reading)
    except BaseException:
        os.close(writing)
        raise
    finally:
        os.close(reading)
    try:
        yield standby
    finally:
        # Without its pipe it was given up. When this program is killed, the pipe has no more writers, and the engraver
        # ends by itself.
        standby.orders.unlink(missing_ok=True)
        os.close(writing)
        end_run(child)


def engrave_in_copy(standby: Standby, source: str, work: Path, *, seconds: float) -> Path:
    """Engrave `source`, without what the engraver has read already, in `work`, an empty folder beside `standby.ready`.

    Returns the PDF's path. Raises EngraverFailure and MachineError as `engine.run_engraver`, OSError when a pipe
    cannot be had.
    """
    if sys.platform == "win32":
        raise EngraverFailure("this system does not copy running programs")
    lay_out(work, source)
    os.mkfifo(work / "end")
    end = os.open(work / "end", os.O_RDONLY | os.O_NONBLOCK)
    told = bytearray()
    try:
        _order(standby, f"../{work.name} {int(seconds) + 1}\n")
        if not _hear_end(end, told, standby, seconds):
            check_room(work)
            raise EngraverFailure(read_log(work) or "a copy of it ended before it had drawn")
        check_log(read_log(standby.ready))
        return take_result(work)
    finally:
        os.close(end)
        number, line, _ = told.partition(b"\n")
        if line and not told.endswith(DRAWN):
            end_copy(int(number))


def _order(standby: Standby, words: str) -> None:
    """Write an order; raises OSError when nobody reads it."""
    orders = os.open(standby.orders, os.O_WRONLY | os.O_NONBLOCK)
    try:
        # Short enough to arrive in one piece, whoever else writes (POSIX, PIPE_BUF).
        os.write(orders, words.encode("ascii"))
    finally:
        os.close(orders)


def _hear_end(end: int, told: bytearray, standby: Standby, seconds: float) -> bool:
    """Hear the number of a copy, and whether it came to its end; raises EngraverFailure if late, OSError if gone."""
    until = time.monotonic() + seconds
    while not told.endswith(DRAWN):
        if time.monotonic() > until:
            raise too_late(seconds)
        if select.select([end], [], [], LOOK_AGAIN)[0]:
            heard = os.read(end, 1000)
            told.extend(heard)
            if told and not heard:
                return False
        elif not told:
            # Nothing to say: this only sees whether there still is a reader.
            _order(standby, "")
    return True
