"""Drawn pages made slim once, where they are drawn: one ink for greys, no more digits than a press can show."""

from __future__ import annotations

import re
from io import BytesIO

import pikepdf

_TO_SHORTEN = re.compile(
    rb"(?P<string>\((?:[^\\()]|\\.)*\)|<[0-9A-Fa-f\s]*>)"
    rb"|(?<![\w.])(?P<gray>[\d.]+) (?P=gray) (?P=gray) (?P<side>rg|RG)(?=\s)"
    rb"|(?<![\w.])(?P<number>-?\d*\.\d{3,})(?![\w.])",
    re.DOTALL,
)
"""Strings, which are left alone; a grey written as three equal parts of red, green and blue, which printed with one ink
is DeviceGray; a number finer than a hundredth of a point, which no press can show."""


def slim_pages(pdf: pikepdf.Pdf) -> bytes:
    """The file with the drawing of all its pages shortened; the same file gives the same bytes."""
    for page in pdf.pages:
        page.contents_coalesce()
        page.Contents.write(shorten(page.Contents.read_bytes()))
    out = BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def shorten(content: bytes) -> bytes:
    """Drawing operators with one ink for greys and hundredths of a point; texts stay as they are."""
    return _TO_SHORTEN.sub(_shorten, content)


def _shorten(found: re.Match[bytes]) -> bytes:
    if found["string"] is not None:
        return found["string"]
    if found["gray"] is not None:
        return found["gray"] + (b" g" if found["side"] == b"rg" else b" G")
    return f"{float(found['number']):.2f}".rstrip("0").rstrip(".").encode()
