"""The stages of a build, in order. Date, versions and environment enter here, once."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bookbuild.arrange.course import Lesson, arrange_course, edition_setting
from bookbuild.assemble.book import assemble_book, assemble_week, paper_options
from bookbuild.assemble.samples import sample_exercises
from bookbuild.diagnostics import CallError, ContentError, Diagnostic, MachineError, Severity
from bookbuild.engrave.batch import Task, draw_exercises
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.engine import find_engraver
from bookbuild.engrave.rows import RowWords
from bookbuild.engrave.score import Style
from bookbuild.grading.course import grade_course
from bookbuild.lessons.files import read_course
from bookbuild.lessons.model import Course, Edition
from bookbuild.pages.book import make_book, make_week
from bookbuild.pages.paper import MM, plan_sheet

Progress = Callable[[str, int, int], None]
"""Called with a stage's name, how much of it is done, and how much there is."""


@dataclass(frozen=True)
class Job:
    """What to build. `week` 0 is the whole book; `engraver` '' means the installed one."""

    course: Path
    out: Path | None = None
    edition: str = ""
    week: int = 0
    cache: Path | None = None
    workers: int = 0
    engraver: str = ""
    executor: Executor | None = None


@dataclass(frozen=True)
class Outcome:
    """What was built, for the closing line."""

    out: Path
    pages: int
    exercises: int
    reused: int
    seconds: float
    warnings: tuple[Diagnostic, ...]


def fonts_folder() -> Path:
    """The font files: inside an installed package, beside it in a source tree; raises MachineError."""
    here = Path(__file__).resolve().parent
    for folder in (here / "fonts", here.parent / "fonts"):
        if (folder / "SourceSans3-Regular.ttf").exists():
            return folder
    raise MachineError("the font files are missing", "restore the folder fonts/ of the project")


def cache_folder() -> Path:
    """Where drawings are kept between runs: BOOKBUILD_CACHE, else the user's cache folder."""
    if folder := os.environ.get("BOOKBUILD_CACHE"):
        return Path(folder)
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "bookbuild"


def build_time() -> datetime:
    """The date a book is stamped with: SOURCE_DATE_EPOCH, else the start of 1980 so that rebuilds are identical."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch and not epoch.isdigit():
        raise CallError(f"SOURCE_DATE_EPOCH is '{epoch}', not a number of seconds")
    return datetime.fromtimestamp(int(epoch or 315532800), UTC)


def choose_edition(course: Course, name: str) -> Edition:
    """The edition of that name, '' the course's own; raises CallError."""
    wanted = name or course.default_edition
    if wanted not in course.editions:
        raise CallError(f"there is no edition '{wanted}'", f"this course has: {', '.join(sorted(course.editions))}")
    return course.editions[wanted]


def engraving_style(course: Course, edition: Edition) -> Style:
    """Staff and line width of an edition, and the words the engraver prints."""
    sheet = plan_sheet(paper_options(edition))
    words = course.words[edition.language]
    return Style(
        edition.staff,
        sheet.text_width / MM,
        words=RowWords(words["mark.open"], words["mark.close"], words["mark.shake"], words["mark.air"]),
    )


def build(job: Job, progress: Progress = lambda stage, done, total: None) -> Outcome:
    """Build a book or one week's sheet; raises a BookbuildError of the right kind and leaves earlier output alone."""
    started = time.monotonic()
    engraver, fonts = find_engraver(job.engraver), fonts_folder()
    course = read_course(job.course)
    edition = choose_edition(course, job.edition)
    if job.week and not 1 <= job.week <= len(course.weeks):
        raise CallError(f"there is no week {job.week}", f"this course has weeks 1 to {len(course.weeks)}")
    lessons, findings = arrange_course(course, edition, lambda done, total: progress("arranging", done, total))
    if any(finding.severity is Severity.ERROR for finding in findings):
        raise ContentError(findings)
    grades, remarks = grade_course(course, edition, lessons)
    findings += remarks
    wanted: tuple[Lesson, ...] = lessons if not job.week else lessons[job.week - 1 : job.week]
    samples = sample_exercises(lessons, edition_setting(course, edition)) if not job.week else ()
    tasks = [Task(exercise.number, exercise.arrangement) for lesson in wanted for exercise in lesson.exercises]
    tasks += [Task(sample.number, sample.arrangement) for sample in samples]
    cache = Cache(job.cache or cache_folder())
    drawn, reused = draw_exercises(
        tasks,
        engraving_style(course, edition),
        engraver,
        fonts,
        cache,
        executor=job.executor,
        workers=job.workers or os.cpu_count() or 1,
        progress=lambda done, total: progress("engraving", done, total),
    )
    systems = {task.name: (cache.batch_path(entry.batch), entry) for task, entry in zip(tasks, drawn, strict=True)}
    progress("making pages", 0, 1)
    out = job.out or Path("output") / f"{edition.name}{f'-week-{job.week:02}' if job.week else ''}.pdf"
    if job.week:
        book = assemble_week(course, job.course, edition, wanted[0], grades[job.week - 1], systems)
        report = make_week(book, job.week, paper_options(edition), out, created=build_time(), fonts=fonts)
    else:
        book = assemble_book(course, job.course, edition, lessons, grades, samples, systems)
        report = make_book(book, paper_options(edition), out, created=build_time(), fonts=fonts)
    progress("making pages", 1, 1)
    return Outcome(out, len(report.pages), len(tasks), reused, time.monotonic() - started, tuple(findings))
