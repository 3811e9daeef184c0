"""An arrangement as MusicXML 4.0 text for notation programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import lcm
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from bookbuild.arrange.model import Arrangement, Bar, Direction, Role, Voice
from bookbuild.exact import Fraction
from bookbuild.export.harmony import harmony_element
from bookbuild.export.notes import note_elements
from bookbuild.export.pieces import Piece, cut_pieces
from bookbuild.lessons.model import Rights
from bookbuild.theory.chords import Chord
from bookbuild.theory.notes import split_dots
from bookbuild.theory.pitch import Key

HEAD = ('<?xml version="1.0" encoding="UTF-8"?>\n'
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">\n')
UNITS = {Fraction(1): "whole", Fraction(1, 2): "half", Fraction(1, 4): "quarter", Fraction(1, 8): "eighth",
         Fraction(1, 16): "16th"}
VOICES = {Role.CLAP: (1, 1), Role.MELODY: (1, 1), Role.FILL: (1, 2), Role.LEFT: (2, 5), Role.BASS: (2, 5),
          Role.CHORD: (2, 6)}
"""Role -> (staff, voice). The left hand moves to the first staff when it is alone."""


@dataclass(frozen=True)
class _Score:
    """What every measure needs: the arrangement, divisions of a quarter, staves, chord symbols, syllables by moment."""

    arrangement: Arrangement
    divisions: int
    staves: dict[int, int]
    """Staff of the full score -> printed staff."""
    symbols: tuple[tuple[Fraction, Chord | None], ...]
    syllables: dict[Fraction, str]

    def ticks(self, length: Fraction) -> int:
        """A length in divisions."""
        return int(length * 4 * self.divisions)


def arrangement_musicxml(arrangement: Arrangement, title: str, rights: Rights | None = None,
                         counting: bool = False) -> str:
    """The MusicXML text of an exercise: two staves where both hands play, voices, fingers, chord symbols, bellows.

    `counting` writes the syllables under the notes that begin on their slots. Repeats and endings are signs. The text
    holds no date, so equal arrangements give equal text. Raises ValueError for note values that are never printed.
    """
    root = Element("score-partwise", version="4.0")
    _identify(root, title, rights or Rights())
    parts = SubElement(root, "part-list")
    part_head = SubElement(parts, "score-part", id="P1")
    SubElement(part_head, "part-name").text = "Accordion"
    part = SubElement(root, "part", id="P1")
    used = sorted({VOICES[voice.role][0] for voice in arrangement.voices})
    staves = {staff: printed for printed, staff in enumerate(used, start=1)}
    syllables = {count.onset: count.text for count in arrangement.counts} if counting else {}
    score = _Score(arrangement, _divisions(arrangement), staves, _chord_symbols(arrangement), syllables)
    for index in range(len(arrangement.bars)):
        part.append(_measure(score, index))
    indent(root, " ")
    return HEAD + tostring(root, encoding="unicode") + "\n"


def _identify(root: Element, title: str, rights: Rights) -> None:
    SubElement(SubElement(root, "work"), "work-title").text = title
    identification = SubElement(root, "identification")
    if rights.composer:
        SubElement(identification, "creator", type="composer").text = rights.composer
    if rights.statement:
        SubElement(identification, "rights").text = rights.statement
    encoding = SubElement(identification, "encoding")
    SubElement(encoding, "software").text = "bookbuild"
    if rights.source:
        SubElement(identification, "source").text = rights.source


def _divisions(arrangement: Arrangement) -> int:
    """Divisions of a quarter in which every onset and length is whole."""
    moments = [m for voice in arrangement.voices for event in voice.events for m in (event.onset, event.length)]
    moments += [m for span in arrangement.chord_marks for m in (span.onset,)]
    moments += [m for bar in arrangement.bars for m in (bar.onset, bar.length)]
    return lcm(4, *((moment * 4).denominator for moment in moments))


def _chord_symbols(arrangement: Arrangement) -> tuple[tuple[Fraction, Chord | None], ...]:
    """Where chord symbols stand: at every change, and where a section or an ending begins, for it is reached from
    elsewhere as well."""
    starts = {bar.onset for before, bar in pairwise(arrangement.bars) if bar.section or bar.ending != before.ending}
    made = []
    for span in arrangement.chord_marks:
        again = sorted(start for start in starts if span.onset < start < span.end)
        made += [(moment, span.chord) for moment in (span.onset, *again)]
    return tuple(made)


def _measure(score: _Score, index: int) -> Element:
    arrangement = score.arrangement
    bar = arrangement.bars[index]
    number = str(bar.number) if bar.number else f"X{index}" if index else "0"
    measure = Element("measure", number=number)
    if bar.length != arrangement.meter.bar:
        measure.set("implicit", "yes")
    _left_barline(measure, arrangement.bars, index)
    if not index:
        measure.append(_attributes(score))
        measure.append(_metronome(arrangement))
    elif bar.key:
        measure.append(Element("attributes"))
        measure[-1].append(_key(bar.key))
    written = Fraction(0)
    for place, voice in enumerate(_ordered(arrangement.voices)):
        if written:
            SubElement(SubElement(measure, "backup"), "duration").text = str(score.ticks(written))
        written = _write_voice(measure, score, voice, bar, leading=place == 0)
    _right_barline(measure, arrangement.bars, index)
    return measure


def _ordered(voices: Sequence[Voice]) -> list[Voice]:
    return sorted(voices, key=lambda voice: VOICES[voice.role])


def _attributes(score: _Score) -> Element:
    arrangement = score.arrangement
    made = Element("attributes")
    SubElement(made, "divisions").text = str(score.divisions)
    made.append(_key(arrangement.key))
    time = SubElement(made, "time")
    SubElement(time, "beats").text = str(arrangement.meter.count)
    SubElement(time, "beat-type").text = str(arrangement.meter.unit)
    if len(score.staves) > 1:
        SubElement(made, "staves").text = str(len(score.staves))
    clapped = any(voice.role is Role.CLAP for voice in arrangement.voices)
    for staff, printed in sorted(score.staves.items()):
        clef = SubElement(made, "clef", {"number": str(printed)} if len(score.staves) > 1 else {})
        sign, line = ("F", "4") if staff == 2 else ("percussion", "") if clapped else ("G", "2")
        SubElement(clef, "sign").text = sign
        if line:
            SubElement(clef, "line").text = line
    return made


def _key(key: Key) -> Element:
    made = Element("key")
    SubElement(made, "fifths").text = str(key.signature)
    SubElement(made, "mode").text = key.mode
    return made


def _metronome(arrangement: Arrangement) -> Element:
    direction = Element("direction", placement="above")
    mark = SubElement(SubElement(direction, "direction-type"), "metronome")
    base, dots = split_dots(arrangement.tempo.beat)
    SubElement(mark, "beat-unit").text = UNITS.get(base, "quarter")
    for _ in range(dots):
        SubElement(mark, "beat-unit-dot")
    SubElement(mark, "per-minute").text = str(arrangement.tempo.goal)
    SubElement(direction, "sound", tempo=str(float(arrangement.tempo.goal * arrangement.tempo.beat * 4)))
    return direction


def _write_voice(measure: Element, score: _Score, voice: Voice, bar: Bar, leading: bool) -> Fraction:
    """Append a voice's pieces, with chord symbols and bellows before the leading one; returns the time written."""
    staff, number = VOICES[voice.role]
    printed = score.staves[staff] if len(score.staves) > 1 else 0
    pieces = cut_pieces(voice.events, bar, score.arrangement.meter)
    for piece in pieces:
        if leading:
            _write_marks(measure, score, piece, bar, printed)
        if piece.event.letter and piece.first:
            measure.append(_words(piece.event.letter, printed))
        syllable = score.syllables.get(bar.onset + piece.onset, "") if leading else ""
        measure.extend(note_elements(piece, score.divisions, number, printed, voice.role is Role.CLAP, syllable))
    return sum((piece.length for piece in pieces), Fraction(0))


def _write_marks(measure: Element, score: _Score, piece: Piece, bar: Bar, printed: int) -> None:
    """Chord symbols and bellows signs that fall inside a piece stand before it, moved by their offset."""
    start, end = bar.onset + piece.onset, bar.onset + piece.onset + piece.length
    for moment, chord in score.symbols:
        if start <= moment < end:
            element = harmony_element(chord, score.ticks(moment - start))
            if printed:
                SubElement(element, "staff").text = str(printed)
            measure.append(element)
    for stroke in score.arrangement.bellows:
        if start <= stroke.onset < end:
            direction = Element("direction", placement="above")
            word = "bellows shake" if stroke.stroke else "pull" if stroke.direction is Direction.OPEN else "push"
            SubElement(SubElement(direction, "direction-type"), "words").text = word
            if stroke.onset > start:
                SubElement(direction, "offset").text = str(score.ticks(stroke.onset - start))
            measure.append(direction)


def _words(text: str, printed: int) -> Element:
    direction = Element("direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "words").text = text
    if printed:
        SubElement(direction, "staff").text = str(printed)
    return direction


def _left_barline(measure: Element, bars: Sequence[Bar], index: int) -> None:
    bar = bars[index]
    begins = bar.ending and (not index or bars[index - 1].ending != bar.ending or bar.section)
    if not bar.opens_repeat and not begins:
        return
    line = SubElement(measure, "barline", location="left")
    if bar.opens_repeat:
        SubElement(line, "bar-style").text = "heavy-light"
    if begins:
        SubElement(line, "ending", number=_pass(bar), type="start")
    if bar.opens_repeat:
        SubElement(line, "repeat", direction="forward")


def _right_barline(measure: Element, bars: Sequence[Bar], index: int) -> None:
    bar = bars[index]
    following = bars[index + 1] if index + 1 < len(bars) else None
    ends = bar.ending and (following is None or following.ending != bar.ending or following.section)
    if following is None or bar.closes_repeat:
        style = "light-heavy"
    else:
        style = "light-light" if following.section and not following.opens_repeat else ""
    if not style and not ends:
        return
    line = SubElement(measure, "barline", location="right")
    if style:
        SubElement(line, "bar-style").text = style
    if ends:
        SubElement(line, "ending", number=_pass(bar), type="stop" if bar.closes_repeat else "discontinue")
    if bar.closes_repeat:
        SubElement(line, "repeat", direction="backward")


def _pass(bar: Bar) -> str:
    return bar.ending.rstrip(".") or "1"

