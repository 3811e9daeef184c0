"""The bellows shake: strokes that alternate, open first, and the notes they repeat. All times in whole notes.

Common practice, no source: the bottom of the bellows stays closed, the top opens and closes in even strokes, the first
one opens; each written eighth becomes two sixteenths; the left hand keeps its groove inside the stream.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bookbuild.arrange.model import BellowsSpan, Direction, Event, Role, Voice
from bookbuild.arrange.notices import say
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Air
from bookbuild.theory.meter import Meter

MAX_COMFORTABLE_RATE = Fraction(8)
"""Strokes a second an arm keeps up without strain (sixteenths at 120 quarters); common practice, no source."""

_RIGHT = (Role.MELODY, Role.FILL)


def choose_stroke(meter: Meter) -> Fraction:
    """Length of a stroke: sixteenths, eighths where the half note is the beat."""
    return Fraction(1, 8) if meter.unit <= 2 else Fraction(1, 16)


def shake_span(onset: Fraction, end: Fraction, stroke: Fraction, first: Direction = Direction.OPEN) -> BellowsSpan:
    """A shaken stretch; raises ValueError unless a whole number of strokes, at least one, fills it."""
    strokes = (end - onset) / stroke
    if strokes < 1 or strokes.denominator != 1:
        raise ValueError(f"strokes of {stroke} do not fill a shake from {onset} to {end}")
    return BellowsSpan(onset, end, first, stroke)


def count_strokes(span: BellowsSpan) -> int:
    """Bellows strokes in a span: 1 when it is not shaken."""
    return 1 if span.stroke is None else int((span.end - span.onset) / span.stroke)


def hand_over(span: BellowsSpan) -> Direction:
    """The direction that follows a span: after an even number of strokes its first one again, else the other."""
    return span.direction if count_strokes(span) % 2 == 0 else span.direction.other


def plan_shakes(stretches: Iterable[tuple[Fraction, Fraction]], stroke: Fraction) -> tuple[BellowsSpan, ...]:
    """A span for each (onset, end), in order: each opens first, except where it goes on from a shake before it."""
    made: list[BellowsSpan] = []
    for onset, end in stretches:
        goes_on = bool(made) and made[-1].end == onset
        made.append(shake_span(onset, end, stroke, hand_over(made[-1]) if goes_on else Direction.OPEN))
    return tuple(made)


def split_strokes(span: BellowsSpan) -> tuple[BellowsSpan, ...]:
    """Every stroke of a shaken span as a span of its own."""
    length = span.stroke or span.end - span.onset
    directions = (span.direction, span.direction.other)
    return tuple(BellowsSpan(span.onset + length * k, span.onset + length * (k + 1), directions[k % 2])
                 for k in range(count_strokes(span)))


def merge_plan(shakes: Sequence[BellowsSpan], rest: Sequence[BellowsSpan]) -> tuple[BellowsSpan, ...]:
    """Shaken stretches and the plan of the rest in one order from 0 on; planned spans give way to a shake.

    A span of `rest` that is one of the shakes (with or without its air mark) stands for it. Raises ValueError when
    shakes overlap or a moment stays without direction.
    """
    taken = {(span.onset, span.end): span for span in rest if span.stroke is not None}
    merged = [taken.get((shake.onset, shake.end), shake) for shake in shakes]
    for span in rest:
        if (span.onset, span.end) not in {(shake.onset, shake.end) for shake in shakes}:
            merged += _leave_free(span, shakes)
    merged.sort(key=lambda span: span.onset)
    now = Fraction(0)
    for span in merged:
        if span.onset != now:
            what = "overlap" if span.onset < now else "leave a gap"
            raise ValueError(f"the bellows spans {what} at {now}")
        now = span.end
    return tuple(merged)


def _leave_free(span: BellowsSpan, shakes: Sequence[BellowsSpan]) -> list[BellowsSpan]:
    """What is left of a planned span outside the shakes."""
    pieces, now = [], span.onset
    for shake in sorted(shakes, key=lambda shake: shake.onset):
        if shake.end <= now or shake.onset >= span.end:
            continue
        if shake.onset > now:
            pieces.append(replace(span, onset=now, end=shake.onset, air=False))
        now = shake.end
    if now < span.end:
        pieces.append(replace(span, onset=now))
    return pieces


def repeat_strokes(event: Event, stroke: Fraction) -> tuple[Event, ...]:
    """An event struck again at each stroke; finger, letter and accent stay with the first.

    A rest, and a note that a whole number of strokes does not fill (a triplet), stays as written: the bellows go on
    under it.
    """
    count = event.length / stroke
    if not event.pitches or count.denominator != 1:
        return (event,)
    again = replace(event, length=stroke, fingers=(), letter="", accent=False)
    first = replace(event, length=stroke)
    return (first, *(replace(again, onset=event.onset + stroke * k) for k in range(1, int(count))))


def _is_shaken(event: Event, within: Sequence[BellowsSpan] | None) -> bool:
    if within is None:
        return True
    return any(span.stroke is not None and span.onset <= event.onset and event.end <= span.end for span in within)


def shake_notes(voice: Voice, stroke: Fraction, within: Sequence[BellowsSpan] | None = None) -> Voice:
    """A voice with every note doubled into strokes: an eighth becomes two sixteenths of the same pitches.

    `within` limits it to the notes that lie in these shaken spans (None: all notes).
    """
    events = (repeat_strokes(event, stroke) if _is_shaken(event, within) else (event,) for event in voice.events)
    return Voice(voice.role, tuple(piece for pieces in events for piece in pieces))


def accent_strokes(voice: Voice, accents: Iterable[Fraction], cell: Fraction, start: Fraction = Fraction(0)) -> Voice:
    """A shaken voice stressed where a groove's shake is: `accents` count from the cell's start, cells from `start`."""
    stressed = set(accents)
    return Voice(voice.role, tuple(
        replace(event, accent=True) if event.pitches and (event.onset - start) % cell in stressed else event
        for event in voice.events))


def find_off_stroke(voice: Voice, span: BellowsSpan) -> tuple[Event, ...]:
    """Notes inside a shaken span that do not begin with a stroke: they would be split by a turn of the bellows."""
    if span.stroke is None:
        return ()
    return tuple(event for event in voice.events if event.pitches and span.onset <= event.onset < span.end
                 and ((event.onset - span.onset) / span.stroke).denominator != 1)


def note_stroke_parity(beat: Fraction, stroke: Fraction) -> str:
    """What to tell the student where a beat holds an odd number of strokes (three in 6/8); '' for an even number."""
    strokes = beat / stroke
    if strokes.denominator != 1:
        return say("say.across-beats")
    if strokes % 2 == 0:
        return ""
    named = f"say.strokes-{strokes}" if strokes in (1, 3, 5) else "say.strokes"
    return say("say.odd-strokes", strokes=say(named, count=int(strokes)))


def shake_rate(stroke: Fraction, beat: Fraction, bpm: int) -> Fraction:
    """Strokes a second at `bpm` beats a minute."""
    return beat / stroke * bpm / 60


def comfortable_goal(stroke: Fraction, beat: Fraction) -> int:
    """The fastest tempo, in beats a minute, at which the shake stays comfortable."""
    return int(MAX_COMFORTABLE_RATE * 60 * stroke / beat)


def shake_drift(use: Fraction, air: Air, passes: int = 1) -> Fraction:
    """How far a shake leaves the bellows more open than it found them, in the measure of `use`; never beyond full.

    `use` is the air its notes would take in one direction, in seconds of one voice; `passes` how often it is played
    before the bellows come home.
    """
    return min(use * Fraction(str(air.shake)) * passes, Fraction(str(air.full)))
