"""After the weeks: buttons, shapes, grooves, words, rights."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.combine import choose_combination
from bookbuild.arrange.course import Lesson
from bookbuild.arrange.frames import OCTAVE
from bookbuild.arrange.stradella import LETTERS, name_button
from bookbuild.assemble.blocks import Words, tone_names
from bookbuild.assemble.charts import button_chart, common_chords, groove_chart, shape_charts, used_buttons
from bookbuild.lessons.model import Course, Edition, Instrument, Tune
from bookbuild.pages.model import Heading, Item, Pairs, Section, Text
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Tone

COMBINED = ("7", "m7", "maj7", "m7b5", "dim7", "6", "m6", "9", "m9", "7b9", "aug7")
"""Chord kinds whose combinations of buttons the book lists."""
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
    span = edition.widest_span
    shapes: list[Item] = [shape_charts(chord, span, words) for chord in common_chords(made, SHAPE_CHORDS)]
    explained = "book.shapes-text" if span >= OCTAVE else "book.shapes-narrow"
    sections = [
        Section(
            "buttons",
            words["book.buttons"],
            (Text(words["book.buttons-text"]), chart, *combination_list(instrument, words)),
        ),
        Section("shapes", words["book.shapes"], (Text(words[explained]), *shapes)),
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
    general = (Text(course.rights),) if course.rights else ()
    rights = list_rights(sorted(tunes.values(), key=lambda tune: tune.title), words)
    sections.append(Section("rights", words["book.rights"], (Text(words["book.rights-text"]), *general, *rights)))
    return tuple(sections)


def combination_list(instrument: Instrument, words: Words) -> tuple[Item, ...]:
    """Which buttons sound, pressed together, the chords that have none of their own; found by search, on the root C."""
    root, names, pairs = Tone(0), tone_names(words), []
    for quality in COMBINED:
        chord = Chord(root, quality)
        found = choose_combination(chord, instrument)
        if found is None or not found.exact:
            continue
        named = [names.print(name_button(button)) for button in found.basses]
        named += [f"{names.print(name_button(button))} {LETTERS[button.row]}" for button in found.chords]
        pairs.append((names.print(chord), " + ".join(named)))
    return (Heading(words["book.combined"]), Text(words["book.combined-text"]), Pairs(tuple(pairs))) if pairs else ()


def list_rights(tunes: Sequence[Tune], words: Words) -> tuple[Item, ...]:
    """What was stated about each tune; tunes of which the same was stated are named together."""
    titles: dict[str, list[str]] = {}
    for tune in tunes:
        titles.setdefault(state_rights(tune, words), []).append(tune.title)
    alone = tuple((named[0], stated) for stated, named in titles.items() if len(named) == 1)
    shared: list[Item] = []
    for stated, named in titles.items():
        if len(named) > 1:
            shared += [Text(" · ".join(map(strong_text, named))), Text(plain_text(stated))]
    return (*shared, *((Pairs(alone),) if alone else ()))


def strong_text(text: str) -> str:
    """Text in strong print, or plain where it has asterisks of its own."""
    return plain_text(text) if "*" in text or "\\" in text else f"**{text}**"


def plain_text(text: str) -> str:
    """Text whose asterisks and backslashes are printed as they are."""
    return text.replace("\\", "\\\\").replace("*", "\\*")


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
