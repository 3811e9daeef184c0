"""A whole engraver input: settings, the prelude, and a batch of exercises."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from pathlib import Path

from bookbuild.engrave.style import Style
from bookbuild.engrave.text import quote

LEFT_MARGIN = 15.0
"""Millimetres left of the staves on the engraver's page: room for braces and overhanging marks."""
PAGE_HEIGHT = 400.0
SERIF, SANS = "Source Serif 4", "Source Sans 3"


@cache
def prelude_text() -> str:
    """The definitions every batch begins with."""
    return files("bookbuild.engrave").joinpath("prelude.ily").read_text(encoding="utf-8")


def settings_text(style: Style, fonts: Path, *, dump_grobs: bool = False) -> str:
    """The prelude's variables."""
    values = {
        "bb-fonts": quote(str(fonts)),
        "bb-geometry-file": '"geometry.jsonl"',
        "bb-staff-size": f"{style.staff_points:.4f}",
        "bb-line-width": f"{style.width:.3f}",
        "bb-left-margin": str(LEFT_MARGIN),
        "bb-paper-width": f"{style.width + LEFT_MARGIN + 10:.3f}",
        "bb-paper-height": str(PAGE_HEIGHT),
        "bb-count-size": str(style.count_size),
        "bb-large": "#t" if style.large_print else "#f",
        "bb-serif": quote(SERIF),
        "bb-sans": quote(SANS),
        "bb-dump-grobs": "#t" if dump_grobs else "#f",
    }
    return "\n".join(f"#(define {name} {value})" for name, value in values.items())


def head_text(style: Style, fonts: Path, *, dump_grobs: bool = False) -> str:
    """The part of an input that is the same for every batch of a style."""
    return "\n".join(['\\version "2.24.0"', settings_text(style, fonts, dump_grobs=dump_grobs), prelude_text()]) + "\n"


SPECIMEN = "specimen"
"""The name of the page that a batch begins with, which is no exercise."""


def specimen_text(style: Style) -> str:
    """The `\\bookpart` that a batch begins with: what its fonts must have in any case."""
    letters = quote(style.letters)
    specimen = f"\\markup \\column {{ \\bbSpecimen \\sans {letters} \\sans \\bold {letters} }}"
    return f'\\bookpart {{ \\paper {{ bb-name = "{SPECIMEN}" }} {specimen} }}'


def book_text(parts: Iterable[str]) -> str:
    """The part of an input that draws `parts` (texts of `\\bookpart`) into one PDF, a system a page."""
    return "\n".join(["\\book {", *parts, "}"]) + "\n"


def batch_text(parts: Iterable[str], style: Style, fonts: Path, *, dump_grobs: bool = False) -> str:
    """A whole input that draws `parts`."""
    return head_text(style, fonts, dump_grobs=dump_grobs) + book_text(parts)


def standby_text(style: Style, fonts: Path) -> str:
    """An input that draws a little of everything, then waits for orders: what `bookbuild.engrave.standby` gives."""
    return head_text(style, fonts) + files("bookbuild.engrave").joinpath("standby.ily").read_text(encoding="utf-8")
