"""Damaged tunes from outside are read or refused with file and place (the whole: fuzz_imports.py)."""

from __future__ import annotations

import pytest
from fuzz_imports import find_fault, judge_refusal, make_input, run_share
from import_mutations import FORMATS, join_song, sound_files, split_song

from bookbuild.importers.read import read_bytes
from bookbuild.importers.write import ImportRow
from bookbuild.importers.written import ImportFault

SEED, COUNT = 3, 120


def test_damaged_files_are_read_or_refused_with_file_and_place() -> None:
    verdicts = run_share(SEED, range(COUNT))
    assert [f"{one.number}: {one.fault}" for one in verdicts if one.fault] == []
    outcomes = [one.outcome for one in verdicts]
    assert outcomes.count("refused") > COUNT / 4
    assert outcomes.count("read") > COUNT / 8


def test_every_format_is_damaged() -> None:
    inputs = [make_input(SEED, number) for number in range(COUNT)]
    assert {kind for kind, _, _ in inputs} == set(FORMATS)
    assert sum(data in sound_files()[kind] for kind, _, data in inputs) < COUNT / 6


@pytest.mark.parametrize("kind", FORMATS)
def test_most_sound_files_are_read(kind: str) -> None:
    # Those that are not test what the book refuses: free meter, changes of meter, no pitched notes.
    some = sound_files()[kind][:12]
    assert sum(any(item.tune for item in read_bytes(data, "a")) for data in some) > len(some) / 2


def test_songs_are_taken_apart_and_put_together() -> None:
    for data in sound_files()["midi"][:10]:
        header, tracks = split_song(data)
        assert split_song(join_song(header, tracks)) == (header, tracks)


@pytest.mark.parametrize(
    "row",
    [
        ImportRow("t.abc", 3, "A", None),
        ImportRow("t.abc", 0, "A", None, reason="it is odd"),
        ImportRow("t.abc", 3, "A", None, reason="bar 3 \x1b[31m"),
        ImportRow("t.abc", 3, "A", None, reason="invalid literal for int()"),
    ],
)
def test_the_judge_sees_a_poor_reason(row: ImportRow) -> None:
    assert find_fault([], [row], "t.abc", b"X:1\n")


@pytest.mark.parametrize("message", ["other.abc: is damaged", "t.abc: is\ndamaged", "t.abc: " + "x" * 300])
def test_the_judge_sees_a_poor_refusal(message: str) -> None:
    assert judge_refusal(ImportFault(message, "mend it"), "t.abc")
    assert not judge_refusal(ImportFault("t.abc: is damaged", "mend it"), "t.abc")


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("abc", b"|", b"|1-999999999999 "),
        ("abc", b"|", b"|1-2-3 "),
        ("musicxml", b"<octave>5</octave>", "<octave>\u00b2</octave>".encode()),
        ("musicxml", b"<octave>5</octave>", b"<octave>" + b"9" * 5000 + b"</octave>"),
        ("musicxml", b"<root-step>", b"<root-alter>inf</root-alter><root-step>"),
        ("musicxml", b"<kind", b"<degree><degree-value>x</degree-value></degree><kind"),
    ],
)
def test_numbers_without_bounds(kind: str, old: bytes, new: bytes) -> None:
    data = next(file for file in sound_files()[kind] if old in file)
    for item in read_bytes(data.replace(old, new), "a"):
        assert "literal" not in " ".join((item.reason, *item.notes))
        assert item.tune or item.reason
