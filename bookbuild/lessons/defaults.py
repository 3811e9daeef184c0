"""What a small course may leave out: the counting every edition starts with, an instrument, an edition."""

from __future__ import annotations

from bookbuild.lessons.model import ROWS, Counting, Edition, Instrument
from bookbuild.theory.pitch import Pitch, Tone

AMERICAN = Counting(
    "american", "American counting",
    simple={1: ("n",), 2: ("n", "&"), 3: ("n", "&", "a"), 4: ("n", "e", "&", "a")},
    compound={1: ("n",), 3: ("n", "&", "a"), 6: ("n", "ta", "&", "ta", "a", "ta")},
)
"""Counting by number: n & and n e & a; the sixths of a compound beat are common practice without a source."""

FULL_SIZE = Instrument(
    "full-size", "Accordion with 120 basses", Pitch.from_name("F3"), Pitch.from_name("A6"), ROWS, Tone.parse("Bbb"), 20,
)
"""41 keys from F3 to A6 and 20 columns of six rows from B double flat."""


def make_edition(title: str, instrument: str) -> Edition:
    """The edition of a course that has no editions folder."""
    return Edition("standard", title, instrument=instrument)
