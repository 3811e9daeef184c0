"""Right-hand fingers as a teacher writes them: a hand keeps its position, numbers stand where it moves.

What is called usual here is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import pairwise

import pytest
from right_hand_lines import WIDE, make_groove, make_line

from bookbuild.arrange.fill import fill_voices
from bookbuild.arrange.line import tune_line
from bookbuild.arrange.melody_fingering import finger_melody, outer_fingers, printed_fingers
from bookbuild.arrange.right_fingering import cost
from bookbuild.arrange.right_hand import shapes_voice, sounding_notes
from bookbuild.lessons.model import Course, MelodyNote


def notes_of(text: str) -> list[MelodyNote]:
    return list(make_line("4/4", "C major", [(text, "C")]).notes)


@pytest.mark.parametrize(("text", "first", "expected"), [
    ("g'':1/4 f'':1/4 e'':1/4 c'':1/4", 5, (5, 4, 3, 1)),
    ("d'':1/4 e'':1/4 f'':1/4 d'':1/4", 1, (1, 2, 3, 1)),
    ("g'':1/4 f'':1/4 d'':1/4 b':1/4", 4, (4, 3, 2, 1)),
])
def test_a_five_finger_phrase_keeps_its_position(text, first, expected):
    notes = notes_of(text)
    notes[0] = replace(notes[0], finger=first)
    assert finger_melody(notes) == expected


def test_after_a_breath_the_hand_lies_where_the_new_phrase_wants_it():
    notes = notes_of("g':1/4 a':1/4 b':1/4 a':1/4")
    bound = [*notes, *(replace(note, onset=note.onset + 1, finger=3 if i == 0 else 0)
                       for i, note in enumerate(notes_of("c'':1/2 d'':1/2")))]
    notes[-1] = replace(notes[-1], breath=True)
    freed = [*notes, *bound[4:]]
    assert finger_melody(freed)[:4] == finger_melody(notes)
    assert printed_fingers(freed, finger_melody(freed))[4] == 3


def test_a_given_finger_meant_for_the_melody_alone_does_not_stretch_over_an_octave():
    """4 on top of an octave grip is not taken, 4 on top of a triad is."""
    assert outer_fingers([(62, 67, 71, 74)], given=4) == (5,)
    assert outer_fingers([(65, 69, 72)], given=4) == (4,)
    assert outer_fingers([(60, 62, 64, 77, 81)], given=4) == (5,)


def test_the_hand_hops_only_where_a_note_gives_it_time():
    """After an eighth there is time, after a sixteenth there is not: D held, E F close together, F held."""
    quick = notes_of("d'':1/8 e'':1/16 f'':1/4")
    assert finger_melody(quick, held={0: (5,), 2: (5,)}) == (5, 4, 5)


def test_held_tops_print_their_finger_once():
    line = make_line("2/4", "C major", [("c'':1/4 e'':1/4", "C"), ("g'':1/4 e'':1/4", "C")])
    groove = make_groove("2/4", ((F(1, 8), F(1, 8)), (F(3, 8), F(1, 8))), slots=2)
    melody, _, _ = fill_voices(line, groove, WIDE, 12)
    assert [event.fingers for event in melody.events] == [(5,), (0,), (0,), (0,)]


def test_a_shape_shows_its_fingers_where_it_is_first_taken():
    line = make_line("2/4", "C major", [("c'':1/4 e'':1/4", "C"), ("c'':1/4 e'':1/4", "C")])
    events = shapes_voice(line, WIDE, 12)[0].events
    assert [any(event.fingers) for event in events] == [True, True, False, False]


def test_no_finger_of_the_demo_melodies_crosses_another_but_over_the_thumb(course: Course):
    """Inside a phrase a finger moves to another key only by a thumb pass, or where the teacher says so."""
    for tune in course.tunes.values():
        notes = sounding_notes(tune_line(tune, tune.form))
        fingers = finger_melody(notes)
        for (a, b), (old, new) in zip(pairwise(notes), pairwise(fingers), strict=True):
            told = a.finger and b.finger
            if a.breath or a.end < b.onset or a.pitch == b.pitch or told or a.pitch is None or b.pitch is None:
                continue
            place = f"{tune.name} at {b.onset}: {a.pitch.name} {old}, {b.pitch.name} {new}"
            assert old != new, place
            rises = b.pitch.midi > a.pitch.midi
            assert (new > old) == rises or 1 in (old, new), place
            # Rule 3 of Parncutt et al. 1997 and its neighbours: no pair of fingers far outside its comfort.
            assert cost((a.pitch.midi, b.pitch.midi), (old, new)) <= 12, place
