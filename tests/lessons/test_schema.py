"""The JSON Schema files: current, and of one mind with the reader about the small course."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bookbuild.lessons.model import KINDS
from bookbuild.lessons.schema import FOLDER, KINDS_OF_FILE, json_schemas, write_schemas


@pytest.mark.parametrize("kind", sorted(KINDS_OF_FILE))
def test_the_schema_files_are_current(kind: str) -> None:
    """Write them anew with `python -m bookbuild.lessons.schema` after a change of the schema."""
    assert json.loads((FOLDER / f"{kind}.json").read_text(encoding="utf-8")) == json.loads(json_schemas()[kind])


def test_one_file_a_kind_is_written(tmp_path: Path) -> None:
    written = write_schemas(tmp_path / "new")
    assert sorted(path.name for path in written) == sorted(path.name for path in FOLDER.iterdir())


def properties(schema: dict) -> list[tuple[str, dict]]:
    found = list(schema.get("properties", {}).items())
    for part in schema.get("$defs", {}).values():
        found += properties(part)
    return found


@pytest.mark.parametrize("kind", sorted(set(KINDS_OF_FILE) - {"words"}))
def test_every_key_is_explained_and_unknown_keys_are_refused(kind: str) -> None:
    schema = json.loads(json_schemas()[kind])
    keys = properties(schema)
    assert keys
    assert [name for name, about in keys if not about.get("description")] == []
    for part in (schema, *schema.get("$defs", {}).values()):
        assert part.get("additionalProperties") is False


def test_an_editor_can_offer_the_kinds_of_exercise() -> None:
    week = json.loads(json_schemas()["week"])
    assert week["$defs"]["ExercisePart"]["properties"]["kind"]["enum"] == list(KINDS)
