"""Imported tunes to YAML files: one file a tune, unique names, nothing overwritten unless told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bookbuild.diagnostics import MachineError, Severity
from bookbuild.importers.written import ImportedTune
from bookbuild.lessons.model import Tune
from bookbuild.lessons.parse import parse_tune
from bookbuild.lessons.report import Report, clean
from bookbuild.lessons.write_tune import tune_yaml
from bookbuild.writing import write_atomically

STRAY = "it names too few chords for its length: they are replaced"
ONE_CHORD = 8
"""A tune of so many bars may stand on one chord; a longer one has a stray symbol at its beginning."""
SUGGESTED = "the chords are suggested: check them, then remove 'chords_suggested'"


@dataclass(frozen=True)
class ImportRow:
    """One line of the summary: what became of a tune. `written` is None where none was made, `reason` then says why."""

    source: str
    line: int
    title: str
    written: Path | None
    bars: int = 0
    key: str = ""
    meter: str = ""
    notes: tuple[str, ...] = ()
    reason: str = ""


def write_tunes(imported: Sequence[ImportedTune], folder: Path, overwrite: bool = False,
                finish: Callable[[Tune], Tune] | None = None) -> list[ImportRow]:
    """Write a YAML file for every tune that could be read and return the summary, in order.

    `finish` may change each tune before it is written, for example suggest chords where it has none. A file that
    exists is kept unless `overwrite`; two tunes of one title get `-2`, `-3`, …; a tune whose file the course's reader
    would refuse is not written. Raises MachineError when the folder
    cannot be written; the files written until then stay.
    """
    taken: set[str] = set()
    rows = []
    for item in imported:
        if item.tune is None:
            rows.append(ImportRow(item.place.file, item.place.line, item.title, None,
                                  notes=tuple(map(clean, item.notes)), reason=clean(item.reason)))
            continue
        rows.append(_write_one(item, item.tune, folder, overwrite, finish, taken))
    return rows


def _write_one(item: ImportedTune, tune: Tune, folder: Path, overwrite: bool, finish: Callable[[Tune], Tune] | None,
               taken: set[str]) -> ImportRow:
    name = choose_name(tune.name, taken)
    taken.add(name)
    tune = replace(tune, name=name)
    stray = not has_chords(tune) and _names_chord(tune)
    tune = finish(tune) if finish else tune
    notes = tuple(map(clean, item.notes))
    if tune.chords_suggested:
        notes = (*notes, *([STRAY] if stray else []), SUGGESTED)
    row = ImportRow(item.place.file, item.place.line, item.title, None, _count_bars(tune), tune.key.name,
                    str(tune.meter), notes)
    path = folder / f"{name}.yaml"
    if path.exists() and not overwrite:
        return replace(row, reason=f"{path.name} exists and was kept")
    try:
        text = tune_yaml(tune, remarks=(f"imported from {item.place.file}", *notes))
    except ValueError as error:
        return replace(row, reason=str(error))
    fault = _check_text(text, path.name)
    if fault:
        return replace(row, reason=fault)
    _write_file(path, text)
    return replace(row, written=path)


def _check_text(text: str, file: str) -> str:
    """The first error the course's reader would report in the file, or ''."""
    report = Report()
    parse_tune(text.encode(), file.removesuffix(".yaml"), file, report)
    return next((found.message for found in report.in_order() if found.severity is Severity.ERROR), "")


def has_chords(tune: Tune) -> bool:
    """True when chords stand over half of the tune or more, and change in a tune longer than `ONE_CHORD` bars.

    With a few stray ones the left hand would be silent, or stay on one chord.
    """
    stretches = [stretch for section in tune.sections for stretch in (section.body, *section.endings)]
    named = [span for stretch in stretches for span in stretch.chords if span.chord]
    length = sum(stretch.length for stretch in stretches)
    moving = len({span.chord for span in named}) > 1 or length <= ONE_CHORD * tune.meter.bar
    return moving and 2 * sum(span.length for span in named) >= length


def _names_chord(tune: Tune) -> bool:
    return any(span.chord for section in tune.sections for stretch in (section.body, *section.endings)
               for span in stretch.chords)


def choose_name(name: str, taken: set[str]) -> str:
    """The name, or with the first free number behind it."""
    if name not in taken:
        return name
    number = 2
    while f"{name}-{number}" in taken:
        number += 1
    return f"{name}-{number}"


def _count_bars(tune: Tune) -> int:
    """Full bars as printed."""
    return sum(len(stretch.bars) for section in tune.sections for stretch in (section.body, *section.endings)) - sum(
        bool(section.upbeat) for section in tune.sections)


def _write_file(path: Path, text: str) -> None:
    """Put a tune in its place; a reader never sees half a file. Raises MachineError."""
    try:
        write_atomically(path, text.encode())
    except OSError as error:
        raise MachineError(f"{path}: cannot be written ({error.strerror or 'output error'})",
                           "Check the folder's permissions and the free space.") from error
