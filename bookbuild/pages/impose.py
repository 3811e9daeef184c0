"""Two pages on a sheet, in the order of a booklet folded in the middle."""

from __future__ import annotations

import pikepdf
from pikepdf import Array, Dictionary, Name

from bookbuild.pages.links import ABOVE, Destination, short
from bookbuild.pages.paper import Sheet
from bookbuild.pages.record import Record


def order_booklet(pages: int) -> list[tuple[int, int]]:
    """Left and right page (from 1) of each side of each sheet, outermost sheet first, front before back.

    The count is filled up to a multiple of four; 0 stands for an empty page. Folded, the pages read 1, 2, 3, …
    """
    total = -(-pages // 4) * 4

    def real(page: int) -> int:
        return page if page <= pages else 0

    sides = []
    for sheet in range(total // 4):
        low, high = 2 * sheet + 1, total - 2 * sheet
        sides += [(real(high), low), (real(low + 1), real(high - 1))]
    return sides


def impose_booklet(pdf: pikepdf.Pdf, record: Record, sheet: Sheet) -> Destination:
    """Replace the pages by sheets of two, for printing on both sides; where target keys lead afterwards.

    The sheets are for the printer: they carry no links and no structure.
    """
    count = len(pdf.pages)
    forms = [pdf.make_indirect(page.as_form_xobject()) for page in pdf.pages]
    places: dict[int, tuple[pikepdf.Object, float]] = {}
    for left, right in order_booklet(count):
        page = pdf.add_blank_page(page_size=(2 * sheet.width, sheet.height)).obj
        resources, content = Dictionary(XObject=Dictionary()), []
        for number, x in ((left, 0.0), (right, sheet.width)):
            if number:
                resources.XObject[f"/Page{number}"] = forms[number - 1]
                content.append(f"q 1 0 0 1 {short(x)} 0 cm /Page{number} Do Q")
                places[number - 1] = (page, x)
        page.Resources = resources
        page.Contents = pdf.make_stream("\n".join(content).encode())
        page.TrimBox = page.BleedBox = Array([0, 0, short(2 * sheet.width), short(sheet.height)])
    del pdf.pages[:count]

    def destination(key: str) -> Array:
        index, y = record.targets[key]
        page, x = places[index]
        return Array([page, Name.XYZ, short(x), short(sheet.height - y + ABOVE), None])

    return destination
