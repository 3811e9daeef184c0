"""Reference pictures of made-up pages. `python -m tests.pages.reference` accepts the pages as they are drawn now."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

from bookbuild.pages.book import BookReport, make_week
from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.paper import PaperOptions, plan_sheet
from tests.pages.checks import draw_pages
from tests.pages.made_up import FONTS, make_book
from tests.pages.test_book import WHEN

FOLDER = Path(__file__).parent / "references"
SCALE = 0.55
"""Pixels to the point: an A4 page is 327 pixels wide."""

TOLERANCE = 14.0
"""Largest mean grey difference of a tile (see `checks.picture_distance`) that still counts as the same page."""

LARGE = PaperOptions(large_print=True, double_sided=False, text_size=18)
POCKET = PaperOptions(paper="A5", outer_margin=10, text_size=9)
CROPPED = PaperOptions(crop_marks=True, bleed=3.0)


def draw_references(folder: Path) -> dict[str, Image.Image]:
    """Every reference page by name, drawn now; `folder` takes the made-up music and books."""
    standard = _print(folder, "standard", PaperOptions(), 6)
    names = {"cover": "i", "imprint": "ii", "contents": "iii", "legend": "iv", "week": "1", "systems": "2"}
    pictures = {name: _page(standard, folio) for name, folio in names.items()}
    back = [page.folio for page in standard.pages if page.part == "back"]
    pictures |= {f"back-{place}": _page(standard, folio) for place, folio in enumerate(back, 1)}
    pictures["log"] = _page(standard, _page_of(standard, "week 2", "log"))
    pictures["large-print"] = _page(_print(folder, "large", LARGE, 1, 1.4), "2")
    pictures["pocket"] = _page(_print(folder, "pocket", POCKET, 1), "1")
    pictures["crop-marks"] = _page(_print(folder, "cropped", CROPPED, 1), "1")
    book = make_book(folder, plan_sheet(PaperOptions()).text_width, 2)
    sheet = make_week(book, 2, PaperOptions(), folder / "week.pdf", created=WHEN, fonts=FONTS)
    pictures["week-sheet"] = _page(sheet, "1")
    return pictures


def _print(folder: Path, name: str, options: PaperOptions, weeks: int, scale: float = 1.0) -> BookReport:
    place = folder / name
    place.mkdir()
    book = make_book(place, plan_sheet(options).text_width, weeks, scale)
    return print_book(book, options, place / "book.pdf", created=WHEN, fonts=FONTS)


def _page_of(report: BookReport, part: str, kind: str) -> str:
    """The folio of the first page of a part on which something of a kind was placed."""
    placed = {one.page for one in report.placed if one.kind == kind}
    return next(page.folio for index, page in enumerate(report.pages) if page.part == part and index in placed)


def _page(report: BookReport, folio: str) -> Image.Image:
    index = next(index for index, page in enumerate(report.pages) if page.folio == folio)
    return next(draw_pages(report.path, SCALE, [index])).convert("L")


def accept() -> None:
    """Draw every reference anew and keep it."""
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.png"):
        old.unlink()
    with tempfile.TemporaryDirectory() as folder:
        for name, picture in draw_references(Path(folder)).items():
            picture.quantize(16).save(FOLDER / f"{name}.png", optimize=True)
            sys.stdout.write(f"accepted {name}\n")


if __name__ == "__main__":
    accept()
