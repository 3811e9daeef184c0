from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from left_builders import EIGHT, FULL, TWELVE, TWENTY_FOUR, central_chords, chords, instruments, make_instrument
from music21 import harmony

from bookbuild.arrange.combine import choose_combination, find_combinations
from bookbuild.arrange.groove_chord import groove_chord
from bookbuild.arrange.stradella import (
    BASS_ROWS,
    CHORD_ROWS,
    LETTERS,
    WIDEST_REACH,
    Button,
    is_bass,
    list_buttons,
    name_button,
    sound_classes,
    unite_classes,
)
from bookbuild.lessons.model import ROWS
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.pitch import Interval, Tone

# Exact unions of pitch classes on C: [D], derived by arithmetic from the buttons' tones (wiki "Stradella bass system").
EXACT = {
    "m7": "C + Eb M", "maj7": "C + E m", "7": "C + G d", "m7b5": "C + Eb m", "dim7": "C + Gb d", "dim": "C + Eb d",
    "6": "C + A + C M", "m6": "C + A + C m", "m(maj7)": "C + B + C m", "9": "C + C M + G m", "maj9": "C + E m + G M",
    "m9": "C + C m + G m", "7b9": "C + Bb + E d", "7#9": "C + Eb + G d", "add9": "C + D + C M", "aug7": "C + Ab + C 7",
    "7b5": "C + Gb 7", "maj7#5": "C + E M", "9sus4": "C + G m + Bb M",
}
IMPOSSIBLE = ("sus2", "sus4", "7sus4", "aug", "maj7b5")


def read_union(text):
    """`C + E m` -> (bass pitch classes, (letter, root pitch class) of the chord buttons)."""
    basses, chord_buttons = set(), set()
    for part in text.split(" + "):
        words = part.split()
        if len(words) == 1:
            basses.add(Tone.parse(words[0]).pc)
        else:
            chord_buttons.add((words[1], Tone.parse(words[0]).pc))
    return frozenset(basses), frozenset(chord_buttons)


def describe(combination):
    return (frozenset(name_button(button).pc for button in combination.basses),
            frozenset((LETTERS[button.row], name_button(button).pc) for button in combination.chords))


@pytest.mark.parametrize(("quality", "union"), EXACT.items())
def test_search_finds_the_published_union(quality, union):
    assert read_union(union) in {describe(found) for found in find_combinations(Chord.parse("C" + quality), FULL)}


@pytest.mark.parametrize("quality", IMPOSSIBLE)
def test_no_exact_union_exists(quality):
    for fifths in range(-5, 7):
        assert find_combinations(Chord(Tone.from_fifths(fifths), quality), FULL) == ()


@pytest.mark.parametrize("quality", sorted(set(QUALITIES) - set(IMPOSSIBLE)))
def test_every_other_quality_has_an_exact_union(quality):
    found = find_combinations(Chord.parse("C" + quality), FULL)
    assert found
    assert all(combination.exact and not combination.reason for combination in found)


@pytest.mark.parametrize(("symbol", "figure"), [
    ("C", "C"), ("Cm7", "Cm7"), ("Cmaj7", "Cmaj7"), ("C7", "C7"), ("Cm7b5", "Cø7"), ("Cdim7", "Co7"), ("Cdim", "Co"),
    ("C6", "C6"), ("Cm6", "Cm6"), ("C9", "C9"), ("Cmaj9", "CM9"), ("Cm9", "Cm9"),
])
def test_sounding_pitch_classes_agree_with_music21(symbol, figure):
    expected = set(harmony.ChordSymbol(figure).pitchClasses)
    best = find_combinations(Chord.parse(symbol), FULL)[0]
    assert unite_classes(best.buttons, FULL) == expected


@pytest.mark.parametrize("symbol", ["G7", "Am7", "Dm7/C", "Fadd9", "C6", "Gsus4", "Bb9"])
def test_search_agrees_with_brute_force_on_a_small_instrument(symbol):
    instrument = make_instrument(ROWS, "Bb", 5)
    chord = Chord.parse(symbol)
    target = chord.pcs | ({chord.bass.pc} if chord.bass else set())
    basses, chord_buttons = list_buttons(instrument, BASS_ROWS), list_buttons(instrument, CHORD_ROWS)
    root = (chord.bass or chord.root).pc
    expected = set()
    for low in (set(row) for count in (1, 2) for row in combinations(basses, count)):
        if root not in {name_button(button).pc for button in low}:
            continue
        for high in (set(row) for count in range(3) for row in combinations(chord_buttons, count)):
            pressed = low | high
            if unite_classes(pressed, instrument) == target:
                expected.add(frozenset(pressed))
    found = {frozenset(combination.buttons) for combination in find_combinations(chord, instrument)}
    assert found <= expected
    # What the search leaves out only adds idle buttons to something it found.
    assert all(any(kept <= pressed for kept in found) for pressed in expected)


@settings(deadline=None, max_examples=60)
@given(chords, instruments())
def test_exact_combinations_sound_the_chord_and_nothing_else(chord, instrument):
    target = chord.pcs | ({chord.bass.pc} if chord.bass else set())
    for found in find_combinations(chord, instrument)[:20]:
        assert unite_classes(found.buttons, instrument) == target
        assert set(found.buttons) <= set(list_buttons(instrument))
        assert name_button(found.basses[0]).pc == (chord.bass or chord.root).pc
        assert 1 <= len(found.basses) <= 2
        assert len(found.chords) <= 2


def test_best_needs_fewest_fingers_then_least_reach():
    ninth = find_combinations(Chord.parse("C9"), FULL)
    reachable = [found for found in ninth if found.reach <= WIDEST_REACH]
    assert len(ninth[0].buttons) == min(len(found.buttons) for found in reachable)
    assert ninth[0].buttons == (Button("bass", 0), Button("major", 0), Button("minor", 1))
    assert all(found.reach > WIDEST_REACH for found in ninth[len(reachable):])


def test_an_instrument_without_a_tone_of_the_chord_has_no_choice():
    assert choose_combination(Chord.parse("C"), make_instrument(("bass",), "F#", 1)) is None


@settings(deadline=None, max_examples=60)
@given(chords, instruments())
def test_nearest_choice_stays_inside_the_chord_and_within_reach(chord, instrument):
    choice = choose_combination(chord, instrument)
    if choice is None:
        allowed = chord.pcs | ({chord.bass.pc} if chord.bass else set())
        assert not any(sound_classes(b, instrument) <= allowed for b in list_buttons(instrument))
        return
    assert choice.reach <= WIDEST_REACH
    assert unite_classes(choice.buttons, instrument) <= chord.pcs | ({chord.bass.pc} if chord.bass else set())
    assert choice.exact == (choice.reason == "")


def test_nearest_choice_says_why():
    suspended = choose_combination(Chord.parse("Csus4"), FULL)
    assert suspended is not None
    assert suspended.reason == "Csus4: no buttons of this instrument sound it exactly; without the fifth"
    far = choose_combination(Chord.parse("Cm7/Bb"), make_instrument(ROWS[1:3], "Eb", 8))
    assert far is not None
    assert unite_classes(far.buttons, FULL) == {0, 3, 7, 10}


# Common practice, no source: the one chord button an accompanist takes.
GROOVE = {
    "": "C M", "m": "C m", "7": "C 7", "dim": "C d", "dim7": "C d", "m7": "C m", "maj7": "C M", "6": "C M", "m6": "C m",
    "9": "C 7", "13": "C 7", "7b9": "C 7", "7#9": "C 7", "7b5": "C 7", "aug7": "C 7", "aug": "C 7", "m9": "C m",
    "maj9": "C M", "add9": "C M", "madd9": "C m", "69": "C M", "m(maj7)": "C m", "m7b5": "Eb m", "maj7#5": "E M",
    "7sus4": "Bb M", "9sus4": "Bb M", "11": "Bb M",
}


def write_stroke(choice):
    return " ".join(f"{p.tone.name} {LETTERS.get(p.button.row, 'bass')}" for p in choice.chord)


@pytest.mark.parametrize(("quality", "button"), GROOVE.items())
def test_groove_takes_the_idiomatic_button(quality, button):
    choice = groove_chord(Chord.parse("C" + quality), FULL)
    assert write_stroke(choice) == button
    assert choice.root.button == Button("bass", 0)
    assert choice.root_notice == ""


@pytest.mark.parametrize(("quality", "basses"), [("sus4", "F bass G bass"), ("sus2", "G bass D bass"),
                                                 ("5", "C bass G bass")])
def test_where_no_chord_button_fits_basses_are_struck(quality, basses):
    choice = groove_chord(Chord.parse("C" + quality), FULL)
    assert write_stroke(choice) == basses
    assert "no chord button fits" in choice.notice


@pytest.mark.parametrize("quality", ["", "m", "7", "dim", "dim7"])
def test_plain_chords_need_no_words(quality):
    choice = groove_chord(Chord.parse("C" + quality), FULL)
    assert (choice.notice, choice.root_notice, choice.fifth_notice, choice.third_notice) == ("", "", "", "")


@pytest.mark.parametrize(("symbol", "instrument", "stroke", "notice"), [
    ("Am7", FULL, "A m", "Am7: play A minor (without the seventh G)"),
    ("G7", TWENTY_FOUR, "G M", "G7: there is no seventh row here; play G major (without the seventh F)"),
    ("Cdim", TWENTY_FOUR, "Eb m",
     "Cdim: there is no diminished row here; play E♭ minor over the bass C (with the seventh B♭ added)"),
    ("Am", TWELVE, "C M", "Am: there is no minor row here; play C major over the bass A (with the seventh G added)"),
    ("C7sus4", FULL, "Bb M", "C7sus4: play B♭ major over the bass C (with the ninth D added)"),
    ("Bm7b5", FULL, "D m", "Bm7♭5: play D minor over the bass B"),
])
def test_what_is_replaced_is_said(symbol, instrument, stroke, notice):
    choice = groove_chord(Chord.parse(symbol), instrument)
    assert (write_stroke(choice), choice.notice) == (stroke, notice)


def test_missing_basses_are_replaced_and_said():
    choice = groove_chord(Chord.parse("Em"), TWELVE)
    assert choice.root.tone.name == "G"
    assert choice.root_notice == "Em: there is no bass E here, take G"
    third = groove_chord(Chord.parse("C"), TWENTY_FOUR).third
    assert third.button == Button("bass", 4)  # no counterbass row: the fundamental of another column
    alone = groove_chord(Chord.parse("C"), TWELVE)
    assert alone.third == alone.root
    assert alone.third_notice == "C: no bass button for the third E within reach; repeat the bass C"
    nothing = groove_chord(Chord.parse("F#"), EIGHT)
    assert (nothing.root, nothing.chord) == (None, ())
    assert "the left hand rests" in nothing.notice


def test_slash_bass_and_its_alternation():
    over_third = groove_chord(Chord.parse("C/E"), FULL)
    assert over_third.root.button == Button("counterbass", 0)
    assert (over_third.fifth.tone.name, over_third.third.tone.name) == ("G", "C")
    over_fifth = groove_chord(Chord.parse("C/G"), FULL)
    assert (over_fifth.root.tone.name, over_fifth.fifth.tone.name) == ("G", "C")
    assert groove_chord(Chord.parse("C/D"), FULL).root.tone.name == "D"


def test_diminished_fifth_alternates_where_a_button_is_near():
    near = groove_chord(Chord.parse("Bdim"), FULL)
    assert near.fifth.tone.name == "F"
    far = groove_chord(Chord.parse("Bdim"), make_instrument(ROWS[1:], "Db", 12))
    assert far.fifth == far.root
    assert "repeat the bass B" in far.fifth_notice


@settings(deadline=None)
@given(chords, instruments())
def test_groove_chord_never_sounds_a_wrong_third_or_a_clash(chord, instrument):
    choice = groove_chord(chord, instrument)
    presses = [*choice.chord, *(p for p in (choice.root, choice.fifth, choice.third) if p)]
    assert {press.button for press in presses} <= set(list_buttons(instrument))
    assert all(press.tone.pc == name_button(press.button).pc for press in presses)
    thirds = {(i.semitones + chord.root.pc) % 12 for i in chord.intervals if i.steps == 2}
    for press in choice.chord:
        for pc in sound_classes(press.button, instrument) - chord.pcs:
            assert not any((pc - tone) % 12 in (1, 11) for tone in chord.pcs)
            assert (pc - chord.root.pc) % 12 not in (3, 4) or pc in thirds
    assert len(choice.chord) <= 2
    assert choice.root is None or is_bass(choice.root.button)


@settings(deadline=None, max_examples=40)
@given(central_chords)
def test_a_fifth_higher_every_button_is_one_column_further(chord):
    wide = replace(FULL, first_column=Tone.from_fifths(-11), columns=24)
    here, there = (groove_chord(c, wide) for c in (chord, chord.transpose(Interval(4, 7))))

    def shift(press):
        return Button(press.button.row, press.button.column + 1)

    assert [press.button for press in there.chord] == [shift(press) for press in here.chord]
    assert there.root.button == shift(here.root)
    assert there.fifth.button == shift(here.fifth)
    assert there.third.button == shift(here.third)
