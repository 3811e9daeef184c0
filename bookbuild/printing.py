"""From an arranged course to a finished PDF: engrave, assemble, lay out, keep; one function for each thing printed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from bookbuild.arrange.course import Exercise, Lesson, edition_setting
from bookbuild.arrange.samples import sample_exercises
from bookbuild.assemble.blocks import Drawings
from bookbuild.assemble.book import assemble_book, assemble_sheet, assemble_week, paper_options
from bookbuild.assemble.stand import assemble_stand
from bookbuild.diagnostics import ContentError, Diagnostic, Severity
from bookbuild.engrave.batch import Drawing, start_drawing
from bookbuild.engrave.plan_batches import expect_batches
from bookbuild.engrave.rows import RowWords
from bookbuild.engrave.run_batch import Task
from bookbuild.engrave.style import Style
from bookbuild.finished import Finished, finished_key, load_finished, store_finished
from bookbuild.grading.course import LessonGrade
from bookbuild.lessons.files import find_sign
from bookbuild.lessons.model import Course, Edition
from bookbuild.pages.book import BookReport, make_book, make_week
from bookbuild.pages.paper import MM, least_gutter, plan_sheet
from bookbuild.pages.stand import SIDES, make_stand
from bookbuild.workshop import Workshop

Progress = Callable[[str, int, int], None]
"""Called with a stage's name, how much of it is done, and how much there is."""


USUAL_PAGES = 100
"""A book is laid out for so many pages; a thicker one, which needs a wider inner margin, is laid out again."""


SHEET = -1
"""Stands for the number of a week where the steps of a single tune are printed instead."""


def no_progress(stage: str, done: int, total: int) -> None:
    """Show nothing."""


def engraving_style(course: Course, edition: Edition, pages: int = USUAL_PAGES) -> Style:
    """Staff and line width of an edition of about `pages` pages, and the words the engraver prints.

    Raises ContentError for a paper that is too small.
    """
    words = course.words[edition.language]
    marks = {key: words[f"mark.{key}"] for key in ("open", "close", "shake", "air")}
    row_words = RowWords(**marks, tones=words["tone.names"])
    try:
        sheet = plan_sheet(paper_options(edition), pages)
    except ValueError as error:
        hint = "choose a larger paper, narrower margins or a smaller text size"
        where = edition.place
        finding = Diagnostic(Severity.ERROR, where.file, where.line, where.column, str(error), hint)
        raise ContentError([finding]) from error
    counting = course.countings[edition.counting]
    rows = (*counting.simple.values(), *counting.compound.values(), marks.values(), [words["tone.names"]])
    letters = {sign for row in rows for text in row for sign in text if not sign.isascii()}
    return Style(edition.staff, sheet.text_width / MM, words=row_words, letters="".join(sorted(letters)),
                 large_print=edition.large_print)


def begin_drawing(style: Style, shop: Workshop, exercises: int) -> AbstractContextManager[Drawing]:
    """A drawing for about so many exercises in a style."""
    workers = min(shop.workers, expect_batches(exercises))
    return start_drawing(style, shop.engraver, shop.fonts, shop.cache, executor=shop.executor, workers=workers)


def name_tasks(exercises: Iterable[Exercise]) -> list[Task]:
    """What is drawn of exercises."""
    return [Task(exercise.number, exercise.arrangement) for exercise in exercises]


def draw(exercises: Sequence[Exercise], style: Style, work: Work) -> tuple[Drawings, int]:
    """Drawings by exercise number, and how many were reused; the course is graded while the engraver works."""
    tasks, begun = name_tasks(exercises), work.drawing
    with nullcontext(begun) if begun.style == style else begin_drawing(style, work.shop, len(tasks)) as drawing:
        drawing.begin(tasks)
        work.grade()
        drawn, reused = drawing.finish(tasks, lambda done, total: work.progress("engraving", done, total))
    return {task.name: (work.shop.cache.batch_path(entry.batch), entry)
            for task, entry in zip(tasks, drawn, strict=True)}, reused


@dataclass(frozen=True)
class Made:
    """A finished book that is not in its place yet, how its pages were filled, how many drawings were reused."""

    finished: Finished
    report: BookReport | None
    reused: int


@dataclass(frozen=True)
class Work:
    """A course arranged, on its way to paper; `grade` grades it when first asked."""

    course: Course
    folder: Path
    edition: Edition
    lessons: tuple[Lesson, ...]
    grade: Callable[[], tuple[tuple[LessonGrade, ...], list[Diagnostic]]]
    week: int
    stand: bool
    shop: Workshop
    progress: Progress
    drawing: Drawing


def name_printing(week: int, stand: bool) -> str:
    """What is printed of a course, as a part of its finished book's name."""
    return f"{week} on the stand" if stand else str(week)


def finish(work: Work) -> Made:
    """Print a work, and keep it."""
    with TemporaryDirectory(prefix="bookbuild-") as place:
        # Finished where nobody else writes, so that what is kept is surely this book.
        out = Path(place) / "book.pdf"
        print_work = print_stand if work.stand else print_week if work.week else print_book
        report, exercises, reused = print_work(work, out)
        pdf = out.read_bytes()
    # What grading says of a course's order is no matter of a single sheet.
    graded = work.grade()[1] if work.week != SHEET else ()
    told = [*graded, *tell_missing(report, work.folder), *tell_long(work, report)]
    finished = Finished(pdf, len(report.pages), exercises, tuple(told), report.folios())
    store_finished(_key(work), finished, work.shop)
    return Made(finished, report, reused)


def find_folios(work: Work) -> Mapping[str, str]:
    """The book's printed page of every exercise; a book that is not kept is made and kept on the way."""
    book = replace(work, week=0, stand=False)
    return (load_finished(_key(book), work.shop) or finish(book).finished).folios


def _key(work: Work) -> str:
    return finished_key(work.course, work.folder, work.edition, name_printing(work.week, work.stand), work.shop)


def print_stand(work: Work, out: Path) -> tuple[BookReport, int, int]:
    """One week's leaf for the music stand; as `print_week`."""
    folios = find_folios(work)
    lesson, style = work.lessons[work.week - 1], engraving_style(work.course, work.edition)
    drawings, reused = draw(lesson.exercises, style, work)
    grades = work.grade()[0]
    work.progress("making pages", 0, 1)
    book = assemble_week(work.course, work.folder, work.edition, lesson, grades[work.week - 1], drawings)
    stand = assemble_stand(work.course, work.edition, work.lessons, grades, work.week, drawings, folios)
    report = make_stand(book, stand, len(work.lessons), paper_options(work.edition), out, created=work.shop.created,
                        fonts=work.shop.fonts)
    return report, len(lesson.exercises), reused


def print_week(work: Work, out: Path) -> tuple[BookReport, int, int]:
    """One week's sheet: its report, how many exercises it has, how many drawings were reused."""
    place = 0 if work.week == SHEET else work.week - 1
    lesson, style = work.lessons[place], engraving_style(work.course, work.edition)
    drawings, reused = draw(lesson.exercises, style, work)
    grade = work.grade()[0][place]
    work.progress("making pages", 0, 1)
    assemble = assemble_sheet if work.week == SHEET else assemble_week
    sheet = assemble(work.course, work.folder, work.edition, lesson, grade, drawings)
    report = make_week(sheet, max(0, work.week), paper_options(work.edition), out, created=work.shop.created,
                       fonts=work.shop.fonts)
    return report, len(lesson.exercises), reused


def print_book(work: Work, out: Path, pages: int = USUAL_PAGES) -> tuple[BookReport, int, int]:
    """The whole book, laid out for about `pages` pages; as `print_week`."""
    samples = sample_exercises(work.lessons, edition_setting(work.course, work.edition))
    exercises = [*(exercise for lesson in work.lessons for exercise in lesson.exercises), *samples]
    style = engraving_style(work.course, work.edition, pages)
    drawings, reused = draw(exercises, style, work)
    work.progress("making pages", 0, 1)
    book = assemble_book(work.course, work.folder, work.edition, work.lessons, work.grade()[0], samples, drawings)
    report = make_book(book, paper_options(work.edition), out, created=work.shop.created, fonts=work.shop.fonts,
                       pages=pages)
    if least_gutter(len(report.pages)) > least_gutter(pages):
        return print_book(work, out, len(report.pages))
    return report, len(exercises), reused


def tell_missing(report: BookReport, folder: Path) -> list[Diagnostic]:
    """A warning about characters that no font of the book has, where the first of them stands."""
    if not report.missing:
        return []
    signs = " ".join(f"{sign} (U+{ord(sign):04X})" for sign in report.missing[:12])
    more = f" and {len(report.missing) - 12} more" if len(report.missing) > 12 else ""
    message = f"an empty square is printed for characters the fonts do not have: {signs}{more}"
    place = find_sign(folder, report.missing[0])
    hint = "Write them in another way, or leave them out."
    return [Diagnostic(Severity.WARNING, place.file, place.line, place.column, message, hint)]


def tell_long(work: Work, report: BookReport) -> list[Diagnostic]:
    """A warning about a week whose words fill more than a leaf."""
    if not work.stand or len(report.pages) <= SIDES:
        return []
    place = work.lessons[work.week - 1].exercises[0].spec.place
    message = f"the leaf of week {work.week} takes {len(report.pages)} pages: its words leave no room for music"
    return [Diagnostic(Severity.WARNING, place.file, 0, 0, message, "Shorten its title, aim, 'listen' or 'caution'.")]
