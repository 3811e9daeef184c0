"""QR codes drawn as black squares."""

from __future__ import annotations

from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import Frame

QUIET = 4
"""Modules of white round a QR code that a reader needs (ISO/IEC 18004)."""


def qr_rows(text: str) -> list[list[bool]]:
    """The modules of the smallest QR code (error level M) that holds `text`; raises ValueError when it is too long."""
    data = text.encode()
    if len(data) > 2300:
        raise ValueError("an address of more than 2300 bytes does not fit a QR code")
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    count = code.getModuleCount()
    return [[bool(code.isDark(row, column)) for column in range(count)] for row in range(count)]


def draw_qr(pen: Pen, text: str, frame: Frame, alt: str) -> None:
    """Draw the code inside a square frame, its quiet zone included; runs of dark modules are single boxes."""
    rows = qr_rows(text)
    module = frame.width / (len(rows) + 2 * QUIET)
    with pen.tag("Figure", alt=alt):
        for y, row in enumerate(rows):
            x = 0
            while x < len(row):
                if not row[x]:
                    x += 1
                    continue
                end = next((k for k in range(x, len(row)) if not row[k]), len(row))
                pen.box(
                    Frame(frame.x + (x + QUIET) * module, frame.y + (y + QUIET) * module, (end - x) * module, module),
                    fill=0.0,
                )
                x = end
