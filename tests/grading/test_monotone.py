"""Faster, wider, more syncopated, more independent is never easier; one hand is never harder than both."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import accumulate

import pytest
from graded_music import C_BASS, C_CHORD, G_BASS, INSTRUMENT, grade, grade_arrangement, left, make_voice, melody, read
from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.arrange.exercises import arrange_exercise
from bookbuild.arrange.model import BellowsSpan, Direction, Role
from bookbuild.grading.measure_hands import measure_grips, measure_leaps, strain_grip
from bookbuild.grading.measure_rhythm import measure_beat_distance, measure_syncopation
from bookbuild.grading.weights import MEASURES, choose_weights, weigh
from bookbuild.lessons.model import ExerciseSpec

BARS = 2
SLOTS = 16 * BARS
EPSILON = 1e-9
QUICK = settings(max_examples=40, deadline=None)

onset_sets = st.sets(st.integers(0, SLOTS - 1), min_size=1, max_size=20).map(
    lambda slots: [F(slot, 16) for slot in sorted(slots)])
key_lists = st.lists(st.sets(st.integers(55, 84), min_size=1, max_size=4).map(lambda keys: tuple(sorted(keys))),
                     min_size=1, max_size=8)
button_lists = st.lists(st.sampled_from([C_BASS, C_CHORD, G_BASS, ("major", 1), ("bass", -2), ("counterbass", 0),
                                         ("seventh", 3)]), min_size=1, max_size=6)
shake = st.sampled_from([None, F(1, 16), F(1, 8)])


def spans(stroke):
    return (BellowsSpan(F(0), F(1), Direction.OPEN), BellowsSpan(F(1), F(BARS), Direction.CLOSE, stroke))


@given(onset_sets, onset_sets, key_lists, button_lists, shake, st.integers(40, 200), st.integers(1, 60))
@QUICK
def test_faster_is_never_easier(right, beats, keys, buttons, stroke, goal, more):
    voices = melody(right, BARS, keys), left(beats, BARS, buttons)
    slow = grade(*voices, bars=BARS, bellows=spans(stroke), goal=goal)
    fast = grade(*voices, bars=BARS, bellows=spans(stroke), goal=goal + more)
    assert all(fast.points[key] >= slow.points[key] - EPSILON for key in MEASURES)
    assert fast.total > slow.total
    assert fast.level >= slow.level


def expand(keys, gaps):
    """Keys moved apart: between any two the interval keeps its direction and is at least as wide."""
    moved = list(accumulate(gaps, initial=0))
    return [tuple(key + moved[key - 48] for key in grip) for grip in keys]


grips = st.lists(st.sets(st.integers(48, 66), min_size=1, max_size=4).map(lambda keys: tuple(sorted(keys))),
                 min_size=1, max_size=8)
gaps = st.lists(st.integers(0, 2), min_size=18, max_size=18)


@given(onset_sets, grips, gaps)
@QUICK
def test_wider_is_never_easier(right, keys, moved):
    narrow = read(melody(right, BARS, keys), bars=BARS)
    wide = read(melody(right, BARS, expand(keys, moved)), bars=BARS)
    assert measure_grips(wide) >= measure_grips(narrow)
    assert measure_leaps(wide) >= measure_leaps(narrow) - EPSILON


@given(onset_sets, grips, st.lists(st.sampled_from([0, 0, 0, 12]), min_size=18, max_size=18), button_lists)
@QUICK
def test_the_same_tones_octaves_apart_are_never_easier(right, keys, moved, buttons):
    """The whole grade: octaves leave accidentals and rhythm as they are."""
    moved = [gap if sum(moved[:index]) < 24 else 0 for index, gap in enumerate(moved)]
    hand = left([F(0), F(1, 2)], BARS, buttons)
    narrow = grade(melody(right, BARS, keys), hand, bars=BARS)
    wide = grade(melody(right, BARS, expand(keys, moved)), hand, bars=BARS)
    assert wide.total >= narrow.total - EPSILON


@given(st.lists(st.integers(48, 84), min_size=2, max_size=5, unique=True), st.integers(1, 6))
@QUICK
def test_a_grip_stretched_at_its_top_never_strains_less(keys, more):
    rising = sorted(keys)
    assert strain_grip((*rising[:-1], rising[-1] + more)) >= strain_grip(tuple(rising))


def anticipate(early, early_by):
    return [F(beat, 4) - (early_by if beat in early else 0) for beat in range(4 * BARS)]


anticipated = st.sets(st.integers(1, 4 * BARS - 1))


@given(anticipated, anticipated, st.sampled_from([F(1, 16), F(1, 8)]))
@QUICK
def test_more_notes_ahead_of_the_beat_are_never_easier(some, more, early_by):
    plain, leaning = (grade(melody(anticipate(early, early_by), BARS), left([F(0), F(1, 2), F(1), F(3, 2)], BARS),
                            bars=BARS) for early in (some, some | more))
    assert leaning.points["syncopation"] >= plain.points["syncopation"]
    assert leaning.points["off-beat"] >= plain.points["off-beat"] - EPSILON
    assert leaning.total >= plain.total - EPSILON


@given(onset_sets, onset_sets)
@QUICK
def test_more_syncopated_by_both_measures_is_never_easier(first, second):
    """Any two rhythms, of which one is ahead in Longuet-Higgins & Lee and in weighted note-to-beat distance."""
    musics = [read(melody(onsets, BARS), bars=BARS) for onsets in (first, second)]
    amounts = [(measure_syncopation(music), measure_beat_distance(music)) for music in musics]
    less, more = sorted(zip(amounts, (first, second), strict=True))
    if less[0][1] <= more[0][1]:
        easy, hard = (grade(melody(onsets, BARS), bars=BARS).points for onsets in (less[1], more[1]))
        assert all(hard[key] >= easy[key] - EPSILON for key in ("syncopation", "off-beat"))


@given(onset_sets, onset_sets, button_lists)
@QUICK
def test_hands_that_part_are_never_easier_than_hands_that_agree(right, other, buttons):
    keys = [(72,)]
    buttons = buttons[:1]
    agreeing = grade(melody(right, BARS, keys), left(right, BARS, buttons), bars=BARS)
    parting = grade(melody(right, BARS, keys), left(other, BARS, buttons), bars=BARS)
    assert parting.points["independence"] >= agreeing.points["independence"] - EPSILON
    assert parting.total >= agreeing.total - EPSILON


@given(onset_sets, st.data())
@QUICK
def test_each_stroke_pulled_apart_makes_the_hands_more_independent(right, data):
    """One left-hand stroke moves from a melody note to a place where the melody has none."""
    free = [F(slot, 16) for slot in range(SLOTS) if F(slot, 16) not in right]
    moved = data.draw(st.sampled_from(right))
    onsets = sorted({*right} - {moved} | {data.draw(st.sampled_from(free))})
    together = grade(melody(right, BARS), left(right, BARS, [C_BASS]), bars=BARS)
    apart = grade(melody(right, BARS), left(onsets, BARS, [C_BASS]), bars=BARS)
    assert apart.points["independence"] > together.points["independence"]


@given(onset_sets, onset_sets, onset_sets, key_lists, button_lists, shake)
@QUICK
def test_a_hand_alone_is_never_harder_than_together(right, beats, strikes, keys, buttons, stroke):
    hand, tune = left(beats, BARS, buttons), melody(right, BARS, keys)
    fill = make_voice(Role.FILL, strikes, F(BARS), [(60, 64)])
    alone = grade(hand, bars=BARS, bellows=spans(stroke))
    together = grade(tune, hand, bars=BARS, bellows=spans(stroke))
    filled = grade(tune, fill, hand, bars=BARS, bellows=spans(stroke))
    assert all(together.points[key] >= alone.points[key] - EPSILON for key in MEASURES)
    assert together.total > alone.total
    assert filled.points["independence"] > together.points["independence"]


def test_the_left_hand_of_every_tune_is_easier_alone(course, edition, setting):
    """Every tune of the demo course over every groove that fits, as the arranger makes it: bellows differ too."""
    pairs = [(tune, groove) for tune in course.tunes.values() for groove in course.grooves.values()
             if tune.meter == groove.meter]
    assert len(pairs) > 30
    for tune, groove in pairs:
        alone, together = (
            grade_arrangement(arrange_exercise(ExerciseSpec(kind, tune.name, groove.name), tune, groove, setting),
                              setting.instrument)
            for kind in ("left-hand", "together"))
        assert alone.total < together.total, (tune.name, groove.name)
        assert alone.level <= together.level


def test_weights_turn_measures_up_and_off():
    voices = melody([F(k, 16) for k in range(32)], BARS), left([F(0), F(1)], BARS)
    made = read(*voices, bars=BARS).made
    plain = grade_arrangement(made, INSTRUMENT)
    without = grade_arrangement(made, INSTRUMENT, {"speed": 0.0})
    doubled = grade_arrangement(made, INSTRUMENT, {"speed": 2 * MEASURES["speed"].points})
    assert without.points["speed"] == 0
    assert without.total == pytest.approx(plain.total - plain.points["speed"])
    assert doubled.total == pytest.approx(plain.total + plain.points["speed"])
    assert "why.speed" not in without.reasons


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.floats(0.1, 100))
def test_a_measure_adds_half_its_points_at_half_and_never_less_for_more(small, large, half):
    less, more = sorted((small, large))
    assert weigh(less, half) <= weigh(more, half) < 1 + EPSILON
    assert weigh(half, half) == pytest.approx(1 / 2)
    assert weigh(0, half) == 0


def test_length_and_levels_stay_in_bounds(exercises):
    chosen = choose_weights({})
    for exercise in exercises:
        found = grade_arrangement(exercise.arrangement, INSTRUMENT)
        assert 1 <= found.level <= 10
        assert all(0 <= points <= chosen[key] for key, points in found.points.items())
    made = exercises[0].arrangement
    assert grade_arrangement(replace(made, ladder=()), INSTRUMENT).total > 0
