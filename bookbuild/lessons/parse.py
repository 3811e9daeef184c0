"""YAML documents to the model, one function a kind of file; every finding goes to the report."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bookbuild.lessons.model import Counting, Edition, Place, Studio, Tune
from bookbuild.lessons.parse_groove import build_groove
from bookbuild.lessons.parse_instrument import build_instrument
from bookbuild.lessons.parse_texts import build_translation
from bookbuild.lessons.parse_tune import build_tune
from bookbuild.lessons.parse_week import build_week, check_fields
from bookbuild.lessons.report import Report, guess_name, show
from bookbuild.lessons.schema import CountingFile, CourseFile, EditionFile, WordsFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.words import DEFAULT_WORDS, EXERCISE_FIELDS, find_fields
from bookbuild.lessons.yaml_text import Document, load_yaml
from bookbuild.theory.naming import ENGLISH_TONES, read_names

__all__ = ["BUILDERS", "build_course_file", "build_groove", "build_tune", "parse_tune"]

LONGEST_MARK = 40
"""Characters in a word that is engraved with the music; more would push it off the page."""
MOST_SLOTS = 12
"""Slots of a beat a counting table may have syllables for."""


def parse_tune(content: bytes, name: str, file: str, report: Report) -> Tune | None:
    """Read a tune from the bytes of a file called `file`; None when an error was found."""
    document = load_yaml(content, file, report)
    return build_tune(name, document, report) if document else None


def build_counting(name: str, document: Document, report: Report) -> Counting | None:
    """The syllable table of a document; None when an error was found."""
    written, broken = validate(CountingFile, "counting", document, report)
    if written is None:
        return None
    for table in ("simple", "compound"):
        for slots, syllables in getattr(written, table).items():
            place = document.place(table, str(slots))
            if slots != len(syllables):
                message = f"{len(syllables)} syllables do not fill {slots} slots"
                report.add(place, message, "Write one syllable for each slot.")
            if not 1 <= slots <= MOST_SLOTS:
                report.add(place, f"a beat of {slots} slots is not counted", f"Slots are 1 to {MOST_SLOTS}.")
    if not written.simple and ("simple",) not in broken:
        report.add(document.place("simple"), "the table is empty", 'Write for example 2: [n, "&"].')
    if report.has_errors(document.file):
        return None
    return Counting(
        name=name,
        title=written.title,
        simple={slots: tuple(syllables) for slots, syllables in written.simple.items()},
        compound={slots: tuple(syllables) for slots, syllables in written.compound.items()},
        source=written.source,
        by_value=written.by_value,
        place=Place(document.file, 1, 1),
    )


def build_words(name: str, document: Document, report: Report) -> dict[str, str] | None:
    """The labels of a language, those left out filled in from English (with a warning that names them)."""
    written, _ = validate(WordsFile, "words", document, report)
    if written is None:
        return None
    words = written.root
    for key, text in words.items():
        if key in DEFAULT_WORDS:
            printed = frozenset(field for _, field in find_fields(DEFAULT_WORDS[key]))
            check_fields(text, EXERCISE_FIELDS if key.startswith("do.") else printed, document, (key,), report)
            if key.startswith("mark.") and len(text) > LONGEST_MARK:
                message = f"{show(text)} is too long to stand beside a staff"
                report.add(document.place(key), message, f"Write {LONGEST_MARK} characters at most.")
            if key == "tone.names":
                words[key] = _read_names(text, document.place(key), report)
        elif not report.is_full(document.file):
            hint = guess_name(key, DEFAULT_WORDS, "label")
            report.add(document.key_place(key), f"{show(key)} is not a label of the book", hint)
    missing = [key for key in DEFAULT_WORDS if key not in words]
    if missing and name != "en":
        shown = ", ".join(missing[:8]) + (f" and {len(missing) - 8} more" if len(missing) > 8 else "")
        message = f"labels that will be printed in English, because they are missing here: {shown}"
        report.warn(Place(document.file), message, "Add them to this file, key and text.")
    return None if report.has_errors(document.file) else {**DEFAULT_WORDS, **words}


def _read_names(text: str, place: Place, report: Report) -> str:
    try:
        return read_names(text)
    except ValueError as error:
        hint = f"Name eight tones from C up, B flat before B, for example: {ENGLISH_TONES}"
        report.add(place, f"{show(text)}: {error}", hint)
        return ENGLISH_TONES


def build_edition(name: str, document: Document, report: Report) -> Edition | None:
    """The edition of a document; `instrument` stays empty where it is the course's.

    With errors in the file it is what could be used of it, so that its names are checked in the same run.
    """
    written, _ = validate(EditionFile, "edition", document, report)
    if written is None:
        return None
    values = {key: getattr(written, key) for key in EditionFile.model_fields if key not in ("studio", "swaps")}
    studio = Studio(written.studio.name, written.studio.address, written.studio.logo)
    return Edition(name=name, studio=studio, swaps=dict(written.swaps), place=Place(document.file, 1, 1), **values)


def build_course_file(document: Document, report: Report) -> CourseFile | None:
    """The content of course.yaml; with errors in it, what could be used."""
    written, _ = validate(CourseFile, "course", document, report)
    return written


BUILDERS: dict[str, Callable[[str, Document, Report], Any]] = {
    "weeks": build_week,
    "tunes": build_tune,
    "grooves": build_groove,
    "instruments": build_instrument,
    "counting": build_counting,
    "words": build_words,
    "editions": build_edition,
    "translations": build_translation,
}
"""Folder of the course -> what reads its files."""
