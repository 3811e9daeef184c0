"""The demo course on four papers, read back from the finished PDF: frames, turns, holes, staves, fonts, links, text.

Odd pages are right-hand pages, the staff is 7.0–8.5 mm high: *Guidelines for Music Preparation* (MOLA 2017). That turns
fall on rests or phrase ends is common practice (from memory); that no page is emptier than 35 % is our own rule.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pdfplumber
import pikepdf
import pypdfium2
import pytest

from bookbuild.arrange.course import Exercise, Lesson, arrange_course, edition_setting
from bookbuild.arrange.groove_fit import rank_grooves
from bookbuild.assemble.book import paper_options
from bookbuild.build import Outcome, build, build_sheet
from bookbuild.engrave.systems import break_lines
from bookbuild.lessons.model import Course, Edition
from bookbuild.pages.book import BookReport
from bookbuild.pages.paper import MM, Sheet, plan_sheet
from bookbuild.pages.record import Placed
from bookbuild.pages.rules import EMPTIEST
from bookbuild.printing import engraving_style
from tests.conftest import CONTENT, shop_that_reports
from tests.pages.checks import draw_pages, ink_outside, outside_frame, overlapping

pytestmark = pytest.mark.engraver

EDITIONS = ("standard", "letter", "pocket", "large-print")
BYTES = 10_000
"""What the file of a whole book may take for each exercise."""

SIZES = {"standard": (595.3, 841.9), "letter": (612.0, 792.0), "pocket": (419.5, 595.3), "large-print": (595.3, 841.9)}
"""Width and height in points (ISO 216, US Letter)."""


@dataclass(frozen=True)
class Printed:
    """A demo edition as it was printed, with the exercises on it."""

    edition: Edition
    report: BookReport
    sheet: Sheet
    lessons: Sequence[Lesson]
    course: Course

    @property
    def path(self) -> Path:
        return self.report.path


@dataclass(frozen=True)
class Shown:
    """A system in reading order: its exercise, its place there, its page (from 0) and its box."""

    exercise: str
    place: int
    page: int
    placed: Placed


@pytest.fixture(scope="session", params=EDITIONS)
def printed(
    request: pytest.FixtureRequest,
    course: Course,
    lessons: tuple[Lesson, ...],
    drawings_cache: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Printed:
    edition = course.editions[request.param]
    if request.param == course.default_edition:
        outcome: Outcome = request.getfixturevalue("built")
    else:
        out = tmp_path_factory.mktemp("editions") / f"{request.param}.pdf"
        outcome = build(CONTENT, out, shop_that_reports(drawings_cache), edition_name=request.param)
    usual = course.editions[course.default_edition]
    if edition_setting(course, edition) != edition_setting(course, usual):
        lessons, _ = arrange_course(course, edition)
    assert outcome.report is not None
    return Printed(edition, outcome.report, plan_sheet(paper_options(edition), outcome.pages), lessons, course)


def systems_in_order(report: BookReport) -> list[Shown]:
    """Every system of the weeks with its exercise: the one whose heading was placed last."""
    shown: list[Shown] = []
    exercise, place = "", 0
    for placed in report.placed:
        if placed.kind == "heading":
            exercise, place = placed.name, 0
        elif placed.kind == "system" and report.pages[placed.page].part.startswith("week"):
            shown.append(Shown(exercise, place, placed.page, placed))
            place += 1
    return shown


def by_exercise(report: BookReport) -> dict[str, list[Shown]]:
    found: dict[str, list[Shown]] = {}
    for shown in systems_in_order(report):
        found.setdefault(shown.exercise, []).append(shown)
    return found


def exercises_of(printed: Printed) -> dict[str, Exercise]:
    return {exercise.number: exercise for lesson in printed.lessons for exercise in lesson.exercises}


def test_the_book_is_large_enough_to_prove_something(printed: Printed) -> None:
    assert len(printed.report.pages) >= 40
    assert len(exercises_of(printed)) >= 60


def test_every_exercise_is_printed_with_all_its_lines(printed: Printed) -> None:
    style = engraving_style(printed.course, printed.edition, len(printed.report.pages))
    shown = by_exercise(printed.report)
    assert shown.keys() == exercises_of(printed).keys()
    for number, exercise in exercises_of(printed).items():
        assert len(shown[number]) == len(break_lines(exercise.arrangement, style.width_in_staves)), number


def test_all_ink_lies_in_the_frame(printed: Printed) -> None:
    assert ink_outside(printed.report, printed.sheet) == []
    assert outside_frame(printed.report) == []


def test_no_two_blocks_overlap(printed: Printed) -> None:
    assert overlapping(printed.report) == []


def test_systems_fill_the_line_from_edge_to_edge(printed: Printed) -> None:
    for shown in systems_in_order(printed.report):
        frame = printed.sheet.frame(printed.report.pages[shown.page].right_hand)
        assert frame.x - printed.sheet.hang - 0.5 <= shown.placed.frame.x <= frame.x + 1, shown
        assert frame.right - 3 <= shown.placed.frame.right <= frame.right + 3, shown


def test_a_heading_is_followed_by_its_music_on_the_page(printed: Printed) -> None:
    blocks = [placed for placed in printed.report.placed if placed.kind in ("heading", "system")]
    for placed, following in pairwise(blocks):
        if placed.kind == "heading" and placed.name in exercises_of(printed):
            assert following.kind == "system", placed
            assert following.page == placed.page, placed


def test_no_single_system_is_left_alone(printed: Printed) -> None:
    """None has a page to itself, and none of three or more is parted from the others by a turn."""
    pages, shown_systems = printed.report.pages, systems_in_order(printed.report)
    kinds = {(placed.page, placed.kind) for placed in printed.report.placed}
    for number, systems in by_exercise(printed.report).items():
        places = [shown.page for shown in systems]
        for page in {page for page in places if places.count(page) == 1 and len(systems) > 1}:
            others = any(shown.page == page and shown.exercise != number for shown in shown_systems)
            assert others or (page, "heading") in kinds or (page, "log") in kinds, (number, pages[page].folio)
            facing = page - 1 if pages[page].right_hand else page + 1
            assert len(systems) < 3 or not printed.sheet.double_sided or facing in places, (number, pages[page].folio)


def test_turns_inside_an_exercise_fall_on_a_rest_or_a_phrase_end(printed: Printed) -> None:
    if not printed.sheet.double_sided:
        pytest.skip("the leaves of a single-sided book lie side by side")
    style = engraving_style(printed.course, printed.edition, len(printed.report.pages))
    for number, systems in by_exercise(printed.report).items():
        made = exercises_of(printed)[number].arrangement
        rows = break_lines(made, style.width_in_staves)
        for shown, following in pairwise(systems):
            if following.page == shown.page or not printed.report.pages[shown.page].right_hand:
                continue
            last = made.bars[rows[shown.place][-1]]
            silent = any(not event.pitches and event.end == last.end for voice in made.voices for event in voice.events)
            assert last.phrase_end or silent, (number, shown.page)


def test_an_exercise_that_fits_a_page_is_not_turned_without_need(printed: Printed) -> None:
    """A turn inside a short exercise is dearer than white space: there are few, all of them told by the report."""
    if printed.edition.paper not in ("A4", "Letter") or not printed.sheet.double_sided:
        pytest.skip("small pages")
    turned = set()
    for number, systems in by_exercise(printed.report).items():
        for shown, following in pairwise(systems):
            if following.page != shown.page and printed.report.pages[shown.page].right_hand:
                turned.add((number, printed.report.pages[shown.page].folio))
    told = {fault.split(":")[0].removeprefix("page ") for fault in printed.report.faults}
    assert {folio for _, folio in turned} <= told
    assert len(turned) <= 8


def test_weeks_begin_on_a_fresh_page(printed: Printed) -> None:
    for placed in printed.report.placed:
        if placed.kind == "header":
            top = min(other.frame.y for other in printed.report.placed if other.page == placed.page and
                      other.kind not in ("tab", "row", "buttons"))
            assert placed.frame.y == top


def test_sides_alternate_and_the_first_week_is_a_right_hand_page(printed: Printed) -> None:
    pages = printed.report.pages
    if not printed.sheet.double_sided:
        assert len({page.frame for page in pages}) == 1
        return
    assert [page.right_hand for page in pages] == [index % 2 == 0 for index in range(len(pages))]
    first = next(index for index, page in enumerate(pages) if page.part == "week 1")
    assert pages[first].right_hand
    assert pages[first].folio == "1"


def white_bands(printed: Printed) -> Iterator[tuple[int, float]]:
    """For each page of a week but its last: the largest white band of its text block, measured in the picture."""
    inner = [i for i, page in enumerate(printed.report.pages) if page.part.startswith("week") and not page.ends_chapter]
    for index, picture in zip(inner, draw_pages(printed.path, 1.0, inner), strict=True):
        frame = printed.sheet.frame(printed.report.pages[index].right_hand)
        grey = np.asarray(picture)[int(frame.y) : int(frame.bottom) + 1, int(frame.x) : int(frame.right)]
        inked = [0, *np.flatnonzero((grey < 160).any(axis=1)).tolist(), grey.shape[0]]
        yield index, max(np.diff(inked)) / frame.height


def test_no_page_of_a_week_but_its_last_is_too_empty(printed: Printed) -> None:
    noted = {placed.page for placed in printed.report.placed if placed.kind == "notes"}
    holes = {index: printed.report.pages[index].hole for index, _ in white_bands(printed)}
    assert max(holes.values()) <= EMPTIEST, holes
    # What stands in whole grid lines may itself end with white.
    rounded = max(0.05, 2 * printed.sheet.grid / printed.sheet.text_height)
    for index, band in white_bands(printed):
        # What the report says is what is seen; ruled lines for notes stand in the hole of a page too empty.
        assert band <= holes[index] + rounded or index in noted, (index, band)


def staff_heights(path: Path, page: int) -> list[float]:
    """Heights in millimetres of the staves of a page: five long level lines at even distances."""
    with pdfplumber.open(path) as pdf:
        shown = pdf.pages[page]
        long = [edge for edge in shown.edges if edge["orientation"] == "h" and edge["width"] > 0.6 * shown.width]
        heights = sorted({round((edge["top"] + edge["bottom"]) / 2, 1) for edge in long})
    found = []
    for start in range(len(heights) - 4):
        gaps = np.diff(heights[start : start + 5])
        if gaps.max() - gaps.min() < 0.25 and gaps.max() < 10:
            found.append((heights[start + 4] - heights[start]) / MM)
    return found


def test_the_staff_has_the_height_the_edition_asks_for(printed: Printed) -> None:
    page = next(shown.page for shown in systems_in_order(printed.report) if shown.exercise == "4.8")
    heights = staff_heights(printed.path, page)
    assert len(heights) >= 4
    for height in heights:
        assert height == pytest.approx(printed.edition.staff, abs=0.12)
        assert printed.edition.large_print or 7.0 - 0.05 <= height <= 8.5 + 0.05


def test_all_fonts_are_embedded_and_ours(printed: Printed) -> None:
    with pikepdf.open(printed.path) as pdf:
        fonts = [obj for obj in pdf.objects if isinstance(obj, pikepdf.Dictionary) and obj.get("/Type") == "/Font"]
        described = [font for font in fonts if font.get("/Subtype") != "/Type0"]
        assert described
        for font in described:
            assert any(f"/FontFile{kind}" in font.FontDescriptor for kind in ("", "2", "3")), font.get("/BaseFont")
            assert re.search(r"SourceSans3|SourceSerif4|Emmentaler|feta", str(font.BaseFont)), font.BaseFont


def test_the_file_holds_the_fonts_of_the_music_once(printed: Printed) -> None:
    """Every batch has fonts cut to what it needs; they are cut alike, but for braces, which come in many heights."""
    with pikepdf.open(printed.path) as pdf:
        fonts = [obj for obj in pdf.objects if isinstance(obj, pikepdf.Dictionary) and "/FontDescriptor" in obj]
        names = [(str(font.BaseFont), str(font.Subtype)) for font in fonts]
    music = [(name.partition("+")[2], kind) for name, kind in names if not name.startswith("/AAAAAA+")]
    assert len(music) > len(names) / 3
    assert {name for name, times in Counter(music).items() if times > 1} <= {("Emmentaler-Brace", "/CIDFontType0")}


def test_boxes_are_nested_and_have_the_paper_s_size(printed: Printed) -> None:
    with pikepdf.open(printed.path) as pdf:
        for page in pdf.pages:
            media, bleed, trim = (
                [float(edge) for edge in page.obj[name]] for name in ("/MediaBox", "/BleedBox", "/TrimBox")
            )
            for outer, inner in ((media, bleed), (bleed, trim)):
                assert outer[0] <= inner[0] < inner[2] <= outer[2]
                assert outer[1] <= inner[1] < inner[3] <= outer[3]
            size = (trim[2] - trim[0], trim[3] - trim[1])
            assert size == pytest.approx(SIZES[printed.edition.name], abs=0.2)


def plain(text: str) -> str:
    return re.sub(r"\W+", "", text).casefold()


def test_every_link_lands_on_the_page_that_is_printed_beside_it(printed: Printed) -> None:
    document = pypdfium2.PdfDocument(printed.path)
    texts: dict[int, str] = {}
    checked = 0
    with pikepdf.open(printed.path) as pdf:
        places = {page.obj.objgen: index for index, page in enumerate(pdf.pages)}
        for link in (link for page in pdf.pages for link in page.obj.get("/Annots", ())):
            assert link.get("/A") is None or not str(link.A.get("/URI", "")).startswith("textedit:")
            told = re.fullmatch(r"(.*), Page ([ivxl]+|\d+)", str(link.Contents))
            if told is None:
                continue
            landed = places[link.Dest[0].objgen]
            assert printed.report.pages[landed].folio == told[2]
            if landed not in texts:
                texts[landed] = plain(document[landed].get_textpage().get_text_range())
            assert plain(told[1]) in texts[landed]
            checked += 1
    assert checked >= len(exercises_of(printed)) + len(printed.lessons)


def rows_of_text(page: pypdfium2.PdfPage, height: float, top: float, bottom: float) -> list[str]:
    """The characters between two heights (from the page's top) in rows by their middle, each from left to right."""
    text, rows = page.get_textpage(), {}
    for index in range(text.count_chars()):
        left, low, right, high = text.get_charbox(index)
        middle = height - (low + high) / 2
        if top <= middle <= bottom and right > left:
            rows.setdefault(round(middle / 4), []).append((left, text.get_text_range(index, 1)))
    # A row may lie on the border of two groups: neighbours are read together as well.
    rows |= {key + 0.5: rows[key] + rows[key + 1] for key in list(rows) if key + 1 in rows}
    return ["".join(character for _, character in sorted(row)) for row in rows.values()]


def test_titles_and_counting_can_be_selected(printed: Printed) -> None:
    document, height = pypdfium2.PdfDocument(printed.path), SIZES[printed.edition.name][1]
    for number in ("1.3", "6.2", "9.5"):
        shown, exercise = by_exercise(printed.report)[number][0], exercises_of(printed)[number]
        page, box = document[shown.page], shown.placed.frame
        named = plain(f"{number} {exercise.spec.title or printed.course.words['en'][f'kind.{exercise.spec.kind}']}")
        assert named in plain(page.get_textpage().get_text_range())
        first = [c.text for c in exercise.arrangement.counts if c.onset < exercise.arrangement.bars[0].end]
        rows = rows_of_text(page, height, box.y, box.bottom)
        assert any(row.replace(" ", "").startswith("".join(first)) for row in rows), (number, first, rows)


def test_every_later_line_has_its_bar_number(printed: Printed) -> None:
    """MOLA 2017 (from memory): bar numbers at each system. One that begins with an upbeat has the bar it leads to."""
    document, height = pypdfium2.PdfDocument(printed.path), SIZES[printed.edition.name][1]
    style = engraving_style(printed.course, printed.edition, len(printed.report.pages))
    for name in ("2.4", "5.3"):
        made = exercises_of(printed)[name].arrangement
        rows = break_lines(made, style.width_in_staves)
        for shown in by_exercise(printed.report)[name][1:]:
            number = next(made.bars[index].number for index in rows[shown.place] if made.bars[index].number)
            box = shown.placed.frame
            found = rows_of_text(document[shown.page], height, box.y, box.bottom)
            assert any(row.strip().startswith(str(number)) for row in found), (name, number, found)


def test_the_file_is_clean_and_small(printed: Printed) -> None:
    with pikepdf.open(printed.path) as pdf:
        assert pdf.check_pdf_syntax() == []
    content = printed.path.read_bytes()
    assert b"textedit" not in content
    assert len(content) <= BYTES * len(exercises_of(printed))


def test_large_print_has_no_slanting_letters(printed: Printed) -> None:
    """UKAAF G003 (2019): no italics."""
    if not printed.edition.large_print:
        pytest.skip("not large print")
    with pikepdf.open(printed.path) as pdf:
        fonts = {str(o.BaseFont) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/BaseFont" in o}
    assert not [font for font in fonts if re.search(r"-(\w*It|Italic)$", font)]


def test_a_week_s_sheet_has_the_book_s_numbers(built: Outcome, drawings_cache: Path, tmp_path: Path) -> None:
    sheet = build(CONTENT, tmp_path / "week.pdf", shop_that_reports(drawings_cache), week=3).report
    assert sheet is not None
    assert built.report is not None
    pages = {i for i, page in enumerate(built.report.pages) if page.part == "week 3"}
    in_book = [placed.name for placed in built.report.placed if placed.kind == "heading" and placed.page in pages]
    assert [placed.name for placed in sheet.placed if placed.kind == "heading"] == in_book
    assert in_book[0] == "3.1"


@pytest.mark.parametrize(("name", "paper"), [
    ("tide-mill", "standard"), ("a-window-in-november", "standard"), ("felt-boots", "letter"),
    ("red-dust-road", "letter"),
])
def test_a_tune_s_sheet_fits_two_pages(course: Course, name: str, paper: str, tmp_path: Path,
                                       drawings_cache: Path) -> None:
    tune, edition = course.tunes[name], course.editions[paper]
    groove = rank_grooves(tune, course.grooves.values())[0].groove
    outcome = build_sheet(
        course, CONTENT, edition, tune, groove, tmp_path / "sheet.pdf", shop_that_reports(drawings_cache)
    )
    assert outcome.pages == 2
    assert outcome.report is not None
    assert not any(placed.kind == "tab" for placed in outcome.report.placed)
    headings = [placed for placed in outcome.report.placed if placed.kind == "heading"]
    assert len(headings) == 6, "every step is printed"
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(outcome.out))
    assert "Week" not in text
    assert tune.title in text
