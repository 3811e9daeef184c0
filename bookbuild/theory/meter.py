"""Meters and their grid. All times are Fractions of a whole note."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from bookbuild.exact import Fraction

_SIGNATURE = re.compile(r"\s*([0-9]{1,4})\s*/\s*([0-9]{1,4})\s*")


def _prime_factors(number: int) -> tuple[int, ...]:
    """Prime factors, smallest first; none of 1."""
    factors: list[int] = []
    divisor = 2
    while number > 1:
        while number % divisor == 0:
            factors.append(divisor)
            number //= divisor
        divisor += 1
    return tuple(factors)


def odd_part(number: int) -> int:
    """The number with every factor of two taken out."""
    while number % 2 == 0:
        number //= 2
    return number


@dataclass(frozen=True)
class Meter:
    """A time signature `count`/`unit`; 6/8, 9/8, 12/8 are compound (three eighths a beat)."""

    count: int
    unit: int

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read `2/4`, `6/8`, `2/2`; raises ValueError."""
        match = _SIGNATURE.fullmatch(text)
        if not match:
            raise ValueError(f"'{text}' is not a meter such as 2/4 or 6/8")
        meter = cls(int(match[1]), int(match[2]))
        if not 1 <= meter.count <= 24 or meter.unit not in (1, 2, 4, 8, 16):
            raise ValueError(f"'{text}' is not a meter this book can count")
        return meter

    @cached_property
    def bar(self) -> Fraction:
        """Length of a bar."""
        return Fraction(self.count, self.unit)

    @cached_property
    def compound(self) -> bool:
        """True when the beat divides in three."""
        return self.unit >= 8 and self.count % 3 == 0 and self.count > 3

    @cached_property
    def beat(self) -> Fraction:
        """Length of a counted beat: 1/4 in 2/4, 3/8 in 6/8, 1/2 in 2/2."""
        return Fraction(3, self.unit) if self.compound else Fraction(1, self.unit)

    @cached_property
    def beats(self) -> int:
        """Counted beats in a bar."""
        return self.count // 3 if self.compound else self.count

    @cached_property
    def divisions(self) -> tuple[int, ...]:
        """How the bar is divided step by step down to the beat, and the compound beat into its three.

        4/4 (2, 2), 3/4 (3,), 6/8 (2, 3), 9/8 (3, 3), 12/8 (2, 2, 3). Below that everything divides in two.
        """
        return _prime_factors(self.beats) + ((3,) if self.compound else ())

    @cached_property
    def units(self) -> tuple[Fraction, ...]:
        """Lengths of the bar's levels: the bar itself, then what each of `divisions` leaves."""
        lengths = [self.bar]
        for division in self.divisions:
            lengths.append(lengths[-1] / division)
        return tuple(lengths)

    def level(self, place: Fraction) -> int:
        """After how many divisions of the bar `place` is first reached: 0 the downbeat, 1 the middle of 4/4…

        `place` may lie in any bar, counted from a downbeat. A place of a tuplet counts as a division of its beat.
        """
        inside = place % self.beat
        if inside == 0:
            rest = place % self.bar
            return next(depth for depth, unit in enumerate(self.units) if rest % unit == 0)
        share = inside / self.beat * (3 if self.compound else 1)
        halvings = (share.denominator // odd_part(share.denominator)).bit_length() - 1
        tuplet = 1 if odd_part(share.denominator) > 1 else 0
        return len(self.divisions) + halvings + tuplet

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"
