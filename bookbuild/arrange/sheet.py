"""Every step for one tune as a week of its own: what `bookbuild sheet` prints, no course needed."""

from __future__ import annotations

from bookbuild.arrange.fill import leaves_room
from bookbuild.arrange.line import cut_line, tune_line
from bookbuild.lessons.model import ExerciseSpec, Groove, Tune, Week

_STEPS = (("count", 4), ("left-hand", 4), ("melody", 8), ("shapes", 4), ("fill", 4), ("together", 4))
"""Kinds with the bars of the first section each works on: hands together on the four bars that were prepared. All steps
fit on two pages of A4 or Letter."""


LONG_BAR = 9
"""Slots in a bar beyond which half as many bars are worked on: they fill as many lines."""


def sheet_week(tune: Tune, groove: Groove, aim: str = "") -> Week:
    """The steps in the order they are learnt, hands together with the fill last.

    A melody too quick to leave the fill room goes without it.
    """
    first = (tune.form[0],)
    share = 2 if groove.meter.bar / groove.slot > LONG_BAR else 1
    line = cut_line(tune_line(tune, first), dict(_STEPS)["fill"] // share)
    filled = leaves_room(line, groove)
    steps = tuple(
        ExerciseSpec(
            kind=kind,
            tune=tune.name,
            groove=groove.name,
            sections=first,
            bars=bars // share,
            right="fill" if kind == "together" and filled else "",
            place=tune.place,
        )
        for kind, bars in _STEPS
        if filled or kind != "fill"
    )
    return Week(f"sheet-{tune.name}", tune.title, aim, tune.text, (), (), steps, place=tune.place)
