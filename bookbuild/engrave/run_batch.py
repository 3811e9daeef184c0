"""One batch through the engraver: drawn in a folder of its own, read back, and searched for the fault when it fails."""

from __future__ import annotations

import json
import pickle
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pikepdf

from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import MachineError
from bookbuild.engrave.drawn import DrawnSystem
from bookbuild.engrave.engine import Engraver, EngraverFailure, check_room, run_engraver
from bookbuild.engrave.slim import slim_pages
from bookbuild.engrave.style import Style
from bookbuild.engrave.systems import break_lines

LEAST_SECONDS = 60.0
SECONDS_A_BAR = 0.5
"""How long a run may take: some twenty times what one bar takes on one busy core."""
MM = 72 / 25.4


@dataclass(frozen=True)
class Task:
    """One exercise to draw; `name` is used in messages and must be unique in a call."""

    name: str
    arrangement: Arrangement


@dataclass(frozen=True)
class BatchResult:
    """A batch PDF and the systems of each of its exercises, in order."""

    pdf: bytes
    systems: tuple[tuple[DrawnSystem, ...], ...]


def draw_batch(tasks: tuple[Task, ...], style: Style, engraver: Engraver, fonts: Path) -> BatchResult:
    """Engrave one batch in a folder of its own; raises EngraverFailure. Runs in a worker, wherever that is."""
    from bookbuild.engrave.score import bookpart_text
    from bookbuild.engrave.source import batch_text

    parts = [bookpart_text(f"x{index}", task.arrangement, style) for index, task in enumerate(tasks)]
    seconds = LEAST_SECONDS + SECONDS_A_BAR * sum(len(task.arrangement.bars) for task in tasks)
    with tempfile.TemporaryDirectory(prefix="bookbuild-") as folder:
        pdf = run_engraver(engraver, batch_text(parts, style, fonts), Path(folder) / "run", seconds=seconds)
        try:
            lines = (pdf.parent / "geometry.jsonl").read_text(encoding="utf-8").splitlines()
            systems = read_systems([json.loads(line) for line in lines], tasks, style)
            # Without recovery: a file cut off by a full disk could be mended into one that lacks music.
            with pikepdf.open(pdf, attempt_recovery=False) as made:
                complete = len(made.pages) == len(lines)
                drawn = slim_pages(made)
        except (OSError, ValueError, KeyError, TypeError, IndexError, pikepdf.PdfError) as error:
            check_room(pdf.parent)
            raise EngraverFailure(f"what it drew cannot be read: {error}") from error
        if not complete:
            raise EngraverFailure("it drew another number of pages than it said")
        return BatchResult(drawn, systems)


def draw_packed(tasks: bytes, style: Style, engraver: Engraver, fonts: Path) -> BatchResult:
    """`draw_batch` of a pickled tuple of tasks, as it is handed to another process or machine of our own."""
    return draw_batch(pickle.loads(tasks), style, engraver, fonts)


def read_systems(pages: Sequence[dict], tasks: Sequence[Task], style: Style) -> tuple[tuple[DrawnSystem, ...], ...]:
    """The engraver's page dump as systems of each task; raises EngraverFailure when it does not fit the request."""
    found: list[list[DrawnSystem]] = [[] for _ in tasks]
    for number, page in enumerate(pages):
        index = int(page["exercise"][1:])
        arrangement = tasks[index].arrangement
        rows = break_lines(arrangement, style.width_in_staves)
        if page["lines"] != 1 or len(found[index]) >= len(rows):
            raise EngraverFailure(f"{tasks[index].name}: the engraver broke the lines elsewhere than asked")
        row = rows[len(found[index])]
        found[index].append(_system(number, page, arrangement, row, style))
    for task, systems in zip(tasks, found, strict=True):
        if len(systems) != len(break_lines(task.arrangement, style.width_in_staves)):
            raise EngraverFailure(f"{task.name}: the engraver drew {len(systems)} systems")
    return tuple(tuple(systems) for systems in found)


def _system(number: int, page: dict, arrangement: Arrangement, row: Sequence[int], style: Style) -> DrawnSystem:
    staves = page["staves"]
    left, top = page["left"], page["top"]
    bars = arrangement.bars
    end = bars[row[-1]].end
    silent = any(event.end == end and not event.pitches for voice in arrangement.voices for event in voice.events)
    return DrawnSystem(
        page=number,
        left=left + page["x"][0],
        right=left + page["x"][1],
        top=top - page["y"][1],
        bottom=top - page["y"][0],
        staff_left=left + min(s[0][0] for s in staves),
        staff_right=left + max(s[0][1] for s in staves),
        staff_height=style.staff * MM,
        first_bar=bars[row[0]].number,
        last_bar=bars[row[-1]].number,
        turn_ok=bars[row[-1]].phrase_end or silent,
    )


def blame(
    tasks: tuple[Task, ...], style: Style, engraver: Engraver, fonts: Path, failure: EngraverFailure
) -> MachineError:
    """What is at fault when a batch failed: the engraver itself, or one exercise, found by halving.

    Returns the error to raise. A run that took too long is not tried again.
    """
    if failure.late:
        hint = "check that the engraver works, then build again"
        return MachineError(f"the engraver does not come to an end: {failure.log}", hint)
    if not _works(style, engraver, fonts):
        hint = "install it anew: pip install --force-reinstall lilypond==2.24.3"
        return MachineError(f"the engraver does not work: {_shorten(failure.log)}", hint)
    while len(tasks) > 1:
        half = tasks[: len(tasks) // 2]
        try:
            draw_batch(half, style, engraver, fonts)
            tasks = tasks[len(half) :]
        except EngraverFailure as smaller:
            tasks, failure = half, smaller
    return MachineError(
        f"exercise {tasks[0].name} could not be engraved: {_shorten(failure.log)}",
        "this is a fault of the program: please report it with the tune's file",
    )


def _works(style: Style, engraver: Engraver, fonts: Path) -> bool:
    """Whether the engraver can draw one note."""
    from bookbuild.engrave.source import batch_text

    note = '\\bookpart { \\paper { bb-name = "x0" } \\score { { c4 } \\layout { } } }'
    with tempfile.TemporaryDirectory(prefix="bookbuild-") as folder:
        try:
            source = batch_text([note], style, fonts)
            with pikepdf.open(run_engraver(engraver, source, Path(folder) / "run", seconds=LEAST_SECONDS)) as made:
                return len(made.pages) == 1
        except (EngraverFailure, pikepdf.PdfError):
            return False


def _shorten(log: str) -> str:
    """The beginning of what the engraver said, on one line."""
    return re.sub(r"\s+", " ", log)[:300]
