"""Every step for one tune as a week of its own: what `bookbuild sheet` prints, no course needed."""

from __future__ import annotations

from bookbuild.lessons.model import ExerciseSpec, Groove, Tune, Week

SHEET_BARS = 8
"""Bars of the first section that each step works on, so that all steps fit on two pages."""
_STEPS = ("count", "left-hand", "melody", "shapes", "fill", "together")


def sheet_week(tune: Tune, groove: Groove, aim: str = "") -> Week:
    """The steps in the order they are learnt, hands together with the fill last."""
    first = (tune.form[0],)
    steps = tuple(
        ExerciseSpec(
            kind=kind,
            tune=tune.name,
            groove=groove.name,
            sections=first,
            bars=SHEET_BARS,
            right="fill" if kind == "together" else "",
            place=tune.place,
        )
        for kind in _STEPS
    )
    return Week(f"sheet-{tune.name}", tune.title, aim, tune.text, (), (), steps, place=tune.place)
