"""Checks of the bellows, independent of the planner: every pass is played through as printed and its air added up."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from bookbuild.arrange.air import EASE
from bookbuild.arrange.check_common import Finding, Reporter, list_sounding
from bookbuild.arrange.model import Arrangement, Bar, BellowsSpan, Direction, Event, Role
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Air

NEARLY_CLOSED = Fraction(1, 10)
"""Share of the bellows that counts as nearly closed at a tune's beginning and end; common practice, no source."""


class Stretch(NamedTuple):
    """A piece of a bellows span as played: printed times, the span it is cut from."""

    onset: Fraction
    end: Fraction
    span: BellowsSpan


def check_bellows(arr: Arrangement, air: Air) -> Iterator[Finding]:
    """All rules of the bellows. Where nothing sounds, or only claps, no bellows are asked for."""
    notes = list_sounding(voice for voice in arr.voices if voice.role is not Role.CLAP)
    if not notes:
        return
    broken = list(_check_cover(arr))
    yield from broken
    yield from _check_turns(arr)
    yield from _check_shakes(arr)
    if broken:
        return
    played = play_stretches(arr.bars, arr.bellows)
    yield from _check_directions(arr, played)
    yield from _check_air(arr, played, notes, air)


def _check_cover(arr: Arrangement) -> Iterator[Finding]:
    say, now = Reporter(arr, "bellows-cover"), Fraction(0)
    for span in arr.bellows:
        if span.end <= span.onset:
            yield say(span.onset, "a bellows mark has no length.")
        if span.onset != now:
            what = "is given twice" if span.onset < now else "is not given"
            yield say(min(now, span.onset), f"the bellows direction {what} here.")
        now = span.end
    if now != arr.length:
        yield say(now, "the bellows marks do not end with the last bar.")


def _check_turns(arr: Arrangement) -> Iterator[Finding]:
    """Outside shakes the bellows never turn while a note is held."""
    say = Reporter(arr, "bellows-held")
    voices = [[event for event in voice.events if event.pitches] for voice in arr.voices if voice.role is not Role.CLAP]
    for before, after in pairwise(arr.bellows):
        turns = before.direction is not after.direction or before.air
        if turns and before.stroke is None and after.stroke is None:
            for notes in voices:
                index = bisect_left(notes, before.end, key=lambda note: note.onset) - 1
                if index >= 0 and notes[index].end > before.end:
                    yield say(before.end, "the bellows turn while a note is held.")


def _check_shakes(arr: Arrangement) -> Iterator[Finding]:
    """A shake has whole strokes, opens first unless an odd shake before it says otherwise, and hands its turn on."""
    say, say_first, say_after = (Reporter(arr, rule) for rule in ("shake-strokes", "shake-first", "shake-after"))
    for before, span in zip((None, *arr.bellows), arr.bellows, strict=False):
        handed = _direction_after(before) if before is not None and before.stroke is not None else None
        if span.stroke is not None:
            if ((span.end - span.onset) / span.stroke).denominator != 1:
                yield say(span.onset, "the strokes of the shake do not fill its time.")
            if span.direction is not (handed or Direction.OPEN):
                yield say_first(span.onset, "the shake begins closing; its first stroke opens.")
        elif before is not None and handed not in (None, span.direction) and not before.air:
            yield say_after(span.onset, "the bellows do not go on from the last stroke of the shake.")


def _direction_after(span: BellowsSpan) -> Direction:
    strokes = (span.end - span.onset) / span.stroke if span.stroke else Fraction(1)
    return span.direction if strokes % 2 == 0 else span.direction.other


def play_bars(bars: Sequence[Bar]) -> list[Bar]:
    """The bars in the order they are played: repeats taken, each ending on its own pass."""
    played: list[Bar] = []
    start, index, turn = 0, 0, 1
    while index < len(bars):
        bar = bars[index]
        if bar.opens_repeat and index != start:
            start, turn = index, 1
        passes = [int(number) for number in re.findall(r"\d+", bar.ending)]
        if not passes or turn in passes:
            played.append(bar)
            if bar.closes_repeat and (passes or turn == 1):
                index, turn = start, turn + 1
                continue
        index += 1
        leaves_endings = passes and index < len(bars) and not bars[index].ending
        if (bar.closes_repeat and not passes) or leaves_endings:
            start, turn = index, 1
    return played


def play_stretches(bars: Sequence[Bar], spans: Sequence[BellowsSpan]) -> list[Stretch]:
    """The bellows spans as played, cut only where a repeat or an ending makes the music jump."""
    runs: list[tuple[Fraction, Fraction]] = []
    for bar in play_bars(bars):
        if runs and runs[-1][1] == bar.onset:
            runs[-1] = (runs[-1][0], bar.end)
        else:
            runs.append((bar.onset, bar.end))
    onsets, ends = [span.onset for span in spans], [span.end for span in spans]
    return [Stretch(max(onset, span.onset), min(end, span.end), span) for onset, end in runs
            for span in spans[bisect_right(ends, onset):bisect_left(onsets, end)]]


def _check_directions(arr: Arrangement, played: Sequence[Stretch]) -> Iterator[Finding]:
    """In playing order directions alternate from span to span, also where a repeat leads back."""
    say, say_repeat = Reporter(arr, "bellows-alternate"), Reporter(arr, "bellows-repeat")
    told: set[tuple[Fraction, Fraction]] = set()
    for before, after in pairwise(played):
        if before.span.direction is not after.span.direction or before.span.air or (before.end, after.onset) in told:
            continue
        if after.span.stroke is not None or before.span.stroke is not None:
            continue
        told.add((before.end, after.onset))
        way = _say(after.span.direction)
        if before.end == after.onset:
            yield say(after.onset, f"two marks in a row ask for {way}; the bellows have to turn in between.")
        elif before.end == before.span.end and not _begins_ending(arr, after.onset):
            # A span that runs on past the sign, or that an ending goes on with, is one movement and needs no turn.
            yield say_repeat(after.onset, f"the repeat should begin with a turn, but the bellows come back {way}.")


def _begins_ending(arr: Arrangement, moment: Fraction) -> bool:
    return any(bar.onset == moment and bar.ending for bar in arr.bars)


def _say(direction: Direction) -> str:
    return "opening" if direction is Direction.OPEN else "closing"


class _Meter:
    """Air in seconds of one voice that the printed notes take, added up from the events themselves."""

    def __init__(self, arr: Arrangement, notes: Sequence[Event], air: Air) -> None:
        self.share, self.seconds = Fraction(str(air.voice)), 60 / (arr.tempo.start * arr.tempo.beat)
        times = {Fraction(0), arr.length} | {time for note in notes for time in (note.onset, note.end)}
        onsets, ends = sorted(note.onset for note in notes), sorted(note.end for note in notes)
        self.moments = sorted(times)
        self.rates = [self._rate(bisect_right(onsets, m) - bisect_right(ends, m)) for m in self.moments]
        self.totals = [Fraction(0)]
        for (start, end), rate in zip(pairwise(self.moments), self.rates, strict=False):
            self.totals.append(self.totals[-1] + (end - start) * rate)

    def _rate(self, voices: int) -> Fraction:
        return self.seconds * (1 + self.share * (voices - 1)) if voices else Fraction(0)

    def until(self, moment: Fraction) -> Fraction:
        """Air from the start to a moment."""
        index = bisect_right(self.moments, moment) - 1
        return self.totals[index] + (moment - self.moments[index]) * self.rates[index]


def _check_air(arr: Arrangement, played: Sequence[Stretch], notes: Sequence[Event], air: Air) -> Iterator[Finding]:
    """The bellows stay between closed and full on every pass at the slowest tempo, and end nearly closed.

    A player can spend a share `EASE` more or less than at ease; the air button sets the bellows anywhere.
    """
    full = Fraction(str(air.full))
    low, high = Fraction(0), full * NEARLY_CLOSED
    if played[0].span.stroke is not None and _direction_after(played[0].span) is not played[0].span.direction:
        high = full
    say, meter = Reporter(arr, "air"), _Meter(arr, notes, air)
    for stretch in played:
        use = meter.until(stretch.end) - meter.until(stretch.onset)
        least, most = use * (1 - EASE), use * (1 + EASE)
        if stretch.span.stroke is not None:
            high = min(full, high + use * Fraction(str(air.shake)))
        elif stretch.span.direction is Direction.OPEN:
            low, high = low + least, min(full, high + most)
        else:
            low, high = max(Fraction(0), low - most), high - least
        if low > high:
            yield say(stretch.onset, f"the bellows run out of air while {_say(stretch.span.direction)}.")
            low, high = Fraction(0), full
        if stretch.span.air and stretch.end == stretch.span.end:
            low, high = Fraction(0), full
    if low > full * NEARLY_CLOSED:
        yield say(played[-1].onset, "the tune ends with the bellows open.")
