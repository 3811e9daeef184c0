"""Tunes in, exercises out: the import and export commands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from bookbuild.arrange.course import Exercise, arrange_course
from bookbuild.build import choose_edition, load_course
from bookbuild.cli.console import print_table, say, tell
from bookbuild.diagnostics import CallError, ContentError
from bookbuild.importers.written import ImportedTune, ImportFault
from bookbuild.lessons.model import Instrument, Tune
from bookbuild.workshop import content_folder
from bookbuild.writing import write_atomically

DONE, CONTENT = 0, 1
USUAL = Path("content")
"""The course when none is named: it need not be there."""


def _suggester(instrument: Instrument) -> Callable[[Tune], Tune]:
    """Suggest chords where a tune has none, over the buttons of an instrument."""
    from bookbuild.arrange.harmonise import suggest_chords
    from bookbuild.importers.write import has_chords

    return lambda tune: tune if has_chords(tune) else suggest_chords(tune, instrument)


def _instrument(folder: Path) -> Instrument:
    """The instrument chords are suggested for: the course's own, or the demo's where the course cannot be read yet."""
    try:
        course, _ = load_course(folder)
    except ContentError:
        if folder != USUAL and not folder.is_dir():
            raise
        course, _ = load_course(content_folder())
    return course.instruments[course.default_instrument]


def bring_tunes(files: Sequence[Path], into: Path, *, overwrite: bool, course: Path) -> int:
    """Import every file, print a table of what became of each tune; exit code 1 when one was refused."""
    from bookbuild.importers.read import read_tunes
    from bookbuild.importers.write import write_tunes

    suggest = _suggester(_instrument(course))
    imported: list[ImportedTune] = []
    refused = 0
    for file in files:
        try:
            imported += read_tunes(file)
        except ImportFault as error:
            say(f"{error.message}\n    {error.hint}")
            refused += 1
    rows = write_tunes(imported, into, overwrite, suggest)
    if rows:
        print_table(("tune", "from", "key", "meter", "bars", "file", "remarks"), [
            (row.title, f"{row.source}:{row.line}" if row.line else row.source, row.key, row.meter, str(row.bars or ""),
             row.written.name if row.written else "-", row.reason or "; ".join(row.notes)) for row in rows])
    written = sum(row.written is not None for row in rows)
    refused += len(rows) - written
    tell(f"{written} tune{'s' * (written != 1)} written to {into}" + (f", {refused} refused" if refused else ""))
    return CONTENT if refused else DONE


def _choose(exercises: Sequence[Exercise], wanted: Sequence[str]) -> list[Exercise]:
    if "all" in wanted:
        return list(exercises)
    by_number = {exercise.number: exercise for exercise in exercises}
    unknown = [number for number in wanted if number not in by_number]
    if unknown:
        raise CallError(f"there is no exercise {', '.join(unknown)}", "exercises are numbered week.place, such as 3.2")
    return [by_number[number] for number in wanted]


def export_exercises(course_folder: Path, edition_name: str, wanted: Sequence[str], into: Path) -> int:
    """Write MusicXML and MIDI files of exercises: each hand alone and together, at each tempo of the ladder.

    Returns the exit code; raises a BookbuildError.
    """
    from bookbuild.assemble.blocks import exercise_title
    from bookbuild.export.midi import practice_files
    from bookbuild.export.musicxml import arrangement_musicxml

    course, _ = load_course(course_folder, edition_name)
    edition = choose_edition(course, edition_name)
    lessons, findings = arrange_course(course, edition)
    if findings:
        raise ContentError(findings)
    chosen = _choose([exercise for lesson in lessons for exercise in lesson.exercises], wanted)
    files = 0
    for exercise in chosen:
        title = f"{exercise.number} {exercise_title(exercise, course.words[edition.language])}"
        rights = exercise.tune.rights if exercise.tune else None
        score = arrangement_musicxml(exercise.arrangement, title, rights)
        write_atomically(into / f"{exercise.number}.musicxml", score.encode())
        for (hands, tempo), data in practice_files(exercise.arrangement, title).items():
            write_atomically(into / f"{exercise.number}-{hands.value}-{tempo}.mid", data)
            files += 1
    tell(f"{into}: {len(chosen)} MusicXML and {files} MIDI files")
    return DONE
