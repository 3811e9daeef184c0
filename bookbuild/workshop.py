"""What a build needs from the machine: engraver, fonts, cache. Environment and date enter here, once."""

from __future__ import annotations

import os
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bookbuild.diagnostics import CallError, MachineError
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.engine import Engraver, find_engraver

_HERE = Path(__file__).resolve().parent
EARLIEST = 315532800
"""The start of 1980: the date of every book unless SOURCE_DATE_EPOCH names another, so that rebuilds are identical."""


def fonts_folder() -> Path:
    """The font files: inside an installed package, beside it in a source tree; raises MachineError."""
    for folder in (_HERE / "fonts", _HERE.parent / "fonts"):
        if (folder / "SourceSans3-Regular.ttf").exists():
            return folder
    raise MachineError("the font files are missing", "restore the folder fonts/ of the project")


def content_folder() -> Path:
    """The demo course that comes with the program; raises MachineError."""
    for folder in (_HERE / "content", _HERE.parent / "content"):
        if (folder / "course.yaml").exists():
            return folder
    raise MachineError("the demo course is missing", "restore the folder content/ of the project")


def cache_folder() -> Path:
    """Where drawings are kept between runs: BOOKBUILD_CACHE, else the user's cache folder."""
    if folder := os.environ.get("BOOKBUILD_CACHE"):
        return Path(folder)
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "bookbuild"


def build_time() -> datetime:
    """The date a book is stamped with; raises CallError when SOURCE_DATE_EPOCH is not a number of seconds."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    try:
        return datetime.fromtimestamp(int(epoch or EARLIEST), UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise CallError(f"SOURCE_DATE_EPOCH is '{epoch}', not a number of seconds since 1970",
                        "unset it, or set it to such a number") from error


@dataclass(frozen=True)
class Workshop:
    """The machine's side of a build; `executor` None engraves in `workers` processes of its own."""

    engraver: Engraver
    fonts: Path
    cache: Cache
    created: datetime
    workers: int = 1
    executor: Executor | None = None


def open_workshop(cache: Path | None = None, workers: int = 0, engraver: str = "", executor: Executor | None = None,
                  ) -> Workshop:
    """Find everything a build needs; raises MachineError or CallError before any work is done."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return Workshop(find_engraver(engraver), fonts_folder(), Cache(cache or cache_folder()), build_time(),
                    workers or cores, executor)
