"""Reading a course from its folder, and nothing but its folder."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest
from course_texts import FILES, TUNE, Changes, inspect, write_course

from bookbuild.diagnostics import ContentError, Severity
from bookbuild.lessons.files import find_sign, inspect_course, read_course, read_tune
from bookbuild.lessons.model import Place
from bookbuild.lessons.words import DEFAULT_WORDS

posix = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes need privileges there")


def test_a_course_is_read_whole(tmp_path: Path) -> None:
    course = read_course(write_course(tmp_path))
    assert list(course.tunes) == ["lane", "mill"]
    assert course.default_edition == "studio"
    assert course.editions["studio"].instrument == "small"
    assert course.words["en"] == {**DEFAULT_WORDS, "page.week": "Lesson"}
    assert course.glossary == (("bellows", "The lungs."),)
    exercise = course.weeks[1].exercises[1]
    assert (exercise.kind, exercise.shake, exercise.introduction) == ("arrangement", ("B",), 2)
    assert (exercise.place.file, exercise.place.line) == ("weeks/two.yaml", 9)
    lane = course.tunes["lane"]
    assert lane.form == ("A", "A", "B", "B")
    assert lane.sections[1].body.chords[0].chord is None


def test_a_small_course_may_leave_folders_out(tmp_path: Path) -> None:
    files: Changes = dict.fromkeys(FILES)
    files |= {"course.yaml": "title: Small\n", "tunes/lane.yaml": TUNE}
    course, findings = inspect(tmp_path, files)
    assert findings == []
    assert course
    assert course.editions[course.default_edition].instrument == course.default_instrument
    assert course.instruments[course.default_instrument].columns * 6 == 120
    assert course.countings["american"].simple[4] == ("n", "e", "&", "a")
    assert course.words["en"] == DEFAULT_WORDS


def test_of_several_editions_and_instruments_one_must_be_named(tmp_path: Path) -> None:
    changes: Changes = {
        "course.yaml": "title: T\nweeks: [one, two]\n",
        "editions/large.yaml": "title: L\ncounting: plain\n",
        "instruments/big.yaml": FILES["instruments/small.yaml"],
    }
    _, findings = inspect(tmp_path, changes)
    assert {finding.message: finding.hint.split(": ")[1] for finding in findings} == {
        "the course does not say which edition is its own": "large, studio.",
        "the course does not say which instrument is its own": "big, small.",
    }


def test_warnings_do_not_stop_a_course(tmp_path: Path) -> None:
    changes: Changes = {
        "weeks/three.yaml": FILES["weeks/one.yaml"], "tunes/old.yml": TUNE, "notes.yaml": "x: 1\n",
        "words/de.yaml": "page.week: Woche\n",
    }
    course, findings = inspect(tmp_path, changes)
    assert course
    assert {(finding.file, finding.severity) for finding in findings} == {
        (name, Severity.WARNING) for name in ("weeks/three.yaml", "tunes/old.yml", "notes.yaml", "words/de.yaml")
    }
    assert course.words["de"]["page.week"] == "Woche"
    assert course.words["de"]["page.level"] == DEFAULT_WORDS["page.level"]


@pytest.mark.parametrize(("changes", "file", "message"), [
    ({"course.yaml": None}, "course.yaml", "does not exist"),
    ({"tunes/lane.yaml": b""}, "tunes/lane.yaml", "is empty"),
    ({"tunes/no good.yaml": TUNE}, "tunes/no good.yaml", "cannot be used as a name"),
    ({"tunes/-x.yaml": TUNE}, "tunes/-x.yaml", "cannot be used as a name"),
    ({"tunes/big.yaml": b"#" * 1_000_001}, "tunes/big.yaml", "more than 1 MB"),
    ({"tunes/lane.yaml/x": b""}, "tunes/lane.yaml", "a folder"),
    ({"grooves": b"", "grooves/step.yaml": None}, "grooves", "a file, a folder is expected"),
])
def test_files_that_cannot_be_read(changes: Changes, file: str, message: str, tmp_path: Path) -> None:
    if any(name.startswith(f"{file}/") for name in changes):
        changes = {file: None, **changes}
    course, findings = inspect(tmp_path, changes)
    assert course is None
    assert any(finding.file == file and message in finding.message and finding.hint for finding in findings), findings


def test_no_folder_and_a_file_for_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none", write_course(tmp_path) / "course.yaml"):
        course, findings = inspect_course(path)
        assert course is None
        assert "no such course folder" in findings[0].message


@posix
def test_links_are_not_followed(tmp_path: Path) -> None:
    """A file, a folder and a logo that lead outside are refused; the secret's text appears in no finding."""
    secret = tmp_path / "secret.yaml"
    secret.write_text("password: swordfish\n")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "x.yaml").write_text("password: swordfish\n")
    (tmp_path / "elsewhere" / "logo.png").write_bytes(b"png")
    changes: Changes = {"editions/studio.yaml": "title: S\ncounting: plain\nstudio: {logo: pictures/logo.png}\n"}
    course = write_course(tmp_path / "course", {**changes, "words/en.yaml": None})
    (course / "tunes" / "linked.yaml").symlink_to(secret)
    (course / "words").symlink_to(tmp_path / "elsewhere")
    (course / "pictures").symlink_to(tmp_path / "elsewhere")
    read, findings = inspect_course(course)
    assert read is None
    told = {(finding.file, finding.message.split("'")[-1]) for finding in findings}
    assert told == {
        ("tunes/linked.yaml", "this is a link"), ("words", "this folder is a link"),
        ("editions/studio.yaml", " is reached through a link"),
    }
    assert "swordfish" not in str(findings)


@posix
def test_a_pipe_or_a_device_does_not_hang_the_reader(tmp_path: Path) -> None:
    course = write_course(tmp_path)
    os.mkfifo(course / "tunes" / "pipe.yaml")
    begun = time.monotonic()
    _, findings = inspect_course(course)
    assert time.monotonic() - begun < 5
    assert [finding.file for finding in findings] == ["tunes/pipe.yaml"]


@posix
def test_a_file_name_of_strange_bytes_is_told_in_printable_text(tmp_path: Path) -> None:
    course = write_course(tmp_path)
    with open(os.fsencode(course / "tunes") + b"/\xff\n\x1b.yaml", "wb") as file:
        file.write(b"title: x\n")
    _, findings = inspect_course(course)
    assert len(findings) == 1
    assert str(findings[0]).isprintable() or str(findings[0]).replace("\n", "").isprintable()
    str(findings[0]).encode()


@posix
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root reads everything")
def test_a_file_without_permission(tmp_path: Path) -> None:
    course = write_course(tmp_path)
    (course / "tunes" / "lane.yaml").chmod(0)
    _, findings = inspect_course(course)
    assert "cannot be read" in findings[0].message


@pytest.mark.parametrize("logo", [
    "../a.png", "/etc/a.png", "a/../../b.png", "C:\\a.png", "\\\\host\\a.png", "file:///a.png", "http://x/a.png",
])
def test_a_logo_stays_inside_the_course(logo: str, tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"x")
    changes: Changes = {"editions/studio.yaml": f"title: S\ncounting: plain\nstudio: {{logo: '{logo}'}}\n"}
    course, findings = inspect(tmp_path / "course", changes)
    assert course is None
    assert "outside the course folder" in findings[0].message


def test_a_logo_inside_is_fine_and_a_huge_one_is_not(tmp_path: Path) -> None:
    edition = "title: S\ncounting: plain\nstudio: {logo: art/logo.svg}\n"
    changes: Changes = {"editions/studio.yaml": edition, "art/logo.svg": b"<svg/>"}
    assert inspect(tmp_path, changes)[1] == []
    _, findings = inspect(tmp_path, {**changes, "art/logo.svg": b" " * 4_000_001})
    assert "larger than 4 MB" in findings[0].message


def test_one_tune_alone(tmp_path: Path) -> None:
    path = tmp_path / "lane.yaml"
    path.write_text(TUNE)
    assert read_tune(path).name == "lane"
    path.write_text(TUNE.replace("C . |", "Q . |").replace("G major", "Q major"))
    with pytest.raises(ContentError) as raised:
        read_tune(path)
    told = [(finding.file, finding.line) for finding in raised.value.diagnostics]
    assert told == [("lane.yaml", 4), ("lane.yaml", 12)]
    with pytest.raises(ContentError) as raised:
        read_tune(tmp_path / "none.yaml")
    assert "does not exist" in raised.value.diagnostics[0].message


def test_the_largest_files_are_explained_in_seconds(tmp_path: Path) -> None:
    """Files near the limit of size, all wrong, in every folder at once (seconds of work, whatever else runs)."""
    junk = "".join(f"key{number}: [x, {{y: z}}]\n" for number in range(20_000))
    notes = "title: T\nmeter: 2/4\nkey: C major\ntempo: {start: 50, goal: 60}\nsections:\n" + "".join(
        f"  S{number}:\n    melody: \"{'q ' * 9_000}\"\n    chords: \"{'q | ' * 4_000}\"\n" for number in range(25)
    )
    changes: Changes = dict.fromkeys(FILES, junk)
    labels = "".join(f'page.wek{number}: "x"\n' for number in range(19_000))
    changes |= {f"words/x{letter}.yaml": labels for letter in "abcd"}
    begun = time.process_time()
    course, findings = inspect(tmp_path, {**changes, "tunes/notes.yaml": notes})
    assert course is None
    assert time.process_time() - begun < 10
    assert max(len([one for one in findings if one.file == file]) for file in FILES) <= 100


def test_a_course_of_many_large_files_is_refused_before_all_are_read(tmp_path: Path) -> None:
    tunes = {f"tunes/t{number}.yaml": "#" * 999_000 for number in range(40)}
    course, findings = inspect(tmp_path, tunes)
    assert course is None
    assert ("tunes", "the course has more than 30 MB") in {(one.file, one.message) for one in findings}
    assert len([one for one in findings if one.file.startswith("tunes/t")]) < 40


def test_a_character_is_found_where_it_first_stands(tmp_path: Path) -> None:
    (tmp_path / "tunes").mkdir()
    (tmp_path / "course.yaml").write_text("title: Plain\n", encoding="utf-8")
    (tmp_path / "tunes" / "a.yaml").write_bytes("title: Ä\r\ntext: ä 日本\r\n".encode())
    assert find_sign(tmp_path, "日") == Place("tunes/a.yaml", 2, 9)
    assert find_sign(tmp_path, "月") == Place("course.yaml")
