"""The hands, the bellows and the page measured: grips, leaps, travel over the buttons, turns, shake, signs to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, groupby, pairwise
from math import ceil

from bookbuild.arrange.left_fingering import measure_left_effort, measure_travel
from bookbuild.arrange.model import Arrangement, BellowsSpan, Event, Role, Voice
from bookbuild.arrange.right_fingering import FINGERS, SPANS
from bookbuild.arrange.shake import count_strokes, shake_rate
from bookbuild.exact import Fraction
from bookbuild.grading.parts import RIGHT, Music
from bookbuild.lessons.model import Instrument

POSITION = SPANS[1, 5][2]
"""Semitones a hand covers without moving or stretching: the least relaxed span of thumb and little finger.

Source: Parncutt et al. 1997, *Music Perception* 14(4) 341–382, as the whole table of spans used here."""
_WINDOW = 4
"""Melody notes that are looked at together when asking whether the hand must move; common practice, no source."""
_AT_PHRASE_END = 0.25
"""What a turn of the bellows at the end of a phrase weighs against one inside it; common practice, no source."""
_LEFT = (Role.LEFT, Role.BASS, Role.CHORD)


def measure_grips(music: Music) -> float:
    """Right-hand grips, mean of the hardest quarter: fingers beyond the first, and semitones beyond relaxed spans."""
    strains = [len(keys) - 1 + strain_grip(keys) for keys in _list_grips(music)]
    hardest = sorted(strains, reverse=True)[: ceil(len(strains) / 4)]
    return sum(hardest) / len(hardest) if hardest else 0.0


def _list_grips(music: Music) -> Iterator[tuple[int, ...]]:
    """The keys down, rising, at each moment that right-hand fingers strike."""
    parts = [part for part in music.parts if part.name in RIGHT]
    strikes = {moment for part in parts for moment in part.strikes}
    events = sorted((event for part in parts for event in part.events), key=lambda event: event.onset)
    down: list[Event] = []
    for onset, struck in groupby(events, key=lambda event: event.onset):
        down = [event for event in down if event.end > onset] + list(struck)
        if onset in strikes:
            yield tuple(sorted({pitch.midi for event in down for pitch in event.pitches}))


def strain_grip(keys: tuple[int, ...]) -> int:
    """Semitones by which the easiest fingers on these rising MIDI keys are stretched beyond their relaxed spans.

    Neighbouring fingers and the outer two are looked at; semitones beyond the comfortable span count twice. A wider
    grip never strains less. Of more keys than fingers five are looked at, the outer two among them.
    """
    most = len(FINGERS)
    taken = keys if len(keys) <= most else (*keys[: most - 1], keys[-1])
    return _strain_shape(tuple(key - keys[0] for key in taken))


@lru_cache(maxsize=4096)
def _strain_shape(keys: tuple[int, ...]) -> int:
    ways = []
    for fingers in combinations(FINGERS, len(keys)):
        taken = list(zip(keys, fingers, strict=True))
        pairs = {*pairwise(taken), (taken[0], taken[-1])} if len(taken) > 1 else set()
        ways.append(sum(_strain_pair(high[0] - low[0], low[1], high[1]) for low, high in pairs))
    return min(ways, default=0)


def _strain_pair(interval: int, low: int, high: int) -> int:
    _, _, _, max_rel, max_comf, _ = SPANS[low, high]
    return max(0, interval - max_rel) + max(0, interval - max_comf)


def measure_leaps(music: Music) -> float:
    """Semitones a second by which the melody leaves one position of the hand, over every four notes in a row."""
    melody = music.part("melody")
    if melody is None:
        return 0.0
    tops = [event.pitches[-1].midi for event in melody.struck]
    windows = [tops[at : at + _WINDOW] for at in range(max(1, len(tops) - _WINDOW + 1))]
    beyond = sum(max(0, max(window) - min(window) - POSITION) for window in windows)
    return beyond / music.seconds(music.made.length)


def _left_voices(music: Music) -> list[Voice]:
    return [voice for voice in music.made.voices if voice.role in _LEFT]


def measure_left_travel(music: Music) -> float:
    """Millimetres a second the left hand moves over the buttons, at the goal tempo."""
    return measure_travel(_left_voices(music)) / music.seconds(music.made.length)


def measure_left_fingers(music: Music, instrument: Instrument) -> float:
    """Effort a second of the best left-hand fingering (about 1 a column), at the goal tempo."""
    return measure_left_effort(_left_voices(music), instrument) / music.seconds(music.made.length)


def measure_turns(music: Music) -> float:
    """Turns of the bellows a minute, at the goal tempo; those at the end of a phrase weigh a quarter. No shakes."""
    ends = {bar.end for bar in music.made.bars if bar.phrase_end}
    turns = [
        before.end
        for before, after in pairwise(music.made.bellows)
        if before.stroke is None and after.stroke is None and before.direction is not after.direction
    ]
    weight = sum(_AT_PHRASE_END if moment in ends else 1.0 for moment in turns)
    return 60 * weight / music.seconds(music.made.length)


def measure_shake_rate(music: Music) -> float:
    """Strokes a second of the fastest bellows shake, at the goal tempo; 0 without one."""
    strokes = [span.stroke for span in music.made.bellows if span.stroke is not None]
    return max((float(shake_rate(stroke, music.made.tempo.beat, music.goal)) for stroke in strokes), default=0.0)


def measure_shake_length(music: Music) -> int:
    """Strokes of the longest shake that goes on without a rest for the arm."""
    return max((sum(map(count_strokes, run)) for run in _shaken_runs(music.made.bellows)), default=0)


def _shaken_runs(spans: Sequence[BellowsSpan]) -> Iterator[list[BellowsSpan]]:
    run: list[BellowsSpan] = []
    for span in spans:
        if span.stroke is None:
            if run:
                yield run
            run = []
        else:
            run.append(span)
    if run:
        yield run


def share_shaken(made: Arrangement) -> Fraction:
    """Share of an arrangement's time that is shaken, 0 to 1."""
    return sum((span.end - span.onset for span in made.bellows if span.stroke is not None), Fraction(0)) / made.length


def measure_reading(music: Music) -> float:
    """Signs to keep in mind at once; common practice, no source.

    A staff counts 1; each sharp or flat of the signature, each tone outside it, each
    right-hand note beyond five and each left-hand button beyond two a half.
    """
    own = {tone.pc for tone in music.made.key.tones}
    right = {pitch for part in music.parts if part.name in RIGHT for event in part.events for pitch in event.pitches}
    buttons = {button for voice in _left_voices(music) for event in voice.events for button in event.buttons}
    staves = sum(any(part.name in names for part in music.parts) for names in (("clap",), RIGHT, ("left",)))
    signature = abs(music.made.key.signature) if right or buttons else 0
    small = (
        signature
        + len({pitch.tone.pc for pitch in right} - own)
        + max(0, len(right) - 5)
        + max(0, len(buttons) - 2)
    )
    return staves + small / 2


def count_bars(music: Music) -> int:
    """Printed bars."""
    return len(music.made.bars)
