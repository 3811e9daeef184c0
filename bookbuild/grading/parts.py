"""What each hand does in an arrangement, on a grid of whole bars and at the speed it is heading for. All times in
whole notes unless said otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from bookbuild.arrange.model import Arrangement, Bar, BellowsSpan, Event, Role
from bookbuild.arrange.shake import split_strokes
from bookbuild.exact import Fraction
from bookbuild.theory.meter import Meter

_PARTS = {
    "clap": (Role.CLAP,),
    "melody": (Role.MELODY,),
    "fill": (Role.FILL,),
    "left": (Role.LEFT, Role.BASS, Role.CHORD),
}
RIGHT = ("melody", "fill")
HANDS = (("clap",), RIGHT, ("left",))
"""The parts each hand plays (clapping is a hand of its own)."""


@dataclass(frozen=True)
class Part:
    """One layer of the playing: `clap`, `melody`, `fill` or `left` (both left-hand voices together).

    `events` are what sounds, in order; `struck` those among them that a finger begins: where the bellows alone repeat
    a note in a shake, nothing is struck.
    """

    name: str
    events: tuple[Event, ...]
    struck: tuple[Event, ...]

    @cached_property
    def onsets(self) -> tuple[Fraction, ...]:
        """Moments at which something begins to sound, rising, each once."""
        return tuple(sorted({event.onset for event in self.events}))

    @cached_property
    def strikes(self) -> tuple[Fraction, ...]:
        """Moments at which fingers strike, rising, each once."""
        return tuple(sorted({event.onset for event in self.struck}))


@dataclass(frozen=True)
class Music:
    """An arrangement read for grading."""

    made: Arrangement
    parts: tuple[Part, ...]

    @property
    def goal(self) -> int:
        """Beats a minute at the top of the ladder."""
        return self.made.ladder[-1] if self.made.ladder else self.made.tempo.goal

    def seconds(self, length: Fraction) -> float:
        """How long a stretch of music lasts at the goal."""
        return float(length / self.made.tempo.beat) * 60 / self.goal

    @cached_property
    def bar_starts(self) -> tuple[Fraction, ...]:
        """Where each bar begins when every bar stands on a grid of whole bars (see `align_bars`)."""
        return align_bars(self.made.bars, self.made.meter)

    @property
    def beats(self) -> Fraction:
        """Counted beats from beginning to end."""
        return self.made.length / self.made.meter.beat

    def part(self, name: str) -> Part | None:
        """The part of that name, if it plays at all."""
        return next((part for part in self.parts if part.name == name), None)

    @cached_property
    def sounding(self) -> tuple[tuple[Fraction, ...], ...]:
        """For each hand that plays, its moments on the grid of whole bars; a shaking arm is a hand of its own."""
        hands = [self._list_moments(names, bellows=True) for names in HANDS]
        return tuple(self.place(hand) for hand in (*hands, self.strokes) if hand)

    @cached_property
    def striking(self) -> tuple[tuple[Fraction, ...], ...]:
        """For each hand whose fingers strike, those moments on the grid of whole bars."""
        hands = [self._list_moments(names, bellows=False) for names in HANDS]
        return tuple(self.place(hand) for hand in hands if hand)

    def _list_moments(self, names: Sequence[str], *, bellows: bool) -> tuple[Fraction, ...]:
        own = [part.onsets if bellows else part.strikes for part in self.parts if part.name in names]
        return own[0] if len(own) == 1 else tuple(sorted(set().union(*own)))

    @cached_property
    def strokes(self) -> tuple[Fraction, ...]:
        """Moments at which a stroke of a bellows shake begins."""
        shaken = [span for span in self.made.bellows if span.stroke is not None]
        return tuple(stroke.onset for span in shaken for stroke in split_strokes(span))

    @cached_property
    def _shifts(self) -> frozenset[Fraction]:
        """By how much bars stand later on the grid of whole bars than in the arrangement."""
        return frozenset(start - bar.onset for start, bar in zip(self.bar_starts, self.made.bars, strict=True))

    def place(self, moments: Iterable[Fraction]) -> tuple[Fraction, ...]:
        """Rising moments of the arrangement on the grid of whole bars: a downbeat is a multiple of the bar."""
        if len(self._shifts) == 1:
            (shift,) = self._shifts
            return tuple(moment + shift for moment in moments) if shift else tuple(moments)
        placed, index = [], 0
        for moment in moments:
            while index + 1 < len(self.made.bars) and self.made.bars[index].end <= moment:
                index += 1
            placed.append(self.bar_starts[index] + moment - self.made.bars[index].onset)
        return tuple(placed)

    def split_bars(self, placed: Iterable[Fraction]) -> list[list[Fraction]]:
        """Moments on the grid of whole bars, bar by bar, counted from the bar's own downbeat."""
        full = self.made.meter.bar
        rows: list[list[Fraction]] = [[] for _ in range(int(self.bar_starts[-1] // full) + 1)]
        for moment in placed:
            number, inside = divmod(moment, full)
            rows[number].append(inside)
        return rows


def read_music(made: Arrangement) -> Music:
    """The parts of an arrangement that sound."""
    parts = []
    for name, roles in _PARTS.items():
        sounding, struck = [], []
        for voice in made.voices:
            if voice.role in roles:
                events = [event for event in voice.events if event.pitches]
                sounding += events
                struck += _drop_repeated(events, made.bellows)
        if sounding:
            parts.append(Part(name, _in_order(sounding), _in_order(struck)))
    return Music(made, tuple(parts))


def _in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    return tuple(sorted(events, key=lambda event: event.onset))


def _drop_repeated(events: Sequence[Event], bellows: Sequence[BellowsSpan]) -> list[Event]:
    """The events without those that only repeat the one before by a stroke of the bellows."""
    shaken = [span for span in bellows if span.stroke is not None]
    kept: list[Event] = []
    before: Event | None = None
    for event in events:
        span = next((span for span in shaken if span.onset <= event.onset < span.end), None)
        repeated = (
            span is not None
            and before is not None
            and before.end == event.onset > span.onset
            and before.pitches == event.pitches
            and before.length == event.length == span.stroke
        )
        before = event
        if not repeated:
            kept.append(event)
    return kept


def align_bars(bars: Sequence[Bar], meter: Meter) -> tuple[Fraction, ...]:
    """Starts of the bars on a grid of whole bars, from 0: an upbeat ends on a barline of the grid, any other bar
    begins on one; a short bar that completes the one before goes on where that ended."""
    starts, now = [], Fraction(0)
    for bar in bars:
        opens = bar.number == 0 or (bool(bar.section) and bar.length < meter.bar)
        if now % meter.bar and (now % meter.bar) + bar.length <= meter.bar and bar.length < meter.bar:
            start = now
        elif opens:
            start = -((-now - bar.length) // meter.bar) * meter.bar - bar.length
        else:
            start = -(-now // meter.bar) * meter.bar
        starts.append(start)
        now = start + bar.length
    return tuple(starts)


def off_beat(moment: Fraction, meter: Meter) -> bool:
    """True when a moment on the grid of whole bars lies between beats."""
    return moment % meter.beat != 0
