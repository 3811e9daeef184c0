"""Slim drawings: fewer digits and one ink, the same words and pages."""

from __future__ import annotations

from io import BytesIO

import pikepdf
from reportlab.pdfgen.canvas import Canvas

from bookbuild.engrave.slim import shorten, slim_pages


def test_drawing_is_shortened_but_not_its_texts() -> None:
    drawn = b"0.5 0.5 0.5 rg 12.531681 0 0 -12.531681 7 0.0049 Tm [(1.23456 \\) 0 0 0 rg)-7.1239(5.6789)]TJ 0 1 0 RG"
    kept = b"0.5 g 12.53 0 0 -12.53 7 0 Tm [(1.23456 \\) 0 0 0 rg)-7.12(5.6789)]TJ 0 1 0 RG"
    assert shorten(drawn) == kept


def test_slim_pages_keep_their_number_and_words_and_are_the_same_each_time() -> None:
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1)
    for word in ("one", "two"):
        canvas.setFillColorRGB(0.25, 0.25, 0.25)
        canvas.drawString(72.123456, 700.98765, word)
        canvas.showPage()
    canvas.save()
    with pikepdf.open(BytesIO(buffer.getvalue())) as first, pikepdf.open(BytesIO(buffer.getvalue())) as second:
        slim = slim_pages(first)
        assert slim == slim_pages(second)
    with pikepdf.open(BytesIO(slim)) as made:
        drawn = [page.Contents.read_bytes() for page in made.pages]
    assert [word in content for word, content in zip((b"(one)", b"(two)"), drawn, strict=True)] == [True, True]
    assert all(b"72.12 700.99" in content and b".25 g" in content and b"rg" not in content for content in drawn)
