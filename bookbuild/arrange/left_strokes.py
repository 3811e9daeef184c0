"""A groove laid over a tune's bars and chords: which stroke falls where and which chord it sounds. No buttons yet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from bookbuild.arrange.chord_fit import degree_tone
from bookbuild.arrange.model import Bar, Line
from bookbuild.arrange.moments import Moments, read_moments
from bookbuild.arrange.playing_order import list_plain_joins, list_successors
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Groove, Source, Stroke
from bookbuild.theory.chords import Chord


@dataclass(frozen=True)
class Struck:
    """A left-hand stroke in the tune's time, with the chord it sounds."""

    onset: Fraction
    end: Fraction
    source: Source
    chord: Chord
    accent: bool = False

    @property
    def is_bass(self) -> bool:
        """True for a bass stroke, False for a chord stroke."""
        return self.source is not Source.CHORD


@dataclass(frozen=True)
class _Plan:
    """Everything that is looked up while the strokes of a line are laid out."""

    line: Line
    groove: Groove
    moments: Moments
    successors: tuple[tuple[int | None, ...], ...]
    plain_joins: tuple[bool, ...]


def strike_groove(line: Line, groove: Groove) -> tuple[Struck, ...]:
    """The groove's strokes over the whole line, in order of onset, bass before chord.

    - The cell begins anew with each section and after an upbeat; a second ending takes the first one's place in it.
    - An upbeat bar holds the groove's pick-up, if it has one; a bar that completes a short bar goes on with the cell.
    - Without harmony the hand rests.
    - An anticipating stroke sounds the chord of the next beat. Where the playing order leads to different chords, or
      nowhere, it sounds its own.
    - No stroke is held over a change of its chord or a repeat sign; one that is cut by a change is struck again with
      the new chord.
    - The first bass stroke after a change of the harmony's bass tone is the root (or slash bass).

    Raises ValueError when the groove does not fit the meter (`Groove.fits`).
    """
    if not groove.fits(line.meter):
        raise ValueError(f"the groove '{groove.title or groove.name}' is in {groove.meter}, the tune in {line.meter}")
    plan = _Plan(line, groove, read_moments(line), list_successors(line.bars), list_plain_joins(line.bars))
    places = place_cells(line, groove)
    struck = [stroke for index, place in enumerate(places) for stroke in _strike_bar(plan, index, place)]
    rows = [_cut_overlaps([stroke for stroke in struck if stroke.is_bass is bass]) for bass in (True, False)]
    return tuple(_restart_on_root(sorted(rows[0] + rows[1], key=lambda stroke: (stroke.onset, not stroke.is_bass))))


def place_cells(line: Line, groove: Groove) -> tuple[Fraction | None, ...]:
    """Where in the groove's cell each bar begins; None for an upbeat bar, which stands outside the cell."""
    full = line.meter.bar
    places: list[Fraction | None] = []
    count = ending_count = 0
    previous: Bar | None = None
    for bar in line.bars:
        last = places[-1] if places else None
        completes = (previous is not None and last is not None and previous.length < full
                     and previous.length + bar.length == full)
        upbeat = bar.number == 0 or (bar.length < full and bool(bar.section) and not completes)
        if bar.ending and previous and previous.ending and bar.ending != previous.ending:
            count = ending_count
        if bar.section and not completes:
            count = 0
        if bar.ending and not (previous and previous.ending):
            ending_count = count
        if completes and previous is not None and last is not None:
            places.append((last + previous.length) % groove.cell)
        else:
            places.append(None if upbeat else count * full % groove.cell)
            count += 1
        if upbeat:
            count = 0
        previous = bar
    return tuple(places)


def _strike_bar(plan: _Plan, index: int, place: Fraction | None) -> Iterator[Struck]:
    """The strokes that begin in one bar, which lies at `place` in the cell."""
    bar = plan.line.bars[index]
    for onset, stroke in _list_strokes(plan, bar, place, last=index + 1 == len(plan.line.bars)):
        yield from _sound_stroke(plan, index, onset, stroke)


def _list_strokes(plan: _Plan, bar: Bar, place: Fraction | None, *, last: bool) -> Iterator[tuple[Fraction, Stroke]]:
    """(moment, stroke) of the pattern that fills the bar: pick-up, ending or a piece of the cell."""
    groove = plan.groove
    if place is None or (last and groove.ending):
        strokes = groove.pickup if place is None else groove.ending
        start = bar.end - plan.line.meter.bar if place is None else bar.onset
        for stroke in strokes:
            if bar.onset <= start + stroke.onset < bar.end:
                yield start + stroke.onset, stroke
        return
    start = bar.onset - place
    while start < bar.end:
        for stroke in groove.strokes:
            if bar.onset <= start + stroke.onset < bar.end:
                yield start + stroke.onset, stroke
        start += groove.cell


def _sound_stroke(plan: _Plan, index: int, onset: Fraction, stroke: Stroke) -> Iterator[Struck]:
    """One stroke with its chord, cut where it may not be held, and struck again where the chord changes under it."""
    limit = _hold_limit(plan, index, onset + stroke.length)
    chord, since = _choose_chord(plan, index, onset, stroke)
    if chord is None:
        return
    change = _change_after(plan, since, chord, stroke.source)
    yield Struck(onset, min(limit, change), stroke.source, chord, stroke.accent)
    again = Source.CHORD if stroke.source is Source.CHORD else Source.ROOT
    while limit - change >= plan.groove.slot and (chord := plan.moments.chord_at(change)) is not None:
        onset, change = change, _change_after(plan, change, chord, again)
        yield Struck(onset, min(limit, change), again, chord)


def _hold_limit(plan: _Plan, index: int, end: Fraction) -> Fraction:
    """How long a stroke of the bar may be held: to its end, but not over a barline where the music jumps."""
    while plan.line.bars[index].end < end and plan.plain_joins[index]:
        index += 1
    return min(end, plan.line.bars[index].end)


def _choose_chord(plan: _Plan, index: int, onset: Fraction, stroke: Stroke) -> tuple[Chord | None, Fraction]:
    """The chord a stroke sounds and a moment inside that chord's stretch (the next beat's where it anticipates)."""
    own = plan.moments.chord_at(onset), onset
    if not stroke.anticipates or own[0] is None:
        return own
    bar = plan.line.bars[index]
    beat = plan.groove.meter.beat
    target = onset + beat - stroke.onset % beat
    if target < bar.end:
        ahead = plan.moments.chord_at(target)
        return (ahead, target) if ahead is not None else own
    chords = {None if way is None else plan.moments.chord_at(plan.line.bars[way].onset + target - bar.end)
              for way in plan.successors[index]}
    ahead = chords.pop() if len(chords) == 1 else None
    if ahead is None:
        return own
    return ahead, target if plan.plain_joins[index] else onset


def _change_after(plan: _Plan, moment: Fraction, chord: Chord, source: Source) -> Fraction:
    """When the harmony under a stroke next changes; a bass that means the same in the next chord goes on."""
    spans = plan.moments.chords
    place = plan.moments.chord_index(moment)
    while place + 1 < len(spans) and source is not Source.CHORD and (later := spans[place + 1].chord) is not None:
        if any(bass_tone(later, tone) != bass_tone(chord, tone) for tone in (Source.ROOT, source)):
            break
        place += 1
    return spans[place].end


def bass_tone(chord: Chord, source: Source) -> int | None:
    """Pitch class of the bass a stroke asks for; None where the chord has no such tone."""
    if source is Source.ROOT:
        return (chord.bass or chord.root).pc
    tone = degree_tone(chord, 4 if source is Source.FIFTH else 2)
    return tone.pc if tone else None


def _cut_overlaps(strokes: list[Struck]) -> list[Struck]:
    """Strokes of one kind in order, each ending at the latest where the next begins; of two at once the later wins."""
    ordered = sorted(strokes, key=lambda stroke: stroke.onset)
    cut = [replace(stroke, end=min(stroke.end, after.onset)) for stroke, after in pairwise(ordered)]
    return [stroke for stroke in cut + ordered[-1:] if stroke.end > stroke.onset]


def _restart_on_root(strokes: list[Struck]) -> Iterator[Struck]:
    """The strokes, the first bass after a heard change of the harmony's bass tone being the root."""
    heard: int | None = None
    owed = False
    for stroke in strokes:
        tone = bass_tone(stroke.chord, Source.ROOT)
        owed = owed or tone != heard
        heard = tone
        yield replace(stroke, source=Source.ROOT) if owed and stroke.is_bass else stroke
        owed = owed and not stroke.is_bass
