"""Remarks to the player: English text that can be said again in the words of another language."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bookbuild.lessons.words import DEFAULT_WORDS, fill_words


class Notice(str):
    """An English remark that remembers the label of its text and what fills it (plain values or other notices)."""

    key: str
    values: dict[str, Any]

    def __new__(cls, key: str, values: dict[str, Any]) -> Notice:
        """The remark in English; raises KeyError for a label that does not exist."""
        made = super().__new__(cls, fill_words(DEFAULT_WORDS[key], **values))
        made.key, made.values = key, values
        return made

    def __reduce__(self) -> tuple[type[Notice], tuple[str, dict[str, Any]]]:
        return Notice, (self.key, self.values)


def say(key: str, **values: object) -> Notice:
    """The text of a label with its {fields} filled in; raises KeyError for a label that does not exist."""
    return Notice(key, values)


def say_all(texts: Sequence[str], key: str = "say.and") -> str:
    """`a`, `a and b`, `a, b and c` of texts; '' of none. With another key than `say.and` all are joined by it."""
    if len(texts) < 2:
        return texts[0] if texts else ""
    before = "say.comma" if key == "say.and" else key
    return say(key, first=say_all(texts[:-1], before), last=texts[-1])


def translate(text: str, words: Mapping[str, str]) -> str:
    """A notice in the words of a language; any other text stays as it is."""
    if not isinstance(text, Notice):
        return text
    values = {name: translate(value, words) if isinstance(value, str) else value for name, value in text.values.items()}
    return fill_words(words[text.key], **values)
