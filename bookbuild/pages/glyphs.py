"""Music signs the text fonts lack, as outlines of our own: notes, accidentals, bellows marks, a tick.

An outline is a list of steps in em units, y upwards from the baseline: ("M", x, y), ("L", x, y), ("C", six numbers),
("Z",).
"""

from __future__ import annotations

from math import cos, pi, sin

from bookbuild.exact import Fraction

Path = list[tuple[str, tuple[float, ...]]]

_ARC = 0.5523
"""Length of a Bézier handle that makes a quarter circle of radius 1."""


def ellipse(x: float, y: float, a: float, b: float, angle: float = 0.0, hole: bool = False) -> Path:
    """An ellipse round (x, y) with half axes `a` and `b`, turned by `angle` degrees; drawn clockwise for a hole."""
    turn, way = angle * pi / 180, -1 if hole else 1

    def at(*points: tuple[float, float]) -> tuple[float, ...]:
        numbers: list[float] = []
        for u, v in points:
            numbers.append(x + a * u * cos(turn) - b * way * v * sin(turn))
            numbers.append(y + a * u * sin(turn) + b * way * v * cos(turn))
        return tuple(numbers)

    return [
        ("M", at((1, 0))),
        ("C", at((1, _ARC), (_ARC, 1), (0, 1))),
        ("C", at((-_ARC, 1), (-1, _ARC), (-1, 0))),
        ("C", at((-1, -_ARC), (-_ARC, -1), (0, -1))),
        ("C", at((_ARC, -1), (1, -_ARC), (1, 0))),
        ("Z", ()),
    ]


def polygon(*points: tuple[float, float]) -> Path:
    """A closed polygon; its points run anticlockwise, so that overlapping parts of a sign add up."""
    return [("M", points[0]), *(("L", point) for point in points[1:]), ("Z", ())]


def _bar(x: float, y: float, width: float, height: float, rise: float = 0.0) -> Path:
    """A bar with its lower left corner at (x, y), rising to the right by `rise`."""
    return polygon((x, y), (x + width, y + rise), (x + width, y + height + rise), (x, y + height))


def _sharp() -> Path:
    stems = _bar(0.10, -0.10, 0.035, 0.80) + _bar(0.255, -0.06, 0.035, 0.80)
    return stems + _bar(0.02, 0.135, 0.35, 0.095, 0.085) + _bar(0.02, 0.375, 0.35, 0.095, 0.085)


def _natural() -> Path:
    stems = _bar(0.07, 0.10, 0.035, 0.62) + _bar(0.245, -0.12, 0.035, 0.62)
    return stems + _bar(0.07, 0.11, 0.21, 0.085, 0.055) + _bar(0.07, 0.385, 0.21, 0.085, 0.055)


def _flat() -> Path:
    bowl: Path = [
        ("M", (0.085, 0.40)),
        ("C", (0.16, 0.47, 0.31, 0.47, 0.31, 0.33)),
        ("C", (0.31, 0.19, 0.19, 0.10, 0.085, 0.0)),
        ("L", (0.085, 0.085)),
        ("C", (0.15, 0.14, 0.205, 0.22, 0.205, 0.305)),
        ("C", (0.205, 0.385, 0.14, 0.385, 0.085, 0.33)),
        ("Z", ()),
    ]
    return _bar(0.05, 0.0, 0.035, 0.76) + bowl


def _head(x: float, filled: bool) -> Path:
    outer = ellipse(x, 0.12, 0.19, 0.135, 24)
    return outer if filled else outer + ellipse(x, 0.12, 0.165, 0.07, 32, hole=True)


def _flag(x: float, top: float) -> Path:
    return [
        ("M", (x, top)),
        ("L", (x, top - 0.24)),
        ("C", (x + 0.09, top - 0.28, x + 0.19, top - 0.34, x + 0.15, top - 0.54)),
        ("C", (x + 0.24, top - 0.24, x + 0.02, top - 0.18, x, top)),
        ("Z", ()),
    ]


_STEM_X, _STEM, _TOP = 0.345, 0.036, 0.90


def note_outline(value: Fraction) -> tuple[Path, float]:
    """Outline and advance (em) of a note of `value` (Fraction of a whole note), dotted where the value asks for it.

    Known values are 1/1, 1/2, 1/4, 1/8, 1/16 and their dotted forms; raises ValueError for others.
    """
    dotted = value.numerator == 3
    plain = value * Fraction(2, 3) if dotted else value
    if plain.numerator != 1 or plain.denominator not in (1, 2, 4, 8, 16):
        raise ValueError(f"{value} is not a plain or dotted note value")
    flags = max(0, plain.denominator.bit_length() - 3)
    path = _head(0.2, plain < Fraction(1, 2))
    if plain < 1:
        path = path + _bar(_STEM_X, 0.17, _STEM, _TOP - 0.17)
    for flag in range(flags):
        path = path + _flag(_STEM_X + _STEM, _TOP - 0.17 * flag)
    advance = 0.56 if flags else 0.42
    if dotted:
        path = path + ellipse(advance + 0.06, 0.12, 0.055, 0.055)
        advance += 0.14
    return path, advance


def _turned_corner() -> Path:
    return polygon((0.37, 0.0), (0.42, 0.0), (0.42, 0.70), (0.04, 0.70), (0.04, 0.61), (0.37, 0.61))


def _wedge() -> Path:
    return polygon((0.04, 0.0), (0.40, 0.35), (0.04, 0.70), (0.04, 0.615), (0.31, 0.35), (0.04, 0.085))


def _tick() -> Path:
    return polygon((0.02, 0.28), (0.10, 0.34), (0.22, 0.17), (0.56, 0.68), (0.63, 0.63), (0.23, 0.0))


SIGNS: dict[str, tuple[Path, float]] = {
    "♯": (_sharp(), 0.39),
    "♭": (_flat(), 0.34),
    "♮": (_natural(), 0.35),
    "♩": note_outline(Fraction(1, 4)),
    "♪": note_outline(Fraction(1, 8)),
    "open": (_turned_corner(), 0.47),
    "close": (_wedge(), 0.45),
    "tick": (_tick(), 0.66),
}
"""Sign -> outline and advance in em. Single characters are signs that may stand in text."""

IN_TEXT = frozenset(sign for sign in SIGNS if len(sign) == 1)
"""Characters the text setter draws itself."""
