"""A document held against its schema: findings in plain words, and as much of the content as can be used on."""

from __future__ import annotations

from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from bookbuild.lessons.model import Place
from bookbuild.lessons.report import MOST, Report, guess_name, show
from bookbuild.lessons.yaml_text import Document, Path

M = TypeVar("M", bound=BaseModel)

_PASSES = 4
"""Mending one level may uncover the next; the schema is four levels deep."""

_NUMBER = ("should be a number", "Write it with a point, for example 7.5.")
_WHOLE = ("should be a whole number", "Write digits only, for example 4.")
_TRUTH = ("should be true or false", "Write true or false.")
_LIST = ("should be a list", "Write the items in brackets: [one, two], or each on a line after '- '.")
_KEYS = ("should hold 'key: value' lines", "Write its keys on the next lines, indented.")

_PLAIN: dict[str, tuple[str, str]] = {
    "string_type": ("should be text", "Write one piece of text behind the colon."),
    "int_parsing": _WHOLE,
    "int_type": _WHOLE,
    "int_from_float": _WHOLE,
    "int_parsing_size": ("is too large a number", "Write a number of two or three digits."),
    "float_parsing": _NUMBER,
    "float_type": _NUMBER,
    "finite_number": _NUMBER,
    "bool_parsing": _TRUTH,
    "bool_type": _TRUTH,
    "list_type": _LIST,
    "tuple_type": ("should be a pair", "Write two values in brackets: [60, 120]."),
    "dict_type": _KEYS,
    "model_type": _KEYS,
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
            # Later items of a list first, so that taking one out does not move the others.
            for finding in reversed(error.errors(include_url=False)):
                if len(broken) > 2 * MOST:
                    return None, frozenset(broken)
                path = tuple(part for part in finding["loc"] if part != "[key]")
                if finding["type"] != "too_short" or not any(one[: len(path)] == path for one in broken):
                    _explain(finding, path, _Wording(model, kind, document, report))
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


class _Wording:
    """What a finding is told with: the schema, the name of its kind, the document, the report."""

    def __init__(self, model: type[BaseModel], kind: str, document: Document, report: Report) -> None:
        self.model = model
        self.kind = kind
        self.document = document
        self.add = report.add

    def name(self, path: Path) -> str:
        """How a message calls the value at a path: `sections.A.melody`, `exercises 2.kind`."""
        words = ""
        for part in path:
            words += f" {part + 1}" if isinstance(part, int) else f".{part}" if words else str(part)
        return show(words, 80) if words else f"the {self.kind}"


def _explain(finding: Any, path: Path, wording: _Wording) -> None:
    document = wording.document
    if finding["type"] in ("missing", "extra_forbidden"):
        _explain_key(finding["type"], path, wording)
    elif finding["type"] == "flaw":
        context = finding["ctx"]
        wording.add(document.place(*path), f"{wording.name(path)}: {context['message']}", context["hint"])
    else:
        other = (f"is not right: {finding['msg'].lower()}", "Look the key up in the schema of this kind of file.")
        text, hint = _PLAIN.get(finding["type"], other)
        place = document.key_place(*path) if "[key]" in finding["loc"] else document.place(*path)
        wording.add(place, f"{wording.name(path)} {text.format(**finding.get('ctx', {}))}", hint)


def _explain_key(problem: str, path: Path, wording: _Wording) -> None:
    """A key that is missing, or one too many."""
    *parents, last = path
    owner = _model_at(wording.model, tuple(parents))
    place = wording.document.key_place(*path)
    if problem == "missing":
        where = f" in {wording.name(tuple(parents))}" if parents else ""
        verb = "has no value" if path in wording.document.nodes else "is missing"
        about = owner.model_fields[str(last)].description if last in owner.model_fields else ""
        if not parents and verb == "is missing":
            place = Place(wording.document.file, 1, 1)
        wording.add(place, f"{show(last)} {verb}{where}", f"Add '{last}:'. {about}")
    else:
        whose = wording.name(tuple(parents)) if parents else f"a{'n' * (wording.kind[0] in 'aeiou')} {wording.kind}"
        hint = guess_name(str(last), list(owner.model_fields), "key")
        wording.add(place, f"{show(last)} is not a key of {whose}", hint)


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


def _mend(problem: str, path: Path, model: type[BaseModel], data: Any) -> None:
    """Take the wrong value out of `data`, or put an example in where one is needed."""
    parent = data
    for part in path[:-1]:
        known = isinstance(parent, dict) and part in parent
        if not known and not (isinstance(parent, list) and isinstance(part, int) and part < len(parent)):
            return
        parent = parent[part]  # type: ignore[index]
    if not path:
        return
    last, owner = path[-1], _model_at(model, path[:-1])
    field = owner.model_fields.get(str(last))
    part_model = _model_at(model, path)
    if isinstance(parent, dict):
        parent.pop(last, None)
        if field is not None and field.is_required() and field.examples:
            parent[last] = field.examples[0]
        elif problem == "model_type" and field is None and part_model is not model:
            parent[last] = _example(part_model)
    elif isinstance(parent, list) and isinstance(last, int) and last < len(parent):
        if part_model is model:
            del parent[last]
        else:
            parent[last] = _example(part_model)


def _example(model: type[BaseModel]) -> dict[str, Any]:
    """A mapping with all keys the schema requires."""
    required = {name: field.examples for name, field in model.model_fields.items() if field.is_required()}
    return {name: examples[0] for name, examples in required.items() if examples}
