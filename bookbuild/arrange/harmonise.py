"""Chords for a tune that has none: the cheapest walk through the chords its instrument can play.

Each bar, or half bar where the meter divides, takes one chord. A walk gains by the notes it fits, by the chords a key
prefers, by the steps between them and by its cadences; the weights stand in `harmony_rules`. Dynamic programming finds
the best walk. What comes out is a proposal: `Tune.chords_suggested` is set until the teacher confirms it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from bookbuild.arrange import harmony_rules as rules
from bookbuild.arrange.stradella import list_columns
from bookbuild.exact import Fraction
from bookbuild.lessons.model import ChordSpan, Instrument, MelodyNote, Section, Stretch, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.keyfinding import rank_keys
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key, Tone

ROW_KINDS = {"major": "", "minor": "m", "seventh": "7"}
"""Chord rows that suggestions use -> kind of chord. (Diminished buttons sound no plain chord of a key.)"""

DRONE = 8
"""A strain of so many slices on one chord is walked again: accompanists change the chord somewhere, and a left hand
that never moves learns nothing (common practice, no source)."""

HALVED = Fraction(3, 4)
"""Bars of this length and longer may change the chord in their middle (common practice, no source)."""


@dataclass(frozen=True)
class Heard:
    """A melody note as a slice hears it: pitch class, share of the slice weighted by its place, passing or not."""

    pc: int
    weight: float
    passing: bool


@dataclass(frozen=True)
class Slice:
    """A stretch of time that takes one chord. `inside` is True where it does not begin a bar."""

    onset: Fraction
    length: Fraction
    inside: bool
    heard: tuple[Heard, ...]


def suggest_chords(tune: Tune, instrument: Instrument) -> Tune:
    """The tune with a proposal for its chords, all of them on the instrument's buttons; marked as suggested.

    An instrument without chord rows leaves the tune unchanged.
    """
    home = find_harmony_key(tune, instrument)
    if not list_palette(instrument, home):
        return tune
    made = []
    for section in tune.sections:
        key = section.key or _choose_key(section, tune, home, instrument)
        made.append(_harmonise_section(section, tune, key, list_palette(instrument, key)))
    return replace(tune, sections=tuple(made), chords_suggested=True)


def _choose_key(section: Section, tune: Tune, home: Key, instrument: Instrument) -> Key:
    """The tune's key as stated or as found, whichever carries the section better: strains go to the relative key."""
    slices = [part for stretch in (section.body, *section.endings) for part in cut_slices(stretch, tune.meter)]
    return max((home, tune.key), key=lambda key: score_walk(slices, key, list_palette(instrument, key)))


def find_harmony_key(tune: Tune, instrument: Instrument) -> Key:
    """The key to harmonise in: the stated one, unless another by the profiles carries the tune clearly better.

    Files often state a signature only (G for a tune in E minor), or none; who writes dorian means it.
    """
    if tune.key.mode not in ("major", "minor"):
        return tune.key
    homely = [section for section in tune.sections if section.key is None] or tune.sections
    stretches = [stretch for section in homely for stretch in (section.body, *section.endings)]
    weights: dict[int, Fraction] = {}
    for note in (note for stretch in stretches for note in stretch.notes):
        if note.pitch:
            weights[note.pitch.tone.pc] = weights.get(note.pitch.tone.pc, Fraction(0)) + note.length
    if not weights:
        return tune.key
    final = tune.section(tune.form[-1])
    closing = (final.endings or (final.body,))[-1]
    last = next((note.pitch.tone.pc for note in reversed(closing.notes) if note.pitch), None)
    others = [key for key, _ in rank_keys(weights, last)[:3]]
    slices = [part for stretch in stretches for part in cut_slices(stretch, tune.meter)]

    def gain(key: Key) -> float:
        palette = list_palette(instrument, key)
        return score_walk(slices, key, palette) + (rules.STATED_KEY * len(slices) if key == tune.key else 0.0)

    return max((tune.key, *others), key=gain)


def list_palette(instrument: Instrument, key: Key) -> tuple[Chord, ...]:
    """Chords of the major, minor and seventh rows, spelled for the key."""
    kinds = [ROW_KINDS[row] for row in instrument.rows if row in ROW_KINDS]
    roots = {Tone.from_fifths(column).pc for column in list_columns(instrument)}
    return tuple(Chord(key.spell(root), kind) for kind in kinds for root in sorted(roots))


def _harmonise_section(section: Section, tune: Tune, key: Key, palette: Sequence[Chord]) -> Section:
    opening, final = section.name == tune.form[0], section.name == tune.form[-1]
    tails = section.endings or (None,)
    # The left hand rests in an upbeat: it takes the chord it leads to.
    body = cut_slices(section.body, tune.meter)[1 if section.upbeat and len(section.body.bars) > 1 else 0:]
    chosen: list[Chord] = []
    endings = []
    for index, tail in enumerate(tails):
        more = cut_slices(tail, tune.meter) if tail else []
        last = final and index == len(tails) - 1
        walk = find_walk([*body, *more], key, palette, opening, last, fixed=chosen)
        if len(walk) >= DRONE and len(set(walk)) == 1 and not chosen:
            walk = find_walk([*body, *more], key, palette, opening, last, stay=rules.STAY_ON_A_DRONE)
        if not index:
            chosen = walk[:len(body)]
        if tail:
            endings.append(replace(tail, chords=_spans(more, walk[len(body):])))
    return replace(section, body=replace(section.body, chords=_spans(body, chosen)), endings=tuple(endings))


def cut_slices(stretch: Stretch, meter: Meter) -> list[Slice]:
    """Bars, or their halves in meters of an even number of beats from 6/8 upwards; bars of 2/4 stay whole.

    A last bar that leaves room for an upbeat is divided at the same place.
    """
    halved = meter.beats % 2 == 0 and meter.bar >= HALVED
    half = meter.bar / 2
    slices = []
    start = Fraction(0)
    onsets = [note.onset for note in stretch.notes]
    for place, bar in enumerate(stretch.bars):
        divided = halved and bar > half and (place > 0 or bar == meter.bar)
        for begins, ends in ((Fraction(0), half), (half, bar)) if divided else ((Fraction(0), bar),):
            onset, length = start + begins, ends - begins
            sounding = range(max(0, bisect_right(onsets, onset) - 1), bisect_left(onsets, onset + length))
            heard = _listen(stretch.notes, sounding, onset, length, start, meter)
            slices.append(Slice(onset, length, begins > 0, heard))
        start += bar
    return slices


def _listen(notes: Sequence[MelodyNote], places: range, onset: Fraction, length: Fraction, bar: Fraction,
            meter: Meter) -> tuple[Heard, ...]:
    """The notes that sound in a slice of the bar that begins at `bar`; they are among those at `places`."""
    heard = []
    for index in places:
        note = notes[index]
        sounding = min(note.end, onset + length) - max(note.onset, onset)
        if note.pitch is None or sounding <= 0:
            continue
        begins = max(note.onset, onset)
        if begins == bar:
            stress = rules.STRONG
        else:
            stress = rules.BEAT if ((begins - bar) / meter.beat).denominator == 1 else rules.OFF
        passing = stress == rules.OFF and _passes(notes, index)
        heard.append(Heard(note.pitch.tone.pc, float(sounding / length) * stress, passing))
    return tuple(heard)


def _passes(notes: Sequence[MelodyNote], index: int) -> bool:
    """True when the melody comes to the note and leaves it by step."""
    if not 0 < index < len(notes) - 1:
        return False
    before, here, after = notes[index - 1].pitch, notes[index].pitch, notes[index + 1].pitch
    if before is None or here is None or after is None:
        return False
    return abs(before.diatonic - here.diatonic) <= 1 and abs(after.diatonic - here.diatonic) <= 1


def fit_chord(chord: Chord, heard: Sequence[Heard]) -> float:
    """How well a chord carries the notes of a slice."""
    places = {tone.pc: place for place, tone in reversed(list(enumerate(chord.tones)))}
    gain = 0.0
    for note in heard:
        if note.pc in places:
            gain += rules.TONE_GAIN[places[note.pc]] * note.weight
        else:
            gain += rules.CLASH * note.weight * (rules.PASSING if note.passing else 1.0)
    return gain


def find_walk(slices: Sequence[Slice], key: Key, palette: Sequence[Chord], opening: bool, final: bool,
              fixed: Sequence[Chord] = (), stay: float = rules.STAY) -> list[Chord]:
    """The best chord for every slice. `fixed` chords at the start are given; the rest is found.

    `opening`: the tune begins here; `final`: it ends here; `stay` is the gain of keeping a chord. Dynamic programming
    over slices x palette.
    """
    if not slices:
        return []
    scores, origins = _search(slices, key, palette, opening, final, fixed, stay)
    return [palette[place] for place in _trace(scores, origins)]


def score_walk(slices: Sequence[Slice], key: Key, palette: Sequence[Chord]) -> float:
    """What the best walk through a whole tune gains; 0 where there is nothing to walk on."""
    return max(_search(slices, key, palette, True, True, ())[0][-1]) if slices and palette else 0.0


def _search(slices: Sequence[Slice], key: Key, palette: Sequence[Chord], opening: bool, final: bool,
            fixed: Sequence[Chord], stay: float = rules.STAY) -> tuple[list[list[float]], list[list[int]]]:
    """The gain of the best walk to every (slice, chord), and the chord it came from."""
    likings = [rules.like_chord(chord, key) for chord in palette]
    steps = [[rules.step_gain(before, after, stay) for before in palette] for after in palette]
    scores: list[list[float]] = []
    origins: list[list[int]] = []
    for index, part in enumerate(slices):
        own = [fit_chord(chord, part.heard) + liking for chord, liking in zip(palette, likings, strict=True)]
        own = [gain + _edge(chord, index, len(slices), key, opening, final)
               for gain, chord in zip(own, palette, strict=True)]
        if index < len(fixed):
            own = [gain if chord == fixed[index] else -1e9 for gain, chord in zip(own, palette, strict=True)]
        if not index:
            scores.append(own)
            origins.append([0] * len(palette))
            continue
        cadence = _cadence(slices, index, key, palette, final)
        row, origin = _extend(scores[-1], own, steps, _mid_bar(slices, index, key, palette), cadence)
        scores.append(row)
        origins.append(origin)
    return scores, origins


def _edge(chord: Chord, index: int, count: int, key: Key, opening: bool, final: bool) -> float:
    gain = rules.FIRST if index == 0 and opening and rules.is_tonic(chord, key) else 0.0
    if index == count - 1:
        if rules.is_tonic(chord, key):
            gain += rules.LAST if final else rules.STRAIN_END
        elif not final and rules.is_dominant(chord, key):
            gain += rules.STRAIN_END / 2
    return gain


def _cadence(slices: Sequence[Slice], index: int, key: Key, palette: Sequence[Chord],
             final: bool) -> list[list[float]] | None:
    """Gains of a dominant before the closing tonic, by (after, before): into the last bar or its second half."""
    if index < _last_bar(slices):
        return None
    share = 1.0 if final else 0.5
    return [[rules.CADENCE * share if rules.is_dominant(before, key) and rules.is_tonic(after, key) else 0.0
             for before in palette] for after in palette]


def _last_bar(slices: Sequence[Slice]) -> int:
    """Index of the slice that begins the last bar."""
    return next(index for index in range(len(slices) - 1, -1, -1) if not slices[index].inside)


def _mid_bar(slices: Sequence[Slice], index: int, key: Key, palette: Sequence[Chord]) -> list[float]:
    """What a change to each chord costs inside a bar; less for the dominant that leads into the last bar, and for the
    tonic in the last bar's middle."""
    if not slices[index].inside:
        return [0.0] * len(palette)
    last = _last_bar(slices)
    eased = rules.is_dominant if index + 1 == last else rules.is_tonic if index > last else None
    return [rules.LEAD_IN if eased and eased(chord, key) else rules.MID_BAR for chord in palette]


def _extend(before: list[float], own: list[float], steps: list[list[float]], change: list[float],
            cadence: list[list[float]] | None) -> tuple[list[float], list[int]]:
    """One column of the search: the best way into every chord; `change` is what coming from another one costs."""
    row, origin = [], []
    for after, gain in enumerate(own):
        ways = [score + step + (0.0 if place == after else change[after])
                for place, (score, step) in enumerate(zip(before, steps[after], strict=True))]
        if cadence:
            ways = [way + extra for way, extra in zip(ways, cadence[after], strict=True)]
        best = max(range(len(ways)), key=ways.__getitem__)
        row.append(ways[best] + gain)
        origin.append(best)
    return row, origin


def _trace(scores: list[list[float]], origins: list[list[int]]) -> list[int]:
    place = max(range(len(scores[-1])), key=scores[-1].__getitem__)
    walk = [place]
    for origin in reversed(origins[1:]):
        place = origin[place]
        walk.append(place)
    return walk[::-1]


def _spans(slices: Sequence[Slice], chords: Sequence[Chord]) -> tuple[ChordSpan, ...]:
    """Equal neighbours become one span; the first begins with the stretch."""
    spans: list[ChordSpan] = []
    for chord, run in groupby(zip(slices, chords, strict=True), key=lambda pair: pair[1]):
        last = [part for part, _ in run][-1]
        onset = spans[-1].end if spans else Fraction(0)
        spans.append(ChordSpan(onset, last.onset + last.length - onset, chord))
    return tuple(spans)
