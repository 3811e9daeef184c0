"""Right-hand fingering of melodies as a shortest path: least strain by the rules of Parncutt et al. 1997.

Source: Parncutt et al. 1997, "An ergonomic model of keyboard fingering for melodic fragments", Music Perception 14(4),
341–382. Pitches are MIDI keys, fingers 1 (thumb) to 5, costs are points.

One reading is needed to reach the published totals: when the same finger plays the first and third of three notes at
different pitches, its span is 0, so rules 4 and 5 count the whole interval as a change of position.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from heapq import nsmallest

FINGERS = (1, 2, 3, 4, 5)
BLACK_KEYS = frozenset((1, 3, 6, 8, 10))
HOP = 3
"""Points when the hand moves as a whole, plus one for each semitone it moves. Not in the source, which has no hops."""
UNEVEN = 1
"""Points for each finger by which neighbouring scale steps miss neighbouring fingers, thumb passes aside: in print a
five-finger position stays one. Not in the source, which knows no scale steps; counted only where they are given."""

Span = tuple[int, int, int, int, int, int]
Points = tuple[tuple[int, int], ...]

_UPWARD: dict[tuple[int, int], Span] = {
    (1, 2): (-5, -3, 1, 5, 8, 10), (1, 3): (-4, -2, 3, 7, 10, 12), (1, 4): (-3, -1, 5, 9, 12, 14),
    (1, 5): (-1, 1, 7, 10, 13, 15), (2, 3): (1, 1, 1, 2, 3, 5), (2, 4): (1, 1, 3, 4, 5, 7),
    (2, 5): (2, 2, 5, 6, 8, 10), (3, 4): (1, 1, 1, 2, 2, 4), (3, 5): (1, 1, 3, 4, 5, 7), (4, 5): (1, 1, 1, 2, 3, 5),
}


def _complete_spans() -> dict[tuple[int, int], Span]:
    spans = dict(_UPWARD)
    for (low, high), (min_prac, min_comf, min_rel, max_rel, max_comf, max_prac) in _UPWARD.items():
        spans[high, low] = (-max_prac, -max_comf, -max_rel, -min_rel, -min_comf, -min_prac)
    spans.update({(finger, finger): (0, 0, 0, 0, 0, 0) for finger in FINGERS})
    return spans


SPANS = _complete_spans()
"""(finger, next finger) -> (MinPrac, MinComf, MinRel, MaxRel, MaxComf, MaxPrac) in semitones, upward positive."""


def is_black(midi: int) -> bool:
    """True for a key of the upper level."""
    return midi % 12 in BLACK_KEYS


def cost(pitches: Sequence[int], fingering: Sequence[int]) -> int:
    """Points of a fingering of consecutive notes: the sum of `score_rules`. Raises ValueError when lengths differ."""
    return sum(score_rules(pitches, fingering).values())


def score_rules(pitches: Sequence[int], fingering: Sequence[int]) -> dict[int, int]:
    """Points by the rule's number in the source (1–12); hops, which the source does not know, count under 0."""
    if len(pitches) != len(fingering):
        raise ValueError(f"{len(pitches)} notes cannot take {len(fingering)} fingers")
    scores: dict[int, int] = {}
    for index in range(len(pitches)):
        for rule, points in _points_at(pitches, fingering, index):
            scores[rule] = scores.get(rule, 0) + points
    return scores


def best_fingering(
    pitches: Sequence[int],
    *,
    first: int | None = None,
    last: int | None = None,
    held: Mapping[int, Collection[int]] | None = None,
    hops: Collection[int] = (),
    steps: Sequence[int] | None = None,
) -> tuple[int, ...]:
    """The cheapest fingering; `first`, `last` and `held` (index -> allowed fingers) are fixed points.

    `hops` are indices of notes before which the hand may move as a whole (`HOP`). `steps` are the notes' staff places:
    with them `UNEVEN` counts, and ties go to the hand that keeps its position; without, to the lower fingers. Never
    fails: where fixed points or a leap leave nothing playable, the least unplayable way is taken.
    """
    return k_best(pitches, 1, first=first, last=last, held=held, hops=hops, steps=steps)[0][1]


def k_best(
    pitches: Sequence[int],
    count: int,
    *,
    first: int | None = None,
    last: int | None = None,
    held: Mapping[int, Collection[int]] | None = None,
    hops: Collection[int] = (),
    steps: Sequence[int] | None = None,
) -> list[tuple[int, tuple[int, ...]]]:
    """The `count` cheapest fingerings as (cost, fingers), cheapest first; a shortest path over pairs of fingers.

    Without `hops` and `steps` the cost is `cost` of the fingering.
    """
    allowed = [tuple((held or {}).get(index, FINGERS)) for index in range(len(pitches))]
    if not pitches:
        return [(0, ())]
    if first is not None:
        allowed[0] = (first,)
    if last is not None:
        allowed[-1] = (last,)
    places = None if steps is None else tuple(steps)
    return list(_search(tuple(pitches), count, tuple(allowed), frozenset(hops), places))


@lru_cache(maxsize=1 << 10)
def _search(
    pitches: tuple[int, ...],
    count: int,
    allowed: tuple[tuple[int, ...], ...],
    hops: frozenset[int],
    steps: tuple[int, ...] | None,
) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """`k_best` of notes with the fingers each may take; kept, since a course asks for the same melody in many kinds."""
    ways: dict[tuple[int, ...], list[_Way]] = {
        (finger,): [(0, _note_cost(pitches, 0, finger), 0, (finger,))] for finger in allowed[0]
    }
    for index in range(1, len(pitches)):
        rise = steps[index] - steps[index - 1] if steps else None
        ways = _extend(ways, pitches, index, allowed[index], index in hops, count, rise)
    found = nsmallest(count, (way for group in ways.values() for way in group))
    return tuple((points, fingers) for _, points, _, fingers in found)


_Way = tuple[int, int, int, tuple[int, ...]]
"""(steps no hand can play, points, notes off the hand's position, fingers so far)."""


def _extend(
    ways: dict[tuple[int, ...], list[_Way]],
    pitches: Sequence[int],
    index: int,
    allowed: Collection[int],
    hop: bool,
    count: int,
    rise: int | None,
) -> dict[tuple[int, ...], list[_Way]]:
    """All ways carried one note further, the `count` best kept for each pair of last fingers."""
    reached: dict[tuple[int, ...], list[_Way]] = {}
    weights = [(finger, _note_cost(pitches, index, finger)) for finger in allowed]
    sounded = tuple(pitches[max(0, index - 2):index + 1])
    for state, group in ways.items():
        before = state[-1]
        for finger, weight in weights:
            refused, step = _step((*state, finger), sounded, hop)
            off = 0 if rise is None else int(finger - before != rise)
            step += weight if rise is None else weight + _uneven_points(before, finger, rise)
            found = reached.setdefault((before, finger), [])
            for bad, points, moved, fingers in group:
                found.append((bad + refused, points + step, moved + off, (*fingers, finger)))
    return {state: nsmallest(count, group) if len(group) > count else group for state, group in reached.items()}


def _step(fingers: tuple[int, ...], pitches: tuple[int, ...], hop: bool) -> tuple[bool, int]:
    """(no hand can play it, points) of the last step in a window of two or three notes, the notes' own points aside."""
    interval = pitches[-1] - pitches[-2]
    refused, points, moved = _pair_step(fingers[-2], fingers[-1], pitches[-2] % 12, interval)
    if len(fingers) == 3:
        points += _triple_cost(*fingers, pitches[1] - pitches[0], interval)
    if not hop:
        return refused, points
    return False, moved if refused else min(points, moved)


@lru_cache(maxsize=1 << 16)
def _pair_step(finger: int, following: int, pitch: int, interval: int) -> tuple[bool, int, int]:
    """(no hand can play it, points of the pair, points when the hand moves as a whole); `pitch` may be a pitch class:
    only the colours of the keys count beside the interval."""
    points = sum(value for _, value in _pair_points(finger, following, pitch, pitch + interval))
    return not _playable(finger, following, interval), points, _hop_cost(finger, following, interval)


@lru_cache(maxsize=1 << 16)
def _triple_cost(first: int, second: int, third: int, rise: int, next_rise: int) -> int:
    """Points of three notes by the intervals between them."""
    return sum(value for _, value in _triple_points(first, second, third, 0, rise, rise + next_rise))


@lru_cache(maxsize=1 << 10)
def _uneven_points(finger: int, following: int, rise: int) -> int:
    """What two notes a scale step apart cost when their fingers are not neighbours and the thumb does not pass."""
    if abs(rise) != 1 or (following - finger) * rise <= 0:
        return 0
    return UNEVEN * (abs(following - finger) - 1)


def _hop_cost(finger: int, following: int, interval: int) -> int:
    """Points when the hand moves: as far as the interval lies outside the fingers' relaxed span."""
    _, _, min_rel, max_rel, _, _ = SPANS[finger, following]
    return HOP + max(0, interval - max_rel, min_rel - interval) if interval else 0


def _playable(finger: int, following: int, interval: int) -> bool:
    if finger == following:
        return interval == 0
    return interval != 0 and SPANS[finger, following][0] <= interval <= SPANS[finger, following][5]


def _points_at(pitches: Sequence[int], fingering: Sequence[int], index: int) -> Iterator[tuple[int, int]]:
    """Points that arise when the note at `index` is reached: its own, those of its pair and of its group of three."""
    yield from _note_points(fingering[index], is_black(pitches[index]), _white_neighbours(pitches, index))
    if index:
        yield from _pair_points(*fingering[index - 1:index + 1], *pitches[index - 1:index + 1])
    if index > 1:
        yield from _triple_points(*fingering[index - 2:index + 1], *pitches[index - 2:index + 1])


def _note_cost(pitches: Sequence[int], index: int, finger: int) -> int:
    points = _note_points(finger, is_black(pitches[index]), _white_neighbours(pitches, index))
    return sum(value for _, value in points)


def _white_neighbours(pitches: Sequence[int], index: int) -> int:
    return sum(not is_black(pitches[place]) for place in (index - 1, index + 1) if 0 <= place < len(pitches))


def _note_points(finger: int, black: bool, whites: int) -> Points:
    """Rules 6, 10 and 11: weak fingers, thumb on black, five on black (`whites` = white keys next to it in time)."""
    points = [(6, 1)] if finger in (4, 5) else []
    if black and finger == 1:
        points.append((10, 1 + 2 * whites))
    if black and finger == 5:
        points.append((11, 2 * whites))
    return tuple(points)


def _pair_points(finger: int, following: int, pitch: int, next_pitch: int) -> Points:
    """Rules 1, 2, 3, 8, 9 and 12: stretch, small and large span, three to four, four on black, thumb pass."""
    interval = next_pitch - pitch
    if finger == following:
        return ((0, _hop_cost(finger, following, interval)),) if interval else ()
    low_finger, high_finger = sorted((finger, following))
    rise = interval if finger < following else -interval
    _, min_comf, min_rel, max_rel, max_comf, _ = SPANS[low_finger, high_finger]
    rate = 1 if low_finger == 1 else 2
    points = [
        (1, 2 * max(0, rise - max_comf, min_comf - rise)),
        (2, rate * max(0, min_rel - rise)),
        (3, rate * max(0, rise - max_rel)),
        (8, int((finger, following) == (3, 4))),
    ]
    low_pitch, high_pitch = (pitch, next_pitch) if finger < following else (next_pitch, pitch)
    if (low_finger, high_finger) == (3, 4) and not is_black(low_pitch) and is_black(high_pitch):
        points.append((9, 1))
    if low_finger == 1 and rise < 0:
        points.append((12, _thumb_pass(is_black(low_pitch), is_black(high_pitch))))
    return tuple(points)


def _thumb_pass(thumb_black: bool, finger_black: bool) -> int:
    """Rule 12; the thumb plays the upper note."""
    if thumb_black == finger_black:
        return 1
    return 3 if thumb_black else 0


def _triple_points(first: int, second: int, third: int, start: int, middle: int, end: int) -> Points:
    """Rules 4, 5 and 7: number and size of changes of position; fingers 3, 4 and 5 in a row."""
    points = [(7, 1)] if {first, second, third} == {3, 4, 5} else []
    interval = end - start
    min_prac, min_comf, _, _, max_comf, max_prac = SPANS[first, third]
    outside = max(0, interval - max_comf, min_comf - interval)
    if outside:
        between = min(start, end) < middle < max(start, end)
        full = second == 1 and between and not min_prac <= interval <= max_prac
        points += [(4, 2 if full else 1), (5, outside)]
    return tuple(points)
