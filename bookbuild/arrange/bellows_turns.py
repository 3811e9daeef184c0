"""Where the bellows may turn, and how gladly: the passages of a piece and their turn moments.

A passage begins and ends with the bellows at home, nearly closed; so a repeat begins both times alike. A turn costs
points (common practice, no source): none at the end of a phrase, few in a rest or at a barline, many inside a bar. No
turn is ever offered while a note is held.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from bookbuild.arrange.air import Sound
from bookbuild.arrange.model import Bar, BellowsSpan, Event, Role, Voice
from bookbuild.exact import Fraction

PHRASE, SILENCE, BARLINE, MELODY_REST, BEAT, ATTACK = 0, 1, 2, 3, 8, 12
"""Points for a turn at each kind of moment."""
HELD_OVER = 2
"""Points added when the turn comes before a barline that a note is held over."""
LINGERS = Fraction(2, 3)
"""Beats a melody note lasts at least to be heard as a small halt before a shorter one."""
ACCENTED = 1
"""Points taken off a turn on an accented note: the stress covers it."""


@dataclass(frozen=True)
class Turn:
    """A moment for a turn. `at` is the printed moment; `tick` and `air` count as played through one ending."""

    at: Fraction
    tick: int
    air: int
    cost: int = 0
    phrase: bool = False
    silent: bool = False
    """True beside a rest of all voices, long enough for the air button."""


@dataclass(frozen=True)
class Passage:
    """Printed music from one sign to the next, played `passes` times; `endings` (onset, end) follow `end` in turn."""

    start: Fraction
    end: Fraction
    endings: tuple[tuple[Fraction, Fraction], ...] = ()
    passes: int = 1


@dataclass(frozen=True)
class Ground:
    """The bars of a piece with its sound, in ticks: the beat, a full bar, where the melody rests a beat and longer,
    where it lingers (a long note ends), and where all voices are silent for half a beat.
    """

    bars: tuple[Bar, ...]
    sound: Sound
    beat: int
    bar: int
    rests: tuple[int, ...]
    lingers: frozenset[int]
    silences: tuple[tuple[int, int], ...]

    def turn(self, tick: int, cost: int, phrase: bool = False) -> Turn:
        """The turn at a tick, cheaper on an accent."""
        silent = any(start <= tick <= end for start, end in self.silences)
        if cost and tick in self.sound.accents:
            cost -= ACCENTED
        return Turn(Fraction(tick, self.sound.grid), tick, self.sound.air_until(tick), cost, phrase, silent)


def read_ground(bars: Sequence[Bar], voices: Sequence[Voice], sound: Sound, beat: Fraction) -> Ground:
    """What the turns are weighed on; half a beat must lie on the sound's grid."""
    melody = next((voice.events for voice in voices if voice.role is Role.MELODY), ())
    rests = tuple(sound.tick(event.onset) for event in _join_rests(melody) if event.length >= beat)
    lingers = frozenset(sound.tick(event.end) for event, after in pairwise(melody)
                        if event.length >= LINGERS * beat and event.length > after.length)
    return Ground(tuple(bars), sound, sound.tick(beat), max(sound.tick(bar.length) for bar in bars), rests, lingers,
                  tuple(sound.list_silences(sound.tick(beat / 2))))


def _join_rests(events: Sequence[Event]) -> Iterator[Event]:
    """Rests with those that follow them at once joined on."""
    onset: Fraction | None = None
    end = Fraction(0)
    for event in events:
        if not event.pitches:
            onset = event.onset if onset is None else onset
            end = event.end
        elif onset is not None:
            yield Event(onset, end - onset)
            onset = None
    if onset is not None:
        yield Event(onset, end - onset)


def split_passages(bars: Sequence[Bar]) -> list[Passage]:
    """The piece cut at its repeat signs; first and second endings stay with the passage they end."""
    passages, index = [], 0
    while index < len(bars):
        first = index
        while index < len(bars) and not bars[index].ending and not (bars[index].opens_repeat and index > first):
            index += 1
            if bars[index - 1].closes_repeat:
                break
        end = bars[index - 1].end if index > first else bars[first].onset
        closed = index > first and bars[index - 1].closes_repeat
        endings: list[tuple[Fraction, Fraction]] = []
        while not closed and index < len(bars) and bars[index].ending:
            text, onset = bars[index].ending, bars[index].onset
            while index < len(bars) and bars[index].ending == text:
                index += 1
            endings.append((onset, bars[index - 1].end))
        passages.append(Passage(bars[first].onset, end, tuple(endings), 2 if closed else max(1, len(endings))))
    return passages


def shift_starts(passages: Sequence[Passage], ground: Ground, fixed: Sequence[BellowsSpan]) -> list[Passage]:
    """Passages whose common border a note is held over meet at the last free moment within a beat before it.

    Played again, the stroke before the sign already has the new direction, so both passes still begin alike. Without
    such a moment the border stays at the sign, where the jump breaks the note anyway.
    """
    edges = {moment for span in fixed for moment in (span.onset, span.end)}
    moved = list(passages)
    for index in range(1, len(moved)):
        before, after = moved[index - 1], moved[index]
        tick = ground.sound.tick(after.start)
        if before.endings or after.start in edges or ground.sound.is_free(tick):
            continue
        free = _free_before(ground, tick)
        if free is None or free <= ground.sound.tick(before.start):
            continue
        at = Fraction(free, ground.sound.grid)
        moved[index - 1] = Passage(before.start, at, (), before.passes)
        moved[index] = Passage(at, after.end, after.endings, after.passes)
    return moved


def _free_before(ground: Ground, tick: int) -> int | None:
    """The last moment within a beat before `tick` at which a voice moves and none is held."""
    return next((change for change in reversed(ground.sound.changes)
                 if tick - ground.beat < change < tick and ground.sound.is_free(change)), None)


def cut_out(passages: Sequence[Passage], fixed: Sequence[BellowsSpan]) -> list[Passage]:
    """What is left of the passages outside the fixed spans.

    An ending that a fixed span touches becomes a passage of its own, as does each of its fellows.
    """
    left: list[Passage] = []
    for passage in passages:
        last = passage.endings[-1][1] if passage.endings else passage.end
        touched = passage.endings and any(span.end >= passage.end and span.onset < last for span in fixed)
        pieces = [passage]
        if touched:
            pieces = [Passage(passage.start, passage.end), *(Passage(*ending) for ending in passage.endings)]
        for piece in pieces:
            left += _cut_piece(piece, fixed)
    return left


def _cut_piece(piece: Passage, fixed: Sequence[BellowsSpan]) -> Iterator[Passage]:
    now = piece.start
    for span in fixed:
        if span.end <= now or span.onset >= piece.end:
            continue
        if span.onset > now:
            yield Passage(now, span.onset)
        now = span.end
    if now < piece.end or (piece.endings and now == piece.end):
        # Behind a span inside the repeat, each pass comes from that span.
        yield Passage(now, piece.end, piece.endings, piece.passes if now == piece.start else 1)


def list_turns(ground: Ground, start: Fraction, end: Fraction) -> list[Turn]:
    """The turns strictly between two moments, in order, each at its cheapest."""
    first, last = ground.sound.tick(start), ground.sound.tick(end)
    bars = [bar for bar in ground.bars if bar.end > start and bar.onset < end]
    if not bars:
        return []
    found: dict[int, tuple[int, bool]] = {}
    for tick, cost, phrase in _weigh_moments(ground, bars, first, last):
        if first < tick < last and ground.sound.is_free(tick):
            known = found.get(tick, (cost, False))
            found[tick] = (min(cost, known[0]), phrase or known[1])
    return [ground.turn(tick, *found[tick]) for tick in sorted(found)]


def _weigh_moments(ground: Ground, bars: Sequence[Bar], first: int, last: int) -> Iterator[tuple[int, int, bool]]:
    """(tick, cost, phrase end) of every moment worth a look; some of them may not be free."""
    sound = ground.sound
    opening = sound.tick(bars[0].length)
    upbeat = opening if opening < ground.bar and sound.tick(bars[0].onset) == first else 0
    yield from ((start, SILENCE, False) for start, _ in ground.silences)
    yield from ((tick, MELODY_REST, False) for tick in ground.rests)
    for bar in bars:
        onset, end = sound.tick(bar.onset), sound.tick(bar.end)
        quality = PHRASE if bar.phrase_end else BARLINE
        # A short bar already ends where the next upbeat begins.
        lead = upbeat if end - onset == ground.bar else 0
        before = end - (sound.tick(bar.pickup) or lead)
        if before < end:
            # A tune breathes before an upbeat or a pick-up, so the strong beat after it comes in the new direction;
            # inside a phrase only where the melody lingers there.
            breathes = bar.phrase_end or before in ground.lingers
            yield from _near(ground, before, quality if breathes else BEAT, bar.phrase_end)
            yield from _near(ground, end, BARLINE, False)
        else:
            yield from _near(ground, end, quality, bar.phrase_end)
        if _wants_beats(ground, len(bars), onset, end):
            beats = range(end - ground.beat, onset, -ground.beat)
            yield from ((tick, BEAT, False) for tick in beats)
            if not any(sound.is_free(tick) for tick in (*beats, onset, end)):
                yield from ((tick, ATTACK, False) for tick in sound.changes if onset < tick < end)


def _near(ground: Ground, tick: int, cost: int, phrase: bool) -> Iterator[tuple[int, int, bool]]:
    """The moment itself, or the one that stands for it when a note is held over it."""
    if ground.sound.is_free(tick):
        yield tick, cost, phrase
    else:
        free = _free_before(ground, tick)
        if free is not None:
            yield free, cost + HELD_OVER, phrase


def _wants_beats(ground: Ground, bars: int, onset: int, end: int) -> bool:
    """Turns inside a bar: in very short passages, round barlines held over, in bars that take a third of the air."""
    sound = ground.sound
    use = sound.air_until(end) - sound.air_until(onset)
    return bars < 4 or use * 3 > sound.full or not (sound.is_free(onset) and sound.is_free(end))
