"""The command line: the only place that prints, and that turns outcomes into exit codes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from bookbuild import __version__
from bookbuild.diagnostics import BookbuildError, ContentError, Diagnostic

if TYPE_CHECKING:
    from collections.abc import Iterator

    from bookbuild.build import Progress

DONE, CONTENT, CALL, MACHINE = 0, 1, 2, 3
"""Exit codes: done; the content, the call or the machine is at fault."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        print(f"bookbuild: {message}", file=sys.stderr)
        raise SystemExit(CALL)


def _add_build_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--course", type=Path, default=Path("content"), metavar="DIR", help="the course folder (content)"
    )
    parser.add_argument("--edition", default="", metavar="NAME", help="an edition of the course (the course's own)")
    parser.add_argument("--out", type=Path, metavar="FILE", help="the PDF to write (in output/)")
    parser.add_argument("--cache", type=Path, metavar="DIR", help="where drawings are kept between runs")
    parser.add_argument("--workers", type=int, default=0, metavar="N", help="engraver runs at once (one a core)")
    parser.add_argument("--engraver", default="", metavar="PATH", help="a LilyPond program to use")


def make_parser() -> argparse.ArgumentParser:
    """All commands and their options."""
    parser = _Parser(
        prog="bookbuild", description="Makes a graded, printable accordion practice book from tunes in YAML."
    )
    parser.add_argument("--version", action="version", version=f"bookbuild {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    book = commands.add_parser("book", help="the whole course as one book")
    _add_build_options(book)
    book.set_defaults(run=_run_build, week=0)
    week = commands.add_parser("week", help="one week's sheet, with the book's exercise numbers")
    week.add_argument("week", type=int, metavar="N")
    _add_build_options(week)
    week.set_defaults(run=_run_build)
    return parser


@contextmanager
def _progress_bar() -> Iterator[Progress]:
    """A progress bar on a terminal; nothing where the output goes to a file."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description:>12}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        rows: dict[str, int] = {}

        def show(stage: str, done: int, total: int) -> None:
            if stage not in rows:
                rows[stage] = bar.add_task(stage, total=total)
            bar.update(rows[stage], completed=done, total=total)  # type: ignore[arg-type]

        yield show


def _run_build(words: argparse.Namespace) -> int:
    from bookbuild.build import Job, build

    job = Job(words.course, words.out, words.edition, words.week, words.cache, words.workers, words.engraver)
    with _progress_bar() as progress:
        outcome = build(job, progress)
    _print_diagnostics(outcome.warnings)
    print(
        f"{outcome.out}: {outcome.pages} pages, {outcome.exercises} exercises "
        f"({outcome.reused} reused) in {outcome.seconds:.1f} s"
    )
    return DONE


def _print_diagnostics(diagnostics: Sequence[Diagnostic]) -> None:
    for diagnostic in diagnostics:
        print(diagnostic, file=sys.stderr)


def run(arguments: Sequence[str]) -> int:
    """Run one command; returns the exit code. Every expected failure is one clear message."""
    try:
        words = make_parser().parse_args(arguments)
        command: Callable[[argparse.Namespace], int] = words.run
        return command(words)
    except SystemExit as leave:
        return int(leave.code or 0)
    except ContentError as error:
        _print_diagnostics(error.diagnostics)
        print(f"bookbuild: {error.message}", file=sys.stderr)
        return error.exit_code
    except BookbuildError as error:
        print(f"bookbuild: {error.message}" + (f"\n    {error.hint}" if error.hint else ""), file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("bookbuild: stopped; earlier output is unchanged", file=sys.stderr)
        return MACHINE
    except (OSError, MemoryError) as error:
        print(f"bookbuild: {error}\n    free some space or memory, or check the folder's permissions", file=sys.stderr)
        return MACHINE
