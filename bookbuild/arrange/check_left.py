"""Checks of fingers and of the left hand: buttons that exist and sound what is printed, letters where they help."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from bookbuild.arrange.check_common import LEFT, NAMES, Finding, Reporter
from bookbuild.arrange.model import Arrangement, Event, Voice
from bookbuild.exact import Fraction
from bookbuild.lessons.model import Instrument

_BASS_ROWS = ("counterbass", "bass")


def check_fingers(arr: Arrangement) -> Iterator[Finding]:
    """A finger for each note or none at all, 0 to 5; the left thumb never plays."""
    say, say_thumb = Reporter(arr, "fingers"), Reporter(arr, "left-thumb")
    for voice in arr.voices:
        for event in voice.events:
            fits = not event.fingers or len(event.fingers) == len(event.pitches)
            if not fits or not all(0 <= finger <= 5 for finger in event.fingers):
                yield say(event.onset, f"{NAMES[voice.role]} has fingers that do not match its notes.")
            if voice.role in LEFT and 1 in event.fingers:
                yield say_thumb(event.onset, f"{NAMES[voice.role]} uses the thumb; it stays off the buttons.")


def check_buttons(arr: Arrangement, instrument: Instrument) -> Iterator[Finding]:
    """Every left-hand note names buttons that the instrument has and that sound what is printed."""
    for voice in arr.voices:
        for event in voice.events if voice.role in LEFT else ():
            if event.pitches:
                yield from _check_note(arr, instrument, NAMES[voice.role], event)


def _check_note(arr: Arrangement, instrument: Instrument, name: str, event: Event) -> Iterator[Finding]:
    say, first = Reporter(arr, "left-buttons"), instrument.first_column.fifths
    if not event.buttons:
        yield say(event.onset, f"{name} has a note without a button.")
        return
    for row, column in event.buttons:
        if row not in instrument.rows or not first <= column < first + instrument.columns:
            yield say(event.onset, f"{name} needs a {row} button that this instrument does not have.")
    names = {_root_class(button) for button in event.buttons}
    for pitch in event.pitches:
        if pitch.midi % 12 not in names:
            yield say(event.onset, f"{name} prints {pitch.name}, but presses no button of that name.")


def _root_class(button: tuple[str, int]) -> int:
    """Pitch class a button is named by; a counterbass sounds the major third of its column."""
    row, column = button
    return (7 * column + (4 if row == "counterbass" else 0)) % 12


def check_letters(arr: Arrangement) -> Iterator[Finding]:
    """A stradella letter stands at a chord's first appearance and where its kind changes, not where nothing changed.

    Source: Music Braille Code 1997 §25.4. A letter may be printed again where a part, a repeat or an ending begins.
    """
    fresh = [bar.onset for before, bar in pairwise(arr.bars)
             if bar.section or bar.opens_repeat or before.closes_repeat or bar.ending != before.ending]
    for voice in arr.voices:
        if voice.role in LEFT:
            yield from _check_voice_letters(arr, voice, fresh)


def _check_voice_letters(arr: Arrangement, voice: Voice, fresh: list[Fraction]) -> Iterator[Finding]:
    say = Reporter(arr, "left-letter")
    known: tuple[tuple[str, int], ...] = ()
    since = Fraction(0)
    for event in voice.events:
        chords = tuple(sorted(button for button in event.buttons if button[0] not in _BASS_ROWS))
        if not chords:
            continue
        reminder = any(since < start <= event.onset for start in fresh)
        if not event.letter and {row for row, _ in chords} != {row for row, _ in known}:
            yield say(event.onset, "the kind of chord changes without a letter.")
        if event.letter and chords == known and not reminder:
            yield say(event.onset, f"the letter {event.letter} is printed again, though nothing changed.")
        known, since = chords, event.onset
