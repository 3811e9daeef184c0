"""A groove's YAML to the model: rows of one length, strokes with what they hold and anticipate."""

from __future__ import annotations

from collections.abc import Iterable

from bookbuild.exact import Fraction
from bookbuild.lessons.groove_rows import ACCENT, HELD, Row, held_strokes, make_strokes, read_row
from bookbuild.lessons.model import Groove, Place, Stroke
from bookbuild.lessons.report import Flaw, Report
from bookbuild.lessons.schema import GrooveFile, HandPart
from bookbuild.lessons.validate import validate
from bookbuild.lessons.yaml_text import Document, Path

ROW_NAMES = ("count", "bass", "chord", "fill", "accent", "shake")
HAND_ROWS = ("bass", "chord")

STRAIGHT = Fraction(1, 2)
MOST_SWING = Fraction(4, 5)


def build_groove(name: str, document: Document, report: Report) -> Groove | None:
    """The groove of a document; None when an error was found (the report says which)."""
    written, broken = validate(GrooveFile, "groove", document, report)
    if written is None:
        return None
    _check_frame(written, document, report)
    if {("meter",), ("slots",)} & broken:
        return None
    builder = _GrooveBuilder(written, document, report)
    rows = builder.read_rows()
    if not (written.bass or written.chord) and not {("bass",), ("chord",)} & broken:
        hint = 'Write at least one of them, for example bass: "x . x ."'
        report.add(Place(document.file, 1, 1), "the groove has no bass and no chord row", hint)
    if report.has_errors(document.file):
        return None
    groove = builder.build(name, rows)
    return None if report.has_errors(document.file) else groove


def _check_frame(written: GrooveFile, document: Document, report: Report) -> None:
    """Tempo and swing."""
    low, high = written.tempo
    if low > high:
        message = f"the slowest tempo {low} is above the fastest {high}"
        report.add(document.place("tempo"), message, "Write the slower one first: [60, 120].")
    swing = STRAIGHT if written.swing is None else written.swing
    if not STRAIGHT <= swing <= MOST_SWING:
        hint = f"Write 1/2 for straight, 3/5 for a light swing, 2/3 for triplet feel; {MOST_SWING} is the most."
        report.add(document.place("swing"), f"a swing of {swing} cannot be played", hint)
    elif swing != STRAIGHT and written.slots % 2:
        message = f"{written.slots} slots in a beat do not swing"
        report.add(document.place("swing"), message, "Swing needs 2, 4 or 6 slots in a beat.")


class _GrooveBuilder:
    """Reads the rows of one groove."""

    def __init__(self, written: GrooveFile, document: Document, report: Report) -> None:
        self.written = written
        self.document = document
        self.report = report
        self.per_bar = written.slots * written.meter.beats
        self.slot = written.meter.beat / written.slots
        self.bars = 1

    def flag(self, path: Path, flaws: Iterable[Flaw]) -> None:
        """Report flaws of the row at `path` where they stand in the file."""
        for flaw in flaws:
            self.report.add(self.document.text_place(path, flaw.offset), flaw.message, flaw.hint)

    def read_rows(self) -> dict[str, Row]:
        """All written rows, each repeated to the length of the longest."""
        texts = {name: getattr(self.written, name) for name in ROW_NAMES}
        rows = {name: read_row(name, text, self.per_bar) for name, text in texts.items() if text}
        self.bars = max((row.bars for row in rows.values()), default=1)
        for name, row in rows.items():
            self.flag((name,), row.flaws)
            if self.bars % row.bars and not row.flaws:
                message = f"the row '{name}' has {row.bars} bars, the longest row {self.bars}"
                hint = "Write as many bars as the longest row, or one bar that repeats."
                self.flag((name,), [Flaw(0, message, hint)])
        return {name: row.stretch(self.bars) for name, row in rows.items()}

    def build(self, name: str, rows: dict[str, Row]) -> Groove:
        """The groove of rows without flaws."""
        written = self.written
        accents = self.marked(rows, "accent")
        strokes = self.make_hands((), rows, accents)
        if not strokes:
            hint = "Write an x where the bass or the chord sounds."
            self.report.add(Place(self.document.file, 1, 1), "no stroke sounds in this groove", hint)
        fill = self.make_fill(rows)
        self.check_accents(rows, {stroke.onset for stroke in strokes} | {onset for onset, _ in fill})
        return Groove(
            name=name,
            title=written.title,
            meter=written.meter,
            slots=written.slots,
            cell_bars=self.bars,
            strokes=strokes,
            fill=fill,
            shake_accents=tuple(index * self.slot for index in sorted(self.marked(rows, "shake"))),
            swing=STRAIGHT if written.swing is None else written.swing,
            origin=written.origin,
            text=written.text,
            suits=tuple(written.suits),
            tempo=(written.tempo[0], written.tempo[1]),
            place=Place(self.document.file, 1, 1),
            fill_accents=tuple(onset for onset, _ in fill if onset / self.slot in accents),
            pickup=self.make_bar("pickup", written.pickup),
            ending=self.make_bar("ending", written.ending),
        )

    def make_hands(self, parents: Path, rows: dict[str, Row], accents: frozenset[int]) -> tuple[Stroke, ...]:
        """Bass and chord strokes in order of onset, the bass first."""
        strokes: list[Stroke] = []
        for name in HAND_ROWS:
            if name in rows:
                made, flaws = make_strokes(rows[name], name, self.written.meter, self.written.slots, accents)
                self.flag((*parents, name), flaws)
                strokes += made
        return tuple(sorted(strokes, key=lambda stroke: stroke.onset))

    def make_bar(self, key: str, part: HandPart | None) -> tuple[Stroke, ...]:
        """The strokes of a bar that stands outside the cell: the pick-up or the ending."""
        rows: dict[str, Row] = {}
        for name in HAND_ROWS:
            text = getattr(part, name) if part else ""
            if not text:
                continue
            row = read_row(name, text, self.per_bar)
            self.flag((key, name), row.flaws)
            if row.flaws:
                continue
            if row.bars != 1:
                hint = f"Write one full bar of {self.per_bar} signs; of an upbeat its last places are played."
                self.flag((key, name), [Flaw(0, f"the row '{name}' of '{key}' has {row.bars} bars", hint)])
            elif row.tokens[0] == HELD:
                hint = "Begin it with a sign that sounds, or with '.'."
                self.flag((key, name), [Flaw(0, f"the row '{name}' of '{key}' begins with '-'", hint)])
            else:
                rows[name] = row
        return self.make_hands((key,), rows, frozenset())

    def make_fill(self, rows: dict[str, Row]) -> tuple[tuple[Fraction, Fraction], ...]:
        """The fill's strokes; without a row it may strike every slot."""
        if "fill" not in rows:
            return tuple((index * self.slot, self.slot) for index in range(self.per_bar * self.bars))
        held, flaws = held_strokes(rows["fill"], "fill", self.slot)
        self.flag(("fill",), flaws)
        return tuple((index * self.slot, length) for index, _, length in held)

    def marked(self, rows: dict[str, Row], name: str) -> frozenset[int]:
        """Slots marked > in a row."""
        tokens = rows[name].tokens if name in rows else ()
        return frozenset(index for index, token in enumerate(tokens) if token == ACCENT)

    def check_accents(self, rows: dict[str, Row], struck: set[Fraction]) -> None:
        """An accent needs something that sounds there."""
        for index in sorted(self.marked(rows, "accent")):
            if index * self.slot not in struck:
                message = f"the accent in place {index + 1} marks a place where nothing is struck"
                hint = "Move it onto a stroke of bass, chord or fill."
                self.flag(("accent",), [Flaw(rows["accent"].offsets[index], message, hint)])
