"""Files written from imported tunes: names, nothing overwritten, what is written is read back the same."""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from bookbuild.diagnostics import MachineError
from bookbuild.importers.abc import read_abc
from bookbuild.importers.assemble import fit_tempo, make_slug
from bookbuild.importers.titles import clean_text
from bookbuild.importers.write import has_chords, write_tunes
from bookbuild.lessons.files import read_tune
from bookbuild.theory.meter import Meter

TUNE = 'X:{n}\nT:{title}\nC:Trad.\nM:2/4\nL:1/8\nK:G\n|:"G"G2B2|"D7"A2F2:|\n\n'


def hundred() -> str:
    return "".join(TUNE.format(n=n, title="Same Name" if n % 2 else f"Tune {n}") for n in range(100))


def test_a_hundred_tunes_give_a_hundred_files_and_rows(tmp_path: Path) -> None:
    rows = write_tunes(read_abc(hundred(), "many.abc"), tmp_path)
    files = sorted(path.name for path in tmp_path.iterdir())
    assert len(files) == len(rows) == 100
    assert sorted(row.written.name for row in rows if row.written) == files
    assert "same-name.yaml" in files
    assert "same-name-50.yaml" in files
    assert (rows[1].source, rows[1].title, rows[1].bars, rows[1].key, rows[1].meter) == (
        "many.abc", "Same Name", 2, "G major", "2/4")


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    items = read_abc(TUNE.format(n=1, title='Quotes " and: # signs'), "t.abc")
    row = write_tunes(items, tmp_path)[0]
    assert row.written is not None
    assert items[0].tune is not None
    again = read_tune(row.written)
    assert replace(again, place=items[0].tune.place) == items[0].tune


def test_nothing_is_overwritten_unless_told(tmp_path: Path) -> None:
    items = read_abc(TUNE.format(n=1, title="One"), "t.abc")
    path = tmp_path / "one.yaml"
    path.write_text("mine")
    assert write_tunes(items, tmp_path)[0].reason == "one.yaml exists and was kept"
    assert path.read_text() == "mine"
    assert write_tunes(items, tmp_path, overwrite=True)[0].written == path
    assert path.read_text() != "mine"


def test_refused_tunes_have_a_row_and_no_file(tmp_path: Path) -> None:
    items = read_abc("X:1\nT:Bad\nM:2/4\nL:1/8\nK:C\nC9|]\n\n" + TUNE.format(n=2, title="Good"), "t.abc")
    rows = write_tunes(items, tmp_path)
    told = [(row.title, bool(row.written), bool(row.reason)) for row in rows]
    assert told == [("Bad", False, True), ("Good", True, False)]
    assert [path.name for path in tmp_path.iterdir()] == ["good.yaml"]


def test_a_tune_can_be_finished_before_it_is_written(tmp_path: Path) -> None:
    items = read_abc(TUNE.format(n=1, title="One"), "t.abc")
    rows = write_tunes(items, tmp_path, finish=lambda tune: replace(tune, chords_suggested=True))
    assert rows[0].written is not None
    assert "chords_suggested: true" in rows[0].written.read_text()
    assert any("check them" in note for note in rows[0].notes)


def test_has_chords() -> None:
    with_chords = read_abc(TUNE.format(n=1, title="One"), "t.abc")[0].tune
    without = read_abc("X:1\nM:2/4\nL:1/8\nK:C\nC4|\n", "t.abc")[0].tune
    assert with_chords is not None
    assert without is not None
    assert has_chords(with_chords)
    assert not has_chords(without)
    stray = read_abc('X:1\nM:2/4\nL:1/8\nK:C\nC4|E4|G4|"C"C4|\n', "t.abc")
    assert stray[0].tune is not None
    assert not has_chords(stray[0].tune)
    alone = read_abc('X:1\nM:2/4\nL:1/8\nK:C\n"Am"' + "C4|" * 12 + "\n", "t.abc")
    assert alone[0].tune is not None
    assert not has_chords(alone[0].tune)


def test_stray_chords_are_replaced_and_told(tmp_path: Path) -> None:
    items = read_abc('X:1\nM:2/4\nL:1/8\nK:C\nC4|E4|G4|"C"C4|\n', "t.abc")
    rows = write_tunes(items, tmp_path, finish=lambda tune: replace(tune, chords_suggested=True))
    assert any("too few chords" in note for note in rows[0].notes)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root writes everywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(MachineError, match="cannot be written"):
        write_tunes(read_abc(TUNE.format(n=1, title="One"), "t.abc"), tmp_path)


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "tunes").write_text("a file")
    with pytest.raises(MachineError, match="cannot be written"):
        write_tunes(read_abc(TUNE.format(n=1, title="One"), "t.abc"), tmp_path / "tunes")
    assert [path.name for path in tmp_path.iterdir()] == ["tunes"]


@pytest.mark.parametrize(("title", "slug"), [
    ("The Reel's End", "the-reels-end"), ("Ça & là — №1", "ca-la-no1"), ("…", "tune"), ("A" * 200, "a" * 60),
    ("../../etc/passwd", "etc-passwd"), ("CON.", "con-tune"), ("Com 1", "com-1"), ("COM1", "com1-tune"),
    ("Console", "console")])
def test_slugs_are_plain_file_names(title: str, slug: str) -> None:
    assert make_slug(title) == slug


def test_texts_lose_what_cannot_be_printed() -> None:
    assert clean_text("a\u2028b\x07c\u202ed  e\n") == "a b c d e"


def test_tempi_are_counted_in_the_meters_beat() -> None:
    assert fit_tempo(Meter(6, 8), (Fraction(3, 8), Fraction(120))).goal == 120
    assert fit_tempo(Meter(6, 8), (Fraction(1, 8), Fraction(360))).goal == 120
    tempo = fit_tempo(Meter(2, 2), (Fraction(1, 4), Fraction(200)))
    assert (tempo.goal, tempo.start, tempo.beat) == (100, 60, Fraction(1, 2))
