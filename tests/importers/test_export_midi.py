"""MIDI written for practice, read back with mido: notes, repeats, swing, count-in, hands, tempi."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction

import mido
import pytest

from bookbuild.arrange.course import Exercise, arrange_course
from bookbuild.arrange.line import tune_line
from bookbuild.arrange.model import Arrangement, Bar, Event, Role, Voice
from bookbuild.export.midi import CLAP, TICKS, Hands, list_hands, midi_bytes, practice_files
from bookbuild.export.playing import play_order, swing_moment
from bookbuild.importers.abc import read_abc
from bookbuild.lessons.model import Course, Edition, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch

Q = Fraction(1, 4)
C5 = Pitch.from_name("C5")


def struck(data: bytes, channel: int) -> list[tuple[Fraction, Fraction, int]]:
    """(onset, end, MIDI key) of a channel in whole notes."""
    made, sounding = [], {}
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type not in ("note_on", "note_off") or message.channel != channel:
                continue
            if message.type == "note_on" and message.velocity:
                assert message.note not in sounding
                sounding[message.note] = now
            else:
                made.append((Fraction(sounding.pop(message.note), 4 * TICKS), Fraction(now, 4 * TICKS), message.note))
        assert not sounding
    return sorted(made)


def small(bars: tuple[Bar, ...], events: tuple[Event, ...], **more: object) -> Arrangement:
    made = Arrangement("melody", Meter(2, 4), Key.parse("C major"), bars, (Voice(Role.MELODY, events),), (), (), (),
                       Tempo(60, 90, Q))
    return replace(made, **more)  # type: ignore[arg-type]


def line_of(body: str) -> Arrangement:
    tune = read_abc(f"X:1\nM:2/4\nL:1/8\nK:C\n{body}\n", "t.abc")[0].tune
    assert tune is not None
    line = tune_line(tune, tune.form)
    events = tuple(Event(n.onset, n.length, (n.pitch,) if n.pitch else ()) for n in line.notes)
    return small(line.bars, events)


@pytest.mark.parametrize(("body", "played"), [
    ("C4|D4|]", "C D"),
    ("|:C4|D4:|", "C D C D"),
    ("|:C4|1 D4:|2 E4|]", "C D C E"),
    ("|:C4|1 D4:|2 E4:|3 F4||G4|]", "C D C E C F G"),
    ("C4||D4:|E4|]", "C D C D E"),
    ("|:C4:||:D4|1 E4:|2 F4||", "C C D E D F"),
])
def test_repeats_and_endings_are_played_out(body: str, played: str) -> None:
    arrangement = line_of(body)
    notes = struck(midi_bytes(arrangement, 60, count_in=False), 0)
    assert [key for _, _, key in notes] == [Pitch.from_name(f"{letter}4").midi for letter in played.split()]
    assert [onset for onset, _, _ in notes] == [Fraction(i, 2) for i in range(len(notes))]
    assert len(play_order(arrangement.bars)) == len(notes)


def test_count_in_is_a_bar_and_the_silent_part_of_the_upbeats_bar() -> None:
    bars = (Bar(Fraction(0), Fraction(1, 8), 0), Bar(Fraction(1, 8), Fraction(1, 2), 1))
    arrangement = small(bars, (Event(Fraction(0), Fraction(1, 8), (C5,)), Event(Fraction(1, 8), Fraction(1, 2), (C5,))))
    data = midi_bytes(arrangement, 60)
    assert [onset for onset, _, _ in struck(data, 9)] == [0, Q, 2 * Q]
    assert struck(data, 0)[0][0] == Fraction(1, 2) + Fraction(3, 8)


def test_tempo_counts_its_own_beat() -> None:
    """60 dotted quarters a minute are 90 quarters."""
    arrangement = replace(line_of("C4|"), tempo=Tempo(40, 60, Fraction(3, 8)))
    tempi = [m.tempo for t in mido.MidiFile(file=io.BytesIO(midi_bytes(arrangement, 60))).tracks for m in t
             if m.type == "set_tempo"]
    assert tempi == [round(60_000_000 / 90)]


def test_swing_gives_the_first_of_a_pair_two_thirds() -> None:
    eighth = Fraction(1, 8)
    bars = (Bar(Fraction(0), Fraction(1, 2), 1),)
    events = tuple(Event(eighth * i, eighth, (C5,)) for i in range(4))
    arrangement = small(bars, events, swing=Fraction(2, 3), swung=Q)
    assert [onset for onset, _, _ in struck(midi_bytes(arrangement, 60, count_in=False), 0)] == [
        0, Fraction(1, 6), Q, Q + Fraction(1, 6)]
    assert swing_moment(Q, arrangement) == Q


def test_swing_sounds_alike_however_it_is_counted(course: Course, edition: Edition) -> None:
    """Where syllables name note values a first beat may be counted whole: the groove's own slots swing all the same."""
    swung = [e for e in _arrange(course, edition) if e.arrangement.swing != Fraction(1, 2)]
    assert swung
    for name in course.countings:
        counted = {e.number: e.arrangement for e in _arrange(course, replace(edition, counting=name))}
        for exercise in swung:
            plain, other = exercise.arrangement, counted[exercise.number]
            assert midi_bytes(other, 60) == midi_bytes(plain, 60), (name, exercise.number)
        first = swung[0].arrangement
        eighth = first.meter.beat / 2
        assert swing_moment(eighth, counted[swung[0].number]) == eighth * 2 * first.swing


def _arrange(course: Course, edition: Edition) -> list[Exercise]:
    return [exercise for lesson in arrange_course(course, edition)[0] for exercise in lesson.exercises]


def test_a_chord_button_sounds_its_three_notes_and_claps_clap() -> None:
    bars = (Bar(Fraction(0), Fraction(1, 2), 1),)
    left = Voice(Role.LEFT, (Event(Fraction(0), Fraction(1, 2), (Pitch.from_name("C3"),), sounds=(48, 52, 55)),))
    clap = Voice(Role.CLAP, (Event(Fraction(0), Fraction(1, 2), (C5,)),))
    data = midi_bytes(small(bars, (), voices=(left, clap)), 60, count_in=False)
    assert [key for _, _, key in struck(data, 1)] == [48, 52, 55]
    assert [key for _, _, key in struck(data, 9)] == [CLAP]


def test_one_file_for_each_hand_and_tempo(exercises: list[Exercise]) -> None:
    both = next(e.arrangement for e in exercises if e.spec.kind == "together")
    files = practice_files(both, "x")
    assert set(files) == {(hands, tempo) for hands in Hands for tempo in both.ladder}
    right, left, together = (files[hands, both.ladder[0]] for hands in (Hands.RIGHT, Hands.LEFT, Hands.TOGETHER))
    assert struck(right, 0) == struck(together, 0) != []
    assert struck(left, 1) == struck(together, 1) != []
    assert struck(right, 1) == struck(left, 0) == []
    assert list_hands(next(e.arrangement for e in exercises if e.spec.kind == "melody")) == (Hands.TOGETHER,)


def test_every_exercise_of_the_demo_is_heard_as_arranged(exercises: list[Exercise]) -> None:
    """Pitches and moments of both hands, bar by bar in playing order, where nothing is swung or clapped."""
    for exercise in exercises:
        made = exercise.arrangement
        if made.swing != Fraction(1, 2):
            continue
        data = midi_bytes(made, made.tempo.goal, count_in=False)
        for channel, roles in ((0, {Role.MELODY, Role.FILL}), (1, {Role.LEFT, Role.BASS, Role.CHORD})):
            wanted, now = set(), Fraction(0)
            for index in play_order(made.bars):
                bar = made.bars[index]
                wanted |= {(now + event.onset - bar.onset, key) for voice in made.voices if voice.role in roles
                           for event in voice.events if bar.onset <= event.onset < bar.end
                           for key in (event.sounds or tuple(p.midi for p in event.pitches))}
                now += bar.length
            assert {(onset, key) for onset, _, key in struck(data, channel)} == wanted, exercise.number
