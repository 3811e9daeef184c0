"""How a length is written: the tied note values, or the rests, that leave the beats of the meter to be seen.

The rules are those of printed grammars of notation (grouping of notes and rests): long values stand on strong places,
the middle of a bar in four and the dotted beats of compound time are shown, and a value crosses a place stronger than
its own only as one of the plain syncopations every reader knows. All values are Fractions of a whole note.
"""

from __future__ import annotations

from functools import lru_cache

from bookbuild.exact import Fraction
from bookbuild.theory.meter import Meter, odd_part

SHORTEST = Fraction(1, 128)
"""The shortest value that is written."""
LONGEST = Fraction(3)
"""The longest: a dotted breve."""
_DOUBLE_DOTTED = (Fraction(7, 16), Fraction(7, 8))
"""Double dots are usual on a quarter and on a half, answered by a sixteenth or an eighth."""


def is_tuplet(length: Fraction) -> bool:
    """True when a length can only be written inside a tuplet."""
    return odd_part(length.denominator) != 1


def split_dots(value: Fraction) -> tuple[Fraction, int]:
    """The undotted value and the number of dots (0–2) of a printable value; raises ValueError for any other."""
    for dots, factor in enumerate((Fraction(1), Fraction(3, 2), Fraction(7, 4))):
        base = value / factor
        if not is_tuplet(base) and odd_part(base.numerator) == 1 and base >= SHORTEST and value <= LONGEST:
            return base, dots
    raise ValueError(f"{value} of a whole note is not one printable note value")


def is_printable(value: Fraction) -> bool:
    """True when one notehead with up to two dots can show the value."""
    try:
        split_dots(value)
    except ValueError:
        return False
    return True


@lru_cache(maxsize=1 << 14)
def notated_values(
    meter: Meter, onset_in_bar: Fraction, length: Fraction, *, rest: bool = False
) -> tuple[Fraction, ...]:
    """The printable values, in order, that a note or rest of `length` is written with; notes are tied.

    `onset_in_bar` counts from the downbeat (an upbeat from where a full bar would have begun). A length that goes on
    past the bar is cut at each barline. `rest` keeps the stricter rules for silence: every beat has its own rest, two
    are joined only in the halves of a bar in four; a wholly silent bar is left to the engraver's bar rest.
    Raises ValueError for a negative onset, a length of 0 or less, tuplet places and values too short to print.
    """
    if onset_in_bar < 0 or length <= 0:
        raise ValueError(f"a note cannot start at {onset_in_bar} of a bar and last {length}")
    if is_tuplet(onset_in_bar) or is_tuplet(length):
        raise ValueError(f"a length of {length} at {onset_in_bar} needs a tuplet")
    if max(onset_in_bar.denominator, length.denominator) > SHORTEST.denominator:
        raise ValueError(f"a length of {length} at {onset_in_bar} is finer than a 128th note")
    values: list[Fraction] = []
    start, stop = onset_in_bar % meter.bar, onset_in_bar % meter.bar + length
    while start < stop:
        barline = (start // meter.bar + 1) * meter.bar
        values += _split(meter, start % meter.bar, min(stop, barline) - start, rest)
        start = barline
    return tuple(values)


@lru_cache(maxsize=4096)
def _split(meter: Meter, start: Fraction, length: Fraction, rest: bool) -> tuple[Fraction, ...]:
    """Values for a stretch inside one bar: itself if it may stand, else cut at the strongest place inside it.

    Among equally strong places the cut that needs the fewest values wins, then the one with the longest first.
    """
    if _may_stand(meter, start, length, rest):
        return (length,)
    cuts = _strongest_places(meter, start, length)
    splits = [_split(meter, start, cut - start, rest) + _split(meter, cut, start + length - cut, rest) for cut in cuts]
    return min(splits, key=lambda values: (len(values), [-value for value in values]))


def _grid(meter: Meter, depth: int) -> Fraction:
    """Length of the places that `depth` divisions of the bar make."""
    units = meter.units
    return units[depth] if depth < len(units) else units[-1] / 2 ** (depth - len(units) + 1)


def _strongest_places(meter: Meter, start: Fraction, length: Fraction) -> tuple[Fraction, ...]:
    """The places strictly inside a stretch that the fewest divisions of the bar reach."""
    depth = 0
    while True:
        grid = _grid(meter, depth)
        first = (start // grid + 1) * grid
        if first < start + length:
            return tuple(first + step * grid for step in range(-(-(start + length - first) // grid)))
        depth += 1


def _may_stand(meter: Meter, start: Fraction, length: Fraction, rest: bool) -> bool:
    """Whether one value may be written at this place of the bar."""
    if not is_printable(length):
        return False
    base, dots = split_dots(length)
    if rest:
        return _rest_may_stand(meter, start, length)
    if not _respects_triple(meter, start, length):
        return False
    if dots == 2:
        return length in _DOUBLE_DOTTED and _fills_group(meter, start, base * 2) and base * 2 <= 4 * meter.beat
    if meter.level(start) <= meter.level(_strongest_places(meter, start, length)[0]):
        return True
    return _is_syncopation(meter, start, base) if dots == 0 else _is_short_long(meter, start, base / 2)


def _depth_of(meter: Meter, unit: Fraction) -> int | None:
    """The number of divisions that leave `unit`, None when the meter has no such level."""
    depth = 0
    while _grid(meter, depth) > unit:
        depth += 1
    return depth if _grid(meter, depth) == unit else None


def _fills_group(meter: Meter, start: Fraction, group: Fraction) -> bool:
    """Whether a level of the meter has units of length `group` and one of them begins at `start`."""
    return _depth_of(meter, group) is not None and start % group == 0


def _triple_unit(meter: Meter) -> Fraction:
    """The smallest unit that divides in three (the dotted beat of compound time), else the bar."""
    found = [unit for unit, division in zip(meter.units, meter.divisions, strict=False) if division == 3]
    return found[-1] if found else meter.bar


def _respects_triple(meter: Meter, start: Fraction, length: Fraction) -> bool:
    """A value that crosses from one dotted beat into the next must begin and end on one."""
    unit = _triple_unit(meter)
    crosses = start // unit + 1 < -(-(start + length) // unit)
    return not crosses or (start % unit == 0 and length % unit == 0)


def _is_syncopation(meter: Meter, start: Fraction, value: Fraction) -> bool:
    """Short, long, short: a value astride one place that is no stronger than the value's own level (8 4 8, 4 2 4)."""
    depth = _depth_of(meter, value)
    astride = start + value / 2
    if depth is None or astride % value != 0 or (meter.compound and value >= meter.beat):
        return False
    return meter.level(astride) == depth


def _is_short_long(meter: Meter, start: Fraction, short: Fraction) -> bool:
    """Short, dotted long: the last three quarters of a group of at most two beats (16 8., 8 4. in 2/4)."""
    group = 4 * short
    halved = _depth_of(meter, 2 * short) is not None
    return group <= 2 * meter.beat and halved and _fills_group(meter, start - short, group)


def _rest_may_stand(meter: Meter, start: Fraction, length: Fraction) -> bool:
    """Silence shows every beat, so a rest is a whole unit of the meter.

    Two more are usual: two thirds at the start of a compound beat, and a dotted eighth or less at that of a simple one.
    """
    if _fills_group(meter, start, length):
        return True
    if meter.compound:
        return length * 3 == meter.beat * 2 and start % meter.beat == 0
    base, dots = split_dots(length)
    return dots == 1 and base <= Fraction(1, 8) and 2 * base <= meter.beat and _fills_group(meter, start, 2 * base)
