"""Events cut into what a measure can print: note values with dots, ties and tuplets."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from bookbuild.arrange.model import Bar, Event
from bookbuild.exact import Fraction
from bookbuild.theory.meter import Meter, odd_part
from bookbuild.theory.notes import is_printable, notated_values

TUPLETS = {3: 2, 5: 4, 7: 4, 9: 8, 15: 8}
"""Odd part of a denominator -> in the time of how many (3 in the time of 2, 5 of 4, …)."""


@dataclass(frozen=True)
class Piece:
    """A printed note, chord or rest in its measure. `value` is what is written, `length` what it lasts.

    In a tuplet of `odd` notes they differ; `opens`/`closes` mark its ends. Ties lead from and to its neighbours.
    """

    event: Event
    onset: Fraction
    length: Fraction
    value: Fraction
    odd: int = 1
    first: bool = True
    tied_in: bool = False
    tied_out: bool = False
    opens: bool = False
    closes: bool = False


def cut_pieces(events: Sequence[Event], bar: Bar, meter: Meter) -> list[Piece]:
    """The pieces of a voice (events in order) in one bar; onsets count from its barline.

    Raises ValueError for values never printed.
    """
    made: list[Piece] = []
    lead = meter.bar - bar.length if bar.number == 0 else Fraction(0)
    first = max(0, bisect_right(events, bar.onset, key=_onset) - 1)
    last = bisect_left(events, bar.end, key=_onset)
    for event in events[first:last]:
        start, end = max(event.onset, bar.onset), min(event.end, bar.end)
        if start < end:
            made += _cut_event(event, start - bar.onset, end - bar.onset, bar, meter, lead)
    return _bracket_tuplets(made)


def _onset(event: Event) -> Fraction:
    return event.onset


def _cut_event(event: Event, start: Fraction, end: Fraction, bar: Bar, meter: Meter, lead: Fraction) -> Iterator[Piece]:
    values = list(_split(start, end - start, meter, lead, rest=not event.pitches))
    now = start
    for index, (length, value, odd) in enumerate(values):
        begins = index == 0 and bar.onset + start == event.onset
        ends = index == len(values) - 1 and bar.onset + end == event.end
        sounds = bool(event.pitches)
        yield Piece(event, now, length, value, odd, begins, sounds and not begins, sounds and not ends)
        now += length


def _split(start: Fraction, length: Fraction, meter: Meter, lead: Fraction,
           rest: bool) -> Iterator[tuple[Fraction, Fraction, int]]:
    """(length, written value, tuplet) of the pieces of a stretch."""
    odd = max(odd_part(start.denominator), odd_part(length.denominator))
    if odd == 1:
        for value in notated_values(meter, start + lead, length, rest=rest):
            yield value, value, 1
        return
    factor = Fraction(odd, _time_of(odd))
    step = meter.beat if start < (start // meter.beat + 1) * meter.beat else length
    now = start
    while now < start + length:
        edge = min(start + length, (now // step + 1) * step)
        share = edge - now
        if odd_part(share.denominator) == 1 and odd_part(now.denominator) == 1:
            yield from _split(now, share, meter, lead, rest)
        else:
            for value in _printable(share * factor):
                yield value / factor, value, odd
        now = edge


def _time_of(odd: int) -> int:
    if odd not in TUPLETS:
        raise ValueError(f"a tuplet of {odd} is not written")
    return TUPLETS[odd]


def _printable(value: Fraction) -> list[Fraction]:
    """Printable values that sum up to `value`, longest first."""
    if is_printable(value):
        return [value]
    for step in range(-1, 8):
        part = Fraction(1, 2 ** step) if step >= 0 else Fraction(2)
        if part < value and odd_part((value - part).denominator) == 1:
            return [part, *_printable(value - part)]
    raise ValueError(f"a length of {value} is not written")


def _bracket_tuplets(pieces: list[Piece]) -> list[Piece]:
    """A tuplet opens with its first note and closes where its notes add up to a plain value."""
    made = list(pieces)
    start: int | None = None
    for index, piece in enumerate(pieces):
        if piece.odd == 1:
            start = None
            continue
        if start is None:
            start = index
            made[index] = replace(made[index], opens=True)
        lasted = sum((p.length for p in pieces[start:index + 1]), Fraction(0))
        follower = pieces[index + 1] if index + 1 < len(pieces) else None
        if odd_part(lasted.denominator) == 1 or follower is None or follower.odd == 1:
            made[index] = replace(made[index], closes=True)
            start = None
    return made
