"""Words that send the player elsewhere: D.C., D.S., Fine, Segno."""

from __future__ import annotations

import re

_PATTERNS = (
    (re.compile(r"d\.?c\.?(alfine|alcoda)?\.?|dacapo.*"), "capo"),
    (re.compile(r"d\.?s\.?(alfine|alcoda)?\.?|dalsegno.*"), "dal"),
    (re.compile(r"fine\.?"), "fine"),
    (re.compile(r"segno\.?"), "segno"),
)


def read_jump(text: str) -> set[str]:
    """Of `capo`, `dal`, `fine`, `segno` the one that a text says, for example "D.C. al Fine"; else the empty set."""
    plain = re.sub(r"[\s_]", "", text.lower())
    return {sign for pattern, sign in _PATTERNS if pattern.fullmatch(plain)}
