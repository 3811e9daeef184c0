"""Build again whenever a file of the course changes."""

from __future__ import annotations

import time
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path

from bookbuild.build import build
from bookbuild.cli.console import progress_bar, say, say_failure, tell
from bookbuild.workshop import Workshop

PAUSE = 0.3
"""Seconds between looks at the folder."""
COURSE_FILES = (".yaml", ".yml", ".png", ".svg")


def snapshot(folder: Path) -> dict[Path, tuple[int, int]]:
    """Every file of a course with its time and size; what is printed or kept there is none of the course."""
    found = {}
    for path in folder.rglob("*"):
        try:
            if path.suffix.lower() in COURSE_FILES and path.is_file():
                stat = path.stat()
                found[path] = (stat.st_mtime_ns, stat.st_size)
        except OSError:
            continue
    return found


def watch_course(words: Namespace, shop: Workshop, out: Path, *, again: Callable[[], bool] = lambda: True) -> int:
    """Build, then build after every change, until `again` says no; a failed build leaves the earlier PDF in place."""
    seen: dict[Path, tuple[int, int]] | None = None
    while True:
        now = snapshot(words.course)
        if now != seen:
            seen = now
            _build_once(words, shop, out)
            say(f"watching {words.course}; stop with Ctrl-C")
        if not again():
            return 0
        time.sleep(PAUSE)


def _build_once(words: Namespace, shop: Workshop, out: Path) -> None:
    try:
        with progress_bar() as progress:
            outcome = build(words.course, out, shop, edition_name=words.edition, week=words.week, stand=words.stand,
                            progress=progress)
    except Exception as error:
        # Whatever it was, the next save may mend it.
        say_failure(error)
        return
    tell(f"{outcome.out}: {outcome.pages} pages, {outcome.exercises - outcome.reused} exercises engraved, "
         f"{outcome.seconds:.1f} s")
