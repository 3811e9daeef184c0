"""Small arrangements for the grading tests: rhythms written as ones and zeros, or as onsets, in one or two hands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction as F

from bookbuild.arrange.model import Arrangement, Bar, BellowsSpan, Direction, Event, Role, Voice
from bookbuild.grading.difficulty import Difficulty, grade_music
from bookbuild.grading.parts import Music, read_music
from bookbuild.grading.weights import choose_weights
from bookbuild.lessons.model import ROWS, Instrument, Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Pitch, Tone

INSTRUMENT = Instrument("test", "", Pitch.from_name("F3"), Pitch.from_name("A6"), ROWS, Tone.parse("Eb"), 12)
PITCHES = {midi: Key.parse("C major").spell(midi % 12).at(midi // 12 - 1) for midi in range(36, 97)}
C_BASS, C_CHORD, G_BASS = ("bass", 0), ("major", 0), ("bass", 1)


def make_voice(role: Role, onsets: Sequence[F], end: F, keys: Sequence[tuple[int, ...]] = ((72,),),
               buttons: Sequence[tuple[str, int]] = ()) -> Voice:
    """Notes at rising onsets, each held to the next; `keys` and `buttons` are taken in turn. Silence before them."""
    events = [Event(F(0), onsets[0])] if onsets and onsets[0] else []
    for index, (onset, after) in enumerate(zip(onsets, [*onsets[1:], end], strict=False)):
        pitches = tuple(PITCHES[key] for key in keys[index % len(keys)])
        pressed = (buttons[index % len(buttons)],) if buttons else ()
        events.append(Event(onset, after - onset, pitches, buttons=pressed))
    return Voice(role, tuple(events or [Event(F(0), end)]))


def make_arrangement(voices: Iterable[Voice], bars: int, meter: str = "4/4", *, goal: int = 90, kind: str = "together",
                     key: str = "C major", bellows: tuple[BellowsSpan, ...] | None = None,
                     lengths: Sequence[F] = ()) -> Arrangement:
    """An arrangement of full bars (or of `lengths`, the first one numbered 0 when short), with its ladder's goal."""
    read = Meter.parse(meter)
    made, now, number = [], F(0), 1
    for index, length in enumerate(lengths or [read.bar] * bars):
        upbeat = index == 0 and length < read.bar
        made.append(Bar(now, length, 0 if upbeat else number, section="A" if index == 0 else ""))
        now, number = now + length, number + (not upbeat)
    spans = (BellowsSpan(F(0), now, Direction.OPEN),) if bellows is None else bellows
    return Arrangement(kind, read, Key.parse(key), tuple(made), tuple(voices), (), spans, (),
                       Tempo(goal // 2, goal, read.beat), (goal // 2, goal))


def read_onsets(pattern: str, pulse: F = F(1, 16)) -> list[F]:
    return [index * pulse for index, sign in enumerate(pattern) if sign == "1"]


def melody(onsets: Sequence[F], bars: int, keys: Sequence[tuple[int, ...]] = ((72,),), meter: str = "4/4") -> Voice:
    return make_voice(Role.MELODY, onsets, bars * Meter.parse(meter).bar, keys)


def left(onsets: Sequence[F], bars: int, buttons: Sequence[tuple[str, int]] = (C_BASS, C_CHORD),
         meter: str = "4/4") -> Voice:
    return make_voice(Role.LEFT, onsets, bars * Meter.parse(meter).bar, ((48,), (55,)), buttons)


def read(*voices: Voice, bars: int = 1, meter: str = "4/4", **options: object) -> Music:
    return read_music(make_arrangement(voices, bars, meter, **options))  # type: ignore[arg-type]


def grade_arrangement(made: Arrangement, instrument: Instrument, weights: Mapping[str, float] | None = None,
                      ) -> Difficulty:
    """How hard an arrangement is; `weights` are a teacher's."""
    return grade_music(read_music(made), instrument, choose_weights(weights or {}))


def grade(*voices: Voice, bars: int = 1, meter: str = "4/4", **options: object) -> Difficulty:
    return grade_arrangement(make_arrangement(voices, bars, meter, **options), INSTRUMENT)  # type: ignore[arg-type]
