"""The commands as a user meets them: what they print, what they write, their exit codes."""

from __future__ import annotations

import json
import os
import re
import sys
from argparse import Namespace
from errno import EACCES
from pathlib import Path
from typing import NoReturn

import mido
import pikepdf
import pypdfium2
import pytest

from bookbuild.cli import run
from bookbuild.cli.watch import snapshot, watch_course
from bookbuild.workshop import open_workshop

Caught = pytest.CaptureFixture[str]
ABC = """X:1
T:Kettle on the Step
M:2/4
L:1/8
K:G
|:GABc|d2 d2|edcB|A2 A2|GABc|d2 d2|edBA|G4:|
"""


@pytest.mark.engraver
def test_book_and_week(small: Path, capsys: Caught) -> None:
    assert run(["book", "--course", "course"]) == 0
    said = capsys.readouterr().out
    assert "output/book.pdf:" in said
    assert "pages, 6 exercises" in said
    assert run(["week", "1", "--course", "course", "--out", "one.pdf"]) == 0
    with pikepdf.open("one.pdf") as pdf, pikepdf.open("output/book.pdf") as book:
        assert 0 < len(pdf.pages) < len(book.pages)


@pytest.mark.engraver
def test_a_leaf_for_the_stand_names_the_book_s_pages(small: Path, capsys: Caught) -> None:
    """Where the week's words leave no room for all its music, the log says on which page of the book it stands."""
    week = small / "weeks" / "01-first-steps.yaml"
    listen = "".join(f'  - "Thing {place} to hear this week"\n' for place in range(20))
    week.write_text(week.read_text().replace('  - "Bass and chord have the same length"\n', listen))
    leaf = ["week", "1", "--stand", "--course", "course"]
    assert run(leaf) == 0
    assert "output/book-week-01-stand.pdf: 2 pages, 5 exercises" in capsys.readouterr().out
    first = Path("output/book-week-01-stand.pdf").read_bytes()
    assert run([*leaf, "--out", "again.pdf"]) == 0
    assert "5 of them reused" in capsys.readouterr().out
    assert Path("again.pdf").read_bytes() == first
    said = pypdfium2.PdfDocument(first)[0].get_textpage().get_text_bounded()
    told = re.findall(r"^(1\.\d) .* p\. (\d+)", said, re.MULTILINE)
    assert told
    assert run(["book", "--course", "course"]) == 0
    with pikepdf.open("output/book.pdf") as pdf:
        labels = [page.label for page in pdf.pages]
    book = pypdfium2.PdfDocument("output/book.pdf")
    for number, folio in told:
        page = book[len(labels) - 1 - labels[::-1].index(folio)].get_textpage().get_text_bounded()
        assert re.search(rf"^{number} ", page, re.MULTILINE), (number, folio)


@pytest.mark.engraver
def test_sheet_of_a_tune_needs_no_course(small: Path, capsys: Caught) -> None:
    tune = small / "tunes" / "lamplighters-round.yaml"
    assert run(["sheet", str(tune), "--course", "nowhere", "--out", "sheet.pdf"]) == 0
    assert "groove:" in capsys.readouterr().err
    with pikepdf.open("sheet.pdf") as pdf:
        assert len(pdf.pages) <= 2


def test_check_prints_the_ladder_and_finds_nothing(small: Path, capsys: Caught) -> None:
    assert run(["check", "--course", "course", "--suggest"]) == 0
    caught = capsys.readouterr()
    assert "First steps" in caught.out
    assert "1.5" in caught.out


@pytest.mark.parametrize("command", ["check", "book"])
def test_a_logo_that_cannot_be_drawn_is_told_before_any_music_is(small: Path, capsys: Caught, command: str) -> None:
    (small / "mark.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><text>x</text></svg>')
    edition = small / "editions" / "standard.yaml"
    edition.write_text(edition.read_text() + 'studio: {name: "Room", logo: mark.svg}\n')
    cache = Path(os.environ["BOOKBUILD_CACHE"])
    before = sorted(cache.rglob("*"))
    assert run([command, "--course", "course"]) == 1
    said = capsys.readouterr().err
    assert "mark.svg: error: the logo holds" in said
    assert sorted(cache.rglob("*")) == before


def test_check_counts_what_the_book_says_of_an_instrument_that_lacks_buttons(small: Path, capsys: Caught) -> None:
    assert run(["check", "--course", "course"]) == 0
    assert "remarks" not in capsys.readouterr().err
    edition = small / "editions" / "standard.yaml"
    edition.write_text(re.sub(r"instrument: .*", "instrument: 25-keys-8-basses", edition.read_text()))
    assert run(["check", "--course", "course"]) == 0
    assert re.search(r"remarks printed to the player: \d+, under \d of 5 exercises", capsys.readouterr().err)


@pytest.mark.engraver
@pytest.mark.parametrize("wrong", ["swaps: {lamplighters-round: nothing}\n", "papre: A5\n", "title: [\n"])
def test_an_edition_that_is_not_printed_may_be_faulty(small: Path, capsys: Caught, wrong: str) -> None:
    (small / "editions" / "studio.yaml").write_text(f'title: "Studio"\n{wrong}')
    assert run(["week", "1", "--course", "course", "--edition", "standard"]) == 0
    assert "editions/studio.yaml:2:" in capsys.readouterr().err
    for words in (["check", "--course", "course"], ["week", "1", "--course", "course", "--edition", "studio"]):
        assert run(words) == 1
        assert re.search(r"editions/studio\.yaml:\d:\d+: error: ", capsys.readouterr().err)


def test_check_tells_of_notes_beyond_the_keyboard(small: Path, capsys: Caught) -> None:
    tune = small / "tunes" / "lamplighters-round.yaml"
    tune.write_text(tune.read_text().replace("f''4", "f,4").replace("f'' d''", "f, d''"))
    assert run(["check", "--course", "course"]) == 0
    said = capsys.readouterr().err
    assert said.count("notes are moved by an octave") == 1
    assert "tunes/lamplighters-round.yaml" in said
    assert "Check the octave marks" in said


def test_every_mistake_is_told_in_one_run_with_file_line_column(small: Path, capsys: Caught) -> None:
    week = small / "weeks" / "01-first-steps.yaml"
    text = week.read_text().replace("kind: count", "kind: cont").replace("groove: promenade", "groove: promenad", 1)
    week.write_text(text)
    tune = small / "tunes" / "lamplighters-round.yaml"
    tune.write_text(tune.read_text().replace("c''4 d''", "c''4 d''8", 1))
    assert run(["book", "--course", "course"]) == 1
    said = capsys.readouterr().err
    assert "weeks/01-first-steps.yaml:" in said
    assert "tunes/lamplighters-round.yaml:" in said
    assert "Did you mean" in said or "count" in said
    assert "Traceback" not in said
    assert not Path("output/book.pdf").exists()


@pytest.mark.parametrize(("words", "part"), [
    (["week", "9", "--course", "course"], "there is no week 9"),
    (["book", "--course", "course", "--edition", "gold"], "there is no edition 'gold'"),
    (["sheet", "nothing", "--course", "course"], "there is no tune 'nothing'"),
    (["sheet", "lamplighters-round", "--groove", "x", "--course", "course"], "there is no groove 'x'"),
    (["export", "7.7", "--course", "course"], "there is no exercise 7.7"),
    (["new", "course"], "is not empty"),
    (["week", "zero"], "'zero' is not a whole number from 1 up"),
    (["week", "9" * 5000], "99…' is not a whole number"),
    (["week", "0"], "'0' is not a whole number from 1 up"),
    (["book", "--course", "course", "--out", "printed/"], "'printed/' is a folder"),
    (["book", "--course", ""], "the name is empty"),
    (["sheet", "lamplighters-round", "--groove", "waltz", "--course", "course"], "name one of: polka, promenade"),
    (["fly"], "invalid choice"),
    ([], "required"),
])
def test_a_wrong_call_is_one_clear_line_and_exit_code_2(
    small: Path, capsys: Caught, words: list[str], part: str
) -> None:
    assert run(words) == 2
    said = capsys.readouterr().err
    assert part in said
    assert "Traceback" not in said


def test_a_tune_from_outside_is_sent_to_be_imported_first(small: Path, capsys: Caught) -> None:
    (small.parent / "lane.abc").write_text("X:1\nT:Lane\nM:2/4\nL:1/8\nK:C\ncdef|g4|\n")
    assert run(["sheet", "lane.abc", "--course", "course"]) == 2
    assert "'bookbuild import lane.abc'" in capsys.readouterr().err


def test_a_course_that_is_not_there(small: Path, capsys: Caught, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(["book", "--course", "elsewhere"]) == 1
    assert "there is no such course folder" in capsys.readouterr().err
    assert run(["book", "--course", "course/course.yaml"]) == 1
    assert "not a file of it: --course course" in capsys.readouterr().err
    monkeypatch.chdir(small)
    assert run(["check"]) == 1
    assert "write --course ." in capsys.readouterr().err
    assert run(["check", "--course", "."]) == 0


def test_a_home_folder_is_found_where_the_shell_leaves_it(
    small: Path, capsys: Caught, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(small.parent))
    monkeypatch.setenv("USERPROFILE", str(small.parent))
    assert run(["check", "--course=~/course"]) == 0


def test_a_new_course_prints_for_every_instrument_and_in_every_language(small: Path, capsys: Caught) -> None:
    edition = small / "editions" / "standard.yaml"
    usual = edition.read_text()
    for instrument in ("25-keys-8-basses", "41-keys-120-basses"):
        changed = usual.replace("34-keys-72-basses", instrument).replace("language: en", "language: de")
        edition.write_text(changed)
        assert run(["check", "--course", "course"]) == 0
        assert "error" not in capsys.readouterr().err


@pytest.mark.engraver
@pytest.mark.parametrize(("meter", "bars"), [
    ("4/4", "c''8 d'' e''4 g'' e'' | d'' g' c''2"), ("2/2", "c''4 d'' e''2 | c''1"),
])
def test_a_groove_accompanies_related_meters(small: Path, capsys: Caught, meter: str, bars: str) -> None:
    """A polka's bar goes twice into 4/4: a new course has no groove of that meter, and needs none."""
    tune = f"title: Lane\nmeter: {meter}\nkey: C major\ntempo: {{start: 60, goal: 80}}\n"
    tune += f"sections:\n  A:\n    melody: {bars}\n    chords: C G7 | C\nform: A A\n"
    (small / "tunes" / "lane.yaml").write_text(tune)
    week = small / "weeks" / "01-first-steps.yaml"
    kinds = ("left-hand-one-chord", "left-hand", "fill", "together", "shake-groove", "arrangement")
    week.write_text(week.read_text() + "".join(f"  - {{kind: {k}, tune: lane, groove: polka}}\n" for k in kinds))
    assert run(["week", "1", "--course", "course"]) == 0
    assert run(["check", "--course", "course"]) == 0
    assert "error" not in capsys.readouterr().err


def test_a_new_course_s_command_can_be_pasted(small: Path, capsys: Caught) -> None:
    assert run(["new", "Kurs für Anna"]) == 0
    assert "bookbuild book --course 'Kurs für Anna'" in capsys.readouterr().out


def test_a_missing_engraver_is_the_machine_at_fault(small: Path, capsys: Caught) -> None:
    assert run(["book", "--course", "course", "--engraver", "/nowhere/lilypond"]) == 3
    assert "pip install lilypond" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_told_before_any_music_is_drawn(
    small: Path, capsys: Caught, monkeypatch: pytest.MonkeyPatch
) -> None:
    week = ["week", "1", "--course", "course", "--engraver", "/nowhere/lilypond", "--out"]
    assert run([*week, "course/course.yaml/new/a.pdf"]) == 3
    assert "course.yaml' is a file" in capsys.readouterr().err

    def refuse(dir: Path) -> NoReturn:
        raise PermissionError(EACCES, "Permission denied")

    # Root may write anywhere, so the answers of the system are made up.
    monkeypatch.setattr("os.access", lambda path, mode: Path(path) != small)
    monkeypatch.setattr("bookbuild.cli.commands.TemporaryFile", refuse)
    assert run([*week, "course/new/a.pdf"]) == 3
    assert "cannot write 'course/new/a.pdf': Permission denied\n    name another place" in capsys.readouterr().err


def test_import_without_its_extra_is_the_machines_fault(
    small: Path, capsys: Caught, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("a.mid").write_bytes(b"MThd")
    monkeypatch.setitem(sys.modules, "mido", None)
    assert run(["import", "a.mid", "--into", "course/tunes", "--course", "course"]) == 3
    assert capsys.readouterr().err.splitlines() == [
        "bookbuild: a.mid: reading MIDI needs the library mido",
        '    run: pip install "bookbuild[import]"',
    ]


def test_import_is_told_of_a_folder_and_of_a_course_that_is_not_there(small: Path, capsys: Caught) -> None:
    (small.parent / "kettle.abc").write_text(ABC)
    assert run(["import", "course", "--into", "course/tunes"]) == 1
    assert "course: is a folder" in capsys.readouterr().err
    assert run(["import", "kettle.abc", "--into", "own", "--course", "elsewhere"]) == 1
    assert "there is no such course folder" in capsys.readouterr().err
    assert not Path("own").exists()


def test_import_writes_tunes_and_never_overwrites_unasked(small: Path, capsys: Caught) -> None:
    Path("tunes.abc").write_text(ABC)
    assert run(["import", "tunes.abc", "--into", "course/tunes", "--course", "course"]) == 0
    written = small / "tunes" / "kettle-on-the-step.yaml"
    assert "chords_suggested: true" in written.read_text()
    assert "1 tune written" in capsys.readouterr().out
    written.write_text("mine")
    assert run(["import", "tunes.abc", "--into", "course/tunes", "--course", "course"]) == 1
    assert written.read_text() == "mine"
    assert run(["import", "tunes.abc", "--into", "course/tunes", "--course", "course", "--overwrite"]) == 0
    assert written.read_text() != "mine"
    assert run(["import", "no.abc", "--into", "course/tunes", "--course", "course"]) == 1


def test_export_writes_each_hand_at_each_tempo(small: Path) -> None:
    assert run(["export", "1.5", "--course", "course", "--into", "out"]) == 0
    assert (Path("out") / "1.5.musicxml").exists()
    names = {path.name.rsplit("-", 1)[0] for path in Path("out").glob("*.mid")}
    assert names == {"1.5-left", "1.5-right", "1.5-together"}
    for path in Path("out").glob("*.mid"):
        assert mido.MidiFile(path).length > 5


def test_new_course_names_its_schemas(small: Path) -> None:
    first = (small / "weeks" / "01-first-steps.yaml").read_text().splitlines()[0]
    schema = (small / "weeks" / first.split("=", 1)[1]).resolve()
    assert json.loads(schema.read_text())["title"]


@pytest.mark.engraver
def test_watch_builds_on_change_and_keeps_the_book_when_the_content_breaks(small: Path, capsys: Caught) -> None:
    week = small / "weeks" / "01-first-steps.yaml"
    good, out = week.read_text(), Path("w.pdf")
    turns = iter([
        lambda: week.write_text(good.replace("kind: count", "kind: cont")),
        lambda: None,
        lambda: week.write_text(good.replace("First steps", "Other steps")),
    ])
    sizes = []

    def again() -> bool:
        sizes.append(out.stat().st_size if out.exists() else 0)
        change = next(turns, None)
        if change is None:
            return False
        change()
        return True

    words = Namespace(course=small, edition="", week=0, stand=False)
    assert watch_course(words, open_workshop(), out, again=again) == 0
    assert sizes[0] == sizes[1] == sizes[2] > 0
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) > 2
    caught = capsys.readouterr()
    assert caught.out.count("pages") == 2
    assert "cont" in caught.err


def test_watch_does_not_wake_itself(small: Path) -> None:
    before = snapshot(small)
    assert small / "course.yaml" in before
    for name in ("output/book.pdf", "cache/entries/ab/ab12"):
        (small / name).parent.mkdir(parents=True)
        (small / name).write_bytes(b"made here")
    assert snapshot(small) == before
    (small / "logo.SVG").write_bytes(b"drawn anew")
    assert snapshot(small) != before


def test_watch_asks_for_the_week_of_a_leaf(small: Path, capsys: Caught) -> None:
    assert run(["watch", "--stand", "--course", "course"]) == 2
    assert "--week N" in capsys.readouterr().err
