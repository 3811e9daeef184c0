"""Melody, shapes and claps: written examples, and properties over random lines."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from right_hand_lines import (
    WIDE,
    assert_covers,
    intervals,
    lines,
    make_keyboard,
    make_line,
    move_line,
    settings_of_play,
    show,
)

from bookbuild.arrange.clap import clap_voice
from bookbuild.arrange.keyboard import fit_line, fit_melody
from bookbuild.arrange.melody_fingering import finger_grip, finger_melody, printed_fingers
from bookbuild.arrange.model import Line, Role
from bookbuild.arrange.moments import read_moments
from bookbuild.arrange.right_hand import melody_voice, plan_shapes, shapes_voice
from bookbuild.lessons.model import MelodyNote
from bookbuild.theory.pitch import Pitch

SLOW = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])


def shapes(meter: str, key: str, bars: list[tuple[str, str]], span: int = 12) -> list[str]:
    return show(shapes_voice(make_line(meter, key, bars), WIDE, span)[0])


def test_every_beat_note_carries_its_shape():
    """FACTS §2 (common practice): the inversion follows from the melody note."""
    line = make_line("3/4", "G major", [("g'':1/4 b'':1/4 d''':1/4", "G"), ("c''':1/2 a'':1/4", "D7")])
    found, _ = plan_shapes(line, WIDE, 12)
    assert [shape.pitches[0].name for shape in found] == ["G4", "B4", "D5", "C5", "A4"]
    assert show(shapes_voice(line, WIDE, 12)[0]) == [
        "0 1/4 G4 B4 D5 G5", "1/4 1/4 B4 D5 G5 B5", "1/2 1/4 D5 G5 B5 D6",
        "3/4 1/2 C5 D5 F#5 C6", "5/4 1/4 A4 C5 F#5 A5",
    ]


def test_off_beat_notes_faster_than_the_beat_stand_alone():
    assert shapes("2/4", "G major", [("g':1/8 a':1/8 b':1/8 d'':1/8", "G")]) == [
        "0 1/8 G3 B3 D4 G4", "1/8 1/8 A4", "1/4 1/8 B3 D4 G4 B4", "3/8 1/8 D5"]


def test_sixteenths_take_a_light_shape_on_the_beat_only_when_they_belong_and_are_new():
    run = "g':1/16 a':1/16 b':1/16 c'':1/16 c'':1/16 b':1/16 a':1/16 b':1/16"
    assert shapes("2/4", "G major", [(run, "G"), ("b':1/16 b':1/16 g':1/8 g':1/4", "G")]) == [
        "0 1/16 B3 D4 G4", "1/16 1/16 A4", "1/8 1/16 B4", "3/16 1/16 C5", "1/4 1/16 C5", "5/16 1/16 B4", "3/8 1/16 A4",
        "7/16 1/16 B4", "1/2 1/16 B4", "9/16 1/16 B4", "5/8 1/8 G4", "3/4 1/4 G3 B3 D4 G4"]


def test_syncopated_note_held_over_the_beat_carries_a_shape():
    assert shapes("2/4", "C major", [("c'':1/8 e'':1/4 g'':1/8", "C")]) == [
        "0 1/8 C4 E4 G4 C5", "1/8 1/4 E4 G4 C5 E5", "3/8 1/8 G5"]


def test_off_beat_note_tied_into_a_new_chord_takes_the_new_chord():
    """An anticipation over the barline, as in every syncopated dance."""
    found = shapes("2/4", "C major", [("c'':1/4 r:1/8 b':1/8~", "C"), ("b':1/8 d'':1/4 b':1/8", "G")])
    assert found[:2] == ["0 1/4 C4 E4 G4 C5", "3/8 1/4 B3 D4 G4 B4"]


def test_suspension_tied_over_the_barline_keeps_the_chord_it_was_struck_with():
    found = shapes("4/4", "C major", [("r:1/2 r:1/8 c'':3/8~", "C"), ("c'':1/4 b':3/4", "G")])
    assert found[0] == "5/8 3/8 C4 E4 G4 C5"
    assert found[1] == "1 1/4 D4 G4 C5"
    assert found[2] == "5/4 3/4 B3 D4 G4 B4"


def test_chord_that_enters_under_a_long_note_is_struck_again():
    assert shapes("4/4", "C major", [("g'':1", "C G")]) == ["0 1/2 G4 C5 E5 G5", "1/2 1/2 G4 B4 D5 G5"]


def test_compound_beats_carry_and_their_thirds_do_not():
    assert shapes("6/8", "D major", [("d'':1/8 e'':1/8 fis'':1/8 a'':1/4 fis'':1/8", "D")]) == [
        "0 1/8 D4 F#4 A4 D5", "1/8 1/8 E5", "1/4 1/8 F#5", "3/8 1/4 A4 D5 F#5 A5", "5/8 1/8 F#5"]


def test_upbeat_is_counted_from_its_barline():
    assert shapes("3/4", "C major", [("g':1/8 a':1/8", "C"), ("g':3/4", "C")]) == [
        "0 1/8 G3 C4 E4 G4", "1/8 1/8 A4", "1/4 3/4 G3 C4 E4 G4"]
    assert shapes("3/4", "C major", [("g':1/8", "C"), ("g':3/4", "C")]) == ["0 1/8 G4", "1/8 3/4 G3 C4 E4 G4"]


def test_no_harmony_no_shape():
    assert shapes("2/4", "C major", [("c'':1/2", "-")]) == ["0 1/2 C5"]


def test_whole_line_folds_by_one_octave():
    line = make_line("2/4", "C major", [("e''':1/4 g''':1/4", "C")])
    voice, notices = melody_voice(line, make_keyboard("B3", "C6"))
    assert show(voice) == ["0 1/4 E5", "1/4 1/4 G5"]
    assert notices == ("The melody is played an octave lower: as written it does not fit the keyboard (B3 to C6).",)


def test_a_phrase_folds_as_a_whole_before_single_notes_do():
    line = make_line("2/4", "C major", [("c':1/4 e':1/4", "C"), ("r:1/4 b'':1/4", "C"), ("e''':1/4 c''':1/4", "C")])
    voice, notices = melody_voice(line, make_keyboard("B3", "C6"))
    assert show(voice) == ["0 1/4 C4", "1/4 1/4 E4", "3/4 1/4 B4", "1 1/4 E5", "5/4 1/4 C5"]
    assert notices == ("In bars 2 and 3 notes are moved by an octave: the melody as a whole does not fit the keyboard "
                       "(B3 to C6).",)


def test_single_notes_fold_where_nothing_else_fits():
    notes = [MelodyNote(F(k, 4), F(1, 4), Pitch.from_name(name)) for k, name in enumerate(("G3", "C6", "E6"))]
    fitted, _ = fit_melody(notes, make_keyboard("B3", "C6"))
    assert [note.pitch.name for note in fitted if note.pitch] == ["G4", "C6", "E5"]


@pytest.mark.parametrize(("bars", "words"), [
    ([1], "bar 1"), ([1, 2], "bars 1 and 2"), ([1, 2, 3, 5], "bars 1–3 and 5"), ([0, 1], "the upbeat and bar 1"),
    ([0, 2, 4, 5, 6], "the upbeat and bars 2 and 4–6"),
])
def test_bars_are_named_in_words(bars, words):
    upbeat = [("c'':1/4", "C")] if 0 in bars else []
    line = make_line("2/4", "C major", [*upbeat, *[("c'':1/2", "C")] * 6])
    assert read_moments(line).name_bars(bar.onset for bar in line.bars if bar.number in bars) == words


def test_keyboard_that_cuts_the_chord_is_mentioned():
    line = make_line("2/4", "C major", [("c':1/2", "C"), ("c'':1/2", "C")])
    voice, notices = shapes_voice(line, make_keyboard("B3", "C6"), 12)
    assert show(voice) == ["0 1/2 C4", "1/2 1/2 C4 E4 G4 C5"]
    assert notices == ("In bar 1 the chord has fewer notes: the keyboard ends at B3.",)


@pytest.mark.parametrize(("keys", "fingers"), [
    ((60, 64, 67), (1, 3, 5)), ((64, 67, 72), (1, 2, 5)), ((67, 72, 76), (1, 3, 5)),
    ((60, 64, 67, 72), (1, 2, 3, 5)), ((64, 67, 72, 76), (1, 2, 4, 5)), ((67, 72, 76, 79), (1, 2, 4, 5)),
    ((57, 60, 64, 69), (1, 2, 3, 5)),
])
def test_grips_take_the_usual_chord_fingering(keys, fingers):
    """From memory: the right-hand fingerings of closed triads and their octave forms in piano tutors."""
    assert finger_grip(keys, 5) == fingers


def test_grip_needs_enough_fingers():
    with pytest.raises(ValueError, match="too few"):
        finger_grip((60, 64, 67, 72), 3)


def notes_of(text: str) -> list[MelodyNote]:
    return list(make_line("4/4", "C major", [(text, "C")]).notes)


def test_scale_prints_its_start_and_its_thumb_pass_only():
    notes = notes_of("c':1/8 d':1/8 e':1/8 f':1/8 g':1/8 a':1/8 b':1/8 c'':1/8")
    fingers = finger_melody(notes, held={0: (1,), 7: (5,)})
    assert fingers == (1, 2, 3, 1, 2, 3, 4, 5)
    assert printed_fingers(notes, fingers) == (1, 0, 0, 1, 0, 0, 0, 0)


def test_given_fingers_stay_repetitions_keep_theirs_and_rests_start_anew():
    notes = notes_of("c':1/8 c':1/8 e':1/4 r:1/4 g':1/4")
    notes[2] = replace(notes[2], finger=4)
    fingers = finger_melody(notes)
    assert fingers[0] == fingers[1]
    assert fingers[2] == 4
    assert fingers[3] == 0
    assert printed_fingers(notes, fingers)[2:] == (4, 0, fingers[4])


def test_repetition_changes_finger_where_the_teacher_says_so():
    notes = notes_of("g':1/2 g':1/2")
    assert finger_melody([replace(notes[0], finger=4), replace(notes[1], finger=3)]) == (4, 3)


def test_given_finger_gives_way_to_the_chord_unless_it_can_hold_it():
    line = make_line("2/4", "C major", [("c'':1/2", "C")])
    line = replace(line, notes=(replace(line.notes[0], finger=2),))
    assert shapes_voice(line, WIDE, 12)[0].events[0].fingers == (1, 2, 3, 5)
    assert shapes_voice(line, WIDE, 5)[0].events[0].fingers == (1, 2)


def test_hand_moves_as_a_whole_next_to_a_held_note():
    """No thumb is wedged between two notes that outer fingers hold over a chord."""
    notes = notes_of("a':1/4 g':1/4 e':1/2")
    assert finger_melody(notes, held={0: (4, 5), 2: (4, 5)}) == (4, 3, 4)


def test_clap_keeps_the_rhythm_with_its_ties():
    line = make_line("2/4", "C major", [("c':1/8 e':1/8 g':1/4~", "C"), ("g':1/8 r:1/8 c':1/4", "C")])
    voice = clap_voice(line)
    assert voice.role is Role.CLAP
    assert show(voice) == ["0 1/8 B4", "1/8 1/8 B4", "1/4 3/8 B4", "3/4 1/4 B4"]
    assert_covers(voice, line)


@given(settings_of_play())
@SLOW
def test_melody_lies_on_the_keyboard_with_its_full_values(drawn):
    line, _, keyboard, _ = drawn
    voice, _ = melody_voice(line, keyboard)
    assert_covers(voice, line)
    sounding = [event for event in voice.events if event.pitches]
    assert [(e.onset, e.length, e.pitches[0].tone) for e in sounding] == [
        (n.onset, n.length, n.pitch.tone) for n in line.notes if n.pitch]
    assert all(keyboard.lowest.midi <= e.pitches[0].midi <= keyboard.highest.midi for e in sounding)
    assert [e.onset for e in clap_voice(line).events if e.pitches] == [e.onset for e in sounding]


@given(settings_of_play())
@SLOW
def test_shapes_fit_hand_and_keyboard_and_never_clash(drawn):
    line, _, keyboard, span = drawn
    voice, _ = shapes_voice(line, keyboard, span)
    assert_covers(voice, line)
    tops = {note.onset: note.pitch for note in fit_line(line, keyboard)[0].notes if note.pitch}
    struck = {event.onset: event for event in voice.events if event.pitches}
    assert tops.keys() <= struck.keys()
    for event in struck.values():
        keys = [pitch.midi for pitch in event.pitches]
        assert keys == sorted(set(keys))
        assert keyboard.lowest.midi <= keys[0]
        assert keys[-1] <= keyboard.highest.midi
        assert keys[-1] - keys[0] <= span
        assert len(keys) <= 4
        assert all(keys[-1] - key >= 3 for key in keys[:-1])
        assert tops.get(event.onset, event.pitches[-1]) == event.pitches[-1]
        assert not any(event.fingers) or list(event.fingers) == sorted(set(event.fingers))


@given(lines(), intervals, st.sampled_from([9, 10, 12]))
@SLOW
def test_transposing_the_tune_transposes_the_shapes_exactly(line, interval, span):
    moved = move_line(line, interval)
    assume(all(one.chord is None or all(abs(t.alter) < 2 for t in one.chord.tones) for one in line.chords))
    before, _ = shapes_voice(_without_fingers(line), WIDE, span)
    after, _ = shapes_voice(_without_fingers(moved), WIDE, span)
    assert [(e.onset, e.length, tuple(p.midi + interval.semitones for p in e.pitches)) for e in before.events] == [
        (e.onset, e.length, tuple(p.midi for p in e.pitches)) for e in after.events]
    for one, other in zip(before.events, after.events, strict=True):
        pairs = zip(one.pitches, other.pitches, strict=True)
        assert all(low.transpose(interval) == high for low, high in pairs if abs(high.alter) < 2)


def _without_fingers(line: Line) -> Line:
    return replace(line, notes=tuple(replace(note, finger=0) for note in line.notes))
