"""Every step for one tune as a week of its own: what `bookbuild sheet` prints, no course needed."""

from __future__ import annotations

from bookbuild.lessons.model import ExerciseSpec, Groove, Tune, Week

_STEPS = (("count", 4), ("left-hand", 4), ("melody", 8), ("shapes", 4), ("fill", 4), ("together", 4))
"""Kinds with the bars of the first section each works on: hands together on the four bars that were prepared. All steps
fit on two pages of A4 or Letter."""


def sheet_week(tune: Tune, groove: Groove, aim: str = "") -> Week:
    """The steps in the order they are learnt, hands together with the fill last."""
    first = (tune.form[0],)
    steps = tuple(
        ExerciseSpec(
            kind=kind,
            tune=tune.name,
            groove=groove.name,
            sections=first,
            bars=bars,
            right="fill" if kind == "together" else "",
            place=tune.place,
        )
        for kind, bars in _STEPS
    )
    return Week(f"sheet-{tune.name}", tune.title, aim, tune.text, (), (), steps, place=tune.place)
