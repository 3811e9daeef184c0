"""Every exercise kind over the demo course: rules kept, form, doubling, where the shake stands, tempo."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

import pytest

from bookbuild.arrange.check import check_arrangement
from bookbuild.arrange.course import Exercise, arrange_course
from bookbuild.arrange.exercises import Setting, arrange_exercise, home_key
from bookbuild.arrange.line import tune_line
from bookbuild.arrange.model import Direction, Role
from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import KINDS, Course, ExerciseSpec
from bookbuild.theory.chords import Chord


def test_every_kind_is_in_the_demo_course(exercises: list[Exercise]) -> None:
    assert {exercise.spec.kind for exercise in exercises} == set(KINDS)


@pytest.mark.parametrize("name", ["standard", "small-hands", "concert", "pocket"])
def test_the_demo_course_keeps_every_rule_in_every_edition(course: Course, name: str) -> None:
    edition = course.editions[name]
    lessons, findings = arrange_course(course, edition)
    assert not findings
    instrument = course.instruments[edition.instrument or course.default_instrument]
    for lesson in lessons:
        for exercise in lesson.exercises:
            made = check_arrangement(exercise.arrangement, instrument, exercise.groove, span=edition.widest_span)
            assert not made, f"{name} {exercise.number}: {made[0].message}"


def test_the_melody_is_the_tune_note_for_note(course: Course, setting: Setting) -> None:
    for tune in course.tunes.values():
        made = arrange_exercise(ExerciseSpec("melody", tune.name, sections=tune.form), tune, None, setting)
        line = tune_line(tune, tune.form)
        voice = made.voice(Role.MELODY)
        assert voice is not None
        played = [(event.onset, event.length, event.pitches[0]) for event in voice.events if event.pitches]
        assert played == [(note.onset, note.length, note.pitch) for note in line.notes if note.pitch]


def test_a_shaken_melody_is_doubled_and_opens_first(course: Course, setting: Setting) -> None:
    tune, groove = course.tunes["salt-and-lime"], course.grooves["cumbia"]
    made = arrange_exercise(ExerciseSpec("shake-melody", tune.name, groove.name), tune, groove, setting)
    plain = arrange_exercise(ExerciseSpec("melody", tune.name), tune, None, setting)
    shaken, single = made.voice(Role.MELODY), plain.voice(Role.MELODY)
    assert shaken is not None
    assert single is not None
    assert {event.length for event in shaken.events if event.pitches} == {F(1, 16)}
    for event in single.events:
        if event.pitches:
            strokes = [e for e in shaken.events if event.onset <= e.onset < event.end]
            assert len(strokes) == event.length / F(1, 16)
            assert {e.pitches for e in strokes} == {event.pitches}
    assert made.bellows[0].direction is Direction.OPEN
    assert made.bellows[0].stroke == F(1, 16)


def test_one_bass_is_shaken_in_even_strokes_stressed_where_the_groove_is(course: Course, setting: Setting) -> None:
    groove = course.grooves["polka"]
    spec = ExerciseSpec("shake-one-bass", "", groove.name, chord=Chord.parse("D"))
    voice = arrange_exercise(spec, None, groove, setting).voice(Role.LEFT)
    assert voice is not None
    assert {event.length for event in voice.events} == {F(1, 16)}
    assert len({event.pitches for event in voice.events}) == 1
    stressed = {event.onset % F(1, 2) for event in voice.events if event.accent}
    assert stressed == set(groove.shake_accents) == {F(0), F(1, 4)}


def test_an_arrangement_shakes_only_the_sections_asked_for(course: Course, setting: Setting) -> None:
    tune, groove = course.tunes["last-one-sweeps-the-floor"], course.grooves["polka"]
    spec = ExerciseSpec("arrangement", tune.name, groove.name, shake=("C",), introduction=4)
    made = arrange_exercise(spec, tune, groove, setting)
    start = next(bar.onset for bar in made.bars if bar.section == "C")
    shakes = [span for span in made.bellows if span.stroke]
    assert [span.onset for span in shakes] == [start]
    fill = made.voice(Role.FILL)
    assert fill is not None
    assert not any(event.pitches for event in fill.events if shakes[0].onset <= event.onset < shakes[0].end)
    assert made.bars[0].section == "introduction"
    assert [bar.section for bar in made.bars if bar.section] == ["introduction", "A", "B", "C", "A"]


def test_a_chord_that_enters_with_an_upbeat_is_named_over_the_first_beat(course: Course, setting: Setting) -> None:
    tune = read_abc('X:1\nM:2/4\nL:1/8\nK:G\n"G"d|"G"g4|"D7"a3 "G"b|"C"c\'4|]\n', "t.abc")[0].tune
    assert tune is not None
    made = arrange_exercise(ExerciseSpec("melody", tune.name), tune, None, setting)
    assert [(mark.onset, mark.chord.symbol) for mark in made.chord_marks if mark.chord] == [
        (F(1, 8), "G"), (F(5, 8), "D7"), (F(1), "G"), (F(9, 8), "C")]


def test_a_shape_is_not_struck_again_where_only_the_bass_changes(course: Course, setting: Setting) -> None:
    held = read_abc('X:1\nM:4/4\nL:1/4\nK:Am\n"Am"e2-"Am/C"e2|"Am"e2-"F"e2|]\n', "t.abc")[0].tune
    assert held is not None
    made = arrange_exercise(ExerciseSpec("shapes", held.name), held, None, setting)
    assert [event.onset for event in made.voices[0].events] == [F(0), F(1), F(3, 2)]


def test_bass_runs_walk_into_the_next_phrase_where_they_are_asked_for(course: Course, setting: Setting) -> None:
    """Common practice, no source: two eighths on the last beat of the phrase, by step into the next root."""
    tune, groove = course.tunes["last-one-sweeps-the-floor"], course.grooves["polka"]
    spec = ExerciseSpec("left-hand", tune.name, groove.name, sections=("A", "B"))
    plain, running = (arrange_exercise(replace(spec, runs=runs), tune, groove, setting) for runs in (False, True))
    names = [
        [event.pitches[0].name for event in made.voices[0].events if F(3, 2) <= event.onset < F(5, 2)]
        for made in (plain, running)
    ]
    assert names[0] == ["D3", "D4", "A2", "D4", "G2", "G3", "D3", "G3"]
    assert names[1] == ["D3", "D4", "E2", "F#2", "G2", "G3", "D3", "G3"]
    assert not check_arrangement(running, setting.instrument, groove)


def test_a_shake_is_never_asked_for_faster_than_an_arm_can_do(exercises: list[Exercise]) -> None:
    # 8 strokes a second: common practice, no source.
    for exercise in exercises:
        made = exercise.arrangement
        strokes = [span.stroke for span in made.bellows if span.stroke]
        if strokes:
            assert made.ladder[-1] * (made.tempo.beat / min(strokes)) <= 8 * 60


def test_letters_and_baiao_follow_common_practice(course: Course, setting: Setting) -> None:
    # Baião left hand: bass on 1 held three sixteenths, the chord on the fourth sixteenth anticipates beat 2
    # (common practice, no source).
    groove = course.grooves["baiao"]
    spec = ExerciseSpec("left-hand-one-chord", "", "baiao", chord=Chord.parse("G"))
    made = arrange_exercise(spec, None, groove, setting)
    voice = made.voice(Role.LEFT)
    assert voice is not None
    first = [(event.onset, event.length) for event in voice.events if event.onset < F(1, 2) and event.pitches]
    assert first == [(F(0), F(3, 16)), (F(3, 16), F(1, 16)), (F(1, 4), F(1, 8)), (F(3, 8), F(1, 8))]
    assert [stroke.anticipates for stroke in groove.strokes if stroke.onset == F(3, 16)] == [True]
    assert [event.letter for event in voice.events if event.letter] == ["M"]


@pytest.mark.parametrize(("chord", "key"), [
    ("C", "C major"), ("G7", "C major"), ("Am", "A minor"), ("Cmaj7", "C major"), ("Dm7", "D minor"),
    ("Bb7", "Eb major"),
])
def test_a_chord_alone_stands_in_the_key_it_suggests(chord: str, key: str) -> None:
    assert home_key(Chord.parse(chord)).name == key


def test_a_groove_of_another_meter_is_refused_in_words(course: Course, setting: Setting) -> None:
    tune, groove = course.tunes["wide-water"], course.grooves["polka"]
    with pytest.raises(ValueError, match="3/4"):
        arrange_exercise(ExerciseSpec("together", tune.name, groove.name), tune, groove, setting)


def test_music_of_an_upbeat_alone_is_arranged_or_refused_in_plain_words(course: Course, setting: Setting) -> None:
    tune = read_abc('X:1\nM:2/4\nL:1/8\nK:G\n"G"d||"G"g4|"D7"d4|]\n', "t.abc")[0].tune
    assert tune is not None
    groove, first = course.grooves["polka"], tune.sections[0]
    lead = replace(first, body=replace(first.body, bars=first.body.bars[:1], notes=first.body.notes[:1],
                                       chords=(replace(first.body.chords[0], length=first.body.bars[0]),)))
    assert lead.body.bars == (F(1, 8),)
    alone = replace(tune, sections=(lead,), form=(lead.name,))
    for kind in KINDS:
        assert arrange_exercise(ExerciseSpec(kind, alone.name, groove.name), alone, groove, setting).bars
    spec = ExerciseSpec("arrangement", alone.name, groove.name, introduction=2)
    with pytest.raises(ValueError, match="full bars"):
        arrange_exercise(spec, alone, groove, setting)


def test_bellows_shake_to_the_end_only_over_something_that_sounds(
    course: Course, setting: Setting, exercises: list[Exercise]
) -> None:
    """Bellows do not move while no button and no key lets air through."""
    tune = course.tunes["wide-water"]
    waltz = course.grooves["waltz"]
    section = ("A",)
    made = [
        arrange_exercise(ExerciseSpec(kind, tune.name, waltz.name, sections=section, **options), tune, waltz, setting)
        for kind, options in (("shake-groove", {}), ("shake-melody", {}), ("arrangement", {"shake": section}))
    ]
    made += [e.arrangement for e in exercises if any(span.stroke for span in e.arrangement.bellows)]
    assert len(made) > 10
    for arr in made:
        for span in (span for span in arr.bellows if span.stroke):
            last = span.end - span.stroke
            assert any(event.pitches and event.onset <= last < event.end
                       for voice in arr.voices for event in voice.events), (arr.kind, span)
    alone = made[0].voices[0].events
    assert alone[-1].pitches
    assert alone[-1].end == made[0].bars[-1].end
