"""YAML text to plain data in which every key and value knows its line and column.

Only what a course needs is read: mappings, lists and scalars. Anchors, aliases, tags, several documents, deep nesting
and oversized files are refused. Scalars stay text (the schema turns them into numbers), so `title: 1812`, `no` or a
date mean what they say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import yaml

from bookbuild.lessons.model import Place
from bookbuild.lessons.report import Report, show
from bookbuild.lessons.yaml_errors import explain_syntax_error, quote_value

MOST_BYTES = 1_000_000
MOST_DEPTH = 20
MOST_VALUES = 20_000
_MOST_REPAIRS = 20
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]")
_NULLS = ("", "~", "null", "Null", "NULL")

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Node:
    """Where a value stands: lines and columns from 0; `key` is where its key starts."""

    start: tuple[int, int]
    key: tuple[int, int]
    style: str = ""
    value: str = ""


@dataclass(frozen=True)
class Document:
    """One file: `data` of dicts, lists, str and None; `nodes` by path from the root `()`."""

    file: str
    lines: tuple[str, ...]
    data: Any
    nodes: dict[Path, Node] = field(hash=False)

    def place(self, *path: str | int) -> Place:
        """Where the value at `path` stands, or the nearest written value above it."""
        while path and path not in self.nodes:
            path = path[:-1]
        line, column = self.nodes[path].start if path in self.nodes else (0, 0)
        return Place(self.file, line + 1, column + 1)

    def path_at(self, place: Place) -> Path | None:
        """The outermost value that begins at a place; None where none does."""
        found = [path for path, node in self.nodes.items() if node.start == (place.line - 1, place.column - 1)]
        return min(found, key=len, default=None)

    def key_place(self, *path: str | int) -> Place:
        """Where the key of the value at `path` stands."""
        if path not in self.nodes:
            return self.place(*path)
        line, column = self.nodes[path].key
        return Place(self.file, line + 1, column + 1)

    def text_place(self, path: Path, offset: int) -> Place:
        """Where character `offset` of the text at `path` stands in the file, through folding and quoting.

        The visible characters of a text follow each other in the file in the same order, so they are walked together.
        """
        node = self.nodes.get(path)
        if node is None:
            return self.place(*path)
        line, column = (node.start[0] + 1, 0) if node.style in ("|", ">") else node.start
        found = (line, column)
        source = self._walk(line, column)
        for index, wanted in enumerate(node.value):
            if wanted.isspace():
                continue
            found = next((at for at, character in source if character == wanted), found)
            if index >= offset:
                break
        return Place(self.file, found[0] + 1, found[1] + 1)

    def _walk(self, line: int, column: int) -> Iterator[tuple[tuple[int, int], str]]:
        for number in range(line, len(self.lines)):
            for place in range(column, len(self.lines[number])):
                yield (number, place), self.lines[number][place]
            column = 0


class _Refused(Exception):
    """The file cannot be read further; the reason is in the report."""


def load_yaml(content: bytes, file: str, report: Report) -> Document | None:
    """Read the bytes of a file called `file`; None when nothing usable was in it (the report says why)."""
    text = _decode(content, file, report)
    if text is None:
        return None
    lines = tuple(text.split("\n"))
    if "\t" in text:
        _report_tabs(lines, file, report)
        text = text.replace("\t", " ")
    composed = _compose(text, lines, file, report)
    return Document(file, lines, *composed) if composed else None


def _compose(text: str, lines: tuple[str, ...], file: str, report: Report) -> tuple[Any, dict[Path, Node]] | None:
    """Data and places of a text. A value that only lacks its quotes is reported and read as if it had them."""
    mended = text.split("\n")
    for _ in range(_MOST_REPAIRS):
        composer = _Composer(file, lines, report)
        try:
            return composer.compose("\n".join(mended)), composer.nodes
        except _Refused:
            return None
        except yaml.MarkedYAMLError as error:
            place, message, hint = explain_syntax_error(error, lines, file)
        except (yaml.YAMLError, ValueError, OverflowError):
            place, message, hint = Place(file), "this is not YAML text", "Write it in a text editor; save it as UTF-8."
        # Tabs were reported already, and most likely caused this.
        if not any("\t" in line for line in lines):
            report.add(place, message, hint)
        quoted = quote_value(mended[place.line - 1]) if place.line else ""
        if not quoted:
            return None
        mended[place.line - 1] = quoted
    return None


def _decode(content: bytes, file: str, report: Report) -> str | None:
    if len(content) > MOST_BYTES:
        report.add(
            Place(file),
            f"the file holds more than {MOST_BYTES // 1_000_000} MB",
            "A tune or a week takes a few kilobytes; split this file or remove what does not belong in it.",
        )
        return None
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        report.add(Place(file), "the file is saved as UTF-16", "Save it as UTF-8.")
        return None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8-sig", "replace").replace("\r\n", "\n").split("\n")
        report.add(
            Place(file, len(before), len(before[-1]) + 1),
            f"the byte {content[error.start]:02X} is not UTF-8 text",
            "Save the file as UTF-8.",
        )
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    for match in _UNPRINTABLE.finditer(text):
        line = text.count("\n", 0, match.start())
        column = match.start() - (text.rfind("\n", 0, match.start()) + 1)
        report.add(Place(file, line + 1, column + 1), *_tell_hidden(match[0]))
        break
    return _UNPRINTABLE.sub(" ", text)


def _tell_hidden(character: str) -> tuple[str, str]:
    message = f"the invisible character U+{ord(character):04X} cannot be printed"
    return message, "Delete it and type the text around it again."


def _report_tabs(lines: tuple[str, ...], file: str, report: Report) -> None:
    for number, line in enumerate(lines):
        if "\t" in line:
            report.add(Place(file, number + 1, line.index("\t") + 1), "a tab character", "Use spaces instead of tabs.")


class _Composer:
    """Builds plain data from the parser's events, so that nothing is expanded and depth is known at once."""

    def __init__(self, file: str, lines: tuple[str, ...], report: Report) -> None:
        self.file = file
        self.lines = lines
        self.report = report
        self.nodes: dict[Path, Node] = {}

    def compose(self, text: str) -> Any:
        """The data of the only document; raises _Refused or a YAML error."""
        self.events: Iterator[Any] = iter(yaml.parse(text, Loader=_LOADER))
        next(self.events)
        first = next(self.events)
        if isinstance(first, yaml.StreamEndEvent):
            self.refuse(None, "the file is empty", "Fill it in, or remove it.")
        data = self.read_value(next(self.events), (), None, 1)
        next(self.events)
        after = next(self.events)
        if not isinstance(after, yaml.StreamEndEvent):
            self.refuse(after, "a second document begins here", "Remove the line '---': one file holds one document.")
        if data is None:
            self.refuse(None, "the file is empty", "Fill it in, or remove it.")
        return data

    def refuse(self, event: Any, message: str, hint: str) -> None:
        """Report and stop reading this file."""
        self.report.add(self.place(event) if event else Place(self.file), message, hint)
        raise _Refused

    def place(self, event: Any) -> Place:
        """Where an event begins; what is missing at the end of the file begins behind its last sign."""
        line, column = event.start_mark.line, event.start_mark.column
        if line >= len(self.lines):
            line, column = len(self.lines) - 1, len(self.lines[-1])
        return Place(self.file, line + 1, column + 1)

    def read_value(self, event: Any, path: Path, key: tuple[int, int] | None, depth: int) -> Any:
        """The value that begins with `event`."""
        start = (event.start_mark.line, event.start_mark.column)
        if depth > MOST_DEPTH:
            self.refuse(event, f"nested more than {MOST_DEPTH} levels deep", "A course needs five levels at most.")
        if len(self.nodes) > MOST_VALUES:
            self.refuse(event, f"the file holds more than {MOST_VALUES} values", "Split it into several files.")
        self.check_marks(event)
        if isinstance(event, yaml.AliasEvent):
            self.nodes[path] = Node(start, key or start)
            return None
        if isinstance(event, yaml.ScalarEvent):
            return self.read_scalar(event, path, Node(start, key or start, event.style or "", event.value))
        self.nodes[path] = Node(start, key or start)
        if isinstance(event, yaml.SequenceStartEvent):
            return self.read_list(path, depth)
        return self.read_mapping(path, depth)

    def check_marks(self, event: Any) -> None:
        """Anchors, aliases and tags are refused; nothing is ever expanded, so reading goes on behind them."""
        place = self.place(event)
        if event.anchor:
            hint = "Write the value out, or put text that begins with & or * in quotes."
            self.report.add(place, "anchors (&name) and aliases (*name) are not read", hint)
        if getattr(event, "tag", None):
            hint = "Remove it, or put text that begins with ! in quotes."
            self.report.add(place, f"the tag {show(event.tag)} is not read", hint)

    def read_scalar(self, event: Any, path: Path, node: Node) -> str | None:
        """A text; escapes in double quotes may have brought in what does not print."""
        value: str = event.value
        hidden = _UNPRINTABLE.search(value)
        if hidden:
            place = Place(self.file, node.start[0] + 1, node.start[1] + 1)
            self.report.add(place, *_tell_hidden(hidden[0]))
            value = _UNPRINTABLE.sub(" ", value)
        self.nodes[path] = replace(node, value=value)
        return None if not node.style and value in _NULLS else value

    def read_list(self, path: Path, depth: int) -> list[Any]:
        """The rest of a list."""
        items: list[Any] = []
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            items.append(self.read_value(event, (*path, len(items)), None, depth + 1))
        return items

    def read_mapping(self, path: Path, depth: int) -> dict[str, Any]:
        """The rest of a mapping; of a key written twice the first counts."""
        mapping: dict[str, Any] = {}
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            if not isinstance(event, yaml.ScalarEvent):
                self.refuse(event, "a key must be a plain word", "Write 'key: value' with a word before the colon.")
            self.check_marks(event)
            name, at = event.value, (event.start_mark.line, event.start_mark.column)
            here = (*path, name)
            if name in mapping:
                if self.report.is_full(self.file):
                    raise _Refused
                first = self.nodes[here].key[0] + 1
                self.report.add(
                    Place(self.file, at[0] + 1, at[1] + 1),
                    f"{show(name)} is written twice; it is already in line {first}",
                    "Keep one of the two.",
                )
                here = (*path, name, "", "twice")
                self.read_value(next(self.events), here, at, depth + 1)
                continue
            mapping[name] = self.read_value(next(self.events), here, at, depth + 1)
        return mapping
