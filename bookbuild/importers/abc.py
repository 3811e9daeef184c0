"""Tunes in ABC notation, standard 2.1: a file may hold many, each begins with X: and ends with an empty line."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bookbuild.importers.abc_fields import read_key, read_meter, read_tempo, read_text, read_unit, usual_unit
from bookbuild.importers.abc_music import MusicReader
from bookbuild.importers.assemble import assemble_tunes
from bookbuild.importers.titles import clean_title, title_of_file
from bookbuild.importers.written import ImportedTune, ImportFault, TuneFault, WrittenTune
from bookbuild.lessons.model import Place

MOST_CHARACTERS = 1_000_000
"""A collection of two thousand tunes has about half of it."""
MOST_TUNES = 1500
"""Tunes in one file; more are refused, so that a stray file does not fill a folder."""
LONGEST_LINE = 20_000

_FIELD = re.compile(r"([A-Za-z]):(.*)$")
_BODY_FIELDS = "IKLMmNPQRrsTUVWw"
_INFORMATION = "ABCDFGHIKLMmNOPQRrSsTUVWwXZ"


@dataclass
class _Source:
    """One tune's lines: (line number, text), comments removed, continuations joined."""

    line: int
    lines: list[tuple[int, str]] = field(default_factory=list)


def read_abc(text: str, file: str) -> list[ImportedTune]:
    """Every tune of an ABC text, in order; a tune that cannot be read comes back with its reason.

    Raises ImportFault when there is no tune at all, or far too many.
    """
    if len(text) > MOST_CHARACTERS:
        raise ImportFault(f"{file}: has {len(text) / 1e6:.1f} MB of ABC; {MOST_CHARACTERS / 1e6:.0f} MB are read",
                          "Divide the collection.")
    sources = _split_tunes(text)
    if not sources:
        raise ImportFault(f"{file}: holds no tune",
                          "A tune in ABC notation begins with X:1 and has a K: line before its notes.")
    if len(sources) > MOST_TUNES:
        raise ImportFault(f"{file}: holds {len(sources)} tunes, {MOST_TUNES} are read at once", "Divide the file.")
    return [tune for source in sources for tune in _read_tune(source, file)]


def read_written(text: str) -> list[WrittenTune]:
    """The tunes as written, before they are divided into sections; those that cannot be read are left out."""
    made = []
    for source in _split_tunes(text):
        with contextlib.suppress(TuneFault):
            made.append(_read_body(*_split_header(source), source.line))
    return made


def looks_like_abc(text: str) -> bool:
    """True when a line K: follows a line X:, T:, M: or L: (anywhere in its first 200,000 characters)."""
    head = text[:200_000]
    start = re.search(r"^(?:X:\s*\d|[TML]:)", head, re.MULTILINE)
    return bool(start and re.compile(r"^K:", re.MULTILINE).search(head, start.end()))


def _split_tunes(text: str) -> list[_Source]:
    """Tunes begin with X:, or with any field in a file without X:; fields before the first X: hold for every tune."""
    numbered = bool(re.search(r"^X:", text, re.MULTILINE))
    sources: list[_Source] = []
    shared: list[tuple[int, str]] = []
    current: _Source | None = None
    for number, raw in enumerate(text.split("\n"), start=1):
        line = _strip_comment(raw)
        if line.startswith("X:") or (current is None and not numbered and re.match(r"[TMLK]:", line)):
            current = _Source(number, list(shared))
            sources.append(current)
        if current is None:
            if not sources and re.match(r"[A-Z]:", line):
                shared.append((number, line))
        elif raw.strip():
            if line.strip():
                current.lines.append((number, line))
        elif _has_music(current):
            current = None
    return sources


def _has_music(source: _Source) -> bool:
    """True when the last line read is music, so that an empty line ends the tune."""
    last = source.lines[-1][1] if source.lines else "X:"
    match = _FIELD.match(last)
    return not match or (match[1] in "wW")


def _strip_comment(line: str) -> str:
    if line.startswith("%"):
        return ""
    return re.sub(r"(?<!\\)%.*", "", line).rstrip()


def _read_tune(source: _Source, file: str) -> list[ImportedTune]:
    title = ""
    try:
        header, body = _split_header(source)
        title = _title(header)
        return assemble_tunes(_read_body(header, body, source.line), file)
    except TuneFault as fault:
        place = Place(file, fault.line or source.line, 1)
        return [ImportedTune(clean_title(title) or title_of_file(file), place, None, (), fault.reason)]


def _split_header(source: _Source) -> tuple[list[tuple[int, str, str]], list[tuple[int, str]]]:
    """The fields up to and with K:, and the lines after it."""
    header: list[tuple[int, str, str]] = []
    for index, (number, text) in enumerate(source.lines):
        match = _FIELD.match(text)
        if match and match[1] in _INFORMATION:
            header.append((number, match[1], match[2].strip()))
            if match[1] == "K":
                return header, source.lines[index + 1:]
        elif text.startswith("+:") and header:
            last = header[-1]
            header[-1] = (last[0], last[1], f"{last[2]} {text[2:].strip()}")
        elif not match and any(sign in text for sign in "|:") and index:
            break
    raise TuneFault("it has no K: line, so its key is not known", source.line)


def _title(header: Sequence[tuple[int, str, str]]) -> str:
    return read_text(next((value for _, letter, value in header if letter == "T" and value), ""))


def _values(header: Sequence[tuple[int, str, str]], letters: str) -> Iterator[str]:
    return (read_text(value) for _, letter, value in header if letter in letters and value)


def _read_body(header: list[tuple[int, str, str]], body: list[tuple[int, str]], line: int) -> WrittenTune:
    fields = {letter: (number, value) for number, letter, value in header}
    notes: list[str] = []
    try:
        meter = read_meter(fields.get("M", (line, "C"))[1])
        key = read_key(fields["K"][1])
        unit = read_unit(fields["L"][1]) if "L" in fields else usual_unit(meter)
    except TuneFault as fault:
        raise TuneFault(fault.reason, fault.line or line) from fault
    if "M" not in fields:
        notes.append("no meter is stated: 4/4 was taken")
    if meter is None:
        raise TuneFault("it is in free meter, which cannot be counted", fields["M"][0])
    tempo = read_tempo(fields["Q"][1]) if "Q" in fields else None
    if "Q" in fields and tempo is None:
        notes.append(f"the tempo '{fields['Q'][1][:30]}' names no note value: the usual tempo was taken")
    if any(value for value in _values(header, "P")):
        notes.append("the playing order in the P: field is not carried over: set 'form' by hand")
    reader = MusicReader(key, meter, unit)
    if key.signs:
        notes.append("accidentals added to the key signature are written at the notes")
    _read_lines(reader, body)
    return WrittenTune(
        _title(header), key.key, tuple(reader.finish()), (*notes, *reader.notes),
        composer="; ".join(_values(header, "C")), source="; ".join(_values(header, "SB")),
        statement="; ".join(_values(header, "Z")), origin=", ".join(_values(header, "OR")), tempo=tempo, line=line)


def _read_lines(reader: MusicReader, body: Sequence[tuple[int, str]]) -> None:
    for number, text in body:
        match = _FIELD.match(text)
        try:
            if match and match[1] in _BODY_FIELDS:
                reader.read_field(match[1], match[2].strip(), number)
            elif len(text) > LONGEST_LINE:
                raise TuneFault(f"line {number} has {len(text)} characters", number)
            else:
                reader.read_line(text, number)
        except TuneFault as fault:
            raise TuneFault(fault.reason, fault.line or number) from fault
