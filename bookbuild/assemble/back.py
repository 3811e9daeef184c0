"""After the weeks: buttons, shapes, grooves, words, rights."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.course import Lesson
from bookbuild.assemble.blocks import Words
from bookbuild.assemble.charts import button_chart, common_chords, groove_chart, shape_charts, used_buttons
from bookbuild.lessons.model import Course, Edition, Instrument, Tune
from bookbuild.pages.model import Item, Pairs, Section, Text

SHAPE_CHORDS = 8
"""How many chords the shapes chart shows: the ones the book uses most."""


def back_matter(
    course: Course, edition: Edition, instrument: Instrument, lessons: Sequence[Lesson], words: Words
) -> tuple[Section, ...]:
    """The reference part of the book; a section without content is left out."""
    made = [exercise.arrangement for lesson in lessons for exercise in lesson.exercises]
    tunes = {e.tune.name: e.tune for lesson in lessons for e in lesson.exercises if e.tune}
    grooves = {e.groove.name: e.groove for lesson in lessons for e in lesson.exercises if e.groove}
    counting = course.countings[edition.counting]
    chart = button_chart(instrument, used_buttons(made), words)
    shapes: list[Item] = [shape_charts(chord, words) for chord in common_chords(made, SHAPE_CHORDS)]
    sections = [
        Section("buttons", words["book.buttons"], (Text(words["book.buttons-text"]), chart)),
        Section("shapes", words["book.shapes"], (Text(words["book.shapes-text"]), *shapes)),
        Section(
            "grooves",
            words["book.grooves"],
            (
                Text(words["book.grooves-text"]),
                *(
                    groove_chart(groove, counting, words)
                    for _, groove in sorted(grooves.items(), key=lambda g: g[1].title)
                ),
            ),
        ),
    ]
    if course.glossary:
        sections.append(Section("glossary", words["book.glossary"], (Pairs(course.glossary),)))
    rights = tuple((tune.title, state_rights(tune, words)) for tune in sorted(tunes.values(), key=lambda t: t.title))
    general = (Text(course.rights),) if course.rights else ()
    sections.append(Section("rights", words["book.rights"], (Text(words["book.rights-text"]), *general, Pairs(rights))))
    return tuple(sections)


def state_rights(tune: Tune, words: Words) -> str:
    """What the teacher stated about a tune, and nothing else."""
    stated = [
        f"{words[f'book.{key}']}: {text}"
        for key, text in (("composer", tune.rights.composer), ("source", tune.rights.source))
        if text
    ]
    if tune.rights.statement:
        stated.append(tune.rights.statement)
    return " · ".join(stated) or words["book.rights-none"]
