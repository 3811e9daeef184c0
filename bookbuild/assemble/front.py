"""Before the weeks: how to read this book, how to practise, the course on one page."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.course import Exercise, Lesson
from bookbuild.assemble.blocks import Drawings, Words, alternate_text, block_systems, tone_names
from bookbuild.grading.course import LessonGrade
from bookbuild.lessons.model import Counting, Instrument
from bookbuild.pages.model import Block, CourseMap, Heading, Item, Legend, MapRow, Section, Text
from bookbuild.theory.chords import Chord
from bookbuild.theory.counting import syllables
from bookbuild.theory.meter import Meter

_LEGEND = (
    ("open", "sign.open"),
    ("close", "sign.close"),
    ("shake", "sign.shake"),
    ("struck", "sign.struck"),
    ("off", "sign.off"),
    ("held", "sign.held"),
    ("bass", "sign.bass"),
    ("chord", "sign.chord"),
    ("symbol", "sign.symbol"),
    ("M", "sign.major"),
    ("m", "sign.minor"),
    ("7", "sign.seventh"),
    ("d", "sign.diminished"),
    ("1 5", "sign.finger-right"),
    ("2 5", "sign.finger-left"), (">", "sign.accent"),
    ("tick", "sign.tick"), ("level", "sign.level"),
)
_AFTER_BELLOWS = 3
"""Where the word for air stands in the legend: behind the signs of the bellows."""
_NEEDS_ROW = {"sign.minor": "minor", "sign.seventh": "seventh", "sign.diminished": "diminished"}


def how_to_read(
    samples: Sequence[Exercise], drawings: Drawings, instrument: Instrument, counting: Counting, words: Words, *,
    air: bool = False,
) -> Section:
    """The signs, explained beside music drawn by the same code as the exercises; `air` says that air is taken."""
    items: list[Item] = []
    for sample in samples:
        title = words["book.sample-shake" if sample.spec.kind.startswith("shake") else "book.sample-together"]
        items.append(
            Block(
                sample.number, title, systems=block_systems(sample.number, drawings), alt=alternate_text(sample, words)
            )
        )
    # A language may leave a sign without words: it is not shown then.
    symbol = tone_names(words).print(Chord.parse("C"))
    shown = [(symbol if sign == "symbol" else sign, words[key]) for sign, key in _LEGEND
             if words[key] and _NEEDS_ROW.get(key, "bass") in instrument.rows]
    if air:
        shown.insert(_AFTER_BELLOWS, (words["mark.air"], words["sign.air"]))
    items.append(Legend(tuple(shown), *legend_syllables(counting)))
    items.append(Heading(words["book.how-to-practise"]))
    items += [Text(words[key]) for key in ("book.practise-slow", "book.practise-count", "book.practise-rest")]
    return Section("how-to-read", words["book.how-to-read"], tuple(items))


def legend_syllables(counting: Counting) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The syllables on two beats and inside one, from the finest grid up to four that the counting has."""
    slots = max((size for size in (1, 2, 4) if size in counting.simple), default=1)
    bar = syllables(Meter(2, 4), slots, counting)
    return bar[::slots], bar[1:slots] or bar[:1]


def course_map(lessons: Sequence[Lesson], grades: Sequence[LessonGrade], words: Words) -> Section:
    """Weeks against skills: what each week brings, and how hard it is."""
    order: list[str] = []
    for grade in grades:
        order += [skill for skill in grade.new_skills if skill not in order]
    rows = []
    for lesson, grade in zip(lessons, grades, strict=True):
        marks = tuple(2 if skill in grade.new_skills else 1 if skill in grade.skills else 0 for skill in order)
        rows.append(MapRow(lesson.number, lesson.week.title, grade.difficulty, marks))
    names = tuple(words.get(f"skill.{skill}", skill) for skill in order)
    return Section("course-map", words["book.course-map"], (CourseMap(names, tuple(rows), words["book.course-map"]),))
