"""Booklet order: folding the sheets gives the pages in reading order."""

from __future__ import annotations

from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.impose import order_booklet
from bookbuild.pages.paper import PaperOptions, plan_sheet
from tests.pages.made_up import FONTS, make_book
from tests.pages.test_book import WHEN


def test_eight_pages_lie_as_every_printer_lays_them() -> None:
    # Common practice, no source: 8-1, 2-7, 6-3, 4-5.
    assert order_booklet(8) == [(8, 1), (2, 7), (6, 3), (4, 5)]


@given(st.integers(1, 300))
def test_folded_sheets_read_in_order(pages: int) -> None:
    sides = order_booklet(pages)
    leaves = [(sides[k][1], sides[k + 1][0], sides[k + 1][1], sides[k][0]) for k in range(0, len(sides), 2)]
    read = [page for leaf in leaves for page in leaf[:2]] + [page for leaf in reversed(leaves) for page in leaf[2:]]
    assert read == [*range(1, pages + 1), *[0] * (-pages % 4)]


def test_a_booklet_has_two_pages_on_each_sheet(tmp_path: Path) -> None:
    options = PaperOptions(paper="A5", outer_margin=11, booklet=True, text_size=9)
    book = make_book(tmp_path, plan_sheet(options).text_width, 2)
    report = print_book(book, options, tmp_path / "booklet.pdf", created=WHEN, fonts=FONTS)
    with pikepdf.open(report.path) as pdf:
        assert len(pdf.pages) == 2 * -(-len(report.pages) // 4)
        assert float(pdf.pages[0].mediabox[2]) == pytest.approx(2 * 148 * 72 / 25.4, abs=0.01)
        assert sorted(pdf.pages[0].obj.Resources.XObject.keys()) == sorted(
            f"/Page{number}" for number in order_booklet(len(report.pages))[0] if number
        )
        with pdf.open_outline() as outline:
            week = next(item for item in outline.root if item.title.startswith("Week 1"))
            assert week.destination[0].objgen in {page.obj.objgen for page in pdf.pages}
