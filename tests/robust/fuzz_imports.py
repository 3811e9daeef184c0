"""Damaged tunes from outside through import, the course's reader and every exercise kind, counted.

    python tests/robust/fuzz_imports.py --count 10000 [--seed 1] [--processes 2]

An input fails when anything but a tune, a reason or a fault of one line comes out, when it takes more than five
seconds, or when what is said does not name the file and the place. One in `SHEET_EVERY` tunes that can be read is
arranged in every kind and written out for the engraver; one file in `CALL_EVERY` goes through the command as a user
calls it.
"""

from __future__ import annotations

import contextlib
import io
import random
import re
import sys
import tempfile
import time
import traceback
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from course_scenes import CONTENT
from fuzz_yaml import SECONDS, Hang, Verdict, follow, make_parser, run_and_tell, time_limit
from import_mutations import FORMATS, damage_file, sound_files

from bookbuild.arrange.groove_fit import rank_grooves
from bookbuild.arrange.harmonise import suggest_chords
from bookbuild.arrange.sheet import sheet_weeks
from bookbuild.build import choose_edition
from bookbuild.cli import run
from bookbuild.diagnostics import BookbuildError, ContentError
from bookbuild.importers.read import read_bytes
from bookbuild.importers.write import ImportRow, has_chords, write_tunes
from bookbuild.importers.written import ImportedTune
from bookbuild.lessons.files import inspect_course
from bookbuild.lessons.model import Course, Tune

SHEET_EVERY, CALL_EVERY = 8, 20
SUFFIXES = {"abc": ".abc", "musicxml": ".musicxml", "mxl": ".mxl", "midi": ".mid"}
WHOLE = re.compile(
    "^it (has no|lasts|has [0-9]+ bars|was played too freely)|^its me(ter changes|lody has)|exists and was kept|"
    "^the meter |^(the upbeat|ending)"
)
"""Reasons about a tune as a whole, in files that have no lines."""


@cache
def demo() -> Course:
    """The course whose instrument, edition and grooves serve."""
    course, _ = inspect_course(CONTENT)
    assert course is not None
    return course


def make_input(seed: int, number: int) -> tuple[str, str, bytes]:
    """Format, file name and bytes of one numbered input."""
    chance = random.Random(f"import {seed}/{number}")
    kind = FORMATS[number % len(FORMATS)]
    return kind, f"tune{SUFFIXES[kind]}", damage_file(kind, chance.choice(sound_files()[kind]), chance)


def find_fault(items: Sequence[ImportedTune], rows: Sequence[ImportRow], file: str, data: bytes) -> str:
    """What a reason or a remark lacks; '' is nothing."""
    lines = len(re.split(rb"[\n\r\x0b\x0c]|\xe2\x80[\xa8\xa9]|\xc2\x85|[\x1c-\x1e]", data))
    for item in items:
        if item.place.file != file:
            return f"names another file: {item.place}"
        if not 0 <= item.place.line <= max(lines, len(data.splitlines())):
            return f"a line outside the file: {item.place}"
    for row in rows:
        if not row.written and not row.reason:
            return f"neither written nor refused: {row.title}"
        if row.reason and not (row.line or re.search(r"\bbar \d", row.reason) or WHOLE.search(row.reason)):
            return f"no place: {row.reason}"
        for said in (row.title, row.reason, *row.notes):
            if any(not sign.isprintable() for sign in said) or len(said) > 300:
                return f"does not print: {said[:400]!r}"
            if re.search("invalid literal|could not convert|Exceeds the limit|object|Traceback", said):
                return f"the language's own words: {said}"
    return ""


def judge_refusal(error: BookbuildError, file: str) -> str:
    """What the one line about a file as a whole lacks; '' is nothing."""
    told = error.message
    if not told.startswith(file) or not error.hint or error.exit_code != 1:
        return f"no file, remedy or wrong code: {told}"
    if len(told) > 200 or any(not sign.isprintable() for sign in told):
        return f"not one line: {told[:300]!r}"
    return ""


def _finish(tune: Tune) -> Tune:
    return tune if has_chords(tune) else suggest_chords(tune, demo().instruments[demo().default_instrument])


def _print_sheet(tune: Tune) -> None:
    """Every step of a tune that a groove suits, short of the engraver; content may be refused."""
    course = demo()
    tune = _finish(tune)
    best = rank_grooves(tune, course.grooves.values())[0]
    if not best.fits:
        return
    edition = replace(choose_edition(course, ""), swaps={})
    alone = replace(course, weeks=(next(sheet_weeks(tune, best.groove)),), tunes={tune.name: tune},
                    grooves={best.groove.name: best.groove}, editions={course.default_edition: edition})
    with contextlib.suppress(ContentError):
        follow(alone, CONTENT, False)


def _call(data: bytes, folder: Path, file: str) -> str:
    """What is wrong with the command's own answer."""
    (folder / file).write_bytes(data)
    out, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        code = run(["import", str(folder / file), "--into", str(folder / "tunes"), "--overwrite",
                    "--course", str(CONTENT)])
    said = out.getvalue() + errors.getvalue()
    if code not in (0, 1) or "fault of the program" in said or "Traceback" in said:
        return f"the command ended with {code}: {said[-600:]}"
    return "" if file in said else f"the command does not name the file: {said}"


def try_input(seed: int, number: int, folder: Path) -> Verdict:
    """Run one input in `folder`."""
    kind, file, data = make_input(seed, number)
    demo()
    started = time.process_time()
    outcome, fault, rows = "refused", "", []
    try:
        with time_limit(SECONDS):
            items = read_bytes(data, file)
            rows = write_tunes(items[:3], folder / "tunes", True, _finish)
            outcome = "read" if any(row.written for row in rows) else "refused"
            fault = find_fault(items, rows, file, data)
            if number // len(FORMATS) % SHEET_EVERY == 0:
                for item in [item for item, row in zip(items, rows, strict=False) if item.tune and row.written][:1]:
                    _print_sheet(item.tune)
        if not fault and number // len(FORMATS) % CALL_EVERY == 0:
            fault = _call(data, folder, file)
    except BookbuildError as error:
        fault = judge_refusal(error, file)
    except Hang:
        fault = "hang\n" + "".join(traceback.format_exc(limit=-6))
    except Exception:
        fault = traceback.format_exc(limit=-6)
    return Verdict(number, kind, (), "failed" if fault else outcome, time.process_time() - started, len(rows), fault)


def run_share(seed: int, numbers: Sequence[int]) -> list[Verdict]:
    """Verdicts of some inputs."""
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        return [try_input(seed, number, Path(folder)) for number in numbers]


def main() -> int:
    """Run, tell, and end with 1 when anything failed."""
    return int(any(one.fault for one in run_and_tell(make_parser().parse_args(), run_share)))


if __name__ == "__main__":
    sys.exit(main())
