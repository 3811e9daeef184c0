"""A tune as the YAML a teacher would write: bars grouped by line, durations said once; it reads back the same."""

from __future__ import annotations

import json
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence

from bookbuild.exact import Fraction
from bookbuild.lessons.chord_line import divide_bar
from bookbuild.lessons.model import ChordSpan, Section, Stretch, Tune
from bookbuild.lessons.report import clean
from bookbuild.lessons.write_melody import write_melody
from bookbuild.theory.chords import Chord
from bookbuild.theory.meter import Meter

BARS_A_LINE = 4


def tune_yaml(tune: Tune, remarks: Sequence[str] = (), schema: str = "") -> str:
    """The tune's YAML text; the parser reads the same tune from it.

    `remarks` become comment lines at the top, `schema` the path of the JSON Schema an editor should use. A rest that
    crosses a bar line is written as one rest in each bar. Raises ValueError for a note that the melody language
    cannot write.
    """
    lines = [f"# yaml-language-server: $schema={schema}"] if schema else []
    lines += [f"# {clean(remark)}" for remark in remarks]
    lines.append(f"title: {_quote(tune.title)}")
    stated = [(name, getattr(tune.rights, name)) for name in ("composer", "source", "statement")]
    if any(text for _, text in stated):
        lines.append("rights:")
        lines += [f"  {name}: {_quote(text)}" for name, text in stated if text]
    lines += [f'meter: "{tune.meter}"', f'key: "{tune.key.name}"']
    upbeat = max((section.upbeat for section in tune.sections), default=Fraction(0))
    if upbeat:
        lines.append(f'upbeat: "{upbeat}"')
    beat = "" if tune.tempo.beat == tune.meter.beat else f', beat: "{tune.tempo.beat}"'
    lines.append(f"tempo: {{start: {tune.tempo.start}, goal: {tune.tempo.goal}{beat}}}")
    lines += [f"{name}: {_quote(text)}" for name, text in (("origin", tune.origin), ("text", tune.text)) if text]
    if tune.chords_suggested:
        lines.append("chords_suggested: true")
    lines.append("sections:")
    for section in tune.sections:
        lines += _write_section(section, tune, upbeat)
    lines.append(f'form: "{" ".join(tune.form)}"')
    return "\n".join(lines) + "\n"


def _quote(text: str) -> str:
    """A text in double quotes; what a file may not hold is left out."""
    return json.dumps("\n".join(clean(line) for line in text.split("\n")), ensure_ascii=False)


def _write_section(section: Section, tune: Tune, upbeat: Fraction) -> Iterable[str]:
    yield f"  {section.name}:"
    if section.upbeat != upbeat:
        yield f'    upbeat: "{section.upbeat}"'
    if section.key:
        yield f'    key: "{section.key.name}"'
    harmony = any(span.chord for stretch in (section.body, *section.endings) for span in stretch.chords)
    where = f"section {section.name}"
    yield from _write_stretch(section.body, tune.meter, bool(section.upbeat), harmony, "    ", where)
    if section.endings:
        yield "    endings:"
        for number, ending in enumerate(section.endings, start=1):
            first, *rest = _write_stretch(ending, tune.meter, False, harmony, "        ", f"ending {number} of {where}")
            yield f"      - {first.lstrip()}"
            yield from rest


def _write_stretch(
    stretch: Stretch, meter: Meter, upbeat: bool, harmony: bool, indent: str, where: str
) -> Iterable[str]:
    """The melody and chord texts of a stretch, each a block of lines; `where` names it in errors."""
    yield f"{indent}melody: |"
    groups = _group_bars(len(stretch.bars), upbeat)
    for row in write_melody(stretch, groups, where, upbeat):
        yield f"{indent}  {row}"
    if harmony:
        yield f"{indent}chords: |"
        bars = list(_write_chords(stretch, meter))
        for first, last in groups:
            yield f"{indent}  {' | '.join(bars[first:last])} |"


def _group_bars(count: int, upbeat: bool) -> list[tuple[int, int]]:
    """Which bars (first, one past the last) share a line: four, and an upbeat on a line of its own."""
    first = 1 if upbeat else 0
    groups = [(0, 1)] if upbeat else []
    return groups + [(start, min(start + BARS_A_LINE, count)) for start in range(first, count, BARS_A_LINE)]


def _write_chords(stretch: Stretch, meter: Meter) -> Iterable[str]:
    """The chord entries of every bar."""
    start = Fraction(0)
    onsets = [span.onset for span in stretch.chords]
    for bar in stretch.bars:
        first, last = max(bisect_right(onsets, start) - 1, 0), bisect_left(onsets, start + bar)
        yield _write_chord_bar(_cut_spans(stretch.chords[first:last], start, start + bar), bar, meter)
        start += bar


def _cut_spans(spans: Sequence[ChordSpan], start: Fraction, end: Fraction) -> list[tuple[Fraction, Chord | None]]:
    """(length, chord) of what sounds from `start` to `end`."""
    cut = [(min(span.end, end) - max(span.onset, start), span.chord) for span in spans]
    return [(length, chord) for length, chord in cut if length > 0]


def _write_chord_bar(parts: list[tuple[Fraction, Chord | None]], bar: Fraction, meter: Meter) -> str:
    """One bar: as few even entries as show every change, else entries with lengths."""
    edges = {sum((length for length, _ in parts[:index]), Fraction(0)): chord for index, (_, chord) in enumerate(parts)}
    for count in range(1, 4 * meter.beats + 1):
        lengths = divide_bar(count, bar, meter)
        onsets = [sum(lengths[:index], Fraction(0)) for index in range(len(lengths))]
        if lengths and set(edges) <= set(onsets):
            return " ".join(_symbol(edges[onset]) if onset in edges else "." for onset in onsets)
    return " ".join(f"{_symbol(chord)}:{length.numerator}/{length.denominator}" for length, chord in parts)


def _symbol(chord: Chord | None) -> str:
    return chord.symbol if chord else "N.C."
