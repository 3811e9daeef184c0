"""The steps of one tune as a week of its own: what `bookbuild sheet` prints, no course needed."""

from __future__ import annotations

from collections.abc import Iterator

from bookbuild.arrange.fill import leaves_room
from bookbuild.arrange.line import PHRASE_BARS, cut_line, tune_line
from bookbuild.lessons.model import ExerciseSpec, Groove, Tune, Week

_STEPS = ("count", "left-hand", "melody", "shapes", "fill", "together")
"""Kinds in the order they are learnt."""

_QUICK = (4, 8, 8, 4, 0, 8)
"""A melody too quick for the fill has one step less: hands together play a whole strain."""
_SIZES = (
    (4, 4, 8, 4, 4, 4),
    (4, 4, 4, 4, 4, 4),
    (4, 4, 4, 2, 2, 2),
    (2, 2, 4, 2, 2, 2),
    (2, 2, 2, 2, 2, 2),
    (2, 2, 2, 1, 1, 1),
    (1, 1, 1, 1, 1, 1),
)
"""Bars of a section that each step works on, the fullest sheet first. Hands together play the bars that were
prepared."""

LONG_BAR = 9
"""Slots in a bar beyond which only `LONG_SIZES` are tried: such bars fill twice as many lines."""

LONG_SIZES = _SIZES[3:]


def sheet_weeks(tune: Tune, groove: Groove) -> Iterator[Week]:
    """Choices of the steps, the fullest first: of the first that fits its paper the sheet is made.

    A melody too quick to leave the fill room goes without it, and then keeps its shapes.
    """
    section = choose_section(tune)
    for sizes in LONG_SIZES if groove.meter.bar / groove.slot > LONG_BAR else _SIZES:
        bars = dict(zip(_STEPS, sizes, strict=True))
        line = cut_line(tune_line(tune, (section,)), bars["fill"])
        filled = leaves_room(line, groove)
        if not filled:
            bars |= {"fill": 0, "shapes": bars["together"]}
        if not filled and sizes is _SIZES[0]:
            yield _week(tune, section, groove, dict(zip(_STEPS, _QUICK, strict=True)))
        yield _week(tune, section, groove, bars)


def choose_section(tune: Tune) -> str:
    """The first section that is long enough to work on, else the longest: some tunes begin with a bar or two alone."""
    lengths = {name: tune_line(tune, (name,)).bars[-1].number for name in tune.form}
    return next((name for name, bars in lengths.items() if bars >= PHRASE_BARS), max(lengths, key=lengths.__getitem__))


def _week(tune: Tune, section: str, groove: Groove, bars: dict[str, int]) -> Week:
    right = "fill" if bars["fill"] else ""
    steps = tuple(
        ExerciseSpec(kind, tune.name, groove.name, (section,), bars=bars[kind], place=tune.place,
                     right=right if kind == "together" else "")
        for kind in _STEPS if bars[kind]
    )
    return Week(f"sheet-{tune.name}", tune.title, "", tune.text, (), (), steps, place=tune.place)
