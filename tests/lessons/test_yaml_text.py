"""YAML with places, and everything nasty a file can hold."""

from __future__ import annotations

import json
import time
from itertools import pairwise

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.diagnostics import Diagnostic
from bookbuild.lessons import yaml_text
from bookbuild.lessons.report import Report
from bookbuild.lessons.yaml_text import Document, load_yaml


def load(content: str | bytes) -> tuple[Document | None, list[Diagnostic]]:
    report = Report()
    document = load_yaml(content if isinstance(content, bytes) else content.encode(), "a.yaml", report)
    return document, report.in_order()


@pytest.fixture(params=["CSafeLoader", "SafeLoader"])
def either_parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The compiled parser and the one in Python say the same."""
    monkeypatch.setattr(yaml_text, "_LOADER", getattr(yaml, request.param))


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(("text", "line", "column", "message"), [
    ("", 0, 0, "the file is empty"),
    ("# only a remark\n", 0, 0, "the file is empty"),
    ("---\n", 0, 0, "the file is empty"),
    ("a: 1\n---\nb: 2\n", 2, 1, "a second document"),
    ("a: &x 1\nb: 2\n", 1, 4, "anchors"),
    ("a: *x\n", 1, 4, "anchors"),
    ("a: !!python/object/apply:os.system [ls]\n", 1, 4, "the tag"),
    ("a: !x y\n", 1, 4, "the tag"),
    ("a: 1\nb: 2\na: 3\n", 3, 1, "'a' is written twice; it is already in line 1"),
    ("a: {b: 1, b: 2}\n", 1, 11, "'b' is written twice"),
    ("? [a, b]\n: c\n", 1, 3, "a key must be a plain word"),
    ("a: - x\n", 1, 4, "reads as a list"),
    ("a: > . x\n", 1, 4, "longer text"),
    ("a: | G\n", 1, 4, "longer text"),
    ("a: [n, e, &, a]\n", 1, 11, "& or *"),
    ("a: b: c\n", 1, 5, "second colon"),
    ("a: %x\n", 1, 4, "cannot begin with"),
    ("a: `x`\n", 1, 4, "cannot begin with"),
    ("a: \"x\nb: c\n", 1, 4, "never closed"),
    ("a: \"x\nb: \"y\"\nc: \"z\"\n", 1, 4, "never closed"),
    ("a: {b} c\n", 1, 8, "after a closing bracket"),
    ("a: 'it's'\n", 1, 8, "after the closing quotation mark"),
    ("a: b\nfoo\nc: d\n", 2, 1, "no 'key: value'"),
    ("a: [x, y\nb: c\n", 2, 2, "a bracket or a comma"),
    ("a: ]\n", 1, 4, "a bracket or a comma"),
    ("a:\n    b: 1\n  c: d\n", 3, 3, "does not fit the lines above"),
    ("a:\n  - x\n  b: 1\n", 3, 3, "does not fit the lines above"),
    ("a:\tb\n", 1, 3, "a tab"),
    ("a:\n\tb: 1\n", 2, 1, "a tab"),
    ("a: b\x00c\n", 1, 5, "U+0000"),
    ("a: b\u2028c\n", 1, 5, "U+2028"),
    ("a: b\x85c\n", 1, 5, "U+0085"),
    ("a: \"\\x1b[31m\"\n", 1, 4, "U+001B"),
    ("a: \"\\u2028\"\n", 1, 4, "U+2028"),
    ("b: 1\na: " + "{a: " * 18 + "{a", 2, 78, "levels deep"),
])
def test_what_is_wrong_is_told_with_its_place(text: str, line: int, column: int, message: str) -> None:
    _, findings = load(text)
    assert [message in finding.message for finding in findings] == [True], findings
    assert (findings[0].line, findings[0].column) == (line, column)
    assert findings[0].hint


@pytest.mark.parametrize(("content", "message"), [
    (b"\xff\xfea\x00:\x00", "UTF-16"),
    (b"a: caf\xe9\n", "E9 is not UTF-8"),
    (b"\xef\xbb\xbf", "empty"),
    (b"\x00" * 200, "U+0000"),
    (b"a" * 1_000_001, "more than 1 MB"),
])
def test_bytes_that_are_not_text(content: bytes, message: str) -> None:
    document, findings = load(content)
    assert any(message in finding.message for finding in findings)
    assert document is None


def test_a_byte_order_mark_and_any_line_ends_are_fine() -> None:
    for ends in ("\n", "\r\n", "\r"):
        document, findings = load(b"\xef\xbb\xbf" + f"a: 1{ends}b:{ends}  - x{ends}  - y{ends}".encode())
        assert findings == []
        assert document
        assert document.data == {"a": "1", "b": ["x", "y"]}
        assert document.place("b", 1).line == 4


@pytest.mark.parametrize("text", [
    "[" * 500_000, "{a: " * 200_000, "- " * 400_000, "a: " + "[" * 30 + "]" * 30, "? " * 300_000,
    "a:\n" + "".join(" " * depth + f"k{depth}:\n" for depth in range(1, 1200)),
])
def test_deep_nesting_is_refused_at_once(text: str) -> None:
    begun = time.process_time()
    document, findings = load(text)
    assert document is None
    assert findings
    assert time.process_time() - begun < 5


def test_an_alias_bomb_is_never_unfolded() -> None:
    rows = [f"{b}: &{b} [*{a}, *{a}, *{a}]\n" for a, b in pairwise("abcdefghi")]
    bomb = "a: &a [x, x]\n" + "".join(rows)
    document, findings = load(bomb)
    assert len(findings) > 5
    assert document
    assert len(json.dumps(document.data)) < 500


def test_scalars_stay_as_they_are_written() -> None:
    document, _ = load("a: no\nb: 1812\nc: 007\nd: 2024-05-01\ne: 1:30\nf: ~\ng:\nh: '~'\ni: 0x1F\nj: y\n")
    assert document
    assert document.data == {
        "a": "no", "b": "1812", "c": "007", "d": "2024-05-01", "e": "1:30", "f": None, "g": None, "h": "~", "i": "0x1F",
        "j": "y",
    }


@pytest.mark.parametrize(("text", "word", "line", "column"), [
    ("m: |\n  a b\n  c X d\n", "X", 3, 5),
    ("m: |2\n    a b\n  c X d\n", "X", 3, 5),
    ("m: | # the tune\n\n  a b\n  X\n", "X", 4, 3),
    ("m: >\n  a b\n  c X d\n", "X", 3, 5),
    ("m: a b\n  c X d\n", "X", 2, 5),
    ("m: a X d\n", "X", 1, 6),
    ("m: \"a X d\"\n", "X", 1, 7),
    ("m: \"a \\\\x X d\"\n", "X", 1, 11),
    ("m: 'd'' X'\n", "X", 1, 9),
    ("s: [{m: 'a X'}]\n", "X", 1, 12),
])
def test_a_word_inside_a_text_is_found_in_the_file(text: str, word: str, line: int, column: int) -> None:
    document, _ = load(text)
    assert document
    path = ("s", 0, "m") if text.startswith("s") else ("m",)
    value = document.nodes[path].value
    place = document.text_place(path, value.index(word))
    assert (place.line, place.column) == (line, column)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text("ab|'\\% ~-#:\"", min_size=1, max_size=12).map(str.strip).filter(bool), min_size=1, max_size=5))
def test_every_visible_character_of_a_block_is_found_where_it_stands(rows: list[str]) -> None:
    text = "top: 1\nm: |\n" + "".join(f"  {row}\n" for row in rows)
    document, _ = load(text)
    assert document
    value = document.nodes[("m",)].value
    for offset, character in enumerate(value):
        if not character.isspace():
            place = document.text_place(("m",), offset)
            assert text.split("\n")[place.line - 1][place.column - 1] == character
            assert place.line == 3 + value.count("\n", 0, offset)


def test_findings_of_one_file_are_bounded() -> None:
    begun = time.process_time()
    _, findings = load("a: 1\n" * 100_000)
    assert len(findings) == 100
    assert "or more" in findings[0].message
    assert time.process_time() - begun < 5
