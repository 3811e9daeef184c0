"""From barlines to segments: split bars are joined, double ones divided; a tune is cut wherever a sign stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bookbuild.importers.written import WrittenBar

LONGER_ENDING = 3
"""A last ending may be this many bars longer than the first before its closing sign is taken to be missing."""
MOST_IN_ONE = 4
"""A bar as long as two, three or four is divided: a barline is missing, or the edition's bars are longer."""
EVEN_STRAIN = 8
"""Bars of a strain where a tune without any sign is cut (common practice)."""


@dataclass(frozen=True)
class Segment:
    """Bars between two signs. `pickup` is a short bar that stands before the repeat sign that opens the segment."""

    bars: tuple[WrittenBar, ...]
    pickup: WrittenBar | None = None

    @property
    def opens(self) -> bool:
        """True when a repeat begins with it."""
        return self.bars[0].opens

    @property
    def ending(self) -> tuple[int, ...]:
        """The passes it is an ending of."""
        return self.bars[0].ending

    @property
    def plays(self) -> int:
        """How often the repeat that it closes is played, 1 = it closes none."""
        return self.bars[-1].plays


def cut_segments(bars: Sequence[WrittenBar], notes: list[str]) -> list[Segment]:
    """Cut a tune at its signs; remarks are added to `notes`."""
    rows: list[list[WrittenBar]] = []
    for bar in _join_split_bars(bars):
        if rows and not _cut_between(rows[-1][-1], bar):
            rows[-1].append(bar)
        else:
            rows.append([bar])
    rows = _split_long_endings(rows, notes)
    if len(rows) == 1:
        return [Segment(tuple(row)) for row in _cut_evenly(rows[0], notes)]
    return _attach_pickups(rows)


def divide_long_bars(bars: Sequence[WrittenBar], notes: list[str]) -> list[WrittenBar]:
    """Bars that hold exactly as much as two to four become so many, their notes tied over; `notes` gets remarks."""
    made: list[WrittenBar] = []
    for bar in bars:
        count = bar.length / bar.meter.bar
        if count.denominator == 1 and 1 < count <= MOST_IN_ONE:
            notes.append(f"{bar.where} is as long as {count} bars: it was divided")
            made += [_part_of(bar, number, int(count)) for number in range(int(count))]
        else:
            made.append(bar)
    return made


def _part_of(bar: WrittenBar, number: int, count: int) -> WrittenBar:
    """One of the bars that a long bar is divided into; the first has its opening signs, the last its closing ones."""
    start, end = number * bar.meter.bar, (number + 1) * bar.meter.bar
    notes = tuple(
        replace(note, onset=max(note.onset, start) - start, length=min(note.end, end) - max(note.onset, start),
                tied=note.tied if note.end <= end else note.pitch is not None, breath=note.breath and note.end <= end)
        for note in bar.notes if note.onset < end and note.end > start)
    chords = tuple((onset - start, chord) for onset, chord in bar.chords if start <= onset < end)
    part = replace(bar, notes=notes, chords=chords)
    if number:
        part = replace(part, opens=False, ending=(), segno=False)
    if number + 1 < count:
        part = replace(part, plays=1, ends_ending=False, heavy=False, fine=False, jump="")
    return part


def join_bars(first: WrittenBar, second: WrittenBar) -> WrittenBar:
    """Two written bars as one: the first one's beginning, the second one's end."""
    shift = first.length
    notes = first.notes + tuple(replace(note, onset=note.onset + shift) for note in second.notes)
    chords = first.chords + tuple((onset + shift, chord) for onset, chord in second.chords)
    return replace(second, number=first.number, line=first.line, notes=notes, chords=chords,
                   opens=first.opens, ending=first.ending, segno=first.segno)


def _join_split_bars(bars: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Bars that a line's end or a dotted barline divided in two become one again."""
    joined: list[WrittenBar] = []
    for bar in bars:
        last = joined[-1] if joined else None
        if last is not None and last.length + bar.length == bar.meter.bar and not _cut_between(last, bar):
            joined[-1] = join_bars(last, bar)
        else:
            joined.append(bar)
    return joined


def _cut_between(left: WrittenBar, right: WrittenBar) -> bool:
    return bool(right.opens or right.ending or right.segno or left.plays > 1 or left.heavy or left.ends_ending
                or left.fine or left.jump)


def _split_long_endings(rows: list[list[WrittenBar]], notes: list[str]) -> list[list[WrittenBar]]:
    """A later ending that runs on far beyond the first one's length stops there: the sign at its end is missing."""
    made: list[list[WrittenBar]] = []
    usual = 0
    for row in rows:
        if not row[0].ending:
            usual = 0
        elif not usual:
            usual = len(row)
        elif len(row) > usual + LONGER_ENDING:
            notes.append(f"the ending before {row[usual].where} has no sign at its end: it was taken as {usual} bar(s)")
            made += [row[:usual], row[usual:]]
            continue
        made.append(row)
    return made


def _cut_evenly(bars: list[WrittenBar], notes: list[str]) -> list[list[WrittenBar]]:
    """A long tune without any sign is cut every eight bars, where its bars come out even."""
    full = all(bar.length == bar.meter.bar for bar in bars)
    if not full or len(bars) % EVEN_STRAIN or len(bars) == EVEN_STRAIN:
        return [bars]
    notes.append(f"the tune has no repeat signs or double barlines: it is divided every {EVEN_STRAIN} bars")
    return [bars[i:i + EVEN_STRAIN] for i in range(0, len(bars), EVEN_STRAIN)]


def _attach_pickups(rows: list[list[WrittenBar]]) -> list[Segment]:
    """`e |: …`: a lone short bar before a sign belongs to the strain it leads into."""
    made: list[Segment] = []
    pickup: WrittenBar | None = None
    for index, row in enumerate(rows):
        following = rows[index + 1][0] if index + 1 < len(rows) else None
        if pickup is None and following is not None and _is_pickup(row, following):
            pickup = row[0]
        elif pickup is None:
            made.append(Segment(tuple(row)))
        else:
            made.append(_lead_in(pickup, row))
            pickup = None
    return made


def _is_pickup(row: list[WrittenBar], following: WrittenBar) -> bool:
    bar = row[0]
    return (len(row) == 1 and bar.length < bar.meter.bar and bar.plays == 1 and not bar.ending
            and not following.ending and following.length == bar.meter.bar)


def _lead_in(pickup: WrittenBar, row: list[WrittenBar]) -> Segment:
    if row[0].opens and not pickup.opens:
        return Segment(tuple(row), pickup)
    return Segment((pickup, *row))
