"""Counting tables of the course and the position rule that fills in coarser ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import yaml

from bookbuild.theory.counting import find_row, syllables
from bookbuild.theory.meter import Meter

FOLDER = Path(__file__).parents[2] / "content" / "counting"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))


@dataclass(frozen=True)
class Table:
    simple: Mapping[int, Sequence[str]] = field(default_factory=dict)
    compound: Mapping[int, Sequence[str]] = field(default_factory=dict)


def read_table(name: str) -> Table:
    content = yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))
    return Table(content["simple"], content["compound"])


def row(name: str, half: str, slots: int) -> str:
    return " ".join(find_row(Meter(2, 4) if half == "simple" else Meter(6, 8), slots, read_table(name)))


@pytest.mark.parametrize("name", NAMES)
def test_files_hold_what_a_counting_needs(name: str) -> None:
    content = yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))
    assert set(content) - {"by_value"} == {"title", "source", "simple", "compound"}
    assert content["title"]
    assert content["source"]
    for half, allowed in (("simple", {1, 2, 3, 4, 6}), ("compound", {1, 2, 3, 6})):
        assert {1, 3} & set(content[half])
        for slots, spoken in content[half].items():
            assert slots in allowed
            assert len(spoken) == slots
            assert all(isinstance(syllable, str) and syllable for syllable in spoken)


@pytest.mark.parametrize(
    ("name", "half", "slots", "spoken"),
    [
        # Wikipedia, "Counting (music)": 1 e & a; compound "One-and-ah" or "One-la-lee"; sixteenth triplets counted
        # with la li on both halves of the beat.
        ("american", "simple", 2, "n &"), ("american", "simple", 4, "n e & a"), ("american", "compound", 3, "n & a"),
        ("american", "simple", 6, "n la li & la li"), ("american-la-li", "simple", 4, "n e & a"),
        ("american-la-li", "compound", 3, "n la li"), ("american-la-li", "simple", 6, "n la li & la li"),
        # Triplets of a simple beat as 1 la li: common practice, no source.
        ("american", "simple", 3, "n la li"), ("american-la-li", "simple", 3, "n la li"),
        # Hoffman, Pelto & White, J. Music Theory Pedagogy 10 (1996) 7-30; duplets and triplets: the authors' short
        # guide (the same syllables for any division of the beat into two or three).
        ("takadimi", "simple", 2, "ta di"), ("takadimi", "simple", 4, "ta ka di mi"),
        ("takadimi", "compound", 3, "ta ki da"), ("takadimi", "compound", 6, "ta va ki di da ma"),
        ("takadimi", "simple", 3, "ta ki da"), ("takadimi", "compound", 2, "ta di"),
        # Wikipedia, "Counting (music)"; triplets and sextuplets of a simple beat: a published teaching sheet on the
        # Eastman system ("as in compound time signatures or triplets/sextuplets in simple time").
        ("eastman", "simple", 2, "n te"), ("eastman", "simple", 4, "n ta te ta"), ("eastman", "compound", 3, "n la li"),
        ("eastman", "compound", 6, "n ta la ta li ta"), ("eastman", "simple", 3, "n la li"),
        ("eastman", "simple", 6, "n ta la ta li ta"),
        # Wikipedia, "Counting (music)".
        ("froseth", "simple", 2, "n ne"), ("froseth", "simple", 4, "n ta ne ta"), ("froseth", "compound", 3, "n na ni"),
        ("froseth", "compound", 6, "n ta na ta ni ta"),
        ("french", "simple", 2, "ta té"), ("french", "simple", 4, "ta fa té fé"), ("french", "compound", 3, "ta té ti"),
        ("kodaly", "simple", 1, "ta"), ("kodaly", "simple", 2, "ti ti"), ("kodaly", "simple", 4, "ti ka ti ka"),
        # From memory.
        ("kodaly", "compound", 3, "tri o la"), ("kodaly", "simple", 3, "tri o la"),
    ],
)
def test_rows_equal_their_sources(name: str, half: str, slots: int, spoken: str) -> None:
    assert row(name, half, slots) == spoken


@pytest.mark.parametrize(
    ("meter", "slots", "spoken"),
    # Wikipedia, "Counting (music)", written out bar by bar.
    [
        ("2/4", 4, "1 e & a 2 e & a"), ("3/4", 1, "1 2 3"), ("3/4", 2, "1 & 2 & 3 &"), ("4/4", 2, "1 & 2 & 3 & 4 &"),
        ("4/4", 4, "1 e & a 2 e & a 3 e & a 4 e & a"), ("6/8", 3, "1 & a 2 & a"), ("9/8", 3, "1 & a 2 & a 3 & a"),
        ("12/8", 1, "1 2 3 4"), ("2/2", 2, "1 & 2 &"), ("2/4", 3, "1 la li 2 la li"), ("3/8", 2, "1 & 2 & 3 &"),
    ],
)
def test_whole_bars(meter: str, slots: int, spoken: str) -> None:
    assert " ".join(syllables(Meter.parse(meter), slots, read_table("american"))) == spoken


@pytest.mark.parametrize(("slots", "spoken"), [(1, "ta"), (2, "ta di"), (4, "ta ka di mi")])
def test_a_coarser_row_is_derived_by_the_position_rule(slots: int, spoken: str) -> None:
    assert " ".join(find_row(Meter(2, 4), slots, Table({4: ["ta", "ka", "di", "mi"]}))) == spoken


def test_the_coarsest_of_the_finer_rows_is_used() -> None:
    # Eastman's half beat is "te" by its row of four; the sixth in its row of six would be called "ta".
    table = Table({4: ["n", "ta", "te", "ta"], 6: ["n", "ta", "la", "ta", "li", "ta"]})
    assert find_row(Meter(2, 4), 2, table) == ("n", "te")
    assert find_row(Meter(2, 4), 3, table) == ("n", "la", "li")


@pytest.mark.parametrize(
    ("table", "meter", "slots", "reason"),
    [
        (Table({2: ["n", "&"]}), "2/4", 4, r"no syllables for 4 slots in a simple beat \(it has 2\)"),
        (Table({2: ["n", "&"]}), "6/8", 3, r"no syllables for 3 slots in a compound beat \(it has no row at all\)"),
        (Table({4: ["n", "e", "&"]}), "2/4", 2, "row for 4 slots has 3 syllables"),
        (Table({4: ["n", "e", "&", "a"]}), "2/4", 0, "no syllables for 0 slots"),
        (Table({4: ["n", "e", "&", "a"]}), "2/4", 3, "no syllables for 3 slots"),
    ],
)
def test_what_a_table_cannot_count_is_refused(table: Table, meter: str, slots: int, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        syllables(Meter.parse(meter), slots, table)
