"""The YAML of a translation: the texts of a course in another language, and nothing else of it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from bookbuild.lessons import fields as f
from bookbuild.lessons.schema_parts import Glossary, Sheet, maybe


class ExerciseTexts(Sheet):
    """The texts of an exercise in another language."""

    title: f.LineText = maybe("", "Title of the exercise, where the week gives it one.")
    instruction: f.LongText = maybe("", "What to do, where the week says it; {tune}, {groove} and {chord} as there.")


class WeekTexts(Sheet):
    """The texts of a week in another language."""

    title: f.LineText = maybe("", "The week's title.")
    aim: f.LongText = maybe("", "The week's aim.")
    text: f.LongText = maybe("", "The week's introduction.")
    new: f.Lines = maybe([], "What is new this week, a line each.")
    listen: f.Lines = maybe([], "What to listen for, a line each.")
    caution: f.LongText = maybe("", "The week's warning.")
    exercises: Annotated[dict[int, ExerciseTexts], Field(max_length=60)] = maybe(
        {}, "Titles and instructions by the exercise's place in the week, from 1.")


class TuneTexts(Sheet):
    """The texts of a tune in another language."""

    title: f.LineText = maybe("", "The tune's title.")
    origin: f.LineText = maybe("", "Where the tune or its dance comes from.")
    text: f.LongText = maybe("", "What a player should know about the tune.")
    composer: f.LineText = maybe("", "Who made the tune.")
    source: f.LineText = maybe("", "Where the tune was taken from.")
    statement: f.LineText = maybe("", "Why it may be printed.")


class GrooveTexts(Sheet):
    """The texts of a groove in another language."""

    title: f.LineText = maybe("", "The groove's title.")
    origin: f.LineText = maybe("", "The dance tradition it belongs to.")
    text: f.LongText = maybe("", "How it should sound and what to watch.")


class InstrumentTexts(Sheet):
    """The texts of an instrument in another language."""

    title: f.LineText = maybe("", "The instrument's printed name.")


class TranslationFile(Sheet):
    """The course's own texts in another language; what is left out is printed as the course has it."""

    title: f.LineText = maybe("", "The course's title.")
    subtitle: f.LineText = maybe("", "Printed under the title.")
    text: f.LongText = maybe("", "The preface.")
    rights: f.LongText = maybe("", "Rights statement of the book as a whole.")
    glossary: Glossary = maybe([], "Words explained at the end, all of them.")
    weeks: dict[str, WeekTexts] = maybe({}, "Texts of the weeks, by the names of their files.")
    tunes: dict[str, TuneTexts] = maybe({}, "Texts of the tunes, by the names of their files.")
    grooves: dict[str, GrooveTexts] = maybe({}, "Texts of the grooves, by the names of their files.")
    instruments: dict[str, InstrumentTexts] = maybe({}, "Texts of the instruments, by the names of their files.")
    phrases: dict[str, f.LongText] = maybe(
        {}, "Texts that stand in several places: each as the course has it, and its translation.")
