"""ISBN, EAN-13 bars and QR codes against published numbers and an independent encoder."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics.barcode.eanbc import Ean13BarcodeWidget

from bookbuild.pages.barcodes import MODULE, bar_modules, check_digit, isbn_digits, write_isbn
from bookbuild.pages.paper import MM
from bookbuild.pages.qr import qr_rows


def modules_by_reportlab(digits: str) -> str:
    """The bars another encoder draws, read back as modules of one width."""
    widget = Ean13BarcodeWidget(value=digits[:12], quiet=0, humanReadable=0, barWidth=1)
    modules = ["0"] * 95
    for bar in widget.draw().contents[1:]:
        for place in range(round(bar.x), round(bar.x + bar.width)):
            modules[place] = "1"
    return "".join(modules)


def test_published_check_digits() -> None:
    # ISBN Users' Manual, the example 978-0-306-40615-7; 978-3-16-148410-0 is the standard's other example.
    assert check_digit("978030640615") == 7
    assert isbn_digits("978-3-16-148410-0") == "9783161484100"
    assert write_isbn("9783161484100") == "978 316148410 0"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("978-3-16-148410-1", "should be 0"),
        ("978-3-16-14841", "13 digits"),
        ("１２３４５６７８９０１２３", "13 digits"),
        ("4006381333931", "978 or 979"),
    ],
)
def test_wrong_isbns_are_refused_with_a_reason(text: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        isbn_digits(text)


@given(st.integers(0, 10**9 - 1))
def test_bars_are_what_another_encoder_draws(number: int) -> None:
    twelve = f"978{number:09d}"
    digits = twelve + str(check_digit(twelve))
    assert bar_modules(digits) == modules_by_reportlab(digits)


def test_a_module_is_a_third_of_a_millimetre() -> None:
    # GS1 General Specifications: X-dimension 0.330 mm at 100 %.
    assert pytest.approx(0.330) == MODULE / MM


@pytest.mark.parametrize(("length", "side"), [(14, 21), (15, 25), (26, 25), (27, 29), (42, 29), (43, 33)])
def test_qr_code_is_the_smallest_that_holds_the_address(length: int, side: int) -> None:
    # ISO/IEC 18004, byte mode, level M: versions 1, 2, 3 hold 14, 26, 42 bytes (from memory); side 17 + 4 x version.
    rows = qr_rows(("https://example.org/" + "a" * 99)[:length].lower())
    assert len(rows) == side
    finder = [[1] * 7, [1, 0, 0, 0, 0, 0, 1], *[[1, 0, 1, 1, 1, 0, 1]] * 3, [1, 0, 0, 0, 0, 0, 1], [1] * 7]
    for y, x in ((0, 0), (0, side - 7), (side - 7, 0)):
        assert [[int(rows[y + k][x + j]) for j in range(7)] for k in range(7)] == finder


def test_too_long_an_address_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        qr_rows("x" * 2301)
