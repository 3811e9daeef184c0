"""Real tunes that the package music21 carries, against music21's own readers, and round the whole way.

A sample that runs in seconds; `tests/corpus/run_corpus.py` runs all of them.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import music21
import pytest
from musicxml_schema import schema_errors
from reading import music21_pairs, written_pairs

from bookbuild.arrange.line import tune_line
from bookbuild.importers.abc import read_written
from bookbuild.importers.musicxml import read_written as read_score
from bookbuild.importers.read import read_bytes, read_tunes
from bookbuild.importers.safe_xml import parse_xml, unpack_score
from bookbuild.importers.written import TuneFault
from bookbuild.lessons.model import MelodyNote, Stretch, Tune
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report
from bookbuild.lessons.write_tune import tune_yaml
from tests.importers.reading import tune_musicxml

CORPUS = Path(music21.__file__).parent / "corpus"
COLLECTIONS = ("ryansMammoth", "oneills1850", "airdsAirs", "essenFolksong")


@lru_cache(maxsize=8)
def tune_texts(collection: str) -> tuple[str, ...]:
    """Every tune of a collection as ABC text of its own."""
    texts: list[str] = []
    for file in sorted((CORPUS / collection).glob("*.abc")):
        parts = re.split(r"(?m)^(?=X:)", file.read_text(encoding="utf-8", errors="replace"))
        texts += [part for part in parts if part.startswith("X:")]
    return tuple(texts)


def sample(collection: str, count: int) -> list[str]:
    return random.Random(collection).sample(tune_texts(collection), count)


def plain(text: str) -> str:
    """Without strings, ornaments, slurs and overlays, on which music21's reader stumbles, and in version 2.1."""
    head, key, rest = text.partition("\nK:")
    line, newline, body = rest.partition("\n")
    body = re.sub(r"(?m)^%.*\n|%.*", "", body)
    body = re.sub(r'"[^"]*"|\{[^}]*\}|\((?!\d)|[).~HJLMOPSTuvk!]|&[^|]*', "", body)
    return "%abc-2.1\n" + head + key + line + newline + body


@pytest.mark.parametrize("collection", COLLECTIONS)
def test_notes_are_those_music21_reads(collection: str) -> None:
    """At least nine in ten tunes give the same pitches and lengths; where they differ, a missing barline or a broken
    rhythm after a slur is read otherwise (looked at by hand)."""
    same = total = 0
    for text in sample(collection, 20):
        written = read_written(plain(text))
        if not written:
            continue
        parsed = music21.converter.parse(plain(text), format="abc", forceSource=True)
        parts = list(getattr(parsed, "parts", [parsed])) or [parsed]
        total += 1
        same += written_pairs(written[0]) == music21_pairs(parts[0])
    assert total >= 15
    assert same >= 0.9 * total


def test_scores_give_the_notes_music21_reads() -> None:
    """Every one of 25 chorales: the chosen part is one of music21's parts, note for note."""
    files = sorted((CORPUS / "bach").glob("bwv[23]*.mxl"))
    for file in random.Random(1).sample(files, 25):
        data = file.read_bytes()
        try:
            ours = written_pairs(read_score(parse_xml(unpack_score(data, file.name), file.name), file.name))
        except TuneFault:
            continue
        parts = music21.converter.parse(file, forceSource=True).parts
        assert ours in [music21_pairs(part) for part in parts], file.name


def merge_rests(stretch: Stretch) -> Stretch:
    """A rest may be written as several: joined, two readings can be compared."""
    made: list[MelodyNote] = []
    for note in stretch.notes:
        if made and note.pitch is None and made[-1].pitch is None:
            made[-1] = replace(made[-1], length=made[-1].length + note.length)
        else:
            made.append(note)
    return replace(stretch, notes=tuple(made))


def comparable(tune: Tune) -> Tune:
    sections = tuple(replace(section, body=merge_rests(section.body), endings=tuple(map(merge_rests, section.endings)))
                     for section in tune.sections)
    return replace(tune, sections=sections, place=type(tune.place)(""))


def through_yaml(tune: Tune) -> Tune | None:
    report = Report()
    return parse_tune(tune_yaml(tune).encode(), tune.name, "t.yaml", report)


def read_back(text: str) -> tuple[Any, Counter[str]]:
    """music21's melody part and its repeat signs and brackets."""
    part = music21.converter.parseData(text, format="musicxml").parts[0]
    signs = Counter(f"repeat {mark.direction}" for mark in part.recurse().getElementsByClass(music21.bar.Repeat))
    for bracket in part.recurse().getElementsByClass(music21.spanner.RepeatBracket):
        signs[f"ending {bracket.number}"] += 1
    return part, signs


def wanted_signs(tune: Tune) -> Counter[str]:
    signs: Counter[str] = Counter()
    for bar, before in zip(line := tune_line(tune, tune.form).bars, (None, *line), strict=False):
        signs["repeat start"] += bar.opens_repeat
        signs["repeat end"] += bar.closes_repeat
        if bar.ending and (before is None or before.ending != bar.ending):
            signs[f"ending {bar.ending.rstrip('.')}"] += 1
    return +signs


@pytest.mark.parametrize("collection", [*COLLECTIONS, "nottingham-dataset"])
def test_import_yaml_musicxml_and_music21_agree(collection: str) -> None:
    """File -> tune -> YAML -> tune -> MusicXML (valid) -> music21: the same notes, chords, repeats, endings."""
    done = 0
    for text in sample(collection, 2 if collection.startswith("nott") else 12):
        item = read_bytes(text.encode(), "tune.abc")[0]
        again = through_yaml(item.tune) if item.tune else None
        if item.tune is None or again is None:
            continue
        assert comparable(again) == comparable(item.tune), item.title
        xml = tune_musicxml(again)
        assert schema_errors(xml) == []
        part, signs = read_back(xml)
        line = tune_line(item.tune, item.tune.form)
        assert music21_pairs(part) == [(n.pitch.midi, n.length) for n in line.notes if n.pitch], item.title
        assert signs == wanted_signs(item.tune), item.title
        chords = [(Fraction(symbol.getOffsetInHierarchy(part)).limit_denominator(1000) / 4, symbol.root().name)
                  for symbol in part.recurse().getElementsByClass(music21.harmony.ChordSymbol)
                  if not isinstance(symbol, music21.harmony.NoChord)]
        wanted = [(span.onset, span.chord.root.name.replace("b", "-")) for span in line.chords if span.chord]
        # A symbol is written again where a section or an ending begins.
        again = {bar.onset for bar in line.bars if bar.section or bar.ending}
        assert [symbol for symbol in chords if symbol[0] not in again or symbol in wanted] == wanted
        done += 1
    assert done >= (1 if collection.startswith("nott") else 8)


def test_no_tune_of_a_whole_book_is_lost_without_a_reason() -> None:
    items = read_tunes(CORPUS / "oneills1850" / "0201-0300.abc")
    assert len(items) >= 95
    assert all(item.tune or item.reason for item in items)
    assert sum(item.tune is not None for item in items) >= 0.85 * len(items)
