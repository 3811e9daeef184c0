"""An instrument's YAML to the model."""

from __future__ import annotations

from bookbuild.lessons.model import ROWS, Air, Instrument, Place
from bookbuild.lessons.report import Report
from bookbuild.lessons.schema import InstrumentFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.yaml_text import Document, Path


def build_instrument(name: str, document: Document, report: Report) -> Instrument | None:
    """The instrument of a document; None when an error was found."""
    written, broken = validate(InstrumentFile, "instrument", document, report)
    if written is None:
        return None
    _check_instrument(written, broken, document, report)
    if report.has_errors(document.file):
        return None
    right, left, air = written.right, written.left, written.air
    return Instrument(
        name=name,
        title=written.title,
        lowest=right.lowest,
        highest=right.highest,
        rows=tuple(left.rows),
        first_column=left.first_column,
        columns=left.columns,
        seventh_tones=tuple(left.seventh),
        diminished_tones=tuple(left.diminished),
        air=Air(air.full, air.voice, air.shake),
        fingering=written.fingering,
        text=written.text,
        place=Place(document.file, 1, 1),
    )


def _check_instrument(written: InstrumentFile, broken: frozenset[Path], document: Document, report: Report) -> None:
    """A compass that rises, rows in their order, chords that begin with their root."""
    right, left = written.right, written.left
    if right.lowest.midi >= right.highest.midi and not any(path[0] == "right" for path in broken):
        hint = "Write names with octave marks: f is below middle C, a''' above the staff."
        report.add(document.place("right", "lowest"), "the lowest note is not below the highest", hint)
    in_order = [row for row in ROWS if row in left.rows]
    if list(left.rows) != in_order and not any(path[0] == "left" for path in broken):
        hint = f"From the bellows outward: [{', '.join(in_order)}]."
        report.add(document.place("left", "rows"), "the rows are not in order, or one stands twice", hint)
    for key in ("seventh", "diminished"):
        tones = getattr(left, key)
        if tones[:1] != [0] or tones != sorted(set(tones)):
            message = "these semitones do not begin at the root and rise"
            report.add(document.place("left", key), message, "Write for example [0, 4, 10].")
