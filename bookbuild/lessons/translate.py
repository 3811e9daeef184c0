"""A course in the language of an edition: its own texts replaced by their translations, everything else untouched."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, TypeVar

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.lessons.model import Course, Edition, Translation, Tune, Week
from bookbuild.lessons.report import Report, guess_name, show
from bookbuild.lessons.yaml_text import Document, Path

_Thing = TypeVar("_Thing")
_COURSE = ("title", "subtitle", "text", "rights", "glossary")
_WEEK = ("title", "aim", "text", "new", "listen", "caution")
_EXERCISE = ("title", "instruction")
_TUNE = ("title", "origin", "text")
_RIGHTS = ("composer", "source", "statement")
_GROOVE = ("title", "origin", "text")
_INSTRUMENT = ("title",)
MOST_NAMED = 6
"""Untranslated texts that a warning names."""


def translate_course(course: Course, language: str) -> Course:
    """The course in a language it has a translation for, else as it is. Translating twice changes nothing."""
    if language not in course.translations:
        return course
    speech = course.translations[language]
    return replace(
        _say(speech, course, (), _COURSE),
        weeks=tuple(_say_week(speech, week) for week in course.weeks),
        tunes={name: _say_tune(speech, tune) for name, tune in course.tunes.items()},
        grooves={name: _say(speech, one, ("grooves", name), _GROOVE) for name, one in course.grooves.items()},
        instruments={
            name: _say(speech, one, ("instruments", name), _INSTRUMENT) for name, one in course.instruments.items()
        },
    )


def _text(speech: Translation, path: Path, original: Any) -> Any:
    """What stands for a text: its own translation, that of its words wherever they stand, or the text itself."""
    if path in speech.texts:
        return speech.texts[path]
    if isinstance(original, str):
        return speech.phrases.get(original, original)
    return tuple(speech.phrases.get(line, line) if isinstance(line, str) else line for line in original)


def _say(speech: Translation, thing: _Thing, path: Path, fields: tuple[str, ...]) -> _Thing:
    """A thing of the course with the named texts in the other language."""
    said = {name: _text(speech, (*path, name), getattr(thing, name)) for name in fields}
    return replace(thing, **said)  # type: ignore[type-var]


def _say_week(speech: Translation, week: Week) -> Week:
    path: Path = ("weeks", week.name)
    said = _say(speech, week, path, _WEEK)
    exercises = (
        _say(speech, spec, (*path, "exercises", place), _EXERCISE) for place, spec in enumerate(week.exercises, 1)
    )
    return replace(said, exercises=tuple(exercises))


def _say_tune(speech: Translation, tune: Tune) -> Tune:
    path: Path = ("tunes", tune.name)
    return replace(_say(speech, tune, path, _TUNE), rights=_say(speech, tune.rights, path, _RIGHTS))


def check_translation(course: Course, speech: Translation, document: Document | None, report: Report) -> None:
    """Warn of texts for what the course does not have; a name it does not know is told once."""
    known = {path for path, _ in _list_texts(course)}
    named = {path[:2] for path in known if len(path) > 1}
    told: set[Path] = set()
    for path in speech.texts:
        if path in known or document is None or path[:2] in told or report.is_full(document.file):
            continue
        hint, shown = "Remove it, or write the course's own text first.", path[:-1]
        if path[:2] not in named:
            names = {str(name) for kind, name in named if kind == path[0]}
            hint, shown = guess_name(str(path[1]), names, "name"), path[:2]
            told.add(path[:2])
        place = document.key_place(*map(str, shown))
        report.warn(place, f"the course has no {show('/'.join(map(str, shown)), 80)} to translate", hint)


def find_untranslated(course: Course, edition: Edition) -> list[Diagnostic]:
    """A warning that names texts which an edition in another language will print as the course has them."""
    speech = course.translations.get(edition.language)
    if speech is None:
        return []
    specs = [spec for week in course.weeks for spec in week.exercises]
    used = {*(("tunes", edition.swaps.get(spec.tune, spec.tune)) for spec in specs),
            *(("grooves", spec.groove) for spec in specs), ("instruments", edition.instrument)}
    missing = ["/".join(map(str, path)) for path, text in _list_texts(course)
               if (path[0] not in ("tunes", "grooves", "instruments") or path[:2] in used)
               and text and path not in speech.texts and _text(speech, path, text) == text and not _is_name(text)]
    if not missing:
        return []
    shown = ", ".join(missing[:MOST_NAMED])
    more = f" and {len(missing) - MOST_NAMED} more" if len(missing) > MOST_NAMED else ""
    message = f"texts that will be printed as the course has them, because they are missing here: {shown}{more}"
    at = speech.place
    return [Diagnostic(Severity.WARNING, at.file, at.line, at.column, message, "Translate them in this file.")]


def _is_name(text: Any) -> bool:
    """True of a single word, which may be the same in every language: Polka, Jig."""
    return isinstance(text, str) and " " not in text


def _list_texts(course: Course) -> Iterator[tuple[Path, Any]]:
    """Every text of the course that is printed, by path; the empty ones too."""
    yield from ((path, text) for path, text in _fields(course, (), _COURSE))
    for week in course.weeks:
        yield from _fields(week, ("weeks", week.name), _WEEK)
        for place, spec in enumerate(week.exercises, 1):
            yield from _fields(spec, ("weeks", week.name, "exercises", place), _EXERCISE)
    for name, tune in course.tunes.items():
        yield from _fields(tune, ("tunes", name), _TUNE)
        yield from _fields(tune.rights, ("tunes", name), _RIGHTS)
    for name, groove in course.grooves.items():
        yield from _fields(groove, ("grooves", name), _GROOVE)
    for name, instrument in course.instruments.items():
        yield from _fields(instrument, ("instruments", name), _INSTRUMENT)


def _fields(thing: object, path: Path, fields: tuple[str, ...]) -> Iterator[tuple[Path, Any]]:
    return (((*path, name), getattr(thing, name)) for name in fields)
