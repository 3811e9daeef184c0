"""User text reaches the engraver only as a quoted string."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.engrave.text import quote

NASTY = [
    '"',
    "\\",
    '" #(system "touch canary") "',
    "#(exit)",
    "$(exit)",
    '\\include "x"',
    "%{",
    "}",
    "a\u2028b",
    "\0",
    "\x1b[0m",
    "\u202eabc",
    "'",
    "<<>>",
    '\\\\"',
    "\n",
    "\r\n",
    "\ud800",
]


@pytest.mark.parametrize("text", NASTY)
def test_nasty_text_stays_inside_its_quotes(text: str) -> None:
    quoted = quote(text)
    assert re.fullmatch(r'"(?:[^"\\]|\\["\\])*"', quoted), quoted
    assert "\n" not in quoted


@given(st.text())
def test_any_text_is_one_string_literal(text: str) -> None:
    quoted = quote(text)
    assert re.fullmatch(r'"(?:[^"\\\x00-\x1f\u2028\u2029]|\\["\\])*"', quoted)


@given(st.text(alphabet=st.characters(categories=["L", "N", "P", "S", "Zs"])))
def test_printable_text_is_kept_to_the_letter(text: str) -> None:
    assert quote(text)[1:-1].replace('\\"', '"').replace("\\\\", "\\") == text
