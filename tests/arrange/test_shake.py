"""Bellows shake: alternating strokes, directions handed over, doubled notes, counting of strokes."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_arrangements import C3, C5, C_BASS, CLOSE, E4, G4, OPEN, make_voice

from bookbuild.arrange.model import BellowsSpan, Event, Role, Voice
from bookbuild.arrange.shake import (
    MAX_COMFORTABLE_RATE,
    accent_strokes,
    choose_stroke,
    comfortable_goal,
    count_strokes,
    find_off_stroke,
    hand_over,
    merge_plan,
    note_stroke_parity,
    plan_shakes,
    repeat_strokes,
    shake_drift,
    shake_notes,
    shake_rate,
    shake_span,
    split_strokes,
)
from bookbuild.lessons.model import Air
from bookbuild.theory.meter import Meter

SIXTEENTH = F(1, 16)


def test_a_bar_of_two_four_is_eight_strokes_opening_first() -> None:
    strokes = split_strokes(shake_span(F(0), F(1, 2), SIXTEENTH))
    assert [stroke.direction for stroke in strokes] == [OPEN, CLOSE] * 4
    assert [stroke.onset for stroke in strokes] == [F(n, 16) for n in range(8)]
    assert strokes[-1].end == F(1, 2)


@pytest.mark.parametrize(("end", "stroke"), [(F(1, 2), F(3, 16)), (F(0), F(1, 16)), (F(1, 32), F(1, 16))])
def test_strokes_must_fill_a_shake(end: F, stroke: F) -> None:
    with pytest.raises(ValueError, match="do not fill"):
        shake_span(F(0), end, stroke)


@pytest.mark.parametrize(("strokes", "first", "after"), [
    (8, OPEN, OPEN), (7, OPEN, CLOSE), (8, CLOSE, CLOSE), (1, CLOSE, OPEN), (9, OPEN, CLOSE),
])
def test_direction_is_handed_over_by_the_number_of_strokes(strokes: int, first: object, after: object) -> None:
    assert hand_over(shake_span(F(0), SIXTEENTH * strokes, SIXTEENTH, first)) is after


def test_a_plain_span_hands_over_the_other_direction() -> None:
    assert hand_over(BellowsSpan(F(0), F(1), OPEN)) is CLOSE
    assert split_strokes(BellowsSpan(F(0), F(1), OPEN)) == (BellowsSpan(F(0), F(1), OPEN),)


@given(st.integers(1, 60), st.sampled_from([F(1, 16), F(1, 8), F(1, 24)]), st.sampled_from([OPEN, CLOSE]))
def test_the_stroke_after_a_shake_alternates(strokes: int, stroke: F, first: object) -> None:
    span = shake_span(F(0), stroke * strokes, stroke, first)
    pieces = split_strokes(span)
    assert len(pieces) == count_strokes(span) == strokes
    assert hand_over(span) is pieces[-1].direction.other


def test_shakes_in_a_row_go_on_alternating_and_later_ones_open() -> None:
    first, second, third = plan_shakes([(F(0), F(7, 16)), (F(7, 16), F(1)), (F(2), F(3))], SIXTEENTH)
    assert (first.direction, second.direction, third.direction) == (OPEN, CLOSE, OPEN)


def test_merged_plan_is_gapless_and_shakes_win() -> None:
    shakes = plan_shakes([(F(1), F(2))], SIXTEENTH)
    rest = (BellowsSpan(F(0), F(3, 2), OPEN), BellowsSpan(F(3, 2), F(3), CLOSE, air=True))
    assert merge_plan(shakes, rest) == (
        BellowsSpan(F(0), F(1), OPEN), shakes[0], BellowsSpan(F(2), F(3), CLOSE, air=True))


def test_merging_twice_changes_nothing() -> None:
    shakes = plan_shakes([(F(0), F(1))], SIXTEENTH)
    once = merge_plan(shakes, (BellowsSpan(F(1), F(2), OPEN), BellowsSpan(F(2), F(3), CLOSE)))
    assert merge_plan(shakes, once) == once
    marked = BellowsSpan(F(0), F(1), OPEN, SIXTEENTH, air=True)
    assert merge_plan(shakes, (marked, *once[1:]))[0] == marked


@pytest.mark.parametrize(("shakes", "rest", "what"), [
    ([(F(0), F(1))], (BellowsSpan(F(2), F(3), OPEN),), "leave a gap"),
    ([(F(0), F(1)), (F(1, 2), F(2))], (), "overlap"),
    ([(F(1), F(2))], (), "leave a gap"),
])
def test_holes_in_a_plan_are_refused(shakes: list, rest: tuple, what: str) -> None:
    with pytest.raises(ValueError, match=what):
        merge_plan([shake_span(onset, end, SIXTEENTH) for onset, end in shakes], rest)


def test_each_written_eighth_becomes_two_sixteenths() -> None:
    # Common practice, no source (FACTS §3, bellows shake).
    eighth = Event(F(1, 4), F(1, 8), (E4, G4), (1, 2), letter="M", accent=True, sounds=(64, 67), buttons=(C_BASS,))
    first, second = repeat_strokes(eighth, SIXTEENTH)
    assert (first.onset, first.length, first.pitches) == (F(1, 4), SIXTEENTH, (E4, G4))
    assert (first.fingers, first.letter, first.accent) == ((1, 2), "M", True)
    assert (second.onset, second.length, second.pitches) == (F(5, 16), SIXTEENTH, (E4, G4))
    assert (second.fingers, second.letter, second.accent) == ((), "", False)
    assert second.sounds == (64, 67)
    assert second.buttons == (C_BASS,)


@pytest.mark.parametrize("event", [Event(F(0), F(1, 4)), Event(F(0), F(1, 12), (C5,)), Event(F(0), F(1, 32), (C5,))])
def test_rests_triplets_and_short_notes_stay_as_written(event: Event) -> None:
    assert repeat_strokes(event, SIXTEENTH) == (event,)


LENGTHS = st.lists(st.sampled_from([F(1, 32), F(1, 16), F(1, 12), F(1, 8), F(3, 16), F(1, 4), F(-1, 8), F(-1, 16)]),
                   min_size=1, max_size=20)


@given(LENGTHS)
def test_doubling_keeps_every_moment_and_pitch(lengths: list[F]) -> None:
    end = sum((abs(length) for length in lengths), F(0))
    voice = make_voice(Role.MELODY, end, *lengths)
    shaken = shake_notes(voice, SIXTEENTH)
    now = F(0)
    for event in shaken.events:
        assert event.onset == now
        now = event.end
    assert now == end
    for event in voice.events:
        inside = [piece for piece in shaken.events if event.onset <= piece.onset < event.end]
        assert {piece.pitches for piece in inside} == {event.pitches}
        strokes = event.length / SIXTEENTH
        assert len(inside) == (strokes if event.pitches and strokes.denominator == 1 else 1)


def test_only_notes_inside_a_shaken_stretch_are_doubled() -> None:
    voice = make_voice(Role.MELODY, F(1), F(1, 4))
    within = (BellowsSpan(F(0), F(1, 4), OPEN), shake_span(F(1, 4), F(3, 4), SIXTEENTH))
    lengths = [event.length for event in shake_notes(voice, SIXTEENTH, within).events]
    assert lengths == [F(1, 4), *[SIXTEENTH] * 8, F(1, 4)]


def test_the_left_hand_keeps_its_groove_inside_the_stream() -> None:
    # Common practice, no source: bass held three strokes, chord on the fourth (FACTS §3).
    bass = make_voice(Role.LEFT, F(1, 2), F(3, 16), F(1, 16), F(1, 8), F(1, 8), pitch=C3)
    melody = make_voice(Role.MELODY, F(1, 2), F(1, 8))
    assert [event.length for event in shake_notes(melody, SIXTEENTH).events] == [SIXTEENTH] * 8
    assert find_off_stroke(bass, shake_span(F(0), F(1, 2), SIXTEENTH)) == ()


def test_notes_off_the_strokes_are_found() -> None:
    span = shake_span(F(1, 4), F(3, 4), SIXTEENTH)
    triplets = make_voice(Role.MELODY, F(1), F(1, 12))
    assert [event.onset for event in find_off_stroke(triplets, span)] == [F(1, 3), F(5, 12), F(7, 12), F(2, 3)]
    assert find_off_stroke(triplets, BellowsSpan(F(0), F(1), OPEN)) == ()


def test_strokes_are_stressed_where_the_groove_is() -> None:
    voice = shake_notes(make_voice(Role.MELODY, F(1), F(1, 8)), SIXTEENTH)
    stressed = accent_strokes(voice, [F(0), F(3, 16)], F(1, 2))
    assert [event.onset for event in stressed.events if event.accent] == [F(0), F(3, 16), F(1, 2), F(11, 16)]
    silent = Voice(Role.MELODY, (Event(F(0), F(1, 16)),))
    assert accent_strokes(silent, [F(0)], F(1, 2)) == silent


def test_stroke_lengths_by_meter() -> None:
    assert choose_stroke(Meter(2, 4)) == F(1, 16)
    assert choose_stroke(Meter(6, 8)) == F(1, 16)
    assert choose_stroke(Meter(2, 2)) == F(1, 8)


def test_three_strokes_to_a_beat_flip_every_beat_and_are_told() -> None:
    strokes = split_strokes(shake_span(F(0), F(3, 4), F(1, 8)))
    beats = [stroke.direction for stroke in strokes if stroke.onset % F(3, 8) == 0]
    assert beats == [OPEN, CLOSE]
    assert note_stroke_parity(F(3, 8), F(1, 8)).startswith("Three strokes to a beat")
    assert note_stroke_parity(F(3, 8), F(1, 16)) == ""
    assert note_stroke_parity(F(1, 4), F(1, 16)) == ""
    assert "seven" not in note_stroke_parity(F(7, 16), F(1, 16))
    assert note_stroke_parity(F(7, 16), F(1, 16)).startswith("7 strokes to a beat")
    assert "across the beat" in note_stroke_parity(F(3, 8), F(1, 4))


def test_six_eight_in_sixteenths_hands_over_open_after_every_bar() -> None:
    assert hand_over(shake_span(F(0), F(3, 4), F(1, 16))) is OPEN
    # Three to a beat: even after a bar of two beats, odd after a bar of three.
    assert hand_over(shake_span(F(0), F(3, 4), F(1, 8))) is OPEN
    assert hand_over(shake_span(F(0), F(9, 8), F(1, 8))) is CLOSE


def test_rate() -> None:
    # 60/4 quarters a second times four strokes: arithmetic.
    assert shake_rate(F(1, 16), F(1, 4), 60) == 4
    assert shake_rate(F(1, 16), F(1, 4), 120) == MAX_COMFORTABLE_RATE
    assert shake_rate(F(1, 16), F(3, 8), 60) == 6


@given(st.sampled_from([F(1, 16), F(1, 8), F(1, 24)]), st.sampled_from([F(1, 4), F(3, 8), F(1, 2)]))
def test_comfortable_goal_is_the_fastest_comfortable_tempo(stroke: F, beat: F) -> None:
    goal = comfortable_goal(stroke, beat)
    assert shake_rate(stroke, beat, goal) <= MAX_COMFORTABLE_RATE < shake_rate(stroke, beat, goal + 1)


def test_drift_grows_with_passes_and_stops_at_full() -> None:
    air = Air(full=14.0, shake=0.05)
    assert shake_drift(F(20), air) == 1
    assert shake_drift(F(20), air, passes=2) == 2
    assert shake_drift(F(1000), air) == 14
