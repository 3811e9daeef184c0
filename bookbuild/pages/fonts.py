"""The text faces: TrueType files of fonts/, loaded when first used, measured in points."""

from __future__ import annotations

import unicodedata
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from bookbuild.diagnostics import MachineError

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


class Face:
    """One font file: widths of its characters, and their codes in a document."""

    def __init__(self, name: str, path: Path) -> None:
        self.name = name
        try:
            self.font = TTFont(f"bookbuild-{name}", str(path), asciiReadable=False, shapable=False)
        except (TTFError, OSError) as error:
            raise MachineError(
                f"cannot use the font {path.name}: {error}", f"put the font files of {path.parent.name}/ back"
            ) from error
        self._widths: dict[int, float] = self.font.face.charWidths
        self._known: dict[int, int] = self.font.face.charToGlyph

    def knows(self, character: str) -> bool:
        """Whether the font has a glyph for the character."""
        return ord(character) in self._known

    def width(self, text: str, size: float) -> float:
        """Advance of `text` in points at `size`."""
        widths = self._widths
        return sum(widths.get(ord(character), 500) for character in text) * size / 1000


class FontSet:
    """The faces of one build; `missing` gathers the characters no face could show."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.missing: set[str] = set()
        self._faces: dict[str, Face] = {}

    def face(self, name: str) -> Face:
        """The face of that name (a key of `FILES`); raises MachineError when its file is missing or broken."""
        if name not in self._faces:
            self._faces[name] = Face(name, self.folder / FILES[name])
        return self._faces[name]

    def clean(self, text: str, name: str, drawn: frozenset[str] = frozenset()) -> str:
        """`text` with controls dropped, spaces made plain, and characters the face lacks replaced by an empty square.

        Characters in `drawn` are kept: the caller draws them itself.
        """
        face = self.face(name)
        kept = []
        for character in unicodedata.normalize("NFC", text):
            character = _SPACES.get(character, character)
            if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn"):
                continue
            if character not in drawn and not face.knows(character):
                self.missing.add(character)
                character = REPLACEMENT if face.knows(REPLACEMENT) else "?"
            kept.append(character)
        return "".join(kept)

    def register_initial(self) -> str:
        """Name of a registered face for the canvas to start with, so that no unembedded standard font is named."""
        font = self.face("sans").font
        pdfmetrics.registerFont(font)
        return str(font.fontName)
