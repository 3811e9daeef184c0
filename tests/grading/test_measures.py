"""Each measure of difficulty against published tables or plain arithmetic."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from graded_music import C_BASS, INSTRUMENT, left, make_arrangement, make_voice, melody, read, read_onsets

from bookbuild.arrange.model import Bar, BellowsSpan, Direction, Role
from bookbuild.arrange.shake import shake_notes
from bookbuild.grading.measure_hands import (
    measure_grips,
    measure_leaps,
    measure_left_fingers,
    measure_left_travel,
    measure_reading,
    measure_shake_length,
    measure_shake_rate,
    measure_turns,
    share_shaken,
    strain_grip,
)
from bookbuild.grading.measure_rhythm import (
    find_early_left,
    measure_beat_distance,
    measure_counting,
    measure_independence,
    measure_rate,
    measure_syncopation,
)
from bookbuild.grading.parts import align_bars, read_music
from bookbuild.theory.meter import Meter

BEATS = [F(k, 4) for k in range(4)]
EIGHTHS = [F(k, 8) for k in range(8)]


@pytest.mark.parametrize(
    ("pattern", "distance"),
    # Weighted note-to-beat distance: Gómez, Melvin, Rappaport & Toussaint 2005, Fig. 8.
    [("1000101000101000", F(6, 5)), ("1001001000101000", F(14, 5)), ("1001001000100100", F(4))],
)
def test_beat_distance_of_timelines(pattern, distance):
    assert measure_beat_distance(read(melody(read_onsets(pattern), 1))) == pytest.approx(float(distance))


@pytest.mark.parametrize(
    ("pattern", "weight"),
    # Longuet-Higgins & Lee 1984 by arithmetic: strengths 2 (of one note), 4 (of two), 6 (of four), one added a note.
    [("1000101000101000", 2 + 1), ("1001001000101000", 4 + 2), ("1001001000100100", 6 + 4), ("1000100010001000", 0)],
)
def test_syncopation_of_timelines_a_beat(pattern, weight):
    assert measure_syncopation(read(melody(read_onsets(pattern), 1))) == pytest.approx(weight / 4)


def test_rhythm_is_measured_in_the_hand_that_has_most():
    plain, leaning = melody(BEATS, 1), left(read_onsets("1001001000100100"), 1)
    assert measure_syncopation(read(plain, leaning)) == measure_syncopation(read(leaning)) > 0
    assert measure_beat_distance(read(plain, leaning)) == 4


def test_melody_and_fill_are_one_hand():
    fill = make_voice(Role.FILL, [F(1, 8), F(3, 8), F(5, 8), F(7, 8)], F(1))
    assert measure_syncopation(read(fill)) > 0
    assert measure_syncopation(read(melody(BEATS, 1), fill)) == 0


def test_an_upbeat_does_not_shift_the_beat():
    onsets = [F(0), F(1, 4), F(1, 2), F(3, 4), F(1)]
    music = read(melody(onsets, 1), lengths=[F(1, 4), F(1)])
    assert measure_beat_distance(music) == 0
    assert measure_syncopation(music) == 0
    eighth = read(melody([F(0), *(F(1, 8) + beat for beat in BEATS)], 1), lengths=[F(1, 8), F(1)])
    assert measure_beat_distance(eighth) == pytest.approx(2 / 5)  # one of five notes, half a beat away, weighs 2


def test_bars_on_the_grid():
    meter = Meter.parse("2/4")
    half, eighth = F(1, 2), F(1, 8)
    bars = [Bar(F(0), eighth, 0, section="A"), Bar(eighth, half, 1), Bar(eighth + half, F(3, 8), 2),
            Bar(F(1), eighth, 0, section="B"), Bar(F(9, 8), half, 3)]
    # The upbeat ends on a barline; the short bar and the next section's upbeat share one bar.
    assert align_bars(bars, meter) == (F(3, 8), half, F(1), F(11, 8), F(3, 2))


def test_rate_counts_the_busiest_quarter_of_bars():
    onsets = [*BEATS, *(1 + onset for onset in EIGHTHS), 2 + F(0), 3 + F(0)]
    # One of four bars: eight strokes in four beats at 120, two seconds.
    assert measure_rate(read(melody(onsets, 4), bars=4, goal=120)) == pytest.approx(4)


def test_strokes_of_the_bellows_are_not_strokes_of_the_finger():
    span = BellowsSpan(F(0), F(1), Direction.OPEN, F(1, 16))
    shaken = shake_notes(melody(BEATS, 1, [(72,), (74,)]), F(1, 16))
    music = read(shaken, bellows=(span,), goal=60)
    assert len(music.parts[0].events) == 16
    assert music.parts[0].strikes == tuple(BEATS)
    assert measure_rate(music) == pytest.approx(1)
    assert measure_shake_rate(music) == pytest.approx(4)  # four sixteenths a beat, one beat a second
    assert measure_shake_length(music) == 16
    assert share_shaken(music.made) == 1
    assert measure_counting(music) == 3  # the arm's sixteenths: halves 1, quarters 2


def test_shakes_that_follow_each_other_are_one_effort():
    spans = (BellowsSpan(F(0), F(1), Direction.OPEN, F(1, 16)), BellowsSpan(F(1), F(2), Direction.OPEN, F(1, 16)),
             BellowsSpan(F(2), F(3), Direction.OPEN), BellowsSpan(F(3), F(4), Direction.OPEN, F(1, 8)))
    music = read(melody([F(0), F(1), F(2), F(3)], 4), bars=4, bellows=spans)
    assert measure_shake_length(music) == 32
    assert share_shaken(music.made) == F(3, 4)


def test_independence_counts_parts_crossings_and_divisions():
    together = read(melody(BEATS, 1), left(BEATS, 1))
    divided = read(melody(EIGHTHS, 1), left(BEATS, 1))
    crossed = read(melody([F(0), F(1, 8), F(1, 2), F(3, 4)], 1), left([F(0), F(3, 16), F(1, 2), F(3, 4)], 1))
    assert measure_independence(read(melody(EIGHTHS, 1))) == 0
    assert measure_independence(together) == 1
    assert measure_independence(divided) == 1 + F(1, 4)  # four strokes over four beats, a quarter each
    assert measure_independence(crossed) == 1 + F(1, 4)  # one crossing over four beats


def test_left_hand_between_beats_under_a_held_note():
    held, moving = melody([F(0), F(1, 2)], 1), melody(EIGHTHS, 1)
    strokes = left([F(0), F(3, 16), F(1, 2), F(11, 16)], 1)
    assert find_early_left(read(held, strokes)) == (F(3, 16), F(11, 16))
    assert find_early_left(read(moving, strokes)) == ()


@pytest.mark.parametrize(
    ("keys", "strain"),
    # Relaxed and comfortable maxima of Parncutt et al. 1997: 1-5 ten and thirteen, 1-3 seven, 3-5 five semitones.
    [((60, 67), 0), ((60, 70), 0), ((60, 72), 2), ((60, 74), 4 + 1), ((60, 75), 5 + 2), ((60, 64, 67), 0)],
)
def test_grips_against_the_span_table(keys, strain):
    assert strain_grip(keys) == strain


def test_grips_count_fingers_and_stretches_of_the_hardest_quarter():
    assert measure_grips(read(melody(BEATS, 1, [(72,), (72,), (72,), (60, 72)]))) == 1 + 2
    assert measure_grips(read(melody(BEATS, 1))) == 0


def test_a_held_melody_note_widens_the_grip_of_the_fill():
    fill = make_voice(Role.FILL, [F(1, 4)], F(1), [(60,)])
    assert measure_grips(read(melody([F(0)], 1, [(72,)]), fill)) == 1 + 2


def test_leaps_are_what_four_notes_span_beyond_a_position():
    # Thumb to little finger relax on a fifth (Parncutt et al. 1997): an octave is five semitones beyond, in 4 s.
    assert measure_leaps(read(melody(BEATS, 1, [(60,), (64,), (67,), (72,)]), goal=60)) == pytest.approx(5 / 4)
    assert measure_leaps(read(melody(BEATS, 1, [(60,), (62,), (64,), (67,)]))) == 0


def test_left_hand_travel_in_millimetres_a_second():
    # From C bass to C major (two rows out) and back, three moves in four seconds: rows lie 14 mm apart and slant 4 mm.
    row = (14.0**2 + 4.0**2) ** 0.5
    assert measure_left_travel(read(left(BEATS, 1), goal=60)) == pytest.approx(3 * row / 4)
    still = read(left(BEATS, 1, [C_BASS]), goal=60)
    assert measure_left_travel(still) == measure_left_fingers(still, INSTRUMENT) == 0


def test_turns_at_phrase_ends_weigh_a_quarter():
    spans = tuple(BellowsSpan(F(k), F(k + 1), d) for k, d in enumerate([Direction.OPEN, Direction.CLOSE] * 2))
    music = read(melody([F(0), F(1), F(2), F(3)], 4), bars=4, bellows=spans, goal=60)
    bars = tuple(Bar(F(k), F(1), k + 1, phrase_end=k == 1) for k in range(4))
    # Three turns in sixteen seconds.
    assert measure_turns(music) == pytest.approx(60 * 3 / 16)
    made = music.made
    phrased = read_music(replace(made, bars=bars))
    assert measure_turns(phrased) == pytest.approx(60 * 2.25 / 16)


def test_counting_tells_divisions_apart():
    assert measure_counting(read(melody(BEATS, 1))) == 0
    assert measure_counting(read(melody(EIGHTHS, 1))) == 1
    assert measure_counting(read(melody([F(0), F(1, 12), F(1, 6)], 1))) == 2
    assert measure_counting(read(melody([F(0), F(1, 8), F(2, 8)], 1, meter="6/8"), meter="6/8")) == 1


def test_reading_counts_signs_once():
    plain = read(melody(BEATS, 1, [(72,), (74,)]))
    sharp = read(melody(BEATS, 1, [(72,), (73,)]))
    keyed = read(melody(BEATS, 1, [(72,), (74,)]), key="Eb major")
    assert measure_reading(plain) == 1
    assert measure_reading(sharp) == 1.5  # C sharp lies outside C major
    assert measure_reading(keyed) == 1 + 3 / 2  # three flats; C and D belong to E flat major
    clap = make_arrangement([make_voice(Role.CLAP, BEATS, F(1))], 1, key="Eb major")
    assert measure_reading(read_music(clap)) == 1


@pytest.mark.parametrize("voices", [(), (make_voice(Role.MELODY, [], F(1)),)])
def test_silence_is_measured_as_nothing(voices):
    music = read(*voices)
    assert measure_rate(music) == measure_syncopation(music) == measure_independence(music) == measure_grips(music) == 0
