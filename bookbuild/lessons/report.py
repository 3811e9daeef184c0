"""Collecting findings: a flaw inside a text, and the report of one file."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from bookbuild.diagnostics import Diagnostic, Severity
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
    """The findings of a run, in the order they were met; each file keeps the first `MOST`."""

    def __init__(self) -> None:
        self.diagnostics: list[Diagnostic] = []
        self._counts: dict[str, int] = {}
        self._seen: set[Diagnostic] = set()

    def add(self, place: Place, message: str, hint: str = "", severity: Severity = Severity.ERROR) -> None:
        """Record one finding; a repeated one is dropped."""
        finding = Diagnostic(severity, place.file, place.line, place.column, message, hint)
        count = self._counts.get(place.file, 0)
        if finding in self._seen or count > MOST:
            return
        self._counts[place.file] = count + 1
        self._seen.add(finding)
        if count == MOST:
            finding = Diagnostic(Severity.ERROR, place.file, 0, 0, f"there are more than {MOST} findings in this file",
                                 "Mend the first ones and run again.")
        self.diagnostics.append(finding)

    def warn(self, place: Place, message: str, hint: str = "") -> None:
        """Record a warning."""
        self.add(place, message, hint, Severity.WARNING)

    def has_errors(self, file: str | None = None) -> bool:
        """True when an error was recorded, of one file or of all."""
        return any(finding.severity is Severity.ERROR and file in (None, finding.file) for finding in self.diagnostics)

    def in_order(self) -> list[Diagnostic]:
        """All findings, file by file and down each file."""
        return sorted(self.diagnostics, key=lambda finding: (finding.file, finding.line, finding.column))


def guess_name(wrong: str, known: list[str] | tuple[str, ...], what: str) -> str:
    """A hint for a name that is not known: the nearest one, or all there are."""
    lower = {name.lower(): name for name in known}
    near = get_close_matches(wrong.lower(), list(lower), n=1, cutoff=0.6)
    if near:
        return f"Did you mean '{lower[near[0]]}'?"
    if not known:
        return f"There is no {what} yet."
    shown = ", ".join(sorted(known)[:12])
    return f"Known: {shown}{', …' if len(known) > 12 else ''}."


def tell_length(length: object) -> str:
    """A length of time for a message: `3/8`, a whole note as `4/4`."""
    from fractions import Fraction

    value = Fraction(str(length))
    return f"{value * 4}/4" if value.denominator == 1 else str(value)
