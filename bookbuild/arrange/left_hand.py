"""The left hand of a line: a groove over its chords and bars, on the buttons of an instrument, as printed voices."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from bookbuild.arrange.groove_chord import GrooveChord, groove_chord
from bookbuild.arrange.left_close import close_strokes
from bookbuild.arrange.left_strokes import Struck, strike_groove
from bookbuild.arrange.model import Event, Line, Role, Voice
from bookbuild.arrange.stradella import LETTERS, Button, Press, is_bass, print_pitch, sound_keys
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, Groove, Instrument, Source
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Pitch


@dataclass(frozen=True)
class LeftHand:
    """The left hand's voices (one LEFT, or BASS and CHORD where the two sound across each other) and its remarks."""

    voices: tuple[Voice, ...]
    notices: tuple[str, ...]


@dataclass(frozen=True)
class Pressed:
    """Buttons pressed together from `onset` to `end`, as a bass or as a chord stroke."""

    onset: Fraction
    end: Fraction
    presses: tuple[Press, ...]
    is_bass: bool
    accent: bool = False
    printed: Pitch | None = None
    """Where a single bass is printed if not at its usual place, so that a run moves by step on paper too."""

    @property
    def buttons(self) -> frozenset[Button]:
        """The buttons under the fingers."""
        return frozenset(press.button for press in self.presses)


def left_hand_voice(line: Line, groove: Groove, instrument: Instrument, *, chord: Chord | None = None,
                    close: bool = True, held: bool = False) -> LeftHand:
    """The groove over a line: voices that fill [0, line.length] with bass notes, chord roots and rests.

    `chord` holds throughout when given; `close` ends the last bar idiomatically (`left_close`), `held` to its very end.
    Events carry buttons, the MIDI keys heard, accents, and a letter at the first chord stroke, wherever the kind of
    chord changes and where a repeat or an ending begins, for it is reached from elsewhere too; no fingers yet
    (`left_fingering`). Notices say once a chord what the player replaces. Raises ValueError when the groove does not
    fit the meter.
    """
    strokes, line = lay_strokes(line, groove, chord=chord, close=close, held=held)
    pressed, notices = press_strokes(strokes, instrument)
    return LeftHand(build_voices(pressed, line, groove.meter.beat, instrument), notices)


def lay_strokes(line: Line, groove: Groove, *, chord: Chord | None, close: bool,
                held: bool = False) -> tuple[tuple[Struck, ...], Line]:
    """The groove's strokes over the line, and the line with the chords they follow. Raises ValueError as above."""
    if chord is not None:
        line = replace(line, chords=(ChordSpan(Fraction(0), line.length, chord),))
    strokes = strike_groove(line, groove)
    return (close_strokes(strokes, line, groove, held=held) if close and not groove.ending else strokes), line


def press_strokes(
    strokes: Sequence[Struck], instrument: Instrument
) -> tuple[tuple[Pressed, ...], tuple[str, ...]]:
    """The buttons of each stroke, and what has to be said about them; a stroke without a button is left out."""
    made: list[Pressed] = []
    notices: dict[str, None] = {}
    for stroke in strokes:
        choice = groove_chord(stroke.chord, instrument)
        presses, remark = _choose_presses(choice, stroke.source)
        notices.update({remark: None} if remark else {})
        if presses:
            made.append(Pressed(stroke.onset, stroke.end, presses, stroke.is_bass, stroke.accent))
    return tuple(_free_buttons(made)), tuple(notices)


def _choose_presses(choice: GrooveChord, source: Source) -> tuple[tuple[Press, ...], str]:
    """The presses of a stroke and the remark that goes with them."""
    if source is Source.CHORD:
        return choice.chord, choice.notice
    press, remark = {
        Source.ROOT: (choice.root, choice.root_notice),
        Source.FIFTH: (choice.fifth, choice.fifth_notice),
        Source.THIRD: (choice.third, choice.third_notice),
    }[source]
    return ((press,) if press else ()), remark


def _free_buttons(pressed: Iterable[Pressed]) -> list[Pressed]:
    """A chord stroke of bass buttons leaves out the button a bass stroke holds down at that moment."""
    strokes = list(pressed)
    basses = [stroke for stroke in strokes if stroke.is_bass]
    made = []
    for stroke in strokes:
        if not stroke.is_bass and any(is_bass(button) for button in stroke.buttons):
            held = {button for bass in basses if bass.onset < stroke.end and stroke.onset < bass.end
                    for button in bass.buttons}
            stroke = replace(stroke, presses=tuple(p for p in stroke.presses if p.button not in held))
        if stroke.presses:
            made.append(stroke)
    return made


def build_voices(pressed: Sequence[Pressed], line: Line, beat: Fraction, instrument: Instrument) -> tuple[Voice, ...]:
    """Printed voices: one where strokes follow each other or fall together, else basses and chords apart."""
    basses = [stroke for stroke in pressed if stroke.is_bass]
    chords = [stroke for stroke in pressed if not stroke.is_bass]
    if _cross_anywhere(basses, chords):
        rows = [(Role.BASS, basses), (Role.CHORD, chords)]
    else:
        rows = [(Role.LEFT, _join_strokes(pressed))]
    fresh = [bar.onset for before, bar in pairwise(line.bars)
             if bar.opens_repeat or (bar.ending and bar.ending != before.ending)]
    return tuple(
        Voice(role, _close_gaps(_write_events(strokes, instrument, fresh), line, beat)) for role, strokes in rows)


def _cross_anywhere(basses: Sequence[Pressed], chords: Sequence[Pressed]) -> bool:
    """True when a bass and a chord stroke cross; both in order of onset, strokes of a kind one after the other."""
    start = 0
    for bass in basses:
        while start < len(chords) and chords[start].end <= bass.onset:
            start += 1
        for chord in chords[start:]:
            if chord.onset >= bass.end:
                break
            if _cross(bass, chord):
                return True
    return False


def _cross(first: Pressed, second: Pressed) -> bool:
    """True when two strokes overlap in time without beginning and ending together."""
    together = first.onset == second.onset and first.end == second.end
    return not together and first.onset < second.end and second.onset < first.end


def _join_strokes(pressed: Sequence[Pressed]) -> list[Pressed]:
    """Strokes in order, a bass and a chord that fall together as one."""
    joined: list[Pressed] = []
    for stroke in sorted(pressed, key=lambda stroke: (stroke.onset, not stroke.is_bass)):
        if joined and joined[-1].onset == stroke.onset:
            before = joined.pop()
            stroke = replace(before, presses=before.presses + stroke.presses, accent=before.accent or stroke.accent)
        joined.append(stroke)
    return joined


def _write_events(strokes: Iterable[Pressed], instrument: Instrument, fresh: Sequence[Fraction]) -> list[Event]:
    """Each stroke as an event, with its letter where the kind of chord changes and at the `fresh` starts."""
    events: list[Event] = []
    shown, since = "", Fraction(0)
    for stroke in strokes:
        presses = sorted(stroke.presses, key=lambda press: print_pitch(press).midi)
        letter = " ".join(LETTERS[press.button.row] for press in presses if not is_bass(press.button))
        if letter and any(since < start <= stroke.onset for start in fresh):
            shown = ""
        since = stroke.onset if letter else since
        events.append(Event(
            stroke.onset, stroke.end - stroke.onset,
            pitches=(stroke.printed,) if stroke.printed else tuple(print_pitch(press) for press in presses),
            letter=letter if letter != shown else "",
            accent=stroke.accent,
            sounds=tuple(sorted({key for press in presses for key in sound_keys(press.button, instrument)})),
            buttons=tuple(press.button for press in presses),
        ))
        shown = letter or shown
    return events


def _close_gaps(events: Sequence[Event], line: Line, beat: Fraction) -> tuple[Event, ...]:
    """The events with rests between them: an empty bar is one rest; from off the beat a rest first runs to the beat.

    The beats of an upbeat bar count from where a full bar would have begun.
    """
    closed: list[Event] = []
    now, place = Fraction(0), 0
    for event in (*events, Event(line.length, Fraction(0))):
        while now < event.onset:
            while line.bars[place].end <= now:
                place += 1
            bar = line.bars[place]
            start = bar.end - line.meter.bar if bar.number == 0 else bar.onset
            stop = start + _rest_end(now - start, min(event.onset, bar.end) - start, beat)
            if now == bar.onset and event.onset >= bar.end:
                stop = bar.end
            closed.append(Event(now, stop - now))
            now = stop
        if event.length:
            closed.append(event)
            now = event.end
    return tuple(closed)


def _rest_end(start: Fraction, stop: Fraction, beat: Fraction) -> Fraction:
    """Where a rest that begins at `start` in its bar ends, when silence lasts until `stop`."""
    if start % beat:
        return min(stop, (start // beat + 1) * beat)
    whole_beats = stop - stop % beat
    return whole_beats if whole_beats > start else stop
