"""The last hand on the PDF: systems imported, links, outline, page labels, structure, metadata; written in one move."""

from __future__ import annotations

import os
import re
import tempfile
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from bookbuild.diagnostics import MachineError
from bookbuild.pages.fonts import SMALL_CAPITALS
from bookbuild.pages.ink import PAD, Record
from bookbuild.pages.model import System
from bookbuild.pages.paper import Frame, Sheet
from bookbuild.pages.tags import add_structure


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
        import_systems(pdf, record)
        mend_unicode_maps(pdf)
        links = add_links(pdf, record, sheet)
        add_structure(pdf, record, links)
        add_boxes(pdf, sheet)
        add_labels(pdf, meta.roman_pages)
        add_metadata(pdf, meta)
        save_in_one_move(pdf, out)


_EQUAL_RGB = re.compile(rb"(?<![\w.<(])([\d.]+) \1 \1 (rg|RG)(?=\s)")
"""A grey written as three equal parts of red, green and blue; printed with one ink it is DeviceGray."""


def import_systems(pdf: pikepdf.Pdf, record: Record) -> None:
    """Import every system's page as a form of our own name, and name it in the resources of the pages that use it."""
    forms = {}
    for path in sorted({system.pdf for system in record.systems.values()}):
        try:
            with pikepdf.open(path) as source:
                for name, system in record.systems.items():
                    if system.pdf == path:
                        forms[name] = _import_form(pdf, source, system)
        except (OSError, pikepdf.PdfError) as error:
            raise MachineError(
                f"cannot read the drawn music: {error}", "build again; the cache mends itself"
            ) from error
    for page, names in zip(pdf.pages, record.page_systems, strict=True):
        if names:
            resources = page.obj.Resources
            if "/XObject" not in resources:
                resources.XObject = Dictionary()
            for name in sorted(names):
                resources.XObject[f"/{name}"] = forms[name]


def _import_form(pdf: pikepdf.Pdf, source: pikepdf.Pdf, system: System) -> pikepdf.Object:
    """The page as a form whose origin is the staves' left end at the top of the ink, clipped to the ink."""
    page = source.pages[system.page_index]
    x0, _, _, y1 = (float(edge) for edge in page.mediabox)
    left, top = x0 + system.left, y1 - system.top
    form = pdf.copy_foreign(page.as_form_xobject())
    form.BBox = Array(
        [_short(left - PAD), _short(top - system.height - PAD), _short(left + system.width + PAD), _short(top + PAD)]
    )
    form.Matrix = Array([1, 0, 0, 1, _short(-(x0 + system.origin_x)), _short(-top)])
    form.write(_EQUAL_RGB.sub(lambda found: found[1] + (b" g" if found[2] == b"rg" else b" G"), form.read_bytes()))
    for key in ("/Group", "/LastModified", "/PieceInfo"):
        if key in form:
            del form[key]
    return form


def _short(value: float) -> float:
    return round(value, 3)


def mend_unicode_maps(pdf: pikepdf.Pdf) -> None:
    """Give small capitals the letters they stand for, so that text can be searched, and keep the maps' blocks short."""
    for font in pdf.objects:
        if isinstance(font, Dictionary) and font.get("/Type") == "/Font" and "/ToUnicode" in font:
            font.ToUnicode.write(_mend_unicode_map(font.ToUnicode.read_bytes().decode("latin-1")).encode("latin-1"))


def _mend_unicode_map(text: str) -> str:
    """A ToUnicode map with letters for small capitals and at most 100 entries in a block (PDF 32000-1, 9.10.3)."""
    found = re.search(r"\d+ beginbfchar\n(.*)\nendbfchar", text, re.DOTALL)
    if found is None:
        return text
    lines = [_mend_code(*pair) for pair in re.findall(r"<([0-9A-F]+)> <([0-9A-F]+)>", found[1])]
    blocks = [lines[start : start + 100] for start in range(0, len(lines), 100)]
    mended = "\n".join(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks)
    return text[: found.start()] + mended + text[found.end() :]


def _mend_code(code: str, unicode_hex: str) -> str:
    point = int(unicode_hex, 16)
    if SMALL_CAPITALS <= point < SMALL_CAPITALS + 0x800:
        point -= SMALL_CAPITALS
    return f"<{code}> <{chr(point).encode('utf-16-be').hex().upper()}>"


def add_links(pdf: pikepdf.Pdf, record: Record, sheet: Sheet) -> dict[int, pikepdf.Object]:
    """Links to targets and web addresses, and the outline; the annotations by their place in the record."""
    made: dict[int, pikepdf.Object] = {}
    edge = (float(pdf.pages[0].mediabox[2]) - sheet.width) / 2

    def destination(key: str) -> Array:
        page, y = record.targets[key]
        return Array([pdf.pages[page].obj, Name.XYZ, 0, _short(edge + sheet.height - y + 6), None])

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
    _add_outline(pdf, record, destination)
    return made


def _add_outline(pdf: pikepdf.Pdf, record: Record, destination) -> None:  # type: ignore[no-untyped-def]
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
            _short(edge + frame.x),
            _short(edge + sheet.height - frame.bottom),
            _short(edge + frame.right),
            _short(edge + sheet.height - frame.y),
        ]
    )


def add_boxes(pdf: pikepdf.Pdf, sheet: Sheet) -> None:
    """TrimBox inside BleedBox inside MediaBox on every page."""
    for page in pdf.pages:
        edge = (float(page.mediabox[2]) - sheet.width) / 2
        trim = [edge, edge, edge + sheet.width, edge + sheet.height]
        bleed = [trim[0] - sheet.bleed, trim[1] - sheet.bleed, trim[2] + sheet.bleed, trim[3] + sheet.bleed]
        page.obj.TrimBox = Array([_short(value) for value in trim])
        page.obj.BleedBox = Array([_short(value) for value in bleed])


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
    """Write beside `out`, then replace it; on failure the earlier file stays and nothing is left behind."""
    temporary = None
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{out.name}.", suffix=".part", dir=out.parent)
        with os.fdopen(handle, "wb") as stream:
            pdf.save(
                stream,
                deterministic_id=True,
                object_stream_mode=pikepdf.ObjectStreamMode.generate,
                compress_streams=True,
            )
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, out)
    except OSError as error:
        raise MachineError(
            f"cannot write {out.name}: {error.strerror or error}", "check the folder, its rights and the free space"
        ) from error
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)


def _umask() -> int:
    """The permissions new files do not get; the system only tells by setting them."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
