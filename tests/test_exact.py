"""Exact fractions are Python's own in all they do, and leave the program's shared objects alone."""

from __future__ import annotations

import fractions
import operator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.exact import Fraction

NUMBERS = st.fractions(max_denominator=1 << 40)
DEEDS = (operator.add, operator.sub, operator.mul, operator.truediv, operator.floordiv, operator.mod, operator.lt,
         operator.le, operator.eq, divmod)


def ours(number: fractions.Fraction) -> Fraction:
    return Fraction(number.numerator, number.denominator)


@given(NUMBERS, NUMBERS, st.sampled_from(DEEDS))
def test_they_reckon_as_python_s_own(one: fractions.Fraction, two: fractions.Fraction, deed) -> None:
    if two or deed not in (operator.truediv, operator.floordiv, operator.mod, divmod):
        expected, found = deed(one, two), deed(ours(one), ours(two))
        assert found == expected
        assert repr(found) == repr(expected)
        assert isinstance(found, Fraction) == isinstance(expected, fractions.Fraction)
    else:
        with pytest.raises(ZeroDivisionError):
            deed(ours(one), ours(two))


@given(NUMBERS)
def test_they_read_and_write_as_python_s_own(number: fractions.Fraction) -> None:
    for text in (str(number), f" {number} ", str(float(number))):
        assert Fraction(text) == fractions.Fraction(text)
    made = ours(number)
    assert (hash(made), str(made), float(made), int(made), round(made), bool(made)) == (
        hash(number), str(number), float(number), int(number), round(number), bool(number))


@pytest.mark.parametrize("text", ["", "x", "1/0", "1/", "--1", "nan", "1" * 5000])
def test_a_poor_text_is_refused_as_by_python_s_own(text: str) -> None:
    with pytest.raises((ValueError, ZeroDivisionError)) as theirs:
        fractions.Fraction(text)
    with pytest.raises(theirs.type):
        Fraction(text)


def test_a_text_stands_alone() -> None:
    with pytest.raises(TypeError):
        fractions.Fraction("1", 2)
    with pytest.raises(TypeError):
        Fraction("1", 2)


def test_a_text_of_one_sign_changes_nothing_else() -> None:
    # The library by itself writes the sign into the one byte 0 of the whole program.
    for text in "0123456789\N{ARABIC-INDIC DIGIT THREE}":
        assert Fraction(text) == int(text)
    assert [bytes([value])[0] for value in range(256)] == list(range(256))
    assert [ord(chr(value)) for value in range(256)] == list(range(256))
