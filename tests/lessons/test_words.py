"""The printed words."""

from __future__ import annotations

from bookbuild.lessons.model import KINDS
from bookbuild.lessons.words import DEFAULT_WORDS, EXERCISE_FIELDS, fill_words, find_fields


def test_every_kind_has_a_name_and_an_instruction() -> None:
    assert {f"kind.{kind}" for kind in KINDS} <= set(DEFAULT_WORDS)
    assert {f"do.{kind}" for kind in KINDS} <= set(DEFAULT_WORDS)
    for kind in KINDS:
        assert {field for _, field in find_fields(DEFAULT_WORDS[f"do.{kind}"])} <= EXERCISE_FIELDS


def test_words_are_plain_lines() -> None:
    for key, text in DEFAULT_WORDS.items():
        assert text == text.strip(), key
        assert text.isprintable(), key
        assert "  " not in text, key


def test_fields_are_filled_and_other_braces_stay() -> None:
    assert fill_words("{chord} on {tune} {x}", chord="G", tune="{chord}") == "G on {chord} {x}"
    assert find_fields("a {b} {c") == [(2, "b")]
