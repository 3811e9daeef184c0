"""The whole book, or one week of it, as the page room knows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.assemble.back import back_matter
from bookbuild.assemble.blocks import Drawings, Words, step_title
from bookbuild.assemble.front import course_map, how_to_read
from bookbuild.assemble.weeks import week_page
from bookbuild.grading.course import LessonGrade
from bookbuild.lessons.model import Course, Edition
from bookbuild.pages.model import Book, Imprint
from bookbuild.pages.paper import PaperOptions


def paper_options(edition: Edition) -> PaperOptions:
    """How an edition is printed."""
    return PaperOptions(
        edition.paper,
        edition.double_sided,
        edition.outer_margin,
        edition.inner_margin,
        edition.text_size,
        edition.large_print,
        edition.crop_marks,
        edition.bleed,
        edition.booklet,
    )


def _labels(words: Words) -> dict[str, str]:
    return {key.removeprefix("page."): text for key, text in words.items() if key.startswith("page.")}


def _imprint(course: Course, edition: Edition, folder: Path) -> Imprint:
    studio = edition.studio
    return Imprint(
        studio.name,
        studio.address,
        folder / studio.logo if studio.logo else None,
        edition.isbn,
        tuple(filter(None, (edition.title, course.rights))),
    )


def assemble_book(
    course: Course,
    folder: Path,
    edition: Edition,
    lessons: Sequence[Lesson],
    grades: Sequence[LessonGrade],
    samples: Sequence[Exercise],
    drawings: Drawings,
) -> Book:
    """Everything of the book in printing order; `folder` is the course's, for the studio's logo."""
    words = course.words[edition.language]
    instrument = course.instruments[edition.instrument or course.default_instrument]
    pairs = zip(lessons, grades, strict=True)
    weeks = tuple(week_page(lesson, grade, words, drawings, instrument) for lesson, grade in pairs)
    air = any(
        span.air for lesson in lessons for exercise in lesson.exercises for span in exercise.arrangement.bellows
    )
    return Book(
        title=course.title,
        subtitle=course.subtitle,
        text=course.text,
        language=edition.language,
        words=_labels(words),
        imprint=_imprint(course, edition, folder),
        front=(
            how_to_read(samples, drawings, instrument, course.countings[edition.counting], words, air=air),
            course_map(lessons, grades, words),
        ),
        weeks=weeks,
        back=back_matter(course, edition, instrument, lessons, words),
        edition=edition.title,
    )


def assemble_week(
    course: Course, folder: Path, edition: Edition, lesson: Lesson, grade: LessonGrade, drawings: Drawings
) -> Book:
    """A book that holds one week alone, for its sheet."""
    words = course.words[edition.language]
    instrument = course.instruments[edition.instrument or course.default_instrument]
    return Book(
        title=course.title,
        subtitle=course.subtitle,
        language=edition.language,
        words=_labels(words),
        imprint=_imprint(course, edition, folder),
        weeks=(week_page(lesson, grade, words, drawings, instrument),),
        edition=edition.title,
    )


def assemble_sheet(
    course: Course, folder: Path, edition: Edition, lesson: Lesson, grade: LessonGrade, drawings: Drawings
) -> Book:
    """A book that holds the steps of one tune, numbered from 1, without charts and log; its week has number 0.

    What holds for several steps is said at the first; the tune is named over them all.
    """
    book = assemble_week(course, folder, edition, lesson, grade, drawings)
    words = course.words[edition.language]
    week, said, blocks = book.weeks[0], set[str](), []
    for place, (block, step) in enumerate(zip(week.blocks, lesson.exercises, strict=True), 1):
        notices = tuple(n for n in block.notices if n not in said)
        blocks.append(replace(block, number=str(place), title=step_title(step, words), notices=notices))
        said |= set(block.notices)
    alone = replace(week, number=0, blocks=tuple(blocks), charts=(), plan=None)
    return replace(book, title=week.title, subtitle="", weeks=(alone,))
