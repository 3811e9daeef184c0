"""The stretch of music an exercise works on: sections of a tune, or plain bars on one chord, in printed order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from bookbuild.arrange.model import Bar, Line
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, MelodyNote, Section, Stretch, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key

PHRASE_BARS = 4
"""Bars in a phrase where the teacher marks no breaths (common practice)."""


@dataclass(frozen=True)
class _Part:
    """A stretch with what is printed round it."""

    stretch: Stretch
    section: str = ""
    key: Key | None = None
    opens_repeat: bool = False
    closes_repeat: bool = False
    ending: str = ""


def _section_parts(section: Section, times: int) -> Iterator[_Part]:
    """A section played `times` in a row, as printed: repeat signs for two and more, endings where it has them."""
    repeated = times > 1
    if not section.endings:
        yield _Part(section.body, section.name, section.key, repeated, repeated)
        return
    if not repeated:
        yield _Part(section.body, section.name, section.key)
        yield _Part(section.endings[-1], key=section.key)
        return
    yield _Part(section.body, section.name, section.key, opens_repeat=True)
    for number, ending in enumerate(section.endings, start=1):
        yield _Part(ending, key=section.key, closes_repeat=number < len(section.endings), ending=f"{number}.")


def _phrase_ends(part: _Part) -> dict[int, Fraction]:
    """Bars of the stretch in which a phrase ends (the teacher's breaths, else every four bars), by index.

    With each the time from the phrase's end to the barline, taken by a pick-up to the next phrase.
    """
    bars = part.stretch.bars
    edges = [sum(bars[:i], Fraction(0)) for i in range(len(bars) + 1)]
    breaths = {note.end for note in part.stretch.notes if note.breath}
    if breaths:
        struck = {note.onset for note in part.stretch.notes if note.pitch is not None}
        return {i: edges[i + 1] - moment if moment in struck else Fraction(0)
                for i in range(len(bars)) for moment in sorted(breaths) if edges[i] < moment <= edges[i + 1]}
    first = 1 if bars[0] < max(bars) and len(bars) > 1 else 0
    return {i: Fraction(0) for i in range(first, len(bars)) if (i - first + 1) % PHRASE_BARS == 0}


def _place_bars(part: _Part, meter: Meter, start: Fraction, number: int, last: bool) -> tuple[list[Bar], int]:
    """Printed bars of a part from moment `start`; returns them and the next bar number."""
    made: list[Bar] = []
    count = len(part.stretch.bars)
    ends = _phrase_ends(part)
    for index, length in enumerate(part.stretch.bars):
        upbeat = index == 0 and length < meter.bar and bool(part.section)
        made.append(
            Bar(
                onset=start,
                length=length,
                number=0 if upbeat else number,
                opens_repeat=part.opens_repeat and index == 0,
                closes_repeat=part.closes_repeat and index == count - 1,
                ending=part.ending,
                section=part.section if index == 0 else "",
                phrase_end=index in ends or (last and index == count - 1),
                pickup=ends.get(index, Fraction(0)),
            )
        )
        start += length
        number += 0 if upbeat else 1
    return made, number


def tune_line(tune: Tune, names: Sequence[str]) -> Line:
    """The named sections in order as a Line; equal neighbours become a repeat. Raises KeyError for an unknown name."""
    parts = [part for name, run in groupby(names) for part in _section_parts(tune.section(name), len(list(run)))]
    bars: list[Bar] = []
    notes: list[MelodyNote] = []
    chords: list[ChordSpan] = []
    start, number = Fraction(0), 1
    opening = current = parts[0].key or tune.key
    for index, part in enumerate(parts):
        closes = index + 1 == len(parts) or bool(parts[index + 1].section)
        placed, number = _place_bars(part, tune.meter, start, number, closes)
        if (part.key or tune.key) != current:
            current = part.key or tune.key
            placed[0] = replace(placed[0], key=current)
        bars += placed
        notes += [replace(note, onset=note.onset + start) for note in part.stretch.notes]
        chords += [replace(span, onset=span.onset + start) for span in part.stretch.chords]
        start += part.stretch.length
    return Line(tune.meter, opening, tuple(bars), tuple(notes), tuple(merge_chords(chords)))


def merge_chords(spans: Sequence[ChordSpan]) -> Iterator[ChordSpan]:
    """Neighbouring spans of one chord as one span."""
    for chord, run in groupby(spans, key=lambda span: span.chord):
        row = list(run)
        yield ChordSpan(row[0].onset, row[-1].end - row[0].onset, chord)


def chord_line(meter: Meter, key: Key, chord: Chord, bars: int) -> Line:
    """Plain bars on one chord, the melody silent."""
    made = tuple(
        Bar(
            meter.bar * i,
            meter.bar,
            i + 1,
            phrase_end=(i + 1) % PHRASE_BARS == 0 or i + 1 == bars,
            section="" if i else "·",
        )
        for i in range(bars)
    )
    end = meter.bar * bars
    return Line(meter, key, made, (MelodyNote(Fraction(0), end, None),), (ChordSpan(Fraction(0), end, chord),))


def cut_line(line: Line, count: int) -> Line:
    """The first `count` full bars of a line (an upbeat comes along)."""
    kept = tuple(bar for bar in line.bars if bar.number <= count)
    if len(kept) == len(line.bars):
        return line
    end = kept[-1].end
    last = replace(kept[-1], phrase_end=True, closes_repeat=any(bar.opens_repeat for bar in kept))
    notes = tuple(replace(n, length=min(n.end, end) - n.onset) for n in line.notes if n.onset < end)
    chords = tuple(replace(c, length=min(c.end, end) - c.onset) for c in line.chords if c.onset < end)
    return Line(line.meter, line.key, (*kept[:-1], last), notes, chords)


def join_lines(first: Line, second: Line) -> Line:
    """Two lines one after the other, bar numbers running on."""
    shift = first.length
    offset = max(bar.number for bar in first.bars)
    bars = tuple(
        replace(bar, onset=bar.onset + shift, number=bar.number + offset if bar.number else 0) for bar in second.bars
    )
    notes = tuple(replace(note, onset=note.onset + shift) for note in second.notes)
    chords = tuple(replace(span, onset=span.onset + shift) for span in second.chords)
    return Line(
        first.meter, first.key, first.bars + bars, first.notes + notes, tuple(merge_chords(first.chords + chords))
    )


def introduction_line(line: Line, count: int) -> Line:
    """`count` bars of groove before a tune: the chords of its first section's last bars, the right hand silent.

    The closing bars hold the cadence, so they set the key and the pulse and lead into the beginning. Raises ValueError
    when the line has no full bar.
    """
    closes = [i for i, bar in enumerate(line.bars) if i + 1 == len(line.bars) or line.bars[i + 1].section]
    stop = closes[0] + 1
    taken = [bar for bar in line.bars[:stop] if bar.length == line.meter.bar][-count:]
    if len(taken) < count:
        taken = [bar for bar in line.bars if bar.length == line.meter.bar][:count]
    if not taken:
        raise ValueError("an introduction is made from full bars, and this music has none")
    bars, chords, now = [], [], Fraction(0)
    for number, bar in enumerate(taken, start=1):
        bars.append(
            Bar(now, bar.length, number, section="introduction" if number == 1 else "", phrase_end=number == len(taken))
        )
        for span in line.chords:
            start, stop_at = max(span.onset, bar.onset), min(span.end, bar.end)
            if start < stop_at:
                chords.append(ChordSpan(now + start - bar.onset, stop_at - start, span.chord))
        now += bar.length
    rest = MelodyNote(Fraction(0), now, None)
    return Line(line.meter, line.key, tuple(bars), (rest,), tuple(merge_chords(chords)))
