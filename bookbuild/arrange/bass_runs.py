"""Bass runs: at the end of a phrase the left hand walks by step into the root of the next chord. Common practice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

from bookbuild.arrange.left_hand import LeftHand, Pressed, build_voices, lay_strokes, press_strokes
from bookbuild.arrange.model import Bar, Line
from bookbuild.arrange.moments import read_moments
from bookbuild.arrange.playing_order import list_plain_joins
from bookbuild.arrange.stradella import (
    BASS_FLOOR,
    CHORD_FLOOR,
    Press,
    find_basses,
    measure_distance,
    print_pitch,
    spell_press,
)
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Groove, Instrument
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Key, Pitch, Tone

CHROMATIC, REPEATED, FOLDED = 1.0, 0.75, 0.6
"""What a note outside the scale, a repeated first note, and a line broken by the fold into the bass clef cost a run
(common practice, no source)."""
RUN_FLOOR = BASS_FLOOR - 2
"""Lowest staff place of a run: C2, two places below the usual basses."""
_MOST = 1.5
"""The dearest run still played: one that would repeat a note and leave the scale as well is better left out."""
_LEAP = {1: 0.0, 2: 0.0, 3: 0.5, 4: 0.5, 5: 1.0}
"""Semitones from the old bass to the first note of the run -> cost."""


@dataclass(frozen=True)
class _Join:
    """A barline a run may lead over: the run's moments and chord, the bass it leaves and the one it reaches."""

    moments: tuple[Fraction, ...]
    end: Fraction
    chord: Chord
    start: Press
    goal: Press


def with_bass_runs(line: Line, groove: Groove, instrument: Instrument, *, close: bool = True,
                   held: bool = False) -> LeftHand:
    """`left_hand_voice` with a run of bass notes into the next phrase wherever the bass changes there.

    A run takes the last beat of a bar of two (two notes; three in a compound beat), the last two beats of a longer
    bar. It moves in one direction by half or whole steps, in the scale of key and chord where it can. No run: where the
    chord changes inside it, where a stroke is held over the barline, where the music jumps (repeats), or where the
    instrument lacks a bass. Raises ValueError when the groove does not fit the meter.
    """
    strokes, line = lay_strokes(line, groove, chord=None, close=close, held=held)
    pressed, notices = press_strokes(strokes, instrument)
    for join in _find_joins(line, pressed):
        scale = blend_scale(line.key_at(join.moments[0]), join.chord)
        run = walk_bass(join.start, join.goal, len(join.moments), scale, instrument)
        if run:
            ends = (*join.moments[1:], join.end)
            places = print_run(run, join.goal) or (None,) * len(run)
            notes = [Pressed(onset, end, (press,), is_bass=True, printed=place)
                     for onset, end, press, place in zip(join.moments, ends, run, places, strict=True)]
            pressed = tuple(_make_room(pressed, join.moments[0], join.end)) + tuple(notes)
    ordered = sorted(pressed, key=lambda stroke: (stroke.onset, not stroke.is_bass))
    return LeftHand(build_voices(ordered, line, groove.meter.beat, instrument), notices)


def _run_moments(line: Line, bar: Bar) -> tuple[Fraction, ...]:
    """When the notes of a run begin in a full bar; () in a bar of one beat."""
    meter = line.meter
    if bar.length != meter.bar or meter.beats == 1:
        return ()
    if meter.beats > 2:
        return bar.end - 2 * meter.beat, bar.end - meter.beat
    count = 3 if meter.compound else 2
    return tuple(bar.end - meter.beat + meter.beat * n / count for n in range(count))


def _find_joins(line: Line, pressed: tuple[Pressed, ...]) -> Iterator[_Join]:
    """The barlines after a phrase where the bass moves on."""
    look = read_moments(line)
    basses = [stroke for stroke in pressed if stroke.is_bass]
    for bar, plain in zip(line.bars, list_plain_joins(line.bars), strict=True):
        moments = _run_moments(line, bar)
        if not (plain and bar.phrase_end and moments):
            continue
        before = [stroke for stroke in basses if stroke.onset < moments[0]]
        goal = next((stroke for stroke in basses if stroke.onset == bar.end), None)
        held = any(stroke.onset < bar.end < stroke.end for stroke in pressed)
        steady = look.chord_index(moments[0]) == look.chord_index(moments[-1]) >= 0
        chord = look.chord_at(moments[0])
        ready = bool(before) and before[-1].onset >= bar.onset and steady and not held
        if ready and chord is not None and goal is not None and goal.buttons != before[-1].buttons:
            yield _Join(moments, bar.end, chord, before[-1].presses[0], goal.presses[0])


def _make_room(pressed: tuple[Pressed, ...], start: Fraction, end: Fraction) -> Iterator[Pressed]:
    """The strokes without those that begin in [start, end), the ones before cut at `start`."""
    for stroke in pressed:
        if stroke.onset >= end or stroke.end <= start:
            yield stroke
        elif stroke.onset < start:
            yield replace(stroke, end=start)


def blend_scale(key: Key, chord: Chord) -> tuple[Tone, ...]:
    """The key's seven tones, each replaced by the chord's tone on the same step: D7 in F major asks for F#."""
    by_step = {tone.step: tone for tone in (*key.tones, *chord.tones)}
    return tuple(by_step.values())


def print_run(run: Sequence[Press], goal: Press) -> tuple[Pitch, ...]:
    """Where the notes of a run are printed so that they reach the goal's usual place by step; () where that would lead
    above the middle line, among the chords, or below C2."""
    places = [print_pitch(goal)]
    for press in reversed(run):
        ahead = places[0].diatonic
        places.insert(0, press.tone.at((ahead - press.tone.step + 3) // 7))
    steps = [place.diatonic for place in places]
    return tuple(places[:-1]) if min(steps) >= RUN_FLOOR and max(steps) < CHORD_FLOOR else ()


def walk_bass(start: Press, goal: Press, count: int, scale: Sequence[Tone],
              instrument: Instrument) -> tuple[Press, ...]:
    """`count` bass notes that lead from one bass to another in one direction; () when there is no good run.

    The last steps are half or whole tones, the first may leap up to a fourth. Least cost: notes of the scale, a small
    first step, and a line that moves by step on paper too; then the shortest way over the buttons.
    """
    options = []
    inside = {tone.pc for tone in scale}
    for direction, steps in product((1, -1), product((1, 2), repeat=count)):
        pcs = [goal.tone.pc]
        for step in steps:
            pcs.insert(0, (pcs[0] - direction * step) % 12)
        leap = direction * (pcs[0] - start.tone.pc) % 12
        if leap and leap not in _LEAP:
            continue
        outside = sum(CHROMATIC for pc in pcs[:-1] if pc not in inside)
        way = _shortest_way(start, goal, pcs[:-1], scale, instrument)
        if way:
            cost = outside + (_LEAP[leap] if leap else REPEATED) + (0.0 if print_run(way, goal) else FOLDED)
            options.append((cost, round(_measure(way, start, goal), 3), -direction, way))
    best = min(options, default=(0.0, 0.0, 0, ()))
    return best[-1] if best[0] <= _MOST else ()


def _shortest_way(start: Press, goal: Press, pcs: list[int], scale: Sequence[Tone],
                  instrument: Instrument) -> tuple[Press, ...]:
    """The buttons for these pitch classes with the least travel; () when one is missing."""
    middle = sum(tone.fifths for tone in scale) // len(scale)
    near = [*scale, *(Tone.from_fifths(fifths) for fifths in range(middle - 6, middle + 7))]
    choices = [[spell_press(button, near) for button in find_basses(pc, instrument)] for pc in pcs]
    return min(product(*choices), key=lambda way: (round(_measure(way, start, goal), 3), way), default=())


def _measure(way: tuple[Press, ...], start: Press, goal: Press) -> float:
    """Millimetres from the old bass over the run to the new one."""
    return sum(measure_distance(a.button, b.button) for a, b in pairwise((start, *way, goal)))
