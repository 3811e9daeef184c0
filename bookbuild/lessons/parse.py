"""YAML documents to the model, one function a kind of file; every finding goes to the report."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bookbuild.lessons.model import (
    ROWS,
    Air,
    Counting,
    Edition,
    ExerciseSpec,
    Instrument,
    Place,
    Studio,
    Tune,
    Week,
)
from bookbuild.lessons.parse_groove import build_groove
from bookbuild.lessons.parse_tune import build_tune
from bookbuild.lessons.report import Report, guess_name
from bookbuild.lessons.schema import (
    CountingFile,
    CourseFile,
    EditionFile,
    ExercisePart,
    InstrumentFile,
    WeekFile,
    WordsFile,
)
from bookbuild.lessons.validate import validate
from bookbuild.lessons.words import DEFAULT_WORDS, EXERCISE_FIELDS, find_fields
from bookbuild.lessons.yaml_text import Document, load_yaml

__all__ = [
    "BUILDERS",
    "build_counting",
    "build_course_file",
    "build_edition",
    "build_groove",
    "build_instrument",
    "build_tune",
    "build_week",
    "build_words",
    "parse_tune",
]


def parse_tune(content: bytes, name: str, file: str, report: Report) -> Tune | None:
    """Read a tune from the bytes of a file called `file`; None when an error was found."""
    document = load_yaml(content, file, report)
    return build_tune(name, document, report) if document else None


def build_week(name: str, document: Document, report: Report) -> Week | None:
    """The week of a document."""
    written, _ = validate(WeekFile, "week", document, report)
    if written is None:
        return None
    exercises = tuple(_build_exercise(index, part, document, report) for index, part in enumerate(written.exercises))
    if report.has_errors(document.file):
        return None
    return Week(
        name,
        written.title,
        written.aim,
        written.text,
        tuple(written.new),
        tuple(written.listen),
        exercises,
        written.caution,
        written.link,
        Place(document.file, 1, 1),
    )


def _build_exercise(index: int, part: ExercisePart, document: Document, report: Report) -> ExerciseSpec:
    for key in ("title", "instruction"):
        _check_fields(getattr(part, key), EXERCISE_FIELDS, document, ("exercises", index, key), report)
    if part.start and part.goal and part.start > part.goal:
        report.add(
            document.place("exercises", index, "start"),
            f"the tempo starts at {part.start}, above its goal {part.goal}",
            "A ladder climbs: write the slower tempo as start.",
        )
    for key in ("start", "goal"):
        if 0 < getattr(part, key) < 10:
            report.add(
                document.place("exercises", index, key),
                f"{getattr(part, key)} beats a minute is too slow to count",
                "Write beats a minute, for example 60; 0 takes the tune's.",
            )
    return ExerciseSpec(
        part.kind,
        part.tune,
        part.groove,
        tuple(part.sections),
        part.title,
        part.instruction,
        part.chord,
        part.bars,
        part.start,
        part.goal,
        tuple(part.shake),
        part.introduction,
        part.right,
        document.place("exercises", index),
    )


def _check_fields(
    text: str, known: frozenset[str], document: Document, path: tuple[str | int, ...], report: Report
) -> None:
    """The {fields} of a printed text are those that can be filled in."""
    for offset, field in find_fields(text):
        if field not in known:
            allowed = ", ".join("{" + name + "}" for name in sorted(known)) or "no fields"
            report.add(
                document.text_place(path, offset),
                f"{{{field[:30]}}} cannot be filled in here",
                f"This text may hold {allowed}.",
            )


def build_instrument(name: str, document: Document, report: Report) -> Instrument | None:
    """The instrument of a document."""
    written, broken = validate(InstrumentFile, "instrument", document, report)
    if written is None:
        return None
    right, left = written.right, written.left
    if right.lowest.midi >= right.highest.midi and not broken:
        report.add(
            document.place("right", "lowest"),
            "the lowest note is not below the highest",
            "Write names with octave marks: f is below middle C, a''' above the staff.",
        )
    order = [row for row in ROWS if row in left.rows]
    if list(left.rows) != order and not broken:
        report.add(
            document.place("left", "rows"),
            "the rows are not in order, or one stands twice",
            f"From the bellows outward: [{', '.join(order)}].",
        )
    for key in ("seventh", "diminished"):
        tones = getattr(left, key)
        if 0 not in tones or tones != sorted(set(tones)):
            report.add(
                document.place("left", key),
                "these semitones do not start at the root and rise",
                "For example [0, 4, 10].",
            )
    if report.has_errors(document.file):
        return None
    return Instrument(
        name,
        written.title,
        right.lowest,
        right.highest,
        tuple(left.rows),
        left.first_column,
        left.columns,
        tuple(left.seventh),
        tuple(left.diminished),
        Air(written.air.full, written.air.voice, written.air.shake),
        written.fingering,
        written.text,
        Place(document.file, 1, 1),
    )


def build_counting(name: str, document: Document, report: Report) -> Counting | None:
    """The syllable table of a document."""
    written, broken = validate(CountingFile, "counting", document, report)
    if written is None:
        return None
    for table in ("simple", "compound"):
        for slots, syllables in getattr(written, table).items():
            if slots != len(syllables):
                report.add(
                    document.place(table, str(slots)),
                    f"{len(syllables)} syllables for {slots} slots",
                    "Write one syllable for each slot.",
                )
            if not 1 <= slots <= 12:
                report.add(
                    document.key_place(table, str(slots)),
                    f"a beat of {slots} slots is not counted",
                    "Slots are 1 to 12.",
                )
    if not written.simple and ("simple",) not in broken:
        report.add(document.place("simple"), "the table is empty", 'Write for example 2: [n, "&"].')
    if report.has_errors(document.file):
        return None
    return Counting(
        name,
        written.title,
        {slots: tuple(names) for slots, names in written.simple.items()},
        {slots: tuple(names) for slots, names in written.compound.items()},
        written.source,
        Place(document.file, 1, 1),
    )


def build_words(name: str, document: Document, report: Report) -> dict[str, str] | None:
    """The labels of a language, those left out filled in from English (with a warning that names them)."""
    written, _ = validate(WordsFile, "words", document, report)
    if written is None:
        return None
    words = written.root
    for key, text in words.items():
        if key not in DEFAULT_WORDS:
            report.add(
                document.key_place(key),
                f"'{key[:40]}' is not a label of the book",
                guess_name(key, tuple(DEFAULT_WORDS), "label"),
            )
        else:
            allowed = frozenset(field for _, field in find_fields(DEFAULT_WORDS[key]))
            if key.startswith("do."):
                allowed = EXERCISE_FIELDS
            _check_fields(text, allowed, document, (key,), report)
    missing = [key for key in DEFAULT_WORDS if key not in words]
    if missing and name != "en":
        shown = ", ".join(missing[:8]) + (f" and {len(missing) - 8} more" if len(missing) > 8 else "")
        report.warn(
            Place(document.file),
            f"{len(missing)} labels are missing and will be printed in English: {shown}",
            "Add them to this file, key and text.",
        )
    return None if report.has_errors(document.file) else {**DEFAULT_WORDS, **words}


def build_edition(name: str, document: Document, report: Report) -> Edition | None:
    """The edition of a document; `instrument` stays empty where it is the course's."""
    written, _ = validate(EditionFile, "edition", document, report)
    if written is None or report.has_errors(document.file):
        return None
    values = {key: getattr(written, key) for key in EditionFile.model_fields if key not in ("studio", "swaps")}
    studio = Studio(written.studio.name, written.studio.address, written.studio.logo)
    return Edition(name=name, studio=studio, swaps=dict(written.swaps), place=Place(document.file, 1, 1), **values)


def build_course_file(name: str, document: Document, report: Report) -> CourseFile | None:
    """The checked content of course.yaml."""
    written, _ = validate(CourseFile, "course", document, report)
    return None if written is None or report.has_errors(document.file) else written


BUILDERS: dict[str, Callable[[str, Document, Report], Any]] = {
    "weeks": build_week,
    "tunes": build_tune,
    "grooves": build_groove,
    "instruments": build_instrument,
    "counting": build_counting,
    "words": build_words,
    "editions": build_edition,
}
"""Folder of the course -> what reads its files."""
