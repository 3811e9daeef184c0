"""How many bars stand on a line: rows that follow the phrases and hold their notes at ease."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from bookbuild.arrange.model import Arrangement, Bar

SLOT_EM = 0.62
"""Width of one slot of the counting grid in staff heights: a syllable and air (measured on printed pages)."""
BAR_EM = 0.45
"""What a barline takes, in staff heights."""
LEAD_EM = 1.9
"""Clef, key and brace at the line's start, in staff heights."""


def usual_slot(arrangement: Arrangement) -> Fraction:
    """The commonest step of the counting grid, or the stroke of a shake: the unit of even spacing.

    Without counting, the shortest note.
    """
    strokes = [span.stroke for span in arrangement.bellows if span.stroke]
    if strokes:
        return min(strokes)
    steps = Counter(count.length for count in arrangement.counts)
    if steps:
        return max(steps, key=lambda length: (steps[length], -length))
    lengths = [event.length for voice in arrangement.voices for event in voice.events if event.pitches]
    return min(lengths, default=Fraction(1, 4))


def fullest_bar(arrangement: Arrangement) -> int:
    """The most columns any bar has: different moments at which a syllable, a note or a stroke of a shake begins."""
    shakes = [span.stroke for span in arrangement.bellows if span.stroke]
    if shakes:
        return int(arrangement.meter.bar / min(shakes))
    moments = {count.onset for count in arrangement.counts}
    moments |= {event.onset for voice in arrangement.voices for event in voice.events if event.pitches}
    return max(Counter(bisect_right([bar.onset for bar in arrangement.bars], moment) for moment in moments).values())


def bars_per_line(arrangement: Arrangement, width_in_staves: float) -> float:
    """How many full bars fit on a line `width_in_staves` staff heights wide."""
    return max(1.0, (width_in_staves - LEAD_EM) / (fullest_bar(arrangement) * SLOT_EM + BAR_EM))


def phrases(bars: Sequence[Bar]) -> list[list[int]]:
    """Indices of the bars, cut after phrase ends, before sections and at repeats; an upbeat joins what it leads to."""
    runs: list[list[int]] = [[]]
    for index, bar in enumerate(bars):
        if runs[-1] and (bar.section or bar.opens_repeat) and any(bars[i].number for i in runs[-1]):
            runs.append([])
        runs[-1].append(index)
        if bar.phrase_end or bar.closes_repeat:
            runs.append([])
    runs = [run for run in runs if run]
    if len(runs) > 1 and all(bars[i].number == 0 for i in runs[-1]):
        runs[-2] += runs.pop()
    return runs


def _weight(bars: Sequence[Bar], run: Sequence[int], full: Fraction) -> float:
    return float(sum((bars[i].length for i in run), Fraction(0)) / full)


def _split_evenly(bars: Sequence[Bar], run: list[int], fit: float, full: Fraction) -> list[list[int]]:
    """Cut a phrase that does not fit into the fewest rows of nearly equal bar count."""
    rows = max(1, ceil(_weight(bars, run, full) / fit - 1e-9))
    lead = 1 if len(run) > 1 and bars[run[0]].number == 0 else 0
    count = len(run) - lead
    cuts = [lead + round(count * k / rows) for k in range(rows + 1)]
    cuts[0] = 0
    return [run[a:b] for a, b in itertools.pairwise(cuts) if b > a]


def break_lines(arrangement: Arrangement, width_in_staves: float) -> tuple[tuple[int, ...], ...]:
    """Rows of bar indices. Whole phrases share a row when they fit; a longer phrase is cut evenly (4 = 2 + 2)."""
    bars, full = arrangement.bars, arrangement.meter.bar
    fit = bars_per_line(arrangement, width_in_staves)
    rows: list[list[int]] = []
    open_row = False
    for run in phrases(bars):
        parts = _split_evenly(bars, run, fit, full)
        if len(parts) == 1 and open_row and _weight(bars, rows[-1] + run, full) <= fit:
            rows[-1] += run
            continue
        rows += parts
        open_row = len(parts) == 1
    return tuple(tuple(row) for row in rows)
