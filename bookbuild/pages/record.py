"""What was drawn and where, kept beside the content streams: links, targets, structure, systems to import."""

from __future__ import annotations

from dataclasses import dataclass, field

from bookbuild.pages.model import System
from bookbuild.pages.paper import Frame


@dataclass
class Node:
    """An element of the document's structure: a PDF structure type, its children, and its marked content."""

    kind: str
    alt: str = ""
    title: str = ""
    children: list[Node] = field(default_factory=list)
    content: list[tuple[int, int]] = field(default_factory=list)
    """(page index, marked-content number)."""
    links: list[int] = field(default_factory=list)
    """Places of its links in the record."""
    scope: str = ""
    """Of a table's header cell: `Row` or `Column`."""


@dataclass(frozen=True)
class Placed:
    """Something drawn on a page, for checks: `kind` names it, `frame` is its box on the trimmed page."""

    page: int
    kind: str
    name: str
    frame: Frame


@dataclass
class Record:
    """What was drawn, for the writer: page indices count from 0."""

    systems: dict[str, System] = field(default_factory=dict)
    page_systems: list[set[str]] = field(default_factory=list)
    targets: dict[str, tuple[int, float]] = field(default_factory=dict)
    links: list[tuple[int, Frame, str, str]] = field(default_factory=list)
    """Page, rectangle, target key or web address, and what the link is called."""
    outline: list[tuple[int, str, str]] = field(default_factory=list)
    root: Node = field(default_factory=lambda: Node("Document"))
    placed: list[Placed] = field(default_factory=list)
    marks: list[int] = field(default_factory=list)
    """How many marked contents each page has."""
