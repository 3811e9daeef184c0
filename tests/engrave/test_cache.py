"""The cache heals itself: damage is a miss, never a wrong drawing."""

from __future__ import annotations

import os
import random
import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from bookbuild.arrange.model import Arrangement, Bar
from bookbuild.engrave import batch as drawing
from bookbuild.engrave.batch import cache_key
from bookbuild.engrave.cache import Cache
from bookbuild.engrave.drawn import DrawnExercise, DrawnSystem
from bookbuild.engrave.engine import Engraver
from bookbuild.engrave.style import Style
from bookbuild.lessons.model import Tempo
from bookbuild.theory.meter import Meter
from bookbuild.theory.pitch import Key
from tests.test_structure import imports, modules

SYSTEM = DrawnSystem(0, 1.0, 2.0, 3.0, 4.0, 1.0, 21.0, 1, 4, True)
ENGRAVER = Engraver(Path("engraver"), "2.24.3")


def small(kind: str = "melody") -> Arrangement:
    bar = Bar(Fraction(0), Fraction(1, 2), 1)
    return Arrangement(kind, Meter(2, 4), Key.parse("C major"), (bar,), (), (), (), (), Tempo(60, 90, Fraction(1, 4)))


def test_a_drawing_is_named_by_all_that_shapes_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fonts, others = tmp_path / "fonts", tmp_path / "others"
    for folder in (fonts, others):
        folder.mkdir()
        (folder / "a.ttf").write_text(folder.name)
    plain = cache_key(small(), Style(), ENGRAVER, fonts)
    assert plain == cache_key(small(), Style(), ENGRAVER, fonts)
    keys = [plain, cache_key(small("fill"), Style(), ENGRAVER, fonts), cache_key(small(), Style(8.0), ENGRAVER, fonts),
            cache_key(small(), Style(), Engraver(ENGRAVER.path, "2.24.4"), fonts),
            cache_key(small(), Style(), ENGRAVER, others)]
    with monkeypatch.context() as patch:
        patch.setattr(drawing, "_code_digest", lambda: "other code")
        keys.append(cache_key(small(), Style(), ENGRAVER, fonts))
    with monkeypatch.context() as patch:
        patch.setattr(drawing, "library_versions", lambda *names: f"other {names}")
        keys.append(cache_key(small(), Style(), ENGRAVER, fonts))
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize("changed", ["engrave/voices.py", "engrave/prelude.ily", "theory/notes.py", "theory/meter.py"])
def test_a_change_of_what_draws_makes_drawings_stale(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, changed: str
) -> None:
    for room in ("engrave", "theory"):
        shutil.copytree(drawing._PROGRAM / room, tmp_path / room)
    monkeypatch.setattr(drawing, "_PROGRAM", tmp_path)
    before = drawing._code_digest.__wrapped__()
    with (tmp_path / changed).open("a") as file:
        file.write("\n")
    assert drawing._code_digest.__wrapped__() != before


def test_what_draws_is_all_hashed() -> None:
    """Every module of the program that this room uses is hashed with it, or hands it plain data."""
    data = {"arrange.model", "lessons.model", "diagnostics", "exact", "writing"}
    used = {name.removeprefix("bookbuild.") for room, _, tree in modules() if room in drawing._ROOMS
            for name in imports(tree) if name.startswith("bookbuild.")}
    assert {name for name in used if name.split(".")[0] not in drawing._ROOMS} <= data


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


def test_a_link_in_the_cache_does_not_lead_out_of_it(tmp_path: Path) -> None:
    elsewhere, cache = tmp_path / "elsewhere", Cache(tmp_path / "linked")
    for folder in (elsewhere, tmp_path / "cache"):
        folder.mkdir()
    cache.folder.symlink_to("cache")
    (cache.folder / "batches").symlink_to(elsewhere)
    assert cache.has_batch(cache.store_batch(b"a batch"))
    assert list(elsewhere.iterdir()) == []
    assert len(list((tmp_path / "cache" / "batches").iterdir())) == 1
    assert cache.folder.is_symlink()
