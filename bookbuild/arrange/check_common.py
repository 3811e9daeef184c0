"""What the checks share: a finding, how a moment is called in the teacher's words, and which notes sound at it."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from bookbuild.arrange.model import Arrangement, Bar, Event, Role, Voice
from bookbuild.exact import Fraction

NAMES = {
    Role.CLAP: "the clapping", Role.MELODY: "the melody", Role.FILL: "the fill", Role.LEFT: "the left hand",
    Role.BASS: "the bass", Role.CHORD: "the left-hand chords",
}
RIGHT = (Role.MELODY, Role.FILL)
LEFT = (Role.LEFT, Role.BASS, Role.CHORD)

_TOPICS = {
    "air": ("bellows",), "bellows": ("bellows",), "shake": ("bellows", "shake"),
    "left": ("left hand", "bass", "button", "chord"), "right": ("melody", "fill", "keyboard", "hand"),
    "clash": ("melody", "fill", "frame"), "frame": ("melody", "fill", "frame"), "fill": ("fill",),
    "melody": ("melody",),
}
"""First word of a rule's name -> words of which a notice on the same matter has one."""
_BARS = re.compile(r"\bbars? (\d+(?:(?:, | and |–)\d+)*)", re.IGNORECASE)


@dataclass(frozen=True)
class Finding:
    """A rule an arrangement breaks: the rule's name, the moment in whole notes, what is wrong in the teacher's words.

    `explained` is True when a notice printed with the arrangement speaks about the matter and the bar.
    """

    rule: str
    moment: Fraction
    message: str
    explained: bool = False


class Reporter:
    """Writes findings on one arrangement under one rule."""

    def __init__(self, arr: Arrangement, rule: str) -> None:
        self.arr, self.rule = arr, rule
        topics = _TOPICS.get(rule.split("-")[0], ())
        self._told = [notice for notice in arr.notices if any(word in notice.lower() for word in topics)]

    def __call__(self, moment: Fraction, what: str) -> Finding:
        """A finding whose message begins with its place."""
        number = find_bar(self.arr, moment).number
        told = any(number in list_bars(notice) for notice in self._told)
        return Finding(self.rule, moment, f"{name_place(self.arr, moment)}: {what}", told)


def list_bars(notice: str) -> set[int]:
    """The bar numbers a notice speaks of; 0 for an upbeat."""
    numbers = {int(number) for run in _BARS.findall(notice) for number in re.findall(r"\d+", run)}
    return numbers | ({0} if "upbeat" in notice.lower() else set())


def find_bar(arr: Arrangement, moment: Fraction) -> Bar:
    """The bar a moment lies in; the last one from the end of the music on."""
    return arr.bars[max(0, bisect_right(arr.bars, moment, key=lambda bar: bar.onset) - 1)]


def name_place(arr: Arrangement, moment: Fraction) -> str:
    """`Bar 3, beat 2`, `Bar 3, after beat 2`, `Upbeat`, `End`: as a sentence begins."""
    if moment >= arr.length:
        return "End"
    bar = find_bar(arr, moment)
    if not bar.number:
        return "Upbeat"
    beats, rest = divmod(moment - bar.onset, arr.meter.beat)
    return f"Bar {bar.number}, {'after ' if rest else ''}beat {beats + 1}"


def list_sounding(voices: Iterable[Voice]) -> list[Event]:
    """The notes of some voices, without rests, in order of onset."""
    return sorted((event for voice in voices for event in voice.events if event.pitches), key=lambda event: event.onset)


def pair_overlaps(struck: Sequence[Event], held: Sequence[Event]) -> Iterator[tuple[Event, Event]]:
    """Every (struck, held) pair that sounds together for a while; both in order of onset, `held` of one voice."""
    onsets = [event.onset for event in held]
    for event in struck:
        first = max(0, bisect_right(onsets, event.onset) - 1)
        for other in held[first:bisect_left(onsets, event.end)]:
            if other.end > event.onset:
                yield event, other
