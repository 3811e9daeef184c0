"""The commands and their options."""

from __future__ import annotations

import argparse
import os
import re
import sys
from pathlib import Path
from typing import NoReturn

from bookbuild import __version__

CALL = 2
"""Exit code when the call is at fault."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        self.exit(CALL, f"bookbuild: {message}\n")


def _number(text: str) -> int:
    if not re.fullmatch("[0-9]{1,9}", text) or not int(text):
        shown = text if len(text) < 30 else f"{text[:20]}…"
        raise argparse.ArgumentTypeError(f"'{shown}' is not a whole number from 1 up")
    return int(text)


def _path(text: str) -> Path:
    """A path as it was meant: `--out=~/x.pdf` reaches the program with its ~ in most shells."""
    if not text.strip():
        raise argparse.ArgumentTypeError("the name is empty")
    try:
        return Path(text).expanduser()
    except RuntimeError:
        return Path(text)


def _file(text: str) -> Path:
    """A file to write; a name that ends like a folder's is none."""
    if text.endswith(("/", os.sep)):
        raise argparse.ArgumentTypeError(f"'{text}' is a folder: add the file's name, such as {text}book.pdf")
    return _path(text)


def _add_course(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--course", type=_path, default=Path("content"), metavar="DIR",
                        help="the course folder (default: content)")
    parser.add_argument("--edition", default="", metavar="NAME", help="an edition of the course (default: its own)")


def _add_machine(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", type=_file, metavar="FILE", help="the PDF to write (default: in output/)")
    parser.add_argument("--cache", type=_path, metavar="DIR", help="where drawings are kept between runs")
    parser.add_argument("--workers", type=_number, default=0, metavar="N",
                        help="engraver runs at once (default: one a core)")
    parser.add_argument("--cluster", default="", metavar="ADDRESS",
                        help="engrave on a running dask scheduler instead (needs the extra [cluster])")
    parser.add_argument("--engraver", default="", metavar="PATH", help="another LilyPond program")


def make_parser() -> argparse.ArgumentParser:
    """All commands; the chosen one's name comes back as `command`."""
    parser = _Parser(prog="bookbuild",
                     description="Makes a graded, printable accordion practice book from tunes in YAML.")
    parser.add_argument("--version", action="version", version=f"bookbuild {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser, metavar="COMMAND")
    _add_printing(commands)
    _add_content(commands)
    return parser


def _add_printing(commands: argparse._SubParsersAction) -> None:
    book = commands.add_parser("book", help="print the whole course as one book")
    week = commands.add_parser("week", help="print one week's sheet, with the book's exercise numbers")
    week.add_argument("week", type=_number, metavar="N")
    sheet = commands.add_parser("sheet", help="print the steps of one tune, as many as two pages hold")
    sheet.add_argument("tune", metavar="TUNE", help="a tune's YAML file, or the name of a tune of the course")
    sheet.add_argument("--groove", default="", metavar="NAME", help="a groove of the course (default: the best fit)")
    watch = commands.add_parser("watch", help="print the book anew whenever a file of the course is saved")
    watch.add_argument("--week", type=_number, default=0, metavar="N", help="only this week's sheet")
    for parser in (week, watch):
        parser.add_argument("--stand", action="store_true",
                            help="one leaf for the music stand: the log, and the exercises that fit and serve best")
    for parser in (book, week, sheet, watch):
        _add_course(parser)
        _add_machine(parser)


def _add_content(commands: argparse._SubParsersAction) -> None:
    check = commands.add_parser("check", help="say what is wrong in a course, and print its ladder of difficulty")
    check.add_argument("--suggest", action="store_true", help="propose an order of weeks")
    _add_course(check)
    bring = commands.add_parser("import", help="turn ABC, MusicXML or MIDI files into tune YAML")
    bring.add_argument("files", type=_path, nargs="+", metavar="FILE")
    bring.add_argument("--into", type=_path, default=Path("content/tunes"), metavar="DIR",
                       help="where the tunes go (default: content/tunes)")
    bring.add_argument("--course", type=_path, default=Path("content"), metavar="DIR",
                       help="the course whose instrument chords are suggested for (default: content)")
    bring.add_argument("--overwrite", action="store_true", help="replace tunes of the same name")
    export = commands.add_parser("export", help="write exercises as MusicXML and MIDI, to listen to and to edit")
    export.add_argument("exercises", nargs="+", metavar="N.M", help="exercise numbers, or 'all'")
    export.add_argument("--into", type=_path, default=Path("output"), metavar="DIR", help="where the files go")
    _add_course(export)
    new = commands.add_parser("new", help="make a small course to begin from")
    new.add_argument("folder", type=_path, metavar="DIR")
