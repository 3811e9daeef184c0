"""What is shown: messages, diagnostics, tables, a progress bar."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, TextIO

from bookbuild.diagnostics import BookbuildError, ContentError, Diagnostic, MachineError, Severity

if TYPE_CHECKING:
    from bookbuild.printing import Progress


def say(text: str) -> None:
    """A message to the user, beside the output proper; where nobody can hear it the work goes on all the same."""
    if sys.stderr is not None:
        with suppress(OSError):
            print(_printable(text, sys.stderr), file=sys.stderr)
        write_out(sys.stderr)


def tell(text: str) -> None:
    """A line of the output proper."""
    print(_printable(text, sys.stdout))


def write_out(stream: TextIO | None) -> None:
    """Write what a stream still holds, or nowhere when that fails: Python would try it again at the very end."""
    if stream is None:
        return
    try:
        stream.flush()
    except OSError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def _printable(text: str, stream: Any) -> str:
    """Text as the terminal can show it: what its encoding lacks is escaped, and what would steer the terminal."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    shown = "".join(sign if sign.isprintable() or sign == "\n" else ascii(sign)[1:-1] for sign in text)
    return shown.encode(encoding, "backslashreplace").decode(encoding)


def print_diagnostics(diagnostics: Sequence[Diagnostic]) -> None:
    """Errors first, each with its place and remedy."""
    order = list(Severity)
    for diagnostic in sorted(diagnostics, key=lambda found: (order.index(found.severity), found.file, found.line)):
        say(str(diagnostic))


def say_failure(error: BaseException) -> int:
    """Tell what ended a command; returns the exit code it ends with."""
    if isinstance(error, ContentError):
        print_diagnostics(error.diagnostics)
        say(f"bookbuild: {error.message}")
        return error.exit_code
    if isinstance(error, BookbuildError):
        say(f"bookbuild: {error.message}" + (f"\n    {error.hint}" if error.hint else ""))
        return error.exit_code
    if isinstance(error, KeyboardInterrupt):
        say("bookbuild: stopped; earlier output is unchanged")
    elif isinstance(error, (OSError, MemoryError)):
        reason = getattr(error, "strerror", None) or str(error) or "out of memory"
        where = f"{error.filename}: " if isinstance(error, OSError) and error.filename else ""
        remedy = "close other programs" if isinstance(error, MemoryError) else (
            "check the disk's space and the folder's permissions")
        say(f"bookbuild: {where}{reason}\n    {remedy}")
    else:
        say(f"bookbuild: a fault of the program: {type(error).__name__}: {error}\n"
            "    earlier output is unchanged; please report this line with the course's files")
    return MachineError.exit_code


def print_table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Columns padded to their widest cell; the last one is left as it is."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    for row in (head, *rows):
        cells = [cell.ljust(width) for cell, width in zip(row[:-1], widths, strict=False)]
        tell("  ".join([*cells, row[-1]]).rstrip())


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A progress bar on a terminal; nothing where the output goes to a file."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda stage, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:>12}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        rows: dict[str, TaskID] = {}

        def show(stage: str, done: int, total: int) -> None:
            if stage not in rows:
                rows[stage] = bar.add_task(stage, total=total)
            bar.update(rows[stage], completed=done, total=total)

        yield show
