"""A course in another language: what is translated, what stays, what is warned of."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from bookbuild.arrange.course import Exercise
from bookbuild.assemble.back import combination_list
from bookbuild.assemble.blocks import exercise_title
from bookbuild.assemble.charts import button_chart
from bookbuild.diagnostics import Severity
from bookbuild.engrave.rows import chord_row
from bookbuild.exact import Fraction
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import ChordSpan, Course, Translation
from bookbuild.lessons.translate import find_untranslated, translate_course
from bookbuild.pages.model import Pairs
from bookbuild.printing import engraving_style
from bookbuild.theory.chords import Chord
from bookbuild.theory.naming import ToneNames

WEEK, TUNE = "01-two-feet-on-the-floor", "lamplighters-round"


def speak(course: Course, texts: dict, phrases: dict | None = None) -> Course:
    return replace(course, translations={"xx": Translation("xx", texts, phrases or {})})


def test_texts_are_replaced_where_they_stand_and_nothing_else(course: Course) -> None:
    texts = {("title",): "T", ("weeks", WEEK, "new"): ("n",), ("weeks", WEEK, "exercises", 2, "title"): "zwei",
             ("tunes", TUNE, "composer"): "jemand"}
    said = translate_course(speak(course, texts), "xx")
    week, old = said.weeks[0], course.weeks[0]
    assert (said.title, week.new, week.exercises[1].title) == ("T", ("n",), "zwei")
    assert week.exercises[0] == old.exercises[0]
    assert replace(week, new=old.new, exercises=old.exercises) == old
    assert said.tunes[TUNE].rights.composer == "jemand"
    assert said.tunes[TUNE].sections == course.tunes[TUNE].sections
    assert translate_course(said, "xx") == said


def test_a_phrase_is_translated_wherever_it_stands(course: Course) -> None:
    said = translate_course(speak(course, {}, {course.tunes[TUNE].rights.composer: "überall"}), "xx")
    assert {tune.rights.composer for tune in said.tunes.values()} == {"überall"}


def test_a_language_without_a_translation_changes_nothing(course: Course) -> None:
    assert translate_course(course, "yy") is course
    assert find_untranslated(course, replace(course.editions["standard"], language="yy")) == []


def test_the_demo_is_german_throughout(course: Course) -> None:
    """Every text of the demo has its translation, and no label of the book is left in English."""
    german = course.editions["deutsch"]
    assert find_untranslated(course, german) == []
    for edition in course.editions.values():
        assert find_untranslated(course, replace(edition, language="de")) == []


def test_a_german_calls_b_natural_h(course: Course) -> None:
    """In the chord row, the button chart, the combinations and what is read out; common practice, no source."""
    words = course.words["de"]
    instrument = course.instruments["41-keys-120-basses"]
    style = engraving_style(course, course.editions["deutsch"])
    marks = [ChordSpan(Fraction(place), Fraction(1), Chord.parse(name)) for place, name in enumerate(("Bb7", "Bm"))]
    row = chord_row(marks, Fraction(2), ToneNames.parse(style.words.tones))
    assert row == '\\markup \\concat { "B7" } 1*1 \\markup \\concat { "Hm" } 1*1'
    bass = dict(button_chart(instrument, (), words).rows)[words["row.bass"]]
    assert bass[:3] == ("H♭♭", "F♭", "C♭")
    assert [name for name in bass if name[0] in "BH"] == ["H♭♭", "B", "H"]
    [pairs] = [item for item in combination_list(instrument, words) if isinstance(item, Pairs)]
    assert dict(pairs.pairs)["C7♭9"] == "C + C M + B d"


def test_what_is_missing_is_named(course: Course) -> None:
    german = course.translations["de"]
    path = ("weeks", WEEK, "aim")
    less = replace(german, texts={key: text for key, text in german.texts.items() if key != path})
    [finding] = find_untranslated(replace(course, translations={"de": less}), course.editions["deutsch"])
    assert finding.severity is Severity.WARNING
    assert finding.file == "translations/de.yaml"
    assert f"weeks/{WEEK}/aim" in finding.message


@pytest.mark.parametrize(("text", "place", "said"), [
    ("weeks:\n  01-one:\n    aim: x\n", (2, 3), "weeks/01-one"),
    ("tunes:\n  nobody: {title: x}\n", (2, 3), "tunes/nobody"),
    ("weeks:\n  01-two:\n    exercises:\n      9: {title: x}\n", (4, 7), "exercises/9"),
])
def test_texts_for_what_is_not_there_are_warned_of(tmp_path: Path, text: str, place: tuple, said: str) -> None:
    write_small(tmp_path, text)
    course, findings = inspect_course(tmp_path)
    assert course is not None
    [finding] = [finding for finding in findings if finding.file == "translations/de.yaml"]
    assert finding.severity is Severity.WARNING
    assert (finding.line, finding.column) == place
    assert said in finding.message


def test_fields_in_a_translation_are_those_of_an_exercise(tmp_path: Path) -> None:
    write_small(tmp_path, "weeks:\n  01-two:\n    exercises:\n      1: {instruction: 'Spiel {lied}'}\n")
    _, findings = inspect_course(tmp_path)
    [finding] = [finding for finding in findings if finding.severity is Severity.ERROR]
    assert (finding.file, finding.line) == ("translations/de.yaml", 4)
    assert "{lied}" in finding.message


def write_small(folder: Path, translation: str) -> None:
    """A course of one week on one chord, with a translation."""
    files = {
        "course.yaml": "title: A\nweeks: [01-two]\n",
        "weeks/01-two.yaml": "title: A\naim: B\nexercises:\n  - {kind: left-hand-one-chord, groove: g, chord: C}\n",
        "grooves/g.yaml": "title: G\nmeter: 2/4\nslots: 1\nbass: 'r .'\nchord: '. x'\n",
        "translations/de.yaml": translation,
    }
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")


def test_a_title_says_which_bars_of_a_section_are_played(course: Course, exercises: list[Exercise]) -> None:
    """The Goose's first part and the trio are cut in these weeks, the Round's first part is not."""
    titles = {e.number: exercise_title(e, course.words["de"]).replace("\N{NO-BREAK SPACE}", " ") for e in exercises}
    assert titles["5.7"].endswith(", A, Takte 1–4")
    assert titles["12.8"].endswith(", C, Takte 1–8")
    assert titles["1.4"].endswith(", A")
