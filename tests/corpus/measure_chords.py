"""How often suggested chords agree with chords that people wrote, beat by beat, and two baselines.

    python tests/corpus/measure_chords.py [FILE…]

Measured on the tunes with chord symbols that the package music21 carries, on FILEs given (for example the ABC examples
of Debian's packages abcmidi and abcm2ps), and on the soprano lines of the chorales whose harmony music21's corpus holds
as roman numerals by human analysts (another style: a change on nearly every beat). "notes" takes the best chord
of each slice by its notes alone, "local" by its notes and the key, "tonic" the tonic chord throughout.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path

import music21

from bookbuild.arrange import harmony_rules as rules
from bookbuild.arrange.harmonise import Slice, cut_slices, find_harmony_key, fit_chord, list_palette, suggest_chords
from bookbuild.importers.assemble import assemble_tunes
from bookbuild.importers.read import read_bytes, read_tunes
from bookbuild.importers.safe_xml import parse_xml, unpack_score
from bookbuild.importers.written import ImportFault
from bookbuild.lessons.model import ChordSpan, Instrument, Section, Stretch, Tune
from bookbuild.theory.chords import Chord
from bookbuild.theory.pitch import Key, Pitch, Tone

PACKAGE = Path(music21.__file__).parent
ALIGNED = 0.6
FULL = Instrument("full", "120 basses", Pitch.from_name("F3"), Pitch.from_name("A6"),
                  ("counterbass", "bass", "major", "minor", "seventh", "diminished"), Tone.parse("Bbb"), 20)


def annotated(files: list[str]) -> Iterator[tuple[str, Tune]]:
    """Tunes with at least two different chord symbols."""
    from music21.abcFormat import testFiles

    own = [PACKAGE / "corpus/nottingham-dataset/reelsa-c.abc", *sorted((PACKAGE / "corpus/leadSheet").glob("*.mxl"))]
    found = [item for path in (*own, *map(Path, files)) for item in _read(path)]
    for name in sorted(vars(testFiles)):
        text = getattr(testFiles, name)
        if isinstance(text, str) and "\nK:" in text and not name.startswith("_"):
            found += read_bytes(text.encode(), name)
    for item in found:
        if item.tune and len({span.chord for span in _spans(item.tune) if span.chord}) >= 2:
            yield item.title, item.tune


def _read(path: Path) -> list:  # type: ignore[type-arg]
    try:
        return read_tunes(path)
    except ImportFault as fault:
        print(fault.message, file=sys.stderr)
        return []


def _spans(tune: Tune) -> Iterator[ChordSpan]:
    for section in tune.sections:
        for stretch in (section.body, *section.endings):
            yield from stretch.chords


def chorales() -> Iterator[tuple[str, Tune]]:
    """Soprano lines with the analysts' chords, as one long section each."""
    from bookbuild.importers.musicxml import read_written

    for path in sorted((PACKAGE / "corpus/bach/choraleAnalyses").glob("*.rntxt")):
        analysis = music21.converter.parse(path)
        number = int(path.stem[-3:])
        score = music21.corpus.chorales.Iterator(number, number, numberingSystem="riemenschneider")
        source = PACKAGE / "corpus" / next(iter(score)).metadata.corpusFilePath
        if source.suffix != ".mxl":
            continue
        data = source.read_bytes()
        written = read_written(parse_xml(unpack_score(data, source.name), source.name), source.name)
        item = assemble_tunes(replace(written, bars=tuple(replace(b, plays=1, opens=False, heavy=False, ending=())
                                                          for b in written.bars)), source.name)[0]
        if item.tune is None or len(item.tune.sections) != 1:
            continue
        body = item.tune.sections[0].body
        spans = tuple(_numeral_spans(analysis, body.length))
        if spans and _share_inside(body, spans) > ALIGNED:
            section = Section("A", replace(body, chords=spans), (), item.tune.sections[0].upbeat)
            yield path.stem, replace(item.tune, sections=(section,), form=("A",))


def _share_inside(body: Stretch, spans: Sequence[ChordSpan]) -> float:
    """Share of melody notes inside the analyst's chord: low where analysis and score count bars otherwise."""
    pairs = [(note.pitch.tone.pc, span.chord.pcs) for span in spans if span.chord for note in body.notes
             if note.pitch and note.onset < span.end and note.end > span.onset]
    return sum(pc in pcs for pc, pcs in pairs) / max(1, len(pairs))


def _numeral_spans(analysis: music21.stream.Score, length: Fraction) -> Iterator[ChordSpan]:
    figures = list(analysis.recurse().getElementsByClass(music21.roman.RomanNumeral))
    moments = [Fraction(f.getOffsetInHierarchy(analysis)).limit_denominator(64) / 4 for f in figures]
    for figure, start, end in zip(figures, moments, [*moments[1:], length], strict=True):
        if start < end <= length:
            root = figure.root()
            minor = figure.quality in ("minor", "diminished")
            tone = Tone("CDEFGAB".index(root.step), int(root.alter))
            yield ChordSpan(start, end - start, Chord(tone, "m" if minor else ""))


def everywhere(tune: Tune, choose: Callable[[Slice], Chord]) -> Tune:
    """A baseline: one chord for each slice, whatever stands beside it."""
    def fill(stretch: Stretch) -> Stretch:
        spans = tuple(ChordSpan(part.onset, part.length, choose(part)) for part in cut_slices(stretch, tune.meter))
        return replace(stretch, chords=spans)

    sections = tuple(replace(s, body=fill(s.body), endings=tuple(map(fill, s.endings))) for s in tune.sections)
    return replace(tune, sections=sections)


def compare(tune: Tune, other: Tune) -> Counter[str]:
    """Beats with a human chord, and on how many root, and root with major or minor third, agree.

    Upbeats do not count: over them stands no symbol, or the last one of the strain before.
    """
    counts: Counter[str] = Counter()
    for section, made in zip(tune.sections, other.sections, strict=True):
        for mine, theirs in zip((section.body, *section.endings), (made.body, *made.endings), strict=True):
            now = section.upbeat if mine is section.body else Fraction(0)
            while now < mine.length:
                human, ours = (next((s.chord for s in row if s.onset <= now < s.end), None)
                               for row in (mine.chords, theirs.chords))
                if human:
                    counts["beats"] += 1
                    counts["root"] += bool(ours and ours.root.pc == human.root.pc)
                    counts["family"] += bool(ours and _family(ours) == _family(human))
                now += tune.meter.beat
    return counts


def _best_alone(palette: Sequence[Chord], key: Key | None, part: Slice) -> Chord:
    """The best chord of a slice by its notes, and where a key is given by its liking."""
    gains = {chord: fit_chord(chord, part.heard) + (rules.like_chord(chord, key) if key else 0.0) for chord in palette}
    return max(gains, key=gains.__getitem__)


def _always(chord: Chord, part: Slice) -> Chord:
    return chord


def _family(chord: Chord) -> tuple[int, bool]:
    semitones = {interval.semitones for interval in chord.intervals}
    return chord.root.pc, 3 in semitones and 4 not in semitones


def measure(tunes: list[tuple[str, Tune]], tell: bool) -> None:
    totals: dict[str, Counter[str]] = {}
    for title, tune in tunes:
        key = find_harmony_key(tune, FULL)
        palette = list_palette(FULL, key)
        tonic = next(chord for chord in palette if rules.is_tonic(chord, key))
        made = {
            "suggested": suggest_chords(tune, FULL),
            "local": everywhere(tune, partial(_best_alone, palette, key)),
            "notes": everywhere(tune, partial(_best_alone, palette, None)),
            "tonic": everywhere(tune, partial(_always, tonic)),
        }
        row = {name: compare(tune, other) for name, other in made.items()}
        for name, counts in row.items():
            totals[name] = totals.get(name, Counter()) + counts
        if tell:
            shares = (f"{name} {counts['root'] / max(1, counts['beats']):.2f}" for name, counts in row.items())
            print(f"  {title[:34]:36}{key.name:10}", *shares)
    for name, counts in totals.items():
        beats = max(1, counts["beats"])
        print(f"  {name:10} root {counts['root'] / beats:.1%}  root and third {counts['family'] / beats:.1%}  "
              f"({len(tunes)} tunes, {beats} beats)")


if __name__ == "__main__":
    print("tunes with chords by people")
    measure(list(annotated(sys.argv[1:])), tell=True)
    print("chorale melodies with analysts' chords")
    measure(list(chorales()), tell=False)
