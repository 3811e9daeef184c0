"""Where a moment lies in a line: its bar, its beat, its chord; and voices closed with rests. Whole-note Fractions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bookbuild.arrange.line import merge_chords
from bookbuild.arrange.model import Bar, Event, Line
from bookbuild.arrange.notices import say, say_all
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan
from bookbuild.theory.chords import Chord


@dataclass(frozen=True)
class Moments:
    """Look-ups over one line, made once by `read_moments`."""

    line: Line
    bar_onsets: tuple[Fraction, ...]
    chords: tuple[ChordSpan, ...]
    chord_onsets: tuple[Fraction, ...]

    def bar_at(self, moment: Fraction) -> Bar:
        """The bar that holds a moment (the last bar for the line's end)."""
        return self.line.bars[max(0, bisect_right(self.bar_onsets, moment) - 1)]

    def bar_start(self, moment: Fraction) -> Fraction:
        """Where the moment's bar begins, or would begin if an upbeat were a full bar."""
        bar = self.bar_at(moment)
        return bar.end - self.line.meter.bar if bar.number == 0 else bar.onset

    def on_beat(self, moment: Fraction) -> bool:
        """True when a counted beat begins at the moment."""
        return (moment - self.bar_start(moment)) % self.line.meter.beat == 0

    def next_beat(self, moment: Fraction) -> Fraction:
        """The first beat after the moment; a barline counts as one."""
        beat = self.line.meter.beat
        start = self.bar_start(moment)
        return min(start + ((moment - start) // beat + 1) * beat, self.bar_at(moment).end)

    def chord_index(self, moment: Fraction) -> int:
        """Index in `chords` of the chord that holds at a moment; −1 when the line has no chords there."""
        index = bisect_right(self.chord_onsets, moment) - 1
        return index if index >= 0 and moment < self.chords[index].end else -1

    def chord_at(self, moment: Fraction) -> Chord | None:
        """The chord of the moment, None without harmony."""
        index = self.chord_index(moment)
        return self.chords[index].chord if index >= 0 else None

    def chord_after(self, moment: Fraction) -> Chord | None:
        """The next chord that differs from the moment's, None when there is none."""
        now = self.chord_at(moment)
        later = self.chords[bisect_right(self.chord_onsets, moment):]
        return next((span.chord for span in later if span.chord is not None and span.chord != now), None)

    def changes_in(self, start: Fraction, end: Fraction) -> tuple[Fraction, ...]:
        """Moments strictly between `start` and `end` at which the chord changes."""
        return self.chord_onsets[bisect_right(self.chord_onsets, start):bisect_left(self.chord_onsets, end)]

    def name_bars(self, moments: Iterable[Fraction]) -> str:
        """The bars of some moments in words: `bar 4`, `bars 1–4 and 7`, `the upbeat and bar 3`."""
        numbers = sorted({self.bar_at(moment).number for moment in moments})
        parts: list[str] = [say("say.in-upbeat")] if 0 in numbers else []
        counted = [number for number in numbers if number]
        if counted:
            key = "say.in-bar" if len(counted) == 1 else "say.in-bars"
            parts.append(say(key, numbers=say_all(_name_runs(counted))))
        return say_all(parts)


def read_moments(line: Line) -> Moments:
    """Look-ups over a line; neighbouring spans of one chord become one."""
    merged = tuple(merge_chords(line.chords))
    return Moments(line, tuple(bar.onset for bar in line.bars), merged, tuple(span.onset for span in merged))


def close_with_rests(events: Sequence[Event], moments: Moments, *, hidden: bool = False) -> tuple[Event, ...]:
    """The events in order with rests between them up to the line's end.

    Rests are cut at barlines; hidden ones at beats too, so that no undrawn time straddles a tuplet.
    """
    closed: list[Event] = []
    now = Fraction(0)
    for event in (*events, Event(moments.line.length, Fraction(0))):
        while now < event.onset:
            stop = moments.next_beat(now) if hidden else moments.bar_at(now).end
            stop = min(stop, event.onset)
            closed.append(Event(now, stop - now, hidden=hidden))
            now = stop
        if event.length:
            closed.append(event)
            now = event.end
    return tuple(closed)


def _name_runs(numbers: Sequence[int]) -> list[str]:
    """Rising numbers as words, three and more in a row as `1–4`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return [word for run in runs for word in ([f"{run[0]}–{run[-1]}"] if len(run) > 2 else map(str, run))]
