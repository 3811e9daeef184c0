"""In which order printed bars are played: what follows a bar when repeats and endings are obeyed."""

from __future__ import annotations

from collections.abc import Sequence

from bookbuild.arrange.model import Bar


def list_successors(bars: Sequence[Bar]) -> tuple[tuple[int | None, ...], ...]:
    """For each printed bar the bars that may follow it in playing, in the order they do; None is the end.

    A bar that closes a repeat leads back to the bar that opens it (or the bar after the last repeat, or the first);
    the bar before a group of endings leads to each of them; an ending that closes the repeat leads back only, except
    the last of its group.
    """
    found: list[tuple[int | None, ...]] = []
    start = 0
    for index, bar in enumerate(bars):
        if bar.opens_repeat:
            start = index
        following = index + 1 if index + 1 < len(bars) else None
        ways: tuple[int | None, ...] = (following,)
        if bar.closes_repeat:
            goes_on = following is None or not bars[following].ending or bars[following].ending == bar.ending
            ways = (start, following) if goes_on else (start,)
            if goes_on:
                start = index + 1
        elif bar.ending and (following is None or not bars[following].ending):
            start = index + 1
        elif following is not None and bars[following].ending and not bar.ending:
            ways = tuple(_ending_starts(bars, following))
        found.append(ways)
    return tuple(found)


def _ending_starts(bars: Sequence[Bar], first: int) -> list[int]:
    """First bars of the endings in the group that begins with bar `first`."""
    starts = [first]
    for index in range(first + 1, len(bars)):
        if not bars[index].ending or bars[index].section:
            break
        if bars[index].ending != bars[index - 1].ending:
            starts.append(index)
    return starts


def list_plain_joins(bars: Sequence[Bar]) -> tuple[bool, ...]:
    """For each bar, True when in every playing it goes on to the next printed bar, and that bar is reached only so.

    Over such a barline a note may be held; over any other the music jumps.
    """
    successors = list_successors(bars)
    arrivals = [0] * len(bars)
    for ways in successors:
        for way in ways:
            if way is not None:
                arrivals[way] += 1
    return tuple(ways == (index + 1,) and arrivals[index + 1] == 1 for index, ways in enumerate(successors))
