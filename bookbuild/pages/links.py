"""Links, their targets, and the outline."""

from __future__ import annotations

from collections.abc import Callable

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from bookbuild.pages.paper import Frame, Sheet
from bookbuild.pages.record import Record

Destination = Callable[[str], Array]
"""Where a target key leads."""

ABOVE = 6.0
"""Points a reader sees over a link's target."""


def short(value: float) -> float:
    """A length as short as its thousandths allow."""
    return round(value, 3)


def page_edge(pdf: pikepdf.Pdf, sheet: Sheet) -> float:
    """Room round the trimmed page for bleed and crop marks."""
    return (float(pdf.pages[0].mediabox[2]) - sheet.width) / 2


def find_destination(pdf: pikepdf.Pdf, record: Record, sheet: Sheet) -> Destination:
    """How target keys lead to pages laid out one by one."""
    edge = page_edge(pdf, sheet)

    def destination(key: str) -> Array:
        page, y = record.targets[key]
        return Array([pdf.pages[page].obj, Name.XYZ, 0, short(edge + sheet.height - y + ABOVE), None])

    return destination


def add_links(pdf: pikepdf.Pdf, record: Record, sheet: Sheet) -> dict[int, pikepdf.Object]:
    """Links to targets and web addresses; the annotations by their place in the record."""
    made: dict[int, pikepdf.Object] = {}
    edge, destination = page_edge(pdf, sheet), find_destination(pdf, record, sheet)
    for place, (page, frame, key, label) in enumerate(record.links):
        annotation = Dictionary(
            Type=Name.Annot, Subtype=Name.Link, Border=[0, 0, 0], F=4, Rect=_rectangle(frame, sheet, edge)
        )
        if key in record.targets:
            annotation.Dest = destination(key)
        else:
            annotation.A = Dictionary(S=Name.URI, URI=String(key))
        owner = pdf.pages[page].obj
        if "/Annots" not in owner:
            owner.Annots = Array()
        annotation.Contents = String(label)
        made[place] = pdf.make_indirect(annotation)
        owner.Annots.append(made[place])
        owner.Tabs = Name.S
    return made


def add_outline(pdf: pikepdf.Pdf, record: Record, destination: Destination) -> None:
    """The outline: weeks with their exercises folded in."""
    with pdf.open_outline() as outline:
        levels = [outline.root]
        for level, title, key in record.outline:
            item = pikepdf.OutlineItem(title, destination(key))
            levels[level + 1 :] = [item.children]
            levels[level].append(item)
            item.is_closed = True


def _rectangle(frame: Frame, sheet: Sheet, edge: float) -> Array:
    return Array(
        [
            short(edge + frame.x),
            short(edge + sheet.height - frame.bottom),
            short(edge + frame.right),
            short(edge + sheet.height - frame.y),
        ]
    )
