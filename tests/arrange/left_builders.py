"""Small instruments, grooves and lines for the left-hand tests."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from bookbuild.arrange.model import Bar, Event, Line, Voice
from bookbuild.lessons.model import ROWS, ChordSpan, Groove, Instrument, Source, Stroke
from bookbuild.theory.chords import QUALITIES, Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch, Tone

F = Fraction
NONE = F(0)
BASS_SIGNS = {"r": Source.ROOT, "f": Source.FIFTH, "t": Source.THIRD, "a": Source.ROOT}
CHORD_SIGNS = {"x": Source.CHORD, "a": Source.CHORD}


def make_instrument(rows: tuple[str, ...] = ROWS, first: str = "Bbb", columns: int = 20,
                    **options: object) -> Instrument:
    return Instrument("test", "Test", Pitch.from_name("F3"), Pitch.from_name("A6"), rows, Tone.parse(first), columns,
                      **options)  # type: ignore[arg-type]


FULL = make_instrument()
"""120 basses."""
TWO_FINGERS = make_instrument(fingering="two")
SIXTY = make_instrument(ROWS[:5], "Db", 12)
TWENTY_FOUR = make_instrument(ROWS[1:4], "Eb", 8)
TWELVE = make_instrument(ROWS[1:3], "Bb", 6)
EIGHT = make_instrument(ROWS[1:3], "F", 4)
INSTRUMENTS = (FULL, make_instrument(ROWS, "Cb", 16), make_instrument(ROWS, "Db", 12), SIXTY,
               make_instrument(ROWS[:5], "Eb", 8), TWENTY_FOUR, TWELVE, EIGHT, TWO_FINGERS)


def make_groove(meter: str, slots: int, bass: str = "", chord: str = "", accent: str = "", **parts: object) -> Groove:
    """A groove from rows of signs, one a slot: r f t a in the bass, x a in the chord, - held, > accent."""
    measure = Meter.parse(meter)
    slot = measure.beat / slots
    marks = accent.replace("|", " ").split()
    strokes = []
    longest = 0
    for row, signs in ((bass, BASS_SIGNS), (chord, CHORD_SIGNS)):
        tokens = row.replace("|", " ").split()
        longest = max(longest, len(tokens))
        for place, token in enumerate(tokens):
            if token in signs:
                after = place + 1
                while after < len(tokens) and tokens[after] == "-":
                    after += 1
                strokes.append(Stroke(place * slot, (after - place) * slot, signs[token],
                                      bool(marks) and marks[place] == ">", token == "a"))
    strokes.sort(key=lambda stroke: stroke.onset)
    bars = max(1, longest * slot / measure.bar)
    assert bars == int(bars)
    return Groove("test", "Test", measure, slots, int(bars), tuple(strokes), (), **parts)  # type: ignore[arg-type]


POLKA = make_groove("2/4", 2, "r . f .", ". x . x")
WALTZ = make_groove("3/4", 1, "r . .", ". x x")
BAIAO = make_groove("2/4", 4, "r - - . f - . .", ". . . a . . x -", "> . . . . . > .")
JIG = make_groove("6/8", 3, "r - . f - .", ". . x . . x")
SLOW = make_groove("4/4", 1, "r - - -", ". x x x")
"""A held bass under chords: two voices."""
WALK = make_groove("4/4", 1, "r . f . | r . t .", ". x . x | . x . x")
PUSHED = make_groove("4/4", 2, "r - . . f - . .", ". . x . . . . a")
GROOVES = (POLKA, WALTZ, BAIAO, JIG, SLOW, WALK, PUSHED,
           make_groove("4/4", 3, "r - . . . . f - . . . .", ". . . x - . . . . x - ."))


def read_chord(text: str) -> Chord | None:
    return None if text == "N.C." else Chord.parse(text)


def make_line(meter: str, chords: str, *, upbeat: Fraction = NONE, last: Fraction = NONE, key: str = "C major",
              marks: dict[int, dict[str, object]] | None = None) -> Line:
    """Bars of chord symbols separated by |, those of a bar sharing it evenly; `marks`: bar index -> Bar fields."""
    measure = Meter.parse(meter)
    rows = [row.split() for row in chords.split("|")]
    bars: list[Bar] = []
    spans: list[ChordSpan] = []
    now, number = F(0), 1
    if upbeat:
        bars.append(Bar(now, upbeat, 0, section="A"))
        spans.append(ChordSpan(now, upbeat, None))
        now += upbeat
    for index, row in enumerate(rows):
        length = last if last and index == len(rows) - 1 else measure.bar
        fields = {"section": "" if bars else "A", **(marks or {}).get(index, {})}
        bars.append(Bar(now, length, number, **fields))  # type: ignore[arg-type]
        share = length / len(row)
        spans += [ChordSpan(now + share * n, share, read_chord(text)) for n, text in enumerate(row)]
        now += length
        number += 1
    return Line(measure, Key.parse(key), tuple(bars), (), tuple(spans))


def write_event(event: Event) -> str:
    return "+".join(pitch.name for pitch in event.pitches) or "-"


def write_voice(voice: Voice, line: Line) -> str:
    """Printed notes bar by bar, with letters (C4^M) and, off the eighth, lengths: for reading in a test."""
    bars = []
    for bar in line.bars:
        events = [event for event in voice.events if bar.onset <= event.onset < bar.end]
        bars.append(" ".join(write_event(e) + (f"^{e.letter}" if e.letter else "") for e in events))
    return " | ".join(bars)


def write_times(voice: Voice) -> list[tuple[Fraction, Fraction]]:
    """(onset, length) of the notes."""
    return [(event.onset, event.length) for event in voice.events if event.pitches]


tones = st.integers(-8, 9).map(Tone.from_fifths)
chords = st.builds(Chord, tones, st.sampled_from(sorted(QUALITIES)), st.none() | tones)
central_tones = st.integers(-3, 3).map(Tone.from_fifths)
central_chords = st.builds(Chord, central_tones, st.sampled_from(sorted(QUALITIES)), st.none())


@st.composite
def instruments(draw: st.DrawFn) -> Instrument:
    low = draw(st.integers(0, 1))
    high = draw(st.integers(3, 6))
    columns = draw(st.integers(4, 20))
    first = Tone.from_fifths(draw(st.integers(-9, 10 - columns + 1 if columns < 19 else -9)))
    return Instrument(
        "test", "Test", Pitch.from_name("F3"), Pitch.from_name("A6"), ROWS[low:high], first, columns,
        seventh_tones=draw(st.sampled_from([(0, 4, 10), (0, 4, 7, 10), (4, 7, 10)])),
        diminished_tones=draw(st.sampled_from([(0, 3, 9), (0, 3, 6, 9), (7, 10, 4)])),
        fingering=draw(st.sampled_from(["two", "three"])),
    )


@st.composite
def lines(draw: st.DrawFn, meter: Meter) -> Line:
    """Lines with upbeats, short last bars, sections, repeats with endings, chords off the grid, N.C."""
    count = draw(st.integers(1, 8))
    grid = meter.beat / draw(st.sampled_from([1, 2, 3, 4]))
    bars: list[Bar] = []
    now, number = F(0), 1
    if draw(st.booleans()):
        upbeat = meter.bar - grid
        if upbeat:
            bars.append(Bar(now, upbeat, 0, section="A"))
            now += upbeat
    repeat = draw(st.sampled_from([(), (0, count), (0, count - 1), (count // 2, count)]))
    endings = draw(st.booleans()) and count > 3
    for index in range(count):
        length = grid if index == count - 1 and draw(st.booleans()) else meter.bar
        bars.append(Bar(
            now, length, number, section="A" if not bars else draw(st.sampled_from(["", "", "B"])),
            opens_repeat=bool(repeat) and index == repeat[0],
            closes_repeat=(index == count - 2 if endings else bool(repeat) and index == repeat[1] - 1),
            ending="1." if endings and index == count - 2 else "2." if endings and index == count - 1 else "",
            phrase_end=index % 2 == 1,
        ))
        now += length
        number += 1
    cuts = sorted({now * draw(st.integers(1, 15)) / 16 // grid * grid for _ in range(draw(st.integers(0, 6)))} - {F(0)})
    edges = [F(0), *cuts, now]
    spans = tuple(ChordSpan(a, b - a, draw(st.none() | chords)) for a, b in pairwise(edges))
    key = draw(st.sampled_from(["C major", "A minor", "Eb major", "E dorian"]))
    return Line(meter, Key.parse(key), tuple(bars), (), spans)


@st.composite
def tasks(draw: st.DrawFn) -> tuple[Line, Groove, Instrument]:
    groove = draw(st.sampled_from(GROOVES))
    return draw(lines(groove.meter)), groove, draw(instruments())
