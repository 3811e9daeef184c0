"""Counting aloud: the syllable that belongs to each place of the beat.

A table has two halves, simple and compound, each mapping slots in a beat to that many syllables; `n` stands for the
number of the beat. The position rule holds throughout: a syllable belongs to its place in the beat, whatever is
struck, held or silent there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from bookbuild.theory.meter import Meter

Rows = Mapping[int, Sequence[str]]
"""Slots in a beat -> as many syllables."""

BEAT_NUMBER = "n"
"""Stands in a table for the number of the beat."""


class SyllableTable(Protocol):
    """Any object that carries the two halves of a counting system, such as the course's own model."""

    @property
    def simple(self) -> Rows:
        """Rows for beats that divide in two."""

    @property
    def compound(self) -> Rows:
        """Rows for beats that divide in three."""


def _rows_for(meter: Meter, table: SyllableTable) -> tuple[str, Rows]:
    return ("compound", table.compound) if meter.compound else ("simple", table.simple)


def find_row(meter: Meter, slots: int, table: SyllableTable) -> tuple[str, ...]:
    """The syllables of one beat divided into `slots`, `n` unreplaced.

    A row the table lacks is taken from the coarsest finer row that holds its places. Raises ValueError when there is
    none, or when a row has the wrong number of syllables.
    """
    half, rows = _rows_for(meter, table)
    finer = [size for size in sorted(rows) if slots > 0 and size % slots == 0]
    if not finer:
        known = ", ".join(str(size) for size in sorted(rows)) or "no row at all"
        raise ValueError(f"this counting has no syllables for {slots} slots in a {half} beat (it has {known})")
    row = rows[finer[0]]
    if len(row) != finer[0]:
        raise ValueError(f"the {half} row for {finer[0]} slots has {len(row)} syllables")
    return tuple(row[:: finer[0] // slots])


def _speak(syllable: str, beat: int) -> str:
    return str(beat) if syllable == BEAT_NUMBER else syllable


def syllables(meter: Meter, slots: int, table: SyllableTable) -> tuple[str, ...]:
    """The syllables of a whole bar, slot by slot, beats numbered from 1; `slots` is the number in one counted beat.

    Raises ValueError when the table can give no such row.
    """
    row = find_row(meter, slots, table)
    return tuple(_speak(syllable, beat) for beat in range(1, meter.beats + 1) for syllable in row)
