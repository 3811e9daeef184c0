"""The program's door: `bookbuild …` and `python -m bookbuild …`."""

from __future__ import annotations

import signal
import sys
from types import FrameType
from typing import NoReturn

_ENDINGS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
_ENDED_BY = 128
"""Added to a signal's number, the exit code of a program that it ended (POSIX shells)."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    for number in _ENDINGS:
        # One that is ignored stays so (`nohup bookbuild watch`).
        if signal.getsignal(number) == signal.SIG_DFL:
            signal.signal(number, _leave)
    from bookbuild.cli import run

    sys.exit(run(sys.argv[1:]))


def _leave(number: int, frame: FrameType | None) -> NoReturn:
    """End as after Ctrl-C, so that no folder and no engraver is left over."""
    for each in _ENDINGS:
        # A terminal that closes may ask twice; what is left over then would stay.
        signal.signal(each, signal.SIG_IGN)
    raise SystemExit(_ENDED_BY + number)


if __name__ == "__main__":
    main()
