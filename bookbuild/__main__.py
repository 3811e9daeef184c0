"""The program's door: `bookbuild …` and `python -m bookbuild …`."""

from __future__ import annotations

import signal
import sys
import time
from types import FrameType

_ENDED_BY = 128
"""Added to a signal's number, the exit code of a program that it ended (POSIX shells)."""
_TWICE = 2.0
"""Seconds within which to be asked again is the same: a terminal that closes may do so while all is put away."""


class _Leave:
    """Ends the program as Ctrl-C does, so that no folder and no engraver is left over."""

    def __init__(self) -> None:
        self.asked = time.monotonic() - _TWICE

    def __call__(self, number: int, frame: FrameType | None) -> None:
        if time.monotonic() >= self.asked + _TWICE:
            self.asked = time.monotonic()
            raise SystemExit(_ENDED_BY + number)


def main() -> None:
    """Run the command line and leave with its exit code."""
    leave = _Leave()
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # One that is ignored stays so (`nohup bookbuild watch`).
        if number is not None and signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, leave)
    from bookbuild.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
