"""What went wrong when a text is not YAML, in words a teacher can act on."""

from __future__ import annotations

import re

import yaml

from bookbuild.lessons.model import Place

_VALUE = re.compile(r"(\s*(?:- )?([\w-]+):\s+)(\S.*?)\s*$")
_APOSTROPHE = "'"
_QUOTE = "Put the whole value in double quotes: {key}: \"{value}\"."

_EXPLAINED: tuple[tuple[str, str, str], ...] = (
    (r"sequence entries are not allowed", "a value that begins with '- ' reads as a list", _QUOTE),
    (r"chomping or indentation|expected a comment or a line break",
     "a value that begins with '>' or '|' reads as the start of a longer text",
     _QUOTE + " (For a melody write '|' alone and the notes on the next lines, indented.)"),
    (r"scanning an (anchor|alias)|did not find expected alphabetic or numeric",
     "a value that begins with & or * has a special meaning in YAML", "Put it in double quotes, for example \"&\"."),
    (r"mapping values are not allowed", "a second colon with a space after it stands in this line",
     "Put the text in double quotes, or check that the line is indented like its neighbours."),
    (r"cannot start any token", "a value cannot begin with this character", "Put the value in double quotes."),
    (r"found unexpected end of stream|unexpected end of stream", "a quotation mark is opened and never closed",
     "Close the quotation mark; inside single quotes write '' for an apostrophe."),
    (r"unknown escape|escape character", "a backslash inside double quotes has a special meaning",
     "Write the text under '|' on lines of its own, or write the backslash twice."),
    (r"could not find expected ':'|expected ':'", "this line has no 'key: value'",
     "Write a key, a colon and a space; indent a text's further lines."),
    (r"expected ',' or '[\]}]'", "a bracket is opened and not closed, or a comma is missing",
     "Check the list in [ ] or { }: items are separated by commas; quote items with special characters."),
    (r"expected <block end>|did not find expected '-' indicator|expected key|did not find expected key",
     "this line does not fit the lines above it",
     "Check its indentation: keys of the same level start in the same column."),
)


def explain_syntax_error(error: yaml.MarkedYAMLError, lines: tuple[str, ...], file: str) -> tuple[Place, str, str]:
    """Place, message and remedy for a parser's error."""
    mark = error.problem_mark or error.context_mark
    if error.context_mark and "quoted" in (error.context or ""):
        mark = error.context_mark
    said = f"{error.context or ''} {error.problem or ''}"
    number = min(mark.line, len(lines) - 1) if mark else 0
    line = lines[number]
    place = Place(file, number + 1, (mark.column if mark else 0) + 1)
    for pattern, message, hint in _EXPLAINED:
        if re.search(pattern, said):
            return place, message, _fill_in(hint, line)
    return place, "this is not valid YAML here", "Check indentation, quotes and colons of this line and the one above."


def _fill_in(hint: str, line: str) -> str:
    """The remedy with the line's own key and value in it."""
    if "{key}" not in hint:
        return hint
    match = _VALUE.match(line)
    if not match or len(line) > 120:
        return "Put the whole value in double quotes."
    value = match[3].replace("\\", "\\\\").replace('"', '\\"')
    return hint.replace("{key}", match[2]).replace("{value}", value)


def quote_value(line: str) -> str:
    """The line with its value in quotes, so that reading can go on behind it; '' where that cannot help."""
    match = _VALUE.match(line)
    if not match or match[3][0] in "'\"[{" or match[3] in ("|", ">"):
        return ""
    return f"{match[1]}'{match[3].replace(_APOSTROPHE, _APOSTROPHE * 2)}'"
