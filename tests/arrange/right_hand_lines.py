"""Small lines, grooves and keyboards for the right-hand tests, written out or drawn at random."""

from __future__ import annotations

from fractions import Fraction as F

from hypothesis import strategies as st

from bookbuild.arrange.model import Bar, Line, Voice
from bookbuild.lessons.model import ChordSpan, Groove, Instrument, MelodyNote
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Interval, Key, Pitch, Tone


def make_keyboard(lowest: str = "F3", highest: str = "A6") -> Instrument:
    return Instrument("test", "", Pitch.from_name(lowest), Pitch.from_name(highest), ("bass", "major"),
                      Tone.parse("Bb"), 6)


WIDE = make_keyboard("C0", "C9")


def make_groove(meter: str, fill: tuple[tuple[F, F], ...], slots: int = 4, cell_bars: int = 1) -> Groove:
    return Groove("test", "", Meter.parse(meter), slots, cell_bars, (), fill)


def make_line(meter: str, key: str, bars: list[tuple[str, str]]) -> Line:
    """Bars as (notes, chords): `g'/4 r/8 d''*3/8` and chords evenly spread (`G D7`, `-` = none). A short first bar is
    an upbeat; a note ending in `~` is tied to the next bar's first."""
    moment, made, notes, chords = F(0), [], [], []
    tied = False
    for number, (melody, symbols) in enumerate(bars, start=1):
        start = moment
        for token in melody.split():
            name, _, value = token.rstrip("~").partition(":")
            pitch = None if name == "r" else Pitch.from_lily(name)
            if tied:
                notes[-1] = MelodyNote(notes[-1].onset, notes[-1].length + F(value), pitch)
            else:
                notes.append(MelodyNote(moment, F(value), pitch))
            moment, tied = moment + F(value), token.endswith("~")
        length = moment - start
        upbeat = number == 1 and length < Meter.parse(meter).bar
        begun = bool(made) and made[0].number == 0
        names = symbols.split()
        for place, symbol in enumerate(names):
            chord = None if symbol == "-" else Chord.parse(symbol)
            chords.append(ChordSpan(start + length * place / len(names), length / len(names), chord))
        made.append(Bar(start, length, 0 if upbeat else number - begun, section="A" if number == 1 else ""))
    return Line(Meter.parse(meter), Key.parse(key), tuple(made), tuple(notes), tuple(chords))


def show(voice: Voice) -> list[str]:
    """Sounding events as `onset length pitches`."""
    return [f"{event.onset} {event.length} {' '.join(pitch.name for pitch in event.pitches)}"
            for event in voice.events if event.pitches]


def assert_covers(voice: Voice, line: Line) -> None:
    """Events follow each other from 0 to the end; no rest crosses a barline; every bar is exactly full."""
    now = F(0)
    for event in voice.events:
        assert event.onset == now
        assert event.length > 0
        now = event.end
        if not event.pitches:
            assert not any(bar.onset < event.end and event.onset < bar.onset for bar in line.bars)
        assert not event.fingers or len(event.fingers) == len(event.pitches)
    assert now == line.length


def move_line(line: Line, interval: Interval) -> Line:
    """The line an interval away."""
    notes = tuple(MelodyNote(n.onset, n.length, n.pitch.transpose(interval) if n.pitch else None, n.finger, n.breath)
                  for n in line.notes)
    chords = tuple(ChordSpan(c.onset, c.length, c.chord.transpose(interval) if c.chord else None) for c in line.chords)
    return Line(line.meter, line.key.transpose(interval), line.bars, notes, chords)


intervals = st.sampled_from([Interval(1, 1), Interval(1, 2), Interval(2, 4), Interval(3, 5), Interval(4, 7),
                             Interval(-1, -2), Interval(-3, -5), Interval(7, 12), Interval(-7, -12)])

METERS = ("2/4", "3/4", "4/4", "2/2", "6/8", "9/8", "12/8", "3/8", "5/8")
KEYBOARDS = (("B3", "C6"), ("G3", "C6"), ("G3", "E6"), ("F3", "F6"), ("F3", "A6"))
"""Keyboards of FACTS §2: 26, 30, 34, 37 and 41 keys."""


@st.composite
def chords(draw: st.DrawFn) -> Chord | None:
    if draw(st.integers(0, 15)) == 0:
        return None
    return Chord(Tone.from_fifths(draw(st.integers(-4, 5))), draw(st.sampled_from(sorted(QUALITIES))))


def _bar_values(draw: st.DrawFn, meter: Meter, length: F) -> list[F]:
    """Note values that fill a bar: grid values, triplets now and then."""
    values, left = [], length
    while left:
        choices = [v for v in (F(1, 32), F(1, 16), F(1, 8), F(3, 16), F(1, 4), F(3, 8), F(1, 2), F(1)) if v <= left]
        if not meter.compound and left >= F(1, 4) and left % F(1, 4) == 0 and draw(st.integers(0, 5)) == 0:
            values += [F(1, 12)] * 3
            left -= F(1, 4)
            continue
        if left % F(1, 16) == 0 and len(choices) > 1:
            choices = choices[1:]
        values.append(draw(st.sampled_from(choices)))
        left -= values[-1]
    return values


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """One to four bars in any meter, with upbeat, rests, ties, triplets, given fingers, any chords anywhere."""
    meter = Meter.parse(draw(st.sampled_from(METERS)))
    key = Key(Tone.from_fifths(draw(st.integers(-4, 4))), draw(st.sampled_from(["major", "minor", "dorian"])))
    upbeat = draw(st.sampled_from([F(0), meter.beat]))
    lengths = [upbeat] * bool(upbeat) + [meter.bar] * draw(st.integers(1, 4))
    bars, notes, height, moment = [], [], draw(st.integers(58, 84)), F(0)
    for index, length in enumerate(lengths):
        upbeat_bar = bool(upbeat) and index == 0
        ending = draw(st.sampled_from(["", "", "", "1.", "2."])) if index > 1 else ""
        bars.append(Bar(moment, length, 0 if upbeat_bar else index + 1, section="A" if index == 0 else "",
                        ending=ending, closes_repeat=ending == "1."))
        for value in _bar_values(draw, meter, length):
            height = min(96, max(48, height + draw(st.integers(-5, 5))))
            pitch = None if draw(st.integers(0, 7)) == 0 else _spell(key, height)
            tie = notes and pitch and notes[-1].pitch == pitch and draw(st.booleans())
            if tie:
                notes[-1] = MelodyNote(notes[-1].onset, notes[-1].length + value, pitch, notes[-1].finger)
            else:
                finger = draw(st.sampled_from([0, 0, 0, 0, 1, 2, 3, 4, 5])) if pitch else 0
                notes.append(MelodyNote(moment, value, pitch, finger, draw(st.integers(0, 9)) == 0))
            moment += value
    return Line(meter, key, tuple(bars), tuple(notes), tuple(_chord_spans(draw, moment)))


def _chord_spans(draw: st.DrawFn, end: F) -> list[ChordSpan]:
    spans, moment = [], F(0)
    while moment < end:
        length = min(draw(st.sampled_from([F(1, 8), F(3, 16), F(1, 4), F(1, 2), F(3, 4), F(1)])), end - moment)
        spans.append(ChordSpan(moment, length, draw(chords())))
        moment += length
    return spans


def _spell(key: Key, midi: int) -> Pitch:
    tone = key.spell(midi % 12)
    return tone.at((midi - tone.at(0).midi) // 12)


@st.composite
def grooves(draw: st.DrawFn, meter: Meter) -> Groove:
    """A groove of that meter with random fill slots."""
    slots = draw(st.sampled_from([2, 3, 6] if meter.compound else [1, 2, 4]))
    slot, cell_bars = meter.beat / slots, draw(st.integers(1, 2))
    places = int(meter.bar * cell_bars / slot)
    struck = sorted(draw(st.sets(st.integers(0, places - 1))))
    fill = tuple((slot * place, slot * draw(st.integers(1, 3))) for place in struck)
    return Groove("random", "", meter, slots, cell_bars, (), fill)


@st.composite
def settings_of_play(draw: st.DrawFn) -> tuple[Line, Groove, Instrument, int]:
    """A line with a groove, a keyboard and a span."""
    line = draw(lines())
    keyboard = make_keyboard(*draw(st.sampled_from(KEYBOARDS)))
    return line, draw(grooves(line.meter)), keyboard, draw(st.sampled_from([7, 8, 9, 10, 12, 14]))
