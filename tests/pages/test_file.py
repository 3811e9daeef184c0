"""The file itself: one ink, tags, metadata, writing in one move, hostile text."""

from __future__ import annotations

import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from PIL import Image, ImageCms

from bookbuild.diagnostics import MachineError
from bookbuild.pages import write_pdf
from bookbuild.pages.book import BookReport, make_week
from bookbuild.pages.book import make_book as print_book
from bookbuild.pages.paper import PaperOptions, plan_sheet
from tests.pages.made_up import FONTS, make_book
from tests.pages.test_book import WHEN


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> BookReport:
    folder = tmp_path_factory.mktemp("file")
    book = make_book(folder, plan_sheet(PaperOptions()).text_width, 2)
    return print_book(book, PaperOptions(), folder / "book.pdf", created=WHEN, fonts=FONTS)


def streams(pdf: pikepdf.Pdf) -> list[bytes]:
    forms = [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"]
    return [page.obj.Contents.read_bytes() for page in pdf.pages] + [form.read_bytes() for form in forms]


def test_one_ink(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        for content in streams(pdf):
            assert not re.search(rb"(?m)[\d.] (rg|RG|k|K|cs|CS|sc|scn)\s", content)


def test_what_is_equal_is_held_once(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        forms = [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"]
        assert len({form.Resources.objgen for form in forms}) < len(forms)
        named = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"]
        programs = {o[key].objgen: o[key].read_raw_bytes() for o in named for key in o if "FontFile" in key}
        assert len(set(programs.values())) == len(programs)


def test_every_marked_content_has_an_owner(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        numbers = pdf.Root.StructTreeRoot.ParentTree.Nums
        parents = {int(numbers[k]): numbers[k + 1] for k in range(0, len(numbers), 2)}
        for page in pdf.pages:
            content = page.obj.Contents.read_bytes()
            used = [int(number) for number in re.findall(rb"/MCID (\d+)>> BDC", content)]
            assert used == list(range(len(used)))
            assert content.count(b"BDC") + content.count(b"BMC") == content.count(b"EMC")
            if used:
                assert len(parents[int(page.obj.StructParents)]) == len(used)
            for link in page.obj.get("/Annots", []):
                assert parents[int(link.StructParent)].S == "/Link"


def elements(node: pikepdf.Object) -> list[pikepdf.Object]:
    found = [node] if "/S" in node and node.get("/Type") == "/StructElem" else []
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else []:
        if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/StructElem":
            found += elements(kid)
    return found


def test_each_exercise_is_a_figure_with_an_alternate_text(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        found = elements(pdf.Root.StructTreeRoot.K[0])
        figures = [element for element in found if element.S == "/Figure"]
        assert all(str(figure.Alt) for figure in figures)
        music = [figure for figure in figures if str(figure.Alt).endswith("systems")]
        headings = [placed for placed in report.placed if placed.kind == "heading" and "." in placed.name]
        assert len(music) == len(headings) > 5
        assert bool(pdf.Root.MarkInfo.Marked)
        assert str(pdf.Root.Lang) == "en"


def test_headings_come_in_reading_order(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        kinds = [str(element.S) for element in elements(pdf.Root.StructTreeRoot.K[0])]
        assert kinds.index("/H1") < kinds.index("/TOC") < kinds.index("/Table")


def test_metadata_agree(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        assert str(pdf.docinfo["/Title"]) == "Two Hands, One Bellows"
        assert str(pdf.docinfo["/Author"]) == "Example Studio"
        assert str(pdf.docinfo["/CreationDate"]) == "D:20250301120000Z"
        assert pdf.docinfo["/Trapped"] == "/False"
        with pdf.open_metadata() as xmp:
            assert xmp["dc:title"] == "Two Hands, One Bellows"
            assert xmp["xmp:CreateDate"] == "2025-03-01T12:00:00Z"
            assert xmp["pdf:Trapped"] == "False"


def test_small_capitals_are_read_as_letters(report: BookReport) -> None:
    text = pypdfium2.PdfDocument(report.path)[4].get_textpage().get_text_bounded()
    assert "New this week" in text
    assert "Listen for" in text


HOSTILE = (
    "</para><b>&amp;&lt; \\(parenthesis) \\\\ ) ( ] [ TJ ET Q",
    '#(system "true") $HOME `id` %d {0} {{x}}',
    "\u202eright to left\u202c\u200b\ufeff zero\x00width\x1b[31m",
    "'; DROP TABLE weeks; -- \N{PILE OF POO}\N{GREEK SMALL LETTER OMEGA}",
    "/Artifact BMC EMC endstream endobj <</JS (x)>>",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_printed_as_it_is(tmp_path: Path, text: str) -> None:
    book = make_book(tmp_path, plan_sheet(PaperOptions()).text_width, 1)
    week = replace(book.weeks[0], title=text, aim=text, text=text, new=(text,), listen=(text,), link="")
    report = make_week(replace(book, title=text, weeks=(week,)), 1, PaperOptions(), tmp_path / "week.pdf",
                       created=WHEN, fonts=FONTS)  # fmt: skip
    with pikepdf.open(report.path) as pdf:
        assert not pdf.check_pdf_syntax()
        assert "/Names" not in pdf.Root
        assert "/OpenAction" not in pdf.Root
    found = pypdfium2.PdfDocument(report.path)[0].get_textpage().get_text_bounded()
    letters = [c for c in text if c.isascii() and c.isprintable() and not c.isspace() and c not in "*\\"]
    squeezed = re.sub(r"\s", "", found)
    assert re.sub(r"[^ -~]|\s|[*\\]", "", "".join(letters)) in re.sub(r"[^ -~]|[*\\]", "", squeezed)


def test_a_failed_write_leaves_the_earlier_book_whole(report: BookReport, tmp_path: Path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    book = make_book(report.path.parent, plan_sheet(PaperOptions()).text_width, 2)
    out = tmp_path / "book.pdf"
    out.write_bytes(b"the earlier book")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(MachineError, match="No space left"):
        print_book(book, PaperOptions(), out, created=WHEN, fonts=FONTS)
    assert out.read_bytes() == b"the earlier book"
    assert list(tmp_path.iterdir()) == [out]


def test_a_folder_in_the_way_is_one_clear_error(report: BookReport, tmp_path: Path) -> None:
    book = make_book(report.path.parent, plan_sheet(PaperOptions()).text_width, 2)
    (tmp_path / "book.pdf").mkdir()
    with pytest.raises(MachineError, match=r"cannot write '.*book\.pdf'"):
        print_book(book, PaperOptions(), tmp_path / "book.pdf", created=WHEN, fonts=FONTS)
    assert [path.name for path in tmp_path.iterdir()] == ["book.pdf"]


def test_missing_music_is_one_clear_error(tmp_path: Path) -> None:
    book = make_book(tmp_path, plan_sheet(PaperOptions()).text_width, 1)
    (tmp_path / "music-1-1.pdf").write_bytes(b"%PDF-1.7 cut")
    with pytest.raises(MachineError, match="drawn music"):
        print_book(book, PaperOptions(), tmp_path / "book.pdf", created=WHEN, fonts=FONTS)


@pytest.mark.parametrize(("hours", "pdf", "xmp"), [(0, "Z", "Z"), (2, "+02'00", "+02:00"), (-5, "-05'00", "-05:00")])
def test_time_zones_are_written_as_each_format_wants(hours: int, pdf: str, xmp: str) -> None:
    from datetime import datetime, timedelta, timezone

    moment = datetime(2025, 3, 1, tzinfo=timezone(timedelta(hours=hours)))
    assert write_pdf._offset(moment, "'") == pdf
    assert write_pdf._offset(moment, ":") == xmp


def test_a_file_for_the_print_shop_says_for_which_ink_and_has_nothing_over_its_pages(tmp_path: Path) -> None:
    options = PaperOptions(crop_marks=True, bleed=3.0)
    book = make_book(tmp_path, plan_sheet(options).text_width, 1)
    report = print_book(book, options, tmp_path / "shop.pdf", created=WHEN, fonts=FONTS)
    with pikepdf.open(report.path) as pdf:
        assert not any("/Annots" in page.obj for page in pdf.pages)
        assert not any(o.get("/S") == "/Link" for o in pdf.objects if isinstance(o, pikepdf.Dictionary))
        intent = pdf.Root.OutputIntents[0]
        assert intent.S == "/GTS_PDFX"
        assert pdf.docinfo["/Trapped"] == "/False"
        data = intent.DestOutputProfile.read_bytes()
    # Read by another library: littleCMS, through Pillow.
    profile = ImageCms.ImageCmsProfile(BytesIO(data))
    assert profile.profile.device_class == "prtr"
    assert profile.profile.xcolor_space.strip() == "GRAY"
    to_screen = ImageCms.buildTransform(profile, ImageCms.createProfile("sRGB"), "L", "RGB")
    greys = [Image.new("L", (1, 1), grey) for grey in (0, 128, 255)]
    shown = [ImageCms.applyTransform(grey, to_screen).getpixel((0, 0)) for grey in greys]
    assert shown[0] == (0, 0, 0)
    assert shown[2] == (255, 255, 255)
    assert 128 < shown[1][0] < 170


def test_other_files_have_links_and_no_output_intent(report: BookReport) -> None:
    with pikepdf.open(report.path) as pdf:
        assert "/OutputIntents" not in pdf.Root
        assert any("/Annots" in page.obj for page in pdf.pages)
