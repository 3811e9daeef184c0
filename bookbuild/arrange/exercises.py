"""Every exercise kind, computed from tune, groove and instrument: a function a kind; `arrange_exercise` chooses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from bookbuild.arrange.bass_runs import with_bass_runs
from bookbuild.arrange.bellows import plan_bellows
from bookbuild.arrange.clap import clap_voice
from bookbuild.arrange.counts import count_bars
from bookbuild.arrange.fill import fill_voices
from bookbuild.arrange.left_fingering import finger_left_hand
from bookbuild.arrange.left_hand import left_hand_voice
from bookbuild.arrange.line import chord_line, cut_line, introduction_line, join_lines, tune_line
from bookbuild.arrange.model import Arrangement, BellowsSpan, Event, Line, Role, Voice
from bookbuild.arrange.notices import say
from bookbuild.arrange.right_hand import melody_voice, shapes_voice
from bookbuild.arrange.shake import (
    accent_strokes,
    choose_stroke,
    comfortable_goal,
    find_off_stroke,
    note_stroke_parity,
    plan_shakes,
    shake_notes,
)
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, Counting, ExerciseSpec, Groove, Instrument, Source, Stroke, Tempo, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Interval, Key
from bookbuild.theory.tempo import tempo_ladder

ONE_CHORD_BARS = 4
ONE_BASS_BARS = 2
SHAKE_BARS = 4
DEFAULT_TEMPO = (50, 80)
"""Ladder ends of an exercise without a tune, in beats a minute."""


@dataclass(frozen=True)
class Setting:
    """For whom the music is arranged: the instrument, how beats are counted, the widest grip in semitones."""

    instrument: Instrument
    counting: Counting
    span: int = 12


def home_key(chord: Chord) -> Key:
    """The key a chord alone suggests: its own major or minor, a dominant seventh the key it leads to."""
    third, seventh = (chord.root.pc + 3) % 12 in chord.pcs, (chord.root.pc + 10) % 12 in chord.pcs
    if seventh and not third:
        return Key(chord.root.transpose(Interval(-4, -7)), "major")
    return Key(chord.root, "minor" if third else "major")


def choose_sections(spec: ExerciseSpec, tune: Tune) -> tuple[str, ...]:
    """Names of the sections an exercise plays: those named, an arrangement's whole form, else the first."""
    return spec.sections or (tune.form if spec.kind == "arrangement" else tune.form[:1])


@dataclass(frozen=True)
class Ask:
    """One exercise to arrange: what the week asks for, with its tune and groove looked up."""

    spec: ExerciseSpec
    tune: Tune | None
    groove: Groove | None
    setting: Setting

    @property
    def sections(self) -> tuple[str, ...]:
        """The sections to play."""
        assert self.tune is not None
        return choose_sections(self.spec, self.tune)

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
        key = self.tune.key if self.tune else home_key(chord)
        return chord_line(meter, key, chord, self.spec.bars or bars)


@dataclass(frozen=True)
class Draft:
    """An exercise before counting, bellows and ladder; `shakes` are its shaken stretches."""

    line: Line
    voices: tuple[Voice, ...]
    notices: tuple[str, ...] = ()
    chord_marks: bool = True
    shakes: tuple[BellowsSpan, ...] = ()


def _left(ask: Ask, line: Line, *, held: bool = False) -> tuple[tuple[Voice, ...], tuple[str, ...]]:
    assert ask.groove is not None
    play = with_bass_runs if ask.spec.runs else left_hand_voice
    hand = play(line, ask.groove, ask.setting.instrument, held=held)
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
    return (voice,), notices


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


def _shake_all(line: Line) -> tuple[BellowsSpan, ...]:
    return plan_shakes([(Fraction(0), line.length)], choose_stroke(line.meter))


def _shake_one_bass(ask: Ask) -> Draft:
    """One bass button through a stream of strokes: every stroke of the bellows is one written note."""
    line = ask.plain_line(ONE_BASS_BARS)
    held = Groove("", "", line.meter, 1, 1, (Stroke(Fraction(0), line.meter.bar, Source.ROOT),), ())
    hand = left_hand_voice(line, held, ask.setting.instrument, close=False)
    voices = finger_left_hand(hand.voices, ask.setting.instrument)
    shaken = (_stress(ask, shake_notes(voice, choose_stroke(line.meter)), line) for voice in voices)
    return Draft(line, tuple(shaken), hand.notices, shakes=_shake_all(line))


def _ends_silent(voices: Sequence[Voice]) -> bool:
    """True when no voice sounds at the end."""
    return not any(voice.events and voice.events[-1].pitches for voice in voices)


def _stress(ask: Ask, voice: Voice, line: Line) -> Voice:
    """A shaken voice with the accents of the groove's `shake` row."""
    if ask.groove is None:
        return voice
    start = next((bar.onset for bar in line.bars if bar.number), line.length)
    return accent_strokes(voice, ask.groove.shake_accents, ask.groove.cell, start)


def _shake_groove(ask: Ask) -> Draft:
    """The groove's left hand inside the stream of strokes."""
    line = ask.line() if ask.tune and not ask.spec.chord else ask.plain_line(SHAKE_BARS)
    if not ask.spec.bars:
        line = cut_line(line, 2 * SHAKE_BARS)
    left, said = _left(ask, line, held=True)
    return Draft(line, left, said, shakes=_shake_all(line))


def _shake_melody(ask: Ask) -> Draft:
    """Every written melody note doubled by the bellows; the groove below when one is given."""
    line = ask.line()
    shakes = _shake_all(line)
    right, said = _right(ask, line, "melody")
    left, said_left = _left(ask, line, held=_ends_silent(right)) if ask.groove else ((), ())
    shaken = tuple(_stress(ask, _shake_voice(voice, shakes), line) for voice in right)
    return Draft(line, shaken + left, said + said_left, shakes=shakes)


def _arrangement(ask: Ask) -> Draft:
    """Introduction and whole form; sections asked for are shaken: their melody doubled, their fill left out."""
    line = ask.line()
    if ask.spec.introduction:
        line = join_lines(introduction_line(line, ask.spec.introduction), line)
    shakes = plan_shakes(_section_stretches(line, ask.spec.shake), choose_stroke(line.meter))
    right, said = _right(ask, line, ask.spec.right or "fill")
    shaken_last = bool(shakes) and shakes[-1].end == line.length
    left, said_left = _left(ask, line, held=shaken_last and _ends_silent(right))
    if shakes:
        plain, _ = _right(ask, line, "melody")
        right = tuple(_splice(voice, plain[0], shakes) if voice.role is Role.MELODY else voice for voice in right)
    return Draft(line, tuple(_shake_voice(voice, shakes) for voice in right) + left, said + said_left, shakes=shakes)


def _splice(voice: Voice, plain: Voice, shakes: Sequence[BellowsSpan]) -> Voice:
    """A voice with the plain melody and its own fingers in the shaken stretches, where there is no fill to hold."""
    def inside(event: Event) -> bool:
        return any(span.onset <= event.onset < span.end for span in shakes)

    events = [event for event in voice.events if not inside(event)] + [event for event in plain.events if inside(event)]
    return Voice(voice.role, tuple(sorted(events, key=lambda event: event.onset)))


def _section_stretches(line: Line, names: Sequence[str]) -> Iterator[tuple[Fraction, Fraction]]:
    """(onset, end) of the printed sections of these names."""
    starts = [i for i, bar in enumerate(line.bars) if bar.section] + [len(line.bars)]
    for first, after in pairwise(starts):
        if line.bars[first].section in names:
            yield line.bars[first].onset, line.bars[after - 1].end


def _shake_voice(voice: Voice, shakes: Sequence[BellowsSpan]) -> Voice:
    """A right-hand voice with its shaken stretches doubled (melody) or silenced (fill)."""
    if voice.role is not Role.FILL:
        stroke = shakes[0].stroke if shakes else None
        return shake_notes(voice, stroke, shakes) if stroke else voice
    return Voice(
        voice.role,
        tuple(
            Event(event.onset, event.length, hidden=True)
            if any(s.onset <= event.onset < s.end for s in shakes)
            else event
            for event in voice.events
        ),
    )


_KINDS: dict[str, Callable[[Ask], Draft]] = {
    "count": _count,
    "left-hand-one-chord": _left_one_chord,
    "left-hand": _left_changes,
    "melody": _right_alone("melody"),
    "shapes": _right_alone("shapes"),
    "fill": _right_alone("fill"),
    "together": _together,
    "shake-one-bass": _shake_one_bass,
    "shake-groove": _shake_groove,
    "shake-melody": _shake_melody,
    "arrangement": _arrangement,
}


def _tempo(ask: Ask, draft: Draft) -> Tempo:
    meter = draft.line.meter
    given = ask.tune.tempo if ask.tune else Tempo(*DEFAULT_TEMPO, meter.beat)
    start, goal = ask.spec.start or given.start, ask.spec.goal or given.goal
    if draft.shakes:
        # A shake is only asked for as fast as an arm can do it without strain.
        goal = min(goal, comfortable_goal(choose_stroke(meter), given.beat))
        start = min(start, goal)
    return Tempo(start, max(start, goal), given.beat)


def _bellows(draft: Draft, tempo: Tempo, setting: Setting) -> tuple[tuple[BellowsSpan, ...], tuple[str, ...]]:
    if all(voice.role is Role.CLAP for voice in draft.voices):
        return (), ()
    spans, notices = plan_bellows(draft.line.bars, draft.voices, tempo, setting.instrument.air, fixed=draft.shakes)
    if draft.shakes:
        notices += (note_stroke_parity(draft.line.meter.beat, choose_stroke(draft.line.meter)),)
    if any(find_off_stroke(voice, span) for span in draft.shakes for voice in draft.voices):
        notices += (say("say.off-stroke"),)
    return spans, notices


def _slots(ask: Ask, draft: Draft) -> int:
    """Counting slots in a beat: the groove's."""
    in_beat = draft.line.meter.beat / ask.groove.slot if ask.groove else Fraction(1)
    return int(in_beat) if in_beat.denominator == 1 else 1


def _chord_marks(line: Line) -> tuple[ChordSpan, ...]:
    """The chord symbols to print: at every change, and again where a section or an ending begins.

    A chord that enters with an upbeat and goes on stands over the first beat, where the left hand takes it.
    """
    sections = {bar.onset for bar in line.bars if bar.section}
    sections |= {bar.onset for before, bar in pairwise(line.bars) if bar.ending != before.ending}
    upbeats = {bar.onset: bar.end for bar in line.bars if bar.number == 0}
    marks = []
    for span in line.chords:
        cuts = [span.onset, *sorted(t for t in sections if span.onset < t < span.end), span.end]
        for start, end in pairwise(cuts):
            first = upbeats.get(start, start)
            first = first if first < end else start
            marks.append(ChordSpan(first, end - first, span.chord))
    return tuple(marks)


def arrange_exercise(spec: ExerciseSpec, tune: Tune | None, groove: Groove | None, setting: Setting) -> Arrangement:
    """The complete arrangement of an exercise.

    Raises ValueError, in the teacher's words, where the groove's meter or the counting table does not fit the tune.
    """
    ask = Ask(spec, tune, groove, setting)
    draft = _KINDS[spec.kind](ask)
    line = draft.line
    tempo = _tempo(ask, draft)
    bellows, said = _bellows(draft, tempo, setting)
    slots = _slots(ask, draft)
    counts = count_bars(line.bars, line.meter, draft.voices, setting.counting, slots, draft.shakes)
    return Arrangement(
        kind=spec.kind,
        meter=line.meter,
        key=line.key,
        bars=line.bars,
        voices=draft.voices,
        counts=counts,
        bellows=bellows,
        chord_marks=_chord_marks(line) if draft.chord_marks else (),
        tempo=tempo,
        ladder=tempo_ladder(tempo.start, tempo.goal),
        swing=groove.swing if groove else Fraction(1, 2),
        swung=2 * groove.slot if groove else Fraction(0),
        notices=tuple(dict.fromkeys(filter(None, draft.notices + said))),
    )
