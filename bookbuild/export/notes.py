"""One printed piece as MusicXML <note> elements, in the order of the standard's schema."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element, SubElement

from bookbuild.arrange.clap import CLAP_PITCH
from bookbuild.exact import Fraction
from bookbuild.export.pieces import TUPLETS, Piece
from bookbuild.theory.notes import split_dots
from bookbuild.theory.pitch import STEP_LETTERS, Pitch

TYPES = {
    Fraction(2): "breve", Fraction(1): "whole", Fraction(1, 2): "half", Fraction(1, 4): "quarter",
    Fraction(1, 8): "eighth", Fraction(1, 16): "16th", Fraction(1, 32): "32nd", Fraction(1, 64): "64th",
    Fraction(1, 128): "128th",
}


def note_elements(piece: Piece, divisions: int, voice: int, staff: int, clapped: bool,
                  syllable: str) -> Iterator[Element]:
    """The <note> elements of a piece: a rest, a note, or the notes of a chord. `staff` 0 writes no staff."""
    pitches = piece.event.pitches
    if clapped and pitches:
        pitches = (CLAP_PITCH,)
    for index, pitch in enumerate(pitches or (None,)):
        note = Element("note")
        if piece.event.hidden:
            note.set("print-object", "no")
        if index:
            SubElement(note, "chord")
        _sound(note, pitch, clapped)
        SubElement(note, "duration").text = str(int(piece.length * 4 * divisions))
        if piece.tied_in:
            SubElement(note, "tie", type="stop")
        if piece.tied_out:
            SubElement(note, "tie", type="start")
        SubElement(note, "voice").text = str(voice)
        _value(note, piece)
        if staff:
            SubElement(note, "staff").text = str(staff)
        _notations(note, piece, index)
        if syllable and not index and piece.event.pitches:
            lyric = SubElement(note, "lyric", number="1")
            SubElement(lyric, "syllabic").text = "single"
            SubElement(lyric, "text").text = syllable
        yield note


def _sound(note: Element, pitch: Pitch | None, clapped: bool) -> None:
    if pitch is None:
        SubElement(note, "rest")
    elif clapped:
        place = SubElement(note, "unpitched")
        SubElement(place, "display-step").text = STEP_LETTERS[pitch.step]
        SubElement(place, "display-octave").text = str(pitch.octave)
    else:
        element = SubElement(note, "pitch")
        SubElement(element, "step").text = STEP_LETTERS[pitch.step]
        if pitch.alter:
            SubElement(element, "alter").text = str(pitch.alter)
        SubElement(element, "octave").text = str(pitch.octave)


def _value(note: Element, piece: Piece) -> None:
    base, dots = split_dots(piece.value)
    SubElement(note, "type").text = TYPES[base]
    for _ in range(dots):
        SubElement(note, "dot")
    if piece.odd > 1:
        changed = SubElement(note, "time-modification")
        SubElement(changed, "actual-notes").text = str(piece.odd)
        SubElement(changed, "normal-notes").text = str(TUPLETS[piece.odd])


def _notations(note: Element, piece: Piece, index: int) -> None:
    made = Element("notations")
    if piece.tied_in:
        SubElement(made, "tied", type="stop")
    if piece.tied_out:
        SubElement(made, "tied", type="start")
    if not index and piece.opens:
        SubElement(made, "tuplet", type="start", number="1")
    if not index and piece.closes:
        SubElement(made, "tuplet", type="stop", number="1")
    fingers = piece.event.fingers
    if piece.first and index < len(fingers) and fingers[index]:
        SubElement(SubElement(made, "technical"), "fingering").text = str(fingers[index])
    if piece.first and not index and piece.event.accent and piece.event.pitches:
        SubElement(SubElement(made, "articulations"), "accent")
    if len(made):
        note.append(made)
