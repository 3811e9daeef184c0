"""A file is put in its place whole or not at all."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest

from bookbuild.writing import write_atomically


def test_a_failed_write_leaves_the_earlier_file(tmp_path: Path) -> None:
    target = tmp_path / "book.pdf"
    write_atomically(target, b"old")
    with pytest.raises(TypeError):
        write_atomically(target, "not bytes")  # type: ignore[arg-type]
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["book.pdf"]


def test_folders_on_the_way_are_made(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a" / "b" / "book.pdf", b"new", durable=True)
    assert (tmp_path / "a" / "b" / "book.pdf").read_bytes() == b"new"


@pytest.mark.skipif(sys.platform == "win32", reason="permissions are others there")
def test_others_may_read_what_the_system_lets_them(tmp_path: Path) -> None:
    usual = os.umask(0o027)
    try:
        write_atomically(tmp_path / "book.pdf", b"new")
    finally:
        os.umask(usual)
    assert stat.S_IMODE((tmp_path / "book.pdf").stat().st_mode) == 0o640
