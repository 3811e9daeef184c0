"""Checks of time: bars, voices and counting fill their place exactly."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import zip_longest

from bookbuild.arrange.check_common import LEFT, NAMES, Finding, Reporter, find_bar, list_sounding
from bookbuild.arrange.model import Arrangement, Bar, CountState, Role, Voice
from bookbuild.exact import Fraction


def check_bars(arr: Arrangement) -> Iterator[Finding]:
    """Bars follow each other from 0; none is longer than the meter, and only upbeats and their answers are shorter."""
    say, now = Reporter(arr, "bar-length"), Fraction(0)
    for bar, following in zip_longest(arr.bars, arr.bars[1:]):
        if bar.onset != now:
            yield say(bar.onset, "this bar does not begin where the one before it ends.")
        missing = arr.meter.bar - bar.length
        if missing < 0:
            yield say(bar.onset, f"the bar is {-missing} of a whole note too long.")
        elif missing > 0 and not _may_be_short(bar, following):
            yield say(bar.onset, f"the bar is {missing} of a whole note too short.")
        now = bar.end


def _may_be_short(bar: Bar, following: Bar | None) -> bool:
    """True for an upbeat and for a bar that a sign, a section or the end completes."""
    if bar.number == 0 or bar.section or bar.opens_repeat or bar.closes_repeat or following is None:
        return True
    return bool(following.number == 0 or following.section or following.opens_repeat or following.ending != bar.ending)


def check_voices(arr: Arrangement) -> Iterator[Finding]:
    """Events follow each other without gap from 0 to the end, and fill each bar of each voice exactly."""
    onsets = [bar.onset for bar in arr.bars]
    say = Reporter(arr, "bar-sum")
    for voice in arr.voices:
        yield from _check_chain(arr, voice)
        filled = [Fraction(0)] * len(arr.bars)
        for event in voice.events:
            index = max(0, bisect_right(onsets, event.onset) - 1)
            while index < len(arr.bars) and onsets[index] < event.end:
                bar = arr.bars[index]
                filled[index] += max(Fraction(0), min(event.end, bar.end) - max(event.onset, bar.onset))
                index += 1
        for bar, length in zip(arr.bars, filled, strict=True):
            if length != bar.length:
                much = "much" if length > bar.length else "little"
                yield say(bar.onset, f"{NAMES[voice.role]} has {length} of a whole note in this bar of {bar.length}: "
                                     f"too {much}.")


def _check_chain(arr: Arrangement, voice: Voice) -> Iterator[Finding]:
    say, name, now = Reporter(arr, "voice-gap"), NAMES[voice.role], Fraction(0)
    for event in voice.events:
        if event.length <= 0:
            yield say(event.onset, f"{name} has a note without length.")
        if event.onset < now:
            yield say(event.onset, f"{name} begins a note while the one before it is still held.")
        elif event.onset > now:
            yield say(now, f"{name} leaves a hole.")
        now = event.end
    if now < arr.length:
        yield say(now, f"{name} stops before the last barline.")
    elif now > arr.length:
        yield say(arr.length, f"{name} goes on after the last barline.")


def check_counts(arr: Arrangement) -> Iterator[Finding]:
    """Counting covers every slot, bar by bar; what the main voice strikes is printed as struck, silence as held."""
    say, now = Reporter(arr, "count-cover"), Fraction(0)
    for count in arr.counts:
        if count.onset != now:
            yield say(min(now, count.onset), "the counting has a hole or counts a slot twice.")
        if count.onset + count.length > find_bar(arr, count.onset).end:
            yield say(count.onset, f"'{count.text}' is counted across a barline.")
        if not count.text:
            yield say(count.onset, "a slot has no syllable.")
        now = count.onset + count.length
    if now != arr.length:
        yield say(now, "the counting does not end with the last bar.")
    yield from _check_states(arr)


def _check_states(arr: Arrangement) -> Iterator[Finding]:
    say = Reporter(arr, "count-state")
    struck = {event.onset for event in list_sounding(_main_voices(arr))}
    begun = {event.onset for event in list_sounding(arr.voices)}
    for count in arr.counts:
        if count.onset in struck and count.state is not CountState.STRUCK:
            yield say(count.onset, f"a note begins on '{count.text}', yet it is not printed as struck.")
        elif count.onset not in begun and count.state is not CountState.HELD:
            yield say(count.onset, f"no note begins on '{count.text}', yet it is not printed as held.")


def _main_voices(arr: Arrangement) -> list[Voice]:
    """The voice the student counts: the clapping, else the melody, else the left hand."""
    for roles in ((Role.CLAP,), (Role.MELODY,), LEFT):
        main = [voice for voice in arr.voices if voice.role in roles]
        if main:
            return main
    return []
