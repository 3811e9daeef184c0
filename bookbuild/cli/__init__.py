"""The command line: the only room that prints, and that turns outcomes into exit codes."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from bookbuild.cli.console import print_diagnostics, say
from bookbuild.cli.parser import make_parser
from bookbuild.diagnostics import BookbuildError, ContentError

MACHINE = 3


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code. Every expected failure is one clear message, never a traceback."""
    try:
        words = make_parser().parse_args(arguments)
        from bookbuild.cli import commands

        return int(getattr(commands, f"run_{words.command}")(words))
    except SystemExit as leave:
        return int(leave.code or 0)
    except ContentError as error:
        print_diagnostics(error.diagnostics)
        say(f"bookbuild: {error.message}")
        return error.exit_code
    except BookbuildError as error:
        say(f"bookbuild: {error.message}" + (f"\n    {error.hint}" if error.hint else ""))
        return error.exit_code
    except KeyboardInterrupt:
        say("bookbuild: stopped; earlier output is unchanged")
        return MACHINE
    except BrokenPipeError:
        # The reader of our output has gone (`bookbuild check | head`): nothing is left to say, or to flush.
        sys.stdout = None  # type: ignore[assignment]
        return 0
    except (OSError, MemoryError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error) or "out of memory"
        where = f"{error.filename}: " if isinstance(error, OSError) and error.filename else ""
        say(f"bookbuild: {where}{reason}\n    check the disk's space and the folder's permissions")
        return MACHINE
    except Exception as error:
        say(f"bookbuild: a fault of the program: {type(error).__name__}: {error}\n"
            "    earlier output is unchanged; please report this line with the course's files")
        return MACHINE
