"""What the schemas of course files are built from: a mapping of known keys, its keys, the glossary."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from bookbuild.lessons import fields as f


def about(text: str, example: Any = None, **limits: Any) -> Any:
    """A required key: what it means and an example."""
    return Field(description=text, examples=[example], **limits)


def maybe(default: Any, text: str, **limits: Any) -> Any:
    """An optional key: its default and what it means."""
    return Field(default=default, description=text, **limits)


class Sheet(BaseModel):
    """A mapping whose keys are all known."""

    model_config = ConfigDict(extra="forbid", arbitrary_types_allowed=True, protected_namespaces=())


class GlossaryPart(Sheet):
    """A word explained."""

    term: f.TitleText = about("The word.", "word")
    text: f.LongText = about("What it means.", "text")


Glossary = Annotated[list[GlossaryPart], Field(max_length=1000)]
"""The words explained at the end of a book."""
