"""What went wrong when a text is not YAML, in words a teacher can act on."""

from __future__ import annotations

import re

import yaml

from bookbuild.lessons.model import Place

_VALUE = re.compile(r"(\s*(?:- )?([\w-]+):\s+)(\S.*?)\s*$")
_APOSTROPHE = "'"
_QUOTE = "Put the whole value in double quotes: {key}: \"{value}\"."

_NEVER_CLOSED = (
    "a quotation mark is opened here and never closed",
    "Close it; inside single quotes write '' for an apostrophe.",
)

_EXPLAINED: tuple[tuple[str, str, str], ...] = (
    (r"sequence entries are not allowed", "a value that begins with '- ' reads as a list", _QUOTE),
    (
        r"scanning a block scalar",
        "a value that begins with '>' or '|' reads as the start of a longer text",
        _QUOTE + " (For a melody write '|' alone and the notes on the next lines, indented.)",
    ),
    (
        r"scanning an (anchor|alias)",
        "a value that begins with & or * has a special meaning in YAML",
        'Put it in double quotes, for example "&".',
    ),
    (
        r"mapping values are not allowed",
        "a second colon with a space after it, or a line that is indented too far",
        "Put a text with a colon in double quotes; begin keys in the same column as the line above; "
        "write a space after each key's colon.",
    ),
    (r"cannot start any token", "a value cannot begin with this character", _QUOTE),
    (r"unexpected end of stream", *_NEVER_CLOSED),
    (
        r"escape character",
        "a backslash inside double quotes has a special meaning",
        "Write the text under '|' on lines of its own, or write the backslash twice.",
    ),
    (
        r"could not find expected ':'",
        "this line has no 'key: value'",
        "Write a key, a colon and a space; indent the lines of a longer text under its key.",
    ),
    (
        r"expected ',' or|expected (the )?node content",
        "a bracket or a comma is missing, or one too many",
        "Check the list in [ ] or { }: commas between the items, quotes round items with special characters.",
    ),
    (
        r"expected <block end>|expected '-' indicator|expected key",
        "this line does not fit the lines above it",
        "Check its indentation: keys of the same level begin in the same column.",
    ),
    (r"directive|document start", "a line cannot begin with %", "Write a comment after #."),
)


def explain_syntax_error(error: yaml.MarkedYAMLError, lines: tuple[str, ...], file: str) -> tuple[Place, str, str]:
    """Place, message and remedy for a parser's error."""
    mark = error.problem_mark or error.context_mark
    context = error.context or ""
    if error.context_mark and re.search("quoted|simple key|block scalar|anchor|alias|directive", context):
        # These begin at the cause, and are noticed far behind it.
        mark = error.context_mark
    if mark is None:
        return Place(file), "this is not valid YAML", "Check indentation, quotes and colons."
    number = min(mark.line, len(lines) - 1)
    line = lines[number]
    place = Place(file, number + 1, mark.column + 1)
    if re.search("expected <block end>|expected key", error.problem or "") and line[: mark.column].strip():
        opened = _find_open_quote(lines, number)
        if opened:
            return Place(file, *opened), *_NEVER_CLOSED
        if line[: mark.column].rstrip().endswith(("}", "]")):
            hint = "Put a text that begins with { or [ in double quotes as a whole."
            return place, "text stands after a closing bracket", hint
        hint = "Put it inside the quotes; inside single quotes write '' for an apostrophe."
        return place, "text stands after the closing quotation mark", hint
    for pattern, message, hint in _EXPLAINED:
        if re.search(pattern, f"{context} {error.problem or ''}"):
            return place, message, _fill_in(hint, line)
    return place, "this is not valid YAML here", "Check indentation, quotes and colons of this line and the one above."


def _find_open_quote(lines: tuple[str, ...], before: int) -> tuple[int, int] | None:
    """Line and column (from 1) of a quotation mark opened above line `before` and not closed in its line."""
    for number in range(before - 1, max(-1, before - 40), -1):
        match = _VALUE.match(lines[number])
        if match and match[3][0] in "'\"" and match[3].replace('\\"', "").count(match[3][0]) % 2:
            return number + 1, match.start(3) + 1
    return None


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
