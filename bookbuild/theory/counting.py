"""Counting aloud: the syllable that belongs to each place of the beat.

A table has two halves, simple and compound, each mapping slots in a beat to that many syllables; `n` stands for the
number of the beat. The position rule holds throughout: a syllable belongs to its place in the beat, whatever is
struck, held or silent there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from bookbuild.exact import Fraction
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


@dataclass(frozen=True)
class Syllable:
    """One spoken syllable: `onset` counts from the downbeat, `length` is the slot it fills."""

    onset: Fraction
    length: Fraction
    text: str


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


def count_stretch(
    meter: Meter, slots: int, table: SyllableTable, start: Fraction, end: Fraction
) -> tuple[Syllable, ...]:
    """The syllables whose slots begin from `start` up to `end`, moments counted from a downbeat.

    Beats are numbered anew in every bar, and `start` may be negative: an upbeat of a quarter in 2/4 runs from −1/4 to
    0 and is counted "2 &". Raises ValueError when the table can give no such row.
    """
    spoken = syllables(meter, slots, table)
    slot = meter.beat / slots
    first = -(-start // slot)
    found = []
    number = first
    while number * slot < end:
        found.append(Syllable(number * slot, slot, spoken[number % len(spoken)]))
        number += 1
    return tuple(found)


def count_values(
    meter: Meter, values: Sequence[Fraction], table: SyllableTable, start: Fraction = Fraction(0)
) -> tuple[str, ...]:
    """The syllable on which each of a run of note values begins, the first at `start` from a downbeat.

    Each beat uses the coarsest row that holds all of its onsets. Raises ValueError where no row holds them.
    """
    onsets = [start]
    for value in values[:-1]:
        onsets.append(onsets[-1] + value)
    spoken = []
    for onset in onsets[: len(values)]:
        beat = onset // meter.beat
        shares = [place / meter.beat - beat for place in onsets if place // meter.beat == beat]
        row = _coarsest_row(meter, shares, table)
        spoken.append(_speak(row[int((onset / meter.beat - beat) * len(row))], beat % meter.beats + 1))
    return tuple(spoken)


def _coarsest_row(meter: Meter, shares: Sequence[Fraction], table: SyllableTable) -> tuple[str, ...]:
    """The row with the fewest slots on whose places all the shares of a beat fall."""
    half, rows = _rows_for(meter, table)
    sizes = sorted(divisor for size in rows for divisor in range(1, size + 1) if size % divisor == 0)
    for size in sizes:
        if all((share * size).denominator == 1 for share in shares):
            return find_row(meter, size, table)
    places = ", ".join(str(share) for share in shares)
    raise ValueError(f"this counting has no syllables for the places {places} of a {half} beat")
