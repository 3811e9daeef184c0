"""A week's YAML to the model."""

from __future__ import annotations

from bookbuild.lessons.model import ExerciseSpec, Place, Week
from bookbuild.lessons.report import Report, show
from bookbuild.lessons.schema import ExercisePart, WeekFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.words import EXERCISE_FIELDS, find_fields
from bookbuild.lessons.yaml_text import Document, Path

SLOWEST = 10
"""Beats a minute; slower than that nobody counts."""


def build_week(name: str, document: Document, report: Report) -> Week | None:
    """The week of a document.

    With errors in the file it is what could be used of it, without the exercises that are at fault, so that the names
    in the others are checked in the same run.
    """
    written, broken = validate(WeekFile, "week", document, report)
    if written is None:
        return None
    faulty = {path[1] for path in broken if path[:1] == ("exercises",) and len(path) > 1}
    exercises = [
        _build_exercise(index, part, document, report)
        for index, part in enumerate(written.exercises)
        if index not in faulty and ("exercises",) not in broken
    ]
    return Week(
        name=name,
        title=written.title,
        aim=written.aim,
        text=written.text,
        new=tuple(written.new),
        listen=tuple(written.listen),
        exercises=tuple(exercises),
        caution=written.caution,
        link=written.link,
        place=Place(document.file, 1, 1),
    )


def _build_exercise(index: int, part: ExercisePart, document: Document, report: Report) -> ExerciseSpec:
    path: Path = ("exercises", index)
    for key in ("title", "instruction"):
        check_fields(getattr(part, key), EXERCISE_FIELDS, document, (*path, key), report)
    if part.start and part.goal and part.start > part.goal:
        message = f"the tempo starts at {part.start}, above its goal {part.goal}"
        report.add(document.place(*path, "start"), message, "A ladder climbs: write the slower tempo as start.")
    for key in ("start", "goal"):
        tempo = getattr(part, key)
        if 0 < tempo < SLOWEST:
            hint = "Write beats a minute, for example 60; 0 takes the tune's."
            report.add(document.place(*path, key), f"{tempo} beats a minute is too slow to count", hint)
    return ExerciseSpec(
        kind=part.kind,
        tune=part.tune,
        groove=part.groove,
        sections=tuple(part.sections),
        title=part.title,
        instruction=part.instruction,
        chord=part.chord,
        bars=part.bars,
        start=part.start,
        goal=part.goal,
        shake=tuple(part.shake),
        introduction=part.introduction,
        right=part.right,
        runs=part.runs,
        place=document.place(*path),
    )


def check_fields(text: str, known: frozenset[str], document: Document, path: Path, report: Report) -> None:
    """The {fields} of a printed text are those that can be filled in."""
    for offset, field in find_fields(text):
        if field not in known:
            allowed = ", ".join("{" + name + "}" for name in sorted(known)) or "no fields"
            message = f"{show('{' + field + '}')[1:-1]} cannot be filled in here"
            report.add(document.text_place(path, offset), message, f"This text may hold {allowed}.")
