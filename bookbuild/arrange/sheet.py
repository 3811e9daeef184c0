"""Every step for one tune as a week of its own: what `bookbuild sheet` prints, no course needed."""

from __future__ import annotations

from collections.abc import Iterator

from bookbuild.arrange.fill import leaves_room
from bookbuild.arrange.line import cut_line, tune_line
from bookbuild.lessons.model import ExerciseSpec, Groove, Tune, Week

_STEPS = ("count", "left-hand", "melody", "shapes", "fill", "together")
"""Kinds in the order they are learnt."""

_SIZES = (
    (4, 4, 8, 4, 4, 4),
    (4, 4, 4, 4, 4, 4),
    (4, 4, 4, 2, 2, 2),
    (2, 2, 4, 2, 2, 2),
    (2, 2, 2, 2, 2, 2),
    (2, 2, 2, 0, 2, 2),
)
"""Bars of the first section that each step works on, the fullest sheet first; 0 leaves the step out. Hands together
play the bars that were prepared."""

LONG_BAR = 9
"""Slots in a bar beyond which only `LONG_SIZES` are tried: such bars fill twice as many lines."""

LONG_SIZES = _SIZES[3:]


def sheet_weeks(tune: Tune, groove: Groove) -> Iterator[Week]:
    """Choices of the steps, the fullest first: of the first that fits its paper the sheet is made.

    A melody too quick to leave the fill room goes without it, and then keeps its shapes.
    """
    for sizes in LONG_SIZES if groove.meter.bar / groove.slot > LONG_BAR else _SIZES:
        bars = dict(zip(_STEPS, sizes, strict=True))
        line = cut_line(tune_line(tune, (tune.form[0],)), bars["fill"])
        filled = leaves_room(line, groove)
        if not filled:
            bars |= {"fill": 0, "shapes": bars["together"]}
        steps = tuple(_step(kind, tune, groove, bars[kind], filled) for kind in _STEPS if bars[kind])
        yield Week(f"sheet-{tune.name}", tune.title, "", tune.text, (), (), steps, place=tune.place)


def _step(kind: str, tune: Tune, groove: Groove, bars: int, filled: bool) -> ExerciseSpec:
    right = "fill" if kind == "together" and filled else ""
    return ExerciseSpec(kind, tune.name, groove.name, (tune.form[0],), bars=bars, right=right, place=tune.place)
