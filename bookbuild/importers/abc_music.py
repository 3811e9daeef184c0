"""The music of one ABC tune (standard 2.1, §4): tokens to written bars, every length a Fraction of a whole note."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from bookbuild.exact import Fraction
from bookbuild.importers.abc_fields import KeyField, names_key, read_key, read_meter, read_text, read_unit
from bookbuild.importers.chord_text import name_unread, read_chord
from bookbuild.importers.jumps import read_jump
from bookbuild.importers.written import MOST_BARS, TuneFault, WrittenBar, WrittenNote
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Pitch, Tone

MOST_NOTES = 400
LONGEST_BAR = 100
"""Notes, and lengths of the meter, in one bar before it is given up."""

_LENGTH = r"(?:\d{1,4})?(?:/+\d{0,4})?"
_PITCH = r"(?:\^\^|\^/?|__|_/?|=)?[A-Ga-g][,']{0,8}"
_TOKEN = re.compile(rf"""
    (?P<string>"[^"]*"?)
  | (?P<inline>\[[A-Za-z]:[^\]\[]{{0,200}}\])
  | (?P<bar>(?::+\|+\]?:*|\[?\|+\]?:*|::+)(?:[ ]*\[?(?P<passes>\d(?:[,-]?\d)*))?)
  | \[(?P<bracket>\d(?:[,-]?\d)*)
  | (?P<grace>\{{[^}}]{{0,200}}\}})
  | (?P<mark>![^!\s][^!]{{0,60}}!|\+[A-Za-z.()<>]+\+)
  | \((?P<tuplet>[2-9](?::\d?(?::\d?)?)?)
  | (?P<chord>\[(?:[^\]\[|"]|"[^"]{{0,60}}"){{1,200}}\])(?P<chordlength>{_LENGTH})
  | (?P<note>{_PITCH})(?P<notelength>{_LENGTH})
  | (?P<rest>[zx])(?P<restlength>{_LENGTH})
  | (?P<bars>[ZX])(?P<barcount>\d{{0,3}})
  | (?P<broken>>+|<+)
  | (?P<tie>-)
  | (?P<overlay>&+)
  | (?P<quiet>[\s().~`*;?@\#$y\\H-WYh-w0-9])
  | (?P<unknown>.)
""", re.VERBOSE)
_INNER = re.compile(rf"({_PITCH})({_LENGTH})(-?)")
_TRIPLE = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Notes in a tuplet -> the time of how many they take; 5, 7 and 9 take 3 in compound meters, else 2 (§4.13)."""


@dataclass
class _Draft:
    """The bar that is being read."""

    line: int = 0
    notes: list[WrittenNote] = field(default_factory=list)
    chords: list[tuple[Fraction, Chord | None]] = field(default_factory=list)
    now: Fraction = Fraction(0)
    signs: dict[int, int] = field(default_factory=dict)
    opens: bool = False
    ending: tuple[int, ...] = ()
    segno: bool = False
    fine: bool = False
    jump: str = ""
    key: KeyField | None = None  # in force at its first note


class MusicReader:
    """Reads the lines of one tune from top to bottom; `bars` and `notes` (remarks) are the result."""

    def __init__(self, key: KeyField, meter: Meter, unit: Fraction) -> None:
        self.key, self.meter, self.unit = key, meter, unit
        self.bars: list[WrittenBar] = []
        self.lost: dict[str, int] = {}
        self.unread: dict[str, None] = {}
        self.draft = _Draft()
        self.tuplet: tuple[Fraction, int] = (Fraction(1), 0)
        self.broken = Fraction(0)
        self.overlay = False
        self.voice: str | None = None
        self.heard = True

    def lose(self, what: str) -> None:
        """Count something that is not carried over."""
        self.lost[what] = self.lost.get(what, 0) + 1

    @property
    def notes(self) -> list[str]:
        """Remarks about what was left out, with counts."""
        lost = (what if count == 1 else f"{what} ({count} times)" for what, count in self.lost.items())
        return [*lost, *name_unread(self.unread)]

    def read_field(self, letter: str, value: str, line: int) -> None:
        """A field inside the tune: K, M, L change what follows; P and T divide; V picks the voice."""
        if letter == "V":
            self._pick_voice(value)
        elif not self.heard:
            return
        elif letter == "K":
            self.key = read_key(value) if names_key(value) else self.key
        elif letter == "M":
            self._change_meter(value, line)
        elif letter == "L":
            self.unit = read_unit(value)
        elif letter in "PT":
            self._divide()
        elif letter in "wW":
            self.lose("words under the notes are not carried over")
        elif letter == "Q" and self.bars:
            self.lose("a change of tempo inside the tune is not carried over")

    def _change_meter(self, value: str, line: int) -> None:
        meter = read_meter(value)
        if meter is None:
            raise TuneFault("it changes to free meter", line)
        if self.draft.notes and meter != self.meter:
            self._close_bar(0)
        self.meter = meter

    def _pick_voice(self, value: str) -> None:
        name = (value.split() or ["1"])[0]
        if self.voice is None:
            self.voice = name
        elif name != self.voice:
            self.lost[f"the voice '{name[:20]}' is not carried over: only the first voice is read"] = 1
        self.heard = name == self.voice

    def _divide(self) -> None:
        """A part's name or a new title: the strain before it ends."""
        if self.draft.notes:
            return
        if self.bars:
            self.bars[-1] = replace(self.bars[-1], heavy=True)

    def read_line(self, text: str, line: int) -> None:
        """A line of music."""
        if not self.draft.notes:
            self.draft.line = line
        for match in _TOKEN.finditer(text):
            if match["inline"]:
                self.read_field(match["inline"][1], match["inline"][3:-1], line)
            elif self.heard and match["bar"]:
                self._read_bar_sign(match, line)
            elif self.heard and not self.overlay and not match["quiet"]:
                self._read_token(match)
        if self.heard and self.draft.now == self.meter.bar:
            self._close_bar(line)  # some collections leave out the barline at a line's end

    def _read_token(self, match: re.Match[str]) -> None:
        if match["note"]:
            self._add(self._pitch(match["note"]), _length(match["notelength"]) * self.unit)
        elif match["chord"]:
            self._read_chord(match)
        elif match["rest"]:
            self._add(None, _length(match["restlength"]) * self.unit)
        elif match["bars"]:
            self._rest_bars(int(match["barcount"] or 1))
        elif match["bracket"]:
            self._begin_ending(match["bracket"])
        elif match["string"]:
            self._read_string(match["string"].strip('"'))
        elif match["tuplet"]:
            self._begin_tuplet(match["tuplet"])
        elif match["broken"]:
            self._break_rhythm(match["broken"])
        elif match["tie"]:
            self._tie()
        elif match["mark"]:
            self._read_mark(match["mark"][1:-1])
        elif match["grace"]:
            self.lose("grace notes are not carried over")
        elif match["overlay"]:
            self.overlay = True
            self.lose("a second voice inside a bar (&) is not carried over")
        elif match["unknown"]:
            self.lose(f"the sign {match['unknown']!r} is not known")

    def _pitch(self, text: str) -> Pitch:
        """The pitch a note sounds: its own accidental, else the bar's, else the key's."""
        match = re.fullmatch(r"(\^\^|\^/?|__|_/?|=)?([A-Ga-g])([,']*)", text)
        assert match
        sign, letter, marks = match[1] or "", match[2], match[3]
        step = "CDEFGAB".index(letter.upper())
        octave = (5 if letter.islower() else 4) + marks.count("'") - marks.count(",")
        if sign.endswith("/"):
            self.lose("quarter tones are written as the plain note")
            sign = ""
        if sign:
            self.draft.signs[step] = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}[sign]
        alter = self.draft.signs.get(step, self._tied_alter(step, octave))
        return Tone(step, alter).at(octave + self.key.octaves)

    def _tied_alter(self, step: int, octave: int) -> int:
        """An accidental holds over a barline on a tied note."""
        last = self.bars[-1].notes[-1] if self.bars and self.bars[-1].notes and not self.draft.notes else None
        place = (step, octave + self.key.octaves)
        if last and last.tied and last.pitch and (last.pitch.step, last.pitch.octave) == place:
            return last.pitch.alter
        return self.key.alters[step]

    def _read_chord(self, match: re.Match[str]) -> None:
        """Notes struck together: the top one is the melody."""
        body = re.sub(r'"[^"]*"|![^!]*!', "", match["chord"][1:-1])
        inner = [(self._pitch(pitch), length, tie) for pitch, length, tie in _INNER.findall(body)]
        if not inner:
            self.lose(f"'{match['chord'][:20]}' cannot be read")
            return
        top, _, tie = max(inner, key=lambda item: item[0].midi)
        if len(inner) > 1:
            self.lose("of notes struck together only the top one is carried over")
        self._add(top, _length(inner[0][1]) * _length(match["chordlength"]) * self.unit)
        if tie:
            self._tie()

    def _add(self, pitch: Pitch | None, length: Fraction) -> None:
        factor, left = self.tuplet
        if left:
            length *= factor
            self.tuplet = (factor, left - 1)
        if self.broken:
            length *= self.broken
            self.broken = Fraction(0)
        if not length:
            return
        self.draft.key = self.draft.key or self.key
        self.draft.notes.append(WrittenNote(self.draft.now, length, pitch))
        self.draft.now += length
        if len(self.draft.notes) > MOST_NOTES or self.draft.now > LONGEST_BAR * self.meter.bar:
            raise TuneFault(f"bar {self._number(self.draft)} has no end: a barline is missing, or the file is damaged")

    def _rest_bars(self, count: int) -> None:
        for number in range(min(count, 100)):
            if number:
                self._close_bar(self.draft.line)
            self._add(None, self.meter.bar)

    def _begin_tuplet(self, text: str) -> None:
        parts = [int(part) if part else 0 for part in text.split(":")]
        count = parts[0]
        time = parts[1] if len(parts) > 1 and parts[1] else _TRIPLE.get(count, 3 if self.meter.compound else 2)
        self.tuplet = (Fraction(time, count), parts[2] if len(parts) > 2 and parts[2] else count)

    def _break_rhythm(self, text: str) -> None:
        """`a>b`: the first is dotted, the second halved; `<` the other way; `>>` doubles the dot."""
        if not self.draft.notes:
            self.lose("a broken rhythm at a barline is not read")
            return
        short = Fraction(1, 2 ** len(text))
        first, self.broken = (2 - short, short) if text[0] == ">" else (short, 2 - short)
        last = self.draft.notes[-1]
        self.draft.now += last.length * (first - 1)
        self.draft.notes[-1] = replace(last, length=last.length * first)

    def _tie(self) -> None:
        if self.draft.notes and self.draft.notes[-1].pitch:
            self.draft.notes[-1] = replace(self.draft.notes[-1], tied=True)
        elif not self.draft.notes and self.bars and self.bars[-1].notes and self.bars[-1].notes[-1].pitch:
            last = self.bars[-1]
            self.bars[-1] = replace(last, notes=(*last.notes[:-1], replace(last.notes[-1], tied=True)))

    def _read_string(self, text: str) -> None:
        """A chord symbol, or a remark above or below the staff."""
        plain = read_text(text)
        if self._read_jump(plain.lstrip("^_<>@ ")):
            return
        if plain[:1] in "^_<>@" or not plain:
            return self.lose("remarks over the staff are not carried over")
        try:
            chord, simplified = read_chord(plain)
        except ValueError:
            return self.unread.setdefault(plain[:20])
        if simplified and chord:
            self.lose(f"the chord {plain[:20]} was simplified to {chord.symbol}")
        self.draft.chords.append((self.draft.now, chord))

    def _read_mark(self, text: str) -> None:
        if text == "breath" and self.draft.notes:
            self.draft.notes[-1] = replace(self.draft.notes[-1], breath=True)
        elif not self._read_jump(text):
            self.lose("ornaments, bowings and dynamics are not carried over")

    def _read_jump(self, text: str) -> bool:
        signs = read_jump(text)
        self.draft.jump = "capo" if "capo" in signs else "segno" if "dal" in signs else self.draft.jump
        self.draft.fine |= "fine" in signs
        self.draft.segno |= "segno" in signs
        if coda := "coda" in text.lower() and not signs:
            self.lose("a coda sign is not carried over")
        return bool(signs) or coda

    def _read_bar_sign(self, match: re.Match[str], line: int) -> None:
        sign = match["bar"] if not match["passes"] else match["bar"][:match["bar"].index(match["passes"])]
        sign = sign.replace(" ", "").rstrip("[") if match["passes"] else sign
        self.overlay = False
        if sign == "[|]":
            return
        body = sign.replace("[", "").replace("]", "")
        left = len(body) - len(body.lstrip(":"))
        right = len(body) - len(body.rstrip(":"))
        if set(body) == {":"}:
            left = right = max(1, len(body) // 2)
        self._close_bar(line, plays=1 + left if left else 1, heavy=sign.count("|") > 1 or "[" in sign or "]" in sign)
        self.draft.opens = self.draft.opens or bool(right)
        if match["passes"]:
            self._begin_ending(match["passes"])

    def _begin_ending(self, text: str) -> None:
        if self.draft.notes:
            self._close_bar(self.draft.line)
        self.draft.ending = ()
        for part in text.split(","):
            if not (match := re.fullmatch(r"(\d{1,2})(?:-(\d{1,2}))?", part)):
                raise TuneFault(f"bar {self._number(self.draft)} begins an ending for the passes '{text[:20]}'")
            self.draft.ending += tuple(range(int(match[1]), int(match[2] or match[1]) + 1))

    def _close_bar(self, line: int, plays: int = 1, heavy: bool = False) -> None:
        draft = self.draft
        if len(self.bars) > MOST_BARS:
            raise TuneFault(f"it has more than {MOST_BARS} bars")
        if draft.notes or draft.fine or draft.jump or draft.segno:
            self.bars.append(WrittenBar(
                self._number(draft), self.meter, tuple(draft.notes), tuple(draft.chords), draft.opens, plays,
                draft.ending, heavy=heavy, segno=draft.segno, fine=draft.fine, jump=draft.jump, line=draft.line,
                key=(draft.key or self.key).key))
            self.draft = _Draft(line)
        else:
            if self.bars and (plays > 1 or heavy):
                last = self.bars[-1]
                self.bars[-1] = replace(last, plays=max(last.plays, plays), heavy=last.heavy or heavy)
            draft.signs = {}
            draft.line = line

    def _number(self, draft: _Draft) -> int:
        """Bars are counted from 1; an upbeat at the start is bar 0."""
        if not self.bars:
            return 0 if draft.now < self.meter.bar else 1
        return self.bars[-1].number + 1

    def finish(self) -> list[WrittenBar]:
        """Close the last bar and return them all."""
        self._close_bar(self.draft.line, heavy=True)
        return self.bars


def _length(text: str) -> Fraction:
    """`3`, `/`, `//`, `3/2`, `/4` as a multiple of the unit."""
    number, slash, rest = text.partition("/")
    top = int(number) if number else 1
    if not slash:
        return Fraction(top)
    digits = rest.lstrip("/")
    bottom = int(digits) if digits else 2 ** (1 + len(rest))
    if not bottom:
        raise TuneFault(f"the note length '{text}' cannot be read")
    return Fraction(top, bottom)
