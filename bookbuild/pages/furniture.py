"""What stands on every page outside the text block: running heads, page numbers, week tabs."""

from __future__ import annotations

from bookbuild.pages.desk import Desk
from bookbuild.pages.ink import Pen
from bookbuild.pages.paper import MM, Frame, Sheet

TAB_WIDTH, TAB_HEIGHT = 5.6 * MM, 12.0 * MM
"""Size of a week's tab; it is at the outer edge, lower for each later week."""

TAB_AIR = 3.0
"""Points of black left and right of the number together."""

UNPRINTED = 4.5 * MM
"""Margin most office printers cannot reach (common practice); tabs stand inside it unless the edition has bleed."""


def draw_head(desk: Desk, pen: Pen, frame: Frame, right_hand: bool, left_text: str, right_text: str) -> None:
    """The running head: the book's title on left-hand pages, the week or section on right-hand pages."""
    style = desk.styles.running
    text = right_text if right_hand else left_text
    line, fitted = desk.setter.fit(text, style, frame.width * 0.8)
    with pen.artifact():
        pen.text(
            frame.right if right_hand else frame.x,
            frame.y - 1.15 * desk.grid,
            line,
            fitted,
            align="right" if right_hand else "left",
        )


def draw_folio(desk: Desk, pen: Pen, frame: Frame, right_hand: bool, folio: str) -> None:
    """The page number at the foot, outside."""
    line = desk.setter.line(folio, desk.styles.folio)
    baseline = frame.bottom + max(1.6 * desk.grid, 0.5 * desk.sheet.bottom)
    with pen.artifact():
        pen.text(
            frame.right if right_hand else frame.x,
            baseline,
            line,
            desk.styles.folio,
            align="right" if right_hand else "left",
        )


def tab_frame(sheet: Sheet, number: int, count: int, right_hand: bool, label: float = 0.0) -> Frame:
    """Where the tab of week `number` of `count` stands: stepped down the outer edge, wide enough for a `label`."""
    height = min(TAB_HEIGHT, sheet.text_height / max(1, count))
    step = (sheet.text_height - height) / max(1, count - 1)
    y = sheet.top + (number - 1) * step
    # Only in double-sided books is the outer edge ever the left one, where braces hang out.
    room = sheet.outer - (sheet.hang if sheet.double_sided else MM)
    width = min(max(TAB_WIDTH, label), room - 2.5 * MM)
    edge = -sheet.bleed if sheet.bleed else min(UNPRINTED, max(0.0, room - width - 0.5 * MM))
    reach = width + (sheet.bleed + UNPRINTED if sheet.bleed else 0.0)
    x = sheet.width - edge - reach if right_hand else edge
    return Frame(x, y, reach, height)


def draw_tab(desk: Desk, pen: Pen, number: int, count: int, right_hand: bool) -> None:
    """A black tab with the week's number in white."""
    style = desk.styles.tab
    frame = tab_frame(desk.sheet, number, count, right_hand, desk.setter.width(str(count), style) + TAB_AIR)
    line, fitted = desk.setter.fit(str(number), style, frame.width - TAB_AIR)
    middle = frame.x + frame.width / 2
    if desk.sheet.bleed:
        middle += (-1 if right_hand else 1) * desk.sheet.bleed / 2
    with pen.artifact():
        pen.box(frame, fill=0.0, radius=0.0 if desk.sheet.bleed else 1.5)
        pen.text(middle, frame.y + frame.height / 2 + 0.33 * fitted.size, line, fitted, gray=1.0, align="centre")
    pen.note_placed("tab", str(number), frame)
