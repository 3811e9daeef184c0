"""A groove's YAML to the model: rows of one length, strokes with what they hold and anticipate."""

from __future__ import annotations

from fractions import Fraction

from bookbuild.lessons.groove_rows import ACCENT, Row, held_strokes, make_strokes, read_row
from bookbuild.lessons.model import Groove, Place, Stroke
from bookbuild.lessons.report import Flaw, Report
from bookbuild.lessons.schema import GrooveFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.yaml_text import Document

ROW_NAMES = ("count", "bass", "chord", "fill", "accent", "shake")


def build_groove(name: str, document: Document, report: Report) -> Groove | None:
    """The groove of a document; None when an error was found (the report says which)."""
    written, broken = validate(GrooveFile, "groove", document, report)
    if written is None:
        return None
    _check_frame(written, document, report)
    if ("meter",) in broken or ("slots",) in broken:
        return None
    builder = _GrooveBuilder(written, document, report)
    rows = builder.read_rows()
    if not (written.bass or written.chord) and not {("bass",), ("chord",)} & broken:
        report.add(
            document.place(), "the groove has no bass and no chord row", 'Write at least one of them: bass: "x . x ."'
        )
    if report.has_errors(document.file):
        return None
    strokes = builder.make_all_strokes(rows)
    fill = builder.make_fill(rows)
    marks = builder.marked(rows, "accent")
    builder.check_accents(rows, strokes, fill)
    if report.has_errors(document.file):
        return None
    slot = builder.slot
    return Groove(
        name,
        written.title,
        written.meter,
        written.slots,
        builder.bars,
        strokes,
        fill,
        tuple(index * slot for index in sorted(builder.marked(rows, "shake"))),
        written.swing,
        written.origin,
        written.text,
        (written.tempo[0], written.tempo[1]),
        Place(document.file, 1, 1),
        tuple(onset for onset, _ in fill if onset / slot in marks),
    )


def _check_frame(written: GrooveFile, document: Document, report: Report) -> None:
    if written.tempo[0] > written.tempo[1]:
        report.add(
            document.place("tempo"),
            f"the slowest tempo {written.tempo[0]} is above the fastest {written.tempo[1]}",
            "Write the slower one first: [60, 120].",
        )
    if not Fraction(1, 2) <= written.swing <= Fraction(4, 5):
        report.add(
            document.place("swing"),
            f"a swing of {written.swing} cannot be played",
            "Write 1/2 for straight, 3/5 for a light swing, 2/3 for triplet feel; 4/5 is the most.",
        )
    elif written.swing != Fraction(1, 2) and written.slots % 2:
        report.add(
            document.place("swing"),
            f"{written.slots} slots in a beat do not swing",
            "Swing needs 2, 4 or 6 slots in a beat.",
        )


class _GrooveBuilder:
    """Reads the rows of one groove."""

    def __init__(self, written: GrooveFile, document: Document, report: Report) -> None:
        self.written = written
        self.document = document
        self.report = report
        self.per_bar = written.slots * written.meter.beats
        self.slot = written.meter.beat / written.slots
        self.bars = 1

    def flag(self, name: str, flaws: tuple[Flaw, ...] | list[Flaw]) -> None:
        for flaw in flaws:
            self.report.add(self.document.text_place((name,), flaw.offset), flaw.message, flaw.hint)

    def read_rows(self) -> dict[str, Row]:
        """All written rows, each repeated to the length of the longest."""
        rows = {}
        for name in ROW_NAMES:
            text = getattr(self.written, name)
            if text:
                rows[name] = read_row(name, text, self.per_bar)
                self.flag(name, rows[name].flaws)
        self.bars = max((row.bars for row in rows.values()), default=1)
        for name, row in rows.items():
            if self.bars % row.bars:
                self.flag(
                    name,
                    [
                        Flaw(
                            0,
                            f"the row '{name}' has {row.bars} bars, the longest row {self.bars}",
                            "Write as many bars as the longest row, or one bar that repeats.",
                        )
                    ],
                )
        return {name: row.stretch(self.bars) for name, row in rows.items()}

    def make_all_strokes(self, rows: dict[str, Row]) -> tuple[Stroke, ...]:
        """Bass and chord strokes in order of onset, the bass first."""
        accents = self.marked(rows, "accent")
        strokes: list[Stroke] = []
        for name in ("bass", "chord"):
            if name in rows:
                made, flaws = make_strokes(rows[name], name, self.written.meter, self.written.slots, accents)
                self.flag(name, flaws)
                strokes += made
        if not strokes:
            self.report.add(
                self.document.place(), "no stroke sounds in this groove", "Write an x where the bass or chord sounds."
            )
        return tuple(sorted(strokes, key=lambda stroke: stroke.onset))

    def make_fill(self, rows: dict[str, Row]) -> tuple[tuple[Fraction, Fraction], ...]:
        """The fill's strokes; without a row it may strike every slot."""
        if "fill" not in rows:
            return tuple((index * self.slot, self.slot) for index in range(self.per_bar * self.bars))
        held, flaws = held_strokes(rows["fill"], "fill", self.slot)
        self.flag("fill", flaws)
        return tuple((index * self.slot, length) for index, _, length in held)

    def marked(self, rows: dict[str, Row], name: str) -> frozenset[int]:
        """Slots marked > in a row."""
        if name not in rows:
            return frozenset()
        return frozenset(index for index, token in enumerate(rows[name].tokens) if token == ACCENT)

    def check_accents(
        self, rows: dict[str, Row], strokes: tuple[Stroke, ...], fill: tuple[tuple[Fraction, Fraction], ...]
    ) -> None:
        """An accent needs something that sounds there."""
        struck = {stroke.onset for stroke in strokes} | {onset for onset, _ in fill}
        for index in sorted(self.marked(rows, "accent")):
            if index * self.slot not in struck:
                offset = rows["accent"].offsets[index]
                self.flag(
                    "accent",
                    [
                        Flaw(
                            offset,
                            f"the accent in place {index + 1} marks a place where nothing is struck",
                            "Move it onto a stroke of bass, chord or fill.",
                        )
                    ],
                )
