from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from left_builders import (
    BAIAO,
    EIGHT,
    FULL,
    JIG,
    POLKA,
    PUSHED,
    SLOW,
    TWELVE,
    TWENTY_FOUR,
    WALK,
    WALTZ,
    F,
    lines,
    make_groove,
    make_line,
    tasks,
    write_times,
    write_voice,
)

from bookbuild.arrange.bass_runs import blend_scale, print_run, walk_bass, with_bass_runs
from bookbuild.arrange.left_hand import left_hand_voice
from bookbuild.arrange.left_strokes import bass_tone, place_cells, strike_groove
from bookbuild.arrange.model import Role
from bookbuild.arrange.moments import read_moments
from bookbuild.arrange.playing_order import list_plain_joins, list_successors
from bookbuild.arrange.stradella import (
    LETTERS,
    Button,
    Press,
    is_bass,
    list_buttons,
    name_button,
    sound_classes,
)
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, Source
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Interval, Key, Pitch, Tone


def write_left(line, groove, instrument=FULL, **options):
    (voice,) = left_hand_voice(line, groove, instrument, **options).voices
    assert voice.role is Role.LEFT
    return write_voice(voice, line)


# Polka and waltz: wikibooks "Reading Accordion Music" (bass on the beats, chord on the "&"s; bass then two chords).
def test_polka_alternates_root_and_fifth():
    assert write_left(make_line("2/4", "C | G7 | C"), POLKA) == (
        "C3 C4^M G2 C4 | G2 G3^7 D3 G3 | C3 C4^M C3+C4")


def test_waltz_is_a_bass_and_two_chords():
    assert write_left(make_line("3/4", "Am | Dm | Am"), WALTZ) == "A2 A3^m A3 | D3 D4 D4 | A2 A2+A3 -"


def test_baiao_holds_the_bass_three_sixteenths_and_anticipates():
    # FACTS on rhythm, common practice, no source: bass on 1 for 3/16, chord on the fourth sixteenth for beat 2.
    line = make_line("2/4", "C F | C | C")
    (voice,) = left_hand_voice(line, BAIAO, FULL).voices
    assert write_voice(voice, line) == "C3 F3^M F2 F3 | C3 C4 G2 C4 | C3 C4 C3+C4"
    assert write_times(voice)[:4] == [(F(0), F(3, 16)), (F(3, 16), F(1, 16)), (F(1, 4), F(1, 8)), (F(3, 8), F(1, 8))]
    assert [event.accent for event in voice.events[:4]] == [True, False, False, True]


def test_third_is_played_on_the_counterbass_row():
    (voice,) = left_hand_voice(make_line("4/4", "C | C | C"), WALK, FULL).voices
    third = voice.events[6]
    assert third.pitches == (Pitch.from_name("E2"),)
    assert third.buttons == (("counterbass", 0),)


def test_letters_stand_only_where_the_kind_of_chord_changes():
    line = make_line("2/4", "C | F | Dm | G7 | G7 | Bdim | C | C")
    assert write_left(line, POLKA).count("^") == 5
    assert "F3 C3" in write_left(line, POLKA)


def test_stroke_that_anticipates_the_barline_carries_the_next_bar():
    line = make_line("4/4", "C | F | G | C")
    assert write_left(line, PUSHED) == (
        "C3 C4^M - G2 - F3 | F2 F3 - C3 - G3 | G2 G3 - D3 - C4 | C3 C4 - C3+C4 -")


def test_nothing_anticipates_beyond_the_end():
    line = make_line("4/4", "C | F")
    (voice,) = left_hand_voice(line, PUSHED, FULL, close=False).voices
    assert voice.events[-1].pitches == (Pitch.from_name("F3"),)
    assert voice.events[-1].end == line.length


def test_anticipation_at_a_first_ending_carries_the_repeats_beginning():
    marks = {0: {"opens_repeat": True}, 2: {"ending": "1.", "closes_repeat": True}, 3: {"ending": "2."}}
    line = make_line("4/4", "C | F | G | Dm | Am", marks=marks)
    pushes = [bar.split(" ")[-1] for bar in write_left(line, PUSHED, close=False).split(" | ")]
    # Body's last bar leads to G and to Dm: it keeps F. The first ending leads back to C.
    assert pushes == ["F3", "F3", "C4", "A3", "A3"]


def test_a_held_push_is_not_tied_over_a_repeat_sign():
    tied = make_groove("2/4", 2, "r . . .", "- . . a")
    tied = replace(tied, strokes=tuple(
        replace(stroke, length=F(1, 4)) if stroke.source is Source.CHORD else stroke for stroke in tied.strokes))
    plain = make_line("2/4", "C | C | C | C")
    repeated = make_line("2/4", "C | C | C | C", marks={0: {"opens_repeat": True}, 1: {"closes_repeat": True}})
    assert any(stroke.onset < 1 < stroke.end for stroke in strike_groove(plain, tied))
    assert not any(stroke.onset < 1 < stroke.end for stroke in strike_groove(repeated, tied))


def test_bass_restarts_on_the_root_at_a_change_in_mid_cell():
    assert write_left(make_line("2/4", "C G7 | C"), POLKA, close=False) == "C3 C4^M G2 G3^7 | C3 C4^M G2 C4"
    # Two-bar cell, chord changed with the bar: the second half begins on the root, not on the fifth.
    cell = make_groove("2/4", 2, "r . . . | f . . .", ". x . x | . x . x")
    assert write_left(make_line("2/4", "C | F | F | F"), cell, close=False).startswith("C3 C4^M - C4 | F2 F3 - F3")


def test_held_bass_is_struck_again_when_the_chord_changes_under_it():
    basses, chords = left_hand_voice(make_line("4/4", "C F | C G/B"), SLOW, FULL, close=False).voices
    assert (basses.role, chords.role) == (Role.BASS, Role.CHORD)
    assert [e.pitches[0].name for e in basses.events] == ["C3", "F2", "C3", "B2"]
    assert [(e.onset, e.length) for e in basses.events] == [(F(n, 2), F(1, 2)) for n in range(4)]


def test_held_bass_goes_on_where_only_the_kind_of_chord_changes():
    basses, _ = left_hand_voice(make_line("4/4", "G G7 | C"), SLOW, FULL, close=False).voices
    assert [e.length for e in basses.events] == [F(1), F(1)]


def test_upbeat_is_silent_and_the_cell_begins_with_the_first_full_bar():
    line = make_line("3/4", "C | G7 | C", upbeat=F(1, 4), last=F(1, 2))
    assert write_left(line, WALTZ) == "- | C3 C4^M C4 | G2 G3^7 G3 | C3 C3+C4^M"


def test_pickup_of_the_groove_fills_the_upbeat_from_its_tail():
    groove = make_groove("2/4", 2, "r . f .", ". x . x")
    groove = replace(groove, pickup=groove.strokes)
    line = make_line("2/4", "C | C", upbeat=F(1, 4))
    line = replace(line, chords=(ChordSpan(F(0), line.length, Chord.parse("C")),))
    assert write_left(line, groove, close=False).startswith("C3 C4^M | C3 C4 G2 C4")


def test_ending_of_the_groove_replaces_the_close():
    groove = replace(POLKA, ending=make_groove("2/4", 2, "r - - -", ". . . .").strokes)
    assert write_left(make_line("2/4", "C | C"), groove).endswith("| C3")


def test_bar_that_completes_a_short_bar_goes_on_with_the_cell():
    line = make_line("2/4", "C | C | C")
    bars = (line.bars[0], replace(line.bars[1], length=F(1, 4)),
            replace(line.bars[2], onset=F(3, 4), length=F(1, 4), number=0, section="B"))
    line = replace(line, bars=bars, chords=(ChordSpan(F(0), F(1), Chord.parse("C")),))
    assert place_cells(line, POLKA) == (F(0), F(0), F(1, 4))
    assert write_left(line, POLKA, close=False) == "C3 C4^M G2 C4 | C3 C4 | G2 C4"


def test_cell_begins_anew_with_a_section_and_keeps_its_place_in_a_second_ending():
    marks = {3: {"section": "B", "opens_repeat": True}, 5: {"ending": "1.", "closes_repeat": True}, 6: {"ending": "2."}}
    line = make_line("2/4", "C | C | C | C | C | C | C | C", marks=marks)
    two_bars = make_groove("2/4", 1, "r . | f .", "")
    half = F(1, 2)
    assert place_cells(line, two_bars) == (0, half, 0, 0, half, 0, 0, half)


@pytest.mark.parametrize(("groove", "meter", "fits"), [
    (POLKA, "2/4", True), (POLKA, "4/4", True), (POLKA, "2/2", True), (SLOW, "2/4", True), (JIG, "12/8", True),
    (WALTZ, "6/8", False), (JIG, "3/4", False), (POLKA, "3/4", False), (WALTZ, "3/2", False), (JIG, "9/8", False),
])
def test_grooves_serve_related_meters_only(groove, meter, fits):
    assert groove.fits(Meter.parse(meter)) is fits
    line = make_line(meter, "C | C")
    if fits:
        left_hand_voice(line, groove, FULL)
    else:
        with pytest.raises(ValueError, match="the tune in"):
            left_hand_voice(line, groove, FULL)


def test_two_four_cell_repeats_in_a_four_four_bar():
    assert write_left(make_line("4/4", "C | C"), POLKA) == "C3 C4^M G2 C4 C3 C4 G2 C4 | C3 C4 G2 C4 C3+C4 -"


def test_no_chord_means_silence():
    assert write_left(make_line("2/4", "C | N.C. | C"), POLKA) == "C3 C4^M G2 C4 | - | C3 C4 C3+C4"


def test_one_chord_can_replace_the_harmony():
    line = make_line("2/4", "G | N.C. | D7")
    assert write_left(line, POLKA, chord=Chord.parse("Am")) == "A2 A3^m E2 A3 | A2 A3 E2 A3 | A2 A3 A2+A3"


@pytest.mark.parametrize(("groove", "meter", "closed"), [
    # Common practice, no source: bass and chord together on a strong beat, then silence.
    (POLKA, "2/4", "C3 C4^M C3+C4"), (WALTZ, "3/4", "C3 C3+C4^M -"), (SLOW, "4/4", None), (JIG, "6/8", "C3 C4^M C3+C4"),
    (make_groove("2/4", 1, "r -", ""), "2/4", "C3"), (make_groove("2/4", 1, "", "x x"), "2/4", "C4^M C4"),
])
def test_last_bar_is_closed(groove, meter, closed):
    line = make_line(meter, "C")
    voices = left_hand_voice(line, groove, FULL).voices
    if closed:
        assert write_voice(voices[0], line) == closed
    else:
        assert [write_voice(voice, line) for voice in voices] == ["C3 C3 -", "- C4^M C4 -"]


def test_the_last_downbeat_is_the_root_wherever_the_cell_has_come_to():
    """Common practice, no source: a waltz of an even number of bars does not end over its fifth."""
    turning = make_groove("3/4", 1, "r . . | f . .", ". x x | . x x")
    assert write_left(make_line("3/4", "C | C | C | C"), turning) == "C3 C4^M C4 | G2 C4 C4 | C3 C4 C4 | C3 C3+C4 -"


def test_close_waits_for_the_last_chord():
    assert write_left(make_line("4/4", "C | F G7 F C"), make_groove("4/4", 1, "r . f .", ". x . x")) == (
        "C3 C4^M G2 C4 | F2 G3^7 F2 C3+C4^M")


def test_notices_come_once_a_chord():
    notices = left_hand_voice(make_line("2/4", "Am7 | D7 | Am7 | D7"), POLKA, TWENTY_FOUR).notices
    assert notices == ("Am7: play A minor (without the seventh G)",
                       "D7: there is no seventh row here; play D major (without the seventh C)")
    assert left_hand_voice(make_line("2/4", "C | F | G7 | C"), POLKA, FULL).notices == ()


def test_fifth_without_its_bass_is_said_only_where_it_is_played():
    line = make_line("2/4", "D | D")
    assert any("fifth A" in text for text in left_hand_voice(line, POLKA, EIGHT).notices)
    assert left_hand_voice(line, make_groove("2/4", 2, "r . . .", ". x . x"), EIGHT).notices == ()
    assert left_hand_voice(line, POLKA, TWELVE).notices == ()


def test_held_bass_button_is_not_struck_again_by_a_chord_stroke_of_basses():
    basses, chords = left_hand_voice(make_line("4/4", "C5"), SLOW, FULL, close=False).voices
    assert [e.pitches[0].name for e in basses.events] == ["C3"]
    assert {pitch.name for event in chords.events for pitch in event.pitches} == {"G2"}


def test_sounds_are_the_keys_of_the_buttons():
    (voice,) = left_hand_voice(make_line("2/4", "G7"), POLKA, FULL).voices
    closing = voice.events[-1]
    assert closing.buttons == (("bass", 1), ("seventh", 1))
    assert {key % 12 for key in closing.sounds} == Chord.parse("G7").pcs - {2}


def all_events(voices):
    return [event for voice in voices for event in voice.events]


@settings(deadline=None)
@given(tasks(), st.booleans())
def test_any_left_hand_fills_its_line_on_the_instruments_buttons(task, runs):
    line, groove, instrument = task
    hand = (with_bass_runs if runs else left_hand_voice)(line, groove, instrument)
    assert [voice.role for voice in hand.voices] in ([Role.LEFT], [Role.BASS, Role.CHORD])
    for voice in hand.voices:
        now = F(0)
        for event in voice.events:
            assert event.onset == now
            assert event.length > 0
            assert len(event.buttons) == len(event.pitches) == len(set(event.pitches))
            now = event.end
        assert now == line.length
    for event in all_events(hand.voices):
        assert set(event.buttons) <= set(list_buttons(instrument))
        assert [p.midi for p in event.pitches] == sorted(p.midi for p in event.pitches)
        sounding = {pc for b in event.buttons for pc in sound_classes(Button(*b), instrument)}
        assert {key % 12 for key in event.sounds} == sounding
        assert sorted(p.tone.pc for p in event.pitches) == sorted(name_button(b).pc for b in event.buttons)
    assert len(set(hand.notices)) == len(hand.notices)


@settings(deadline=None)
@given(tasks())
def test_letters_change_with_the_kind_of_chord(task):
    line, groove, instrument = task
    for voice in left_hand_voice(line, groove, instrument).voices:
        shown, since = "", F(0)
        fresh = [bar.onset for bar in line.bars[1:] if bar.opens_repeat or bar.ending]
        for event in voice.events:
            kind = " ".join(LETTERS[row] for row, _ in event.buttons if not is_bass((row, 0)))
            again = kind and any(since < start <= event.onset for start in fresh)
            if not again:
                assert event.letter == ("" if kind in ("", shown) else kind)
            assert event.letter in ("", kind)
            shown, since = kind or shown, event.onset if kind else since


def test_a_repeat_names_its_first_kind_of_chord_again():
    """Both ways lead there: from before, and from its own end on another kind."""
    marks = {1: {"opens_repeat": True}, 2: {"closes_repeat": True}}
    assert write_left(make_line("2/4", "C | C | G7 | C", marks=marks), POLKA, close=False) == (
        "C3 C4^M G2 C4 | C3 C4^M G2 C4 | G2 G3^7 D3 G3 | C3 C4^M G2 C4")


@settings(deadline=None)
@given(tasks())
def test_no_stroke_rings_past_a_change_of_its_chord(task):
    line, groove, _ = task
    look = read_moments(line)
    pushes = any(stroke.anticipates for stroke in groove.strokes)
    for stroke in strike_groove(line, groove):
        def fits(chord, stroke=stroke):
            if stroke.source is Source.CHORD or chord is None:
                return chord == stroke.chord
            return bass_tone(chord, Source.ROOT) == bass_tone(stroke.chord, Source.ROOT)

        moments = (stroke.onset, *look.changes_in(stroke.onset, stroke.end))
        under = [fits(look.chord_at(moment)) for moment in moments]
        if under[0]:
            # A bass written as fifth or third may also stop at a change its root would outlast.
            assert all(under)
        else:
            # Anticipation: the wrong chord holds at most to the next beat, and never again.
            assert pushes
            arrival = under.index(True) if True in under else len(under)
            assert all(under[arrival:])
            ends = (*moments[1:], stroke.end)
            assert ends[arrival - 1] - stroke.onset <= groove.meter.beat


@settings(deadline=None)
@given(tasks())
def test_no_stroke_is_held_over_a_jump(task):
    line, groove, _ = task
    jumps = [bar.end for bar, plain in zip(line.bars, list_plain_joins(line.bars), strict=True) if not plain]
    for stroke in strike_groove(line, groove):
        assert not any(stroke.onset < jump < stroke.end for jump in jumps)
        assert stroke.end <= line.length


@settings(deadline=None, max_examples=40)
@given(lines(Meter.parse("2/4")), st.sampled_from([POLKA, BAIAO]))
def test_a_fifth_higher_every_button_moves_one_column(line, groove):
    wide = replace(FULL, first_column=Tone.from_fifths(-11), columns=24)
    steady = tuple(replace(span, chord=Chord(Tone.from_fifths(span.chord.root.fifths // 3), span.chord.quality))
                   if span.chord else span for span in line.chords)
    here = replace(line, chords=steady)
    there = replace(line, chords=tuple(replace(s, chord=s.chord.transpose(Interval(4, 7))) if s.chord else s
                                       for s in steady))
    low, high = (all_events(left_hand_voice(row, groove, wide).voices) for row in (here, there))
    for a, b in zip(low, high, strict=True):
        assert (a.onset, a.length, a.letter, a.accent) == (b.onset, b.length, b.letter, b.accent)
        assert {(row, column + 1) for row, column in a.buttons} == set(b.buttons)


def test_playing_order_of_repeats_and_endings():
    marks = {0: {"opens_repeat": True}, 2: {"ending": "1.", "closes_repeat": True}, 3: {"ending": "2."},
             4: {"section": "B", "opens_repeat": True}, 5: {"closes_repeat": True}}
    bars = make_line("2/4", "C | C | C | C | C | C", marks=marks).bars
    assert list_successors(bars) == ((1,), (2, 3), (0,), (4,), (5,), (4, None))
    assert list_plain_joins(bars) == (True, False, False, False, True, False)


# Common practice, no source: by step, in one direction, in the key where possible.
@pytest.mark.parametrize(("start", "goal", "count", "notes"), [
    ("C", "F", 2, "D E"), ("G", "C", 2, "A B"), ("F", "C", 2, "A B"), ("C", "A", 2, "C B"), ("C", "G", 3, "D E F"),
])
def test_runs_walk_in_the_key(start, goal, count, notes):
    presses = [Press(Button("bass", Tone.parse(name).fifths), Tone.parse(name)) for name in (start, goal)]
    run = walk_bass(*presses, count, Key.parse("C major").tones, FULL)
    assert " ".join(press.tone.name for press in run) == notes


def test_runs_respect_the_chord_they_sound_over():
    scale = blend_scale(Key.parse("F major"), Chord.parse("D7"))
    assert {tone.name for tone in scale} == {"F#", "G", "A", "Bb", "C", "D", "E"}
    marks = {1: {"phrase_end": True}}
    line = make_line("3/4", "F | D7 | Gm", marks=marks, key="F major")
    (voice,) = with_bass_runs(line, WALTZ, FULL, close=False).voices
    assert write_voice(voice, line).split(" | ")[1:] == ["D3 E2 F#2", "G2 G3^m G3"]


def test_runs_lead_into_the_next_phrase():
    marks = {index: {"phrase_end": True} for index in (1, 3)}
    line = make_line("4/4", "C | C | F | F | C", marks=marks)
    groove = make_groove("4/4", 1, "r . f .", ". x . x")
    (voice,) = with_bass_runs(line, groove, FULL).voices
    assert write_voice(voice, line) == "C3 C4^M G2 C4 | C3 C4 D2 E2 | F2 F3 C3 F3 | F2 F3 A2 B2 | C3 C4 C3+C4 -"


def test_runs_move_by_step_on_paper_or_fold_as_basses_do():
    """A run is printed down to C2 if that keeps it in line with its goal, never above the middle line."""
    def press(name):
        return Press(Button("bass", Tone.parse(name).fifths), Tone.parse(name))

    assert [pitch.name for pitch in print_run((press("D"), press("E")), press("F"))] == ["D2", "E2"]
    assert [pitch.name for pitch in print_run((press("B"), press("A")), press("G"))] == ["B2", "A2"]
    assert print_run((press("F"), press("E")), press("D")) == ()


def test_no_run_where_the_music_jumps_or_a_push_is_held():
    marks = {0: {"opens_repeat": True}, 1: {"phrase_end": True, "closes_repeat": True}}
    line = make_line("4/4", "C | C | F | F", marks=marks)
    groove = make_groove("4/4", 1, "r . f .", ". x . x")
    assert with_bass_runs(line, groove, FULL) == left_hand_voice(line, groove, FULL)


@settings(deadline=None)
@given(st.integers(-6, 6), st.integers(-6, 6), st.integers(1, 3))
def test_runs_end_a_step_from_their_goal(start, goal, count):
    presses = [Press(Button("bass", column), name_button(("bass", column))) for column in (start, goal)]
    run = walk_bass(*presses, count, Key.parse("C major").tones, FULL)
    tones = [*(press.tone.pc for press in run), presses[1].tone.pc]
    steps = {(b - a) % 12 for a, b in pairwise(tones)}
    assert steps <= {1, 2} or steps <= {10, 11}
    assert run == () or len(run) == count


def test_arithmetic_is_exact():
    (voice,) = left_hand_voice(make_line("6/8", "C | F G7 | C"), JIG, FULL).voices
    assert all(isinstance(event.length, Fraction) for event in voice.events)
