"""When the machine is at fault there is one clear line, exit code 3, and the earlier PDF is as it was."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from pathlib import Path

import pytest
from small_book import ROOT, Said, call_book, command, digest, environment, is_whole, make_course, run_book

from bookbuild import workshop
from bookbuild.build import build
from bookbuild.cli import commands, run
from bookbuild.diagnostics import MachineError
from bookbuild.engrave import engine, run_batch
from bookbuild.engrave.engine import Engraver, probe_engraver
from bookbuild.workshop import Workshop, cache_folder, open_cache, open_workshop

pytestmark = pytest.mark.engraver
DONE, CALL, MACHINE = 0, 2, 3
EARLIER = b"%PDF-1.7\nan earlier book\n%%EOF\n"

VERSION = '#!/bin/sh\nif [ "$1" = --version ]; then echo "GNU LilyPond 2.24.3"; exit 0; fi\n'
BROKEN_ENGRAVERS = {
    "ends badly": VERSION + "echo the disk is on fire >&2; exit 1\n",
    "crashes": VERSION + "kill -SEGV $$\n",
    "draws nothing": VERSION + "exit 0\n",
    "draws junk": VERSION + "echo junk > book.pdf; echo junk > geometry.jsonl\n",
    "draws and does not tell": VERSION + "echo '%PDF-1.4' > book.pdf\n",
    "talks without end": VERSION + "head -c 3000000 /dev/zero; exit 1\n",
}
UNFIT_ENGRAVERS = {
    "another series": VERSION.replace("2.24.3", "2.25.1"),
    "an old one": VERSION.replace("2.24.3", "2.18.2"),
    "another program": "#!/bin/sh\necho hello\n",
    "not a program": "no program at all",
    "says nothing": "#!/bin/sh\nexit 0\n",
    "talks bytes": "#!/bin/sh\nprintf '\\377\\376 \\200 2.99.1'\n",
    "no interpreter": "#!/nowhere/sh\n",
}


@pytest.fixture
def course(tmp_path: Path) -> Path:
    return make_course(tmp_path / "course")


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """The output file with an earlier book in it."""
    path = tmp_path / "output" / "book.pdf"
    path.parent.mkdir()
    path.write_bytes(EARLIER)
    return path


def write_program(folder: Path, text: str, mode: int = 0o755) -> Path:
    path = folder / "engraver"
    path.write_text(text)
    path.chmod(mode)
    return path


def assert_clear(said: Said, code: int, *words: str) -> None:
    """One line that holds the words, one remedy, the exit code, nothing that looks like a crash."""
    assert said.code == code, said
    assert "Traceback" not in said.errors
    assert "fault of the program" not in said.errors
    lines = said.errors.splitlines()
    assert len(lines) == 2, said.errors
    assert lines[0].startswith("bookbuild: ")
    assert lines[1].startswith("    ")
    for word in words:
        assert word in said.errors


@pytest.mark.parametrize("kind", BROKEN_ENGRAVERS)
def test_a_broken_engraver(kind: str, course: Path, out: Path, tmp_path: Path) -> None:
    program = write_program(tmp_path, BROKEN_ENGRAVERS[kind])
    said = call_book(course, out, tmp_path / "cache", "--engraver", str(program))
    assert_clear(said, MACHINE, "the engraver does not work", "pip install")
    assert out.read_bytes() == EARLIER
    assert [path.name for path in out.parent.iterdir()] == ["book.pdf"]
    assert not any(path.is_file() for path in (tmp_path / "cache").rglob("*"))


@pytest.mark.parametrize("kind", UNFIT_ENGRAVERS)
def test_an_unfit_engraver(kind: str, course: Path, out: Path, tmp_path: Path) -> None:
    program = write_program(tmp_path, UNFIT_ENGRAVERS[kind])
    said = call_book(course, out, tmp_path / "cache", "--engraver", str(program))
    assert_clear(said, MACHINE, str(program), "pip install lilypond==")
    assert out.read_bytes() == EARLIER


def test_an_engraver_that_may_not_be_run_or_is_not_there(course: Path, out: Path, tmp_path: Path) -> None:
    program = write_program(tmp_path, VERSION, 0o644)
    for path in (program, tmp_path / "nowhere", tmp_path):
        said = call_book(course, out, tmp_path / "cache", "--engraver", str(path))
        assert_clear(said, MACHINE, "is not a working engraver")
    assert out.read_bytes() == EARLIER


def test_no_engraver_at_all(course: Path, out: Path, tmp_path: Path) -> None:
    (tmp_path / "hidden").mkdir()
    (tmp_path / "hidden" / "lilypond.py").write_text("raise ImportError\n")
    env = environment(PYTHONPATH=f"{tmp_path / 'hidden'}{os.pathsep}{ROOT}", PATH="")
    assert_clear(run_book(course, out, tmp_path / "cache", env=env), MACHINE, "not installed", "pip install lilypond==")
    assert out.read_bytes() == EARLIER


def test_an_engraver_that_hangs(course: Path, out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_batch, "LEAST_SECONDS", 0.3)
    monkeypatch.setattr(run_batch, "SECONDS_A_BAR", 0.0)
    program = write_program(tmp_path, VERSION + "sleep 600 & echo $! > /proc/self/fd/1; sleep 600\n")
    shop = open_workshop(tmp_path / "cache")
    hanging = Workshop(Engraver(program, "2.24.3"), shop.fonts, shop.cache, shop.created, workers=2)
    with pytest.raises(MachineError, match="does not come to an end"):
        build(course, out, hanging)
    assert out.read_bytes() == EARLIER


def test_a_program_that_does_not_tell_its_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "ANSWER_SECONDS", 0.3)
    with pytest.raises(MachineError, match="not a working engraver"):
        probe_engraver(write_program(tmp_path, "#!/bin/sh\nexec sleep 600\n"))


@pytest.mark.parametrize("damage", ["all gone", "one gone", "one cut off", "one empty", "one is something else"])
def test_fonts_that_are_missing_or_broken(
    damage: str, course: Path, out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fonts = tmp_path / "program" / "fonts"
    monkeypatch.setattr(workshop, "_HERE", fonts.parent / "bookbuild")
    if damage != "all gone":
        shutil.copytree(ROOT / "fonts", fonts)
        font = fonts / "SourceSerif4-It.ttf"
        data = {"one cut off": font.read_bytes()[:-5], "one empty": b"", "one is something else": b"x" * 90_000}
        if damage == "one gone":
            font.unlink()
        else:
            font.write_bytes(data[damage])
    said = call_book(course, out, tmp_path / "cache")
    assert_clear(said, MACHINE, "font")
    assert out.read_bytes() == EARLIER


def on_disk(options: str, disk: Path, script: str, *arguments: str) -> Said:
    """Run a shell script where `disk` is a small disk of its own (tmpfs) that is gone afterwards."""
    if (
        shutil.which("unshare") is None
        or subprocess.run(
            ["unshare", "-rm", "mount", "-t", "tmpfs", "none", str(disk)], capture_output=True, check=False
        ).returncode
    ):
        pytest.skip("this machine lets nobody mount a disk for a test (unshare -rm mount)")
    mount = f'disk=$1; shift; mount -t tmpfs -o {options} none "$disk" || exit 99\n'
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", mount + script, "sh", str(disk), *arguments],
        capture_output=True,
        text=True,
        env=environment(),
        timeout=120,
        check=False,
    )
    assert done.returncode != 99, done.stderr
    return Said(done.returncode, done.stdout, done.stderr)


FILL = 'cp "$1" "$disk/book.pdf"; shift; kept=$1; shift; head -c 100M /dev/zero > "$disk/filler" 2>/dev/null\n'
AFTER = '; code=$?; cp "$disk/book.pdf" "$kept"; ls -A "$disk" >> "$kept.names"; exit $code\n'


def test_a_full_disk_under_the_output(course: Path, out: Path, tmp_path: Path) -> None:
    disk, kept = tmp_path / "disk", tmp_path / "kept.pdf"
    disk.mkdir()
    call = command(course, disk / "book.pdf", tmp_path / "cache")
    said = on_disk("size=64k", disk, FILL + '"$@"' + AFTER, str(out), str(kept), *call)
    assert_clear(said, MACHINE, "No space left on device", f"cannot write '{disk / 'book.pdf'}'")
    assert kept.read_bytes() == EARLIER
    assert Path(f"{kept}.names").read_text().split() == ["book.pdf", "filler"]


@pytest.mark.parametrize(
    ("what", "room"), [("TMPDIR", (900, 150, 100, 50, 8)), ("cache", (150, 60, 8))], ids=["TMPDIR", "cache"]
)
def test_a_full_disk_under_the_work(what: str, room: Sequence[int], course: Path, out: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    cache = disk / "cache" if what == "cache" else tmp_path / "cache"
    script = 'TMPDIR="$disk" exec "$@"' if what == "TMPDIR" else 'exec "$@"'
    call = [sys.executable, str(Path(__file__).parent / "full_disk.py"), str(disk), str(course), str(out), str(cache)]
    ran = on_disk("size=4m", disk, script, *call, *map(str, room))
    assert ran.code == 0, ran
    ends = [json.loads(line) for line in ran.out.splitlines()]
    assert len(ends) == len(room)
    codes = [end["code"] for end in ends]
    assert {DONE, MACHINE} == set(codes), ends
    assert codes == sorted(codes)
    for end in ends:
        said = Said(end["code"], end["out"], end["errors"])
        assert set(end["left"]) <= {"filler", "cache"}
        if said.code == MACHINE:
            assert_clear(said, MACHINE)
            assert "pace left" in said.errors or "space is left" in said.errors
            assert end["same"]


def test_a_read_only_output_folder(course: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    for place in (disk / "book.pdf", disk / "new" / "book.pdf"):
        said = on_disk("ro", disk, '"$@"', *command(course, place, tmp_path / "cache"))
        assert_clear(said, MACHINE, "Read-only file system", f"cannot write '{place}'")


def test_a_read_only_cache_is_done_without(course: Path, out: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    said = on_disk("ro", disk, '"$@"', *command(course, out, disk / "cache"))
    assert said.code == DONE
    assert said.first.startswith(f"bookbuild: nothing is kept for the next run: '{disk / 'cache'}' cannot be written")
    assert is_whole(out)


def test_a_cache_that_is_a_file_is_done_without(course: Path, out: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("a file")
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    said = run_book(course, out, tmp_path / "file", env=environment(TMPDIR=str(temporary)))
    assert said.code == DONE
    assert "nothing is kept for the next run" in said.first
    assert is_whole(out)
    assert list(temporary.iterdir()) == []
    assert (tmp_path / "file").read_text() == "a file"


def test_a_user_without_a_home(course: Path, out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("HOME", raising=False)
    monkeypatch.delenv("BOOKBUILD_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert call_book(course, out, None).code == DONE
    assert (tmp_path / "xdg" / "bookbuild" / "entries").is_dir()
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert cache_folder() == tmp_path / ".cache" / "bookbuild"
    monkeypatch.setattr(Path, "home", lambda: (_ for _ in ()).throw(RuntimeError("no home")))
    assert cache_folder() is None
    cache, warning = open_cache(cache_folder())
    assert "no folder of their own" in warning
    assert cache.folder.is_dir()


def test_a_temporary_folder_that_is_not_there(course: Path, out: Path, tmp_path: Path) -> None:
    said = run_book(course, out, tmp_path / "cache", env=environment(TMPDIR=str(tmp_path / "nowhere")))
    assert said.code == DONE
    assert is_whole(out)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems only take names that are text")
def test_folders_whose_names_are_no_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    odd = tmp_path / os.fsdecode(b"\xff\xc3")
    odd.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(odd))
    out = odd / "book.pdf"
    said = call_book(make_course(odd / "course"), out, odd / "cache")
    assert said.code == DONE, said
    assert is_whole(out.rename(tmp_path / "book.pdf"))


@pytest.mark.parametrize(
    ("streams", "code"),
    [("2>&-", DONE), (">&- 2>&-", DONE), ("2>/dev/full", DONE), (">/dev/full", MACHINE), ("2>&1 | :", DONE)],
)
def test_a_book_is_made_where_nobody_can_hear_of_it(streams: str, code: int, course: Path, tmp_path: Path) -> None:
    call = command(course, tmp_path / "book.pdf", None)
    # A cache that is none gives it something to say before it works.
    env = environment(BOOKBUILD_CACHE=str(course / "course.yaml"), PYTHONUNBUFFERED=None)
    script = f'exec 3>&1; {{ "$@"; echo $? >&3; }} {streams}'
    done = subprocess.run(["sh", "-c", script, "sh", *call], capture_output=True, text=True, env=env, check=False)
    assert done.stdout.split()[-1] == str(code), done
    assert is_whole(tmp_path / "book.pdf")
    assert "Exception" not in done.stderr
    assert "Traceback" not in done.stderr


def test_a_file_where_a_folder_is_needed_is_told_as_such(
    course: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_bytes(EARLIER)
    assert run(["export", "all", "--course", str(course), "--into", str(tmp_path / "file")]) == MACHINE
    assert f"{tmp_path / 'file'}: Not a directory" in capsys.readouterr().err
    assert (tmp_path / "file").read_bytes() == EARLIER


def test_an_output_that_is_no_pdf_is_never_replaced(course: Path, tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("my notes")
    for name in (text, tmp_path, Path("/dev/null"), course / "course.yaml"):
        said = call_book(course, name, tmp_path / "cache")
        assert_clear(said, CALL, str(name), "--out")
    assert text.read_text() == "my notes"
    assert not Path("/dev/null").is_file()


def test_an_engraver_killed_by_the_system(course: Path, out: Path, tmp_path: Path) -> None:
    # As a machine short of memory would.
    program = write_program(tmp_path, VERSION + "kill -9 $$\n")
    said = run_book(course, out, tmp_path / "cache", "--engraver", str(program))
    assert_clear(said, MACHINE, "ended by the system")
    assert out.read_bytes() == EARLIER


def test_the_bounds_of_a_run_are_set(tmp_path: Path) -> None:
    program = write_program(tmp_path, VERSION + "ulimit -a >&2; env >&2; pwd >&2; exit 1\n")
    with pytest.raises(engine.EngraverFailure) as failure:
        engine.run_engraver(Engraver(program, "2.24.3"), "", tmp_path / "work", seconds=41)
    said = failure.value.log
    assert str(engine.MEMORY_LIMIT // 1024) in said
    assert "42" in said
    assert str(tmp_path / "work") in said
    assert "PYTHONPATH" not in said
    assert "PATH=/" not in said.replace("PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "")


@pytest.mark.parametrize(
    ("said", "fine"),
    [
        ("input.ly:3:1: warning: bar check failed at: 1/2", False),
        ("programming error: no glyph; continuing, cross fingers", False),
        ("Fontconfig warning: \"/etc/fonts/fonts.conf\", line 1: unknown element", True),
        ("GC Warning: Failed to expand heap by 16384 KiB", True),
        ("", True),
    ],
)
def test_what_an_engraver_says_counts_though_it_ends_well(said: str, fine: bool, tmp_path: Path) -> None:
    program = write_program(tmp_path, VERSION + f"cat <<'END' >&2\n{said}\nEND\necho PDF > book.pdf; exit 0\n")
    with nullcontext() if fine else pytest.raises(engine.EngraverFailure, match=said[:12]):
        engine.run_engraver(Engraver(program, "2.24.3"), "", tmp_path / "work", seconds=41)


def test_a_bound_of_the_machine_on_files_is_told(tmp_path: Path) -> None:
    program = write_program(tmp_path, VERSION + "kill -XFSZ $$\n")
    with pytest.raises(MachineError, match="may not write files as large"):
        engine.run_engraver(Engraver(program, "2.24.3"), "", tmp_path / "work", seconds=41)


@pytest.mark.parametrize("said", ["GC Warning: Failed to expand heap", "GLib-ERROR **: creating thread 'pango'"])
def test_short_memory_is_no_fault_of_the_program(said: str, course: Path, tmp_path: Path) -> None:
    program = write_program(tmp_path, VERSION + f'echo "{said}" >&2\nexit 1\n')
    ended = call_book(course, tmp_path / "book.pdf", tmp_path / "cache", "--engraver", str(program))
    assert_clear(ended, MACHINE, "too little memory", "--workers 1")


def test_bounds_stay_below_those_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []
    infinite = engine.resource.RLIM_INFINITY
    monkeypatch.setattr(engine.resource, "setrlimit", lambda kind, pair: asked.append(pair))
    for highest, expected in ((infinite, 1000), (5000, 1000), (70, 70)):
        monkeypatch.setattr(engine.resource, "getrlimit", lambda kind, highest=highest: (highest, highest))
        engine._bound(0, 1000)
        assert asked[-1] == (expected, expected)

    def refuse(kind: int, pair: tuple[int, int]) -> None:
        raise ValueError("not allowed to raise maximum limit")

    monkeypatch.setattr(engine.resource, "setrlimit", refuse)
    engine._bound(0, 1000)


def test_the_cache_deletes_only_its_own_files(tmp_path: Path) -> None:
    from bookbuild.engrave.cache import Cache

    cache = Cache(tmp_path)
    cache.store_batch(b"x" * 1000)
    for name in ("letter.txt", "batches/letter.txt", "entries/photo.jpg", "finished/list.pdf"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"y" * 5000)
    cache.trim([], limit=0)
    left = sorted(path.name for path in tmp_path.rglob("*") if path.is_file())
    assert left == ["letter.txt", "letter.txt", "list.pdf", "photo.jpg"]


@pytest.fixture
def usual_umask() -> Iterator[None]:
    before = os.umask(0o022)
    yield
    os.umask(before)


def test_files_can_be_read_by_others(usual_umask: None, course: Path, out: Path, tmp_path: Path) -> None:
    assert call_book(course, out, tmp_path / "cache").code == DONE
    assert out.stat().st_mode & 0o777 == 0o644
    first = digest(out)
    out.unlink()
    assert call_book(course, out, tmp_path / "cache").code == DONE
    assert out.stat().st_mode & 0o777 == 0o644
    assert digest(out) == first


@pytest.mark.parametrize("error", [KeyError("x"), RecursionError("deep"), MemoryError(), OSError(28, "No space left")])
def test_what_nobody_foresaw_is_told_without_a_traceback(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(words: object) -> int:
        raise error

    monkeypatch.setattr(commands, "run_book", fail)
    assert run(["book"]) == MACHINE
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert lines[0].startswith("bookbuild: ")


def test_messages_do_not_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["book", "--course", "\x1b[2J\u202eevil\r\x07"]) != DONE
    said = capsys.readouterr().err
    assert "evil" in said
    assert not {"\x1b", "\u202e", "\r", "\x07"} & set(said)
