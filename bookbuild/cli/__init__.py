"""The command line: the only room that prints, and that turns outcomes into exit codes."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from bookbuild.cli.console import say_failure
from bookbuild.cli.parser import make_parser


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code. Every failure is one clear message, never a traceback."""
    try:
        words = make_parser().parse_args(arguments)
        from bookbuild.cli import commands

        return int(getattr(commands, f"run_{words.command}")(words))
    except SystemExit as leave:
        return int(leave.code or 0)
    except BrokenPipeError:
        # The reader of our output has gone (`bookbuild check | head`): nothing is left to say, or to flush.
        sys.stdout = None  # type: ignore[assignment]
        return 0
    except (Exception, KeyboardInterrupt) as error:
        return say_failure(error)
