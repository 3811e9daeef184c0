"""Fitting grooves: refusals with their reason, and rankings a player would give (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.arrange.groove_fit import explain_refusal, fit_groove, rank_grooves
from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import Course, Groove, Source, Stroke, Tempo, Tune
from bookbuild.theory.meter import Meter

SLOT = Fraction(1, 16)


def tune_of(body: str, meter: str = "2/4", unit: str = "1/16") -> Tune:
    tune = read_abc(f"X:1\nM:{meter}\nL:{unit}\nK:C\n{body}\n", "t.abc")[0].tune
    assert tune is not None
    return replace(tune, tempo=Tempo(60, 100, tune.meter.beat))


TWO_FOUR = Meter(2, 4)


def groove_of(name: str, row: str, chords: str = "", slots: int = 4, meter: Meter = TWO_FOUR, **more: object) -> Groove:
    slot = meter.beat / slots
    strokes = [Stroke(i * slot, slot, source) for source, marks in ((Source.ROOT, row), (Source.CHORD, chords))
               for i, mark in enumerate(marks) if mark == "x"]
    made = Groove(name, name, meter, slots, 1, tuple(sorted(strokes, key=lambda s: s.onset)), ())
    return replace(made, **more)  # type: ignore[arg-type]


PLAIN = groove_of("plain", "x...x...", "..x...x.")
TRESILLO = groove_of("tresillo", "x..x..x.")


def test_another_meter_is_refused() -> None:
    fit = fit_groove(tune_of("c6|c6|", "3/4", "1/8"), PLAIN)
    assert not fit.fits
    assert fit.reasons == ("it is in 2/4, the tune in 3/4",)


@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "2/2", "3/2", "6/4", "3/8", "6/8", "9/8", "12/8"])
def test_the_demo_has_a_groove_in_every_meter_dances_are_written_in(course: Course, meter: str) -> None:
    """Which meters those are: common practice, no source."""
    tune = tune_of(f"c{Meter.parse(meter).bar * 16}|" * 2, meter)
    assert rank_grooves(tune, course.grooves.values())[0].fits


def test_notes_between_the_slots_are_refused() -> None:
    fit = fit_groove(tune_of("(3cde(3cde|(3cde(3cde|", unit="1/8"), PLAIN)
    assert not fit.fits
    assert fit.reasons[0].endswith("of the melody's notes fall between its slots")


def test_a_plain_groove_bears_a_melody_twice_as_quick() -> None:
    coarse = groove_of("oom-pah", "x.x.", ".x.x", slots=2)
    fit = fit_groove(tune_of("cdefgabc|cdefgabc|"), coarse)
    assert fit.fits
    assert "every note lies on its grid" in fit.reasons


def test_a_tune_called_by_a_grooves_name_or_by_a_dance_it_suits_prefers_it() -> None:
    tune = replace(tune_of("c3d3e2|g3e3c2|"), title="The Late Reel", origin="")
    plain, suited = fit_groove(tune, PLAIN), fit_groove(tune, replace(PLAIN, suits=("hornpipe", "reel")))
    named = fit_groove(tune, replace(PLAIN, name="reel"))
    assert plain.score < suited.score < named.score
    assert suited.reasons[0] == "it accompanies a reel"
    assert fit_groove(replace(tune, title="A Careel"), replace(PLAIN, suits=("reel",))).score == plain.score


def test_nothing_swings_that_is_not_said_to() -> None:
    straight = tune_of("c2d2e2f2|g4e4|")
    swung = replace(PLAIN, swing=Fraction(2, 3), suits=("fling",))
    assert fit_groove(straight, swung).score < fit_groove(straight, PLAIN).score
    assert fit_groove(replace(straight, origin="a fling"), swung).score > fit_groove(straight, PLAIN).score


def test_a_tempo_out_of_reach_is_refused() -> None:
    fit = fit_groove(tune_of("c4d4|c8|"), replace(PLAIN, tempo=(120, 160)))
    assert fit.reasons == ("it works at 120 to 160, the tune goes 60 to 100",)


def test_refused_grooves_come_last_with_their_reason() -> None:
    waltz = groove_of("a-waltz", "x.....", "..x.x.", slots=2, meter=Meter(3, 4))
    ranked = rank_grooves(tune_of("c4d4|c8|"), [waltz, PLAIN])
    assert [fit.groove.name for fit in ranked] == ["plain", "a-waltz"]
    assert [fit.fits for fit in ranked] == [True, False]


def test_a_syncopated_melody_prefers_a_syncopated_groove() -> None:
    """3-3-2 over a tresillo; even beats over bass and chord."""
    syncopated = tune_of("c3d3e2|c3d3e2|c3B3A2|c3c3c2|")
    even = tune_of("c4d4|e2d2c4|c4d4|c8|")
    assert [fit.groove.name for fit in rank_grooves(syncopated, [PLAIN, TRESILLO])] == ["tresillo", "plain"]
    assert [fit.groove.name for fit in rank_grooves(even, [PLAIN, TRESILLO])] == ["plain", "tresillo"]


def test_chord_changes_between_the_strokes_are_told() -> None:
    tune = tune_of('"C"c4d2"G"d2|"C"c4d2"G"d2|', unit="1/16")
    bare = groove_of("bare", "x.......")
    assert any("chord changes fall between" in reason for reason in fit_groove(tune, bare).reasons)
    assert "every chord change meets a stroke of the left hand" in fit_groove(tune, PLAIN).reasons


def test_an_upbeat_does_not_shift_the_grid() -> None:
    with_upbeat, without = tune_of("c2|c3d3e2|c3d3|"), tune_of("c3d3e2|c3d3e2|")
    assert fit_groove(with_upbeat, TRESILLO).score == pytest.approx(fit_groove(without, TRESILLO).score, abs=0.1)


def test_the_course_has_a_groove_for_each_of_its_tunes(course: Course) -> None:
    """Each tune's week uses a groove that is not refused."""
    for week in course.weeks:
        for spec in week.exercises:
            if spec.tune and spec.groove:
                fit = fit_groove(course.tunes[spec.tune], course.grooves[spec.groove])
                assert fit.fits, (spec.tune, spec.groove, fit.reasons)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(["c8", "c4d4", "c3d3e2", "c2d2e2f2", "cdefgabc", "c6d2"]), min_size=1, max_size=8),
       st.text(alphabet="x.", min_size=8, max_size=8))
def test_scores_lie_between_nought_and_one(bars: list[str], row: str) -> None:
    fit = fit_groove(tune_of("|".join(bars) + "|"), groove_of("g", row))
    assert 0 < fit.score <= 1
    assert fit.reasons


def test_a_refusal_names_the_meters_there_are_or_what_stands_against_its_own() -> None:
    grooves = [groove_of("a-waltz", "x.....", slots=2, meter=Meter(3, 4)), groove_of("step", "x...x...")]
    odd = tune_of("C6D6", meter="6/4", unit="1/8")
    assert explain_refusal(odd, rank_grooves(odd, grooves)) == "the tune is in 6/4, the grooves are in 2/4, 3/4"
    triplets = tune_of("(3CDE(3CDE|(3CDE(3CDE|", unit="1/8")
    assert explain_refusal(triplets, rank_grooves(triplets, grooves)).startswith("step: 67 %")
