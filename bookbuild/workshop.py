"""What a build needs from the machine: engraver, fonts, cache. Environment and date enter here, once."""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import struct
import tempfile
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from bookbuild.diagnostics import CallError, MachineError
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.engine import Engraver, find_engraver
from bookbuild.pages.fonts import FILES

_HERE = Path(__file__).resolve().parent
EARLIEST = 315532800
"""The start of 1980: the date of every book unless SOURCE_DATE_EPOCH names another, so that rebuilds are identical."""


_COLLECT_AFTER = 200_000
"""New objects after which Python looks for garbage that holds itself, while a build runs (usually 700)."""


@contextmanager
def rare_collection() -> Iterator[None]:
    """Look for such garbage rarely: a build makes a great many objects that stay and hardly any of that kind."""
    usual = gc.get_threshold()
    gc.set_threshold(_COLLECT_AFTER, *usual[1:])
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def fonts_folder() -> Path:
    """The font files: inside an installed package, beside it in a source tree.

    Raises MachineError when one is missing or cut off: the engraver would take another font without a word.
    """
    hint = "restore the folder fonts/ of the project"
    folder = next((folder for folder in (_HERE / "fonts", _HERE.parent / "fonts") if folder.is_dir()), None)
    if folder is None:
        raise MachineError("the font files are missing", hint)
    for name in FILES.values():
        if not is_whole_font(folder / name):
            raise MachineError(f"the font {name} is missing or not whole", hint)
    return folder


def is_whole_font(path: Path) -> bool:
    """Whether a file begins as a TrueType font and is long enough for all its tables (OpenType, table directory)."""
    try:
        with path.open("rb") as file:
            kind, count = struct.unpack(">4sH6x", file.read(12))
            tables = struct.iter_unpack(">8xLL", file.read(16 * count))
            end = max(offset + length for offset, length in tables)
        return kind == b"\0\1\0\0" and end <= path.stat().st_size
    except (OSError, struct.error, ValueError):
        return False


def content_folder() -> Path:
    """The demo course that comes with the program; raises MachineError."""
    for folder in (_HERE / "content", _HERE.parent / "content"):
        if (folder / "course.yaml").exists():
            return folder
    raise MachineError("the demo course is missing", "restore the folder content/ of the project")


def cache_folder() -> Path | None:
    """Where drawings are kept between runs: BOOKBUILD_CACHE, else the user's cache folder; None when there is neither.

    A relative XDG_CACHE_HOME does not count (XDG Base Directory Specification).
    """
    if folder := os.environ.get("BOOKBUILD_CACHE"):
        return Path(folder)
    try:
        home = Path(os.environ.get("XDG_CACHE_HOME") or "")
        folder_of_user = home if home.is_absolute() else Path.home() / ".cache"
    except RuntimeError:
        return None
    return folder_of_user / "bookbuild" if folder_of_user.is_absolute() else None


def open_cache(folder: Path | None) -> tuple[Cache, str]:
    """The cache in `folder`, or one for this run alone when nothing can be written there, and what to say about it."""
    reason = "the user has no folder of their own"
    if folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return Cache(folder), ""
        except OSError as error:
            reason = f"'{folder}' cannot be written: {error.strerror}"
    try:
        passing = tempfile.mkdtemp(prefix="bookbuild-cache-")
    except OSError as error:
        raise MachineError(f"no temporary folder can be written: {error.strerror or error}",
                           "name a folder with room in TMPDIR") from error
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return Cache(Path(passing)), f"nothing is kept for the next run: {reason}"


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
    """The machine's side of a build; `executor` None engraves `workers` batches at once."""

    engraver: Engraver
    fonts: Path
    cache: Cache
    created: datetime
    workers: int = 1
    executor: Executor | None = None
    warning: str = ""
    """What the user should know about this machine, '' when all is well."""


def open_workshop(cache: Path | None = None, workers: int = 0, engraver: str = "", executor: Executor | None = None,
                  ) -> Workshop:
    """Find everything a build needs; raises MachineError or CallError before any work is done."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    found, fonts, created = find_engraver(engraver), fonts_folder(), build_time()
    kept, warning = open_cache(cache or cache_folder())
    return Workshop(found, fonts, kept, created, workers or cores, executor, warning)
