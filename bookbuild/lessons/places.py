"""Where things were written."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Where something was written: a file relative to the course, line and column from 1."""

    file: str
    line: int = 0
    column: int = 0


NOWHERE = Place("")
"""Of what was not read from a file."""
