"""User text on its way into the engraver: nothing in it may run, nothing in it may break the input."""

from __future__ import annotations

import unicodedata

_DROPPED = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def quote(text: str) -> str:
    """A LilyPond string literal that prints `text` literally.

    Control, format, private and unassigned characters and line separators are dropped (U+2028 aborts the engraver);
    `\\` and `"` are escaped.
    """
    kept = "".join(ch for ch in text if unicodedata.category(ch) not in _DROPPED)
    return '"' + kept.replace("\\", "\\\\").replace('"', '\\"') + '"'


def moment(length: object) -> str:
    """A Fraction of a whole note as an engraver duration: `1*3/16`."""
    return f"1*{length}"
