"""Cross references: every name an exercise, an edition or the course uses exists and fits what it is used for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from bookbuild.lessons.check_exercise import ExerciseChecker
from bookbuild.lessons.defaults import AMERICAN, FULL_SIZE, make_edition
from bookbuild.lessons.model import Counting, Course, Edition, Groove, Place, Week
from bookbuild.lessons.report import Report, guess_name, show
from bookbuild.lessons.schema import CourseFile
from bookbuild.lessons.translate import check_translation
from bookbuild.lessons.words import DEFAULT_WORDS
from bookbuild.lessons.yaml_text import Document
from bookbuild.theory.counting import find_row

FOLDERS = ("weeks", "tunes", "grooves", "instruments", "counting", "words", "editions", "translations")
"""Folders of a course; a file's name in its folder is what other files call it."""


@dataclass
class Parts:
    """What was read of a course: names of files by folder, what could be built of them, their documents."""

    course: CourseFile | None = None
    names: dict[str, set[str]] = field(default_factory=lambda: {folder: set() for folder in FOLDERS})
    built: dict[str, dict[str, Any]] = field(default_factory=lambda: {folder: {} for folder in FOLDERS})
    documents: dict[str, Document | None] = field(default_factory=dict)


def assemble_course(parts: Parts, report: Report, printed: str | None = None) -> Course | None:
    """Check all references and put the course together; None when an error was found (the report says which).

    Where an edition is to be `printed` ('' is the course's own), others that are faulty are left out with a warning.
    """
    _add_defaults(parts)
    checker = _Checker(parts, report)
    for name in sorted(parts.built["weeks"]):
        ExerciseChecker(parts.names, parts.built, report).check_week(
            parts.built["weeks"][name], parts.documents[f"weeks/{name}.yaml"]
        )
    for name in sorted(parts.built["editions"]):
        checker.check_edition(parts.built["editions"][name])
    if parts.course is None:
        return None
    weeks = checker.check_weeks(parts.course)
    instrument = checker.choose("instruments", parts.course.instrument, "instrument")
    if not parts.names["editions"] and not parts.course.edition:
        parts.built["editions"]["standard"] = make_edition(parts.course.title, instrument)
        parts.names["editions"].add("standard")
    edition = checker.choose("editions", parts.course.edition, "edition")
    if printed is not None:
        _leave_out_faulty(parts, printed or edition, report)
    if report.has_errors():
        return None
    course = _make_course(parts.course, parts.built, weeks, edition, instrument)
    for name, speech in sorted(course.translations.items()):
        check_translation(course, speech, parts.documents.get(f"translations/{name}.yaml"), report)
    return course


def _leave_out_faulty(parts: Parts, printed: str, report: Report) -> None:
    """Leave out the editions with errors but the one that is printed: its reader cannot mend the others."""
    for name in parts.names["editions"] - {printed}:
        if report.has_errors(f"editions/{name}.yaml"):
            report.soften(f"editions/{name}.yaml")
            parts.built["editions"].pop(name, None)


def _make_course(
    written: CourseFile, built: dict[str, dict[str, Any]], weeks: tuple[Week, ...], edition: str, instrument: str
) -> Course:
    editions = {name: replace(one, instrument=one.instrument or instrument) for name, one in built["editions"].items()}
    return Course(
        title=written.title,
        subtitle=written.subtitle,
        text=written.text,
        weeks=weeks,
        tunes=built["tunes"],
        grooves=built["grooves"],
        instruments=built["instruments"],
        countings=built["counting"],
        words=built["words"],
        editions=editions,
        default_edition=edition,
        default_instrument=instrument,
        rights=written.rights,
        glossary=tuple((entry.term, entry.text) for entry in written.glossary),
        weights=dict(written.weights),
        translations=built["translations"],
    )


def _add_defaults(parts: Parts) -> None:
    """Fill in what a small course leaves out."""
    if AMERICAN.name not in parts.names["counting"]:
        parts.built["counting"][AMERICAN.name] = AMERICAN
    if not parts.names["instruments"]:
        parts.built["instruments"][FULL_SIZE.name] = FULL_SIZE
    parts.built["words"].setdefault("en", dict(DEFAULT_WORDS))
    for folder in FOLDERS:
        parts.names[folder] |= set(parts.built[folder])


class _Checker:
    """Checks what the course file and the editions name."""

    def __init__(self, parts: Parts, report: Report) -> None:
        self.parts = parts
        self.names = parts.names
        self.built = parts.built
        self.report = report

    def place(self, file: str, *path: str | int) -> Place:
        """Where a value of a file stands."""
        document = self.parts.documents.get(file)
        return document.place(*path) if document else Place(file)

    def knows(self, folder: str, name: str, place: Place, what: str) -> bool:
        """True when the name exists and could be read; a name that does not exist is reported."""
        if name not in self.names[folder]:
            hint = guess_name(name, self.names[folder], what)
            self.report.add(place, f"there is no {what} {show(name)} in {folder}/", hint)
        return name in self.built[folder]

    def check_weeks(self, course: CourseFile) -> tuple[Week, ...]:
        """The weeks in order; files that no line of `weeks` names get a warning."""
        weeks = []
        for index, name in enumerate(course.weeks):
            place = self.place("course.yaml", "weeks", index)
            if name in course.weeks[:index]:
                self.report.add(place, f"week {show(name)} stands twice in the course", "Remove one of the two lines.")
            elif self.knows("weeks", name, place, "week"):
                weeks.append(self.built["weeks"][name])
        if self.report.has_errors("course.yaml"):
            return tuple(weeks)
        for name in sorted(self.names["weeks"] - set(course.weeks)):
            hint = "Add its name to 'weeks' in course.yaml, or remove the file."
            self.report.warn(Place(f"weeks/{name}.yaml"), "this week is not part of the course", hint)
        return tuple(weeks)

    def choose(self, folder: str, name: str, what: str) -> str:
        """The instrument or edition used when none is asked for: the one named, else the only one there is."""
        known = sorted(self.names[folder])
        if name:
            self.knows(folder, name, self.place("course.yaml", what), what)
        elif len(known) > 1:
            hint = f"Add a line '{what}:' with one of: {', '.join(known[:12])}."
            self.report.add(self.place("course.yaml"), f"the course does not say which {what} is its own", hint)
        return name or known[0]

    def check_edition(self, edition: Edition) -> None:
        """Names an edition uses, whether its counting has all syllables and its swapped tunes fit their exercises."""
        file = edition.place.file
        if edition.instrument:
            self.knows("instruments", edition.instrument, self.place(file, "instrument"), "instrument")
        self.knows("words", edition.language, self.place(file, "language"), "language")
        if self.knows("counting", edition.counting, self.place(file, "counting"), "counting"):
            self.check_counting(edition, self.built["counting"][edition.counting])
        document = self.parts.documents.get(file)
        for old, new in edition.swaps.items():
            at_key = document.key_place("swaps", old) if document else Place(file)
            self.knows("tunes", old, at_key, "tune")
            place = self.place(file, "swaps", old)
            if self.knows("tunes", new, place, "tune"):
                checker = ExerciseChecker(self.names, self.built, self.report)
                checker.check_swap(old, self.built["tunes"][new], place)

    def check_counting(self, edition: Edition, counting: Counting) -> None:
        """The counting of an edition has syllables for every groove the weeks use."""
        used = {exercise.groove for week in self.built["weeks"].values() for exercise in week.exercises}
        for name in sorted(used & set(self.built["grooves"])):
            groove: Groove = self.built["grooves"][name]
            try:
                find_row(groove.meter, groove.slots, counting)
            except ValueError as error:
                place = self.place(edition.place.file, "counting")
                message = f"counting {show(counting.name)} does not fit groove {show(name)}: {error}"
                hint = f"Add the row to counting/{counting.name}.yaml, or choose another counting."
                self.report.add(place, message, hint)
