"""The text faces: TrueType files of fonts/, loaded when first used, measured in points."""

from __future__ import annotations

import struct
import unicodedata
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from bookbuild.diagnostics import MachineError
from bookbuild.pages.opentype import LayoutTables

FILES = {
    "sans": "SourceSans3-Regular.ttf",
    "sans-semibold": "SourceSans3-Semibold.ttf",
    "sans-bold": "SourceSans3-Bold.ttf",
    "sans-italic": "SourceSans3-It.ttf",
    "serif": "SourceSerif4-Regular.ttf",
    "serif-semibold": "SourceSerif4-Semibold.ttf",
    "serif-bold": "SourceSerif4-Bold.ttf",
    "serif-italic": "SourceSerif4-It.ttf",
}
"""Face name -> file in the fonts folder."""

REPLACEMENT = "\N{WHITE SQUARE}"
_SPACES = {"\t": " ", "\n": " ", "\r": " ", "\v": " ", "\f": " ", "\u2028": " ", "\u2029": " "}


SMALL_CAPITALS = 0xE000
"""A small capital is kept under its letter's code plus this (private use), and given its letter back in the PDF."""


class Face:
    """One font file: widths of its characters with kerning, and their codes in a document."""

    def __init__(self, name: str, path: Path) -> None:
        self.name = name
        try:
            self.font = TTFont(f"bookbuild-{name}", str(path), asciiReadable=False, shapable=False)
            self._layout = LayoutTables(path.read_bytes())
        except (TTFError, OSError, struct.error) as error:
            hint = f"put the font files of {path.parent.name}/ back"
            raise MachineError(f"cannot use the font {path.name}: {error}", hint) from error
        self._widths: dict[int, float] = self.font.face.charWidths
        self._known: dict[int, int] = self.font.face.charToGlyph
        self._scale = 1000 / self.font.face.unitsPerEm
        self._measured: dict[str, float] = {}
        self._kerned: dict[tuple[str, str], float] = {}
        self._small: dict[int, int] | None = None

    def knows(self, character: str) -> bool:
        """Whether the font has a glyph for the character."""
        return ord(character) in self._known

    def width(self, text: str, size: float) -> float:
        """Advance of `text` in points at `size`, kerned."""
        if text not in self._measured:
            advances = sum(self._widths.get(ord(character), 500) for character in text)
            self._measured[text] = advances + sum(self.kern(*pair) for pair in pairwise(text))
        return self._measured[text] * size / 1000

    def kern(self, left: str, right: str) -> float:
        """What is added between two characters, in thousandths of the size."""
        pair = (left, right)
        if pair not in self._kerned:
            one, two = self._known.get(ord(left)), self._known.get(ord(right))
            known = one is not None and two is not None
            self._kerned[pair] = self._layout.kern(one, two) * self._scale if known else 0.0  # type: ignore[arg-type]
        return self._kerned[pair]

    def split_kerned(self, text: str) -> list[tuple[str, float]]:
        """The text in stretches without kerning, each with the kerning that follows it."""
        stretches, start = [], 0
        for place, (left, right) in enumerate(pairwise(text), 1):
            move = self.kern(left, right)
            if move:
                stretches.append((text[start:place], move))
                start = place
        return [*stretches, (text[start:], 0.0)]

    def small_capitals(self, text: str) -> str:
        """`text` with its small letters changed for the font's small capitals, where it has them."""
        if self._small is None:
            self._small = self._layout.small_capitals()
        changed = []
        for character in text:
            code = ord(character)
            glyph = self._small.get(self._known.get(code, -1)) if code < 0x800 else None
            if glyph is not None:
                self._known[SMALL_CAPITALS + code] = glyph
                self._widths[SMALL_CAPITALS + code] = self._layout.advance(glyph) * self._scale
                character = chr(SMALL_CAPITALS + code)
            changed.append(character)
        return "".join(changed)


class FontSet:
    """The faces of one build; `missing` gathers the characters no face could show."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.missing: set[str] = set()
        self._faces: dict[str, Face] = {}
        self._cleaned: dict[tuple[str, str, bool], str] = {}

    def face(self, name: str) -> Face:
        """The face of that name (a key of `FILES`); raises MachineError when its file is missing or broken."""
        if name not in self._faces:
            self._faces[name] = Face(name, self.folder / FILES[name])
        return self._faces[name]

    def clean(self, text: str, name: str, drawn: frozenset[str] = frozenset()) -> str:
        """`text` with controls dropped, spaces made plain, and characters the face lacks replaced by an empty square.

        Characters in `drawn` are kept: the caller draws them itself.
        """
        key = (text, name, bool(drawn))
        if key not in self._cleaned:
            self._cleaned[key] = "".join(self._clean(text, self.face(name), drawn))
        return self._cleaned[key]

    def _clean(self, text: str, face: Face, drawn: frozenset[str]) -> Iterator[str]:
        if text.isascii() and text.isprintable():
            yield text
            return
        for character in unicodedata.normalize("NFC", text):
            character = _SPACES.get(character, character)
            if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn"):
                continue
            if character not in drawn and not face.knows(character):
                self.missing.add(character)
                character = REPLACEMENT if face.knows(REPLACEMENT) else "?"
            yield character

    def register_initial(self) -> str:
        """Name of a registered face for the canvas to start with, so that no unembedded standard font is named."""
        font = self.face("sans").font
        pdfmetrics.registerFont(font)
        return str(font.fontName)
