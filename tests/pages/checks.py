"""Checks of a printed book that any test may use: where ink lies, what overlaps, how two pictures differ."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pypdfium2
from PIL import Image

from bookbuild.pages.book import BookReport
from bookbuild.pages.paper import Frame, Sheet

NOT_BLOCKS = ("tab", "row", "buttons")
"""Kinds of placed boxes that are furniture, or parts of other boxes."""


def draw_pages(path: Path, scale: float, pages: Sequence[int] | None = None) -> Iterator[Image.Image]:
    """The pages (from 0) as grey pictures, `scale` pixels to the point."""
    document = pypdfium2.PdfDocument(path)
    for index in range(len(document)) if pages is None else pages:
        yield document[index].render(scale=scale, grayscale=True).to_pil()


def ink_outside(report: BookReport, sheet: Sheet, slack: float = 1.0) -> list[str]:
    """Pages with ink outside the text block and the furniture's own places; `slack` in points."""
    found = []
    for index, (page, picture) in enumerate(zip(report.pages, draw_pages(report.path, 1.0), strict=True)):
        ink = np.asarray(picture) < 160
        for frame in _allowed(report, sheet, index):
            left, top = int(frame.x - slack), int(frame.y - slack)
            ink[max(0, top) : int(frame.bottom + slack) + 1, max(0, left) : int(frame.right + slack) + 1] = False
        if ink.any():
            y, x = np.argwhere(ink)[0]
            found.append(f"page {page.folio}: ink at {x}, {y} points")
    return found


def _allowed(report: BookReport, sheet: Sheet, index: int) -> Iterator[Frame]:
    page = report.pages[index]
    block = sheet.frame(page.right_hand)
    yield page.frame
    yield Frame(block.x, block.y - 1.15 * sheet.grid - sheet.text_size, block.width, 1.5 * sheet.text_size)
    yield Frame(block.x, block.bottom, block.width, sheet.bottom - 4)
    yield from (placed.frame for placed in report.placed if placed.page == index and placed.kind == "tab")


def overlapping(report: BookReport) -> list[str]:
    """Pairs of boxes on a page that overlap by more than half a point in both directions."""
    found = []
    for index, page in enumerate(report.pages):
        boxes = [placed for placed in report.placed if placed.page == index and placed.kind not in NOT_BLOCKS]
        for place, one in enumerate(boxes):
            for two in boxes[place + 1 :]:
                across = min(one.frame.right, two.frame.right) - max(one.frame.x, two.frame.x)
                down = min(one.frame.bottom, two.frame.bottom) - max(one.frame.y, two.frame.y)
                if across > 0.5 and down > 0.5:
                    found.append(f"page {page.folio}: {one.kind} {one.name} and {two.kind} {two.name} by {down:.1f}")
    return found


def outside_frame(report: BookReport) -> list[str]:
    """Boxes that leave their page's ink frame."""
    found = []
    for placed in report.placed:
        page, frame = report.pages[placed.page], report.pages[placed.page].frame
        inside = (
            placed.frame.x >= frame.x - 0.5
            and placed.frame.right <= frame.right + 6
            and placed.frame.y >= frame.y - 0.5
            and placed.frame.bottom <= frame.bottom + 0.5
        )
        if placed.kind != "tab" and not inside:
            found.append(f"page {page.folio}: {placed.kind} {placed.name}")
    return found


def picture_distance(one: Image.Image, two: Image.Image) -> float:
    """Largest mean difference (0 … 255) of any tile of 16 x 16 pixels, after a slight blur; infinite for other sizes.

    A renderer's rounding moves grey by a pixel and stays far below a tile's mean; a missing word does not.
    """
    if one.size != two.size:
        return float("inf")
    difference = np.abs(_blurred(one) - _blurred(two))
    rows, columns = (-(-side // 16) * 16 for side in difference.shape)
    padded = np.zeros((rows, columns))
    padded[: difference.shape[0], : difference.shape[1]] = difference
    tiles = padded.reshape(rows // 16, 16, columns // 16, 16).mean(axis=(1, 3))
    return float(tiles.max())


def _blurred(picture: Image.Image) -> np.ndarray:
    grey = np.asarray(picture, dtype=float)
    padded = np.pad(grey, 1, mode="edge")
    height, width = grey.shape
    return sum(padded[y : y + height, x : x + width] for y in range(3) for x in range(3)) / 9
