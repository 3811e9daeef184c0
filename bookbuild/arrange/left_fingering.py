"""Left-hand fingers: least effort over the buttons' geometry, as a shortest path through the moments of a voice.

Two habits are taught. Two fingers: 3 on the bass, 2 on the chord. Three fingers: 4 on the fundamental, 3 on the chord,
2 on the alternating fifth; 4 or 3 reaches the counterbass, a far seventh-row chord may take 2. The thumb never plays.
Source of the habits: a published teaching page on bass fingering (rodstradling.co.uk). The costs and the hand's
shape are common practice, no source; lengths in millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise, permutations
from math import hypot, inf

from bookbuild.arrange.model import Event, Voice
from bookbuild.arrange.stradella import COLUMN_STEP, Button, is_bass, locate_button, measure_distance
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Instrument

FINGERS = (2, 3, 4, 5)
MEMORY = Fraction(2)
"""A button played with the same finger within this time needs no number in print (two bars of 4/4)."""

_THREE = {
    "counterbass": {4: 0.0, 3: 0.2, 2: 3.0, 5: 6.0},
    "bass": {4: 0.0, 2: 0.3, 3: 1.2, 5: 4.0},
    "major": {3: 0.0, 2: 0.6, 4: 2.0, 5: 4.0},
    "minor": {3: 0.0, 2: 0.6, 4: 2.0, 5: 4.0},
    "seventh": {3: 0.0, 2: 0.3, 4: 2.5, 5: 4.0},
    "diminished": {3: 0.0, 2: 0.2, 4: 3.0, 5: 4.0},
}
_TWO_BASS = {3: 0.0, 4: 4.0, 2: 4.0, 5: 7.0}
_TWO_CHORD = {2: 0.0, 3: 3.0, 4: 5.0, 5: 8.0}
_TWO = {"counterbass": {**_TWO_BASS, 4: 2.0}, "bass": _TWO_BASS, "major": _TWO_CHORD, "minor": _TWO_CHORD,
        "seventh": _TWO_CHORD, "diminished": _TWO_CHORD}
_HABITS = {"three": _THREE, "two": _TWO}
"""Finger system -> row -> finger -> what departing from the habit costs."""

_ROOT_BY_TWO = 4.0
"""What finger 2 on a bass costs whose own chord follows: 2 belongs to the fifth, and the chord would lie beneath it."""

_SHAPES = {
    "three": {2: (-7.0, 12.0), 3: (0.0, 0.0), 4: (-14.0, -6.0), 5: (-14.0, -22.0)},
    "two": {2: (14.0, 4.0), 3: (0.0, 0.0), 4: (0.0, -16.0), 5: (0.0, -32.0)},
}
"""Finger system -> finger -> where its tip rests as seen from finger 3 (x away from the bellows, y to the chin)."""

_SAME_FINGER, _CHANGED_FINGER, _CROSSED, _CROSSED_GRIP = 2.5, 0.3, 3.0, 3.0
_LONGEST_JUMP = 1.5
"""Columns beyond which a jump of one finger costs no more: the whole hand shifts then."""
_STRETCH = 0.5
"""What a millimetre across the rows costs against one along them: fingers curl and stretch, the arm need not move."""
_SLACK = 2.0
"""Millimetres by which a lower finger number may lie below a higher one before the fingers count as crossed."""

Grip = tuple[tuple[Button, int], ...]
"""Buttons down at one moment, each with its finger."""


@dataclass(frozen=True)
class _Moment:
    """Something is struck: all the buttons then down, those of them held from before, and the time since.

    `roots` are the basses of the column whose chord is struck next.
    """

    onset: Fraction
    buttons: tuple[Button, ...]
    held: frozenset[Button]
    gap: Fraction
    roots: frozenset[Button] = frozenset()


def finger_left_hand(voices: Sequence[Voice], instrument: Instrument, *,
                     memory: Fraction = MEMORY) -> tuple[Voice, ...]:
    """The left hand's voices with fingers where they help: where the hand comes to a button, or takes it differently.

    `voices`: the LEFT voice, or BASS and CHORD together; `memory` in whole notes (see `show_fingers`).
    """
    return show_fingers(finger_all(voices, instrument), memory)


def finger_all(voices: Sequence[Voice], instrument: Instrument) -> tuple[Voice, ...]:
    """The voices with a finger (2–5) on every printed note of least total effort."""
    moments = _list_moments(voices)
    _, grips = _plan(moments, instrument.fingering)
    at = {moment.onset: dict(grip) for moment, grip in zip(moments, grips, strict=True)}
    return tuple(
        Voice(voice.role, tuple(_put_fingers(event, at[event.onset]) if event.buttons else event
                                for event in voice.events))
        for voice in voices
    )


def measure_left_effort(voices: Sequence[Voice], instrument: Instrument) -> float:
    """Total cost of the best left-hand fingering, about 1 for each column the hand moves; 0 for an idle hand."""
    return _plan(_list_moments(voices), instrument.fingering)[0]


def show_fingers(voices: Sequence[Voice], memory: Fraction = MEMORY) -> tuple[Voice, ...]:
    """The voices with only those fingers left that a reader needs.

    A finger is shown when its button has not been played within `memory` before, or was played with another finger.
    """
    last: dict[tuple[str, int], tuple[Fraction, int]] = {}
    kept: dict[tuple[int, int], Event] = {}
    order = sorted(((event.onset, row, place) for row, voice in enumerate(voices)
                    for place, event in enumerate(voice.events) if event.buttons))
    for onset, row, place in order:
        event = voices[row].events[place]
        shown = []
        for button, finger in zip(event.buttons, event.fingers, strict=True):
            seen, before = last.get(button, (onset - memory - 1, 0))
            shown.append(0 if finger == before and onset - seen <= memory else finger)
            last[button] = (onset, finger)
        kept[row, place] = replace(event, fingers=tuple(shown))
    return tuple(
        Voice(voice.role, tuple(kept.get((row, place), event) for place, event in enumerate(voice.events)))
        for row, voice in enumerate(voices)
    )


def _put_fingers(event: Event, fingers: dict[Button, int]) -> Event:
    return replace(event, fingers=tuple(fingers.get(Button(*button), 0) for button in event.buttons))


def _list_moments(voices: Sequence[Voice]) -> list[_Moment]:
    """The moments at which something is struck, over all voices; more buttons than fingers let the held ones go."""
    events = sorted((event for voice in voices for event in voice.events if event.buttons), key=lambda e: e.onset)
    moments: list[_Moment] = []
    sounding: list[Event] = []
    place = 0
    while place < len(events):
        onset = events[place].onset
        held = {Button(*b) for event in sounding if event.end > onset for b in event.buttons}
        struck = []
        while place < len(events) and events[place].onset == onset:
            struck.append(events[place])
            place += 1
        fresh = {Button(*b) for event in struck for b in event.buttons}
        if len(fresh | held) > len(FINGERS):
            held = set()
        sounding = [event for event in sounding if event.end > onset and held] + struck
        gap = onset - moments[-1].onset if moments else Fraction(1)
        moments.append(_Moment(onset, tuple(sorted(fresh | held)), frozenset(held - fresh), gap))
    return _mark_roots(moments)


def _mark_roots(moments: Sequence[_Moment]) -> list[_Moment]:
    """The moments with the basses marked whose own chord is the next chord struck."""
    marked: list[_Moment] = []
    columns: frozenset[int] = frozenset()
    for moment in reversed(moments):
        struck = [button for button in moment.buttons if button not in moment.held]
        columns = frozenset(b.column for b in struck if not is_bass(b)) or columns
        roots = frozenset(b for b in struck if b.row == "bass" and b.column in columns)
        marked.append(replace(moment, roots=roots))
    return marked[::-1]


def _plan(moments: Sequence[_Moment], system: str) -> tuple[float, list[Grip]]:
    """Total cost and one grip a moment: the shortest path. Of equal ways the lower fingers win."""
    if not moments:
        return 0.0, []
    costs = [round(still, 6) for still in _still_costs(moments[0].buttons, moments[0].roots, system)]
    origins: list[list[int]] = []
    for before, moment in pairwise(moments):
        moves = _move_costs(before.buttons, moment.buttons, moment.held, _haste(moment.gap), system)
        ways = [[cost + move for cost, move in zip(costs, row, strict=True)] for row in moves]
        best = [min(row) for row in ways]
        origins.append([row.index(least) for row, least in zip(ways, best, strict=True)])
        stills = _still_costs(moment.buttons, moment.roots, system)
        costs = [round(least + still, 6) for least, still in zip(best, stills, strict=True)]
    total = min(costs)
    path = [costs.index(total)]
    for layer in reversed(origins):
        path.append(layer[path[-1]])
    grips = [_list_grips(moment.buttons)[place] for moment, place in zip(moments, reversed(path), strict=True)]
    return total, grips


@lru_cache(maxsize=1 << 12)
def _still_costs(buttons: tuple[Button, ...], roots: frozenset[Button], system: str) -> tuple[float, ...]:
    """What each grip of `_list_grips` costs by itself."""
    return tuple(
        _grip_cost(grip, system) + _ROOT_BY_TWO * sum(finger == 2 and button in roots for button, finger in grip)
        for grip in _list_grips(buttons))


@lru_cache(maxsize=1 << 12)
def _move_costs(before: tuple[Button, ...], after: tuple[Button, ...], held: frozenset[Button], haste: float,
                system: str) -> tuple[tuple[float, ...], ...]:
    """What it costs to come to each grip of `after` (rows) from each of `before`; infinite where a held button would
    change its finger."""
    return tuple(
        tuple(_move_cost(old, new, haste, system) if _keeps_held(old, new, held) else inf
              for old in _list_grips(before))
        for new in _list_grips(after))


def _haste(gap: Fraction) -> float:
    """How much dearer a way is than in the time of an eighth, within bounds."""
    return min(2.0, max(0.7, float(Fraction(1, 8) / gap)))


@lru_cache(maxsize=4096)
def _list_grips(buttons: tuple[Button, ...]) -> tuple[Grip, ...]:
    return tuple(tuple(zip(buttons, fingers, strict=True)) for fingers in permutations(FINGERS, len(buttons)))


def _keeps_held(before: Grip, grip: Grip, held: frozenset[Button]) -> bool:
    """A button held from before keeps its finger."""
    return not held or all(pair in before for pair in grip if pair[0] in held)


@lru_cache(maxsize=16384)
def _grip_cost(grip: Grip, system: str) -> float:
    """Habits departed from, fingers bent out of the hand's shape, fingers crossed."""
    cost = sum(_HABITS[system][button.row][finger] for button, finger in grip)
    x, y = _hand_place(grip, system)
    if len(grip) > 1:
        cost += sum(hypot(px - x, py - y) for px, py in _finger_origins(grip, system)) / COLUMN_STEP
        cost += _CROSSED_GRIP * sum(_crossed(a, b) for a in grip for b in grip)
    return cost


def _finger_origins(grip: Grip, system: str) -> list[tuple[float, float]]:
    """Where the hand would lie for each finger to rest on its button."""
    shape = _SHAPES[system]
    return [(x - shape[finger][0], y - shape[finger][1])
            for (x, y), finger in ((locate_button(button), finger) for button, finger in grip)]


@lru_cache(maxsize=16384)
def _hand_place(grip: Grip, system: str) -> tuple[float, float]:
    """Where the hand lies: the mean over its fingers."""
    origins = _finger_origins(grip, system)
    return sum(x for x, _ in origins) / len(origins), sum(y for _, y in origins) / len(origins)


def _crossed(first: tuple[Button, int], second: tuple[Button, int]) -> bool:
    """True when the first finger, the one nearer the thumb, lies clearly below the second."""
    return first[1] < second[1] and locate_button(first[0])[1] < locate_button(second[0])[1] - _SLACK


def _beside(first: Button, second: Button) -> bool:
    """True when two buttons lie less than a column apart: too near for the hand to shift, so fingers would cross."""
    return abs(locate_button(first)[1] - locate_button(second)[1]) < COLUMN_STEP


def _move_cost(before: Grip, after: Grip, haste: float, system: str) -> float:
    """Effort from one grip to the next: the hand's way, dearer when it must be quick; jumping and crossing fingers."""
    (x1, y1), (x2, y2) = _hand_place(before, system), _hand_place(after, system)
    cost = hypot(_STRETCH * (x2 - x1), y2 - y1) / COLUMN_STEP * haste
    for button, finger in before:
        for other, taken in after:
            if finger == taken and button != other:
                cost += _SAME_FINGER * haste * min(_LONGEST_JUMP, measure_distance(button, other) / COLUMN_STEP)
            elif button == other and finger != taken:
                cost += _CHANGED_FINGER
            elif button != other and system == "three" and _beside(button, other):
                cost += _CROSSED * (_crossed((button, finger), (other, taken))
                                    + _crossed((other, taken), (button, finger)))
    return cost


def measure_travel(voices: Sequence[Voice]) -> float:
    """Millimetres between the middles of the buttons struck one after the other, summed in order of time."""
    middles = [_middle(moment.buttons) for moment in _list_moments(voices)]
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(middles))


def _middle(buttons: Sequence[Button]) -> tuple[float, float]:
    places = [locate_button(button) for button in buttons]
    return sum(x for x, _ in places) / len(places), sum(y for _, y in places) / len(places)
