"""Courses whose every text field is hostile, and what of it must stand on the pages."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import yaml
from hostile_strings import hostile_strings

from bookbuild.lessons.report import Report
from bookbuild.lessons.words import DEFAULT_WORDS, EXERCISE_FIELDS, find_fields
from bookbuild.lessons.yaml_text import load_yaml

MELODY = {"A": {"melody": "c''4 e'' g'' e'' | c''1", "chords": "C | C"}}
MUSIC = {"meter": "4/4", "key": "C major", "tempo": {"start": 60, "goal": 80}, "sections": MELODY}
STEP = {"meter": "4/4", "slots": 1, "count": "1 2 3 4", "bass": "x . x .", "chord": ". x . x"}
DANCER = {
    "right": {"lowest": "f", "highest": "a'''"},
    "left": {"rows": ["bass", "major"], "first_column": "F", "columns": 6},
}


class _PlainDumper(yaml.SafeDumper):
    """Writes everything out, without aliases."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def dump(data: Any) -> bytes:
    """YAML bytes, everything quoted as it must be."""
    text = yaml.dump(data, Dumper=_PlainDumper, allow_unicode=True, sort_keys=False, width=10**6)
    return text.encode("utf-8", "surrogatepass")


def is_read(text: str) -> bool:
    """Whether the reader takes a text as it is; others are refused before anything is built."""
    report = Report()
    document = load_yaml(dump({"title": text}), "a.yaml", report)
    return not report.has_errors() and document is not None and document.data == {"title": text}


def readable(canary: Path) -> list[str]:
    """The hostile strings that the reader lets through."""
    return [text for text in hostile_strings(str(canary)) if is_read(text)]


def without_fields(texts: Sequence[str], known: frozenset[str] = frozenset()) -> list[str]:
    """Texts without {fields} other than the `known` ones, which labels and titles refuse."""
    return [text for text in texts if all(field in known for _, field in find_fields(text))]


def pack_labels(texts: Sequence[str], most: int, known: frozenset[str] = frozenset()) -> list[str]:
    """Texts for labels and titles: those with a brace stand alone, so that no two make a {field} together."""
    allowed = without_fields(texts, known)
    return pack([text for text in allowed if not set("{}") & set(text)], most) + [
        text[:most] for text in allowed if set("{}") & set(text) and without_fields([text[:most]], known)
    ]


def pack(texts: Sequence[str], most: int) -> list[str]:
    """The texts side by side in as few texts of at most `most` characters as they need."""
    packed = [""]
    for text in texts:
        joined = f"{packed[-1]} {text}" if packed[-1] else text
        if len(joined) <= most:
            packed[-1] = joined
        else:
            packed.append(text[:most])
    return packed


def many_weeks(texts: Sequence[str]) -> dict[str, bytes]:
    """A course in which every field of weeks, exercises, tunes, grooves and glossary has held every text."""
    packs = pack(texts, 190)
    titles = pack_labels(texts, 190, EXERCISE_FIELDS)
    files: dict[str, bytes] = {"counting/plain.yaml": dump({"title": "Plain", "simple": {1: ["n"]}})}
    names = [f"w{index}" for index in range(len(packs))]
    for index, (name, text) in enumerate(zip(names, packs, strict=True)):
        fifth = texts[index :: len(packs)]
        title = titles[index % len(titles)]
        exercise = {"kind": "together", "tune": name, "groove": name, "title": title, "instruction": title}
        files[f"weeks/{name}.yaml"] = dump(
            {
                "title": text,
                "aim": text,
                "text": text,
                "new": fifth,
                "listen": fifth,
                "caution": text,
                "exercises": [exercise],
            }
        )
        rights = {"composer": text, "source": text, "statement": text}
        files[f"tunes/{name}.yaml"] = dump({"title": text, "rights": rights, "origin": text, "text": text, **MUSIC})
        files[f"grooves/{name}.yaml"] = dump({"title": text, "origin": text, "text": text, **STEP})
    glossary = [{"term": text, "text": text} for text in texts]
    files["instruments/one.yaml"] = dump({"title": "One", **DANCER})
    files["course.yaml"] = dump({"title": "Course", "weeks": names, "glossary": glossary})
    return files


def single_fields(texts: Sequence[str], turn: int) -> dict[str, bytes]:
    """A course without weeks in which every field that comes once, labels too, holds a text; `turn` moves them on."""
    lines, labels = pack(texts, 190), pack_labels(texts, 38)
    place = turn * 31

    def next_of(packs: Sequence[str]) -> str:
        nonlocal place
        place += 1
        return packs[place % len(packs)]

    studio = {"name": next_of(lines), "address": next_of(lines)}
    everything = " ".join(texts)[:19_000]
    return {
        "course.yaml": dump(
            {
                "title": next_of(lines),
                "subtitle": next_of(lines),
                "text": everything,
                "rights": everything,
                "glossary": [{"term": "a", "text": "b"}],
            }
        ),
        "instruments/one.yaml": dump({"title": next_of(lines), "text": next_of(lines), **DANCER}),
        "editions/one.yaml": dump({"title": next_of(lines), "studio": studio, "counting": "one"}),
        "counting/one.yaml": dump(
            {"title": next_of(lines), "source": next_of(lines), "simple": {1: [next_of(lines)[:12] or "n"]}}
        ),
        "words/en.yaml": dump({key: next_of(labels) for key in DEFAULT_WORDS if key != "tone.names"}),
    }


def visible(text: str) -> str:
    """A text as it may be compared with a page's: composed, without spaces and characters that do not print."""
    kept = (sign for sign in unicodedata.normalize("NFKC", text) if not sign.isspace())
    return "".join(sign for sign in kept if unicodedata.category(sign)[0] not in "CZ")


def must_stand(texts: Sequence[str]) -> Iterator[str]:
    """The texts of plain ASCII without marks of emphasis: on the pages they look as they were written."""
    for text in texts:
        if text.isascii() and "*" not in text and "\\\\" not in text:
            yield visible(text)
