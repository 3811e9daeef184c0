"""The watch that the safety tests rely on sees what is done, and where, whatever folder the tests are run from."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from watch_process import watch


def test_a_change_is_seen_in_the_folder_it_is_made_in(tmp_path: Path) -> None:
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    (outside / "deep").mkdir(parents=True)
    inside.mkdir()
    (outside / "gone").touch()
    (inside / "moved").touch()
    with watch() as deeds:
        shutil.rmtree(outside / "deep")
        os.rename(inside / "moved", outside / "moved")
        if os.unlink in os.supports_dir_fd:
            folder = os.open(outside, os.O_RDONLY)
            os.unlink("gone", dir_fd=folder)
            os.mkdir("made", dir_fd=folder)
            os.close(folder)
    names = {"deep", "moved"} | ({"gone", "made"} if os.unlink in os.supports_dir_fd else set())
    assert deeds.written_outside(inside) == {str(outside / name) for name in names}
    assert deeds.written_outside(inside, outside) == set()


def test_a_name_alone_is_seen_in_the_folder_the_process_is_in(tmp_path: Path) -> None:
    before = os.getcwd()
    os.chdir(tmp_path)
    try:
        with watch() as deeds:
            Path("written").write_text("")
    finally:
        os.chdir(before)
    assert deeds.written == {str(tmp_path / "written")}
    assert deeds.written_outside(tmp_path) == set()


def test_a_program_is_seen_by_its_path() -> None:
    with watch() as deeds:
        subprocess.run([sys.executable, "-c", ""], check=True)
    assert deeds.programs == {sys.executable}
