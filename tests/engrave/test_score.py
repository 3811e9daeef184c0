"""What the whole score is told, and what the engraver then draws: short bars, stems of the left hand, bellows signs."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction as F
from pathlib import Path
from typing import Any

import pytest

from bookbuild.arrange.exercises import Setting, arrange_exercise
from bookbuild.arrange.model import Arrangement
from bookbuild.engrave.engine import find_engraver, run_engraver
from bookbuild.engrave.rows import RowWords, bellows_row
from bookbuild.engrave.score import bookpart_text, score_text
from bookbuild.engrave.source import batch_text
from bookbuild.engrave.style import Style
from bookbuild.lessons.model import Course, ExerciseSpec
from bookbuild.theory.chords import Chord
from bookbuild.workshop import fonts_folder


@pytest.fixture(scope="module")
def upbeat_piece(course: Course, setting: Setting) -> Arrangement:
    spec = ExerciseSpec("together", "nine-steps-to-the-gate", "polka", sections=("A", "B"))
    return arrange_exercise(spec, course.tunes[spec.tune], course.grooves[spec.groove], setting)


def test_a_short_last_bar_begins_on_its_first_beat(upbeat_piece: Arrangement) -> None:
    """Beams count from the bar's own beginning; an upbeat counts as the end of a bar nobody plays."""
    frame = score_text(upbeat_piece, Style())
    lines = [line for line in frame.splitlines() if "measureLength" in line]
    assert ["\\partial" in line for line in lines] == [True, False, True, False]
    assert [bar.length for bar in upbeat_piece.bars if bar.length != F(1, 2)] == [F(1, 8), F(3, 8), F(1, 8), F(3, 8)]
    assert "make-moment 3/8" in lines[1]


def test_a_line_that_begins_with_an_upbeat_has_the_number_of_the_bar_it_leads_to(upbeat_piece: Arrangement) -> None:
    frame = score_text(upbeat_piece, Style())
    opened = [line for line in frame.splitlines() if "\\break" in line and "\\partial" in line]
    assert len(opened) == 1
    assert "currentBarNumber = #9" in opened[0]


def test_a_new_key_is_told_to_every_staff_but_the_clapping_line(course: Course, setting: Setting) -> None:
    tune = course.tunes["last-one-sweeps-the-floor"]
    spec = ExerciseSpec("arrangement", tune.name, "polka")
    text = score_text(arrange_exercise(spec, tune, course.grooves["polka"], setting), Style())
    assert text.count("\\key c \\major") == 2
    assert text.count("\\key g \\major") == 4
    claps = replace(spec, kind="count", sections=tune.form)
    clapped = score_text(arrange_exercise(claps, tune, None, setting), Style())
    assert "\\key" not in clapped


def test_a_bellows_line_that_turns_inside_a_bar_leaves_room_for_the_next_sign(upbeat_piece: Arrangement) -> None:
    row = bellows_row(upbeat_piece, RowWords())
    inside = [span.end not in {bar.end for bar in upbeat_piece.bars} for span in upbeat_piece.bellows]
    assert row.count("#2.0") == sum(inside)
    assert row.count("#0.6") == len(inside) - sum(inside)


def test_the_word_of_a_turn_at_a_lines_end_waits_for_the_next_line(upbeat_piece: Arrangement) -> None:
    turn = next(span.onset for span in upbeat_piece.bellows if span.onset)
    bar = next(bar for bar in upbeat_piece.bars if turn < bar.end)
    assert '"close" ""' in bellows_row(upbeat_piece, RowWords())
    assert '"" "close"' in bellows_row(upbeat_piece, RowWords(), {bar.end})


def draw(arrangement: Arrangement, work: Path) -> list[dict[str, Any]]:
    """The boxes of an arrangement's notes, stems and bellows signs."""
    text = batch_text([bookpart_text("x", arrangement, Style())], Style(), fonts_folder(), dump_grobs=True)
    run_engraver(find_engraver(), text, work, seconds=60)
    lines = (work / "geometry.jsonl").read_text(encoding="utf-8").split('{"exercise"')[1:]
    return [grob for line in lines for grob in json.loads('{"exercise"' + line)["grobs"]]


@pytest.mark.engraver
def test_basses_turn_their_stems_up_and_chords_down(course: Course, setting: Setting, tmp_path: Path) -> None:
    """Music Braille Code 1997 §25.4: basses below the middle line with the stem up, chords above it, stem down."""
    spec = ExerciseSpec("left-hand-one-chord", "", "light-three", chord=Chord.parse("Dm"))
    made = arrange_exercise(spec, None, course.grooves["light-three"], setting)
    grobs = draw(made, tmp_path)
    heads = {(g["when"], round(sum(g["y"]) / 2, 1)): g for g in grobs if g["name"] == "NoteHead"}
    stems = {g["when"]: g for g in grobs if g["name"] == "Stem"}
    singles = [when for when in stems if sum(key[0] == when for key in heads) == 1]
    last = made.bars[-1].onset
    checked = 0
    for (when, middle), _ in heads.items():
        if when not in singles or F(when) > last:
            continue
        low, high = stems[when]["y"]
        is_bass = F(when) % F(3, 4) == 0
        assert (high - middle > middle - low) == is_bass, f"at {when}"
        checked += 1
    assert checked >= 10
