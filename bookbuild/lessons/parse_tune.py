"""A tune's YAML to the model: sections with their bars checked, chords fitted, form resolved."""

from __future__ import annotations

import re
from fractions import Fraction

from bookbuild.lessons.chord_line import parse_chord_line
from bookbuild.lessons.melody import WrittenMelody, check_bars, parse_melody
from bookbuild.lessons.model import ChordSpan, Place, Rights, Section, Stretch, Tempo, Tune
from bookbuild.lessons.report import Flaw, Report, guess_name
from bookbuild.lessons.schema import EndingPart, SectionPart, TuneFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.yaml_text import Document, Path
from bookbuild.theory.chords import Chord


def build_tune(name: str, document: Document, report: Report) -> Tune | None:
    """The tune of a document; None when an error was found (the report says which)."""
    written, broken = validate(TuneFile, "tune", document, report)
    if written is None:
        return None
    builder = _TuneBuilder(written, document, report, broken)
    sections = builder.build_sections()
    form = builder.read_form()
    tempo = builder.read_tempo()
    if report.has_errors(document.file):
        return None
    rights = Rights(written.rights.composer, written.rights.source, written.rights.statement)
    return Tune(name, written.title, written.meter, written.key, tempo, sections, form, rights, written.origin,
                written.text, written.chords_suggested, Place(document.file, 1, 1))


class _TuneBuilder:
    """Holds what the parts of a tune need of each other while they are read."""

    def __init__(self, written: TuneFile, document: Document, report: Report, broken: frozenset[Path]) -> None:
        self.written = written
        self.document = document
        self.report = report
        self.broken = broken
        upbeats = [self.upbeat_of(part) for part in written.sections.values()]
        self.short_by = frozenset(upbeat for upbeat in upbeats if upbeat)
        self.timeless = ("meter",) in broken
        """True when bars cannot be checked because the meter is not known."""
        self.last_chord: dict[str, Chord | None] = {}

    def upbeat_of(self, part: SectionPart) -> Fraction:
        return self.written.upbeat if part.upbeat is None else part.upbeat

    def flag(self, path: Path, flaws: tuple[Flaw, ...] | list[Flaw]) -> None:
        """Report flaws of the text at `path` where they stand in the file."""
        for flaw in flaws:
            self.report.add(self.document.text_place(path, flaw.offset), flaw.message, flaw.hint)

    def build_sections(self) -> tuple[Section, ...]:
        """All sections in written order."""
        self.check_upbeats()
        sections = []
        for name, part in self.written.sections.items():
            if not re.fullmatch(r"[^\W_][\w'-]{0,23}", name):
                self.report.add(self.document.key_place("sections", name), f"'{name[:40]}' cannot name a section",
                                "Use a short word without spaces: A, B, B2, Trio.")
            sections.append(self.build_section(name, part))
        return tuple(sections)

    def check_upbeats(self) -> None:
        """Every upbeat is shorter than a bar."""
        found = [(("upbeat",), self.written.upbeat)]
        found += [(("sections", name, "upbeat"), part.upbeat or Fraction(0)) for name, part in self.written.sections.items()]
        for path, upbeat in found:
            if upbeat >= self.written.meter.bar and not self.timeless:
                self.report.add(self.document.place(*path), f"the upbeat {upbeat} is not shorter than a bar of {self.written.meter}",
                                "Write the length of the notes before the first bar line, for example 1/8.")

    def build_section(self, name: str, part: SectionPart) -> Section:
        path: Path = ("sections", name)
        upbeat = self.upbeat_of(part)
        if len(part.endings) == 1:
            self.report.add(self.document.place(*path, "endings"), f"section {name} has one ending only",
                            "Write one ending for each pass, two at least, or put these bars into the melody.")
        before = self.chord_before(name)
        short_by = frozenset() if part.endings else self.short_by
        body = self.build_stretch(path, part, f"section {name}", upbeat, short_by, before)
        after = body.chords[-1].chord if body.chords else before
        endings = tuple(
            self.build_stretch((*path, "endings", index), ending, f"ending {index + 1} of section {name}", Fraction(0),
                               self.short_by, after)
            for index, ending in enumerate(part.endings))
        last = endings[-1] if endings else body
        self.last_chord[name] = last.chords[-1].chord if last.chords else after
        return Section(name, body, endings, upbeat)

    def chord_before(self, name: str) -> Chord | None:
        """The chord that sounds when a section is first reached in the form; None at the tune's start."""
        form = self.written.form or list(self.written.sections)
        place = form.index(name) if name in form else 0
        return self.last_chord.get(form[place - 1]) if place else None

    def build_stretch(self, path: Path, part: SectionPart | EndingPart, where: str, upbeat: Fraction,
                      short_by: frozenset[Fraction], before: Chord | None) -> Stretch:
        if (*path, "melody") in self.broken or path in self.broken:
            return Stretch((), (), ())
        melody = parse_melody(part.melody)
        self.flag((*path, "melody"), melody.flaws)
        if not self.timeless:
            self.flag((*path, "melody"), check_bars(melody, where, self.written.meter, upbeat, short_by))
        return Stretch(tuple(bar.length for bar in melody.bars), melody.notes,
                       self.build_chords(path, part, melody, where, upbeat, before))

    def build_chords(self, path: Path, part: SectionPart | EndingPart, melody: WrittenMelody, where: str,
                     upbeat: Fraction, before: Chord | None) -> tuple[ChordSpan, ...]:
        bars = tuple(bar.length for bar in melody.bars)
        if not part.chords.strip():
            return (ChordSpan(Fraction(0), sum(bars, Fraction(0)), None),) if bars else ()
        if not self.timeless:
            bars = self.intended_bars(melody, upbeat)
        spans, flaws = parse_chord_line(part.chords, bars, self.written.meter, where, bool(upbeat), before)
        if self.timeless:
            flaws = [flaw for flaw in flaws if "chord" in flaw.message and "divide" not in flaw.message]
        self.flag((*path, "chords"), flaws)
        return spans

    def intended_bars(self, melody: WrittenMelody, upbeat: Fraction) -> tuple[Fraction, ...]:
        """Bar lengths with wrong bars taken as full, so that a melody's mistake is not told again for its chords."""
        full = self.written.meter.bar
        last = len(melody.bars) - 1
        fitting = {full, *(full - short for short in self.short_by)}
        lengths = []
        for index, bar in enumerate(melody.bars):
            wanted = upbeat if upbeat and index == 0 else full
            short_last = index == last and bar.length in fitting and not bar.unreadable
            lengths.append(bar.length if short_last else wanted)
        return tuple(lengths)

    def read_form(self) -> tuple[str, ...]:
        """The form with every name checked."""
        names = list(self.written.sections)
        for index, name in enumerate(self.written.form):
            if name not in self.written.sections and ("sections",) not in self.broken:
                path: Path = ("form", index) if ("form", index) in self.document.nodes else ("form",)
                self.report.add(self.document.place(*path), f"the form names a section '{name[:40]}' the tune does not have",
                                guess_name(name, names, "section"))
        return tuple(self.written.form) or tuple(names)

    def read_tempo(self) -> Tempo:
        """The tempo with its beat filled in from the meter."""
        tempo = self.written.tempo
        if tempo.start > tempo.goal and ("tempo",) not in self.broken:
            self.report.add(self.document.place("tempo", "start"), f"the tempo starts at {tempo.start}, above its goal {tempo.goal}",
                            "A ladder climbs: write the slower tempo as start.")
        if tempo.beat is not None and tempo.beat <= 0:
            self.report.add(self.document.place("tempo", "beat"), "the tempo's beat has no length", "Write for example 1/4 or 3/8.")
        return Tempo(tempo.start, tempo.goal, tempo.beat or self.written.meter.beat)
