"""MusicXML written from arrangements: valid, and read back by music21 with the same notes in both hands."""

from __future__ import annotations

from fractions import Fraction
from xml.etree import ElementTree

import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from musicxml_schema import schema_errors

from bookbuild.arrange.course import Exercise
from bookbuild.arrange.model import Arrangement, Bar, Event, Role, Voice
from bookbuild.export.musicxml import arrangement_musicxml
from bookbuild.export.pieces import cut_pieces
from bookbuild.importers.read import read_bytes
from bookbuild.lessons.model import Course, Rights, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.notes import is_printable
from bookbuild.theory.pitch import Key, Pitch
from tests.importers.reading import tune_musicxml


def wanted_notes(arrangement: Arrangement, roles: set[Role]) -> set[tuple[Fraction, int]]:
    return {(event.onset, pitch.midi) for voice in arrangement.voices if voice.role in roles for event in voice.events
            for pitch in event.pitches}


def found_notes(part: music21.stream.Stream) -> set[tuple[Fraction, int]]:
    """Onsets and keys of a part; a tied-on note counts once."""
    made = set()
    for element in part.recurse().notes:
        if isinstance(element, music21.harmony.ChordSymbol):
            continue
        onset = Fraction(element.getOffsetInHierarchy(part)).limit_denominator(5000) / 4
        for note in element.notes if isinstance(element, music21.chord.Chord) else [element]:
            if isinstance(note, music21.note.Note) and not (note.tie and note.tie.type in ("stop", "continue")):
                made.add((onset, note.pitch.midi))
    return made


def element_of(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.split("\n", 2)[2])


def test_every_exercise_of_the_demo_is_valid(exercises: list[Exercise]) -> None:
    """Against the schema that music21 carries (version 2.0, of which 4.0 keeps every element used here)."""
    for exercise in exercises:
        assert schema_errors(arrangement_musicxml(exercise.arrangement, exercise.number, counting=True)) == []


@pytest.mark.parametrize("kind", ["fill", "together", "left-hand", "shake-melody", "arrangement", "shapes"])
def test_both_hands_are_read_back(kind: str, exercises: list[Exercise]) -> None:
    made = next(e.arrangement for e in exercises if e.spec.kind == kind)
    parsed = music21.converter.parseData(arrangement_musicxml(made, kind), format="musicxml")
    right, left = {Role.MELODY, Role.FILL}, {Role.LEFT, Role.BASS, Role.CHORD}
    hands = [wanted_notes(made, roles) for roles in (right, left) if wanted_notes(made, roles)]
    assert [found_notes(part) for part in parsed.parts] == hands


def test_a_trios_key_is_read_back(exercises: list[Exercise]) -> None:
    made = next(e.arrangement for e in exercises if any(bar.key for bar in e.arrangement.bars))
    parsed = music21.converter.parseData(arrangement_musicxml(made, "dance"), format="musicxml")
    found = [key.sharps for key in parsed.parts[0].recurse().getElementsByClass(music21.key.KeySignature)]
    assert found == [made.key.signature, *(bar.key.signature for bar in made.bars if bar.key)]


def test_fingers_tempo_title_and_rights(exercises: list[Exercise]) -> None:
    made = next(e.arrangement for e in exercises if e.spec.kind == "melody")
    root = element_of(arrangement_musicxml(made, "A & B", Rights("Someone", "", "<free>")))
    assert root.findtext("work/work-title") == "A & B"
    assert root.findtext("identification/rights") == "<free>"
    written = [int(f.text or 0) for f in root.iter("fingering")]
    assert written == [f for voice in made.voices for event in voice.events for f in event.fingers if f]
    assert root.findtext(".//per-minute") == str(made.tempo.goal)


def test_counting_is_written_only_where_asked(exercises: list[Exercise]) -> None:
    made = next(e.arrangement for e in exercises if e.spec.kind == "melody")
    assert "<lyric" not in arrangement_musicxml(made, "x")
    assert "1" in [text.text for text in element_of(arrangement_musicxml(made, "x", counting=True)).iter("text")]


def test_demo_tunes_go_out_and_come_back(course: Course) -> None:
    """Exported as MusicXML and imported again: the same melody and chords in playing order."""
    from bookbuild.arrange.line import tune_line

    for tune in course.tunes.values():
        again = read_bytes(tune_musicxml(tune).encode(), "t.musicxml")[0]
        assert again.tune is not None, (tune.name, again.reason)
        first, second = (tune_line(t, t.form) for t in (tune, again.tune))
        assert [(n.onset, n.length, n.pitch) for n in first.notes if n.pitch] == [
            (n.onset, n.length, n.pitch) for n in second.notes if n.pitch], tune.name
        assert [(s.onset, s.chord) for s in first.chords if s.chord] == [
            (s.onset, s.chord) for s in second.chords if s.chord], tune.name
        assert (again.tune.key, again.tune.meter, again.tune.title) == (tune.key, tune.meter, tune.title)
        assert again.tune.rights.composer == tune.rights.composer


LENGTHS = [Fraction(text) for text in ["1/16", "1/8", "3/16", "1/4", "3/8", "1/2", "5/8", "1/12", "1/6", "1/24"]]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(LENGTHS), min_size=1, max_size=12),
       st.sampled_from([Meter(2, 4), Meter(3, 4), Meter(4, 4), Meter(6, 8)]))
def test_pieces_are_printable_and_fill_the_bars(lengths: list[Fraction], meter: Meter) -> None:
    """Whatever the rhythm: every piece is one printable value, pieces fill the bar, ties join one event's pieces."""
    events, now = [], Fraction(0)
    for index, length in enumerate(lengths):
        events.append(Event(now, length, (Pitch(index % 7, 0, 5),)))
        now += length
    count = -(-now // meter.bar)
    if now < count * meter.bar:
        events.append(Event(now, count * meter.bar - now))
    bars = [Bar(meter.bar * i, meter.bar, i + 1) for i in range(count)]
    pieces = [cut_pieces(events, bar, meter) for bar in bars]
    for row in pieces:
        assert sum(piece.length for piece in row) == meter.bar
        assert all(is_printable(piece.value) for piece in row)
        assert sum(piece.opens for piece in row) == sum(piece.closes for piece in row)
    for event in events:
        own = [piece for row in pieces for piece in row if piece.event is event]
        assert sum(piece.length for piece in own) == event.length
        if event.pitches:
            assert [piece.tied_in for piece in own] == [False] + [True] * (len(own) - 1)
            assert [piece.tied_out for piece in own] == [True] * (len(own) - 1) + [False]


def test_a_bare_arrangement_without_left_hand_has_one_staff() -> None:
    bars = (Bar(Fraction(0), Fraction(1, 2), 1),)
    made = Arrangement("melody", Meter(2, 4), Key.parse("E minor"), bars,
                       (Voice(Role.MELODY, (Event(Fraction(0), Fraction(1, 2), (Pitch.from_name("E5"),)),)),),
                       (), (), (), Tempo(60, 90, Fraction(1, 4)))
    text = arrangement_musicxml(made, "x")
    assert "<staves>" not in text
    assert "<mode>minor</mode>" in text
