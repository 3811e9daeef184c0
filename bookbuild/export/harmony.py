"""Chord symbols as MusicXML 4.0 <harmony> elements."""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement

from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import STEP_LETTERS, Tone

KINDS: dict[str, tuple[str, tuple[tuple[int, int, str], ...]]] = {
    "": ("major", ()), "m": ("minor", ()), "7": ("dominant", ()), "dim": ("diminished", ()),
    "dim7": ("diminished-seventh", ()), "aug": ("augmented", ()), "aug7": ("augmented-seventh", ()),
    "m7": ("minor-seventh", ()), "maj7": ("major-seventh", ()), "m7b5": ("half-diminished", ()),
    "6": ("major-sixth", ()), "m6": ("minor-sixth", ()), "m(maj7)": ("major-minor", ()), "9": ("dominant-ninth", ()),
    "maj9": ("major-ninth", ()), "m9": ("minor-ninth", ()), "7b9": ("dominant", ((9, -1, "add"),)),
    "7#9": ("dominant", ((9, 1, "add"),)), "add9": ("major", ((9, 0, "add"),)), "madd9": ("minor", ((9, 0, "add"),)),
    "7b5": ("dominant", ((5, -1, "alter"),)), "maj7#5": ("major-seventh", ((5, 1, "alter"),)),
    "maj7b5": ("major-seventh", ((5, -1, "alter"),)),
    "9sus4": ("dominant-ninth", ((3, 0, "subtract"), (4, 0, "add"))),
    "sus2": ("suspended-second", ()), "sus4": ("suspended-fourth", ()),
    "7sus4": ("dominant", ((3, 0, "subtract"), (4, 0, "add"))),
    "5": ("power", ()), "69": ("major-sixth", ((9, 0, "add"),)), "11": ("dominant-11th", ()),
    "13": ("dominant-13th", ()),
}
"""Quality -> kind of MusicXML 4.0 and its degrees (value, alteration, type). Added sevenths are avoided: programs
differ in whether an added seventh is minor."""


def harmony_element(chord: Chord | None, offset: int = 0) -> Element:
    """The <harmony> of a chord, None for no chord. `offset` in divisions from the place it stands in.

    Raises KeyError for a quality without a kind.
    """
    element = Element("harmony")
    _tone(SubElement(element, "root"), "root", chord.root if chord else Tone(0))
    if chord is None:
        SubElement(element, "kind", text="N.C.").text = "none"
    else:
        kind, degrees = KINDS[chord.quality]
        SubElement(element, "kind", text=chord.quality).text = kind
        if chord.bass:
            _tone(SubElement(element, "bass"), "bass", chord.bass)
        for value, alter, how in degrees:
            degree = SubElement(element, "degree")
            SubElement(degree, "degree-value").text = str(value)
            SubElement(degree, "degree-alter").text = str(alter)
            SubElement(degree, "degree-type").text = how
    if offset:
        SubElement(element, "offset").text = str(offset)
    return element


def _tone(parent: Element, name: str, tone: Tone) -> None:
    SubElement(parent, f"{name}-step").text = STEP_LETTERS[tone.step]
    if tone.alter:
        SubElement(parent, f"{name}-alter").text = str(tone.alter)
