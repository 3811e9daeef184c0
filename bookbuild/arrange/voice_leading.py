"""How far the voices of one frame move to the next, in semitones, and the choice that moves them least."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bookbuild.theory.pitch import Pitch

Grip = tuple[Pitch, ...]


@lru_cache(maxsize=1 << 14)
def measure_motion(start: tuple[int, ...], end: tuple[int, ...]) -> int:
    """Least total motion between two sets of MIDI keys, each low to high and not empty.

    Voices do not cross; where the sets differ in size, voices part or meet, so every key has a partner.
    """
    best: dict[tuple[int, int], int] = {}
    for i, one in enumerate(start):
        for j, other in enumerate(end):
            before = [best[place] for place in ((i - 1, j), (i, j - 1), (i - 1, j - 1)) if place in best]
            best[i, j] = abs(one - other) + (min(before) if before else 0)
    return best[len(start) - 1, len(end) - 1]


def lead_voices(choices: Sequence[Sequence[Grip]]) -> list[Grip]:
    """One grip for each place so that the total motion is least; ties keep the earlier choice. Choices not empty."""
    ways: list[tuple[int, list[Grip], tuple[int, ...]]] = [(0, [], ())]
    for options in choices:
        reached = []
        for option in options:
            keys = tuple(pitch.midi for pitch in option)
            moved = [cost + (measure_motion(last, keys) if last and keys else 0) for cost, _, last in ways]
            best = moved.index(min(moved))
            reached.append((moved[best], [*ways[best][1], option], keys or ways[best][2]))
        ways = reached
    return min(ways, key=lambda way: way[0])[1]
