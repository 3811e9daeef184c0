"""Which grooves suit a tune: meter, note values, accents, chord changes and tempo, each with its reason.

The shares of the score are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, sqrt

from bookbuild.exact import Fraction
from bookbuild.lessons.model import Groove, Source, Stretch, Tune
from bookbuild.theory.likeness import correlate
from bookbuild.theory.syncopation import salience, weigh_syncopation

GRID, ACCENT, SYNCOPATION, CHANGE, DENSITY, TEMPO = 0.2, 0.25, 0.2, 0.15, 0.1, 0.1
"""Shares of the score: notes on the groove's slots, accents, syncopation, chord changes on strokes, density, tempo."""
ANTICIPATION = 2
"""Syncopation of a stroke that takes the next beat's chord early."""
FAR_APART = 4.0
"""Syncopation a bar by which tune and groove may differ before nothing is left of their likeness."""
LEAST_ON_GRID = 0.6
"""A groove between whose slots more of the melody's notes fall than the rest is refused; halves and quarters of a slot
count as its own: an oom-pah of eighths bears a melody in sixteenths, but triplets do not lie on it."""
NAMED, SUITED, SWUNG = 0.15, 0.1, 0.1
"""Added where the tune is called by the groove's name, or by a dance it `suits`; taken off a swung groove where
neither is so."""
GOOD, FAIR = 0.75, 0.4
"""From here a part of the fit is told as a merit, below the second as a drawback."""


@dataclass(frozen=True)
class GrooveFit:
    """How well a groove suits a tune: `score` 0 (refused) to 1, `reasons` in the teacher's words, best first."""

    groove: Groove
    score: float
    reasons: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """False when the groove was refused; the only reason then says why."""
        return self.score > 0


def rank_grooves(tune: Tune, grooves: Iterable[Groove]) -> list[GrooveFit]:
    """All grooves, the best first; refused ones come last with score 0 and the reason. Equal scores by name."""
    return sorted((fit_groove(tune, groove) for groove in grooves), key=lambda fit: (-fit.score, fit.groove.name))


def explain_refusal(tune: Tune, ranked: Sequence[GrooveFit]) -> str:
    """Why no groove fits: what stands against those of the tune's own meter, or which meters there are."""
    own = [fit for fit in ranked if fit.groove.meter == tune.meter]
    if own:
        return f"{own[0].groove.title}: {own[0].reasons[0]}"
    meters = sorted({fit.groove.meter for fit in ranked}, key=lambda meter: (meter.unit, meter.count))
    return f"the tune is in {tune.meter}, the grooves are in {', '.join(map(str, meters))}"


def fit_groove(tune: Tune, groove: Groove) -> GrooveFit:
    """The fit of one groove."""
    if groove.meter != tune.meter:
        return GrooveFit(groove, 0.0, (f"it is in {groove.meter}, the tune in {tune.meter}",))
    onsets = [moment for stretch, start in _stretches(tune) for moment in _onsets(stretch, start)]
    if not onsets:
        return GrooveFit(groove, 0.0, ("the tune has no notes",))
    on_grid = _share_on_grid(onsets, groove)
    if on_grid < LEAST_ON_GRID:
        return GrooveFit(groove, 0.0, (f"{_percent(1 - on_grid)} of the melody's notes fall between its slots",))
    slow, fast = groove.tempo
    if tune.tempo.goal < slow or tune.tempo.start > fast:
        return GrooveFit(groove, 0.0, (f"it works at {slow} to {fast}, the tune goes {tune.tempo.start} "
                                       f"to {tune.tempo.goal}",))
    parts = [
        (GRID, *_judge_grid(on_grid, groove)), (ACCENT, *_judge_accents(tune, groove)),
        (SYNCOPATION, *_judge_syncopation(tune, groove)), (CHANGE, *_judge_changes(tune, groove)),
        (DENSITY, *_judge_density(onsets, tune, groove)), (TEMPO, *_judge_tempo(tune, groove)),
    ]
    score = sum(share * value for share, value, _ in parts)
    told = [reason for _, _, reason in sorted((part for part in parts if part[2]), key=lambda p: -p[0] * p[1])]
    suited = _called(tune, groove.suits)
    if _called(tune, (groove.name, groove.title)):
        score += NAMED
        told.insert(0, f"the tune is called a {groove.title.lower()}")
    elif suited:
        score += SUITED
        told.insert(0, f"it accompanies a {suited}")
    elif groove.swing != Fraction(1, 2):
        score -= SWUNG
        told.append("it swings; nothing says that the tune does")
    return GrooveFit(groove, min(1.0, max(score, 0.001)), tuple(told))


def _called(tune: Tune, names: Iterable[str]) -> str:
    """The first of the names that stands as a word in the tune's title or origin; '' for none."""
    said = f"{tune.title} {tune.origin}".lower()
    return next((name for name in names if name and re.search(rf"\b{re.escape(name.lower())}\b", said)), "")


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


def _stretches(tune: Tune) -> Iterable[tuple[Stretch, Fraction]]:
    """Every stretch with the place in the bar where it begins (an upbeat begins late)."""
    for section in tune.sections:
        early = tune.meter.bar - section.upbeat if section.upbeat else Fraction(0)
        yield section.body, early
        for ending in section.endings:
            yield ending, Fraction(0)


def _onsets(stretch: Stretch, start: Fraction) -> list[Fraction]:
    return [note.onset + start for note in stretch.notes if note.pitch is not None]


def _share_on_grid(onsets: Sequence[Fraction], groove: Groove) -> float:
    return sum((onset / groove.slot).denominator in (1, 2, 4) for onset in onsets) / len(onsets)


def _judge_grid(on_grid: float, groove: Groove) -> tuple[float, str]:
    value = (on_grid - LEAST_ON_GRID) / (1 - LEAST_ON_GRID)
    if on_grid == 1:
        return 1.0, "every note lies on its grid"
    return value, f"{_percent(on_grid)} of the notes lie on its grid"


def _profile(tune: Tune, groove: Groove) -> list[float]:
    """How much the melody leans on each slot of the groove's cell: longer notes lean more."""
    slots = int(groove.cell / groove.slot)
    profile = [0.0] * slots
    for stretch, start in _stretches(tune):
        for note in stretch.notes:
            place = (note.onset + start) / groove.slot
            if note.pitch is not None and place.denominator == 1:
                profile[int(place) % slots] += min(2.0, sqrt(note.length / groove.slot))
    return profile


def _stresses(groove: Groove) -> list[float]:
    """How strongly the groove speaks on each slot: accents most, then basses, then chords."""
    stresses = [0.0] * int(groove.cell / groove.slot)
    for stroke in groove.strokes:
        place = int(stroke.onset / groove.slot) % len(stresses)
        stresses[place] += (1.5 if stroke.source is not Source.CHORD else 1.0) + stroke.accent
    return stresses


def _judge_accents(tune: Tune, groove: Groove) -> tuple[float, str]:
    """Half the meter's own accents, half the character: which of equally strong places are leant on."""
    melody, strokes = _profile(tune, groove), _stresses(groove)
    plain = correlate(melody, strokes)
    character = correlate(_without_meter(melody, groove), _without_meter(strokes, groove))
    value = ((plain + character) / 2 + 1) / 2
    if value >= GOOD:
        return value, "its accents lie where the melody leans"
    if value < FAIR:
        return value, "its accents lie against the melody's: a pull between the hands"
    return value, ""


def _judge_syncopation(tune: Tune, groove: Groove) -> tuple[float, str]:
    """Plain tunes want plain grooves: syncopation a bar of both, measured after Longuet-Higgins & Lee."""
    bars, total = Fraction(0), 0
    for stretch, start in _stretches(tune):
        total += weigh_syncopation(_onsets(stretch, start), stretch.length + start, tune.meter)
        bars += stretch.length / tune.meter.bar
    strokes = sorted({stroke.onset for stroke in groove.strokes})
    melody = float(total / bars)
    early = sum(stroke.anticipates for stroke in groove.strokes)
    left = (weigh_syncopation(strokes, groove.cell, groove.meter) + ANTICIPATION * early) / groove.cell_bars
    value = max(0.0, 1.0 - abs(melody - left) / FAR_APART)
    if value >= GOOD:
        return value, "it is about as syncopated as the melody"
    if value >= FAIR:
        return value, ""
    return value, "it is far plainer than the melody" if melody > left else "it is far more syncopated than the melody"


def _without_meter(weights: Sequence[float], groove: Groove) -> list[float]:
    """What is left of slot weights when the mean of all slots of the same metrical strength is taken away."""
    strengths = [salience(groove.slot * place % groove.meter.bar, groove.meter) for place in range(len(weights))]
    means = {s: sum(w for w, t in zip(weights, strengths, strict=True) if t == s) / strengths.count(s)
             for s in set(strengths)}
    return [weight - means[strength] for weight, strength in zip(weights, strengths, strict=True)]


def _judge_changes(tune: Tune, groove: Groove) -> tuple[float, str]:
    """Share of the chord changes that a stroke of the groove meets, there or as an anticipation one beat ahead."""
    changes = [(span.onset + start) % groove.cell for stretch, start in _stretches(tune)
               for span in stretch.chords[1:] if span.chord]
    if not changes:
        return 1.0, ""
    struck = {stroke.onset % groove.cell for stroke in groove.strokes}
    early = {(stroke.onset // groove.meter.beat + 1) * groove.meter.beat % groove.cell
             for stroke in groove.strokes if stroke.anticipates}
    value = sum(change in struck | early for change in changes) / len(changes)
    if value == 1:
        return value, "every chord change meets a stroke of the left hand"
    return value, f"{_percent(1 - value)} of the chord changes fall between its strokes" if value < GOOD else ""


def _judge_density(onsets: Sequence[Fraction], tune: Tune, groove: Groove) -> tuple[float, str]:
    """A busy melody wants a plain left hand, a plain melody bears a busy one: together about a note on every slot."""
    beats = sum((stretch.length for stretch, _ in _stretches(tune)), Fraction(0)) / tune.meter.beat
    melody = float(len(onsets) / beats)
    strokes = float(len(groove.strokes) / (groove.cell / groove.meter.beat))
    places = max(groove.slots, ceil(melody))
    excess = abs(melody + strokes - places) / places
    value = max(0.0, 1.0 - excess)
    if value >= GOOD:
        return value, f"melody and left hand share the beat: {melody:.1f} and {strokes:.1f} strokes"
    if value < FAIR and melody + strokes > places:
        return value, f"both hands are busy: {melody:.1f} and {strokes:.1f} strokes a beat"
    return value, ""


def _judge_tempo(tune: Tune, groove: Groove) -> tuple[float, str]:
    slow, fast = groove.tempo
    inside = min(tune.tempo.goal, fast) - max(tune.tempo.start, slow)
    span = max(1, tune.tempo.goal - tune.tempo.start)
    value = max(0.0, min(1.0, inside / span))
    if value == 1:
        return value, f"the whole tempo ladder {tune.tempo.start} to {tune.tempo.goal} suits it"
    if tune.tempo.goal > fast:
        return value, f"above {fast} it loses its character; the tune's goal is {tune.tempo.goal}"
    return value, f"below {slow} it falls apart; the tune starts at {tune.tempo.start}"
