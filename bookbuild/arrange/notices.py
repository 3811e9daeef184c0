"""Remarks to the player: English text that can be said again in the words, and with the tone names, of another
language."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from bookbuild.lessons.words import DEFAULT_WORDS, fill_words
from bookbuild.theory.chords import Chord
from bookbuild.theory.naming import ToneNames
from bookbuild.theory.pitch import Pitch, Tone

Said = str | Tone | Pitch | Chord
"""What a remark is put together from."""
Part = TypeVar("Part", bound=Said)


class Notice(str):
    """An English remark that remembers the label of its text and what fills it: names, numbers or other notices."""

    key: str
    values: dict[str, Any]

    def __new__(cls, key: str, values: dict[str, Any]) -> Notice:
        """The remark in English; raises KeyError for a label that does not exist."""
        made = super().__new__(cls, _fill(key, values, DEFAULT_WORDS))
        made.key, made.values = key, values
        return made

    def __reduce__(self) -> tuple[type[Notice], tuple[str, dict[str, Any]]]:
        return Notice, (self.key, self.values)


def say(key: str, **values: object) -> Notice:
    """The text of a label with its {fields} filled in; raises KeyError for a label that does not exist."""
    return Notice(key, values)


def say_all(texts: Sequence[Part], key: str = "say.and") -> Part | str:
    """`a`, `a and b`, `a, b and c`; '' of none. With another key than `say.and` all are joined by it."""
    if len(texts) < 2:
        return texts[0] if texts else ""
    before = "say.comma" if key == "say.and" else key
    return say(key, first=say_all(texts[:-1], before), last=texts[-1])


def translate(text: str, words: Mapping[str, str]) -> str:
    """A notice in the words of a language; any other text stays as it is."""
    return _fill(text.key, text.values, words) if isinstance(text, Notice) else text


def _fill(key: str, values: Mapping[str, Any], words: Mapping[str, str]) -> str:
    names = ToneNames.parse(words["tone.names"])
    said = {
        name: names.print(value) if isinstance(value, (Tone, Pitch, Chord))
        else translate(value, words) if isinstance(value, str) else value
        for name, value in values.items()
    }
    return fill_words(words[key], **said)
