"""Grooves: rows under their counting become strokes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bookbuild.lessons.model import Groove, Source
from bookbuild.lessons.parse import build_groove
from bookbuild.lessons.report import Report
from bookbuild.lessons.yaml_text import load_yaml

F = Fraction


def read(rows: str, meter: str = "2/4", slots: int = 4) -> Groove:
    report = Report()
    text = f"title: T\nmeter: {meter}\nslots: {slots}\n{rows}\n"
    document = load_yaml(text.encode(), "grooves/t.yaml", report)
    assert document
    groove = build_groove("t", document, report)
    assert report.in_order() == []
    assert groove
    return groove


def told(groove: Groove, *sources: Source) -> list[tuple[Fraction, Fraction, str, bool]]:
    return [(s.onset, s.length, s.source.value, s.anticipates) for s in groove.strokes if s.source in sources]


def test_baiao_has_the_bass_of_three_sixteenths_and_the_chord_that_anticipates() -> None:
    """Common practice, no source: bass on 1 for three sixteenths, chord on the fourth, two eighths in beat 2."""
    groove = read('count: 1 e & a 2 e & a\nbass: x - - . . . . .\nchord: . . . x - - x -')
    assert told(groove, Source.ROOT) == [(F(0), F(3, 16), "root", False)]
    assert told(groove, Source.CHORD) == [(F(3, 16), F(3, 16), "chord", True), (F(3, 8), F(1, 8), "chord", False)]


def test_waltz_and_two_bar_cells_repeat_short_rows() -> None:
    groove = read('bass: x . . | f . .\nchord: . x x', "3/4", 1)
    assert groove.cell_bars == 2
    assert [(s.onset, s.source) for s in groove.strokes if s.source is not Source.CHORD] == [
        (F(0), Source.ROOT), (F(3, 4), Source.FIFTH),
    ]
    assert [s.onset for s in groove.strokes if s.source is Source.CHORD] == [F(1, 4), F(1, 2), F(1), F(5, 4)]


def test_a_leading_hold_continues_the_last_stroke_past_the_cell() -> None:
    groove = read('bass: "- . x -"\nchord: ". x . ."', slots=2)
    assert told(groove, Source.ROOT) == [(F(1, 4), F(3, 8), "root", False)]
    off_beat = read('bass: "- - . x"', slots=2)
    assert told(off_beat, Source.ROOT) == [(F(3, 8), F(3, 8), "root", True)]


def test_letters_choose_root_fifth_third_and_anticipation() -> None:
    groove = read("bass: r t f a\nchord: . . x a", slots=2)
    bass = [(s.source, s.anticipates) for s in groove.strokes if s.source is not Source.CHORD]
    assert bass == [(Source.ROOT, False), (Source.THIRD, False), (Source.FIFTH, False), (Source.ROOT, True)]
    assert [s.anticipates for s in groove.strokes if s.source is Source.CHORD] == [False, True]


def test_fill_accents_and_shake() -> None:
    groove = read('bass: x . . .\nfill: . x - x\naccent: "> . . >"\nshake: "> . > ."', slots=2)
    assert groove.fill == ((F(1, 8), F(1, 4)), (F(3, 8), F(1, 8)))
    assert groove.strokes[0].accent
    assert groove.fill_accents == (F(3, 8),)
    assert groove.shake_accents == (F(0), F(1, 4))


def test_without_a_fill_row_every_slot_may_be_struck() -> None:
    groove = read("bass: x . x .", slots=2)
    assert groove.fill == tuple((F(index, 8), F(1, 8)) for index in range(4))


@pytest.mark.parametrize(("meter", "slots", "length"), [("6/8", 3, 6), ("4/4", 2, 8), ("9/8", 3, 9), ("2/2", 4, 8)])
def test_slots_count_by_the_counted_beat(meter: str, slots: int, length: int) -> None:
    groove = read("bass: " + " ".join(["x"] * length), meter, slots)
    assert groove.cell_bars == 1
    assert groove.strokes[-1].onset + groove.slot == groove.meter.bar


def test_pickup_and_ending_stand_outside_the_cell() -> None:
    rows = 'bass: x . f .\nchord: . x . x\npickup: {bass: ". . . f"}\nending: {bass: "x - - -", chord: ". x . ."}'
    groove = read(rows, slots=2)
    assert [(s.onset, s.source) for s in groove.pickup] == [(F(3, 8), Source.FIFTH)]
    assert [(s.onset, s.length) for s in groove.ending] == [(F(0), F(1, 2)), (F(1, 8), F(1, 8))]
