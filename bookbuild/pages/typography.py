"""Setting text: styles on a baseline grid, and paragraphs broken into even ragged lines."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bookbuild.pages.fonts import FontSet
from bookbuild.pages.glyphs import IN_TEXT, SIGNS
from bookbuild.pages.paper import Sheet

BASELINE = 0.72
"""Where a line's baseline lies, as a share of the grid step below the line's upper edge."""

CAPITALS = 0.66
"""Height of capitals and figures as a share of the size (both families)."""


@dataclass(frozen=True)
class Style:
    """How a text is printed: faces for plain, emphasised and strong words, size in points, grid steps a line."""

    face: str
    size: float
    lines: int = 1
    emphasis: str = ""
    strong: str = ""
    gray: float = 0.0
    tracking: float = 0.0
    """Extra space after each letter, in points."""
    small_capitals: bool = False
    """Small letters are printed as small capitals."""

    def face_of(self, weight: str) -> str:
        """The face for a weight: '' plain, 'em' or 'strong'."""
        return {"em": self.emphasis, "strong": self.strong}.get(weight, "") or self.face


@dataclass(frozen=True)
class Chunk:
    """A stretch of a line in one face, `x` points from the line's left."""

    x: float
    text: str
    face: str
    sign: bool = False


@dataclass(frozen=True)
class Line:
    """A set line of text and its width in points."""

    chunks: tuple[Chunk, ...]
    width: float


@dataclass(frozen=True)
class Styles:
    """The styles of a book; sizes grow from the sheet's text size."""

    cover: Style
    cover_sub: Style
    numeral: Style
    title: Style
    section: Style
    heading: Style
    number: Style
    body: Style
    aim: Style
    label: Style
    small: Style
    note: Style
    folio: Style
    running: Style
    tab: Style
    figure: Style


def choose_styles(sheet: Sheet) -> Styles:
    """The styles for a sheet; large print has no serif, no italics, and nothing below its text size (UKAAF G003)."""
    size = sheet.text_size
    least = size if sheet.large_print else 0.0
    small_sheet = min(1.0, sheet.text_width / 480)

    def step(factor: float) -> float:
        scaled = size * factor * (small_sheet if factor > 1.3 else 1.0)
        return max(least, round(min(scaled, factor * 15) if sheet.large_print and factor > 1.3 else scaled, 2))

    serif = Style("serif", step(1.0), emphasis="serif-italic", strong="serif-semibold")
    sans = Style("sans", step(0.9), emphasis="sans-italic", strong="sans-semibold")
    if sheet.large_print:
        serif = sans = Style("sans", step(1.0), emphasis="sans-semibold", strong="sans-bold")
    bold, semibold = Style("sans-bold", size), Style("sans-semibold", size)
    return Styles(
        cover=replace(bold, size=step(3.8), lines=4),
        cover_sub=replace(sans, size=step(1.5), lines=2),
        numeral=replace(bold, size=step(5.2), lines=4),
        title=replace(bold, size=step(2.3), lines=2),
        section=replace(bold, size=step(2.3), lines=2),
        heading=replace(semibold, size=step(1.24)),
        number=replace(bold, size=step(1.24)),
        body=serif,
        aim=replace(serif, face=serif.emphasis if not sheet.large_print else serif.face, size=step(1.06)),
        label=semibold if sheet.large_print else replace(semibold, size=step(0.98), tracking=0.6, small_capitals=True),
        small=replace(sans, size=step(0.86)),
        note=replace(sans, size=step(0.86)),
        folio=replace(semibold, size=step(0.95)),
        running=sans if sheet.large_print else replace(sans, size=step(0.92), tracking=0.4, small_capitals=True),
        tab=replace(bold, size=max(10.0, round(size * 1.05, 2))),
        figure=replace(semibold, size=step(0.95)),
    )


def split_markup(text: str) -> list[tuple[str, str]]:
    """Split `text` into (piece, weight): `*em*`, `**strong**`; unpaired asterisks stay, `\\*` is an asterisk."""
    parts: list[tuple[str, str]] = []
    plain, place = "", 0
    while place < len(text):
        if text[place] == "\\" and place + 1 < len(text) and text[place + 1] in "*\\":
            plain, place = plain + text[place + 1], place + 2
            continue
        mark = "**" if text.startswith("**", place) else "*" if text[place] == "*" else ""
        close = text.find(mark, place + len(mark) + 1) if mark else -1
        inner = text[place + len(mark) : close] if close > 0 else ""
        if inner and not inner[0].isspace() and not inner[-1].isspace() and "*" not in inner:
            parts += [(plain, ""), (inner, "strong" if mark == "**" else "em")]
            plain, place = "", close + len(mark)
        else:
            plain, place = plain + (mark or text[place]), place + len(mark or " ")
    return [part for part in [*parts, (plain, "")] if part[0]]


class TypeSetter:
    """Breaks text into lines of a given measure with the faces of one build."""

    def __init__(self, fonts: FontSet) -> None:
        self.fonts = fonts
        self._paragraphs: dict[tuple[str, Style, float, bool], tuple[Line, ...]] = {}

    def width(self, text: str, style: Style, weight: str = "") -> float:
        """Width in points of a plain text, signs included."""
        return sum(self._width_of(piece, face, style) for piece, face, _ in self._pieces(text, style, weight))

    def line(self, text: str, style: Style) -> Line:
        """One line without markup, as long as it needs to be."""
        return self._join([(text, "")], style)

    def fit(self, text: str, style: Style, width: float, smallest: float = 0.7) -> tuple[Line, Style]:
        """One line made smaller, down to `smallest` of its size, until it fits `width`; beyond that it is cut with …"""
        natural = self.line(text, style)
        if natural.width <= width:
            return natural, style
        style = replace(style, size=round(style.size * max(smallest, width / natural.width * 0.998), 2))
        while self.line(text, style).width > width and len(text) > 1:
            text = text.rstrip("…")[:-1].rstrip() + "…"
        return self.line(text, style), style

    def paragraph(self, text: str, style: Style, width: float, markup: bool = True) -> tuple[Line, ...]:
        """`text` in lines no wider than `width`, broken where the ragged edge is most even; () for blank text.

        Kept: a book is laid out in two ways and the better one taken, with the same paragraphs.
        """
        key = (text, style, width, markup)
        if key not in self._paragraphs:
            self._paragraphs[key] = self._break(text, style, width, markup)
        return self._paragraphs[key]

    def _break(self, text: str, style: Style, width: float, markup: bool) -> tuple[Line, ...]:
        words = self._words(split_markup(text) if markup else [(text, "")], style, width)
        if not words:
            return ()
        widths = [self._join(word, style).width for word in words]
        breaks = break_evenly(widths, self.width(" ", style), width)
        return tuple(self._join(_with_spaces(words[first:last]), style) for first, last in breaks)

    def _words(self, parts: list[tuple[str, str]], style: Style, width: float) -> list[list[tuple[str, str]]]:
        """Words as lists of (text, weight); a word wider than the measure is cut into pieces that fit."""
        words: list[list[tuple[str, str]]] = []
        open_word = False
        for text, weight in parts:
            text = self.fonts.clean(text, style.face_of(weight), IN_TEXT)
            for sign in ("·", "–", "—"):
                # No line begins with a sign that parts two phrases.
                text = text.replace(f" {sign} ", f"\N{NO-BREAK SPACE}{sign} ")
            for index, bit in enumerate(text.split(" ")):
                if index:
                    open_word = False
                for piece in self._cut(bit, style, weight, width):
                    if open_word:
                        words[-1].append((piece, weight))
                    else:
                        words.append([(piece, weight)])
                    open_word = piece == bit
        return words

    def _cut(self, word: str, style: Style, weight: str, width: float) -> list[str]:
        """The word, in pieces no wider than `width`; [] when empty."""
        if self.width(word, style, weight) <= width:
            return [word] if word else []
        pieces, start = [], 0
        for end in range(1, len(word) + 1):
            if end - start > 1 and self.width(word[start:end], style, weight) > width:
                pieces.append(word[start : end - 1])
                start = end - 1
        return [*pieces, word[start:]]

    def _join(self, parts: list[tuple[str, str]], style: Style) -> Line:
        chunks, x = [], 0.0
        for text, weight in parts:
            for piece, face, sign in self._pieces(text, style, weight):
                chunks.append(Chunk(x, piece, face, sign))
                x += self._width_of(piece, face, style)
        return Line(tuple(chunks), x)

    def _pieces(self, text: str, style: Style, weight: str) -> list[tuple[str, str, bool]]:
        """(piece, face, is a drawn sign) in order."""
        face = style.face_of(weight)
        pieces: list[tuple[str, str, bool]] = []
        cleaned = self.fonts.clean(text, face, IN_TEXT)
        if style.small_capitals:
            cleaned = self.fonts.face(face).small_capitals(cleaned)
        if cleaned and IN_TEXT.isdisjoint(cleaned):
            return [(cleaned, face, False)]
        for character in cleaned:
            sign = character in IN_TEXT and not self.fonts.face(face).knows(character)
            if pieces and not sign and not pieces[-1][2]:
                pieces[-1] = (pieces[-1][0] + character, face, False)
            else:
                pieces.append((character, face, sign))
        return pieces

    def _width_of(self, piece: str, face: str, style: Style) -> float:
        if piece in SIGNS and piece in IN_TEXT and not self.fonts.face(face).knows(piece):
            return SIGNS[piece][1] * style.size
        return self.fonts.face(face).width(piece, style.size) + style.tracking * len(piece)


def _with_spaces(words: list[list[tuple[str, str]]]) -> list[tuple[str, str]]:
    """The words of a line with a space between them, in the weight of the word before."""
    parts: list[tuple[str, str]] = []
    for index, word in enumerate(words):
        for place, (text, weight) in enumerate(word):
            lead = " " if index and not place else ""
            if parts and parts[-1][1] == weight:
                parts[-1] = (parts[-1][0] + lead + text, weight)
            else:
                if lead and parts:
                    parts[-1] = (parts[-1][0] + lead, parts[-1][1])
                parts.append((text, weight))
    return parts


def break_evenly(widths: list[float], space: float, measure: float) -> list[tuple[int, int]]:
    """Break words of the given widths into lines: (first, last + 1) of each, least sum of squared space left over.

    The last line may be short, but one word alone on it costs as much as a line a third empty.
    """
    count = len(widths)
    best: list[tuple[float, int]] = [(0.0, 0)] * (count + 1)
    for first in range(count - 1, -1, -1):
        length, options = -space, []
        for last in range(first + 1, count + 1):
            length += space + widths[last - 1]
            if length > measure and last > first + 1:
                break
            ragged = 0.0 if last == count else ((measure - length) / measure) ** 2
            widow = 0.11 if last == count and last == first + 1 and first else 0.0
            options.append((0.0001 + ragged + widow + best[last][0], last))
        best[first] = min(options)
    breaks, first = [], 0
    while first < count:
        breaks.append((first, best[first][1]))
        first = best[first][1]
    return breaks
