"""A course's own exercises held to the rules of the trade, for `bookbuild check`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bookbuild.arrange.check import RULES, check_arrangement
from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.arrange.exercises import Ask, Setting
from bookbuild.diagnostics import Diagnostic, Severity


def check_lessons(lessons: Sequence[Lesson], setting: Setting) -> Iterator[Diagnostic]:
    """A warning for every rule an exercise breaks, unless a notice printed with it explains the matter already."""
    for lesson in lessons:
        for exercise in lesson.exercises:
            yield from _check_exercise(exercise, setting)


def note_moved(lessons: Sequence[Lesson]) -> Iterator[Diagnostic]:
    """A note for each tune of which some notes lie beyond the keyboard, where a mistyped octave is likely."""
    told: set[str] = set()
    for exercise in (exercise for lesson in lessons for exercise in lesson.exercises):
        for notice in exercise.arrangement.notices:
            if exercise.tune and exercise.tune.name not in told and getattr(notice, "key", "") == "say.some-moved":
                told.add(exercise.tune.name)
                place = exercise.tune.place
                message = f"exercise {exercise.number} prints: {notice}"
                hint = "Check the octave marks of these notes, or choose an instrument that reaches them."
                yield Diagnostic(Severity.NOTE, place.file, place.line, place.column, message, hint)


def _check_exercise(exercise: Exercise, setting: Setting) -> Iterator[Diagnostic]:
    # Shapes strike a long note again where the chord changes, so its written value is not asked for.
    written = exercise.tune and exercise.spec.right != "shapes"
    line = Ask(exercise.spec, exercise.tune, exercise.groove, setting).line() if written else None
    found = check_arrangement(exercise.arrangement, setting.instrument, exercise.groove, span=setting.span, line=line)
    place = exercise.spec.place
    for finding in found:
        if not finding.explained:
            message = f"exercise {exercise.number}, {finding.message[0].lower()}{finding.message[1:]}"
            hint = f"{RULES[finding.rule]} Change the tune, its chords or the groove, or report it with its files."
            yield Diagnostic(Severity.WARNING, place.file, place.line, place.column, message, hint)
