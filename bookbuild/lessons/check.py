"""Cross references: every name an exercise, an edition or the course uses exists and fits what it is used for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from bookbuild.lessons.defaults import AMERICAN, FULL_SIZE, make_edition
from bookbuild.lessons.model import Course, Edition, ExerciseSpec, Groove, Place, Tune, Week
from bookbuild.lessons.report import Report, guess_name
from bookbuild.lessons.schema import CourseFile
from bookbuild.lessons.words import DEFAULT_WORDS
from bookbuild.lessons.yaml_text import Document

FOLDERS = ("weeks", "tunes", "grooves", "instruments", "counting", "words", "editions")

NEEDS_TUNE = frozenset({"left-hand", "melody", "shapes", "fill", "together", "shake-melody", "arrangement"})
NEEDS_GROOVE = frozenset({"left-hand-one-chord", "left-hand", "fill", "together", "shake-groove", "arrangement"})
NEEDS_CHORDS = frozenset({"left-hand", "shapes", "fill", "together", "arrangement"})
ON_ONE_CHORD = frozenset({"left-hand-one-chord", "shake-one-bass"})


@dataclass
class Parts:
    """What was read of a course: names of files by folder, what could be built of them, their documents."""

    course: CourseFile | None = None
    names: dict[str, set[str]] = field(default_factory=lambda: {folder: set() for folder in FOLDERS})
    built: dict[str, dict[str, Any]] = field(default_factory=lambda: {folder: {} for folder in FOLDERS})
    documents: dict[str, Document | None] = field(default_factory=dict)


def assemble_course(parts: Parts, report: Report) -> Course | None:
    """Check all references and put the course together; None when course.yaml could not be read."""
    _add_defaults(parts)
    checker = _Checker(parts, report)
    for name in sorted(parts.built["weeks"]):
        checker.check_week(parts.built["weeks"][name])
    for name in sorted(parts.built["editions"]):
        checker.check_edition(parts.built["editions"][name])
    if parts.course is None:
        return None
    weeks = checker.check_course(parts.course)
    edition, instrument = checker.choose_defaults(parts.course)
    if report.has_errors():
        return None
    built, written = parts.built, parts.course
    editions = {name: replace(one, instrument=one.instrument or instrument) for name, one in built["editions"].items()}
    return Course(written.title, written.subtitle, written.text, weeks, built["tunes"], built["grooves"], built["instruments"],
                  built["counting"], {"en": DEFAULT_WORDS, **built["words"]}, editions, edition, instrument, written.rights,
                  tuple((entry.term, entry.text) for entry in written.glossary), dict(written.weights))


def _add_defaults(parts: Parts) -> None:
    """Fill in what a small course leaves out."""
    if AMERICAN.name not in parts.names["counting"]:
        parts.built["counting"][AMERICAN.name] = AMERICAN
    if not parts.names["instruments"]:
        parts.built["instruments"][FULL_SIZE.name] = FULL_SIZE
    parts.built["words"].setdefault("en", DEFAULT_WORDS)
    for folder in FOLDERS:
        parts.names[folder] |= set(parts.built[folder])


class _Checker:
    """Looks names up and reports those that do not exist, at the place where they are written."""

    def __init__(self, parts: Parts, report: Report) -> None:
        self.parts = parts
        self.report = report

    def place(self, file: str, *path: str | int) -> Place:
        document = self.parts.documents.get(file)
        return document.place(*path) if document else Place(file)

    def knows(self, folder: str, name: str, place: Place, what: str) -> bool:
        """True when the name exists and could be read; a name that does not exist is reported."""
        if name in self.parts.names[folder]:
            return name in self.parts.built[folder]
        self.report.add(place, f"there is no {what} '{name[:60]}' in {folder}/", guess_name(name, sorted(self.parts.names[folder]), what))
        return False

    def check_course(self, course: CourseFile) -> tuple[Week, ...]:
        """The weeks in order; files that no line of `weeks` names get a warning."""
        weeks = []
        for index, name in enumerate(course.weeks):
            place = self.place("course.yaml", "weeks", index)
            if name in course.weeks[:index]:
                self.report.add(place, f"week '{name[:60]}' stands twice in the course", "Remove one of the two lines.")
            elif self.knows("weeks", name, place, "week"):
                weeks.append(self.parts.built["weeks"][name])
        for name in sorted(self.parts.names["weeks"] - set(course.weeks)):
            self.report.warn(Place(f"weeks/{name}.yaml"), "this week is not part of the course", "Add its name to 'weeks' in course.yaml.")
        return tuple(weeks)

    def choose_defaults(self, course: CourseFile) -> tuple[str, str]:
        """Names of the edition and the instrument used when none is asked for."""
        instruments = sorted(self.parts.names["instruments"])
        instrument = course.instrument or instruments[0]
        if course.instrument:
            self.knows("instruments", instrument, self.place("course.yaml", "instrument"), "instrument")
        elif len(instruments) > 1:
            self.report.add(self.place("course.yaml"), "the course does not say which instrument it is for",
                            f"Add a line 'instrument:' with one of: {', '.join(instruments)}.")
        if not self.parts.names["editions"] and not course.edition:
            self.parts.built["editions"]["standard"] = make_edition(course.title, instrument)
            return "standard", instrument
        editions = sorted(self.parts.names["editions"])
        edition = course.edition or editions[0]
        if course.edition:
            self.knows("editions", edition, self.place("course.yaml", "edition"), "edition")
        elif len(editions) > 1:
            self.report.add(self.place("course.yaml"), "the course does not say which edition is its own",
                            f"Add a line 'edition:' with one of: {', '.join(editions)}.")
        return edition, instrument

    def check_edition(self, edition: Edition) -> None:
        """Names an edition uses, and whether its swapped tunes fit every exercise they come into."""
        file = edition.place.file
        for folder, key, what in (("instruments", "instrument", "instrument"), ("counting", "counting", "counting"),
                                  ("words", "language", "language")):
            name = getattr(edition, key)
            if name:
                self.knows(folder, name, self.place(file, key), what)
        for old, new in edition.swaps.items():
            document = self.parts.documents.get(file)
            self.knows("tunes", old, document.key_place("swaps", old) if document else Place(file), "tune")
            if self.knows("tunes", new, self.place(file, "swaps", old), "tune"):
                self.check_swap(edition, old, self.parts.built["tunes"][new])

    def check_swap(self, edition: Edition, old: str, tune: Tune) -> None:
        """A tune that takes another's place has the sections and the meter its exercises ask for."""
        place = self.place(edition.place.file, "swaps", old)
        for week in self.parts.built["weeks"].values():
            for number, exercise in enumerate(week.exercises, 1):
                if exercise.tune == old:
                    self.fit_tune(tune, exercise, place, place, f" (week {week.name}, exercise {number})")

    def check_week(self, week: Week) -> None:
        """Every exercise of a week."""
        for index, exercise in enumerate(week.exercises):
            self.check_exercise(exercise, week.place.file, index)

    def check_exercise(self, exercise: ExerciseSpec, file: str, index: int) -> None:
        at = exercise.place
        kind = exercise.kind
        tune = self.find("tunes", exercise.tune, self.place(file, "exercises", index, "tune"), "tune")
        groove = self.find("grooves", exercise.groove, self.place(file, "exercises", index, "groove"), "groove")
        if not exercise.tune and kind in NEEDS_TUNE:
            self.report.add(at, f"the exercise '{kind}' needs a tune", "Add 'tune:' with a name from tunes/.")
        if not exercise.groove and kind in NEEDS_GROOVE:
            self.report.add(at, f"the exercise '{kind}' needs a groove", "Add 'groove:' with a name from grooves/.")
        if not exercise.tune and not exercise.groove and kind not in NEEDS_TUNE | NEEDS_GROOVE:
            self.report.add(at, f"the exercise '{kind}' needs a groove or a tune", "Add 'groove:' or 'tune:'; it takes the meter from it.")
        if exercise.chord is None and not exercise.tune and kind in ON_ONE_CHORD | {"shake-groove"}:
            self.report.add(at, f"the exercise '{kind}' needs a chord", "Add 'chord:', for example C, or a tune whose tonic it takes.")
        self.check_extras(exercise, file, index)
        if tune:
            self.fit_tune(tune, exercise, self.place(file, "exercises", index, "sections"),
                          self.place(file, "exercises", index, "groove"), "")
        if groove and not exercise.tune and exercise.start and not groove.tempo[0] <= exercise.start <= groove.tempo[1]:
            self.report.warn(self.place(file, "exercises", index, "start"),
                             f"{exercise.start} lies outside the tempo {groove.tempo[0]}–{groove.tempo[1]} of groove '{groove.name}'",
                             "Choose a tempo inside, or widen the groove's.")

    def find(self, folder: str, name: str, place: Place, what: str) -> Any:
        if not name or not self.knows(folder, name, place, what):
            return None
        return self.parts.built[folder][name]

    def check_extras(self, exercise: ExerciseSpec, file: str, index: int) -> None:
        """Keys that mean something for some kinds only."""
        arrangement = exercise.kind == "arrangement"
        for key, allowed in (("shake", arrangement), ("introduction", arrangement), ("sections", bool(exercise.tune)),
                             ("chord", exercise.kind in ON_ONE_CHORD | {"shake-groove"})):
            if getattr(exercise, key) and not allowed:
                self.report.add(self.place(file, "exercises", index, key), f"'{key}' means nothing for this '{exercise.kind}' exercise",
                                "Remove it, or choose another kind.")

    def fit_tune(self, tune: Tune, exercise: ExerciseSpec, sections: Place, groove: Place, where: str) -> None:
        """Sections exist, the tune has chords where they are needed, tune and groove have one meter."""
        names = [section.name for section in tune.sections]
        for name in (*exercise.sections, *exercise.shake):
            if name not in names:
                self.report.add(sections, f"tune '{tune.name}' has no section '{name[:40]}'{where}", guess_name(name, names, "section"))
        if exercise.kind in NEEDS_CHORDS and not _has_chords(tune):
            self.report.add(sections, f"tune '{tune.name}' has no chords, and '{exercise.kind}' is made from them{where}",
                            "Write 'chords' in the tune's sections.")
        pattern: Groove | None = self.parts.built["grooves"].get(exercise.groove)
        if pattern and pattern.meter != tune.meter:
            fitting = sorted(name for name, one in self.parts.built["grooves"].items() if one.meter == tune.meter)
            hint = f"Grooves in {tune.meter}: {', '.join(fitting[:8])}." if fitting else f"There is no groove in {tune.meter} yet."
            self.report.add(groove, f"groove '{pattern.name}' is in {pattern.meter}, tune '{tune.name}' in {tune.meter}{where}", hint)


def _has_chords(tune: Tune) -> bool:
    return any(span.chord for section in tune.sections for stretch in (section.body, *section.endings) for span in stretch.chords)
