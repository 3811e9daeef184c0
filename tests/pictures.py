"""The page pictures in README.md, made from a fresh build of the demo course.

    python -m tests.pictures
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

from bookbuild.build import build, load_course
from bookbuild.workshop import open_workshop

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / ".pictures"
CONTENTS_END = 4
"""Pages before this one may show any title: cover, imprint, contents."""
SCALE = 1.1
"""Pixels a point: legible on a screen, small in the repository."""


def find_page(pdf: pypdfium2.PdfDocument, first: int, *texts: str) -> int:
    """Index of the first page from `first` on that shows all `texts`; raises ValueError."""
    for index in range(first, len(pdf)):
        shown = pdf[index].get_textpage().get_text_range()
        if all(text in shown for text in texts):
            return index
    raise ValueError(f"no page shows {texts}")


def picture(pdf: pypdfium2.PdfDocument, *pages: int) -> Image.Image:
    """Pages side by side, grey, with a hair of grey between and around them."""
    shown = [pdf[index].render(scale=SCALE).to_pil().convert("L") for index in pages]
    width, height = sum(page.width + 2 for page in shown) + 2, max(page.height for page in shown) + 4
    sheet = Image.new("L", (width, height), 200)
    left = 2
    for page in shown:
        sheet.paste(page, (left, 2))
        left += page.width + 2
    return sheet


def main() -> None:
    """Build the book and write the four pictures."""
    course, _ = load_course(ROOT / "content")
    week, words = course.weeks[3].title, course.words["en"]
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "book.pdf"
        build(ROOT / "content", out, open_workshop(Path(folder) / "cache"))
        pdf = pypdfium2.PdfDocument(out)
        opens = find_page(pdf, CONTENTS_END, week, words["page.plan"])
        # The first left-hand page after a later week's opening shows music on both sides of the fold.
        spread = find_page(pdf, opens, course.weeks[7].title) + 1
        spread += (spread + 1) % 2
        pictures = {
            "spread": picture(pdf, spread, spread + 1),
            "how-to-read": picture(pdf, find_page(pdf, CONTENTS_END, words["book.how-to-read"])),
            "week": picture(pdf, opens),
            "shake": picture(pdf, find_page(pdf, opens, words["kind.shake-melody"], words["mark.shake"])),
        }
        FOLDER.mkdir(exist_ok=True)
        for name, made in pictures.items():
            made.quantize(16).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
