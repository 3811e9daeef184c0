"""Drawn systems become forms of the book's own file; the text's character maps are mended."""

from __future__ import annotations

import re
from contextlib import ExitStack
from io import BytesIO
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Stream

from bookbuild.diagnostics import MachineError
from bookbuild.pages.fonts import SMALL_CAPITALS
from bookbuild.pages.ink import PAD
from bookbuild.pages.links import short
from bookbuild.pages.model import System
from bookbuild.pages.record import Record


def import_systems(pdf: pikepdf.Pdf, record: Record) -> None:
    """Import every system's page as a form of our own name, and name it in the resources of the pages that use it.

    Raises MachineError when a file of drawn music cannot be read.
    """
    shared = _Shared(pdf)
    with ExitStack() as stack:
        try:
            # By its bytes: the library does not take a path that is no text.
            sources = {
                path: stack.enter_context(pikepdf.open(BytesIO(path.read_bytes())))
                for path in dict.fromkeys(system.pdf for system in record.systems.values())
            }
            # In the order of the book: which file a system comes from must not show.
            forms = {
                name: _import_form(pdf, sources[system.pdf], system, shared)
                for name, system in record.systems.items()
            }
        except (OSError, IndexError, pikepdf.PdfError) as error:
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


class _Shared:
    """What several forms say alike and the file holds once: their resources, and the fonts in them."""

    def __init__(self, pdf: pikepdf.Pdf) -> None:
        self._pdf = pdf
        self._known: dict[bytes, pikepdf.Object] = {}
        self._shared: dict[tuple[int, int], pikepdf.Object] = {}

    def resources(self, resources: pikepdf.Object) -> pikepdf.Object:
        """The resources as an object of their own, the same for equal ones."""
        return self._share(self._pdf.make_indirect(self._share(resources)))

    def _share(self, thing: pikepdf.Object) -> pikepdf.Object:
        """The thing, or the first that says the same; what it refers to is shared before. Nothing here refers back."""
        number = thing.objgen
        if number in self._shared:
            return self._shared[number]
        parts: list[tuple[Any, pikepdf.Object]] = list(
            enumerate(thing) if isinstance(thing, Array) else thing.items()
        )
        for key, part in parts:
            if isinstance(part, (Dictionary, Stream, Array)):
                thing[key] = self._share(part)
        if not thing.is_indirect:
            return thing
        if isinstance(thing, Stream):
            said = thing.stream_dict.unparse() + thing.read_raw_bytes()
        else:
            said = thing.unparse(resolved=True)
        self._shared[number] = self._known.setdefault(said, thing)
        return self._shared[number]


def _import_form(pdf: pikepdf.Pdf, source: pikepdf.Pdf, system: System, shared: _Shared) -> pikepdf.Object:
    """The page as a form whose origin is the staves' left end at the top of the ink, clipped to the ink."""
    page = source.pages[system.page_index]
    x0, _, _, y1 = (float(edge) for edge in page.mediabox)
    left, top = x0 + system.left, y1 - system.top
    form = pdf.copy_foreign(page.as_form_xobject())
    form.BBox = Array(
        [short(left - PAD), short(top - system.height - PAD), short(left + system.width + PAD), short(top + PAD)]
    )
    form.Matrix = Array([1, 0, 0, 1, short(-(x0 + system.origin_x)), short(-top)])
    form.Resources = shared.resources(form.Resources)
    for key in ("/Group", "/LastModified", "/PieceInfo"):
        if key in form:
            del form[key]
    return form


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
