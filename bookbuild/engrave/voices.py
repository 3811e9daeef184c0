"""Voices of an arrangement as the engraver's trees: ties at beats and barlines, tuplets, fingers, letters."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import lcm

from bookbuild.arrange.model import Bar, Event, Role, Voice
from bookbuild.engrave.leaves import Group, Leaf, Silence, spell_voice
from bookbuild.exact import Fraction
from bookbuild.theory.meter import Meter, odd_part
from bookbuild.theory.notes import notated_values

_TUPLET_SPANS = tuple(Fraction(1, n) for n in (16, 8, 4, 2, 1))


@dataclass(frozen=True)
class Piece:
    """A part of an event inside one bar, at `onset` from the bar's nominal start."""

    event: Event
    onset: Fraction
    length: Fraction
    first: bool
    last: bool

    @cached_property
    def end(self) -> Fraction:
        """Where the piece stops, from the bar's nominal start."""
        return self.onset + self.length


def cut_at_bars(voice: Voice, bars: Sequence[Bar], meter: Meter) -> list[list[Piece]]:
    """The voice's events cut at the barlines: one list of pieces a bar.

    An upbeat's places count from where a full bar would have begun, so its beats fall where the ear hears them.
    """
    rows: list[list[Piece]] = []
    events = list(voice.events)
    at = 0
    for bar in bars:
        shift = (meter.bar - bar.length if bar.number == 0 and bar.length < meter.bar else Fraction(0)) - bar.onset
        row = []
        while at < len(events) and events[at].onset < bar.end:
            event = events[at]
            start, stop = max(event.onset, bar.onset), min(event.end, bar.end)
            row.append(Piece(event, start + shift, stop - start, start == event.onset, stop == event.end))
            if event.end > bar.end:
                break
            at += 1
        rows.append(row)
    return rows


def _is_dyadic(value: Fraction) -> bool:
    return value.denominator & (value.denominator - 1) == 0


class _OpenTuplet(ValueError):
    """A tuplet that closes nowhere: a note is held over the beat it would end on."""


def _cut_at_beats(pieces: Sequence[Piece], beat: Fraction) -> list[Piece]:
    """Pieces cut wherever a beat begins, so that every tuplet closes with its beat; the parts are tied."""
    cut: list[Piece] = []
    for piece in pieces:
        edges = [piece.onset]
        edges += [beat * k for k in range(piece.onset // beat + 1, -(-piece.end // beat))]
        edges.append(piece.end)
        for index, (start, end) in enumerate(pairwise(edges)):
            last = index == len(edges) - 2
            cut.append(Piece(piece.event, start, end - start, piece.first and index == 0, piece.last and last))
    return cut


def group_tuplets(pieces: Sequence[Piece], meter: Meter) -> list[tuple[int, list[Piece]]]:
    """A bar's pieces in groups of one written ratio; a note that keeps a tuplet open is cut at the beats.

    A tuplet that begins beside its place in the bar, as three sixteenths after the first, ends where it comes out even.
    """
    try:
        return list(tuplet_groups(pieces))
    except _OpenTuplet:
        cut = _cut_at_beats(pieces, meter.beat)
    try:
        return list(tuplet_groups(cut))
    except _OpenTuplet:
        return list(tuplet_groups(cut, beside=True))


def _tuplet_end(pieces: Sequence[Piece], at: int, beside: bool) -> int:
    """Index after the last piece of the tuplet that begins with piece `at`: the smallest span that closes evenly.

    With `beside` the span need not begin at a multiple of its length.
    """
    start = pieces[at].onset
    for span in _TUPLET_SPANS:
        if (start / span).denominator != 1:
            continue
        stop = at
        while stop < len(pieces) and pieces[stop].end < start + span:
            stop += 1
        if stop < len(pieces) and pieces[stop].end == start + span:
            return stop + 1
    ends = (stop + 1 for stop in range(at, len(pieces)) if beside and _is_dyadic(pieces[stop].end))
    if end := next(ends, 0):
        return end
    raise _OpenTuplet(start)


def tuplet_groups(pieces: Sequence[Piece], beside: bool = False) -> Iterator[tuple[int, list[Piece]]]:
    """Runs of pieces with the number of written values in the group's time: 1 for plain, 3 or 5… for a tuplet."""
    at = 0
    while at < len(pieces):
        piece = pieces[at]
        if _is_dyadic(piece.onset) and _is_dyadic(piece.length):
            yield 1, [piece]
            at += 1
            continue
        stop = _tuplet_end(pieces, at, beside)
        group = list(pieces[at:stop])
        odd = lcm(*(odd_part(value.denominator) for piece in group for value in (piece.onset, piece.length)))
        yield odd, group
        at = stop


def _written_lengths(meter: Meter, piece: Piece, odd: int) -> tuple[Fraction, ...]:
    if odd == 1:
        return notated_values(meter, piece.onset, piece.length, rest=not piece.event.pitches)
    # Inside a tuplet a value is written as if the group were plain: three in the time of two.
    normal = 1 << (odd.bit_length() - 1)
    return notated_values(Meter(4, 4), Fraction(0), piece.length * odd / normal)


def list_accents(voice: Voice, bars: Sequence[Bar]) -> dict[Fraction, bool]:
    """Onsets of the accents to print: a bar's pattern where it is new in its section (a last bar may break one off).

    False at the first accent left out (if any), where "sim." tells that the pattern goes on.
    """
    shown: dict[Fraction, bool] = {}
    known: set[tuple[Fraction, ...]] = set()
    accented = [event.onset for event in voice.events if event.accent]
    for bar in bars:
        here = [onset for onset in accented if bar.onset <= onset < bar.end]
        pattern = tuple(onset - bar.onset for onset in here)
        if bar.section:
            known.clear()
        closes = bar is bars[-1] and any(set(pattern) <= set(old) for old in known)
        if pattern not in known and not closes:
            shown.update(dict.fromkeys(here, True))
        elif here and all(shown.values()):
            shown[here[0]] = False
        known.add(pattern)
    return shown


def _marks(event: Event, role: Role, accents: Mapping[Fraction, bool], *, tied: bool) -> str:
    # Stacked fingers read as the chord does, highest on top: under the fill the first printed must be the highest.
    fingers = reversed(event.fingers) if role is Role.FILL else event.fingers
    marks = "".join(f"-{finger}" for finger in fingers if finger)
    if tied and marks:
        # A tie that begins at the note takes the place nearest to it.
        marks = "-\\tweak padding #1.1 " + marks
    if event.onset in accents:
        marks += "->" if accents[event.onset] else "-\\simile"
    if event.letter:
        marks += f'^\\markup \\letter "{event.letter}"'
    return marks


def _piece_leaves(meter: Meter, piece: Piece, odd: int, role: Role, accents: Mapping[Fraction, bool]) -> list[Leaf]:
    event = piece.event
    if not event.pitches and not event.hidden and piece.length == meter.bar:
        return [Leaf((), meter.bar, Silence.BAR)]
    values = _written_lengths(meter, piece, odd)
    if not event.pitches:
        return [Leaf((), value, Silence.SKIP if event.hidden else Silence.REST) for value in values]
    made = []
    for index, value in enumerate(values):
        tie = "" if piece.last and index == len(values) - 1 else "~"
        marks = _marks(event, role, accents, tied=bool(tie)) if piece.first and index == 0 else ""
        made.append(Leaf(event.pitches, value, after=marks + tie))
    return made


def bars_alone(beneath: Voice, bars: Sequence[Bar]) -> frozenset[Fraction]:
    """Onsets of the bars in which the voice beneath is silent, so that the one above has the staff for itself."""
    sounding = [event for event in beneath.events if event.pitches]
    taken = {bar.onset for bar in bars for event in sounding if event.onset < bar.end and bar.onset < event.end}
    return frozenset(bar.onset for bar in bars) - taken


def engrave_voice(voice: Voice, bars: Sequence[Bar], meter: Meter, *, beneath: Voice | None = None) -> str:
    """A voice as engraver text, `{ … }` without context.

    With a voice `beneath` it in the staff it keeps to the upper side, but for the bars where that one is silent.
    """
    parts: list[Leaf | Group] = []
    accents = list_accents(voice, bars)
    alone = bars_alone(beneath, bars) if beneath else frozenset()
    side = ""
    for bar, row in zip(bars, cut_at_bars(voice, bars, meter), strict=True):
        first = len(parts)
        for odd, group in group_tuplets(row, meter):
            made = [leaf for piece in group for leaf in _piece_leaves(meter, piece, odd, voice.role, accents)]
            parts += made if odd == 1 else [Group(f"{odd}:{1 << (odd.bit_length() - 1)}", tuple(made))]
        wanted = "\\oneVoice" if bar.onset in alone else "\\voiceOne"
        if beneath and wanted != side and first < len(parts):
            parts[first] = replace(parts[first], before=wanted)
            side = wanted
    return spell_voice(parts, voice.role.value)
