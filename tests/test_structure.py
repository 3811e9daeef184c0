"""The rooms know only what lies before them: no import goes back, no module outgrows its room."""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent / "bookbuild"

KNOWS = {
    "exact": set(),
    "diagnostics": set(),
    "writing": set(),
    "theory": {"diagnostics"},
    "lessons": {"diagnostics", "theory"},
    "arrange": {"diagnostics", "theory", "lessons"},
    "grading": {"diagnostics", "theory", "lessons", "arrange"},
    "engrave": {"writing", "diagnostics", "theory", "lessons", "arrange"},
    "pages": {"writing", "diagnostics"},
    "importers": {"writing", "diagnostics", "theory", "lessons"},
    "export": {"diagnostics", "theory", "lessons", "arrange"},
    "assemble": {"diagnostics", "theory", "lessons", "arrange", "grading", "engrave", "pages"},
    "workshop": {"diagnostics", "engrave", "pages"},
    "cluster": {"diagnostics", "engrave", "finished"},
}
"""Room -> the rooms it may import beside `exact`. `build`, `printing`, `finished` and `cli` may know all of them."""

PURE = ("theory", "arrange", "grading")
WORLD = {"os", "sys", "subprocess", "pathlib", "time", "datetime", "random", "tempfile", "shutil", "socket"}
PRINTERS = ("cli", "bootstrap")


@cache
def modules() -> list[tuple[str, Path, ast.Module]]:
    """(room, path, tree) of every module."""
    return [(path.relative_to(ROOT).parts[0].removesuffix(".py"), path, ast.parse(path.read_text(encoding="utf-8")))
            for path in sorted(ROOT.rglob("*.py"))]


@cache
def imports(tree: ast.Module) -> set[str]:
    """Every module imported, at the top or inside functions."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def test_no_room_imports_what_lies_behind_it() -> None:
    wrong = []
    for room, path, tree in modules():
        if room not in KNOWS:
            continue
        for name in imports(tree):
            parts = name.split(".")
            if parts[0] == "bookbuild" and len(parts) > 1 and parts[1] not in {room, "exact"} | KNOWS[room]:
                wrong.append(f"{path.relative_to(ROOT)} imports {name}")
    assert not wrong


def test_fractions_come_from_one_place() -> None:
    # Straight from its library one made of a text may harm the whole program.
    wrong = [str(path.relative_to(ROOT)) for room, path, tree in modules()
             if room != "exact" and {"fractions", "quicktions"} & imports(tree)]
    assert not wrong


def test_pure_rooms_touch_nothing_of_the_world() -> None:
    wrong = [f"{path.relative_to(ROOT)} imports {name}" for room, path, tree in modules() if room in PURE
             for name in imports(tree) if name.split(".")[0] in WORLD]
    assert not wrong


def test_only_the_command_line_prints() -> None:
    wrong = [str(path.relative_to(ROOT)) for room, path, tree in modules() if room not in PRINTERS
             for node in ast.walk(tree)
             if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"]
    assert not wrong


def test_modules_form_no_cycle() -> None:
    graph = {".".join(path.relative_to(ROOT.parent).with_suffix("").parts): imports(tree)
             for _, path, tree in modules()}
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail[trail.index(name):], name))
        if name in done or name not in graph:
            return
        for other in graph[name]:
            visit(other, (*trail, name))
        done.add(name)

    for name in graph:
        visit(name, ())


def test_modules_stay_small() -> None:
    long = {str(path.relative_to(ROOT)): count for _, path, _ in modules()
            if (count := len(path.read_text(encoding="utf-8").splitlines())) > 350}
    assert not long


def test_every_package_has_its_reason() -> None:
    project = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"], *(name for extra in project["optional-dependencies"].values() for name in extra)]
    names = {re.split(r"[\[<>=;]", line)[0] for line in asked} - {"bookbuild"}
    told = (ROOT.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = "\n".join(line.split("|")[1] for line in told.splitlines() if line.startswith("| `"))
    assert {name for name in names if f"`{name}`" not in rows} == set()


def test_every_room_is_packaged() -> None:
    setuptools = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    rooms = {f"bookbuild.{path.parent.name}" for path in ROOT.glob("*/__init__.py")}
    assert set(setuptools["packages"]) == {"bookbuild", *rooms, *setuptools["package-dir"]}
    for folder in setuptools["package-dir"].values():
        assert (ROOT.parent / folder).is_dir()
