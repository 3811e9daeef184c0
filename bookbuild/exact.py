"""Exact fractions for moments and lengths, in whole notes: Python's own in what they do, in a tenth of their time."""

from __future__ import annotations

import fractions
from typing import TYPE_CHECKING

__all__ = ["Fraction"]

if TYPE_CHECKING:
    from fractions import Fraction
else:
    import quicktions

    _make = quicktions.Fraction.__new__

    class _Kind(type):
        """What is reckoned from our fractions counts as one, though it is the library's own."""

        def __instancecheck__(cls, thing):
            return isinstance(thing, quicktions.Fraction)

    class Fraction(quicktions.Fraction, metaclass=_Kind):
        """As `fractions.Fraction`, which reads what is given as a text.

        Of a text of one sign quicktions (1.19 to 1.24) makes a zero that the whole program shares into another
        number.
        """

        __slots__ = ()

        def __new__(cls, numerator=0, denominator=None):
            """As `fractions.Fraction`, with its errors."""
            if isinstance(numerator, str) and denominator is None:
                numerator = fractions.Fraction(numerator)
            return _make(cls, numerator, denominator)
