"""What the program tells its user: one finding, where it is, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Severity(Enum):
    """How much a finding matters: an error stops the build, a warning and a note do not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True)
class Diagnostic:
    """One finding. `file` is a path relative to the course; `line` and `column` count from 1, 0 = whole file."""

    severity: Severity
    file: str
    line: int
    column: int
    message: str
    hint: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.line:
            place += f":{self.line}:{self.column}"
        text = f"{place}: {self.severity.value}: {self.message}"
        return f"{text}\n    {self.hint}" if self.hint else text


class BookbuildError(Exception):
    """A failure the user can mend: one clear line and an exit code, never a traceback."""

    exit_code = 3

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


class ContentError(BookbuildError):
    """The content is at fault; `diagnostics` holds every finding of the run."""

    exit_code = 1

    def __init__(self, diagnostics: list[Diagnostic]) -> None:
        super().__init__(f"{len(diagnostics)} finding(s) in the content")
        self.diagnostics = diagnostics


class CallError(BookbuildError):
    """The call is at fault: an unknown week, edition, tune…"""

    exit_code = 2


class MachineError(BookbuildError):
    """The machine is at fault: engraver missing, disk full, folder read-only…"""

    exit_code = 3
