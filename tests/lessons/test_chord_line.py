"""Chord lines by bar."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.lessons.chord_line import WrittenChords, parse_chord_line
from bookbuild.theory.chords import ALIASES, QUALITIES, Chord
from bookbuild.theory.meter import Meter

F = Fraction
HALF = F(1, 2)


def read(text: str, bars: int = 1, meter: str = "4/4", **more: object) -> list[tuple[Fraction, str]]:
    """(length, symbol) of the spans of full bars; '' is no chord."""
    found = Meter.parse(meter)
    written = parse_chord_line(text, (found.bar,) * bars, found, "section A", **more)  # type: ignore[arg-type]
    return told(written)


def told(written: WrittenChords) -> list[tuple[Fraction, str]]:
    assert not written.flaws + written.misfits
    return [(span.length, span.chord.symbol if span.chord else "") for span in written.spans]


@pytest.mark.parametrize(("text", "meter", "spans"), [
    ("G", "4/4", [(F(1), "G")]),
    ("G D7", "4/4", [(HALF, "G"), (HALF, "D7")]),
    ("G . . D7", "4/4", [(F(3, 4), "G"), (F(1, 4), "D7")]),
    ("G . . . . . . D7", "4/4", [(F(7, 8), "G"), (F(1, 8), "D7")]),
    ("G . C", "3/4", [(HALF, "G"), (F(1, 4), "C")]),
    ("G D7", "6/8", [(F(3, 8), "G"), (F(3, 8), "D7")]),
    ("G . C . D7 .", "6/8", [(F(1, 4), "G"), (F(1, 4), "C"), (F(1, 4), "D7")]),
    ("G:3/8 D7:1/8", "2/4", [(F(3, 8), "G"), (F(1, 8), "D7")]),
    ("N.C. G", "2/4", [(F(1, 4), ""), (F(1, 4), "G")]),
    ("G . G .", "4/4", [(F(1), "G")]),
])
def test_entries_divide_a_bar_by_its_beats(text: str, meter: str, spans: list[tuple[Fraction, str]]) -> None:
    assert read(text, 1, meter) == spans


def test_equal_neighbours_over_the_bar_line_are_one_span() -> None:
    assert read("G | . | G C | C", 4, "2/4") == [(F(5, 4), "G"), (F(3, 4), "C")]


@pytest.mark.parametrize(("text", "meter", "count"), [("G C", "3/4", 2), ("G C D", "4/4", 3), ("G . . D7", "6/8", 0)])
def test_entries_that_do_not_divide_the_bar_are_a_misfit(text: str, meter: str, count: int) -> None:
    found = Meter.parse(meter)
    misfits = parse_chord_line(text, (found.bar,), found, "section A").misfits
    assert [f"{count} chords do not divide bar 1" in flaw.message for flaw in misfits] == ([True] if count else [])


def test_an_upbeat_may_be_left_out_and_keeps_the_chord_before() -> None:
    meter, bars = Meter(2, 4), (F(1, 8), HALF, F(3, 8))
    left_out = parse_chord_line("G | D7", bars, meter, "section B", True, Chord.parse("C"))
    assert told(left_out) == [(F(1, 8), "C"), (HALF, "G"), (F(3, 8), "D7")]
    at_the_start = parse_chord_line("G | D7", bars, meter, "section A", True)
    assert told(at_the_start)[0] == (F(1, 8), "")
    written = parse_chord_line("D7 | G | D7", bars, meter, "section A", True)
    assert told(written)[0] == (F(1, 8), "D7")


def test_a_short_last_bar_may_be_written_like_a_full_one() -> None:
    meter = Meter(2, 4)
    assert told(parse_chord_line("G D7", (F(3, 8),), meter, "section A")) == [(F(1, 4), "G"), (F(1, 8), "D7")]
    three = parse_chord_line("G . D7", (F(3, 4),), Meter(4, 4), "section A")
    assert told(three) == [(HALF, "G"), (F(1, 4), "D7")]


def test_every_known_quality_and_alias_is_read() -> None:
    names = [*QUALITIES, *ALIASES]
    text = " | ".join(f"Bb{name}/F" if name != "6/9" else "Bb6/9" for name in names)
    spans = parse_chord_line(text, (HALF,) * len(names), Meter(2, 4), "section A")
    assert not spans.flaws
    qualities = [ALIASES.get(name, name) for name in names]
    unmerged = [quality for index, quality in enumerate(qualities) if index == 0 or quality != qualities[index - 1]]
    assert [span.chord.quality for span in spans.spans if span.chord] == unmerged


def test_a_bar_repeat_sign_is_explained() -> None:
    misfit = parse_chord_line("G | % |\nC", (HALF,) * 3, Meter(2, 4), "section A").misfits[0]
    assert "write '.'" in misfit.hint


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ABCGHm7b#/.|:123 %\nN", max_size=50), st.integers(1, 4), st.booleans())
def test_any_text_is_read_or_explained(text: str, bars: int, upbeat: bool) -> None:
    lengths = ((F(1, 8),) if upbeat else ()) + (HALF,) * bars
    written = parse_chord_line(text, lengths, Meter(2, 4), "section A", upbeat)
    for flaw in written.flaws + written.misfits:
        assert 0 <= flaw.offset <= len(text)
        assert flaw.message
        assert flaw.hint
    if not written.flaws + written.misfits:
        assert sum((span.length for span in written.spans), F(0)) == sum(lengths)
    neighbours = zip(written.spans, written.spans[1:], strict=False)
    assert all(one.chord != other.chord and one.end == other.onset for one, other in neighbours)
