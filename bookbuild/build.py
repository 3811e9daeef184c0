"""The stages of a build, in order: read, arrange, grade, engrave, assemble, print. No decisions of its own."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from bookbuild.arrange.course import Lesson, arrange_course
from bookbuild.arrange.sheet import sheet_weeks
from bookbuild.diagnostics import CallError, ContentError, Diagnostic, MachineError, Severity
from bookbuild.finished import finished_key, load_finished
from bookbuild.grading.course import grade_course
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import Course, Edition, Groove, Tune
from bookbuild.lessons.translate import find_untranslated, translate_course
from bookbuild.pages.book import BookReport
from bookbuild.pages.logo import read_logo
from bookbuild.printing import (
    SHEET,
    Made,
    Progress,
    Work,
    begin_drawing,
    engraving_style,
    finish,
    name_printing,
    name_tasks,
    no_progress,
)
from bookbuild.workshop import Workshop, content_folder, rare_collection
from bookbuild.writing import write_atomically

SHEET_PAGES = 2
"""So many pages the sheet of a single tune may take: they lie side by side on the stand."""


@dataclass(frozen=True)
class Outcome:
    """What was built, for the closing line. `findings` are warnings and notes."""

    out: Path
    pages: int
    report: BookReport | None
    """How the pages were filled; None when the finished book was reused."""
    exercises: int
    reused: int
    seconds: float
    findings: tuple[Diagnostic, ...]


def load_course(folder: Path, printed: str | None = None) -> tuple[Course, list[Diagnostic]]:
    """The course and its warnings; raises ContentError with every finding when one is an error.

    Where only one edition is `printed` ('' is the course's own), other editions may be faulty.
    """
    course, findings = inspect_course(folder, content_folder(), printed)
    if course is None or any(finding.severity is Severity.ERROR for finding in findings):
        raise ContentError(findings)
    return course, findings


def choose_edition(course: Course, name: str) -> Edition:
    """The edition of that name, '' the course's own; raises CallError."""
    wanted = name or course.default_edition
    if wanted not in course.editions:
        raise CallError(f"there is no edition '{wanted}'", f"this course has: {', '.join(sorted(course.editions))}")
    return course.editions[wanted]


def build(folder: Path, out: Path, shop: Workshop, *, edition_name: str = "", week: int = 0, stand: bool = False,
          progress: Progress = no_progress) -> Outcome:
    """Print the course in `folder`, or one `week` of it, to `out`; an earlier file is replaced only at the very end.

    `stand` asks for the week's leaf for the music stand. Raises a BookbuildError that tells who is at fault.
    """
    course, findings = load_course(folder, edition_name)
    edition = choose_edition(course, edition_name)
    if week and not 1 <= week <= len(course.weeks):
        raise CallError(f"there is no week {week}", f"this course has weeks 1 to {len(course.weeks)}")
    findings += find_untranslated(course, edition)
    return build_course(course, folder, edition, out, shop, findings, week, progress, stand=stand)


def build_sheet(course: Course, folder: Path, edition: Edition, tune: Tune, groove: Groove, out: Path, shop: Workshop,
                *, progress: Progress = no_progress) -> Outcome:
    """Print the steps of one tune to `out`: as many as `SHEET_PAGES` hold, else those that take the fewest pages."""
    started = time.monotonic()
    edition = replace(edition, swaps={}, double_sided=False)
    course = translate_course(course, edition.language)
    tune, groove = course.tunes.get(tune.name, tune), course.grooves.get(groove.name, groove)
    tried: list[Made] = []
    for steps in sheet_weeks(tune, groove):
        alone = replace(course, weeks=(steps,), tunes={tune.name: tune}, grooves={groove.name: groove})
        tried.append(make_pdf(alone, folder, edition, shop, [], SHEET, progress))
        if tried[-1].finished.pages <= SHEET_PAGES:
            break
    return deliver(min(tried, key=lambda made: made.finished.pages), out, [], started)


def build_course(course: Course, folder: Path, edition: Edition, out: Path, shop: Workshop,
                 findings: Sequence[Diagnostic], week: int, progress: Progress, *, stand: bool = False) -> Outcome:
    """Print the whole book (`week` 0), one week of it, or that week's leaf for the stand, to `out`."""
    started = time.monotonic()
    made = make_pdf(course, folder, edition, shop, findings, week, progress, stand=stand)
    progress("making pages", 1, 1)
    return deliver(made, out, findings, started)


def deliver(made: Made, out: Path, findings: Sequence[Diagnostic], started: float) -> Outcome:
    """Put a finished book in its place; raises MachineError."""
    done = made.finished
    put_in_place(out, done.pdf)
    report = replace(made.report, path=out) if made.report else None
    return Outcome(out, done.pages, report, done.exercises, made.reused, time.monotonic() - started,
                   (*findings, *done.findings))


def make_pdf(course: Course, folder: Path, edition: Edition, shop: Workshop, findings: Sequence[Diagnostic],
             week: int, progress: Progress, *, stand: bool = False) -> Made:
    """Arrange, grade, engrave, assemble and print; `week` 0 is the whole book, `SHEET` the steps of a single tune.

    Raises ContentError, with `findings` and all that arranging says, and MachineError.
    """
    course = translate_course(course, edition.language)
    known = load_finished(finished_key(course, folder, edition, name_printing(week, stand), shop), shop)
    if known:
        return Made(known, None, known.exercises)
    try_logo(folder, edition)
    # The leaf for the stand needs the book first, whose batches are made of all its exercises.
    weeks = course.weeks[week - 1 : week] if week > 0 and not stand else course.weeks
    exercises = sum(len(each.exercises) for each in weeks)
    style = engraving_style(course, edition)
    with rare_collection(), begin_drawing(style, shop, exercises) as drawing:

        def begin(lesson: Lesson) -> None:
            if not stand and week in (0, SHEET, lesson.number):
                drawing.add(name_tasks(lesson.exercises))
            progress("arranging", lesson.number, len(course.weeks))

        lessons, remarks = arrange_course(course, edition, begin)
        if remarks:
            raise ContentError([*findings, *remarks])
        grade = cache(lambda: grade_course(course, edition, lessons))
        return finish(Work(course, folder, edition, lessons, grade, week, stand, shop, progress, drawing))


def try_logo(folder: Path, edition: Edition) -> None:
    """Raises ContentError where the studio's logo cannot be drawn: nobody should wait for the music to hear of it."""
    if edition.studio.logo:
        read_logo(folder / edition.studio.logo)


def put_in_place(out: Path, pdf: bytes) -> None:
    """Replace the earlier book by the new one in one move; raises MachineError."""
    try:
        write_atomically(out, pdf, durable=True)
    except OSError as error:
        hint = "close it in other programs, and check the folder, its rights and the free space"
        raise MachineError(f"cannot write '{out}': {error.strerror or error}", hint) from error
