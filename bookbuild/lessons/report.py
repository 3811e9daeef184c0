"""Collecting findings: a flaw inside a text, and the report of a run."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from difflib import get_close_matches

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Place

MOST = 100
"""Findings kept of one file; a file with more is the wrong file."""


@dataclass(frozen=True)
class Flaw:
    """A mistake inside a text: `offset` counts characters from its start."""

    offset: int
    message: str
    hint: str = ""


class Report:
    """The findings of a run; each file keeps the first `MOST`."""

    def __init__(self) -> None:
        self._findings: dict[Diagnostic, None] = {}
        self._counts: dict[str, int] = {}
        self._faulty: set[str] = set()

    def add(self, place: Place, message: str, hint: str = "", severity: Severity = Severity.ERROR) -> None:
        """Record one finding; a repeated one is dropped."""
        file = clean(place.file)
        if severity is Severity.ERROR:
            self._faulty.add(file)
        finding = Diagnostic(severity, file, place.line, place.column, clean(message), clean(hint))
        if finding in self._findings or self.is_full(file):
            return
        self._counts[file] = self._counts.get(file, 0) + 1
        if self.is_full(file):
            message, hint = f"there are {MOST} findings in this file, or more", "Mend the first ones and run again."
            finding = Diagnostic(severity, file, 0, 0, message, hint)
        self._findings[finding] = None

    def warn(self, place: Place, message: str, hint: str = "") -> None:
        """Record a warning."""
        self.add(place, message, hint, Severity.WARNING)

    def soften(self, file: str) -> None:
        """Turn the errors of a file, which is not needed now, into warnings."""
        file = clean(file)
        self._faulty.discard(file)
        self._findings = {
            replace(finding, severity=Severity.WARNING) if finding.file == file else finding: None
            for finding in self._findings
        }

    def is_full(self, file: str) -> bool:
        """True when no more findings of a file are kept."""
        return self._counts.get(clean(file), 0) >= MOST

    def has_errors(self, file: str | None = None) -> bool:
        """True when an error was recorded, of one file or of all."""
        return bool(self._faulty) if file is None else clean(file) in self._faulty

    def in_order(self) -> list[Diagnostic]:
        """All findings, file by file and down each file."""
        return sorted(self._findings, key=lambda finding: (finding.file, finding.line, finding.column))


def clean(text: str) -> str:
    """A text that prints on one line of any terminal: line ends become spaces, what does not print a question mark."""
    return "".join(" " if character.isspace() else character if character.isprintable() else "?" for character in text)


def show(text: object, most: int = 40) -> str:
    """Written text in quotes for a message, shortened and cleaned."""
    words = clean(str(text)[: most + 1])
    return f"'{words}'" if len(words) <= most else f"'{words[:most]}…'"


def guess_name(wrong: str, known: Collection[str], what: str) -> str:
    """A hint for a name that is not known: the nearest one, or those there are."""
    lower = {name.lower(): name for name in sorted(known) if name}
    near = get_close_matches(wrong[:80].lower(), list(lower), n=1, cutoff=0.6)
    if near:
        return f"Did you mean {show(lower[near[0]])}?"
    if not lower:
        return f"There is no {what} yet."
    shown = ", ".join(list(lower.values())[:12])
    return f"Known: {shown}{', …' if len(lower) > 12 else ''}."


def tell_length(length: Fraction) -> str:
    """A length of time for a message: `3/8`, a whole note as `4/4`."""
    return f"{length * 4}/4" if length.denominator == 1 else str(length)
