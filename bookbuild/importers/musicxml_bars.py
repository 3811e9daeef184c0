"""Measures of one MusicXML part to written bars: the leading voice, its chords, repeats, endings and signs."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

from bookbuild.exact import Fraction
from bookbuild.importers.jumps import read_jump
from bookbuild.importers.musicxml_harmony import read_harmony
from bookbuild.importers.written import TuneFault, WrittenBar, WrittenNote
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import MODE_FIFTHS, Key, Pitch, Tone

MODES = {mode: mode for mode in MODE_FIFTHS} | {"ionian": "major", "aeolian": "minor"}
BEATS = {"whole": Fraction(1), "half": Fraction(1, 2), "quarter": Fraction(1, 4), "eighth": Fraction(1, 8),
         "16th": Fraction(1, 16)}

Place = tuple[str, str]
"""A staff and a voice on it."""


@dataclass
class _Measure:
    """What one measure holds, while it is read. Moments count from its barline."""

    now: Fraction = Fraction(0)
    length: Fraction = Fraction(0)
    last: Fraction = Fraction(0)
    voices: dict[Place, dict[Fraction, WrittenNote]] = field(default_factory=dict)
    chords: list[tuple[Fraction, Chord | None]] = field(default_factory=list)
    opens: bool = False
    plays: int = 1
    ending: tuple[int, ...] = ()
    ends_ending: bool = False
    heavy: bool = False
    signs: set[str] = field(default_factory=set)


class PartReader:
    """Reads the measures of a part in order; `bars`, `notes`, `signatures` and `tempo` are the result."""

    def __init__(self, leading: Place) -> None:
        self.leading = leading
        self.bars: list[WrittenBar] = []
        self.lost: dict[str, int] = {}
        self.divisions = Fraction(1)
        self.meter: Meter | None = None
        self.signature: tuple[int, Key | None] | None = None
        """Sharps (or, negative, flats) in force, and the key where its mode is stated."""
        self.signatures: list[tuple[int, Key | None] | None] = []
        """The signature of each bar."""
        self.tempo: tuple[Fraction, Fraction] | None = None

    @property
    def notes(self) -> list[str]:
        """Remarks about what was left out, with counts."""
        return [what if count == 1 else f"{what} ({count} times)" for what, count in self.lost.items()]

    def lose(self, what: str) -> None:
        """Count something that is not carried over."""
        self.lost[what] = self.lost.get(what, 0) + 1

    def read_measure(self, element: Element) -> None:
        """Read one <measure> and append its bar."""
        measure = _Measure()
        for child in element:
            if child.tag == "note":
                self._read_note(child, measure)
            elif child.tag in ("backup", "forward"):
                step = self._duration(child)
                measure.now = max(Fraction(0), measure.now + (step if child.tag == "forward" else -step))
                measure.length = max(measure.length, measure.now)
            elif child.tag == "attributes":
                self._read_attributes(child)
            elif child.tag == "harmony":
                self._read_harmony(child, measure)
            elif child.tag == "barline":
                self._read_barline(child, measure)
            elif child.tag in ("direction", "sound"):
                self._read_direction(child, measure)
        self._close(measure)

    def _duration(self, element: Element) -> Fraction:
        text = (element.findtext("duration") or "0").strip()
        if not re.fullmatch(r"\d{1,7}(\.\d{1,6})?", text):
            raise TuneFault(f"bar {self._number()}: the duration '{text[:20]}' cannot be read")
        return Fraction(text) / self.divisions / 4

    def _number(self) -> int:
        return self.bars[-1].number + 1 if self.bars else 1

    def _read_attributes(self, element: Element) -> None:
        divisions = (element.findtext("divisions") or "").strip()
        if divisions:
            if not re.fullmatch(r"\d{1,6}", divisions) or not int(divisions):
                raise TuneFault(f"bar {self._number()}: the divisions '{divisions[:20]}' cannot be read")
            self.divisions = Fraction(int(divisions))
        if (key := element.find("key")) is not None and key.find("fifths") is not None:
            self._read_key(key)
        if (time := element.find("time")) is not None:
            self._read_time(time)
        if element.find("transpose") is not None:
            self.lost["the part is written for a transposing instrument: it is carried over as written"] = 1
        if element.find("measure-style/measure-repeat") is not None:
            self.lose("bar-repeat signs are not carried over")

    def _read_key(self, key: Element) -> None:
        text = (key.findtext("fifths") or "0").strip()
        fifths = int(text) if re.fullmatch(r"[+-]?\d{1,2}", text) else 8
        if abs(fifths) > 7:
            raise TuneFault(f"bar {self._number()}: the key signature '{text[:10]}' cannot be read")
        mode = MODES.get((key.findtext("mode") or "").strip().lower())
        self.signature = (fifths, Key(Tone.from_fifths(fifths - MODE_FIFTHS[mode]), mode) if mode else None)

    def _read_time(self, time: Element) -> None:
        beats, unit = time.findall("beats"), time.findall("beat-type")
        if time.find("senza-misura") is not None:
            raise TuneFault(f"bar {self._number()} is in free meter, which cannot be counted")
        if len(beats) != 1 or len(unit) != 1:
            raise TuneFault(f"bar {self._number()} has a meter of several parts, which the book cannot count")
        try:
            self.meter = Meter.parse(f"{beats[0].text}/{unit[0].text}")
        except ValueError as error:
            raise TuneFault(f"bar {self._number()}: the meter {str(error)[:80]}") from error

    def _read_note(self, note: Element, measure: _Measure) -> None:
        if note.find("grace") is not None:
            self.lose("grace notes are not carried over")
            return
        if note.find("cue") is not None:
            self.lose("cue notes are not carried over")
        length = self._duration(note)
        struck_with = note.find("chord") is not None
        onset = measure.last if struck_with else measure.now
        measure.last = onset
        if not struck_with:
            measure.now += length
            measure.length = max(measure.length, measure.now)
        if note.find("cue") is not None or not length:
            return
        self._keep(measure, note, WrittenNote(onset, length, self._pitch(note), *self._ties(note)))
        if note.find("lyric") is not None:
            self.lose("words under the notes are not carried over")

    def _keep(self, measure: _Measure, note: Element, made: WrittenNote) -> None:
        """Of notes struck together in one voice the top one is the melody."""
        place = (note.findtext("staff") or "1", note.findtext("voice") or "1")
        voice = measure.voices.setdefault(place, {})
        known = voice.get(made.onset)
        if known and known.pitch:
            if place == self.leading:
                self.lose("of notes struck together only the top one is carried over")
            if made.pitch is None or made.pitch.midi <= known.pitch.midi:
                return
        voice[made.onset] = made

    def _pitch(self, note: Element) -> Pitch | None:
        pitch = note.find("pitch")
        if pitch is None:
            return None
        step = (pitch.findtext("step") or "").strip()
        octave = (pitch.findtext("octave") or "").strip()
        alter = (pitch.findtext("alter") or "0").strip()
        readable = re.fullmatch(r"[A-G] \d [+-]?\d(\.\d+)?", f"{step} {octave} {alter}")
        if not readable:
            raise TuneFault(f"bar {self._number()}: a note without a readable pitch")
        if float(alter) % 1 or abs(float(alter)) > 2:
            self.lose("quarter tones are written as the plain note")
        whole = int(float(alter)) if abs(float(alter)) <= 2 else 0
        return Pitch("CDEFGAB".index(step), whole, int(octave))

    def _ties(self, note: Element) -> tuple[bool, bool]:
        tied = any(tie.get("type") == "start" for tie in note.findall("tie"))
        return tied, note.find("notations/articulations/breath-mark") is not None

    def _read_harmony(self, element: Element, measure: _Measure) -> None:
        offset = (element.findtext("offset") or "0").strip()
        shift = Fraction(offset) / self.divisions / 4 if re.fullmatch(r"-?\d{1,7}", offset) else Fraction(0)
        try:
            chord, simplified = read_harmony(element)
        except ValueError as error:
            self.lose(f"a chord symbol is not carried over: {error}")
            return
        if simplified and chord:
            self.lose(f"a chord was simplified to {chord.symbol}")
        measure.chords.append((max(Fraction(0), measure.now + shift), chord))

    def _read_barline(self, element: Element, measure: _Measure) -> None:
        left = element.get("location") == "left"
        if (repeat := element.find("repeat")) is not None:
            if repeat.get("direction") == "forward":
                measure.opens = True
            else:
                times = repeat.get("times", "2")
                measure.plays = int(times) if re.fullmatch(r"\d", times) and int(times) > 1 else 2
        if (ending := element.find("ending")) is not None:
            if ending.get("type") == "start":
                measure.ending = _read_passes(ending.get("number", ""))
            else:
                measure.ends_ending = True
        style = (element.findtext("bar-style") or "").strip()
        if style in ("light-light", "light-heavy", "heavy-light", "heavy-heavy", "heavy"):
            if not left:
                measure.heavy = True
            elif self.bars and not measure.opens:
                self._mark_last_heavy()

    def _mark_last_heavy(self) -> None:
        last = self.bars[-1]
        self.bars[-1] = replace(last, heavy=True)

    def _read_direction(self, element: Element, measure: _Measure) -> None:
        for sound in (element, *element.iter("sound")):
            self._read_sound(sound, measure)
        for kind in element.findall("direction-type"):
            if kind.find("segno") is not None:
                measure.signs.add("segno")
            if kind.find("coda") is not None:
                self.lose("a coda sign is not carried over")
            for words in kind.findall("words"):
                measure.signs |= read_jump(words.text or "")
            if (metronome := kind.find("metronome")) is not None and self.tempo is None:
                self.tempo = _read_metronome(metronome)

    def _read_sound(self, sound: Element, measure: _Measure) -> None:
        tempo = sound.get("tempo", "")
        if self.tempo is None and re.fullmatch(r"\d{1,3}(\.\d{1,6})?", tempo) and float(tempo):
            self.tempo = (Fraction(1, 4), Fraction(tempo))
        for name, sign in (("dacapo", "capo"), ("dalsegno", "dal"), ("fine", "fine"), ("segno", "segno")):
            if sound.get(name):
                measure.signs.add(sign)

    def _close(self, measure: _Measure) -> None:
        if self.meter is None:
            self.meter = Meter(4, 4)
            self.lose("no meter is stated: 4/4 was taken")
        notes = self._melody(measure)
        number = self._number()
        if not self.bars and sum((note.length for note in notes), Fraction(0)) < self.meter.bar:
            number = 0
        self.signatures.append(self.signature)
        jump = "capo" if "capo" in measure.signs else "segno" if "dal" in measure.signs else ""
        self.bars.append(WrittenBar(
            number, self.meter, notes, tuple(sorted(measure.chords, key=lambda change: change[0])), measure.opens,
            measure.plays, measure.ending, measure.ends_ending, measure.heavy, "segno" in measure.signs,
            "fine" in measure.signs, jump))

    def _melody(self, measure: _Measure) -> tuple[WrittenNote, ...]:
        """The leading voice without gaps; where it is silent the fullest other voice of its staff."""
        voices = {place: voice for place, voice in measure.voices.items() if place[0] == self.leading[0]}
        chosen = voices.get(self.leading, {})
        if not any(note.pitch for note in chosen.values()) and voices:
            chosen = max(voices.values(), key=lambda voice: sum(note.pitch is not None for note in voice.values()))
        made: list[WrittenNote] = []
        now = Fraction(0)
        for note in sorted(chosen.values(), key=lambda note: note.onset):
            if note.onset > now:
                made.append(WrittenNote(now, note.onset - now, None))
            if made and note.onset < now:
                made[-1] = WrittenNote(made[-1].onset, note.onset - made[-1].onset, made[-1].pitch)
                self.lose("notes that overlap in one voice were shortened")
            made.append(note)
            now = note.end
        if now < measure.length:
            made.append(WrittenNote(now, measure.length - now, None))
        return tuple(made)


def _read_passes(text: str) -> tuple[int, ...]:
    """`1`, `1, 2`, `1-3` as pass numbers; () where none is readable."""
    passes: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", text):
        passes += range(int(first), int(last or first) + 1)
    return tuple(number for number in passes if number)


def _read_metronome(element: Element) -> tuple[Fraction, Fraction] | None:
    unit = BEATS.get((element.findtext("beat-unit") or "").strip())
    rate = re.search(r"\d{1,3}(\.\d{1,6})?", element.findtext("per-minute") or "")
    if unit is None or rate is None or not float(rate[0]):
        return None
    dots = len(element.findall("beat-unit-dot"))
    return unit * (2 - Fraction(1, 2 ** dots)), Fraction(rate[0])
