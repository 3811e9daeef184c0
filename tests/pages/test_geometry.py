"""Ink, frames and overlaps of whole books on four kinds of page."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pikepdf
import pytest

from bookbuild.pages.book import BookReport
from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.model import (
    Block,
    Book,
    ButtonChart,
    CourseMap,
    GrooveChart,
    Keyboards,
    Ladder,
    Legend,
    Pairs,
    Plan,
    PlanRow,
    WeekPage,
)
from bookbuild.pages.paper import GUTTERS, MM, SHEETS, Frame, PaperOptions, Sheet, least_gutter, plan_sheet
from bookbuild.pages.record import Placed
from tests.pages.checks import ink_outside, outside_frame, overlapping
from tests.pages.made_up import FONTS, make_book
from tests.pages.test_book import WHEN

PAPERS = {
    "A4": PaperOptions(),
    "Letter": PaperOptions(paper="Letter"),
    "A5": PaperOptions(paper="A5", outer_margin=10, text_size=9),
    "B4": PaperOptions(paper="B4"),
    "large": PaperOptions(large_print=True, double_sided=False, text_size=18),
}


@pytest.fixture(scope="module", params=list(PAPERS))
def printed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[BookReport, Sheet]:
    folder, options = tmp_path_factory.mktemp("book"), PAPERS[request.param]
    sheet = plan_sheet(options)
    book = make_book(folder, sheet.text_width, 4, 1.4 if options.large_print else 1.0)
    return print_book(book, options, folder / "book.pdf", created=WHEN, fonts=FONTS), sheet


def test_all_ink_lies_in_the_frame(printed: tuple[BookReport, Sheet]) -> None:
    assert ink_outside(*printed) == []


def test_no_two_blocks_overlap(printed: tuple[BookReport, Sheet]) -> None:
    assert overlapping(printed[0]) == []


def test_every_box_lies_in_the_frame(printed: tuple[BookReport, Sheet]) -> None:
    assert outside_frame(printed[0]) == []


def test_staves_begin_at_the_text_block(printed: tuple[BookReport, Sheet]) -> None:
    report, sheet = printed
    for placed in report.placed:
        if placed.kind == "system":
            frame = sheet.frame(report.pages[placed.page].right_hand)
            assert placed.frame.x + 6.4 == pytest.approx(frame.x)


def test_no_rule_of_the_page_is_broken_that_need_not_be(printed: tuple[BookReport, Sheet]) -> None:
    report, sheet = printed
    kinds = {fault.split(": ")[1] for fault in report.faults}
    assert kinds <= ({"spread", "split"} if sheet.double_sided else {"leaf"}) | {"empty"}


def test_the_checks_see_ink_outside(printed: tuple[BookReport, Sheet]) -> None:
    report, sheet = printed
    narrow = replace(report, pages=tuple(replace(page, frame=Frame(90, 90, 100, 100)) for page in report.pages))
    assert ink_outside(narrow, sheet)
    assert outside_frame(narrow)


def test_the_checks_see_an_overlap(printed: tuple[BookReport, Sheet]) -> None:
    report = printed[0]
    first = next(placed for placed in report.placed if placed.kind == "system")
    doubled = replace(report, placed=(*report.placed, Placed(first.page, "system", "again", first.frame)))
    assert overlapping(doubled)


EMPTY_WEEK = WeekPage(1, "")
LONG = "Donaudampfschifffahrtsgesellschaftskapitän " * 12
FULL_WEEK = WeekPage(
    99,
    LONG[:120],
    LONG[:240],
    LONG * 3,
    (LONG,) * 9,
    (LONG,) * 9,
    LONG,
    "https://example.org/" + "a" * 300,
    10,
    (
        Block(
            "99.1", LONG[:120], LONG[:240], 10, Ladder(Fraction(3, 8), tuple(range(40, 208, 4))), (), (LONG[:240],) * 2
        ),
    ),
    (Keyboards(()), ButtonChart("", ()), GrooveChart("", (), (), ()), CourseMap((), ()), Legend(()), Pairs(())),
    Plan((PlanRow(LONG[:200], 5, (5, 0)),) * 30, 7, LONG),
)


@pytest.mark.parametrize("name", list(PAPERS))
@pytest.mark.parametrize("week", [EMPTY_WEEK, FULL_WEEK], ids=["empty", "full"])
def test_odd_content_is_printed_without_a_fault(tmp_path: Path, name: str, week: WeekPage) -> None:
    options = PAPERS[name]
    report = print_book(Book("", weeks=(week,)), options, tmp_path / "odd.pdf", created=WHEN, fonts=FONTS)
    assert overlapping(report) == []
    assert ink_outside(report, plan_sheet(options)) == []
    assert not any("overfull" in fault for fault in report.faults)
    with pikepdf.open(report.path) as pdf:
        assert len(pdf.pages) == len(report.pages)
        assert not pdf.check_pdf_syntax()


def test_sheets_are_iso_216_and_us_letter() -> None:
    # ISO 216: sides in the ratio of √2, A5 half of A4; US Letter is 8.5 x 11 inches.
    assert SHEETS["A4"][1] / SHEETS["A4"][0] == pytest.approx(2**0.5, abs=0.01)
    assert SHEETS["B4"][1] / SHEETS["B4"][0] == pytest.approx(2**0.5, abs=0.01)
    assert SHEETS["A4"][1] / 2 == pytest.approx(SHEETS["A5"][0], abs=1)
    assert (SHEETS["Letter"][0] / 25.4, SHEETS["Letter"][1] / 25.4) == pytest.approx((8.5, 11.0))


@pytest.mark.parametrize(
    ("pages", "millimetres"), [(24, 9.5), (150, 9.5), (151, 12.7), (300, 12.7), (500, 15.9), (700, 19.1)]
)
def test_gutters_are_a_printers_published_minima(pages: int, millimetres: float) -> None:
    # A print-on-demand printer's table, as collected in the project's facts (third-party pages).
    assert least_gutter(pages) == millimetres
    assert plan_sheet(PaperOptions(), pages).inner >= millimetres * MM
    assert len(GUTTERS) == 4


def test_margins_that_leave_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="leave too little of A5"):
        plan_sheet(PaperOptions(paper="A5", outer_margin=45))
    with pytest.raises(ValueError, match="unknown paper 'A3'"):
        plan_sheet(PaperOptions(paper="A3"))


def test_the_text_block_is_whole_grid_lines() -> None:
    for options in PAPERS.values():
        sheet = plan_sheet(options)
        lines = sheet.text_height / sheet.grid
        assert lines == pytest.approx(round(lines))
        assert sheet.frame(True).width == sheet.frame(False).width
