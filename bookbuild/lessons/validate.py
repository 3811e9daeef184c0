"""A document held against its schema: findings in plain words, and as much of the content as can be used on."""

from __future__ import annotations

from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from bookbuild.lessons.report import Report, guess_name
from bookbuild.lessons.yaml_text import Document, Path

M = TypeVar("M", bound=BaseModel)

_PASSES = 4

_PLAIN: dict[str, tuple[str, str]] = {
    "string_type": ("should be text", "Write one piece of text behind the colon."),
    "int_parsing": ("should be a whole number", "Write digits only, for example 4."),
    "int_type": ("should be a whole number", "Write digits only, for example 4."),
    "int_parsing_size": ("is too large a number", "Write a number of two or three digits."),
    "int_from_float": ("should be a whole number", "Leave the decimals out."),
    "float_parsing": ("should be a number", "Write it with a point, for example 7.5."),
    "float_type": ("should be a number", "Write it with a point, for example 7.5."),
    "finite_number": ("should be a number", "Write it with a point, for example 7.5."),
    "bool_parsing": ("should be true or false", "Write true or false."),
    "bool_type": ("should be true or false", "Write true or false."),
    "list_type": ("should be a list", "Write the items in brackets: [one, two], or each on a line after '- '."),
    "tuple_type": ("should be a pair", "Write two values in brackets: [60, 120]."),
    "dict_type": ("should hold 'key: value' lines", "Write its keys on the next lines, indented."),
    "model_type": ("should hold 'key: value' lines", "Write its keys on the next lines, indented."),
    "greater_than_equal": ("should be at least {ge}", "Choose a larger number."),
    "greater_than": ("should be more than {gt}", "Choose a larger number."),
    "less_than_equal": ("should be at most {le}", "Choose a smaller number."),
    "string_too_long": ("is longer than {max_length} characters", "Shorten it."),
    "string_too_short": ("is empty", "Write something behind the colon, or remove the line."),
    "too_short": ("has too few entries ({actual_length}; at least {min_length})", "Add what is missing."),
    "too_long": ("has too many entries ({actual_length}; at most {max_length})", "Remove some."),
}


def validate(model: type[M], kind: str, document: Document, report: Report) -> tuple[M | None, frozenset[Path]]:
    """Hold a document against the schema of its `kind`.

    Every finding goes to the report. What is wrong is then left out (what is missing filled in) and the rest handed on,
    so that its own mistakes are found in the same run; the paths so treated are returned too.
    """
    data = _without_nothing(document.data)
    broken: set[Path] = set()
    for _ in range(_PASSES):
        try:
            return model.model_validate(data), frozenset(broken)
        except ValidationError as error:
            for finding in error.errors(include_url=False, include_context=True):
                path = _written_path(finding["loc"], finding["type"])
                _explain(finding, path, model, kind, document, report)
                broken.add(path)
                _mend(finding["type"], path, model, data)
    return None, frozenset(broken)


def _without_nothing(value: Any) -> Any:
    """A copy without keys that have no value, as if they were not written."""
    if isinstance(value, dict):
        return {key: _without_nothing(inner) for key, inner in value.items() if inner is not None}
    if isinstance(value, list):
        return [_without_nothing(inner) for inner in value]
    return value


def _written_path(loc: tuple[int | str, ...], kind: str) -> Path:
    return tuple(part for part in loc if part != "[key]") if kind != "missing" else tuple(loc)


def _explain(finding: Any, path: Path, model: type[BaseModel], kind: str, document: Document, report: Report) -> None:
    name = _name(path, kind)
    if finding["type"] == "missing":
        where = f" in {_name(path[:-1], kind)}" if len(path) > 1 else ""
        field = _model_at(model, path[:-1]).model_fields.get(str(path[-1]))
        verb = "has no value" if path in document.nodes else "is missing"
        report.add(document.key_place(*path), f"'{path[-1]}' {verb}{where}", (field.description or "") if field else "")
    elif finding["type"] == "extra_forbidden":
        known = list(_model_at(model, path[:-1]).model_fields)
        owner = f"a {kind}" if len(path) == 1 else _name(path[:-1], kind)
        report.add(document.key_place(*path), f"'{path[-1]}' is not a key of {owner}", guess_name(str(path[-1]), known, "key"))
    elif finding["type"] == "flaw":
        context = finding["ctx"]
        report.add(document.place(*path), f"{name}: {context['message']}", context["hint"])
    else:
        text, hint = _PLAIN.get(finding["type"], ("is not right: " + finding["msg"].lower(), "See the schema of this file."))
        report.add(document.place(*path), f"{name} {text.format(**finding.get('ctx', {}))}", hint)


def _name(path: Path, kind: str) -> str:
    """How a message calls the value at a path: `sections.A.melody`, `exercises 2.kind`."""
    if not path:
        return f"the {kind}"
    words = ""
    for part in path:
        words += f" {part + 1}" if isinstance(part, int) else f".{part}" if words else str(part)
    return f"'{words[:80]}'"


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel]:
    """The schema that describes the mapping at a path."""
    current: Any = model
    for part in path:
        if isinstance(current, type) and issubclass(current, BaseModel) and part in current.model_fields:
            current = current.model_fields[str(part)].annotation
        inner = [current, *_unfold(current)]
        current = next((one for one in inner if isinstance(one, type) and issubclass(one, BaseModel)), current)
    return current if isinstance(current, type) and issubclass(current, BaseModel) else model


def _unfold(annotation: Any) -> list[Any]:
    found: list[Any] = []
    for argument in get_args(annotation):
        found += [argument, *_unfold(argument)]
    return found


def _mend(kind: str, path: Path, model: type[BaseModel], data: Any) -> None:
    """Take the wrong value out of `data`, or put an example in for a missing one."""
    if not path:
        return
    parent = data
    for part in path[:-1]:
        if not isinstance(parent, (dict, list)):
            return
        try:
            parent = parent[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            return
    last = path[-1]
    field = _model_at(model, path[:-1]).model_fields.get(str(last))
    if isinstance(parent, dict):
        parent.pop(last, None)
        if field is not None and field.is_required() and isinstance(last, str) and field.examples:
            parent[last] = field.examples[0]
    elif isinstance(parent, list) and isinstance(last, int) and last < len(parent):
        parent[last] = field.examples[0] if field and field.examples else {}
