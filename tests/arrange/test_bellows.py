"""Bellows plan: turns, air, repeats, shakes."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction as F

import pytest
from small_arrangements import CLOSE, OPEN, TEMPO, TWO_FOUR, bare_arrangement, make_bars, make_voice

from bookbuild.arrange.air import measure_sound, play_seconds
from bookbuild.arrange.bellows import plan_bellows, set_task
from bookbuild.arrange.bellows_turns import list_turns, read_ground, split_passages
from bookbuild.arrange.check_bellows import check_bellows, play_stretches
from bookbuild.arrange.model import Bar, BellowsSpan, Event, Role, Voice
from bookbuild.arrange.shake import plan_shakes, shake_span
from bookbuild.lessons.model import Air, Tempo

AIR = Air()


def lengths(spans: tuple[BellowsSpan, ...], unit: F = TWO_FOUR.bar) -> list[F]:
    return [(span.end - span.onset) / unit for span in spans]


def eighths(bars: tuple[Bar, ...]) -> tuple[Voice, ...]:
    """Two voices that are free on every eighth."""
    end = bars[-1].end
    return make_voice(Role.MELODY, end, F(1, 8)), make_voice(Role.LEFT, end, F(1, 8))


def test_sixteen_bars_breathe_in_fours() -> None:
    bars = make_bars(16)
    spans, notices = plan_bellows(bars, eighths(bars), TEMPO, AIR)
    assert lengths(spans) == [4, 4, 4, 4]
    assert [span.direction for span in spans] == [OPEN, CLOSE, OPEN, CLOSE]
    assert notices == ()


def test_each_passage_has_its_own_regular_span() -> None:
    ends = {bar: bar in (2, 6, 10, 16) for bar in range(17)}
    bars = make_bars(16, opens_repeat={3: True}, closes_repeat={10: True}, phrase_end=ends)
    assert lengths(plan_bellows(bars, eighths(bars), TEMPO, AIR)[0]) == [1, 1, 4, 4, 3, 3]


def test_two_bar_phrases_are_played_in_twos() -> None:
    bars = make_bars(8, phrase=2)
    assert lengths(plan_bellows(bars, eighths(bars), TEMPO, AIR)[0]) == [2, 2, 2, 2]


def test_slow_music_turns_more_often() -> None:
    bars = make_bars(16)
    # 4 bars of 2/4 at 30 are 16 s, with two voices 20 s of air; the bellows hold 14 and pressure saves a fifth.
    spans, _ = plan_bellows(bars, eighths(bars), TEMPO, AIR, bpm=30)
    assert lengths(spans) == [2] * 8


def test_more_voices_take_more_air() -> None:
    bars = make_bars(16)
    four = tuple(make_voice(role, bars[-1].end, F(1, 8)) for role in (Role.MELODY, Role.FILL, Role.BASS, Role.CHORD))
    assert lengths(plan_bellows(bars, four, TEMPO, Air(voice=0.25))[0]) == [4] * 4
    assert lengths(plan_bellows(bars, four, TEMPO, Air(voice=0.5))[0]) == [2] * 8


def test_air_of_known_notes() -> None:
    # Arithmetic: two bars of 2/4 at 60 are 4 s; one voice takes 4, three voices 4 * (1 + 2 * 0.25) = 6, silence none.
    bars = make_bars(6)
    melody = make_voice(Role.MELODY, F(3), F(2), F(-1))
    lower = tuple(make_voice(role, F(3), F(-1), F(1), F(-1)) for role in (Role.BASS, Role.CHORD))
    sound = measure_sound((melody, *lower), bars, AIR, play_seconds(TEMPO))
    used = [F(sound.air_until(sound.tick(F(n)))) / sound.full * 14 for n in range(4)]
    assert used == [0, 4, 10, 10]
    assert sound.list_silences(1) == [(sound.tick(F(2)), sound.tick(F(3)))]
    with pytest.raises(ValueError, match="grid"):
        sound.tick(F(1, 17))


def test_claps_and_silence_need_no_plan() -> None:
    bars = make_bars(4)
    assert plan_bellows(bars, (make_voice(Role.CLAP, F(2), F(1, 4)),), TEMPO, AIR) == ((), ())
    assert plan_bellows(bars, (make_voice(Role.MELODY, F(2), F(-1)),), TEMPO, AIR) == ((), ())
    assert plan_bellows((), (), TEMPO, AIR) == ((), ())


def test_an_upbeat_belongs_to_the_first_span_and_later_turns_come_before_upbeats() -> None:
    bars = make_bars(8, upbeat=F(1, 8))
    bars = (*bars[:-1], replace(bars[-1], length=F(3, 8)))
    spans, _ = plan_bellows(bars, eighths(bars), TEMPO, AIR)
    assert [span.end for span in spans] == [F(2), F(4)]


def test_a_pick_up_to_the_next_phrase_is_played_in_its_direction() -> None:
    """Common practice, no source: the bellows turn at the breath, not at the barline after it."""
    bars = make_bars(8)
    bars = (*bars[:3], replace(bars[3], phrase_end=True, pickup=F(1, 8)), *bars[4:])
    spans, _ = plan_bellows(bars, eighths(bars), TEMPO, AIR)
    assert [span.end for span in spans] == [F(15, 8), F(4)]


def test_inside_a_phrase_an_upbeat_draws_the_turn_only_where_the_melody_lingers() -> None:
    """A run in even eighths is turned at the barline; a quarter and an eighth before it are turned between."""
    bars = make_bars(4, upbeat=F(1, 8), phrase=4)
    bars = (*bars[:-1], replace(bars[-1], length=F(3, 8)))
    slow = Tempo(25, 60, F(1, 4))
    running, _ = plan_bellows(bars, eighths(bars), slow, AIR)
    lingering, _ = plan_bellows(bars, (make_voice(Role.MELODY, bars[-1].end, F(1, 8), F(3, 8)),), slow, AIR)
    assert running[0].end == F(9, 8)
    assert lingering[0].end == F(1)


def test_a_short_last_bar_is_not_cut_for_the_upbeat_that_follows() -> None:
    bars = make_bars(8, upbeat=F(1, 8))
    ended = (*bars[:4], replace(bars[4], length=F(3, 8)))
    shifted = [replace(bar, onset=bar.onset - F(1, 8)) for bar in bars[5:]]
    second = (Bar(F(2), F(1, 8), 0), *(replace(bar, onset=bar.onset + F(1, 8)) for bar in shifted))
    spans, _ = plan_bellows((*ended, *second), eighths((*ended, *second)), TEMPO, AIR)
    assert spans[0].end == F(2)


def test_turns_wait_for_a_held_note() -> None:
    bars = make_bars(8)
    tied = make_voice(Role.MELODY, F(4), F(1, 8), F(7, 4), F(3, 8), F(1, 4), F(3, 2))
    spans, _ = plan_bellows(bars, (tied, make_voice(Role.LEFT, F(4), F(1, 8))), TEMPO, AIR)
    # The fourth barline is free only after the tie: the nearest moment within a beat before it serves.
    assert not any(event.onset < span.end < event.end for span in spans for event in tied.events)


def test_a_stroke_held_over_the_barline_takes_the_turn_with_it() -> None:
    bars = make_bars(8)
    spans, _ = plan_bellows(bars, (make_voice(Role.LEFT, F(4), F(31, 16), F(33, 16)),), TEMPO, AIR)
    assert [span.end for span in spans] == [F(31, 16), F(4)]


def test_accents_attract_the_turn() -> None:
    bars = make_bars(4, phrase=9)
    voices = eighths(bars)
    sound = measure_sound(voices, bars, AIR, play_seconds(TEMPO), [F(1, 8)])
    plain = {turn.at: turn.cost for turn in list_turns(read_ground(bars, voices, sound, F(1, 4)), F(0), F(2))}
    stressed = Voice(Role.MELODY, tuple(replace(e, accent=e.onset == F(3, 2)) for e in voices[0].events))
    voices = (stressed, voices[1])
    sound = measure_sound(voices, bars, AIR, play_seconds(TEMPO), [F(1, 8)])
    accented = {turn.at: turn.cost for turn in list_turns(read_ground(bars, voices, sound, F(1, 4)), F(0), F(2))}
    assert accented.pop(F(3, 2)) == plain.pop(F(3, 2)) - 1
    assert accented == plain


def test_a_rest_of_all_voices_is_a_better_turn_than_a_barline() -> None:
    bars = make_bars(4, phrase=9)
    voices = tuple(make_voice(role, F(2), F(7, 8), F(-1, 8), F(1)) for role in (Role.MELODY, Role.LEFT))
    sound = measure_sound(voices, bars, AIR, play_seconds(TEMPO), [F(1, 8)])
    turns = {turn.at: turn for turn in list_turns(read_ground(bars, voices, sound, F(1, 4)), F(0), F(2))}
    assert turns[F(7, 8)].silent
    assert turns[F(7, 8)].cost < turns[F(1)].cost


def test_repeats_begin_alike_both_times() -> None:
    bars = make_bars(24, opens_repeat={1: True, 9: True}, closes_repeat={8: True, 20: True})
    voices = eighths(bars)
    spans, notices = plan_bellows(bars, voices, TEMPO, AIR)
    starts = {span.onset: span.direction for span in spans}
    assert [starts[F(n)] for n in (0, 4, 10)] == [OPEN] * 3
    assert notices == ()
    for signs in ((F(0), F(4)), (F(4), F(10))):
        assert len([span for span in spans if signs[0] <= span.onset < signs[1]]) % 2 == 0
    assert list(check_bellows(bare_arrangement(bars, voices, spans), AIR)) == []


def test_endings_go_on_from_the_body_on_each_pass() -> None:
    bars = make_bars(9, opens_repeat={1: True}, closes_repeat={8: True}, ending={8: "1.", 9: "2."})
    voices = eighths(bars)
    spans, notices = plan_bellows(bars, voices, TEMPO, AIR)
    assert notices == ()
    # Four bars open, four close; the second ending goes on closing, as it is played after bar 7.
    assert [(span.onset, span.end, span.direction) for span in spans] == [
        (F(0), F(2), OPEN), (F(2), F(4), CLOSE), (F(4), F(9, 2), CLOSE)]
    played = play_stretches(bars, spans)
    assert [piece.span.direction for piece in played] == [OPEN, CLOSE, OPEN, CLOSE, CLOSE]
    assert list(check_bellows(bare_arrangement(bars, voices, spans), AIR)) == []


def test_passages_are_cut_at_signs() -> None:
    bars = make_bars(12, opens_repeat={3: True}, closes_repeat={6: True, 9: True}, ending={9: "1.", 10: "2."})
    cut = [(p.start, p.end, p.endings, p.passes) for p in split_passages(bars)]
    assert cut == [(F(0), F(1), (), 1), (F(1), F(3), (), 2), (F(3), F(4), ((F(4), F(9, 2)), (F(9, 2), F(5))), 2),
                   (F(5), F(6), (), 1)]


def test_a_note_too_long_for_the_bellows_is_told() -> None:
    bars = make_bars(8)
    spans, notices = plan_bellows(bars, (make_voice(Role.MELODY, F(4), F(4)),), replace(TEMPO, start=20), AIR)
    assert [(span.direction, span.air) for span in spans] == [(OPEN, True)]
    assert notices[0].startswith("Bar 1: at 20 beats a minute")
    assert "48 seconds of air" in notices[0]
    assert notices[1].startswith("Bar 8: the air does not come out even")


def test_air_is_taken_in_a_rest_where_there_is_one() -> None:
    bars = make_bars(6, phrase=9)
    # One note of three bars, a bar of rest, then two short bars: closing cannot give back what opening took.
    melody = Voice(Role.MELODY, (Event(F(0), F(2), (make_voice(Role.MELODY, F(1), F(1)).events[0].pitches)),
                                 Event(F(2), F(1, 2)), *(replace(e, onset=e.onset + F(5, 2)) for e in
                                                         make_voice(Role.MELODY, F(1, 2), F(1, 2)).events)))
    spans, notices = plan_bellows(bars, (melody,), TEMPO, AIR)
    assert any(span.air for span in spans)
    assert any("in the rest" in notice for notice in notices)
    assert list(check_bellows(bare_arrangement(bars, (melody,), spans, notices=notices), AIR)) == []


def test_the_plan_goes_on_from_a_shake() -> None:
    bars = make_bars(12)
    shakes = plan_shakes([(F(2), F(4))], F(1, 16))
    spans, notices = plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=shakes)
    assert lengths(spans) == [2, 2, 4, 2, 2]
    assert spans[2] == shakes[0]
    assert [span.direction for span in spans] == [OPEN, CLOSE, OPEN, OPEN, CLOSE]
    assert notices == ()


def test_an_odd_shake_hands_over_closing_and_is_told() -> None:
    bars = make_bars(9)
    shake = shake_span(F(0), F(1, 2), F(1, 14))
    spans, notices = plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=(shake,))
    assert spans[0] == shake
    assert spans[1].direction is CLOSE
    assert notices[0] == "Bar 1: begin with the bellows half open."
    assert "odd number of strokes" in notices[1]
    assert list(check_bellows(bare_arrangement(bars, eighths(bars), spans), AIR)) == []


def test_a_shake_over_a_whole_repeat_drifts_twice() -> None:
    bars = make_bars(8, opens_repeat={1: True}, closes_repeat={4: True})
    voices, shake = eighths(bars), shake_span(F(0), F(2), F(1, 16))
    once = set_task(make_bars(8), voices, TEMPO, AIR, (shake,)).parts[0]
    twice = set_task(bars, voices, TEMPO, AIR, (shake,)).parts[0]
    assert once.start[0] == twice.start[0] == 0
    assert twice.start[1] == 2 * once.start[1] > 0


def test_a_repeat_after_a_shake_begins_from_home() -> None:
    bars = make_bars(12, opens_repeat={5: True}, closes_repeat={12: True})
    task = set_task(bars, eighths(bars), TEMPO, AIR, (shake_span(F(0), F(2), F(1, 16)),))
    assert task.parts[0].start == (0, 0)


def test_an_odd_shake_at_a_repeat_sign_ends_with_the_air_button() -> None:
    bars = make_bars(13, opens_repeat={2: True}, closes_repeat={9: True})
    shake = shake_span(F(0), F(1, 2), F(1, 14))
    spans, notices = plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=(shake,))
    assert spans[0] == replace(shake, air=True)
    assert spans[1].direction is OPEN
    assert [notice[:6] for notice in notices] == ["Bar 1:"]
    assert list(check_bellows(bare_arrangement(bars, eighths(bars), spans), AIR)) == []


def test_endings_may_be_shaken() -> None:
    bars = make_bars(9, opens_repeat={1: True}, closes_repeat={8: True}, ending={8: "1.", 9: "2."})
    shakes = (shake_span(F(7, 2), F(4), F(1, 16)), shake_span(F(4), F(9, 2), F(1, 16)))
    spans, _ = plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=shakes)
    assert spans[-2:] == shakes
    assert len(spans) % 2 == 0
    assert list(check_bellows(bare_arrangement(bars, eighths(bars), spans), AIR)) == []


def test_a_fixed_plain_span_is_answered() -> None:
    bars = make_bars(8)
    fixed = (BellowsSpan(F(0), F(2), OPEN),)
    spans, _ = plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=fixed)
    assert spans == (*fixed, BellowsSpan(F(2), F(4), CLOSE))


def test_a_full_shake_leaves_nothing_to_plan() -> None:
    bars = make_bars(4)
    shake = shake_span(F(0), F(2), F(1, 16))
    assert plan_bellows(bars, eighths(bars), TEMPO, AIR, fixed=(shake,)) == ((shake,), ())


def test_the_plan_is_made_for_the_slowest_step_and_serves_faster_ones() -> None:
    bars = make_bars(16)
    spans, _ = plan_bellows(bars, eighths(bars), Tempo(40, 120, F(1, 4)), AIR)
    for bpm in (40, 60, 90, 120):
        assert list(check_bellows(bare_arrangement(bars, eighths(bars), spans, Tempo(bpm, 120, F(1, 4))), AIR)) == []


def test_thirty_two_bars_are_planned_at_once() -> None:
    """The figure asked for is 20 ms on the machine this was written on; the fastest of five runs is taken."""
    bars = make_bars(32, opens_repeat={1: True, 17: True}, closes_repeat={16: True, 32: True})
    voices = (*eighths(bars), make_voice(Role.FILL, bars[-1].end, F(1, 16)))
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        plan_bellows(bars, voices, TEMPO, AIR)
        taken.append(time.perf_counter() - start)
    assert min(taken) < 0.02
