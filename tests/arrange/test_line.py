"""Printed lines: repeats and endings as signs, upbeats, phrases, bar numbers, introductions."""

from __future__ import annotations

from fractions import Fraction as F

from hypothesis import given
from hypothesis import strategies as st

from bookbuild.arrange.line import chord_line, cut_line, introduction_line, join_lines, tune_line
from bookbuild.lessons.model import ChordSpan, Course, MelodyNote, Section, Stretch, Tempo, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch

C, G7 = Chord.parse("C"), Chord.parse("G7")
TWO = Meter(2, 4)


def stretch(bars: int, *, upbeat: F = F(0), short: F = F(0), chord: Chord = C, breath: int = -1) -> Stretch:
    """Half notes, one a bar; a short first or last bar when asked; a breath after note `breath`."""
    lengths = ([upbeat] if upbeat else []) + [F(1, 2)] * bars
    if short:
        lengths[-1] = F(1, 2) - short
    notes, now = [], F(0)
    for index, length in enumerate(lengths):
        notes.append(MelodyNote(now, length, Pitch.from_lily("c''"), breath=index == breath))
        now += length
    return Stretch(tuple(lengths), tuple(notes), (ChordSpan(F(0), now, chord),))


def tune(*sections: Section, form: str) -> Tune:
    return Tune("t", "T", TWO, Key.parse("C major"), Tempo(50, 80, F(1, 4)), sections, tuple(form.split()))


def test_equal_neighbours_become_a_repeat() -> None:
    line = tune_line(tune(Section("A", stretch(4)), Section("B", stretch(4, chord=G7)), form="A A B"), ("A", "A", "B"))
    assert [bar.number for bar in line.bars] == list(range(1, 9))
    assert [bar.number for bar in line.bars if bar.opens_repeat] == [1]
    assert [bar.number for bar in line.bars if bar.closes_repeat] == [4]
    assert [(bar.number, bar.section) for bar in line.bars if bar.section] == [(1, "A"), (5, "B")]


def test_endings_follow_the_body_one_on_each_pass() -> None:
    section = Section("A", stretch(3), (stretch(1, chord=G7), stretch(1)))
    line = tune_line(tune(section, form="A A"), ("A", "A"))
    assert [bar.ending for bar in line.bars] == ["", "", "", "1.", "2."]
    assert [bar.closes_repeat for bar in line.bars] == [False, False, False, True, False]


def test_a_section_played_once_takes_its_last_ending_without_signs() -> None:
    section = Section("A", stretch(3), (stretch(1, chord=G7), stretch(1)))
    line = tune_line(tune(section, form="A A"), ("A",))
    assert len(line.bars) == 4
    assert not any(bar.ending or bar.opens_repeat or bar.closes_repeat for bar in line.bars)
    assert line.chords == (ChordSpan(F(0), F(2), C),)


def test_an_upbeat_has_no_number_and_the_bar_it_completes_keeps_its_own() -> None:
    section = Section("A", stretch(4, upbeat=F(1, 8), short=F(1, 8)), upbeat=F(1, 8))
    line = tune_line(tune(section, form="A A"), ("A", "A"))
    assert [bar.number for bar in line.bars] == [0, 1, 2, 3, 4]
    assert line.length == 2


def test_phrases_end_where_the_teacher_breathes_else_every_four_bars() -> None:
    breathed = tune_line(tune(Section("A", stretch(6, breath=2)), form="A"), ("A",))
    assert [bar.number for bar in breathed.bars if bar.phrase_end] == [3, 6]
    plain = tune_line(tune(Section("A", stretch(8)), form="A"), ("A",))
    assert [bar.number for bar in plain.bars if bar.phrase_end] == [4, 8]


def test_notes_after_a_breath_inside_a_bar_are_a_pick_up_and_a_rest_is_not() -> None:
    half, note = Pitch.from_lily("c''"), MelodyNote(F(0), F(3, 8), Pitch.from_lily("c''"), breath=True)
    for after, lead in ((half, F(1, 8)), (None, F(0))):
        notes = (note, MelodyNote(F(3, 8), F(1, 8), after), MelodyNote(F(1, 2), F(1, 2), half))
        section = Section("A", Stretch((F(1, 2), F(1, 2)), notes, (ChordSpan(F(0), F(1), C),)))
        line = tune_line(tune(section, form="A"), ("A",))
        assert [(bar.phrase_end, bar.pickup) for bar in line.bars] == [(True, lead), (True, F(0))]


def test_a_trio_brings_its_own_key_signature_and_the_tunes_comes_back(course: Course) -> None:
    tune = course.tunes["last-one-sweeps-the-floor"]
    line = tune_line(tune, tune.form)
    assert line.key.name == "G major"
    assert [(bar.section, bar.key.name) for bar in line.bars if bar.key] == [("C", "C major"), ("A", "G major")]
    trio = next(bar.onset for bar in line.bars if bar.section == "C")
    assert [line.key_at(moment).name for moment in (trio - F(1, 8), trio, trio + 8)] == [
        "G major", "C major", "G major"]
    alone = tune_line(tune, ("C",))
    assert alone.key.name == "C major"
    assert not any(bar.key for bar in alone.bars)


def test_an_introduction_plays_the_closing_chords_of_the_first_section() -> None:
    chords = (ChordSpan(F(0), F(3, 2), C), ChordSpan(F(3, 2), F(1, 2), G7))
    section = Section("A", Stretch((F(1, 2),) * 4, stretch(4).notes, chords))
    line = tune_line(tune(section, form="A"), ("A",))
    whole = join_lines(introduction_line(line, 2), line)
    assert [bar.number for bar in whole.bars] == [1, 2, 3, 4, 5, 6]
    assert [(str(span.onset), span.chord) for span in whole.chords] == [("0", C), ("1/2", G7), ("1", C), ("5/2", G7)]
    assert whole.notes[0].pitch is None
    assert whole.notes[0].length == 1


@given(st.integers(1, 12), st.integers(1, 12))
def test_a_cut_line_is_filled_exactly(bars: int, kept: int) -> None:
    line = cut_line(chord_line(TWO, Key.parse("C major"), C, bars), kept)
    assert line.length == min(bars, kept) * TWO.bar
    assert sum(note.length for note in line.notes) == line.length
    assert sum(span.length for span in line.chords) == line.length
    assert line.bars[-1].phrase_end


def test_cutting_inside_a_repeat_closes_it() -> None:
    line = cut_line(tune_line(tune(Section("A", stretch(8)), form="A A"), ("A", "A")), 4)
    assert line.bars[-1].closes_repeat
