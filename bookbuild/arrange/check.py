"""Holds an arrangement to the rules of the trade and says in the teacher's words where it breaks them."""

from __future__ import annotations

from collections.abc import Iterator

from bookbuild.arrange.check_bellows import check_bellows
from bookbuild.arrange.check_common import Finding
from bookbuild.arrange.check_left import check_buttons, check_fingers, check_letters
from bookbuild.arrange.check_right import check_fill, check_frames, check_melody, check_range, check_span
from bookbuild.arrange.check_time import check_bars, check_counts, check_voices
from bookbuild.arrange.model import Arrangement, Line
from bookbuild.lessons.model import Groove, Instrument

__all__ = ["RULES", "Finding", "check_arrangement"]

RULES: dict[str, str] = {
    "bar-length": "Bars have the meter's length; only upbeats and what completes them are shorter.",
    "voice-gap": "Each voice runs without hole or overlap from the beginning to the last barline.",
    "bar-sum": "The notes and rests of each voice fill each bar exactly.",
    "count-cover": "A syllable stands under every slot, and none crosses a barline.",
    "count-state": "A syllable is printed as struck where the main voice strikes, as held where nothing begins.",
    "fingers": "There is a finger for each note of a chord, or none.",
    "right-range": "Each right-hand note has a key on the instrument.",
    "right-span": "The right hand never stretches farther than allowed.",
    "clash": "Nothing sounds a second from the melody note or on its key.",
    "frame-below": "The fill lies below the melody.",
    "fill-strike": "The fill never strikes together with the melody.",
    "fill-slot": "The fill strikes only where the groove says.",
    "melody-value": "Each melody note is held for its full value.",
    "left-buttons": "The instrument has every button, and the buttons sound what is printed.",
    "left-thumb": "The left thumb never plays.",
    "left-letter": "A letter stands where the kind of chord changes, and only where something changed.",
    "bellows-cover": "There is one bellows direction at every moment.",
    "bellows-held": "The bellows never turn while a note is held.",
    "bellows-alternate": "Directions alternate from mark to mark.",
    "bellows-repeat": "A repeat begins with a turn on each pass.",
    "shake-strokes": "Whole strokes fill a shake.",
    "shake-first": "A shake opens first.",
    "shake-after": "What follows a shake goes on from its last stroke.",
    "air": "The bellows stay between closed and full on each pass, and end nearly closed.",
}
"""Each rule's name and what it asks for."""


def check_arrangement(arr: Arrangement, instrument: Instrument, groove: Groove | None = None, *, span: int = 12,
                      line: Line | None = None) -> tuple[Finding, ...]:
    """Every rule of `RULES` the arrangement breaks, in the order of the music.

    `span` is the widest right-hand grip in semitones. With `groove` the fill is held to its slots, with `line` the
    melody to its written values. An arrangement without bars is not checked.
    """
    if not arr.bars:
        return ()
    return tuple(sorted(_run_checks(arr, instrument, groove, span, line), key=lambda finding: finding.moment))


def _run_checks(arr: Arrangement, instrument: Instrument, groove: Groove | None, span: int,
                line: Line | None) -> Iterator[Finding]:
    yield from check_bars(arr)
    yield from check_voices(arr)
    yield from check_counts(arr)
    yield from check_fingers(arr)
    yield from check_range(arr, instrument)
    yield from check_span(arr, span)
    yield from check_frames(arr)
    yield from check_fill(arr, groove)
    if line is not None:
        yield from check_melody(arr, line)
    yield from check_buttons(arr, instrument)
    yield from check_letters(arr)
    yield from check_bellows(arr, instrument.air)
