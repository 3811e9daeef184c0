"""How the bellows stand where a passage meets a shake or another span that was planned before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from bookbuild.arrange.air import Sound
from bookbuild.arrange.bellows_turns import Passage
from bookbuild.arrange.model import BellowsSpan, Direction
from bookbuild.arrange.shake import count_strokes, hand_over, shake_drift
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Air


@dataclass(frozen=True)
class Place:
    """The bellows at a border: the direction that follows, and the least and most they are open, in units of air.

    `given` is True where a span planned before ends there.
    """

    direction: Direction = Direction.OPEN
    least: Fraction = Fraction(0)
    most: Fraction = Fraction(0)
    given: bool = False


def is_odd(span: BellowsSpan) -> bool:
    """True for a shake with an odd number of strokes: it hands over the other direction."""
    return span.stroke is not None and count_strokes(span) % 2 == 1


def measure_use(sound: Sound, span: BellowsSpan) -> Fraction:
    """Units of air the notes of a span take at ease."""
    return Fraction(sound.air_until(sound.tick(span.end)) - sound.air_until(sound.tick(span.onset)))


def settle_odd_shakes(fixed: Iterable[BellowsSpan], whole: Iterable[Passage]) -> tuple[BellowsSpan, ...]:
    """The fixed spans in order; an odd shake that meets a repeat's sign ends with the air button, and so does a shake
    that goes on from an odd one and hands over closing there.

    Elsewhere what follows it begins closing. At a sign it cannot, for the repeat opens first on its other pass.
    """
    signs = {moment for passage in whole if passage.passes > 1
             for moment in (passage.start, passage.end, *(edge for ending in passage.endings for edge in ending))}

    def misfits(span: BellowsSpan) -> bool:
        if is_odd(span):
            return bool(signs & {span.onset, span.end})
        return span.stroke is not None and hand_over(span) is Direction.CLOSE and span.end in signs

    return tuple(replace(span, air=True) if misfits(span) else span
                 for span in sorted(fixed, key=lambda span: span.onset))


def stand_before(sound: Sound, passage: Passage, whole: Sequence[Passage], fixed: Sequence[BellowsSpan],
                 air: Air) -> Place:
    """How a passage begins: at home opening, or as the fixed span before it leaves the bellows.

    A shake may end closed or as far open as it drifts; but a repeat that follows it must begin from home, as on its
    second pass. An odd shake hands over closing and is played with the bellows half open.
    """
    span = next((span for span in fixed if span.end == passage.start), None)
    if span is None:
        return Place()
    if span.air:
        return Place(given=True)
    following = hand_over(span)
    if span.stroke is None:
        opened = min(measure_use(sound, span), sound.full) if following is Direction.CLOSE else Fraction(0)
        return Place(following, opened, opened, True)
    if following is Direction.CLOSE:
        return Place(following, sound.full / 2, sound.full / 2, True)
    if passage.passes > 1:
        return Place(given=True)
    passes = max((p.passes for p in whole if span.onset <= p.start and p.end <= span.end), default=1)
    unit = sound.full / Fraction(str(air.full))
    return Place(following, Fraction(0), shake_drift(measure_use(sound, span) / unit, air, passes) * unit, True)


def stand_after(sound: Sound, passage: Passage, fixed: Sequence[BellowsSpan]) -> Place:
    """How a passage must end: at home, or as the fixed span after it begins."""
    end = passage.endings[-1][1] if passage.endings else passage.end
    span = next((span for span in fixed if span.onset == end), None)
    if span is None:
        return Place()
    opened = Fraction(0)
    if span.stroke is None and span.direction is Direction.CLOSE:
        opened = min(measure_use(sound, span), sound.full)
    elif is_odd(span) and not span.air:
        opened = sound.full / 2
    return Place(span.direction, opened, opened)
