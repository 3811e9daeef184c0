"""What each command does: call the build, print the outcome. One `run_…` a command; each returns an exit code."""

from __future__ import annotations

import os
import shlex
from argparse import Namespace
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from errno import ENOTDIR
from pathlib import Path
from tempfile import TemporaryFile

from bookbuild.build import Outcome, build, build_sheet, choose_edition, load_course, try_logo
from bookbuild.cli.console import print_diagnostics, progress_bar, say, tell
from bookbuild.diagnostics import CallError, ContentError, Diagnostic, MachineError, Severity
from bookbuild.workshop import Workshop, content_folder, open_workshop

DONE, CONTENT = 0, 1


@contextmanager
def _workshop(words: Namespace) -> Iterator[Workshop]:
    """The machine's side of a build, on a cluster when one is named."""
    with ExitStack() as stack:
        shop = open_workshop(words.cache, words.workers, words.engraver)
        if words.cluster:
            from bookbuild.cluster import connect

            executor = stack.enter_context(connect(words.cluster, shop.engraver.path, shop.fonts))
            shop = replace(shop, executor=executor)
        if shop.warning:
            say(f"bookbuild: {shop.warning}")
        yield shop


def _close(outcome: Outcome) -> int:
    """The closing line: pages, exercises, what was reused, time."""
    print_diagnostics(outcome.findings)
    pages = outcome.pages
    tell(f"{outcome.out}: {pages} page{'s' * (pages != 1)}, {outcome.exercises} exercises, "
         f"{outcome.reused} of them reused, in {outcome.seconds:.1f} s")
    return DONE


def _out(words: Namespace, name: str) -> Path:
    """The PDF to write; raises CallError where something stands that is no PDF, which is never replaced.

    Raises MachineError where its folder cannot be written: nobody should wait for the music to hear of it.
    """
    out: Path = words.out or Path("output") / f"{name}.pdf"
    _try_folder(out)
    with suppress(FileNotFoundError, NotADirectoryError, PermissionError):
        if not out.is_file() and (out.exists() or out.is_symlink()):
            raise CallError(f"'{out}' is not a file", "give the name of a PDF file behind --out")
        with out.open("rb") as earlier:
            if earlier.read(5) not in (b"", b"%PDF-"):
                raise CallError(f"'{out}' is there already and is no PDF", "give another name behind --out")
    return out


def _try_folder(out: Path) -> None:
    folder = next(place for place in out.absolute().parents if place.exists())
    try:
        if not os.access(folder, os.W_OK):
            with TemporaryFile(dir=folder):  # fails as well, and says why
                return
        if not folder.is_dir():
            raise NotADirectoryError(ENOTDIR, f"'{folder}' is a file")
    except OSError as error:
        hint = "name another place behind --out, or check the folder and its rights"
        raise MachineError(f"cannot write '{out}': {error.strerror or error}", hint) from error


def _edition_name(words: Namespace) -> str:
    return words.edition or "book"


def _week_name(words: Namespace) -> str:
    """The usual name of a week's sheet or leaf."""
    return f"{_edition_name(words)}-week-{words.week:02}{'-stand' * words.stand}"


def run_book(words: Namespace) -> int:
    """The whole course."""
    with _workshop(words) as shop, progress_bar() as progress:
        outcome = build(words.course, _out(words, _edition_name(words)), shop, edition_name=words.edition,
                        progress=progress)
    return _close(outcome)


def run_week(words: Namespace) -> int:
    """One week's sheet, or its leaf for the music stand."""
    out = _out(words, _week_name(words))
    with _workshop(words) as shop, progress_bar() as progress:
        outcome = build(words.course, out, shop, edition_name=words.edition, week=words.week, stand=words.stand,
                        progress=progress)
    return _close(outcome)


def run_sheet(words: Namespace) -> int:
    """The steps of one tune, as many as two pages hold.

    Raises CallError for a tune or a groove that is not there or does not fit.
    """
    from bookbuild.arrange.groove_fit import explain_refusal, rank_grooves
    from bookbuild.lessons.files import read_tune

    folder = words.course if (words.course / "course.yaml").exists() else content_folder()
    course, _ = load_course(folder, words.edition)
    edition = choose_edition(course, words.edition)
    if words.tune in course.tunes:
        tune = course.tunes[words.tune]
    elif words.tune.endswith((".yaml", ".yml")):
        tune = read_tune(Path(words.tune))
    elif Path(words.tune).is_file():
        hint = f"bring it into the course with 'bookbuild import {words.tune}', then give the YAML file it writes"
        raise CallError(f"'{words.tune}' is not a tune's YAML file", hint)
    else:
        raise CallError(f"there is no tune '{words.tune}'", "give the tune's YAML file, or one of: "
                        + ", ".join(sorted(course.tunes)))
    if words.groove and words.groove not in course.grooves:
        raise CallError(f"there is no groove '{words.groove}'", f"known are: {', '.join(sorted(course.grooves))}")
    if words.groove:
        groove = course.grooves[words.groove]
        if not groove.fits(tune.meter):
            fitting = sorted(name for name, one in course.grooves.items() if one.fits(tune.meter))
            raise CallError(f"the groove '{words.groove}' is in {groove.meter}, the tune in {tune.meter}",
                            f"leave --groove out, or name one of: {', '.join(fitting) or '(none in the course)'}")
    else:
        ranked = rank_grooves(tune, course.grooves.values())
        best = ranked[0]
        if not best.fits:
            raise CallError(f"no groove of the course fits '{tune.title}'", explain_refusal(tune, ranked))
        groove = best.groove
        say(f"groove: {groove.title} ({'; '.join(best.reasons)})")
    with _workshop(words) as shop, progress_bar() as progress:
        outcome = build_sheet(course, folder, edition, tune, groove, _out(words, f"sheet-{tune.name}"), shop,
                              progress=progress)
    return _close(outcome)


def run_check(words: Namespace) -> int:
    """Diagnostics and the ladder of difficulty; exit code 1 when something is wrong."""
    from bookbuild.arrange.check_course import check_lessons, note_moved
    from bookbuild.arrange.course import arrange_course, edition_setting
    from bookbuild.cli.console import print_table
    from bookbuild.grading.course import grade_course
    from bookbuild.grading.report import LADDER_HEAD, ladder_table, suggest_table
    from bookbuild.lessons.translate import find_untranslated

    course, findings = load_course(words.course)
    edition = choose_edition(course, words.edition)
    lessons, remarks = arrange_course(course, edition)
    findings += [*remarks, *check_lessons(lessons, edition_setting(course, edition)), *note_moved(lessons)]
    grades, remarks = grade_course(course, edition, lessons)
    findings += [*remarks, *find_untranslated(course, edition)]
    try:
        try_logo(words.course, edition)
    except ContentError as fault:
        findings += fault.diagnostics
    print_table(LADDER_HEAD, ladder_table(lessons, grades))
    if words.suggest:
        tell("")
        print_table(("place", "week", "why"), suggest_table(course, lessons, grades))
    print_diagnostics(findings)
    remarked = [len(exercise.arrangement.notices) for lesson in lessons for exercise in lesson.exercises]
    if any(remarked):
        say(f"remarks printed to the player: {sum(remarked)}, under {sum(map(bool, remarked))} of {len(remarked)} "
            "exercises")
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    say(_count(findings))
    return CONTENT if errors else DONE


def _count(findings: list[Diagnostic]) -> str:
    if not findings:
        return "nothing to mend"
    kinds = [(severity, sum(f.severity is severity for f in findings)) for severity in Severity]
    return ", ".join(f"{count} {severity.value}{'s' * (count != 1)}" for severity, count in kinds if count)


def run_import(words: Namespace) -> int:
    """Tunes in open formats to YAML."""
    from bookbuild.cli.bring import bring_tunes

    return bring_tunes(words.files, words.into, overwrite=words.overwrite, course=words.course)


def run_export(words: Namespace) -> int:
    """Exercises as MusicXML and MIDI."""
    from bookbuild.cli.bring import export_exercises

    return export_exercises(words.course, words.edition, words.exercises, words.into)


def run_new(words: Namespace) -> int:
    """A small course to begin from."""
    from bookbuild.lessons.new_course import write_new_course

    made = write_new_course(content_folder(), words.folder)
    tell(f"{words.folder}: {made} files; build it with: bookbuild book --course {shlex.quote(str(words.folder))}")
    return DONE


def run_watch(words: Namespace) -> int:
    """Build on every save, until stopped."""
    from bookbuild.cli.watch import watch_course

    if words.stand and not words.week:
        raise CallError("a leaf for the stand is one week's", "add --week N")
    out = _out(words, _week_name(words) if words.week else _edition_name(words))
    with _workshop(words) as shop:
        return watch_course(words, shop, out)
