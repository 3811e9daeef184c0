from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from left_builders import (
    BAIAO,
    EIGHT,
    FULL,
    JIG,
    POLKA,
    SLOW,
    TWO_FINGERS,
    WALK,
    WALTZ,
    F,
    instruments,
    make_groove,
    make_instrument,
    make_line,
    tasks,
)

from bookbuild.arrange import left_fingering
from bookbuild.arrange.left_fingering import (
    FINGERS,
    finger_all,
    finger_left_hand,
    measure_left_effort,
    measure_travel,
    show_fingers,
)
from bookbuild.arrange.left_hand import left_hand_voice
from bookbuild.arrange.model import Event, Role, Voice
from bookbuild.arrange.stradella import Button, Press, list_buttons, print_pitch, spell_press
from bookbuild.lessons.model import ROWS
from bookbuild.theory.pitch import Tone

EIGHTH = F(1, 8)


def finger(meter, chords, groove, instrument=FULL):
    voices = left_hand_voice(make_line(meter, chords), groove, instrument, close=False).voices
    return [event.fingers for voice in finger_all(voices, instrument) for event in voice.events if event.buttons]


def single(fingers):
    return "".join(str(row[0]) for row in fingers)


def press(*rows, length=EIGHTH):
    """A voice that presses these sets of buttons one after the other."""
    events = []
    for place, buttons in enumerate(rows):
        presses = sorted((spell_press(Button(*b), ()) for b in buttons), key=lambda p: print_pitch(p).midi)
        events.append(Event(place * length, length, tuple(print_pitch(p) for p in presses),
                            buttons=tuple(p.button for p in presses)))
    return Voice(Role.LEFT, tuple(events))


# Habits: a published teaching page on bass fingering (rodstradling.co.uk): an alternating bass gives 4-3-2-3.
@pytest.mark.parametrize("chord", ["C", "Am", "G7", "Eb", "F#m", "Bb7"])
@pytest.mark.parametrize(("meter", "groove"), [("2/4", POLKA), ("6/8", JIG), ("2/4", BAIAO)])
def test_alternating_bass_gives_4323(chord, meter, groove):
    assert single(finger(meter, f"{chord} | {chord}", groove)) == "43234323"


@pytest.mark.parametrize("chord", ["C", "Am", "G7", "Ddim"])
def test_two_finger_habit_is_3_on_the_bass_and_2_on_the_chord(chord):
    assert single(finger("2/4", f"{chord} | {chord}", POLKA, TWO_FINGERS)) == "32323232"
    assert single(finger("3/4", f"{chord} | {chord}", WALTZ, TWO_FINGERS)) == "322322"


def test_new_root_takes_4_again():
    assert single(finger("3/4", "C | F | G7 | C | Am | D7 | G", WALTZ)) == "433" * 7


def test_counterbass_is_reached_by_4_or_3():
    fingers = single(finger("4/4", "C | C", WALK))
    assert fingers[6] in "43"
    assert single(finger("4/4", "C | C", WALK, TWO_FINGERS))[6] in "43"


def test_bass_and_chord_together_take_neighbouring_fingers():
    assert finger("2/4", "C", make_groove("2/4", 1, "r r", "x x")) == [(4, 3), (4, 3)]
    assert finger("2/4", "C", make_groove("2/4", 1, "r r", "x x"), TWO_FINGERS) == [(3, 2), (3, 2)]


def test_held_bass_keeps_its_finger_under_the_chords():
    voices = finger_all(left_hand_voice(make_line("4/4", "C | F"), SLOW, FULL, close=False).voices, FULL)
    basses, chords = (voice.events for voice in voices)
    assert [e.fingers for e in basses if e.buttons] == [(4,), (4,)]
    assert {e.fingers for e in chords if e.buttons} == {(3,)}


def test_one_finger_does_not_jump_where_another_is_free():
    voice = press([("major", 0)], [("major", -1)], [("major", 0)], [("major", -1)])
    fingers = [event.fingers[0] for event in finger_all([voice], FULL)[0].events]
    assert all(a != b for a, b in pairwise(fingers))


def test_the_quicker_the_change_the_dearer_it_is():
    rows = [[("bass", 0)], [("bass", 4)], [("bass", -2)]]
    slow, quick = press(*rows, length=F(1, 8)), press(*rows, length=F(1, 16))
    assert measure_left_effort([quick], FULL) > measure_left_effort([slow], FULL)


def test_staying_costs_less_than_moving():
    line = "C | C | C | C", "C | E | Ab | C"
    near, far = (left_hand_voice(make_line("2/4", chords), POLKA, FULL).voices for chords in line)
    assert measure_left_effort(near, FULL) < measure_left_effort(far, FULL)
    assert measure_travel(near) < measure_travel(far)
    assert measure_left_effort([], FULL) == 0


def test_the_second_finger_takes_the_fifth_never_the_root_under_its_own_chord():
    """Common practice, no source: with 2 on the root its chord would lie beneath the finger that reaches up."""
    d7 = press([("bass", 2)], [("seventh", 2)], [("bass", 3)], [("seventh", 2)], [("counterbass", 2)], [("bass", 1)],
               [("major", 1)])
    before = press([("bass", 1)], [("major", 1)], [("counterbass", 1)], [("bass", 2)], [("seventh", 2)], [("bass", 3)])
    assert [event.fingers[0] for event in finger_all([d7], FULL)[0].events] == [4, 3, 2, 3, 4, 4, 3]
    assert finger_all([before], FULL)[0].events[3].fingers != (2,)


button_rows = st.lists(
    st.lists(st.sampled_from(list_buttons(make_instrument(ROWS, "Bb", 6))), min_size=1, max_size=2, unique=True),
    min_size=1, max_size=4)


@settings(deadline=None, max_examples=40)
@given(button_rows, st.sampled_from([FULL, TWO_FINGERS]))
def test_the_shortest_path_is_the_cheapest_of_all_fingerings(rows, instrument):
    # Against brute force over every assignment of fingers.
    voice = press(*rows)
    system = instrument.fingering
    grips = [[tuple(zip(sorted(row), fingers, strict=True)) for fingers in permutations(FINGERS, len(row))]
             for row in ([Button(*b) for b in e.buttons] for e in voice.events)]
    roots = [moment.roots for moment in left_fingering._list_moments([voice])]
    costs = (
        sum(left_fingering._grip_cost(grip, system) for grip in way)
        + sum(left_fingering._ROOT_BY_TWO * sum(finger == 2 and button in low for button, finger in grip)
              for grip, low in zip(way, roots, strict=True))
        + sum(left_fingering._move_cost(a, b, left_fingering._haste(F(1, 8)), system) for a, b in pairwise(way))
        for way in product(*grips)
    )
    assert measure_left_effort([voice], instrument) == pytest.approx(min(costs), abs=1e-4)


@settings(deadline=None)
@given(tasks())
def test_every_note_has_a_finger_and_no_finger_presses_twice(task):
    line, groove, instrument = task
    voices = finger_all(left_hand_voice(line, groove, instrument).voices, instrument)
    events = [event for voice in voices for event in voice.events if event.buttons]
    for event in events:
        assert len(event.fingers) == len(event.pitches)
        assert set(event.fingers) <= set(FINGERS)  # never the thumb
    for event in events:
        down = {(button, finger) for other in events if other.onset <= event.onset < other.end
                for button, finger in zip(other.buttons, other.fingers, strict=True)}
        if len(down) <= len(FINGERS):
            assert len({finger for _, finger in down}) == len(down)


@settings(deadline=None)
@given(tasks())
def test_shown_fingers_are_a_part_of_all_fingers(task):
    line, groove, instrument = task
    voices = left_hand_voice(line, groove, instrument).voices
    everything, shown = finger_all(voices, instrument), finger_left_hand(voices, instrument)
    for full, part in zip(everything, shown, strict=True):
        for a, b in zip(full.events, part.events, strict=True):
            assert replace(a, fingers=()) == replace(b, fingers=())
            assert all(y in (0, x) for x, y in zip(a.fingers, b.fingers, strict=True))
    first = min((e for v in shown for e in v.events if e.buttons), key=lambda e: e.onset, default=None)
    assert first is None or all(first.fingers)


def test_fingers_are_printed_where_the_hand_comes_to_new_buttons():
    line = make_line("2/4", "C | C | F | C")
    (voice,) = finger_left_hand(left_hand_voice(line, POLKA, FULL, close=False).voices, FULL)
    printed = [e.fingers[0] for e in voice.events]
    assert printed[:4] == [4, 3, 2, 0]
    assert printed[4:8] == [0, 0, 0, 0]
    assert printed[8:12] == [4, 3, 2, 0]  # C is the fifth now, and takes finger 2
    assert printed[12] == 4


def test_a_pattern_not_seen_for_long_is_fingered_again():
    voice = press([("bass", 0)], [("bass", 0)], length=F(3))
    (shown,) = show_fingers(finger_all([voice], FULL))
    assert [e.fingers for e in shown.events] == [(4,), (4,)]
    (shown,) = show_fingers(finger_all([voice], FULL), memory=F(4))
    assert [e.fingers for e in shown.events] == [(4,), (0,)]


@settings(deadline=None)
@given(st.integers(-4, 4), st.sampled_from([FULL, TWO_FINGERS]))
def test_fingers_are_the_same_in_every_key(shift, instrument):
    chords = "C | F | G7 | Am7"
    moved = " | ".join(f"{Tone.from_fifths(Tone.parse(c[0]).fifths + shift).name}{c[1:]}" for c in chords.split(" | "))
    assert finger("2/4", chords, POLKA, instrument) == finger("2/4", moved, POLKA, instrument)


@settings(deadline=None)
@given(instruments())
def test_fingering_works_on_every_instrument(instrument):
    voices = left_hand_voice(make_line("2/4", "Dm | G7 | C | A7"), POLKA, instrument).voices
    assert measure_left_effort(voices, instrument) >= 0


def test_more_held_buttons_than_fingers_let_the_held_ones_go():
    long = [Event(F(0), F(1), tuple(print_pitch(Press(Button("bass", c), Tone.from_fifths(c))) for c in (0, 1, 2)),
                  buttons=(("bass", 0), ("bass", 1), ("bass", 2)))]
    short = [Event(F(0), F(1, 2)), Event(F(1, 2), F(1, 2), (), buttons=(("major", 0), ("major", 1)))]
    voices = finger_all([Voice(Role.BASS, tuple(long)), Voice(Role.CHORD, tuple(short))], FULL)
    assert len(set(voices[1].events[1].fingers)) == 2


def test_eight_basses_need_no_more_than_the_usual_fingers():
    assert set(single(finger("2/4", "C | G | C | F", POLKA, EIGHT))) <= set("432")
