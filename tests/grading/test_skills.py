"""Skills read from the music of the demo course's tunes and grooves."""

from __future__ import annotations

import pytest
from small_course import make_exercise, needs_of

from bookbuild.grading.learning import LEARNING, Learning, how_learned
from bookbuild.grading.skills import SKILLS
from bookbuild.lessons.check_exercise import NEEDS_GROOVE, NEEDS_TUNE
from bookbuild.lessons.model import KINDS
from bookbuild.lessons.words import DEFAULT_WORDS
from bookbuild.theory.chords import Chord


@pytest.mark.parametrize(
    ("kind", "tune", "groove", "asked", "not_asked"),
    [
        ("left-hand-one-chord", "", "promenade", {"bass-chord", "groove:promenade"}, {"alternating", "three-beats"}),
        ("left-hand-one-chord", "", "polka", {"bass-chord", "alternating", "off-beat-chords"}, {"sevenths", "swing"}),
        ("left-hand-one-chord", "", "waltz", {"three-beats", "bass-chord"}, {"off-beat-chords", "compound"}),
        ("left-hand-one-chord", "", "schottische", {"counterbass", "swing"}, {"triplets", "together"}),
        ("left-hand-one-chord", "", "baiao", {"anticipation", "sixteenths"}, {"dotted", "melody"}),
        ("left-hand-one-chord", "", "jig", {"compound", "off-beat-chords"}, {"three-beats", "triplets"}),
        ("melody", "felt-boots", "", {"triplets", "moving"}, {"swing", "together", "groove:schottische"}),
        ("melody", "nine-steps-to-the-gate", "", {"upbeat"}, {"fill", "sixteenths"}),
        ("count", "harbour-without-boats", "", {"sixteenths", "dotted"}, {"moving", "shapes"}),
        ("shapes", "lamplighters-round", "", {"shapes", "tune:lamplighters-round"}, {"fill", "together"}),
        ("fill", "lamplighters-round", "promenade", {"fill"}, {"together", "groove:promenade"}),
        ("together", "two-rivers-one-bridge", "chamame", {"cross-rhythm", "together", "compound"}, {"shake"}),
        ("together", "tide-mill", "jig", {"together", "minors"}, {"cross-rhythm", "whole-piece"}),
        ("together", "wide-water", "waltz", {"three-beats"}, {"cross-rhythm"}),
        ("arrangement", "goose-over-the-fence", "polka", {"whole-piece", "fill", "together"}, {"shake", "upbeat"}),
    ],
)
def test_skills_follow_from_the_music(course, setting, kind, tune, groove, asked, not_asked):
    options = {"chord": Chord.parse("G")} if kind == "left-hand-one-chord" else {}
    needs = needs_of(make_exercise(course, setting, "1.1", kind, tune, groove, **options))
    assert asked <= needs
    assert not not_asked & needs


@pytest.mark.parametrize(("symbol", "skill"), [("G7", "sevenths"), ("Am", "minors"), ("Bdim7", "diminished")])
def test_chord_rows_are_skills(course, setting, symbol, skill):
    made = make_exercise(course, setting, "1.1", "left-hand-one-chord", "", "promenade", chord=Chord.parse(symbol))
    assert skill in needs_of(made)
    plain = make_exercise(course, setting, "1.1", "left-hand-one-chord", "", "promenade", chord=Chord.parse("C"))
    assert skill not in needs_of(plain)


def test_shakes_are_told_apart(course, setting):
    chord = Chord.parse("G")
    bass = make_exercise(course, setting, "1.1", "shake-one-bass", "", "polka", chord=chord)
    groove = make_exercise(course, setting, "1.2", "shake-groove", "", "polka", chord=chord)
    tune = make_exercise(course, setting, "1.3", "shake-melody", "red-dust-road", "", sections=("B",))
    assert needs_of(bass) == {"shake"}
    assert {"shake", "shake-groove", "groove:polka", "off-beat-chords"} <= needs_of(groove)
    assert {"shake", "shake-melody", "tune:red-dust-road"} <= needs_of(tune)
    assert "shake-groove" not in needs_of(tune)


def test_strokes_of_a_shake_are_not_written_sixteenths(course, setting):
    made = make_exercise(course, setting, "1.1", "shake-melody", "last-one-sweeps-the-floor", "polka", sections=("C",))
    assert "sixteenths" not in needs_of(made)


def test_every_skill_is_named_and_learned_somewhere():
    assert set(LEARNING) == set(SKILLS)
    assert len(SKILLS) <= 24
    for skill in SKILLS:
        assert len(DEFAULT_WORDS[f"skill.{skill}"]) <= 22
        learning = how_learned(skill)
        assert learning.taught_by
        assert set(learning.taught_by) <= set(KINDS)
        assert set(learning.after) <= set(SKILLS) - {skill}


def test_what_a_skill_builds_on_can_be_learned_first():
    """No skill builds on itself in a circle."""
    order: list[str] = []
    while len(order) < len(SKILLS):
        ready = [s for s in SKILLS if s not in order and set(LEARNING[s].after) <= set(order)]
        assert ready
        order += ready


def test_grooves_are_learned_alone_and_tunes_by_ear_and_hand():
    assert how_learned("groove:polka") == Learning(("left-hand-one-chord", "left-hand"))
    assert set(how_learned("groove:polka").taught_by) <= NEEDS_GROOVE
    assert "together" in how_learned("tune:tide-mill").taught_by
    assert {"melody", "together"} <= NEEDS_TUNE
