"""A tune's YAML to the model: sections with their bars checked, chords fitted, form resolved."""

from __future__ import annotations

import re
from collections.abc import Iterable

from bookbuild.exact import Fraction
from bookbuild.lessons.chord_line import parse_chord_line
from bookbuild.lessons.form import check_form
from bookbuild.lessons.melody import WrittenMelody, check_bars, parse_melody
from bookbuild.lessons.model import ChordSpan, Place, Rights, Section, Stretch, Tempo, Tune
from bookbuild.lessons.report import Flaw, Report, clean, show
from bookbuild.lessons.schema import EndingPart, SectionPart, TuneFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.yaml_text import Document, Path
from bookbuild.theory.chords import Chord

BEATS = tuple(Fraction(top, bottom) for bottom in (1, 2, 4, 8, 16, 32) for top in (1, 3) if 1 / 20 < top / bottom <= 1)
"""Note values that a tempo may count: plain and dotted ones, a sixteenth the shortest."""

SECTION_NAME = re.compile(r"[^\W_][\w'-]{0,23}")
"""What may name a section: one short word."""


def build_tune(name: str, document: Document, report: Report) -> Tune | None:
    """The tune of a document; None when an error was found (the report says which)."""
    written, broken = validate(TuneFile, "tune", document, report)
    if written is None:
        return None
    builder = _TuneBuilder(written, document, report, broken)
    sections = builder.build_sections()
    tempo = builder.read_tempo()
    form = tuple(written.form) or tuple(written.sections)
    if ("sections",) not in broken:
        check_form(form, sections, written.meter, document, report)
    if report.has_errors(document.file):
        return None
    rights = Rights(written.rights.composer, written.rights.source, written.rights.statement)
    return Tune(
        name,
        written.title,
        written.meter,
        written.key,
        tempo,
        sections,
        form,
        rights,
        written.origin,
        written.text,
        written.chords_suggested,
        Place(document.file, 1, 1),
    )


class _TuneBuilder:
    """Holds what the parts of a tune need of each other while they are read."""

    def __init__(self, written: TuneFile, document: Document, report: Report, broken: frozenset[Path]) -> None:
        self.written = written
        self.document = document
        self.report = report
        self.broken = broken
        self.meter = written.meter
        self.timeless = ("meter",) in broken
        """True when bars cannot be checked because the meter is not known."""
        self.edgeless = False
        """True when the first and last bars cannot be checked because an upbeat is wrong."""
        upbeats = [self.upbeat_of(part) for part in written.sections.values()]
        self.short_by = frozenset(upbeat for upbeat in upbeats if upbeat)
        self.last_chord: dict[str, Chord | None] = {}

    def upbeat_of(self, part: SectionPart) -> Fraction:
        """A section's own upbeat, else the tune's."""
        return (self.written.upbeat or Fraction(0)) if part.upbeat is None else part.upbeat

    def flag(self, path: Path, flaws: Iterable[Flaw]) -> None:
        """Report flaws of the text at `path` where they stand in the file."""
        for flaw in flaws:
            if self.report.is_full(self.document.file):
                return
            self.report.add(self.document.text_place(path, flaw.offset), flaw.message, flaw.hint)

    def build_sections(self) -> tuple[Section, ...]:
        """All sections in written order."""
        self.check_upbeat(("upbeat",), self.written.upbeat or Fraction(0))
        for name, part in self.written.sections.items():
            self.check_upbeat(("sections", name, "upbeat"), part.upbeat or Fraction(0))
        sections = {}
        # In the order they are played, so that an upbeat finds the chord before it.
        for name in dict.fromkeys([*self.written.form, *self.written.sections]):
            if name not in self.written.sections:
                continue
            if not SECTION_NAME.fullmatch(name):
                place = self.document.key_place("sections", name)
                hint = "Use a short word without spaces: A, B, B2, Trio."
                self.report.add(place, f"{show(name)} cannot name a section", hint)
            sections[name] = self.build_section(name, self.written.sections[name])
        return tuple(sections[name] for name in self.written.sections)

    def check_upbeat(self, path: Path, upbeat: Fraction) -> None:
        """An upbeat is shorter than a bar."""
        self.edgeless |= path in self.broken or upbeat >= self.meter.bar
        if upbeat >= self.meter.bar and not self.timeless:
            message = f"the upbeat {upbeat} is not shorter than a bar of {self.meter}"
            hint = "Write the length of the notes before the first bar line, for example 1/8."
            self.report.add(self.document.place(*path), message, hint)

    def build_section(self, name: str, part: SectionPart) -> Section:
        """A section's body and endings."""
        path: Path = ("sections", name)
        upbeat = self.upbeat_of(part)
        if len(part.endings) == 1:
            hint = "Write one ending for each pass, two at least, or put these bars into the melody."
            self.report.add(self.document.key_place(*path, "endings"), f"section {name} has one ending only", hint)
        before = self.chord_before(name)
        short_by = frozenset() if part.endings else self.short_by
        body = self.build_stretch(path, part, f"section {clean(name)[:24]}", upbeat, short_by, before)
        after = body.chords[-1].chord if body.chords else before
        endings = tuple(
            self.build_ending((*path, "endings", index), ending, index, name, after)
            for index, ending in enumerate(part.endings)
        )
        last = endings[-1] if endings else body
        self.last_chord[name] = last.chords[-1].chord if last.chords else after
        return Section(name, body, endings, upbeat, None if part.key == self.written.key else part.key)

    def build_ending(self, path: Path, part: EndingPart, index: int, name: str, before: Chord | None) -> Stretch:
        """One ending; it has no upbeat and may end short."""
        where = f"ending {index + 1} of section {clean(name)[:24]}"
        return self.build_stretch(path, part, where, Fraction(0), self.short_by, before)

    def chord_before(self, name: str) -> Chord | None:
        """The chord that sounds when a section is first reached in the form; None at the tune's start."""
        form = self.written.form or list(self.written.sections)
        place = form.index(name) if name in form else 0
        return self.last_chord.get(form[place - 1]) if place else None

    def build_stretch(
        self,
        path: Path,
        part: SectionPart | EndingPart,
        where: str,
        upbeat: Fraction,
        short_by: frozenset[Fraction],
        before: Chord | None,
    ) -> Stretch:
        """The bars of one melody text with their chords."""
        if (*path, "melody") in self.broken or path in self.broken:
            return Stretch((), (), ())
        melody = parse_melody(part.melody)
        self.flag((*path, "melody"), melody.flaws)
        wrong = [] if self.timeless else check_bars(melody, where, self.meter, upbeat, short_by)
        edges = {bar.offset for bar in melody.bars[:1] + melody.bars[-1:]}
        self.flag((*path, "melody"), [flaw for flaw in wrong if not (self.edgeless and flaw.offset in edges)])
        # How the chords fit is told once the melody they must fit is right.
        fitting = not (melody.flaws or self.timeless or any(flaw.offset == melody.bars[0].offset for flaw in wrong))
        chords = self.build_chords(path, part.chords, melody, where, upbeat, before, fitting)
        return Stretch(tuple(bar.length for bar in melody.bars), melody.notes, chords)

    def build_chords(
        self,
        path: Path,
        text: str,
        melody: WrittenMelody,
        where: str,
        upbeat: Fraction,
        before: Chord | None,
        fitting: bool,
    ) -> tuple[ChordSpan, ...]:
        """The chords of a stretch; without any it is one span of no chord."""
        length = sum((bar.length for bar in melody.bars), Fraction(0))
        if not text.strip():
            return (ChordSpan(Fraction(0), length, None),) if length else ()
        written = parse_chord_line(text, self.intended_bars(melody, upbeat), self.meter, where, bool(upbeat), before)
        self.flag((*path, "chords"), written.flaws)
        if fitting:
            self.flag((*path, "chords"), written.misfits)
        return written.spans

    def intended_bars(self, melody: WrittenMelody, upbeat: Fraction) -> tuple[Fraction, ...]:
        """Bar lengths with wrong bars taken as full, so that a melody's mistake is not told again for its chords."""
        full = self.meter.bar
        last = len(melody.bars) - 1
        lengths = []
        for index, bar in enumerate(melody.bars):
            cut_off = index == last and full - bar.length in self.short_by
            lengths.append(upbeat if upbeat and index == 0 else bar.length if cut_off else full)
        return tuple(lengths)

    def read_tempo(self) -> Tempo:
        """The tempo with its beat filled in from the meter."""
        tempo = self.written.tempo
        if tempo.start > tempo.goal and ("tempo",) not in self.broken:
            message = f"the tempo starts at {tempo.start}, above its goal {tempo.goal}"
            hint = "A ladder climbs: write the slower tempo as start."
            self.report.add(self.document.place("tempo", "start"), message, hint)
        if tempo.beat is not None and tempo.beat not in BEATS:
            message = f"a beat of {tempo.beat} cannot be counted"
            hint = f"Write a plain or dotted note value, for example 1/4 or 3/8. Known: {', '.join(map(str, BEATS))}."
            self.report.add(self.document.place("tempo", "beat"), message, hint)
        return Tempo(tempo.start, tempo.goal, tempo.beat or self.meter.beat)
