from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from bookbuild.lessons.model import ChordSpan, MelodyNote, Place, Rights, Section, Stretch, Tempo, Tune
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report
from bookbuild.lessons.write_tune import tune_yaml
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch, Tone

METERS = [Meter(2, 4), Meter(3, 4), Meter(4, 4), Meter(6, 8), Meter(2, 2), Meter(5, 4), Meter(9, 8)]
PITCHES = st.builds(Pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(3, 6))
CHORDS = st.builds(
    lambda root, alter, quality, bass: Chord(Tone(root, alter), quality, Tone(bass) if bass is not None else None),
    st.integers(0, 6),
    st.integers(-1, 1),
    st.sampled_from(sorted(QUALITIES)),
    st.none() | st.integers(0, 6),
)


def read_back(text: str) -> Tune:
    report = Report()
    tune = parse_tune(text.encode(), "tune", "tunes/tune.yaml", report)
    assert report.in_order() == [] or all(d.severity.value == "note" for d in report.in_order()), report.in_order()
    assert tune is not None
    return tune


def make_tune(sections: tuple[Section, ...], meter: Meter, **more: object) -> Tune:
    tune = Tune(
        "tune", "A title", meter, Key.parse("G major"), Tempo(50, 96, meter.beat), sections,
        tuple(section.name for section in sections), Rights("traditional", "", "by ear"),
    )
    return replace(tune, **more)


@st.composite
def rhythms(draw: st.DrawFn, length: Fraction) -> list[Fraction]:
    """Lengths that fill a bar: plain values and whole tuplet groups."""
    values: list[Fraction] = []
    left = length
    plain = [Fraction(1, 2), Fraction(3, 8), Fraction(1, 4), Fraction(3, 16), Fraction(1, 8), Fraction(1, 16)]
    groups = [
        [Fraction(1, 12)] * 3, [Fraction(1, 6), Fraction(1, 12)], [Fraction(1, 24)] * 3, [Fraction(1, 20)] * 5,
        [Fraction(1, 24)] * 6, [Fraction(3, 16)] * 2, [Fraction(1, 10), Fraction(1, 20), Fraction(1, 10)],
    ]
    while left:
        options = [[value] for value in plain if value <= left] + [group for group in groups if sum(group) <= left]
        chosen = draw(st.sampled_from(options)) if options else [left]
        values += chosen
        left -= sum(chosen)
    return values


@st.composite
def stretches(draw: st.DrawFn, bars: tuple[Fraction, ...], meter: Meter) -> Stretch:
    """Random notes with ties over bar lines, fingers and breaths; chords that change on beats."""
    notes: list[MelodyNote] = []
    onset = Fraction(0)
    for bar in bars:
        for length in draw(rhythms(bar)):
            before = notes[-1] if notes else None
            if before is not None and before.pitch is not None and draw(st.integers(0, 4)) == 0 and not before.breath:
                notes[-1] = MelodyNote(before.onset, before.length + length, before.pitch, before.finger)
            else:
                pitch = draw(st.none() | PITCHES)
                finger = draw(st.integers(0, 5)) if pitch else 0
                notes.append(MelodyNote(onset, length, pitch, finger, draw(st.integers(0, 9)) == 0))
            onset += length
    spans: list[ChordSpan] = []
    moment = Fraction(0)
    while moment < onset:
        length = min(draw(st.sampled_from([meter.beat, meter.bar, Fraction(1, 8), 3 * meter.beat])), onset - moment)
        chord = draw(st.none() | CHORDS)
        if spans and spans[-1].chord == chord:
            spans[-1] = ChordSpan(spans[-1].onset, spans[-1].length + length, chord)
        else:
            spans.append(ChordSpan(moment, length, chord))
        moment += length
    return Stretch(bars, tuple(notes), tuple(spans))


@st.composite
def tunes(draw: st.DrawFn) -> Tune:
    meter = draw(st.sampled_from(METERS))
    upbeat = draw(st.sampled_from([Fraction(0), Fraction(1, 8), Fraction(1, 4)]))
    sections = []
    for name in ("A", "B"):
        full = (meter.bar,) * draw(st.integers(1, 3))
        last = meter.bar - upbeat if draw(st.booleans()) else meter.bar
        key = draw(st.none() | st.sampled_from([Key.parse("F major"), Key.parse("E minor")]))
        before = (upbeat,) if upbeat else ()
        if draw(st.booleans()):
            body = draw(stretches((*before, *full, last), meter))
            sections.append(Section(name, body, (), upbeat, key))
        else:
            body = draw(stretches((*before, *full), meter))
            endings = tuple(draw(stretches((meter.bar, last), meter)) for _ in range(2))
            sections.append(Section(name, body, endings, upbeat, key))
    return make_tune(tuple(sections), meter, form=("A", "A", "B", "B"), chords_suggested=draw(st.booleans()))


def without_place(tune: Tune) -> Tune:
    return replace(tune, place=Place(""))


@settings(max_examples=40, deadline=None)
@given(tunes())
def test_a_tune_written_is_read_back_the_same(tune: Tune) -> None:
    assert without_place(read_back(tune_yaml(tune))) == tune


@settings(max_examples=10, deadline=None)
@given(tunes())
def test_writing_what_was_read_changes_nothing(tune: Tune) -> None:
    text = tune_yaml(tune)
    assert tune_yaml(read_back(text)) == text
