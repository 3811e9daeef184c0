"""Small arrangements for tests, built by hand from the model's classes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F

from bookbuild.arrange.model import (
    Arrangement,
    Bar,
    BellowsSpan,
    Count,
    CountState,
    Direction,
    Event,
    Line,
    Role,
    Voice,
)
from bookbuild.lessons.model import ROWS, Air, Groove, Instrument, MelodyNote, Source, Stroke, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch, Tone

TWO_FOUR = Meter(2, 4)
OPEN, CLOSE = Direction.OPEN, Direction.CLOSE
C3, C4, E4, G4, C5, D5 = (Pitch.from_name(name) for name in ("C3", "C4", "E4", "G4", "C5", "D5"))
TEMPO = Tempo(60, 96, F(1, 4))
C_BASS, C_MAJOR, C_SEVENTH = ("bass", 0), ("major", 0), ("seventh", 0)
INSTRUMENT = Instrument("test", "Test", Pitch.from_name("F3"), Pitch.from_name("A6"), ROWS, Tone.parse("Eb"), 8,
                        air=Air())
POLKA = Groove("polka", "Polka", TWO_FOUR, 2, 1, (
    Stroke(F(0), F(1, 8), Source.ROOT), Stroke(F(1, 8), F(1, 8), Source.CHORD),
    Stroke(F(1, 4), F(1, 8), Source.ROOT), Stroke(F(3, 8), F(1, 8), Source.CHORD)),
    fill=((F(1, 8), F(1, 8)), (F(3, 8), F(1, 8))))


def make_bars(count: int, meter: Meter = TWO_FOUR, *, phrase: int = 4, upbeat: F = F(0), **signs: dict[int, object],
              ) -> tuple[Bar, ...]:
    """`count` full bars after an optional upbeat, a phrase end every `phrase` bars.

    `signs` names a field of Bar and gives {bar number: value}, for example `closes_repeat={8: True}`.
    """
    bars = [Bar(F(0), upbeat, 0)] if upbeat else []
    bars += [Bar(upbeat + meter.bar * n, meter.bar, n + 1, phrase_end=(n + 1) % phrase == 0) for n in range(count)]
    for field, values in signs.items():
        bars = [replace(bar, **{field: values[bar.number]}) if bar.number in values else bar for bar in bars]
    return tuple(bars)


def make_voice(role: Role, end: F, *lengths: F, pitch: Pitch = C5, **fields: object) -> Voice:
    """Notes of these lengths, over and over, up to `end`; a negative length is a rest."""
    events, now, index = [], F(0), 0
    while now < end:
        length = lengths[index % len(lengths)]
        kept = min(abs(length), end - now)
        events.append(Event(now, kept, (pitch,), **fields) if length > 0 else Event(now, kept))
        now, index = now + kept, index + 1
    return Voice(role, tuple(events))


def _left_hand(bars: int) -> Voice:
    bass = Event(F(0), F(1, 8), (C3,), (4,), buttons=(C_BASS,))
    chord = Event(F(0), F(1, 8), (C4,), (3,), buttons=(C_MAJOR,))
    beats = range(2 * bars)
    events = [replace(event, onset=F(beat, 4) + at) for beat in beats for event, at in ((bass, F(0)), (chord, F(1, 8)))]
    return Voice(Role.LEFT, (events[0], replace(events[1], letter="M"), *events[2:]))


def _counts(bars: int) -> tuple[Count, ...]:
    made = []
    for bar in range(bars):
        for slot, text in enumerate(("1", "&", "2", "&")):
            state = CountState.STRUCK if slot == 0 else CountState.OFF
            made.append(Count(F(bar, 2) + F(slot, 8), F(1, 8), text, state))
    return tuple(made)


def good_arrangement(kind: str = "fill") -> Arrangement:
    """Eight bars of 2/4 in C: a half note a bar held over fill strokes on the &s, a polka below, four bars each way."""
    bars = make_bars(8)
    end = bars[-1].end
    fill = tuple(Event(F(n, 8), F(1, 8), (E4, G4) if n % 2 else (), hidden=n % 2 == 0) for n in range(32))
    voices = (make_voice(Role.MELODY, end, F(1, 2), fingers=(5,)), Voice(Role.FILL, fill), _left_hand(8))
    return Arrangement(kind, TWO_FOUR, Key.parse("C major"), bars, voices, _counts(8),
                       (BellowsSpan(F(0), F(2), OPEN), BellowsSpan(F(2), F(4), CLOSE)), (), TEMPO)


def good_line() -> Line:
    """The tune behind `good_arrangement`."""
    notes = tuple(MelodyNote(F(n, 2), F(1, 2), C5) for n in range(8))
    return Line(TWO_FOUR, Key.parse("C major"), make_bars(8), notes, ())


def shaken_arrangement() -> Arrangement:
    """The same eight bars without fill: four bars of shake in sixteenths, then four bars of opening and closing."""
    arr = good_arrangement("arrangement")
    sixteenths = tuple(Event(F(n, 16), F(1, 16), (C5,)) for n in range(32))
    melody = Voice(Role.MELODY, sixteenths + arr.voices[0].events[4:])
    counts = tuple(replace(count, state=CountState.STRUCK) if count.onset < 2 else count for count in arr.counts)
    bellows = (BellowsSpan(F(0), F(2), OPEN, F(1, 16)), BellowsSpan(F(2), F(3), OPEN), BellowsSpan(F(3), F(4), CLOSE))
    return replace(arr, voices=(melody, arr.voices[2]), counts=counts, bellows=bellows)


def change_voice(arr: Arrangement, role: Role, index: int, **fields: object) -> Arrangement:
    """The arrangement with one event of one voice changed."""
    def change(voice: Voice) -> Voice:
        events = enumerate(voice.events)
        return Voice(role, tuple(replace(event, **fields) if k == index else event for k, event in events))

    return replace(arr, voices=tuple(change(voice) if voice.role is role else voice for voice in arr.voices))


def change_item(arr: Arrangement, field: str, index: int, **fields: object) -> Arrangement:
    """The arrangement with one bar, count or bellows span changed."""
    items = tuple(replace(item, **fields) if k == index else item for k, item in enumerate(getattr(arr, field)))
    return replace(arr, **{field: items})


def bare_arrangement(bars: tuple[Bar, ...], voices: tuple[Voice, ...], spans: tuple[BellowsSpan, ...],
                     tempo: Tempo = TEMPO, notices: tuple[str, ...] = (), meter: Meter = TWO_FOUR) -> Arrangement:
    """Voices with their bellows plan, without counting."""
    return Arrangement("melody", meter, Key.parse("C major"), bars, voices, (), spans, (), tempo, notices=notices)
