"""Every exercise kind, computed from a tune, a groove and an instrument. One function a kind; `arrange_exercise` chooses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from bookbuild.arrange.bellows import plan_bellows
from bookbuild.arrange.clap import clap_voice
from bookbuild.arrange.counts import count_bars
from bookbuild.arrange.fill import fill_voices
from bookbuild.arrange.left_fingering import finger_left_hand
from bookbuild.arrange.left_hand import left_hand_voice
from bookbuild.arrange.line import chord_line, cut_line, introduction_line, join_lines, tune_line
from bookbuild.arrange.model import Arrangement, BellowsSpan, Event, Line, Role, Voice
from bookbuild.arrange.right_fingering import finger_melody
from bookbuild.arrange.right_hand import melody_voice, shapes_voice
from bookbuild.arrange.shake import comfortable_goal, merge_plan, shake_notes, shake_span
from bookbuild.lessons.model import Counting, ExerciseSpec, Groove, Instrument, Tempo, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Key
from bookbuild.theory.tempo import tempo_ladder

STROKE = Fraction(1, 16)
"""A bellows stroke in a shake: even sixteenths (common practice)."""
ONE_CHORD_BARS = 4
SHAKE_BARS = 4
DEFAULT_TEMPO = Tempo(50, 80, Fraction(1, 4))


@dataclass(frozen=True)
class Setting:
    """For whom the music is arranged: the instrument, how beats are counted, the widest right-hand grip in semitones."""

    instrument: Instrument
    counting: Counting
    span: int = 12


@dataclass(frozen=True)
class Ask:
    """One exercise to arrange: what the week asks for, with its tune and groove looked up."""

    spec: ExerciseSpec
    tune: Tune | None
    groove: Groove | None
    setting: Setting

    @property
    def sections(self) -> tuple[str, ...]:
        """The sections to play: those named, an arrangement's whole form, else the first section."""
        assert self.tune is not None
        if self.spec.sections:
            return self.spec.sections
        return self.tune.form if self.spec.kind == "arrangement" else self.tune.form[:1]

    def line(self) -> Line:
        """The tune's sections, cut to the bars asked for."""
        assert self.tune is not None
        line = tune_line(self.tune, self.sections)
        return cut_line(line, self.spec.bars) if self.spec.bars else line

    def chord(self) -> Chord:
        """The one chord of an exercise on one chord: the one named, else the tune's tonic."""
        if self.spec.chord:
            return self.spec.chord
        if self.tune is None:
            return Chord.parse("C")
        return Chord(self.tune.key.tonic, "m" if self.tune.key.tones[2].pc == (self.tune.key.tonic.pc + 3) % 12 else "")

    def plain_line(self, bars: int) -> Line:
        """Bars on the one chord, in the groove's meter (else the tune's)."""
        chord = self.chord()
        meter = self.groove.meter if self.groove else self.tune.meter if self.tune else None
        assert meter is not None
        key = self.tune.key if self.tune else Key(chord.root, "minor" if chord.quality.startswith("m") and not
                                                  chord.quality.startswith("maj") else "major")
        return chord_line(meter, key, chord, self.spec.bars or bars)


@dataclass(frozen=True)
class Draft:
    """An exercise before counting, bellows and ladder. `shakes` are (onset, end) of shaken stretches."""

    line: Line
    voices: tuple[Voice, ...]
    notices: tuple[str, ...] = ()
    chord_marks: bool = True
    shakes: tuple[tuple[Fraction, Fraction], ...] = ()


def _left(ask: Ask, line: Line) -> tuple[tuple[Voice, ...], tuple[str, ...]]:
    assert ask.groove is not None
    hand = left_hand_voice(line, ask.groove, ask.setting.instrument)
    return finger_left_hand(hand.voices, ask.setting.instrument), hand.notices


def _right(ask: Ask, line: Line, how: str) -> tuple[tuple[Voice, ...], tuple[str, ...]]:
    """The right hand as melody, shapes or fill."""
    instrument, span = ask.setting.instrument, ask.setting.span
    if how == "fill":
        assert ask.groove is not None
        melody, fill, notices = fill_voices(line, ask.groove, instrument, span)
        return (melody, fill), notices
    if how == "shapes":
        voice, notices = shapes_voice(line, instrument, span)
        return (voice,), notices
    voice, notices = melody_voice(line, instrument)
    return (finger_melody(voice),), notices


def _count(ask: Ask) -> Draft:
    line = ask.line() if ask.tune else ask.plain_line(ONE_CHORD_BARS)
    return Draft(line, (clap_voice(line),), chord_marks=False)


def _left_one_chord(ask: Ask) -> Draft:
    line = ask.plain_line(ONE_CHORD_BARS)
    return Draft(line, *_left(ask, line))


def _left_changes(ask: Ask) -> Draft:
    line = ask.line()
    return Draft(line, *_left(ask, line))


def _right_alone(how: str) -> Callable[[Ask], Draft]:
    def arrange(ask: Ask) -> Draft:
        line = ask.line()
        return Draft(line, *_right(ask, line, how))
    return arrange


def _together(ask: Ask) -> Draft:
    line = ask.line()
    right, said = _right(ask, line, ask.spec.right or "melody")
    left, said_left = _left(ask, line)
    return Draft(line, right + left, said + said_left)


def _shake_one_bass(ask: Ask) -> Draft:
    """One bass button held through a stream of sixteenths: every stroke of the bellows is one written sixteenth."""
    line = ask.plain_line(2)
    held = left_hand_voice(line, _held_bass(ask), ask.setting.instrument)
    voice = shake_notes(held.voices[0], STROKE)
    return Draft(line, finger_left_hand((voice,), ask.setting.instrument), held.notices, shakes=((Fraction(0), line.length),))


def _held_bass(ask: Ask) -> Groove:
    """A groove of one long bass note a bar."""
    from bookbuild.lessons.model import Source, Stroke

    meter = ask.groove.meter if ask.groove else ask.tune.meter if ask.tune else None
    assert meter is not None
    return Groove("held bass", "", meter, 1, 1, (Stroke(Fraction(0), meter.bar, Source.ROOT),), ())


def _shake_groove(ask: Ask) -> Draft:
    """The groove's left hand inside the stream; the right hand holds the chord, which the bellows turn to sixteenths."""
    line = ask.line() if ask.tune and not ask.spec.chord else ask.plain_line(SHAKE_BARS)
    line = cut_line(line, ask.spec.bars or 2 * SHAKE_BARS)
    left, said = _left(ask, line)
    return Draft(line, left, said, shakes=((Fraction(0), line.length),))


def _shake_melody(ask: Ask) -> Draft:
    """Every written melody note doubled by the bellows; the groove below when one is given."""
    line = ask.line()
    right, said = _right(ask, line, "melody")
    shaken = tuple(shake_notes(voice, STROKE) for voice in right)
    left, said_left = _left(ask, line) if ask.groove else ((), ())
    return Draft(line, shaken + left, said + said_left, shakes=((Fraction(0), line.length),))


def _arrangement(ask: Ask) -> Draft:
    """Introduction and the whole form; the sections asked for are shaken, their melody doubled and their fill left out."""
    line = ask.line()
    if ask.spec.introduction:
        line = join_lines(introduction_line(line, ask.spec.introduction), line)
    shakes = tuple(_section_spans(line, ask.spec.shake))
    left, said_left = _left(ask, line)
    right, said = _right(ask, line, ask.spec.right or "fill")
    right = tuple(_shake_voice(voice, shakes) for voice in right)
    return Draft(line, right + left, said + said_left, shakes=shakes)


def _section_spans(line: Line, names: Sequence[str]) -> list[tuple[Fraction, Fraction]]:
    starts = [i for i, bar in enumerate(line.bars) if bar.section] + [len(line.bars)]
    return [(line.bars[a].onset, line.bars[b - 1].end) for a, b in zip(starts, starts[1:], strict=False)
            if line.bars[a].section in names]


def _shake_voice(voice: Voice, shakes: Sequence[tuple[Fraction, Fraction]]) -> Voice:
    """A right-hand voice with its shaken stretches doubled (melody) or silenced (fill)."""
    events: list[Event] = []
    for event in voice.events:
        inside = any(onset <= event.onset < end for onset, end in shakes)
        if not inside or not event.pitches:
            events.append(event)
        elif voice.role is Role.FILL:
            events.append(Event(event.onset, event.length, hidden=True))
        else:
            events += shake_notes(Voice(voice.role, (event,)), STROKE).events
    return Voice(voice.role, tuple(events))


_KINDS: dict[str, Callable[[Ask], Draft]] = {
    "count": _count, "left-hand-one-chord": _left_one_chord, "left-hand": _left_changes,
    "melody": _right_alone("melody"), "shapes": _right_alone("shapes"), "fill": _right_alone("fill"),
    "together": _together, "shake-one-bass": _shake_one_bass, "shake-groove": _shake_groove,
    "shake-melody": _shake_melody, "arrangement": _arrangement,
}


def _tempo(ask: Ask, line: Line, shaken: bool) -> Tempo:
    given = ask.tune.tempo if ask.tune else replace(DEFAULT_TEMPO, beat=line.meter.beat)
    start, goal = ask.spec.start or given.start, ask.spec.goal or given.goal
    if shaken:
        # A stream of sixteenths is only asked for as fast as an arm can do it.
        goal = min(goal, comfortable_goal(STROKE, given.beat))
        start = min(start, goal)
    return Tempo(start, max(start, goal), given.beat)


def _bellows(draft: Draft, tempo: Tempo, setting: Setting) -> tuple[tuple[BellowsSpan, ...], tuple[str, ...]]:
    if all(voice.role is Role.CLAP for voice in draft.voices):
        return (), ()
    shakes = tuple(shake_span(onset, end, STROKE) for onset, end in draft.shakes)
    spans, notices = plan_bellows(draft.line.bars, draft.voices, tempo, setting.instrument.air, fixed=shakes)
    return merge_plan(shakes, spans), notices


def arrange_exercise(spec: ExerciseSpec, tune: Tune | None, groove: Groove | None, setting: Setting) -> Arrangement:
    """The complete arrangement of an exercise.

    Raises ValueError, in the teacher's words, where the groove's meter or the counting table does not fit the tune.
    """
    ask = Ask(spec, tune, groove, setting)
    draft = _KINDS[spec.kind](ask)
    tempo = _tempo(ask, draft.line, bool(draft.shakes))
    bellows, said = _bellows(draft, tempo, setting)
    slots = groove.slots if groove and groove.meter.beat == draft.line.meter.beat else 1
    if draft.shakes:
        slots = max(slots, int(draft.line.meter.beat / STROKE))
    counts = count_bars(draft.line.bars, draft.line.meter, draft.voices, setting.counting, slots)
    return Arrangement(
        kind=spec.kind, meter=draft.line.meter, key=draft.line.key, bars=draft.line.bars, voices=draft.voices,
        counts=counts, bellows=bellows, chord_marks=draft.line.chords if draft.chord_marks else (), tempo=tempo,
        ladder=tuple(tempo_ladder(tempo.start, tempo.goal)), swing=groove.swing if groove else Fraction(1, 2),
        notices=tuple(dict.fromkeys(draft.notices + said)),
    )
