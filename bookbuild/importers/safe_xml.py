"""XML and zipped XML from strangers: no entities, no outside files, bounded size, depth and time."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from bookbuild.importers.written import ImportFault

MOST_BYTES = 8_000_000
"""Bytes of one XML text, unpacked."""
MOST_ELEMENTS = 600_000
DEEPEST = 60
MOST_ENTRIES = 200
"""Files in a zip archive."""
STEEPEST = 200
"""Unpacked bytes for one packed byte; scores reach about 40."""

REMEDY = "Open it in the program it comes from and export it again as MusicXML."


class _Bounds:
    """Feeds a TreeBuilder and refuses what a score never needs."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.tree = TreeBuilder()
        self.depth = self.count = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.depth > DEEPEST:
            raise ImportFault(f"{self.file}: XML elements lie {self.depth} deep inside each other", REMEDY)
        if self.count > MOST_ELEMENTS:
            raise ImportFault(f"{self.file}: has more than {MOST_ELEMENTS} XML elements",
                              "Export only the melody part.")
        self.tree.start(name, attributes)

    def end(self, name: str) -> None:
        self.depth -= 1
        self.tree.end(name)

    def refuse_entity(self, *_: object) -> None:
        raise ImportFault(f"{self.file}: declares XML entities, which no score needs", REMEDY)


def parse_xml(data: bytes, file: str) -> Element:
    """The root element of an XML text. Raises ImportFault with line and column where it is not well formed."""
    if len(data) > MOST_BYTES:
        raise ImportFault(f"{file}: holds {len(data) / 1e6:.1f} MB of XML; {MOST_BYTES / 1e6:.0f} MB are read",
                          "Export only the melody part.")
    bounds = _Bounds(file)
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = bounds.start
    parser.EndElementHandler = bounds.end
    parser.CharacterDataHandler = bounds.tree.data
    parser.EntityDeclHandler = bounds.refuse_entity
    try:
        parser.Parse(data, True)
        return bounds.tree.close()
    except expat.ExpatError as error:
        reason = expat.errors.messages.get(error.code, "not well formed")
        raise ImportFault(f"{file}:{error.lineno}:{error.offset + 1}: is damaged XML: {reason}", REMEDY) from error
    except (LookupError, ValueError, AssertionError) as error:
        raise ImportFault(f"{file}: is in an encoding that cannot be read", REMEDY) from error


def unpack_score(data: bytes, file: str) -> bytes:
    """The score inside a compressed MusicXML archive, found through META-INF/container.xml. Raises ImportFault."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            if len(entries) > MOST_ENTRIES:
                raise ImportFault(f"{file}: the archive holds {len(entries)} files", REMEDY)
            return _read_entry(archive, _find_score(archive, file), file)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, KeyError, OSError,
            ValueError, struct.error) as error:
        raise ImportFault(f"{file}: is a damaged or locked archive", REMEDY) from error


def _find_score(archive: zipfile.ZipFile, file: str) -> str:
    names = archive.namelist()
    if "META-INF/container.xml" in names:
        container = parse_xml(_read_entry(archive, "META-INF/container.xml", file), file)
        for element in container.iter():
            if element.tag.rpartition("}")[2] == "rootfile" and element.get("full-path") in names:
                return str(element.get("full-path"))
    scores = [name for name in names
              if name.lower().endswith((".xml", ".musicxml")) and not name.startswith("META-INF")]
    if not scores:
        raise ImportFault(f"{file}: the archive holds no score", REMEDY)
    return scores[0]


def _read_entry(archive: zipfile.ZipFile, name: str, file: str) -> bytes:
    entry = archive.getinfo(name)
    if entry.file_size > MOST_BYTES or entry.file_size > STEEPEST * max(entry.compress_size, 1000):
        raise ImportFault(f"{file}: unpacks to {entry.file_size / 1e6:.1f} MB, which no tune needs", REMEDY)
    with archive.open(name) as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ImportFault(f"{file}: unpacks to more than {MOST_BYTES / 1e6:.0f} MB", REMEDY)
    return data
