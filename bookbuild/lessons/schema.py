"""The YAML of a course as pydantic models: every key, its type and what it means. One JSON Schema a kind of file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, Field, RootModel

from bookbuild.lessons import fields as f
from bookbuild.lessons.model import ROWS, Air
from bookbuild.lessons.schema_parts import Glossary, Sheet, about, maybe
from bookbuild.lessons.schema_texts import TranslationFile


class RightsPart(Sheet):
    """What the teacher states about a tune's rights."""

    composer: f.LineText = maybe("", "Who made the tune, or 'traditional'.")
    source: f.LineText = maybe("", "Where the tune was taken from.")
    statement: f.LineText = maybe("", "Why it may be printed, in the teacher's words; printed in the rights list.")


class TempoPart(Sheet):
    """The ends of a tempo ladder."""

    start: f.TempoNumber = about("First step of the ladder, beats a minute.", 50)
    goal: f.TempoNumber = about("Last step of the ladder, beats a minute.", 96)
    beat: f.LengthField | None = maybe(None, "The counted note value, for example 1/4; by default the meter's beat.")


class EndingPart(Sheet):
    """One ending of a section."""

    melody: f.LongText = about("The ending's melody, written like a section's.", "c'4")
    chords: f.LongText = maybe("", "The ending's chords by bar.")


class SectionPart(Sheet):
    """A named part of a tune."""

    melody: f.LongText = about(
        "Notes by bar: absolute Dutch names with octave marks and durations, | between bars: d'8 fis' g'4 | a'2. "
        "Ties ~, rests r, fingers -1 to -5, \\breathe at a phrase's end, \\tuplet 3/2 { … }, comments after %.", "c'4")
    chords: f.LongText = maybe("", "Chords by bar: G | C . D7 . | N.C. ('.' keeps the chord; G:3/8 states a length).")
    endings: Annotated[list[EndingPart], Field(max_length=8)] = maybe(
        [], "First, second … ending, played after the section's own bars, one on each pass.")
    upbeat: f.LengthField | None = maybe(None, "Length of this section's upbeat (0 = none); by default the tune's.")
    key: f.KeyField | None = maybe(None, "The section's own key, as a trio has; by default the tune's.")


class TuneFile(Sheet):
    """A tune, written once: melody, chords and form."""

    title: f.TitleText = about("The tune's printed title.", "Title")
    rights: RightsPart = maybe(RightsPart(), "What is known about the tune's rights.")
    meter: f.MeterField = about("The time signature, for example 2/4 or 6/8.", "4/4")
    key: f.KeyField = about("Tonic and mode, for example G major or E minor.", "C major")
    upbeat: f.LengthField | None = maybe(None, "Length of the upbeat every section begins with, for example 1/8.")
    tempo: TempoPart = about("Where the tempo ladder begins and ends.", {"start": "60", "goal": "90"})
    origin: f.LineText = maybe("", "Where the tune or its dance comes from.")
    text: f.LongText = maybe("", "What a player should know about the tune.")
    chords_suggested: bool = maybe(False, "true while the chords are a proposal; remove it once you have checked them.")
    sections: Annotated[dict[str, SectionPart], Field(min_length=1, max_length=40)] = about(
        "The tune's parts by name, in written order.", {"A": {"melody": "c'4"}})
    form: f.NamesField = maybe([], "Section names in playing order, for example A A B B; by default each section once.")


class HandPart(Sheet):
    """One bar of the left hand, outside the groove's cell."""

    bass: f.LineText = maybe("", "One bar of bass signs.")
    chord: f.LineText = maybe("", "One bar of chord signs.")


class GrooveFile(Sheet):
    """A left-hand pattern written under its counting."""

    title: f.TitleText = about("The groove's printed title.", "Title")
    meter: f.MeterField = about("The time signature it is for.", "4/4")
    slots: f.SlotsField = about("Places in each counted beat: 1, 2, 3, 4 or 6.", "2")
    origin: f.LineText = maybe("", "The dance tradition it belongs to.")
    suits: f.NamesField = maybe([], "Other dances it accompanies, as tunes are called: reel hornpipe.")
    text: f.LongText = maybe("", "How it should sound and what to watch.")
    tempo: Annotated[list[f.TempoNumber], Field(min_length=2, max_length=2)] = maybe(
        [40, 208], "Slowest and fastest tempo it works at: [60, 120].")
    swing: f.LengthField | None = maybe(None, "Share of a pair its first slot takes: 1/2 even, 2/3 triplet feel.")
    count: f.LineText = maybe("", "The counting the rows stand under; only its number of places is checked.")
    bass: f.LineText = maybe("", "x or r root, f fifth, t third, a next beat's root, - held, . silent; | between bars.")
    chord: f.LineText = maybe("", "x chord, a the next beat's chord, - held, . silent.")
    fill: f.LineText = maybe("", "Where the right hand's fill may strike: x, -, . ; by default every slot.")
    accent: f.LineText = maybe("", "> on accented slots, . elsewhere.")
    shake: f.LineText = maybe("", "> on the slots a bellows shake stresses, . elsewhere.")
    pickup: HandPart | None = maybe(None, "The left hand of an upbeat: a full bar; its last places are played.")
    ending: HandPart | None = maybe(None, "The left hand of a piece's last bar, if not the book's own close.")


class RightHandPart(Sheet):
    """The right-hand keyboard."""

    lowest: f.PitchField = about("Lowest note, for example f (below middle C).", "f")
    highest: f.PitchField = about("Highest note, for example a'''.", "a'''")


class LeftHandPart(Sheet):
    """The left-hand buttons."""

    rows: Annotated[list[f.RowField], Field(min_length=1)] = about(
        f"The rows it has, from the bellows outward: {', '.join(ROWS)}.", list(ROWS))
    first_column: f.ToneField = about("Fundamental of the flattest column, for example Db.", "Db")
    columns: Annotated[int, Field(ge=1, le=24)] = about("How many columns it has.", "12")
    seventh: f.Semitones = maybe([0, 4, 10], "Semitones above the root that a seventh button sounds.")
    diminished: f.Semitones = maybe([0, 3, 9], "Semitones a diminished button sounds.")


class AirPart(Sheet):
    """How the bellows spend air (common practice; try it on your instrument)."""

    full: Annotated[float, Field(gt=0, le=120, allow_inf_nan=False)] = maybe(
        Air.full, "Seconds one voice sounds on full bellows.")
    voice: f.Share = maybe(Air.voice, "Share each further voice adds (0 = none).")
    shake: f.Share = maybe(Air.shake, "Net drift of a shake, as a share of its length.")


class InstrumentFile(Sheet):
    """An accordion: its keyboard and its buttons."""

    title: f.TitleText = about("The instrument's printed name.", "Title")
    right: RightHandPart = about("Compass of the right hand.", {"lowest": "f", "highest": "a'''"})
    left: LeftHandPart = about(
        "The buttons of the left hand.", {"rows": ["bass"], "first_column": "C", "columns": "1"})
    air: AirPart = maybe(AirPart(), "How the bellows spend air.")
    fingering: f.FingeringField = maybe(
        "three", "Left-hand fingers: 'two' (3 bass, 2 chord) or 'three' (4 bass, 3 chord, 2 fifth).")
    text: f.LongText = maybe("", "Remarks for the player.")


_Syllables = dict[int, list[Annotated[str, Field(min_length=1, max_length=12)]]]


class CountingFile(Sheet):
    """A syllable table."""

    title: f.TitleText = about("The system's printed name.", "Title")
    source: f.LineText = maybe("", "Where the table was taken from.")
    simple: _Syllables = about("Slots in a beat -> syllables, in beats that divide in two; n is the beat's number.", {})
    compound: _Syllables = maybe({}, "The same for beats that divide in three (6/8, 9/8, 12/8).")
    by_value: bool = maybe(False, "true where syllables name note values: each beat is spoken by the notes in it.")


class WordsFile(RootModel[dict[str, Annotated[str, Field(max_length=2000)]]]):
    """Printed labels of one language: key -> text. Keys left out are printed in English."""


class StudioPart(Sheet):
    """Who publishes the edition."""

    name: f.LineText = maybe("", "The studio's name as printed.")
    address: f.LineText = maybe("", "Address or web address.")
    logo: f.LineText = maybe("", "A PNG or SVG file inside the course folder, for example logo.svg.")


class EditionFile(Sheet):
    """One printing of the course."""

    title: f.TitleText = about("Title printed on the cover.", "Title")
    paper: f.PaperField = maybe("A4", "Paper size.")
    instrument: f.LineText = maybe("", "Name of a file in instruments/; by default the course's.")
    counting: f.LineText = maybe("american", "Name of a file in counting/.")
    language: f.LineText = maybe("en", "Name of a file in words/.")
    studio: StudioPart = maybe(StudioPart(), "Who publishes it.")
    swaps: dict[str, str] = maybe({}, "Tunes of the course to replace: old tune: new tune.")
    staff: Annotated[float, Field(ge=5, le=14, allow_inf_nan=False)] = maybe(7.5, "Staff height in millimetres.")
    text_size: Annotated[float, Field(ge=7, le=30, allow_inf_nan=False)] = maybe(10.5, "Text size in points.")
    large_print: bool = maybe(False, "true for readers with low vision.")
    double_sided: bool = maybe(True, "false when the pages are printed on one side.")
    outer_margin: f.Millimetres = maybe(14.0, "Outer margin in millimetres.")
    inner_margin: f.Millimetres = maybe(0.0, "Inner margin in millimetres; 0 = by page count.")
    widest_span: Annotated[int, Field(ge=5, le=17)] = maybe(12, "Widest right-hand grip in semitones.")
    minutes: Annotated[int, Field(ge=5, le=300)] = maybe(30, "Practice minutes a day.")
    days: Annotated[int, Field(ge=1, le=7)] = maybe(5, "Practice days a week.")
    booklet: bool = maybe(False, "true to impose the pages as a booklet.")
    crop_marks: bool = maybe(False, "true to print crop marks.")
    bleed: f.Millimetres = maybe(0.0, "Bleed in millimetres.")
    isbn: f.IsbnField = maybe("", "ISBN-13 printed as a bar code.")


class ExercisePart(Sheet):
    """One exercise of a week."""

    kind: f.KindField = about("What is practised.", "melody")
    tune: f.LineText = maybe("", "Name of a file in tunes/.")
    groove: f.LineText = maybe("", "Name of a file in grooves/.")
    sections: f.NamesField = maybe([], "Sections of the tune; by default its first (an arrangement: its form).")
    title: f.LineText = maybe("", "Title of the exercise, if not the kind's own.")
    instruction: f.LongText = maybe("", "One line what to do; {tune}, {groove} and {chord} are filled in.")
    chord: f.ChordField | None = maybe(None, "Chord of an exercise on one chord; by default the tune's tonic.")
    bars: Annotated[int, Field(ge=0, le=64)] = maybe(0, "How many bars; 0 = the kind's own number.")
    start: Annotated[int, Field(ge=0, le=400)] = maybe(0, "First step of the tempo ladder; 0 = the tune's.")
    goal: Annotated[int, Field(ge=0, le=400)] = maybe(0, "Last step of the tempo ladder; 0 = the tune's.")
    shake: f.NamesField = maybe([], "Sections of an arrangement that are played with bellows shake.")
    introduction: Annotated[int, Field(ge=0, le=16)] = maybe(0, "Bars of introduction before an arrangement.")
    right: f.RightField = maybe("", "Right hand of 'together' and 'arrangement': melody, shapes or fill.")
    runs: bool = maybe(False, "true where the left hand walks into the next phrase by step.")


class WeekFile(Sheet):
    """A week of the course."""

    title: f.TitleText = about("The week's title.", "Title")
    aim: f.LongText = about("What the student can do at the end of the week, in a sentence.", "Aim")
    text: f.LongText = maybe("", "The week's introduction.")
    new: f.Lines = maybe([], "What is new this week, a line each.")
    listen: f.Lines = maybe([], "What to listen for, a line each.")
    caution: f.LongText = maybe("", "A warning where the work is strenuous.")
    link: f.LinkField = maybe("", "An address printed with a QR code.")
    exercises: Annotated[list[ExercisePart], Field(min_length=1, max_length=60)] = about(
        "The week's exercises in order.", [{"kind": "melody"}])


class CourseFile(Sheet):
    """The course: title, order of the weeks, defaults."""

    title: f.TitleText = about("The course's title.", "Title")
    subtitle: f.LineText = maybe("", "Printed under the title.")
    text: f.LongText = maybe("", "The preface.")
    rights: f.LongText = maybe("", "Rights statement of the book as a whole.")
    weeks: Annotated[list[str], Field(max_length=500)] = maybe([], "Names of the files in weeks/, in order.")
    edition: f.LineText = maybe("", "Name of the file in editions/ built by default.")
    instrument: f.LineText = maybe("", "Name of the file in instruments/ used by default.")
    glossary: Glossary = maybe([], "Words explained at the end.")
    weights: dict[str, Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]] = maybe(
        {}, "Difficulty weights you change.")


KINDS_OF_FILE: dict[str, type[BaseModel]] = {
    "course": CourseFile, "week": WeekFile, "tune": TuneFile, "groove": GrooveFile, "instrument": InstrumentFile,
    "counting": CountingFile, "words": WordsFile, "edition": EditionFile,
    "translation": TranslationFile,
}
"""Kind of file -> its schema."""


def json_schemas() -> dict[str, str]:
    """JSON Schema text of every kind of file, by kind."""
    texts = {}
    for kind, model in KINDS_OF_FILE.items():
        schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **model.model_json_schema()}
        texts[kind] = json.dumps(schema, indent=2, ensure_ascii=False, sort_keys=True) + "\n"
    return texts


FOLDER = Path(__file__).parent / "json"
"""Where the schemas of the program's own version lie."""


def write_schemas(folder: Path = FOLDER) -> list[Path]:
    """Write one `KIND.json` for every kind of file into `folder`; returns the paths written."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for kind, text in json_schemas().items():
        paths.append(folder / f"{kind}.json")
        paths[-1].write_text(text, encoding="utf-8")
    return paths


if __name__ == "__main__":
    write_schemas()
