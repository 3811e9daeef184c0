"""The finished file: numbers, links, fonts, boxes, the same bytes twice."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest

from bookbuild.pages.book import BookReport, make_week
from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.paper import PaperOptions, plan_sheet
from tests.pages.made_up import FONTS, make_book

WHEN = datetime(2025, 3, 1, 12, tzinfo=UTC)
ENTRIES = 3 + (4 + 5 + 6) + 6
"""Weeks, exercises and sections of the made-up book of three weeks."""


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> tuple[BookReport, PaperOptions]:
    folder = tmp_path_factory.mktemp("book")
    options = PaperOptions()
    book = make_book(folder, plan_sheet(options).text_width)
    return print_book(book, options, folder / "book.pdf", created=WHEN, fonts=FONTS), options


def test_first_week_begins_on_a_right_hand_page(printed: tuple[BookReport, PaperOptions]) -> None:
    first = next(page for page in printed[0].pages if page.part == "week 1")
    assert first.folio == "1"
    assert first.right_hand


def test_every_link_lands_on_the_page_the_contents_print(printed: tuple[BookReport, PaperOptions]) -> None:
    report = printed[0]
    labels = {}
    with pikepdf.open(report.path) as pdf:
        for page, told in zip(pdf.pages, report.pages, strict=True):
            assert page.label == told.folio
            labels[page.obj.objgen] = page.label
        contents = next(page for page, told in zip(pdf.pages, report.pages, strict=True) if told.folio == "iii")
        inner = [link for link in contents.obj.Annots if "/Dest" in link]
        assert len(inner) == ENTRIES
        for link in inner:
            assert str(link.Contents).endswith(f", Page {labels[link.Dest[0].objgen]}")
        assert {labels[link.Dest[0].objgen] for link in inner} >= {"1", "iv"}


def test_all_fonts_are_embedded(printed: tuple[BookReport, PaperOptions]) -> None:
    with pikepdf.open(printed[0].path) as pdf:
        fonts = [obj for obj in pdf.objects if isinstance(obj, pikepdf.Dictionary) and obj.get("/Type") == "/Font"]
        assert fonts
        for font in fonts:
            assert "/FontFile2" in font.FontDescriptor, font.BaseFont


def test_the_same_input_gives_the_same_bytes(printed: tuple[BookReport, PaperOptions], tmp_path: Path) -> None:
    report, options = printed
    book = make_book(report.path.parent, plan_sheet(options).text_width)
    again = print_book(book, options, tmp_path / "again.pdf", created=WHEN, fonts=FONTS)
    assert again.path.read_bytes() == report.path.read_bytes()


def test_boxes_are_nested(tmp_path: Path) -> None:
    options = PaperOptions(paper="A5", outer_margin=11, crop_marks=True, bleed=3.0)
    book = make_book(tmp_path, plan_sheet(options).text_width, 1)
    report = print_book(book, options, tmp_path / "book.pdf", created=WHEN, fonts=FONTS)
    with pikepdf.open(report.path) as pdf:
        for page in pdf.pages:
            media, bleed, trim = (
                [float(v) for v in box] for box in (page.mediabox, page.obj.BleedBox, page.obj.TrimBox)
            )
            assert media[0] < bleed[0] < trim[0] < trim[2] < bleed[2] < media[2]
            assert trim[2] - trim[0] == pytest.approx(148 * 72 / 25.4, abs=0.01)


def test_a_week_alone_keeps_the_exercise_numbers(printed: tuple[BookReport, PaperOptions], tmp_path: Path) -> None:
    report, options = printed
    book = make_book(report.path.parent, plan_sheet(options).text_width)
    week = make_week(book, 2, options, tmp_path / "week.pdf", created=WHEN, fonts=FONTS)
    names = [placed.name for placed in week.placed if placed.kind == "heading"]
    assert names == [block.number for block in book.weeks[1].blocks]
