"""How many bars stand on a line: rows that follow the phrases and hold their notes at ease."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from bookbuild.arrange.model import Arrangement, Bar, BellowsSpan
from bookbuild.exact import Fraction

SLOT_EM = 0.56
"""Least width of one column (a syllable, a note, a stroke) in staff heights: legible on printed A5 pages."""
BAR_EM = 0.45
"""What a barline takes, in staff heights."""
EASE = 1.12
"""How much wider than its least a row must be able to be for two phrases to share it."""
SHORT_ROW = 1.5
"""How much longer than the longest unshared row a row may be where not all rows are alike: an introduction joins on."""
LEAD_EM = 1.9
"""Clef, key and brace at the line's start, in staff heights."""
AIR_EM = 0.14
"""White beside a syllable, in staff heights."""
_LETTER_EM = {**dict.fromkeys("ijltfr' ", 0.18), **dict.fromkeys("mwMW&", 0.43)}
_USUAL_LETTER_EM = 0.29
"""Widths of bold letters at the counting's size in staff heights (measured on Source Sans 3)."""


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


def syllable_width(text: str) -> float:
    """About how wide a syllable is printed, in staff heights."""
    return sum(_LETTER_EM.get(letter, _USUAL_LETTER_EM) for letter in text)


def bar_widths(arrangement: Arrangement) -> list[float]:
    """The least width of each bar in staff heights: its columns, no narrower than their syllables, and a barline.

    A column is a moment at which a syllable, a note or a stroke of a shake begins.
    """
    onsets = [bar.onset for bar in arrangement.bars]
    columns = {event.onset: SLOT_EM for voice in arrangement.voices for event in voice.events if event.pitches}
    columns |= {moment: SLOT_EM for span in arrangement.bellows for moment in _strokes(span)}
    columns |= {c.onset: max(SLOT_EM, syllable_width(c.text) + AIR_EM) for c in arrangement.counts}
    widths = [BAR_EM] * len(onsets)
    for moment, width in columns.items():
        widths[bisect_right(onsets, moment) - 1] += width
    return widths


def _strokes(span: BellowsSpan) -> Iterator[Fraction]:
    """The moments at which the strokes of a shake begin."""
    moment = span.onset
    while span.stroke and moment < span.end:
        yield moment
        moment += span.stroke


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


def _split_evenly(bars: Sequence[Bar], run: list[int], fits: Callable[[Sequence[int]], bool]) -> list[list[int]]:
    """Cut a phrase that does not fit into the fewest rows of nearly equal bar count; a bar too wide stands alone."""
    lead = 1 if len(run) > 1 and bars[run[0]].number == 0 else 0
    count = len(run) - lead
    for rows in range(1, count + 1):
        cuts = [0, *(lead + round(count * k / rows) for k in range(1, rows + 1))]
        parts = [run[a:b] for a, b in itertools.pairwise(cuts)]
        if all(map(fits, parts)):
            return parts
    return [run[: lead + 1], *([index] for index in run[lead + 1 :])]


def break_lines(arrangement: Arrangement, width_in_staves: float) -> tuple[tuple[int, ...], ...]:
    """Rows of bar indices. A phrase is cut, evenly (4 = 2 + 2), only where it cannot be narrow enough for one row;
    whole phrases share a row where they stand at ease, so that all rows are alike: 8 + 8, never 8 + 4 + 4 or 12 + 4.
    """
    bars, widths, room = arrangement.bars, bar_widths(arrangement), width_in_staves - LEAD_EM

    def fits(row: Sequence[int], ease: float = 1.0) -> bool:
        return ease * sum(widths[index] for index in row) <= room + 1e-9

    def is_short(row: Sequence[int]) -> bool:
        return _full_bars(bars, row) <= SHORT_ROW * longest

    parts = [_split_evenly(bars, run, fits) for run in phrases(bars)]
    longest = max(_full_bars(bars, row) for part in parts for row in part)
    for most in range(len(parts), 1, -1):
        rows = _join_phrases(parts, lambda row: fits(row, EASE), most)
        if len({_full_bars(bars, row) for row in rows}) == 1:
            return tuple(tuple(row) for row in rows)
    return tuple(map(tuple, _join_phrases(parts, lambda row: fits(row, EASE) and is_short(row), len(parts))))


def _full_bars(bars: Sequence[Bar], row: Sequence[int]) -> int:
    """Bars of a row without the upbeat."""
    return sum(bars[index].number > 0 for index in row)


def _join_phrases(
    parts: Sequence[list[list[int]]], may_share: Callable[[list[int]], bool], most: int
) -> list[list[int]]:
    """The rows of all phrases; up to `most` whole phrases are put together on a row as long as they may share it."""
    rows: list[list[int]] = []
    shared = most
    for part in parts:
        if len(part) == 1 and shared < most and may_share(rows[-1] + part[0]):
            rows[-1] += part[0]
            shared += 1
            continue
        rows += [list(row) for row in part]
        shared = 1 if len(part) == 1 else most
    return rows
