"""ISBN and its EAN-13 bars, drawn at full size (module 0.330 mm, GS1 General Specifications)."""

from __future__ import annotations

from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import MM, Frame
from bookbuild.pages.typography import Style, TypeSetter

MODULE = 0.330 * MM
BAR_HEIGHT = 20.0 * MM


def check_digit(twelve: str) -> int:
    """Check digit of an ISBN-13 or EAN-13: weights 1, 3, 1, 3 …, up to the next ten."""
    return -sum(int(digit) * (1, 3)[place % 2] for place, digit in enumerate(twelve)) % 10


def isbn_digits(text: str) -> str:
    """The 13 digits of an ISBN written with hyphens or spaces; raises ValueError with the reason."""
    digits = text.replace("-", "").replace(" ", "")
    if len(digits) != 13 or not digits.isascii() or not digits.isdigit():
        raise ValueError(f"an ISBN has 13 digits, '{text}' does not")
    if digits[:3] not in ("978", "979"):
        raise ValueError(f"an ISBN begins with 978 or 979, '{text}' does not")
    if int(digits[-1]) != check_digit(digits[:12]):
        raise ValueError(f"the check digit of '{text}' should be {check_digit(digits[:12])}")
    return digits


def write_isbn(digits: str) -> str:
    """The digits with the prefix and the check digit set apart; finer groups need the agency's ranges."""
    return f"{digits[:3]} {digits[3:12]} {digits[12]}"


_ODD = ("0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011")
_SIDES = ("000000", "001011", "001101", "001110", "010011", "011001", "011100", "010101", "010110", "011010")
"""For each first digit, which of the next six take the odd (0) and which the even (1) pattern."""


def bar_modules(digits: str) -> str:
    """The 95 modules of an EAN-13 as 1 (bar) and 0 (space); patterns from the GS1 General Specifications."""
    left = "".join(
        _left_pattern(int(digit), side) for digit, side in zip(digits[1:7], _SIDES[int(digits[0])], strict=True)
    )
    right = "".join(_inverted(_ODD[int(digit)]) for digit in digits[7:])
    return "101" + left + "01010" + right + "101"


def _left_pattern(digit: int, side: str) -> str:
    return _ODD[digit] if side == "0" else _inverted(_ODD[digit])[::-1]


def _inverted(pattern: str) -> str:
    return "".join("0" if mark == "1" else "1" for mark in pattern)


def draw_ean(pen: Pen, setter: TypeSetter, digits: str, x: float, y: float) -> None:
    """Draw bars and digits; the quiet zone of 11 modules lies right of `x`."""
    left = x + 11 * MODULE
    modules, style = bar_modules(digits), Style("sans", 9.0)
    guards = {*range(3), *range(45, 50), *range(92, 95)}
    with pen.tag("Figure", alt=f"EAN-13 {digits}"):
        for place, module in enumerate(modules):
            if module == "1":
                pen.box(
                    Frame(left + place * MODULE, y, MODULE, BAR_HEIGHT + (5 * MODULE if place in guards else 0.0)),
                    fill=0.0,
                )
        baseline = y + BAR_HEIGHT + 8.2
        pen.text(x, baseline, setter.line(digits[0], style), style)
        for start, group in ((3, digits[1:7]), (50, digits[7:])):
            for place, digit in enumerate(group):
                pen.text(
                    left + (start + 7 * place + 3.5) * MODULE,
                    baseline,
                    setter.line(digit, style),
                    style,
                    align="centre",
                )
