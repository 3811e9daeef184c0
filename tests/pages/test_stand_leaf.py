"""A made-up week's leaf for the stand, read back from its PDF: boxes, ink, address, name, places of the music."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pypdfium2
import pytest

from bookbuild.pages.book import BookReport
from bookbuild.pages.model import Book, PlanRow, Stand, StandRow, WeekPage
from bookbuild.pages.paper import PaperOptions, plan_sheet
from bookbuild.pages.stand import make_stand
from tests.pages.checks import ink_outside, outside_frame, overlapping
from tests.pages.made_up import FONTS, make_book
from tests.pages.test_geometry import EMPTY_WEEK, FULL_WEEK

WHEN = datetime(2025, 3, 1, 12, tzinfo=UTC)
PAPERS = {
    "A4": PaperOptions(),
    "A5 booklet": PaperOptions(paper="A5", outer_margin=10, text_size=9, booklet=True),
    "Letter, large": PaperOptions(paper="Letter", double_sided=False, large_print=True),
}


def as_stand(week: WeekPage) -> Stand:
    """A week's leaf on which every exercise serves itself alone, and stands on page 7 of the book."""
    assert week.plan is not None
    serves = tuple(tuple(10 * (row is block) for block in week.blocks) for row in week.blocks)
    rows = tuple(StandRow(PlanRow(f"{block.number} {block.title}", 0, (3, 0, 3), where="p. 7"), block.number)
                 for block in week.blocks)
    return Stand(replace(week, plan=replace(week.plan, where="In the book", days=3)), serves, rows)


def print_leaf(folder: Path, options: PaperOptions, number: int, **changed: object) -> tuple[BookReport, Book]:
    book = make_book(folder, plan_sheet(options).text_width, number)
    week = replace(book.weeks[-1], **changed)  # type: ignore[arg-type]
    return make_stand(book, as_stand(week), 4, options, folder / "leaf.pdf", created=WHEN, fonts=FONTS), book


def text_of(report: BookReport) -> str:
    document = pypdfium2.PdfDocument(report.path)
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


@pytest.mark.parametrize("name", list(PAPERS))
def test_a_leaf_keeps_the_rules_of_the_page(tmp_path: Path, name: str) -> None:
    options = PAPERS[name]
    report, _ = print_leaf(tmp_path, options, 2)
    assert len(report.pages) == 2
    assert overlapping(report) == outside_frame(report) == []
    assert ink_outside(report, plan_sheet(replace(options, booklet=False))) == []
    assert report.faults == ()
    with pikepdf.open(report.path) as pdf:
        assert pdf.check_pdf_syntax() == []
        assert len(pdf.pages) == 2


def test_the_log_says_where_the_music_is(tmp_path: Path) -> None:
    report, book = print_leaf(tmp_path, PaperOptions(), 3)
    shown = [placed.name for placed in report.placed if placed.kind == "heading"]
    blocks = [block.number for block in book.weeks[2].blocks]
    assert 0 < len(shown) < len(blocks)
    lines = text_of(report).splitlines()
    for block in book.weeks[2].blocks:
        row = lines.index(next(line for line in lines if line.startswith(f"{block.number} {block.title} ")
                               and ("p." in line or "here" in line)))
        assert ("here" in lines[row]) == (block.number in shown), lines[row]
    assert report.folios().keys() == set(shown)


def test_an_address_is_printed_only_where_the_week_gives_one(tmp_path: Path) -> None:
    address = "https://example.org/lessons/3"
    report, book = print_leaf(tmp_path, PaperOptions(), 3, link=address)
    assert address in text_of(report)
    with pikepdf.open(report.path) as pdf:
        assert [str(link.A.URI) for link in pdf.pages[0].obj.Annots] == [address]
    bare, _ = print_leaf(tmp_path, PaperOptions(), 3)
    said = text_of(bare)
    assert "://" not in said
    assert book.imprint.address not in said
    with pikepdf.open(bare.path) as pdf:
        assert all("/Annots" not in page.obj for page in pdf.pages)


def test_name_date_and_tempi_to_tick(tmp_path: Path) -> None:
    said = text_of(print_leaf(tmp_path, PaperOptions(), 3)[0])
    for word in ("Name", "Date", "Week 3", "Listen for", "Practice log", "Day 3", "50", "60", "72", "84"):
        assert word in said


def test_words_that_fill_the_leaf_are_printed_all_the_same(tmp_path: Path) -> None:
    """Nothing is cut: a week that says too much gets more pages and no music."""
    listen = tuple(f"Listen for the {place}th thing, " + "and for all that follows from it " * 6 for place in range(80))
    report, _ = print_leaf(tmp_path, PaperOptions(), 2, listen=listen)
    assert len(report.pages) > 2
    assert overlapping(report) == []
    said = text_of(report)
    assert all(f"the {place}th thing" in said for place in range(80))


@pytest.mark.parametrize("name", ["A4", "Letter, large"])
@pytest.mark.parametrize("week", [EMPTY_WEEK, FULL_WEEK], ids=["empty", "full"])
def test_odd_content_is_printed_without_overlaps(tmp_path: Path, name: str, week: WeekPage) -> None:
    rows = tuple(StandRow(row) for row in week.plan.rows) if week.plan else ()
    stand, options = Stand(week, tuple((1,) for _ in week.blocks), rows), PAPERS[name]
    report = make_stand(Book(""), stand, 99, options, tmp_path / "odd.pdf", created=WHEN, fonts=FONTS)
    assert overlapping(report) == []
    assert ink_outside(report, plan_sheet(options)) == []
    assert not any("overfull" in fault for fault in report.faults)


def test_the_same_leaf_has_the_same_bytes(tmp_path: Path) -> None:
    first = print_leaf(tmp_path, PaperOptions(), 2)[0].path.read_bytes()
    assert print_leaf(tmp_path, PaperOptions(), 2)[0].path.read_bytes() == first
