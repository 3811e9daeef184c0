"""The YAML of a translation to the model."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from bookbuild.lessons.model import Place, Translation
from bookbuild.lessons.parse_week import check_fields
from bookbuild.lessons.report import Report
from bookbuild.lessons.schema_texts import TranslationFile
from bookbuild.lessons.validate import validate
from bookbuild.lessons.words import EXERCISE_FIELDS
from bookbuild.lessons.yaml_text import Document, Path


def build_translation(name: str, document: Document, report: Report) -> Translation | None:
    """The translation of a document; None when an error was found."""
    written, _ = validate(TranslationFile, "translation", document, report)
    if written is None:
        return None
    plain = written.model_dump(exclude_unset=True)
    phrases = plain.pop("phrases", {})
    glossary = tuple((entry["term"], entry["text"]) for entry in plain.pop("glossary", ()))
    texts = dict(_flatten(plain, ()))
    if glossary:
        texts[("glossary",)] = glossary
    for path, text in texts.items():
        if "exercises" in path:
            # In YAML the place of an exercise is a text like every key.
            check_fields(text, EXERCISE_FIELDS, document, tuple(map(str, path)), report)
    if report.has_errors(document.file):
        return None
    return Translation(name, texts, phrases, Place(document.file, 1, 1))


def _flatten(node: Mapping[Any, Any], path: Path) -> Iterator[tuple[Path, Any]]:
    """(path, text) of everything written below a mapping; lists of lines are tuples, empty texts are left out."""
    for key, value in node.items():
        if isinstance(value, Mapping):
            yield from _flatten(value, (*path, key))
        elif value:
            yield (*path, key), tuple(value) if isinstance(value, list) else value
