"""A course's own texts in another language, by the place where they stand in the course."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from bookbuild.lessons.places import NOWHERE, Place


@dataclass(frozen=True)
class Translation:
    """The prose of a course in another language.

    `texts` by path: `("title",)`, `("weeks", name, "aim")`, `("weeks", name, "exercises", 3, "title")`; lines are
    tuples, the glossary is one of (term, text). `phrases` are texts as the course has them, translated wherever they
    stand.
    """

    language: str
    texts: dict[tuple[str | int, ...], Any] = field(hash=False)
    phrases: dict[str, str] = field(hash=False)
    place: Place = NOWHERE
