"""Pieces of a page and pages of pieces: the sizes that composition works with. Lengths in points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Piece:
    """A strip of the page that is never broken.

    `above` is the white space over it (none at the top of a page), which may grow by `stretch` and shrink by `shrink`.
    `unit` groups the pieces of one exercise (−1: none); `music` marks its systems.
    """

    height: float
    above: float = 0.0
    stretch: float = 0.0
    shrink: float = 0.0
    unit: int = -1
    music: bool = False
    keep_next: bool = False
    """True when no page may end with it."""
    turn_ok: bool = False
    """True when a page turn after it falls on a rest or a phrase end."""
    fresh: bool = False
    """True when it begins a new page: a week, a section."""
    on_grid: bool = True
    """True when its upper edge stands on the baseline grid; systems float between."""
    leads: bool = False
    """True when it should be the first of its page."""
    at_foot: bool = False
    """True when it and all that follows on its page stand at the page's foot."""


@dataclass(frozen=True)
class PagePlan:
    """A page: pieces `first` … `last` − 1, and the top of each below the text block's upper edge.

    `hole` is the largest white strip left once white space is spread: mostly at the foot, or over the practice log.
    """

    first: int
    last: int
    right_hand: bool
    tops: tuple[float, ...]
    hole: tuple[float, float]
    ends_chapter: bool


@dataclass(frozen=True)
class Composition:
    """All pages and what they cost."""

    pages: tuple[PagePlan, ...]
    cost: float


def ends_chapter(pieces: Sequence[Piece], last: int) -> bool:
    """Whether a page that ends before piece `last` ends a week or section."""
    return last == len(pieces) or pieces[last].fresh


def natural_height(strips: Sequence[Piece]) -> float:
    """Height of pieces on one page with their natural white space."""
    return sum(piece.height for piece in strips) + sum(piece.above for piece in strips[1:])
