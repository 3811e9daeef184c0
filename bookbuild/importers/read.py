"""The one door for files from outside: bounded reading, the format found by content, faults in one line."""

from __future__ import annotations

import codecs
import re
from dataclasses import replace
from pathlib import Path

from bookbuild.importers.abc import looks_like_abc, read_abc
from bookbuild.importers.midi import read_midi
from bookbuild.importers.musicxml import read_musicxml
from bookbuild.importers.safe_xml import parse_xml, unpack_score
from bookbuild.importers.written import ImportedTune, ImportFault

MOST_BYTES = 8_000_000
"""A file of tunes is smaller than that: a collection of a thousand ABC tunes has half a megabyte."""
MOST_NOTES = 100
"""Remarks on one tune that are kept."""
FORMATS = "ABC (.abc), MusicXML (.musicxml, .xml, .mxl) and Standard MIDI (.mid)"

_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def read_tunes(path: Path) -> list[ImportedTune]:
    """Every tune of a file, in order; refused tunes carry their reason, carried ones notes on what was left out.

    The format is found by content, the suffix does not matter. Raises ImportFault (one line, exit code 1) when the
    file cannot be read as a whole, MachineError when the MIDI library is missing.
    """
    return read_bytes(_load(path), path.name)


def _load(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise ImportFault(f"{path}: is a folder", "Name the files in it, such as tunes/*.abc.")
        if not path.is_file():
            raise ImportFault(f"{path.name}: there is no such file", f"Files of these formats are read: {FORMATS}.")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise ImportFault(f"{path.name}: has {size / 1e6:.1f} MB; {MOST_BYTES / 1e6:.0f} MB are read",
                              "Divide the collection, or export only the melody part.")
        return path.read_bytes()
    except OSError as error:
        raise ImportFault(f"{path.name}: cannot be read ({error.strerror or 'input error'})",
                          "Check its permissions.") from error


def read_bytes(data: bytes, file: str) -> list[ImportedTune]:
    """The same from a file's bytes; `file` names it in messages."""
    return [_bound_notes(tune) for tune in _read_any(data, file)]


def _bound_notes(tune: ImportedTune) -> ImportedTune:
    """The tune with as many notes as somebody may read."""
    more = len(tune.notes) - MOST_NOTES
    return replace(tune, notes=(*tune.notes[:MOST_NOTES], f"and {more} remarks more")) if more > 0 else tune


def _read_any(data: bytes, file: str) -> list[ImportedTune]:
    if not data.strip():
        raise ImportFault(f"{file}: is empty", f"Files of these formats are read: {FORMATS}.")
    if data.startswith(b"MThd") or data.startswith(b"RIFF"):
        return read_midi(data, file)
    if data.startswith(b"PK"):
        return read_musicxml(parse_xml(unpack_score(data, file), file), file)
    if _is_xml(data):
        return read_musicxml(parse_xml(data, file), file)
    text, note = _decode(data, file)
    if "\x00" in text or not looks_like_abc(text):
        raise ImportFault(f"{file}: is neither ABC, MusicXML nor MIDI", f"Files of these formats are read: {FORMATS}.")
    tunes = read_abc(text, file)
    if note:
        tunes = [ImportedTune(t.title, t.place, t.tune, (*t.notes, note), t.reason) for t in tunes]
    return tunes


def _is_xml(data: bytes) -> bool:
    head = data[:400]
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return head.decode(encoding, "ignore").lstrip().startswith("<")
    return head.lstrip().startswith(b"<") or head.startswith((b"<\x00", b"\x00<"))


def _decode(data: bytes, file: str) -> tuple[str, str]:
    """Text of an ABC file and a remark about its encoding: UTF-8, marked UTF-16, or Western (Latin-1)."""
    encoding = next((name for mark, name in _MARKS if data.startswith(mark)), "utf-8")
    try:
        return _newlines(data.decode(encoding)), ""
    except UnicodeDecodeError as error:
        if b"\x00" in data or encoding != "utf-8" or _binary_share(data) > 0.02:
            raise ImportFault(f"{file}: is in an encoding that cannot be read (byte {error.start + 1})",
                              "Save it as UTF-8 text.") from error
    note = "the file is not in UTF-8: it was read as Western European text, please check accented letters"
    return _newlines(data.decode("latin-1")), note


def _newlines(text: str) -> str:
    return re.sub(r"\r\n?|[\x0b\x0c\x1c-\x1e\x85\u2028\u2029]", "\n", text)


def _binary_share(data: bytes) -> float:
    head = data[:100_000]
    return sum(byte < 9 or 13 < byte < 32 or 127 <= byte < 160 for byte in head) / len(head)
