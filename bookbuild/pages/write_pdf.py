"""The last hand on the PDF: systems imported, links, outline, page labels, structure, metadata; written in one move."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from bookbuild.diagnostics import MachineError
from bookbuild.pages.impose import impose_booklet
from bookbuild.pages.links import add_links, add_outline, find_destination, page_edge, short
from bookbuild.pages.output_profile import add_output_intent
from bookbuild.pages.paper import Sheet
from bookbuild.pages.placing import import_systems, mend_unicode_maps
from bookbuild.pages.record import Record
from bookbuild.pages.tags import add_structure
from bookbuild.writing import write_atomically


@dataclass(frozen=True)
class Metadata:
    """What the file says of itself; the first `roman_pages` pages are numbered i, ii, iii."""

    title: str
    author: str
    subject: str
    language: str
    created: datetime
    roman_pages: int = 0


def write_pdf(drawn: bytes, record: Record, sheet: Sheet, meta: Metadata, out: Path) -> None:
    """Finish the drawn pages and put the file in place; an earlier file stays whole until the new one is complete.

    Raises MachineError when the file cannot be written or a system's file cannot be read.
    """
    with pikepdf.open(BytesIO(drawn)) as pdf:
        mend_unicode_maps(pdf)
        import_systems(pdf, record)
        add_boxes(pdf, sheet)
        if sheet.booklet:
            add_outline(pdf, record, impose_booklet(pdf, record, sheet))
        else:
            add_structure(pdf, record, add_links(pdf, record, sheet))
            add_outline(pdf, record, find_destination(pdf, record, sheet))
            add_labels(pdf, meta.roman_pages)
        if sheet.for_print_shop:
            add_output_intent(pdf)
        add_metadata(pdf, meta)
        save_in_one_move(pdf, out)


def add_boxes(pdf: pikepdf.Pdf, sheet: Sheet) -> None:
    """TrimBox inside BleedBox inside MediaBox on every page."""
    edge = page_edge(pdf, sheet)
    # All from the same rounded lengths, so that no box leaves the one round it by a hair.
    width, height, room, bleed = (short(length) for length in (sheet.width, sheet.height, edge, sheet.bleed))
    for page in pdf.pages:
        page.obj.MediaBox = Array([0, 0, short(width + 2 * room), short(height + 2 * room)])
        page.obj.TrimBox = Array([room, room, short(room + width), short(room + height)])
        left, right, top = short(room - bleed), short(room + width + bleed), short(room + height + bleed)
        page.obj.BleedBox = Array([left, left, right, top])


def add_labels(pdf: pikepdf.Pdf, roman_pages: int) -> None:
    """Page labels: i, ii, … for the front matter, then 1, 2, …"""
    front: list[object] = [0, Dictionary(S=Name.r, St=1)] if roman_pages else []
    numbers = Array([*front, roman_pages, Dictionary(S=Name.D, St=1)])
    pdf.Root.PageLabels = Dictionary(Nums=numbers)


def add_metadata(pdf: pikepdf.Pdf, meta: Metadata) -> None:
    """Title, author, dates, language and trapping, in the document information and as XMP."""
    pdf.Root.Lang = String(meta.language)
    pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    stamp = meta.created.strftime("D:%Y%m%d%H%M%S") + _offset(meta.created, "'")
    info = pdf.docinfo
    for key in list(info.keys()):
        del info[key]
    for key, value in (
        ("/Title", meta.title),
        ("/Author", meta.author),
        ("/Subject", meta.subject),
        ("/Creator", "bookbuild"),
    ):
        if value:
            info[key] = String(value)
    info["/CreationDate"] = info["/ModDate"] = String(stamp)
    info["/Trapped"] = Name("/False")
    iso = meta.created.strftime("%Y-%m-%dT%H:%M:%S") + _offset(meta.created, ":")
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as xmp:
        xmp["dc:title"] = meta.title
        if meta.author:
            xmp["dc:creator"] = [meta.author]
        if meta.subject:
            xmp["dc:description"] = meta.subject
        xmp["dc:language"] = {meta.language}
        xmp["xmp:CreateDate"] = xmp["xmp:ModifyDate"] = xmp["xmp:MetadataDate"] = iso
        xmp["xmp:CreatorTool"] = "bookbuild"
        xmp["pdf:Trapped"] = "False"


def _offset(moment: datetime, mark: str) -> str:
    """The zone of a moment as PDF (mark ') or XMP (mark :) writes it; a naive moment is taken as universal time."""
    offset = moment.utcoffset()
    if not offset:
        return "Z"
    minutes = int(offset.total_seconds() // 60)
    return f"{'+' if minutes >= 0 else '-'}{abs(minutes) // 60:02d}{mark}{abs(minutes) % 60:02d}"


def save_in_one_move(pdf: pikepdf.Pdf, out: Path) -> None:
    """Write beside `out`, then replace it; on failure the earlier file stays and nothing is left behind.

    Raises MachineError.
    """
    if "/ID" in pdf.trailer:
        # The drawing library's own depends on the environment; a new one is made of the content.
        del pdf.trailer["/ID"]
    # First to memory: the library ends the whole program when a disk is full under it.
    made = BytesIO()
    pikepdf.settings.set_flate_compression_level(9)
    pdf.save(
        made, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate, compress_streams=True
    )
    try:
        write_atomically(out, made.getvalue())
    except OSError as error:
        raise MachineError(
            f"cannot write '{out}': {error.strerror or error}", "check the folder, its rights and the free space"
        ) from error
