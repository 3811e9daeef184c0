"""The command line: the only room that prints, and that turns outcomes into exit codes."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from bookbuild.cli.console import say_failure, write_out
from bookbuild.cli.parser import make_parser


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code. Every failure is one clear message, never a traceback."""
    try:
        words = make_parser().parse_args(arguments)
        from bookbuild.cli import commands

        code = int(getattr(commands, f"run_{words.command}")(words))
        if sys.stdout is not None:
            # What cannot be written is told here, not by Python when the program has ended.
            sys.stdout.flush()
        return code
    except SystemExit as leave:
        write_out(sys.stdout)
        return int(leave.code or 0)
    except BrokenPipeError:
        # The reader of our output has gone (`bookbuild check | head`): nothing is left to say.
        write_out(sys.stdout)
        return 0
    except (Exception, KeyboardInterrupt) as error:
        write_out(sys.stdout)
        return say_failure(error)
