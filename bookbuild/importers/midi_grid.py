"""Played moments to written ones: the nearest sixteenth or triplet, and the bars they fill."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from bookbuild.exact import Fraction
from bookbuild.importers.written import TuneFault, WrittenBar, WrittenNote
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch

SIXTEENTH = Fraction(1, 16)
TRIPLET = Fraction(1, 12)
BEAT = Fraction(1, 4)
FREE = Fraction(1, 24)
"""Mean displacement beyond which a performance cannot be written down."""


@dataclass(frozen=True)
class Struck:
    """A played note: onset and end in whole notes, MIDI key."""

    onset: Fraction
    end: Fraction
    key: int


def draw_to_grid(struck: list[Struck]) -> tuple[list[Struck], Fraction]:
    """Move every onset to its beat's sixteenths or triplets, whichever lie nearer; returns the mean displacement.

    A note reaches to the next one when it fills three quarters of the gap, else a rest follows. Raises TuneFault when
    the notes lie nowhere near a grid.
    """
    onsets = _snap_onsets([note.onset for note in struck])
    moved = sum((abs(a - note.onset) for a, note in zip(onsets, struck, strict=True)), Fraction(0)) / len(struck)
    if moved > FREE:
        raise TuneFault("it was played too freely to be written down")
    last = struck[-1]
    final = _snap(max(last.end, last.onset + SIXTEENTH), SIXTEENTH)
    made = []
    for index, (start, following) in enumerate(pairwise([*onsets, max(final, onsets[-1] + SIXTEENTH)])):
        if following <= start:
            continue
        sounded = struck[index].end - struck[index].onset
        gap = following - start
        end = following if sounded * 4 >= gap * 3 else min(following, start + max(SIXTEENTH, _snap(sounded, SIXTEENTH)))
        if (end * 16).denominator != 1 and (end * 12).denominator != 1:
            end = following
        made.append(Struck(start, end, struck[index].key))
    return made, moved


def _snap(moment: Fraction, step: Fraction) -> Fraction:
    return round(moment / step) * step


def _snap_onsets(onsets: list[Fraction]) -> list[Fraction]:
    """Beat by beat the grid with the smaller sum of displacements."""
    by_beat: dict[int, list[Fraction]] = {}
    for onset in onsets:
        by_beat.setdefault(int((onset + SIXTEENTH / 3) / BEAT), []).append(onset)
    made = []
    for moments in by_beat.values():
        errors = {step: sum(abs(_snap(m, step) - m) for m in moments) for step in (SIXTEENTH, TRIPLET)}
        step = TRIPLET if errors[TRIPLET] < errors[SIXTEENTH] * Fraction(7, 10) else SIXTEENTH
        made += [_snap(moment, step) for moment in moments]
    return made


def bar_notes(grid: list[Struck], meter: Meter, key: Key, notes: list[str]) -> tuple[WrittenBar, ...]:
    """Cut notes at the barlines, with ties and rests. Silence of half a bar or more at the start makes an upbeat."""
    start = _first_bar(grid[0].onset, meter)
    cursor = start
    if start < grid[0].onset < start + meter.bar and grid[0].onset - start >= meter.bar / 2:
        notes.append("the tune begins after a silence: it was read as an upbeat")
        cursor = grid[0].onset
    bars: list[list[WrittenNote]] = [[]]
    bar_start, line = cursor, start + meter.bar
    pieces = _with_rests(grid, cursor)
    for onset, end, pitch in pieces:
        while onset < end:
            stop = min(end, line)
            tied = pitch is not None and stop < end
            bars[-1].append(WrittenNote(onset - bar_start, stop - onset,
                                        None if pitch is None else _spell(pitch, key), tied))
            onset = stop
            if onset == line:
                bars.append([])
                bar_start, line = line, line + meter.bar
    return _close_last(bars, meter, cursor > start)


def _first_bar(onset: Fraction, meter: Meter) -> Fraction:
    return int(onset / meter.bar) * meter.bar


def _with_rests(grid: list[Struck], start: Fraction) -> list[tuple[Fraction, Fraction, int | None]]:
    pieces: list[tuple[Fraction, Fraction, int | None]] = []
    now = start
    for note in grid:
        if note.onset > now:
            pieces.append((now, note.onset, None))
        pieces.append((note.onset, note.end, note.key))
        now = note.end
    return pieces


def _close_last(bars: list[list[WrittenNote]], meter: Meter, upbeat: bool) -> tuple[WrittenBar, ...]:
    if not bars[-1]:
        bars.pop()
    filled = bars[-1][-1].end
    if filled < meter.bar and len(bars) > 1:
        bars[-1].append(WrittenNote(filled, meter.bar - filled, None))
    first = 0 if upbeat else 1
    return tuple(WrittenBar(first + i, meter, tuple(bar)) for i, bar in enumerate(bars))


def _spell(midi: int, key: Key) -> Pitch:
    tone = key.spell(midi % 12)
    octave = midi // 12 - 1
    pitch = tone.at(octave)
    return pitch if pitch.midi == midi else tone.at(octave + (1 if pitch.midi < midi else -1))
