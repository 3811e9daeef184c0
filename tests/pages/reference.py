"""Reference pictures of made-up pages; `python -m tests.pages.reference --accept` keeps them as they are drawn now.

Without `--accept` nothing is changed: what differs is told, and `--out DIR` keeps the pages as drawn now beside it.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from PIL import Image

from bookbuild.pages.book import BookReport, make_week
from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.paper import PaperOptions, plan_sheet
from tests.pages.checks import draw_pages, picture_distance
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


def accept(pictures: dict[str, Image.Image], folder: Path) -> None:
    """Keep these pictures in `folder` instead of those in it."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.png"):
        old.unlink()
    for name, picture in pictures.items():
        picture.quantize(16).save(folder / f"{name}.png", optimize=True)
        sys.stdout.write(f"kept {folder / name}.png\n")


def list_changes(pictures: dict[str, Image.Image]) -> list[str]:
    """Names of the pages that look otherwise than accepted, are new, or are no longer drawn."""
    known = {path.stem for path in FOLDER.glob("*.png")}
    changed = []
    for name in sorted(known & set(pictures)):
        with Image.open(FOLDER / f"{name}.png") as accepted:
            if picture_distance(accepted.convert("L"), pictures[name]) > TOLERANCE:
                changed.append(name)
    return sorted(changed + list(known ^ set(pictures)))


def main(arguments: list[str] | None = None) -> int:
    """Compare or accept the reference pictures; 1 when a page differs and is not accepted."""
    parser = argparse.ArgumentParser(prog="python -m tests.pages.reference", description="Reference pictures of pages.")
    parser.add_argument("--accept", action="store_true", help="keep the pages as they are drawn now")
    parser.add_argument("--out", type=Path, metavar="DIR", help="put the pages as drawn now into an empty folder")
    asked = parser.parse_args(arguments)
    if asked.out and asked.out.exists() and any(asked.out.iterdir()):
        parser.error(f"{asked.out} is not empty")
    with tempfile.TemporaryDirectory() as folder:
        pictures = draw_references(Path(folder))
    changed = list_changes(pictures)
    sys.stdout.write(f"changed: {', '.join(changed)}\n" if changed else "all pages look as accepted\n")
    if asked.out:
        accept(pictures, asked.out)
    if asked.accept:
        accept(pictures, FOLDER)
    return 1 if changed and not asked.accept else 0


if __name__ == "__main__":
    sys.exit(main())
