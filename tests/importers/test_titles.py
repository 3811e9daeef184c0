"""Titles as collections write them become readable; what they say of the dance goes to the tune's origin."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.importers.abc import read_abc
from bookbuild.importers.titles import clean_text, clean_title, split_dance, title_of_file
from tests.importers.reading import carried


@pytest.mark.parametrize(("written", "title"), [
    ("THE STONE BARN", "The Stone Barn"),
    ("A LANTERN FOR THE MILLER'S SON.", "A Lantern for the Miller's Son"),
    ("O'LOWRY AND MCFENN, THE", "The O'Lowry and McFenn"),
    ("BRIGHT-EYED 'TIS (NOON) IN MAY III", "Bright-Eyed 'Tis (Noon) in May III"),
    ("Reel, The", "The Reel"),
    ("The grey mare.", "The grey mare"),
    ("Minuet in G, Op.", "Minuet in G, Op."),
    ("Wait…", "Wait…"), ("Wait...", "Wait..."), ("T.N.T.", "T.N.T."), ("ABC", "ABC"), ("A. B.", "A. B."),
    ("Grey Mare -- Second Version.", "Grey Mare – Second Version"),
    ("DER MOND UND DIE MAUS", "Der Mond und die Maus"),
])
def test_titles_become_readable(written: str, title: str) -> None:
    assert clean_title(written) == title


@given(st.text(max_size=60))
def test_cleaning_a_title_twice_changes_nothing(text: str) -> None:
    once = clean_title(text)
    assert clean_title(once) == once
    assert once == clean_text(once)


@pytest.mark.parametrize(("title", "parts"), [
    ("Grey Mare – Reel", ("Grey Mare", "reel")), ("Grey Mare – Highland Fling", ("Grey Mare", "highland fling")),
    ("Grey Mare – Second Version", ("Grey Mare – Second Version", "")), ("Grey Mare Reel", ("Grey Mare Reel", "")),
    ("", ("", "")),
])
def test_the_dance_behind_a_dash(title: str, parts: tuple[str, str]) -> None:
    assert split_dance(title) == parts


def test_an_imported_tune_keeps_its_dance_as_origin() -> None:
    item = read_abc("X:1\nT:GREY MARE -- REEL.\nM:2/4\nL:1/8\nK:G\nG2B2|d4|\n", "mares.abc")[0]
    tune = carried([item])
    assert (tune.title, tune.name, tune.origin) == ("Grey Mare", "grey-mare", "reel")
    assert any("in capitals" in note for note in item.notes)


def test_a_tune_without_title_is_called_after_its_file() -> None:
    item = read_abc("X:1\nM:2/4\nL:1/8\nK:G\nG2B2|d4|\n", "grey_mare-2.abc")[0]
    assert carried([item]).title == "Grey mare 2"
    assert any("no title" in note for note in item.notes)
    assert title_of_file("___.xml") == "Untitled"


def test_a_title_that_is_the_file_s_name() -> None:
    assert clean_title("grey_mare1.2.mxl") == "Grey mare1.2"
