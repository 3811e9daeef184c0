"""The cache heals itself: damage is a miss, never a wrong drawing."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from bookbuild.engrave.cache import Cache, write_atomically
from bookbuild.engrave.drawn import DrawnExercise, DrawnSystem

SYSTEM = DrawnSystem(0, 1.0, 2.0, 3.0, 4.0, 1.0, 2.0, 21.0, 1, 4, True)


def filled(folder: Path) -> tuple[Cache, str]:
    cache = Cache(folder)
    batch = cache.store_batch(b"%PDF-1.7 " + bytes(range(256)) * 4)
    cache.store("ab" * 32, DrawnExercise(batch, (SYSTEM,)))
    return cache, batch


def test_an_entry_comes_back_as_it_was(tmp_path: Path) -> None:
    _, batch = filled(tmp_path)
    assert Cache(tmp_path).load("ab" * 32) == DrawnExercise(batch, (SYSTEM,))
    assert Cache(tmp_path).load("cd" * 32) is None


@pytest.mark.parametrize("seed", range(50))
def test_damage_in_any_file_is_a_miss(tmp_path: Path, seed: int) -> None:
    filled(tmp_path)
    chance = random.Random(seed)
    victim = chance.choice(sorted(p for p in tmp_path.rglob("*") if p.is_file()))
    data = bytearray(victim.read_bytes())
    how = chance.choice(["cut", "flip", "empty", "gone", "junk"])
    if how == "cut":
        data = data[: chance.randrange(len(data))]
    elif how == "flip":
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    elif how == "empty":
        data = bytearray()
    elif how == "junk":
        data += b"junk"
    if how == "gone":
        victim.unlink()
    else:
        victim.write_bytes(bytes(data))
    assert Cache(tmp_path).load("ab" * 32) is None
    healed, batch = filled(tmp_path)
    assert healed.load("ab" * 32) == DrawnExercise(batch, (SYSTEM,))


def test_trim_deletes_the_oldest_first_and_never_what_is_in_use(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    batches = [cache.store_batch(bytes([n]) * 1000) for n in range(10)]
    for age, batch in enumerate(batches):
        os.utime(cache.batch_path(batch), (1000 + age, 1000 + age))
    cache.trim([batches[0]], limit=3500)
    left = [batch for batch in batches if cache.batch_path(batch).exists()]
    assert left == [batches[0], *batches[-2:]]


def test_a_failed_write_leaves_the_earlier_file(tmp_path: Path) -> None:
    target = tmp_path / "book.pdf"
    write_atomically(target, b"old")
    with pytest.raises(TypeError):
        write_atomically(target, "not bytes")  # type: ignore[arg-type]
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["book.pdf"]
