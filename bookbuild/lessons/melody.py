"""Melodies written in the engraver's note-entry language: a strict subset, read with the place of every mistake.

Read are absolute Dutch note names with octave marks, sticky durations with dots, rests, ties, fingers, `\\breathe`,
`\\tuplet`, bar checks and `%` comments. Everything else is refused with a hint.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace

from bookbuild.exact import Fraction
from bookbuild.lessons.melody_hints import hint_for_token
from bookbuild.lessons.model import MelodyNote
from bookbuild.lessons.report import MOST, Flaw, show, tell_length
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch

TUPLETS = {"3/2", "6/4", "2/3", "5/4", "4/3"}
"""Tuplets that are read: so many notes in the time of so many."""

DURATIONS = ("1", "2", "4", "8", "16", "32", "64")
LOWEST, HIGHEST = 21, 108
"""MIDI keys a melody may use at all (the compass of a piano); the instrument is checked later."""

_SPACE = re.compile(r"(?:\s|%(?!\{)[^\n]*)+")
_NAME = r"r(?![a-z])|[a-g](?:isis|eses|is|es|ses|s)?(?![a-z])"
_NOTE = re.compile(rf"({_NAME})([',]*)(\d+)?(\.*)(?![\d.,'*/!?=<>a-zA-Z:#♯♭’‘`´\"])")
_FINGER = re.compile(r"-(\d+)")
_TUPLET = re.compile(r"\\tuplet\s+(\d+/\d+)\s*\{")
_WORD = re.compile(r"%\{|\\?[^\s|{}]+|\S")


@dataclass(frozen=True)
class WrittenBar:
    """A bar as written: where it starts in the text, its length, and whether something in it could not be read."""

    offset: int
    length: Fraction
    unreadable: bool = False


@dataclass(frozen=True)
class WrittenMelody:
    """The bars and notes of a melody text and the flaws found in it."""

    bars: tuple[WrittenBar, ...]
    notes: tuple[MelodyNote, ...]
    flaws: tuple[Flaw, ...]


@dataclass
class _Reader:
    """The state of reading one melody from left to right."""

    text: str
    at: int = 0
    onset: Fraction = Fraction(0)
    duration: Fraction | None = None
    factor: Fraction = Fraction(1)
    tuplet: tuple[int, Fraction] | None = None
    tied: int = -1
    """Offset of the tie that waits for its second note, or −1."""
    bar_offset: int = -1
    bar_onset: Fraction = Fraction(0)
    unreadable: bool = False
    bars: list[WrittenBar] = field(default_factory=list)
    notes: list[MelodyNote] = field(default_factory=list)
    flaws: list[Flaw] = field(default_factory=list)

    def flaw(self, message: str, hint: str, offset: int | None = None) -> None:
        self.flaws.append(Flaw(self.at if offset is None else offset, message, hint))

    def read(self) -> None:
        """Read to the end of the text, or until there are more flaws than anyone will be told."""
        while self.at < len(self.text) and len(self.flaws) <= MOST:
            if match := _SPACE.match(self.text, self.at):
                self.at = match.end()
                continue
            self.read_item()
        if self.tuplet:
            self.flaw("a tuplet is opened and not closed", "Close it with }.", self.tuplet[0])
            self.unreadable = True
        if self.bar_offset >= 0:
            self.close_bar()

    def read_item(self) -> None:
        """Read one note, sign or word."""
        if self.text[self.at] == "|":
            self.read_bar_line()
            return
        if self.bar_offset < 0:
            self.bar_offset = self.at
        if match := _NOTE.match(self.text, self.at):
            self.read_note(match)
        elif match := _FINGER.match(self.text, self.at):
            self.read_finger(match)
        elif self.text[self.at] == "~":
            self.read_tie()
        elif match := re.compile(r"\\breathe(?![a-zA-Z])").match(self.text, self.at):
            self.read_breath(match)
        elif match := _TUPLET.match(self.text, self.at):
            self.open_tuplet(match)
        elif self.text[self.at] == "}" and self.tuplet:
            self.close_tuplet()
        else:
            self.refuse_word()

    def read_bar_line(self) -> None:
        if self.tuplet:
            self.flaw("a bar ends inside a tuplet", "Close the tuplet with } before the bar line.")
            self.tuplet, self.factor, self.unreadable = None, Fraction(1), True
        if self.bar_offset >= 0:
            self.close_bar()
        elif self.bars:
            self.flaw("two bar lines with nothing between them", "Write one | between bars.")
        self.at += 1

    def close_bar(self) -> None:
        self.bars.append(WrittenBar(self.bar_offset, self.onset - self.bar_onset, self.unreadable))
        self.bar_offset, self.bar_onset, self.unreadable = -1, self.onset, False

    def read_note(self, match: re.Match[str]) -> None:
        name, marks, number, dots = match.groups()
        length = self.read_duration(number, dots)
        pitch = self.read_pitch(name, marks)
        note = MelodyNote(self.onset, length, pitch)
        self.onset += length
        if self.tied >= 0:
            self.join_tie(note)
        else:
            self.notes.append(note)
        self.at = match.end()

    def read_duration(self, number: str | None, dots: str) -> Fraction:
        if number is None and not dots and self.duration is not None:
            return self.duration * self.factor
        if number is None:
            self.flaw(
                "the first note has no duration" if not dots else "a dot without a duration",
                "Write it after the note: 4 is a quarter, 8 an eighth, 4. a dotted quarter.",
            )
            self.unreadable = True
            number = "4"
        if number not in DURATIONS or len(dots) > 3:
            wrong = show(number + dots, 12)
            self.flaw(f"{wrong} is not a duration", "Durations are 1 2 4 8 16 32 64, with three dots at most.")
            self.unreadable, number, dots = True, "4", ""
        self.duration = Fraction(1, int(number)) * (2 - Fraction(1, 2 ** len(dots)))
        return self.duration * self.factor

    def read_pitch(self, name: str, marks: str) -> Pitch | None:
        if name == "r":
            if marks:
                self.flaw("a rest has no octave", "Write r and its duration, for example r8.")
            return None
        if "'" in marks and "," in marks:
            self.flaw(f"'{name}{marks}' goes up and down at once", "Use ' for higher octaves or , for lower ones.")
            return Pitch.from_lily(name)
        try:
            pitch = Pitch.from_lily(name + marks)
        except ValueError:
            self.flaw(f"'{name}' is not a note name", "Dutch names: c d e f g a b; fis is F sharp, bes is B flat.")
            return Pitch.from_lily(name[0])
        if not LOWEST <= pitch.midi <= HIGHEST:
            self.flaw(f"'{name}{marks[:12]}' lies beyond every keyboard", "c' is middle C, c'' the octave above it.")
            return Pitch.from_lily(name)
        return pitch

    def join_tie(self, note: MelodyNote) -> None:
        first = self.notes[-1]
        tied, self.tied = self.tied, -1
        if note.pitch != first.pitch:
            into = note.pitch.lily if note.pitch else "a rest"
            self.flaw(
                f"the tie after {first.pitch.lily if first.pitch else 'r'} leads to {into}",
                "A tie joins two notes of the same pitch; remove ~ (slurs are not written).",
                tied,
            )
            self.notes.append(note)
        else:
            self.notes[-1] = replace(first, length=first.length + note.length)

    def read_tie(self) -> None:
        if not self.notes or self.notes[-1].pitch is None or self.tied >= 0:
            self.flaw("a tie without a note before it", "Write ~ straight after the first of the two tied notes.")
        elif self.notes[-1].breath:
            self.flaw("a phrase cannot end in the middle of a tied note", "Write \\breathe after the last tied note.")
        else:
            self.tied = self.at
        self.at += 1

    def read_finger(self, match: re.Match[str]) -> None:
        finger = int(match[1]) if len(match[1]) == 1 else 0
        if not 1 <= finger <= 5:
            self.flaw(f"'{match[0][:8]}' is not a finger", "Fingers are -1 (thumb) to -5 (little finger).")
        elif not self.notes or self.notes[-1].pitch is None:
            self.flaw("a finger without a note before it", "Write the finger after its note, for example b'8-3.")
        elif self.notes[-1].finger not in (0, finger):
            self.flaw(
                f"a second finger for {self.notes[-1].pitch.lily}", "A note, and all notes tied to it, has one finger."
            )
        else:
            self.notes[-1] = replace(self.notes[-1], finger=finger)
        self.at = match.end()

    def read_breath(self, match: re.Match[str]) -> None:
        if not self.notes:
            self.flaw("a phrase end without a note before it", "Write \\breathe after the last note of a phrase.")
        elif self.tied >= 0:
            self.flaw("a phrase cannot end in the middle of a tied note", "Write \\breathe after the last tied note.")
        else:
            self.notes[-1] = replace(self.notes[-1], breath=True)
        self.at = match.end()

    def open_tuplet(self, match: re.Match[str]) -> None:
        if self.tuplet:
            self.flaw("a tuplet inside a tuplet", "Close the first one with } before the next begins.")
            self.unreadable = True
        elif match[1] not in TUPLETS:
            self.flaw(f"the tuplet {match[1][:12]} is not read", f"Read are {', '.join(sorted(TUPLETS))}.")
            self.unreadable = True
        else:
            many, time = match[1].split("/")
            self.factor = Fraction(int(time), int(many))
        self.tuplet = self.tuplet or (self.at, self.onset)
        self.at = match.end()

    def close_tuplet(self) -> None:
        assert self.tuplet
        offset, onset = self.tuplet
        played = self.onset - onset
        if not self.unreadable and (not played or played.denominator & (played.denominator - 1)):
            self.flaw(
                f"the tuplet is not filled: it lasts {played} of a whole note",
                "Write as many notes as its first number says, for example \\tuplet 3/2 { c''8 d'' e'' }.",
                offset,
            )
            self.unreadable = True
        self.tuplet, self.factor = None, Fraction(1)
        self.at += 1

    def refuse_word(self) -> None:
        match = _WORD.match(self.text, self.at)
        word = match[0] if match else self.text[self.at]
        message, hint = hint_for_token(word)
        self.flaw(message, hint)
        self.unreadable = True
        self.at += len(word)


def parse_melody(text: str) -> WrittenMelody:
    """Read a melody. Onsets count from the text's start; notes tied together come out as one. Never raises."""
    reader = _Reader(text)
    reader.read()
    if not reader.bars and not reader.flaws:
        reader.flaw("the melody is empty", "Write notes, for example: d'8 fis' g'4 | a'2", 0)
    return WrittenMelody(tuple(reader.bars), tuple(reader.notes), tuple(reader.flaws))


FEWEST_BARS = 4
"""So many bars of one length are no slip."""


def check_bars(
    melody: WrittenMelody,
    where: str,
    meter: Meter,
    upbeat: Fraction = Fraction(0),
    short_by: frozenset[Fraction] = frozenset(),
) -> list[Flaw]:
    """Compare every bar with the meter.

    `where` names the stretch in messages ("section A"). With an `upbeat` the first bar lasts that long. The last bar
    may lack any of the lengths `short_by` (the upbeats of the tune). Bars that could not be read are passed over. Where
    nearly all bars agree on another length, the meter is told, not the bars.
    """
    if other := _find_other_meter(melody, where, meter):
        return [other]
    flaws = []
    last = len(melody.bars) - 1
    for index, bar in enumerate(melody.bars):
        number = index if upbeat else index + 1
        wanted = upbeat if number == 0 else meter.bar
        allowed = {wanted}
        if index == last and (index > 0 or not upbeat):
            allowed |= {meter.bar - short for short in short_by}
            if melody.bars[0].length < meter.bar and not upbeat:
                # The upbeat was forgotten and is told at the first bar; the last bar that answers it is right.
                allowed.add(meter.bar - melody.bars[0].length)
        if bar.unreadable or bar.length in allowed:
            continue
        name = f"the upbeat of {where}" if number == 0 else f"bar {number} of {where}"
        message = f"{name} holds {tell_length(bar.length)} instead of {tell_length(wanted)}"
        flaws.append(Flaw(bar.offset, message, _bar_hint(number, index == last, meter, upbeat, short_by)))
    return flaws


def _find_other_meter(melody: WrittenMelody, where: str, meter: Meter) -> Flaw | None:
    """The mistake of a stretch in another meter: at least `FEWEST_BARS` bars, and all but two, have its length."""
    lengths = Counter(bar.length for bar in melody.bars if not bar.unreadable)
    length, count = max(lengths.items(), key=lambda item: item[1], default=(meter.bar, 0))
    if length == meter.bar or count < max(FEWEST_BARS, len(melody.bars) - 2):
        return None
    first = next(bar for bar in melody.bars if bar.length == length)
    quarters, eighths = length * 4, length * 8
    meters = [f"'meter: {quarters}/4'"] if quarters.denominator == 1 else []
    if eighths.denominator == 1 and (not meters or eighths % 3 == 0):
        meters.append(f"'meter: {eighths}/8'")
    message = f"the bars of {where} hold {tell_length(length)}, but the meter is {meter}"
    return Flaw(first.offset, message, f"Write {' or '.join(meters) or 'the meter they have'}, or mend every bar.")


def _bar_hint(number: int, last: bool, meter: Meter, upbeat: Fraction, short_by: frozenset[Fraction]) -> str:
    if number == 0:
        return (
            f"With 'upbeat: {upbeat}' the first bar is that short. "
            "Mend its notes, or set 'upbeat' of the tune or of the section (0 = none)."
        )
    if last and short_by:
        shorts = " or ".join(tell_length(meter.bar - short) for short in sorted(short_by))
        return (
            f"The last bar is full, or {shorts}: short by the upbeat that follows it on the repeat, "
            "so that both make one bar."
        )
    if number == 1 and not upbeat:
        return f"Every bar of {meter} is full. If the tune begins with an upbeat, write 'upbeat: 1/8' (its length)."
    return f"Count the notes up to the next |: in {meter} they make {tell_length(meter.bar)}."
