"""Changed course files give findings with their place and remedy, never anything else (the whole: fuzz_yaml.py)."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from course_scenes import FOLDERS, make_scene, write_scene
from fuzz_yaml import find_fault, make_input, run_many, try_input
from yaml_mutations import MUTATIONS

from bookbuild.diagnostics import Diagnostic, Severity
from bookbuild.lessons.files import inspect_course

SEED, COUNT = 7, 160


def test_changed_files_are_read_or_refused_with_place_and_remedy() -> None:
    verdicts = list(run_many(SEED, COUNT))
    assert [f"{one.number}: {one.fault}" for one in verdicts if one.fault] == []
    outcomes = [one.outcome for one in verdicts]
    # The sample must reach both ends: a reader that refuses all, or a fuzzer that breaks nothing, proves nothing.
    assert outcomes.count("refused") > COUNT / 3
    assert outcomes.count("arranged") > COUNT / 6


def test_every_change_and_every_kind_of_file_comes_up() -> None:
    inputs = [make_input(SEED, number) for number in range(COUNT)]
    assert {kind for kind, *_ in inputs} == set(FOLDERS)
    assert {name for *_, changes in inputs for name in changes} == {*MUTATIONS, "bytes"}
    assert (
        sum(files[victim] != make_scene_file(kind, number) for number, (kind, files, victim, _) in enumerate(inputs))
        > 0.7 * COUNT
    )


def make_scene_file(kind: str, number: int) -> bytes:
    """The unchanged text of an input's file."""
    files, victim = make_scene(kind, random.Random(f"{SEED}/{number}"))
    return files[victim]


@pytest.mark.parametrize("kind", FOLDERS)
def test_the_scene_itself_is_sound(kind: str, tmp_path: Path) -> None:
    for seed in range(3):
        files, victim = make_scene(kind, random.Random(seed))
        assert victim in files
        course, findings = inspect_course(write_scene(tmp_path, files))
        assert course is not None, findings
        assert course.weeks


@pytest.mark.parametrize(
    "finding",
    [
        Diagnostic(Severity.ERROR, "a.yaml", 1, 1, "wrong", ""),
        Diagnostic(Severity.ERROR, "b.yaml", 1, 1, "wrong", "mend"),
        Diagnostic(Severity.ERROR, "a.yaml", 9, 1, "wrong", "mend"),
        Diagnostic(Severity.ERROR, "a.yaml", 0, 0, "wrong", "mend"),
        Diagnostic(Severity.ERROR, "a.yaml", 1, 1, "wrong \x1b[31m", "mend"),
    ],
)
def test_the_judge_sees_a_poor_finding(finding: Diagnostic) -> None:
    assert find_fault([finding], {"a.yaml": 3})


def test_the_judge_sees_a_crash_and_a_hang(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(folder: Path) -> None:
        raise KeyError(folder)

    def hang(folder: Path) -> None:
        while True:
            pass

    monkeypatch.setattr("fuzz_yaml.inspect_course", crash)
    assert "KeyError" in try_input(SEED, 0, tmp_path).fault
    monkeypatch.setattr("fuzz_yaml.inspect_course", hang)
    monkeypatch.setattr("fuzz_yaml.SECONDS", 0.1)
    assert try_input(SEED, 0, tmp_path).fault.startswith("hang")
