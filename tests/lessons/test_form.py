"""Upbeats, endings and how sections meet in the form."""

from __future__ import annotations

from fractions import Fraction

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.lessons.model import Tune
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report

F = Fraction
HEAD = "title: T\nmeter: 2/4\nkey: G major\ntempo: {start: 50, goal: 90}\n"


def read(text: str) -> tuple[Tune | None, list[Diagnostic]]:
    report = Report()
    tune = parse_tune((HEAD + text).encode(), "t", "t.yaml", report)
    return tune, report.in_order()


def section(name: str, melody: str, more: str = "") -> str:
    return f"  {name}:\n    melody: \"{melody}\"\n{more}"


def test_an_upbeat_and_a_short_last_bar_make_one_bar_on_the_repeat() -> None:
    tune, findings = read("upbeat: 1/8\nsections:\n" + section("A", "d'8 | g'2 | g'4.") + "form: A A\n")
    assert findings == []
    assert tune
    assert tune.sections[0].body.bars == (F(1, 8), F(1, 2), F(3, 8))
    assert tune.sections[0].upbeat == F(1, 8)


def test_a_full_last_bar_before_an_upbeat_is_read_with_a_note() -> None:
    tune, findings = read("upbeat: 1/8\nsections:\n" + section("A", "d'8 | g'2 | g'2") + "form: A A\n")
    assert tune
    assert [finding.severity for finding in findings] == [Severity.NOTE]
    assert "(3/8)" in findings[0].hint
    assert (findings[0].line, findings[0].column) == (7, 3)


def test_a_short_last_bar_that_nothing_completes_is_warned_of() -> None:
    text = "upbeat: 1/8\nsections:\n" + section("A", "d'8 | g'2 | g'4.") + section("B", "g'2 | g'4.", "    upbeat: 0\n")
    tune, findings = read(text + "form: A B\n")
    assert tune
    assert tune.sections[1].upbeat == 0
    assert [finding.severity for finding in findings] == [Severity.WARNING]
    assert "meet in a bar of 3/8 instead of 1/2" in findings[0].message


def test_a_section_may_have_an_upbeat_of_its_own() -> None:
    text = "sections:\n" + section("A", "g'2 | g'4") + section("B", "b'8 c'' | d''2 | g'2", "    upbeat: 1/4\n")
    tune, findings = read(text + "form: A B\n")
    assert tune
    assert findings == []


ENDINGS = """\
    endings:
      - melody: "b'4 a' | g'4."
        chords: "D7 | G"
      - melody: "b'4 c'' | g'2"
        chords: ". | G"
"""


def test_endings_follow_the_body_and_take_its_last_chord() -> None:
    body = section("A", "d'8 | g'2 | a'2", "    chords: \"G | Am\"\n" + ENDINGS)
    tune, findings = read("upbeat: 1/8\nsections:\n" + body + "form: A A\n")
    assert findings == []
    assert tune
    first, second = tune.sections[0].endings
    assert [note.onset for note in first.notes] == [F(0), F(1, 4), F(1, 2)]
    assert first.bars == (F(1, 2), F(3, 8))
    assert [span.chord.symbol for span in second.chords if span.chord] == ["Am", "G"]


def test_endings_and_passes_must_agree() -> None:
    body = section("A", "g'2 | a'2", ENDINGS.replace("g'4.", "g'2"))
    for form, good in (("A A", True), ("A", True), ("A A A", False), ("A A A A", False)):
        tune, findings = read("sections:\n" + body + f"form: {form}\n")
        assert (tune is not None) is good
        assert [finding.severity for finding in findings] == ([] if good else [Severity.ERROR])


def test_one_ending_alone_is_refused() -> None:
    one = "    endings:\n      - melody: \"g'2\"\n"
    _, findings = read("sections:\n" + section("A", "g'2", one))
    assert [finding.message for finding in findings] == ["section A has one ending only"]
    assert findings[0].line == 8


def test_a_wrong_bar_of_an_ending_is_named() -> None:
    body = section("A", "g'2 | a'2", ENDINGS.replace("b'4 c''", "b'4 c''8"))
    _, findings = read("upbeat: 0\nsections:\n" + body.replace("g'4.", "g'2") + "form: A A\n")
    assert [finding.message for finding in findings] == ["bar 1 of ending 2 of section A holds 3/8 instead of 1/2"]
    assert (findings[0].line, findings[0].column) == (12, 18)


def test_without_a_form_each_section_comes_once() -> None:
    tune, _ = read("sections:\n" + section("A", "g'2") + section("B", "a'2"))
    assert tune
    assert tune.form == ("A", "B")


def test_without_chords_a_section_has_one_span_of_none() -> None:
    tune, _ = read("sections:\n" + section("A", "g'2 | g'2"))
    assert tune
    assert [(span.length, span.chord) for span in tune.sections[0].body.chords] == [(F(1), None)]


def test_the_upbeat_of_a_later_section_keeps_the_chord_before_it_in_the_form() -> None:
    text = "upbeat: 1/8\nsections:\n" + section("A", "d'8 | g'2 | g'4.", "    chords: \"G | D7\"\n")
    text += section("B", "d'8 | g'2 | g'4.", "    chords: \"C | G\"\n")
    cases = [("A A B B", [None, "G", "D7"], ["D7", "C", "G"]), ("B A", ["G", "D7"], [None, "C", "G"])]
    for form, first, second in cases:
        tune, findings = read(text + f"form: {form}\n")
        assert findings == []
        assert tune
        for part, symbols in zip(tune.sections, (first, second), strict=True):
            assert [span.chord.symbol if span.chord else None for span in part.body.chords] == symbols
