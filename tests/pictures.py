"""The pictures in README.md, drawn from the demo course: `python -m tests.pictures` builds it and writes .pictures/."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageOps

from bookbuild.build import build, load_course
from bookbuild.pages.book import BookReport
from bookbuild.workshop import open_workshop
from tests.pages.checks import draw_pages

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / ".pictures"
GREYS = 16
EDGE = 170
"""Grey of the line round a page, so that it is seen on a white ground."""

WEEK = 6
"""The week whose first page is shown."""

LEAF = 9
"""The week whose leaf for the music stand is shown."""


def page_of(report: BookReport, kind: str, name: str) -> int:
    """The page on which something of a kind and name stands."""
    return next(placed.page for placed in report.placed if placed.kind == kind and placed.name == name)


def fullest_spread(report: BookReport) -> tuple[int, int]:
    """A left-hand page of music and the page that faces it, with the least white."""
    music = {placed.page for placed in report.placed if placed.kind == "system"}
    opening = {placed.page for placed in report.placed if placed.kind in ("header", "log")}
    lefts = [index for index in range(1, len(report.pages) - 1, 2)
             if {index, index + 1} <= music - opening and report.pages[index + 1].part == report.pages[index].part]
    left = min(lefts, key=lambda index: report.pages[index].hole + report.pages[index + 1].hole)
    return left, left + 1


def most_shaken(report: BookReport, shakes: Sequence[str]) -> int:
    """The page on which most exercises with a bellows shake begin."""
    pages = [page_of(report, "heading", number) for number in shakes]
    return max(pages, key=pages.count)


def draw(report: BookReport, pages: Sequence[int], scale: float) -> Image.Image:
    """Pages side by side in a few greys."""
    shown = [ImageOps.expand(page.convert("L"), 1, EDGE) for page in draw_pages(report.path, scale, pages)]
    picture = Image.new("L", (sum(page.width for page in shown), shown[0].height), 255)
    left = 0
    for page in shown:
        picture.paste(page, (left, 0))
        left += page.width
    return picture.quantize(GREYS)


def make_pictures() -> None:
    """Build the demo course and write every picture."""
    FOLDER.mkdir(exist_ok=True)
    course, _ = load_course(ROOT / "content")
    shakes = [f"{week}.{place}" for week, found in enumerate(course.weeks, 1)
              for place, spec in enumerate(found.exercises, 1) if spec.kind.startswith("shake")]
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder) / "cache"
        shop = open_workshop(cache)
        report = build(ROOT / "content", Path(folder) / "book.pdf", shop).report
        leaf = build(ROOT / "content", Path(folder) / "leaf.pdf", shop, week=LEAF, stand=True).report
        assert report is not None
        assert leaf is not None
        how_to_read = page_of(report, "title", course.words["en"]["book.how-to-read"])
        for name, shown, pages, scale in (
            ("spread", report, fullest_spread(report), 1.25),
            ("how-to-read", report, (how_to_read,), 1.0),
            ("week", report, (page_of(report, "header", f"week-{WEEK}"),), 1.0),
            ("shake", report, (most_shaken(report, shakes),), 1.0),
            ("stand", leaf, range(len(leaf.pages)), 1.0),
        ):
            out = FOLDER / f"{name}.png"
            draw(shown, pages, scale).save(out, optimize=True)
            sys.stdout.write(f"{out.relative_to(ROOT)}: {out.stat().st_size // 1000} kB\n")


if __name__ == "__main__":
    make_pictures()
