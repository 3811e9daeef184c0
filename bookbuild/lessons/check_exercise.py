"""An exercise held against the tunes and grooves of the course: names, needs of its kind, meters."""

from __future__ import annotations

from typing import Any

from bookbuild.lessons.model import ExerciseSpec, Groove, Place, Tune, Week
from bookbuild.lessons.report import Report, guess_name, show
from bookbuild.lessons.yaml_text import Document

NEEDS_TUNE = frozenset({"left-hand", "melody", "shapes", "fill", "together", "shake-melody", "arrangement"})
"""Kinds that are made from a tune; the others can do with a groove or a chord."""

NEEDS_GROOVE = frozenset({"left-hand-one-chord", "left-hand", "fill", "together", "shake-groove", "arrangement"})
"""Kinds that play a groove."""

NEEDS_HARMONY = frozenset({"left-hand", "shapes", "fill", "together", "arrangement"})
"""Kinds that are made from the tune's chords."""

ON_ONE_CHORD = frozenset({"left-hand-one-chord", "shake-one-bass", "shake-groove"})
"""Kinds that may stay on one chord: the one named, else the tune's tonic."""

_ONLY_FOR: dict[str, frozenset[str]] = {
    "shake": frozenset({"arrangement"}),
    "introduction": frozenset({"arrangement"}),
    "right": frozenset({"together", "arrangement"}),
    "runs": frozenset({"left-hand", "together", "arrangement"}),
    "chord": ON_ONE_CHORD,
}
"""Keys that mean something for some kinds only."""


class ExerciseChecker:
    """Checks exercises against what the course has, by folder: names of files and what could be read of them."""

    def __init__(self, names: dict[str, set[str]], built: dict[str, dict[str, Any]], report: Report) -> None:
        self.names = names
        self.built = built
        self.report = report

    def check_week(self, week: Week, document: Document | None) -> None:
        """Every exercise of a week."""
        for exercise in week.exercises:
            places = _find_places(exercise, document)
            tune = self.find("tunes", exercise.tune, places["tune"], "tune")
            groove = self.find("grooves", exercise.groove, places["groove"], "groove")
            self.check_needs(exercise)
            self.check_extras(exercise, places)
            if tune:
                self.fit_tune(tune, exercise, places["sections"], places["groove"])
            if groove and not exercise.tune:
                self.fit_tempo(exercise, groove, places["start"])

    def find(self, folder: str, name: str, place: Place, what: str) -> Any:
        """What the name stands for, None when it is not written or cannot be used; an unknown name is reported."""
        if name and name not in self.names[folder]:
            hint = guess_name(name, self.names[folder], what)
            self.report.add(place, f"there is no {what} {show(name)} in {folder}/", hint)
        return self.built[folder].get(name)

    def check_needs(self, exercise: ExerciseSpec) -> None:
        """The exercise has what its kind is made from."""
        kind = exercise.kind
        if not exercise.tune and kind in NEEDS_TUNE:
            self.report.add(exercise.place, f"the exercise '{kind}' needs a tune", "Add 'tune:', a name from tunes/.")
        if not exercise.groove and kind in NEEDS_GROOVE:
            hint = "Add 'groove:', a name from grooves/."
            self.report.add(exercise.place, f"the exercise '{kind}' needs a groove", hint)
        if not exercise.tune and not exercise.groove and kind not in NEEDS_TUNE | NEEDS_GROOVE:
            hint = "Add 'groove:' or 'tune:'; the exercise takes its meter from there."
            self.report.add(exercise.place, f"the exercise '{kind}' needs a groove or a tune", hint)
        if exercise.chord is None and not exercise.tune and kind in ON_ONE_CHORD:
            hint = "Add 'chord:', for example C, or a tune whose tonic chord it takes."
            self.report.add(exercise.place, f"the exercise '{kind}' needs a chord", hint)

    def check_extras(self, exercise: ExerciseSpec, places: dict[str, Place]) -> None:
        """Nothing is asked for that the kind cannot give."""
        for key, kinds in _ONLY_FOR.items():
            if getattr(exercise, key) and exercise.kind not in kinds:
                hint = f"Remove it; it belongs to: {', '.join(sorted(kinds))}."
                self.report.add(places[key], f"'{key}' means nothing for the exercise '{exercise.kind}'", hint)
        if exercise.sections and not exercise.tune:
            self.report.add(places["sections"], "'sections' without a tune", "Add 'tune:', or remove 'sections'.")

    def fit_tune(self, tune: Tune, exercise: ExerciseSpec, sections: Place, groove: Place, where: str = "") -> None:
        """Sections exist, the tune has chords where they are needed, the groove fits its meter."""
        names = [section.name for section in tune.sections]
        for name in (*exercise.sections, *exercise.shake):
            if name in names:
                continue
            message = f"tune '{tune.name}' has no section {show(name)}{where}"
            if where:
                hint = "Its own section at that place, or its last one, is played instead."
                self.report.warn(sections, message, hint)
            else:
                self.report.add(sections, message, guess_name(name, names, "section"))
        if exercise.kind in NEEDS_HARMONY and not _has_chords(tune):
            message = f"tune '{tune.name}' has no chords, and '{exercise.kind}' is made from them{where}"
            self.report.add(sections, message, f"Write 'chords' in the sections of tunes/{tune.name}.yaml.")
        pattern: Groove | None = self.built["grooves"].get(exercise.groove)
        if pattern and not pattern.fits(tune.meter):
            message = f"groove '{pattern.name}' is in {pattern.meter}, tune '{tune.name}' in {tune.meter}{where}"
            self.report.add(groove, message, self.name_tunes(pattern, tune) if where else self.name_grooves(tune))

    def name_grooves(self, tune: Tune) -> str:
        """The grooves that could stand there instead."""
        fitting = sorted(name for name, one in self.built["grooves"].items() if one.fits(tune.meter))
        if not fitting:
            return f"There is no groove for {tune.meter} yet: write one in grooves/."
        return f"Grooves for {tune.meter}: {', '.join(fitting[:8])}."

    def name_tunes(self, groove: Groove, refused: Tune) -> str:
        """The tunes that could be swapped in instead, since an edition changes no groove."""
        fitting = sorted(name for name, one in self.built["tunes"].items() if groove.fits(one.meter))
        return f"Take a tune for that groove in place of '{refused.name}': {', '.join(fitting[:8])}."

    def fit_tempo(self, exercise: ExerciseSpec, groove: Groove, place: Place) -> None:
        """A tempo the exercise sets itself lies within its groove's."""
        low, high = groove.tempo
        for tempo in (exercise.start, exercise.goal):
            if tempo and not low <= tempo <= high:
                message = f"{tempo} lies outside the tempo {low}–{high} of groove '{groove.name}'"
                self.report.warn(place, message, "Choose a tempo inside, or widen the groove's 'tempo'.")

    def check_swap(self, old: str, tune: Tune, place: Place) -> None:
        """A tune that takes another's place has the sections, the chords and the meter its exercises ask for."""
        for week in self.built["weeks"].values():
            for number, exercise in enumerate(week.exercises, start=1):
                if exercise.tune == old:
                    self.fit_tune(tune, exercise, place, place, f" (week '{week.name}', exercise {number})")


def _find_places(exercise: ExerciseSpec, document: Document | None) -> dict[str, Place]:
    """Where the exercise's keys stand; of those not written, where the exercise begins."""
    keys = ("tune", "groove", "sections", "start", *_ONLY_FOR)
    path = document.path_at(exercise.place) if document else None
    if document is None or path is None:
        return dict.fromkeys(keys, exercise.place)
    return {key: document.place(*path, key) for key in keys}


def _has_chords(tune: Tune) -> bool:
    stretches = (stretch for section in tune.sections for stretch in (section.body, *section.endings))
    return any(span.chord for stretch in stretches for span in stretch.chords)
