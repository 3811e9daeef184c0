"""The output intent of a book for the print shop: one black ink on paper, as an ICC profile made here.

Layout: ICC.1:2001-04 (version 2.4 of the profile format), 6.1 header, 6.3.4.3 monochrome output profile, 6.5 tag types.
"""

from __future__ import annotations

import struct

import pikepdf
from pikepdf import Array, Dictionary, Name, String

CONDITION = "One black ink on paper"
RIGHTS = "Made with bookbuild; free to use."

GAMMA = 1.8
"""Lightness of a grey against the share of paper left white: about a dot gain of 20 % (common practice, no source)."""

_D50 = (0xF6D6, 0x10000, 0xD32D)
"""White of the profile connection space, X, Y, Z in 65536ths."""


def black_ink_profile() -> bytes:
    """A monochrome output profile: header, table of tags, tags; every tag begins on a multiple of four bytes."""
    tags = {
        b"desc": _describe(CONDITION),
        b"cprt": b"text\0\0\0\0" + RIGHTS.encode("ascii") + b"\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3I", *_D50),
        b"kTRC": b"curv\0\0\0\0" + struct.pack(">IH", 1, round(GAMMA * 256)),
    }
    start = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    return _header(start + len(body)) + table + body


def _header(size: int) -> bytes:
    """The 128 bytes at the beginning: size, version, class, colour space, date, white; all else is zero."""
    first = struct.pack(">I4xI4s4s4s6H4s", size, 0x02400000, b"prtr", b"GRAY", b"XYZ ", 2000, 1, 1, 0, 0, 0, b"acsp")
    return first + b"\0" * 28 + struct.pack(">3I", *_D50) + b"\0" * 48


def _describe(text: str) -> bytes:
    """A textDescriptionType: the text in ASCII, no Unicode, no script code."""
    coded = text.encode("ascii") + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(coded)) + coded + b"\0" * (8 + 3 + 67)


def add_output_intent(pdf: pikepdf.Pdf) -> None:
    """Say for which printing the file is meant (ISO 32000-1, 14.11.5)."""
    profile = pikepdf.Stream(pdf, black_ink_profile())
    profile.N = 1
    profile.Alternate = Name.DeviceGray
    pdf.Root.OutputIntents = Array([
        pdf.make_indirect(
            Dictionary(
                Type=Name.OutputIntent,
                S=Name.GTS_PDFX,
                OutputConditionIdentifier=String("Custom"),
                OutputCondition=String(CONDITION),
                Info=String(CONDITION),
                DestOutputProfile=pdf.make_indirect(profile),
            )
        )
    ])
