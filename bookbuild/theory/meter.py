"""Meters and their grid. All times are Fractions of a whole note."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class Meter:
    """A time signature `count`/`unit`; 6/8, 9/8, 12/8 are compound (three eighths a beat)."""

    count: int
    unit: int

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read `2/4`, `6/8`, `2/2`; raises ValueError."""
        parts = text.split("/")
        if len(parts) != 2 or not all(p.strip().isdigit() for p in parts):
            raise ValueError(f"'{text}' is not a meter such as 2/4 or 6/8")
        meter = cls(int(parts[0]), int(parts[1]))
        if not 1 <= meter.count <= 24 or meter.unit not in (1, 2, 4, 8, 16):
            raise ValueError(f"'{text}' is not a meter this book can count")
        return meter

    @property
    def bar(self) -> Fraction:
        """Length of a bar."""
        return Fraction(self.count, self.unit)

    @property
    def compound(self) -> bool:
        """True when the beat divides in three."""
        return self.unit >= 8 and self.count % 3 == 0 and self.count > 3

    @property
    def beat(self) -> Fraction:
        """Length of a counted beat: 1/4 in 2/4, 3/8 in 6/8, 1/2 in 2/2."""
        return Fraction(3, self.unit) if self.compound else Fraction(1, self.unit)

    @property
    def beats(self) -> int:
        """Counted beats in a bar."""
        return self.count // 3 if self.compound else self.count

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"
