"""A tune from MusicXML 4.0 (plain or unpacked): the melody part's leading voice, bar by bar."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from xml.etree.ElementTree import Element

from bookbuild.exact import Fraction
from bookbuild.importers.assemble import assemble_tunes
from bookbuild.importers.musicxml_bars import PartReader
from bookbuild.importers.titles import clean_text, clean_title, title_of_file
from bookbuild.importers.written import MOST_BARS, ImportedTune, ImportFault, TuneFault, WrittenBar, WrittenTune
from bookbuild.lessons.model import Place
from bookbuild.theory.keyfinding import key_of_signature
from bookbuild.theory.pitch import Key, Tone

_MELODY_NAMES = ("melod", "lead", "solo", "tune", "voice", "vocal", "sopran", "cantus")
C_MAJOR = Key(Tone.parse("C"), "major")
_OCTAVE = "[0-9]"
REMEDY = "Export the melody as MusicXML (.musicxml, .xml or .mxl)."


@dataclass
class _Part:
    """A part of the score: its name and its measures in order."""

    name: str
    measures: list[Element] = field(default_factory=list)

    @property
    def pitched(self) -> bool:
        """True when a pitched note stands in it."""
        return any(measure.find("note/pitch") is not None for measure in self.measures)

    @property
    def weight(self) -> tuple[bool, bool, float]:
        """The melody's part has chord symbols, or is named so, or lies highest."""
        octaves = [int(text) for m in self.measures for text in (n.findtext("pitch/octave") for n in m.iter("note"))
                   if text and re.fullmatch(_OCTAVE, text.strip())]
        height = sum(octaves) / len(octaves) if octaves else 0.0
        return (any(m.find("harmony") is not None for m in self.measures),
                any(word in self.name.lower() for word in _MELODY_NAMES), height)


def read_musicxml(root: Element, file: str) -> list[ImportedTune]:
    """The tune of a score; a list of one (more where its meter changes), refused tunes with their reason.

    Raises ImportFault when the XML is no score.
    """
    try:
        return assemble_tunes(read_written(root, file), file)
    except TuneFault as fault:
        return [ImportedTune(clean_title(_title(root)) or title_of_file(file), Place(file), None, (), fault.reason)]


def read_written(root: Element, file: str) -> WrittenTune:
    """The score's melody as written; raises TuneFault, ImportFault."""
    _strip_namespaces(root)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ImportFault(f"{file}: is XML, but not a MusicXML score (its root is <{root.tag[:40]}>)", REMEDY)
    parts = list(_parts(root))
    if not parts or not any(part.measures for part in parts):
        raise ImportFault(f"{file}: the score holds no music", REMEDY)
    notes = []
    pitched = [part for part in parts if part.pitched]
    if not pitched:
        raise TuneFault("it has no pitched notes")
    chosen = max(pitched, key=lambda part: part.weight)
    if len(chosen.measures) > MOST_BARS:
        raise TuneFault(f"it has {len(chosen.measures)} bars; a tune may have {MOST_BARS}")
    if len(parts) > 1:
        notes.append(f"only the part '{chosen.name or 'first'}' of {len(parts)} is carried over")
    reader = PartReader(_leading_voice(chosen))
    for measure in chosen.measures:
        reader.read_measure(measure)
    bars = _find_keys(reader, notes)
    rights = [clean_text(element.text or "") for element in root.findall("identification/rights")]
    return WrittenTune(_title(root), bars[0].key or C_MAJOR, bars, (*notes, *reader.notes), composer=_creator(root),
                       source=_text(root, "identification/source"), statement="; ".join(filter(None, rights)),
                       tempo=reader.tempo)


def _strip_namespaces(root: Element) -> None:
    for element in root.iter():
        if "}" in element.tag:
            element.tag = element.tag.rpartition("}")[2]


def _parts(root: Element) -> Iterator[_Part]:
    names = {part.get("id"): clean_text(part.findtext("part-name") or "") for part in root.iter("score-part")}
    if root.tag == "score-partwise":
        for part in root.findall("part"):
            yield _Part(names.get(part.get("id"), ""), part.findall("measure"))
        return
    by_id: dict[str | None, _Part] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            part.tag = "measure"
            part.set("implicit", measure.get("implicit", "no"))
            by_id.setdefault(part.get("id"), _Part(names.get(part.get("id"), ""))).measures.append(part)
    yield from by_id.values()


def _leading_voice(part: _Part) -> tuple[str, str]:
    """(staff, voice) of the melody: the first staff's highest voice that has half the notes of its fullest one."""
    heights: dict[tuple[str, str], list[int]] = {}
    for measure in part.measures:
        for note in measure.findall("note"):
            octave = (note.findtext("pitch/octave") or "").strip()
            if re.fullmatch(_OCTAVE, octave) and note.find("grace") is None:
                place = (note.findtext("staff") or "1", note.findtext("voice") or "1")
                step = "CDEFGAB".find((note.findtext("pitch/step") or "C").strip())
                heights.setdefault(place, []).append(7 * int(octave) + step)
    if not heights:
        raise TuneFault("it has no pitched notes")
    staff = min(heights)[0]
    most = max(len(notes) for place, notes in heights.items() if place[0] == staff)
    voices = [place for place, notes in heights.items() if place[0] == staff and 2 * len(notes) >= most]
    return max(voices, key=lambda place: sum(heights[place]) / len(heights[place]))


def _find_keys(reader: PartReader, notes: list[str]) -> tuple[WrittenBar, ...]:
    """The bars with their keys, as stated, or the likeliest ones for their signatures."""
    made: list[WrittenBar] = []
    pairs = zip(reader.bars, reader.signatures, strict=True)
    for signature, run in groupby(pairs, key=lambda pair: pair[1]):
        bars = [bar for bar, _ in run]
        key = signature[1] if signature else None
        if key is None:
            key = _guess_key(signature[0] if signature else 0, bars)
            notes += [] if signature else ["no key signature is stated"]
            notes.append(f"the mode of the key is not stated: {key.name} was taken")
        made += [replace(bar, key=key) for bar in bars]
    return tuple(made)


def _guess_key(fifths: int, bars: Sequence[WrittenBar]) -> Key:
    weights: dict[int, Fraction] = {}
    last = None
    for note in (note for bar in bars for note in bar.notes):
        if note.pitch:
            weights[note.pitch.tone.pc] = weights.get(note.pitch.tone.pc, Fraction(0)) + note.length
            last = note.pitch.tone
    return key_of_signature(fifths, weights, last)


def _title(root: Element) -> str:
    return _text(root, "work/work-title") or _text(root, "movement-title") or _credit(root)


def _credit(root: Element) -> str:
    for credit in root.findall("credit"):
        if (credit.findtext("credit-type") or "") == "title":
            return credit.findtext("credit-words") or ""
    return ""


def _creator(root: Element) -> str:
    creators = root.findall("identification/creator")
    named = [element for element in creators if element.get("type") == "composer"]
    untyped = [element for element in creators if not element.get("type")]
    return "; ".join(filter(None, (element.text for element in named or untyped)))


def _text(root: Element, path: str) -> str:
    return (root.findtext(path) or "").strip()
