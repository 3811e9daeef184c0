"""Drawn pages made slim once, where they are drawn: one ink for greys, no more digits than a press can show."""

from __future__ import annotations

import re
from io import BytesIO

import pikepdf

_TO_SHORTEN = re.compile(
    rb"(?P<string>\((?:[^\\()]|\\.)*\))"
    rb"|(?<![\w.])(?P<gray>[\d.]+) (?P=gray) (?P=gray) (?P<side>rg|RG)(?=\s)"
    rb"|(?<![\w.])(?P<join>[012] j\s)"
    rb"|(?<![\w.])(?P<number>-?\d*\.\d{3,})(?![\w.])",
    re.DOTALL,
)
"""Strings, which are left alone; a grey written as three equal parts of red, green and blue, which printed with one ink
is DeviceGray; how lines are joined; a number finer than a hundredth of a point, which no press can show."""

ROUND_JOIN = b"1 j\n"
"""All corners are drawn round. The engraver says so at the first and leaves it said, also for the pages after: what a
page says of it, so its bytes, would depend on what was drawn before."""


def slim_pages(pdf: pikepdf.Pdf) -> bytes:
    """The file with the drawing of all its pages shortened, and no date; the same music gives the same bytes."""
    if "/Info" in pdf.trailer:
        del pdf.trailer["/Info"]
    for page in pdf.pages:
        page.contents_coalesce()
        page.Contents.write(ROUND_JOIN + shorten(page.Contents.read_bytes()))
    out = BytesIO()
    # A hundredth smaller for no time to speak of.
    pikepdf.settings.set_flate_compression_level(9)
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def shorten(content: bytes) -> bytes:
    """Drawing operators with one ink for greys and hundredths of a point, and no join; texts stay as they are."""
    # Most numbers come back again and again.
    known: dict[bytes, bytes] = {}

    def replace(found: re.Match[bytes]) -> bytes:
        text = found[0]
        short = known.get(text)
        if short is None:
            short = known[text] = _shorten(found)
        return short

    return _TO_SHORTEN.sub(replace, content)


def _shorten(found: re.Match[bytes]) -> bytes:
    if found["number"] is not None:
        return f"{float(found['number']):.2f}".rstrip("0").rstrip(".").encode()
    if found["gray"] is not None:
        return found["gray"] + (b" g" if found["side"] == b"rg" else b" G")
    if found["join"] is not None:
        return b""
    return found["string"]
