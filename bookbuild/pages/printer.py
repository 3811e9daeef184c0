"""Draws composed pages one after another: furniture, strips, lines for notes in the holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from bookbuild.pages.desk import Desk, Strip
from bookbuild.pages.draw_notes import draw_notes, note_lines
from bookbuild.pages.furniture import draw_folio, draw_head, draw_tab
from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import Frame
from bookbuild.pages.pieces import Composition, PagePlan
from bookbuild.pages.record import Node
from bookbuild.pages.rules import EMPTIEST


@dataclass(frozen=True)
class PageReport:
    """A page as printed: its number, part ("front", "week 3", "back"), and whether a week or section ends on it.

    `hole` is the largest white strip the composition left, as a share of the text block's height; `blank` is what is
    left of it after lines for notes were put there.
    """

    folio: str
    part: str
    hole: float
    blank: float
    ends_chapter: bool
    right_hand: bool
    frame: Frame
    """Where all ink but the furniture lies."""


@dataclass(frozen=True)
class Part:
    """A run of pages that share a running head and a tab (0: none)."""

    name: str
    head: str
    tab: int
    strips: Sequence[Strip]
    furnished: bool = True
    node: Node = field(default_factory=lambda: Node("Sect"), compare=False)
    """Its element of the document's structure."""


class Printer:
    """Draws composed parts; `pages` reports them in order."""

    def __init__(self, desk: Desk, title: str, language: str, tabs: int) -> None:
        self.desk, self.title, self.tabs = desk, title, tabs
        self.pen = Pen(desk.sheet, desk.setter.fonts, language)
        self.pages: list[PageReport] = []

    def number(self, parts: Sequence[Part], composition: Composition, roman: bool) -> None:
        """Tell the desk on which printed page every target lies."""
        strips = [strip for part in parts for strip in part.strips]
        for place, page in enumerate(composition.pages, 1):
            for strip in strips[page.first : page.last]:
                for key in strip.keys:
                    self.desk.folios[key] = write_folio(place, roman)

    def draw(self, parts: Sequence[Part], composition: Composition, roman: bool) -> None:
        """Draw all pages of a numbering."""
        owners = [part for part in parts for _ in part.strips]
        strips = [strip for part in parts for strip in part.strips]
        for place, page in enumerate(composition.pages, 1):
            part, folio = owners[page.first], write_folio(place, roman)
            self.pen.start_page()
            if part.furnished:
                self._furnish(part, page, folio, strips[page.first].piece.fresh)
            with self.pen.within(part.node):
                self._draw_page(part, page, strips[page.first : page.last], folio)

    def _draw_page(self, part: Part, page: PagePlan, strips: Sequence[Strip], folio: str) -> None:
        frame = self.desk.sheet.frame(page.right_hand)
        top, bottom = page.hole
        share = max(0.0, bottom - top) / frame.height
        hole = Frame(frame.x, frame.y + top, frame.width, bottom - top)
        wanted = part.tab > 0 and (page.ends_chapter or share > EMPTIEST)
        notes = wanted and note_lines(self.desk, hole.height) > 0
        drawn = False
        for strip, y in zip(strips, page.tops, strict=True):
            if notes and not drawn and y >= bottom - 1e-6:
                draw_notes(self.desk, self.pen, hole)
                drawn = True
            self._draw_strip(strip, frame, y)
        if notes and not drawn:
            draw_notes(self.desk, self.pen, hole)
        ink = self.desk.sheet.ink_frame(page.right_hand)
        blank = 0.0 if notes else share
        self.pages.append(PageReport(folio, part.name, share, blank, page.ends_chapter, page.right_hand, ink))

    def _draw_strip(self, strip: Strip, frame: Frame, top: float) -> None:
        strip.draw(self.pen, frame.x, frame.y + top)
        if strip.kind != "system":
            self.pen.note_placed(strip.kind, strip.name, Frame(frame.x, frame.y + top, frame.width, strip.piece.height))

    def _furnish(self, part: Part, page: PagePlan, folio: str, fresh: bool) -> None:
        """Running head (not over a title), page number, tab."""
        frame = self.desk.sheet.frame(page.right_hand)
        if not fresh:
            draw_head(self.desk, self.pen, frame, page.right_hand, self.title, part.head)
        draw_folio(self.desk, self.pen, frame, page.right_hand, folio)
        if part.tab:
            draw_tab(self.desk, self.pen, part.tab, self.tabs, page.right_hand)


_ROMAN = (
    *((1000, "m"), (900, "cm"), (500, "d"), (400, "cd"), (100, "c"), (90, "xc"), (50, "l"), (40, "xl")),
    *((10, "x"), (9, "ix"), (5, "v"), (4, "iv"), (1, "i")),
)


def write_folio(number: int, roman: bool) -> str:
    """A page number in figures, or as a small roman numeral."""
    if not roman:
        return str(number)
    text = ""
    for value, sign in _ROMAN:
        while number >= value:
            text, number = text + sign, number - value
    return text
