"""What the tests of several importers share: notes as pairs that can be compared with another reader's."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from bookbuild.arrange.line import tune_line
from bookbuild.arrange.model import Arrangement, Event, Role, Voice
from bookbuild.export.musicxml import arrangement_musicxml
from bookbuild.importers.written import ImportedTune, WrittenTune
from bookbuild.lessons.model import Stretch, Tune

Pairs = list[tuple[int, Fraction]]
"""(MIDI key, length in whole notes), ties merged, rests left out."""


def written_pairs(written: WrittenTune) -> Pairs:
    return _merge((n.pitch.midi if n.pitch else None, n.length, n.tied) for bar in written.bars for n in bar.notes)


def _merge(notes: Iterable[tuple[int | None, Fraction, bool]]) -> Pairs:
    made: Pairs = []
    tied = False
    for key, length, ties in notes:
        if key is None:
            tied = False
            continue
        if tied and made and made[-1][0] == key:
            made[-1] = (key, made[-1][1] + length)
        else:
            made.append((key, length))
        tied = ties
    return made


def music21_pairs(part: Any) -> Pairs:
    """The top notes of a music21 part, grace notes and chord symbols left out."""
    from music21 import chord, harmony, note

    made: Pairs = []
    for element in part.recurse().notes:
        if isinstance(element, harmony.ChordSymbol) or element.duration.isGrace or not element.pitches:
            continue
        top = max(element.notes, key=lambda n: n.pitch.midi) if isinstance(element, chord.Chord) else element
        assert isinstance(top, note.Note)
        length = Fraction(element.quarterLength).limit_denominator(5000) / 4
        if top.tie and top.tie.type in ("stop", "continue") and made and made[-1][0] == top.pitch.midi:
            made[-1] = (made[-1][0], made[-1][1] + length)
        else:
            made.append((top.pitch.midi, length))
    return made


def tune_musicxml(tune: Tune) -> str:
    """A tune's melody, chord symbols, repeats and endings as the exporter writes them."""
    line = tune_line(tune, tune.form)
    events = tuple(Event(n.onset, n.length, (n.pitch,) if n.pitch else (), (n.finger,) if n.pitch else ())
                   for n in line.notes)
    made = Arrangement("melody", line.meter, line.key, line.bars, (Voice(Role.MELODY, events),), (), (), line.chords,
                       tune.tempo)
    return arrangement_musicxml(made, tune.title, tune.rights)


def carried(imported: list[ImportedTune]) -> Tune:
    """The only tune of a file; fails with its reason."""
    assert len(imported) == 1, [item.title for item in imported]
    assert imported[0].tune is not None, imported[0].reason
    return imported[0].tune


def names(stretch: Stretch) -> str:
    """Pitches and lengths for reading in a test: `G4 1/8 r 1/8`."""
    return " ".join(f"{note.pitch.name if note.pitch else 'r'} {note.length}" for note in stretch.notes)


def symbols(stretch: Stretch) -> list[tuple[Fraction, str]]:
    return [(span.onset, span.chord.symbol if span.chord else "") for span in stretch.chords]
