"""User text on its way into the engraver: nothing in it may run, nothing in it may break the input."""

from __future__ import annotations

import struct
import unicodedata
from functools import cache
from pathlib import Path

from reportlab.pdfbase.ttfonts import TTFError, TTFontFile

from bookbuild.diagnostics import MachineError

_DROPPED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
TEXT_FACES = ("SourceSans3-Regular.ttf", "SourceSans3-Bold.ttf")
"""The faces that syllables and words are engraved in."""
REPLACEMENT = "\N{WHITE SQUARE}"


@cache
def known_characters(fonts: Path) -> frozenset[str]:
    """The characters that every text face in the folder `fonts` has; raises MachineError when a face is unusable."""
    known: frozenset[str] | None = None
    for name in TEXT_FACES:
        try:
            codes = TTFontFile(str(fonts / name)).charToGlyph
        except (TTFError, OSError, struct.error) as error:
            hint = f"put the font files of {fonts.name}/ back"
            raise MachineError(f"cannot use the font {name}: {error}", hint) from error
        here = frozenset(map(chr, codes))
        known = here if known is None else known & here
    return known or frozenset()


def spell(text: str, known: frozenset[str]) -> str:
    """`text` in `known` characters alone: what no face has becomes an empty square, any space a plain one.

    The engraver would take another font of the machine, or give up where there is none.
    """
    spelled = []
    for sign in unicodedata.normalize("NFC", text):
        category = unicodedata.category(sign)
        if category not in _DROPPED:
            spelled.append(sign if sign in known else " " if category == "Zs" else REPLACEMENT)
    return "".join(spelled)


def quote(text: str) -> str:
    """A LilyPond string literal that prints `text` literally.

    Control, format, private and unassigned characters and line separators are dropped (U+2028 aborts the engraver);
    `\\` and `"` are escaped.
    """
    kept = "".join(ch for ch in text if unicodedata.category(ch) not in _DROPPED)
    return '"' + kept.replace("\\", "\\\\").replace('"', '\\"') + '"'


def moment(length: object) -> str:
    """A Fraction of a whole note as an engraver duration: `1*3/16`."""
    return f"1*{length}"
