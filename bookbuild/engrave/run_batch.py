"""One batch through the engraver: drawn in a folder of its own, read back, and searched for the fault when it fails."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import pikepdf

from bookbuild.arrange.model import Arrangement
from bookbuild.diagnostics import MachineError
from bookbuild.engrave.drawn import DrawnSystem
from bookbuild.engrave.engine import Engraver, EngraverFailure, Runs, check_room, run_engraver, tell_install
from bookbuild.engrave.slim import slim_pages
from bookbuild.engrave.source import SPECIMEN, batch_text, book_text, specimen_text
from bookbuild.engrave.standby import Standby, engrave_in_copy
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
class Order:
    """What an engraver is given to draw: texts of `\\bookpart`, the specimen's first, and the seconds that may take."""

    parts: tuple[str, ...]
    seconds: float


@dataclass(frozen=True)
class Sheets:
    """What an engraver drew of an order: a PDF, a system a page, and what it told of each page."""

    pdf: bytes
    told: tuple[dict, ...]


@dataclass(frozen=True)
class BatchResult:
    """A batch PDF and the systems of each of its exercises, in order."""

    pdf: bytes
    systems: tuple[tuple[DrawnSystem, ...], ...]


def write_order(tasks: Sequence[Task], style: Style) -> Order:
    """The order for a batch."""
    # Loaded when there is something to draw: what writes the engraver's text takes a third of a second.
    from bookbuild.engrave.score import bookpart_text

    parts = tuple(bookpart_text(f"x{index}", task.arrangement, style) for index, task in enumerate(tasks))
    bars = sum(len(task.arrangement.bars) for task in tasks)
    return Order((specimen_text(style), *parts), LEAST_SECONDS + SECONDS_A_BAR * bars)


def fill_order(order: Order, style: Style, engraver: Engraver, fonts: Path, standby: Standby | None = None,
               runs: Runs | None = None) -> Sheets:
    """Engrave an order in a folder of its own, as one of some `runs`; raises EngraverFailure.

    Done in a worker, wherever that is. An engraver on `standby` does it sooner; when its copy fails the order is
    engraved anew, without it.
    """
    if standby and (standby.style, standby.fonts) == (style, fonts):
        try:
            with tempfile.TemporaryDirectory(
                    dir=standby.folder, prefix="run-", ignore_cleanup_errors=True) as folder:
                text = book_text(order.parts)
                return read_sheets(engrave_in_copy(standby, text, Path(folder), seconds=order.seconds))
        except (EngraverFailure, OSError) as failure:
            if isinstance(failure, EngraverFailure) and failure.late:
                raise
    with tempfile.TemporaryDirectory(prefix="bookbuild-") as folder:
        text = batch_text(order.parts, style, fonts)
        return read_sheets(run_engraver(engraver, text, Path(folder) / "run", seconds=order.seconds, runs=runs))


def read_sheets(pdf: Path) -> Sheets:
    """What a run drew beside the specimen: its PDF, made slim, and what it told of each page; raises EngraverFailure.
    """
    try:
        lines = (pdf.parent / "geometry.jsonl").read_text(encoding="utf-8").splitlines()
        told = [json.loads(line) for line in lines]
        # Without recovery: a file cut off by a full disk could be mended into one that lacks music. By its bytes: the
        # library does not take a path that is no text.
        with pikepdf.open(BytesIO(pdf.read_bytes()), attempt_recovery=False) as made:
            complete = len(made.pages) == len(told)
            for place in [place for place, page in enumerate(told) if page["exercise"] == SPECIMEN]:
                del made.pages[place], told[place]
            drawn = slim_pages(made)
    except (OSError, ValueError, KeyError, TypeError, pikepdf.PdfError) as error:
        check_room(pdf.parent)
        raise EngraverFailure(f"what it drew cannot be read: {error}") from error
    if not complete:
        raise EngraverFailure("it drew another number of pages than it said")
    return Sheets(drawn, tuple(told))


def read_result(sheets: Sheets, tasks: Sequence[Task], style: Style) -> BatchResult:
    """What was drawn of a batch, each exercise with its systems; raises EngraverFailure when it is something else."""
    try:
        return BatchResult(sheets.pdf, read_systems(sheets.told, tasks, style))
    except (ValueError, KeyError, TypeError, IndexError, AttributeError) as error:
        raise EngraverFailure(f"what it told of its pages cannot be read: {error}") from error


def draw_batch(tasks: Sequence[Task], style: Style, engraver: Engraver, fonts: Path,
               standby: Standby | None = None) -> BatchResult:
    """Engrave one batch here and now; raises EngraverFailure."""
    return read_result(fill_order(write_order(tasks, style), style, engraver, fonts, standby), tasks, style)


def read_systems(pages: Sequence[dict], tasks: Sequence[Task], style: Style) -> tuple[tuple[DrawnSystem, ...], ...]:
    """The engraver's page dump as systems of each task; raises EngraverFailure when it does not fit the request."""
    found: list[list[DrawnSystem]] = [[] for _ in tasks]
    asked = [break_lines(task.arrangement, style.width_in_staves) for task in tasks]
    for number, page in enumerate(pages):
        index = int(page["exercise"][1:])
        rows = asked[index]
        if page["lines"] != 1 or len(found[index]) >= len(rows):
            raise EngraverFailure(f"{tasks[index].name}: the engraver broke the lines elsewhere than asked")
        found[index].append(_system(number, page, tasks[index].arrangement, rows[len(found[index])], style))
    for task, systems, rows in zip(tasks, found, asked, strict=True):
        if len(systems) != len(rows):
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
        return MachineError(f"the engraver does not work: {_shorten(failure.log)}", tell_install(anew=True))
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
    note = '\\bookpart { \\paper { bb-name = "x0" } \\score { { c4 } \\layout { } } }'
    with tempfile.TemporaryDirectory(prefix="bookbuild-") as folder:
        try:
            source = batch_text([note], style, fonts)
            drawn = run_engraver(engraver, source, Path(folder) / "run", seconds=LEAST_SECONDS).read_bytes()
            with pikepdf.open(BytesIO(drawn)) as made:
                return len(made.pages) == 1
        except (EngraverFailure, pikepdf.PdfError):
            return False


def _shorten(log: str) -> str:
    """The beginning of what the engraver said, on one line."""
    return re.sub(r"\s+", " ", log)[:300]
