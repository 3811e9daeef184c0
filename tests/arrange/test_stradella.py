from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from left_builders import FULL, TWELVE, make_instrument

from bookbuild.arrange.stradella import (
    Button,
    Press,
    find_basses,
    list_buttons,
    list_columns,
    locate_button,
    measure_distance,
    measure_reach,
    name_button,
    print_pitch,
    sound_classes,
    sound_keys,
    spell_press,
)
from bookbuild.lessons.model import ROWS
from bookbuild.theory.pitch import Pitch, Tone

D3 = Pitch.from_name("D3")

# Common configurations: 8-72 from the wiki article "Stradella bass system"; 80-120 from memory.
CONFIGURATIONS = [
    (8, "F", "D", 4, ROWS[1:3]), (12, "Bb", "A", 6, ROWS[1:3]), (24, "Eb", "E", 8, ROWS[1:4]),
    (32, "Eb", "E", 8, ROWS[1:5]), (40, "Eb", "E", 8, ROWS[:5]), (48, "Eb", "E", 8, ROWS),
    (48, "Db", "F#", 12, ROWS[:4]), (60, "Db", "F#", 12, ROWS[:5]), (72, "Db", "F#", 12, ROWS),
    (80, "Cb", "G#", 16, ROWS[:5]), (96, "Cb", "G#", 16, ROWS), (120, "Bbb", "A#", 20, ROWS),
]


@pytest.mark.parametrize(("basses", "first", "last", "columns", "rows"), CONFIGURATIONS)
def test_usual_configurations_have_the_buttons_of_their_name(basses, first, last, columns, rows):
    instrument = make_instrument(rows, first, columns)
    assert basses == len(list_buttons(instrument)) == columns * len(rows)
    assert name_button(("bass", list_columns(instrument)[-1])).name == last


def test_counterbass_lies_a_major_third_above_its_fundamental():
    assert name_button(("counterbass", 0)) == Tone.parse("E")
    assert name_button(("counterbass", -3)) == Tone.parse("G")
    assert name_button(("counterbass", 4)) == Tone.parse("G#")


# Wiki article "Stradella bass system": chord buttons sound three notes, 7 and d without the fifth.
@pytest.mark.parametrize(("row", "tones"), [
    ("major", "C E G"), ("minor", "C Eb G"), ("seventh", "C E Bb"), ("diminished", "C Eb A"),
])
def test_chord_buttons_sound_three_pitch_classes(row, tones):
    assert sound_classes(Button(row, 0), FULL) == {Tone.parse(name).pc for name in tones.split()}


def test_oddities_of_the_build_are_options():
    full_seventh = make_instrument(seventh_tones=(0, 4, 7, 10))
    assert sound_classes(Button("seventh", 1), full_seventh) == {7, 11, 2, 5}
    shifted = make_instrument(diminished_tones=(7, 10, 4))
    assert sound_classes(Button("diminished", 0), shifted) == sound_classes(Button("diminished", 1), FULL)


def test_every_bass_has_two_buttons_where_a_counterbass_row_doubles_it():
    assert find_basses(4, make_instrument(ROWS, "Eb", 8)) == (Button("counterbass", 0), Button("bass", 4))
    assert find_basses(4, TWELVE) == ()


@given(st.integers(-15, 15), st.sampled_from(["bass", "counterbass"]))
def test_bass_is_printed_on_or_below_the_middle_line(column, row):
    # Music Braille Code 1997 §25.4: basses below the middle line, chords above; exact boundary from memory.
    pitch = print_pitch(spell_press(Button(row, column), ()))
    assert Pitch.from_name("E2").diatonic <= pitch.diatonic <= D3.diatonic
    assert pitch.tone.pc == name_button((row, column)).pc


@given(st.integers(-15, 15), st.sampled_from(ROWS[2:]))
def test_chord_root_is_printed_above_the_middle_line(column, row):
    pitch = print_pitch(spell_press(Button(row, column), ()))
    assert D3.diatonic < pitch.diatonic <= Pitch.from_name("D4").diatonic


def test_a_letter_keeps_its_staff_place_whatever_its_accidental():
    places = {print_pitch(Press(Button("bass", tone.fifths), tone)).diatonic
              for tone in map(Tone.parse, ("Eb", "E", "E#"))}
    assert len(places) == 1


@given(st.sampled_from(list_buttons(FULL)))
def test_playback_sounds_the_buttons_pitch_classes_within_one_octave(button):
    keys = sound_keys(button, FULL)
    assert {key % 12 for key in keys} == sound_classes(button, FULL)
    assert max(keys) - min(keys) < 12
    assert list(keys) == sorted(keys)


def test_columns_run_diagonally_upwards_away_from_the_bellows():
    # Common practice, no source: the next row lies further out and a little nearer the chin.
    (x1, y1), (x2, y2) = locate_button(("bass", 0)), locate_button(("major", 0))
    assert x2 > x1
    assert 0 < y2 - y1 < locate_button(("bass", 1))[1] - y1


@given(st.sampled_from(list_buttons(FULL)), st.sampled_from(list_buttons(FULL)), st.integers(-3, 3))
def test_distances_are_symmetric_and_the_same_in_every_column(first, second, shift):
    moved = [Button(button.row, button.column + shift) for button in (first, second)]
    assert measure_distance(first, second) == measure_distance(second, first)
    assert measure_distance(*moved) == pytest.approx(measure_distance(first, second))
    assert measure_reach([first, second]) == measure_distance(first, second)


def test_spelling_follows_the_music_and_avoids_double_accidentals():
    button = Button("bass", 6)
    assert spell_press(button, (Tone.parse("Gb"),)).tone.name == "Gb"
    assert spell_press(button, ()).tone.name == "F#"
    assert spell_press(Button("bass", 3), (Tone.parse("Bbb"),)).tone.name == "A"
    assert spell_press(Button("counterbass", 10), ()).tone.name == "D"
