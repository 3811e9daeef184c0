"""The fill: written examples, and properties over random lines and grooves."""

from __future__ import annotations

from fractions import Fraction as F

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from right_hand_lines import (
    WIDE,
    assert_covers,
    grooves,
    intervals,
    lines,
    make_groove,
    make_keyboard,
    make_line,
    move_line,
    settings_of_play,
    show,
)

from bookbuild.arrange.fill import fill_slots, fill_voices
from bookbuild.arrange.keyboard import fit_line
from bookbuild.arrange.melody_fingering import finger_grip
from bookbuild.arrange.model import Bar, Line, Role
from bookbuild.lessons.model import Groove

SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
OFF_BEATS = make_groove("2/4", ((F(1, 8), F(1, 8)), (F(3, 8), F(1, 8))))


def fill(bars: list[tuple[str, str]], groove: Groove = OFF_BEATS, key: str = "G major", span: int = 12) -> list[str]:
    line = make_line(str(groove.meter), key, bars)
    return show(fill_voices(line, groove, WIDE, span)[1])


def test_fill_plays_the_frame_between_melody_notes():
    """FACTS §2 (common practice): outer finger holds, the others take the off-slots."""
    assert fill([("g'':1/2", "G"), ("b'':1/4 d''':1/4", "G"), ("g'':1/2", "G")]) == [
        "1/8 1/8 G4 B4 D5", "3/8 1/8 G4 B4 D5", "5/8 1/8 B4 D5 G5", "7/8 1/8 D5 G5 B5", "9/8 1/8 G4 B4 D5"]


def test_fill_is_silent_where_the_melody_strikes():
    assert fill([("g'':1/8 a'':1/8 b'':1/4", "G"), ("g'':1/2", "G")]) == ["3/8 1/8 B4 D5 G5", "5/8 1/8 G4 B4 D5"]


def test_fill_is_silent_where_the_melody_moves_within_the_slot():
    triplet = "g'':1/12 a'':1/12 b'':1/12 g'':1/4"
    assert fill([(triplet, "G"), ("g'':1/2", "G")]) == ["3/8 1/8 G4 B4 D5", "5/8 1/8 G4 B4 D5"]


def test_strike_ends_with_the_next_melody_note_or_chord():
    long = make_groove("2/4", ((F(1, 8), F(3, 8)),))
    assert fill([("g'':1/4 b'':1/4", "G"), ("g'':1/2", "G")], long)[0] == "1/8 1/8 G4 B4 D5"
    assert fill([("g'':1/2", "G C"), ("g'':1/2", "C")], long)[0] == "1/8 1/8 G4 B4 D5"
    assert fill([("g'':1/2", "G"), ("g'':1/2", "G")], long)[0] == "1/8 3/8 G4 B4 D5"


def test_strike_is_not_held_over_a_repeat_sign():
    long = make_groove("2/4", ((F(3, 8), F(1, 4)),))
    line = make_line("2/4", "C major", [("c'':1~", "C"), ("c'':1/2", "C"), ("c'':1/2", "C")])
    bars = tuple(Bar(F(k, 2), F(1, 2), k + 1, closes_repeat=k == 1, section="" if k else "A") for k in range(4))
    strikes = fill_voices(Line(line.meter, line.key, bars, line.notes, line.chords), long, WIDE, 12)[1]
    assert [(event.onset, event.length) for event in strikes.events if event.pitches] == [
        (F(3, 8), F(1, 4)), (F(7, 8), F(1, 8)), (F(11, 8), F(1, 8))]


def test_fill_follows_the_chord_under_a_held_note_and_goes_on_through_rests():
    assert fill([("g'':1/2", "G C"), ("r:1/2", "C"), ("g'':1/2", "G")])[:4] == [
        "1/8 1/8 G4 B4 D5", "3/8 1/8 G4 C5 E5", "5/8 1/8 G4 C5 E5", "7/8 1/8 G4 C5 E5"]


def test_fill_waits_for_the_melody_and_leaves_the_upbeat_alone():
    assert fill([("d'':1/8", "G"), ("g'':1/2", "G"), ("g'':1/2", "G")])[0] == "1/4 1/8 G4 B4 D5"
    assert fill([("r:1/2", "G"), ("g'':1/2", "G"), ("g'':1/2", "G")])[0] == "5/8 1/8 G4 B4 D5"


def test_cell_starts_anew_with_sections_and_endings():
    groove = make_groove("2/4", ((F(0), F(1, 8)),), cell_bars=2)
    names = ["A", "", "", "B", "", ""]
    endings = ["", "", "", "", "1.", "2."]
    bars = tuple(Bar(F(k, 2), F(1, 2), k + 1, section=name, ending=ending, closes_repeat=ending == "1.")
                 for k, (name, ending) in enumerate(zip(names, endings, strict=True)))
    line = make_line("2/4", "C major", [("c'':1/2", "C")] * 6)
    line = Line(line.meter, line.key, bars, line.notes, line.chords)
    assert [slot.onset for slot in fill_slots(line, groove)] == [F(0), F(1), F(3, 2)]


def test_held_note_takes_an_outer_finger_and_the_grip_is_printed_once():
    line = make_line("2/4", "C major", [("c'':1/2", "C"), ("c'':1/2", "C"), ("c'':1/2", "C")])
    melody, strikes, _ = fill_voices(line, OFF_BEATS, WIDE, 12)
    assert melody.events[0].fingers == (5,)
    assert [event.fingers for event in strikes.events if event.pitches][:2] == [(1, 2, 3), (0, 0, 0)]


def test_low_melody_thins_the_fill_and_says_so():
    line = make_line("2/4", "C major", [("e':1/2", "C"), ("c'':1/2", "C")])
    _, strikes, notices = fill_voices(line, OFF_BEATS, make_keyboard("B3", "C6"), 12)
    assert show(strikes)[0] == "1/8 1/8 C4"
    assert notices == ("In bar 1 the chord has fewer notes: the keyboard ends at B3.",)


@given(settings_of_play())
@SLOW
def test_fill_keeps_clear_of_the_melody(drawn):
    line, groove, keyboard, span = drawn
    melody, strikes, _ = fill_voices(line, groove, keyboard, span)
    assert (melody.role, strikes.role) == (Role.MELODY, Role.FILL)
    assert_covers(melody, line)
    assert_covers(strikes, line)
    notes = [note for note in fit_line(line, keyboard)[0].notes if note.pitch]
    assert [(e.onset, e.length, e.pitches[0]) for e in melody.events if e.pitches] == [
        (n.onset, n.length, n.pitch) for n in notes]
    slots = {slot.onset for slot in fill_slots(line, groove)}
    assert all(event.hidden for event in strikes.events if not event.pitches)
    for event in (e for e in strikes.events if e.pitches):
        assert event.onset in slots
        assert (event.length / groove.slot).denominator == 1
        assert not any(event.onset <= note.onset < event.end for note in notes)
        assert not any(event.onset <= note.onset < event.onset + groove.slot for note in notes)
        assert all(keyboard.lowest.midi <= pitch.midi for pitch in event.pitches)
        assert len(event.pitches) <= 3
        for note in notes:
            if note.onset < event.end and event.onset < note.end:
                assert all(3 <= note.pitch.midi - pitch.midi <= span for pitch in event.pitches)
        sounding = [c.chord for c in line.chords if c.onset <= event.onset < c.end]
        assert sounding[0] is not None


@given(settings_of_play())
@SLOW
def test_fingers_below_the_melody_are_left_free(drawn):
    """Where fingers are printed at both, those of the fill lie below the melody's, low to high."""
    line, groove, keyboard, span = drawn
    melody, strikes, _ = fill_voices(line, groove, keyboard, span)
    for event in strikes.events:
        over = next((m for m in melody.events if m.pitches and m.onset <= event.onset < m.end), None)
        if event.pitches and any(event.fingers):
            assert list(event.fingers) == sorted(set(event.fingers))
            top = over.fingers[0] if over else 0
            assert not top or event.fingers[-1] < top
            assert max(event.fingers) <= 4


@given(lines().flatmap(lambda line: st.tuples(st.just(line), grooves(line.meter))), intervals)
@SLOW
def test_transposing_the_tune_transposes_the_fill_exactly(drawn, interval):
    line, groove = drawn
    _, before, _ = fill_voices(line, groove, WIDE, 12)
    _, after, _ = fill_voices(move_line(line, interval), groove, WIDE, 12)
    assert [(e.onset, e.length, tuple(p.midi + interval.semitones for p in e.pitches)) for e in before.events] == [
        (e.onset, e.length, tuple(p.midi for p in e.pitches)) for e in after.events]


def test_grip_under_a_held_note_uses_the_low_fingers():
    assert finger_grip((67, 71, 74, 79), 5)[:-1] == (1, 2, 3)
