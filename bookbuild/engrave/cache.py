"""Drawn exercises kept between runs, by the content they were drawn from. Never holds a failure."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import shutil
import stat
from collections.abc import Iterable
from pathlib import Path

from bookbuild.diagnostics import MachineError
from bookbuild.engrave.drawn import DrawnExercise
from bookbuild.writing import write_atomically

SIZE_LIMIT = 400 << 20
"""Bytes kept at most; the least recently used go first."""
_BINARY = getattr(os, "O_BINARY", 0)
_FOLDERS = ("batches", "entries", "finished")
_OWN = re.compile(r"[0-9a-f]{64}(\.pdf)?|\.part-.*")
"""Names of the files a cache makes."""


def read_own(path: Path, most: int = SIZE_LIMIT) -> bytes:
    """The bytes of a plain file; raises OSError for links, devices and files of more than `most` bytes."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    with os.fdopen(handle, "rb") as file:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode) or found.st_size > most:
            raise OSError(errno.EINVAL, "not a file of the cache", str(path))
        return file.read(most)


def sign(key: str, body: bytes) -> str:
    """Hash of what is kept under a key, with the key, so that no file can stand in for another."""
    return hashlib.sha256(key.encode() + b"\0" + body).hexdigest()


class Cache:
    """A folder of batch PDFs, named by their own hash, and of entries that point into them.

    Every read checks what it read against its hash, so a damaged or missing file is simply engraved anew.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._checked: dict[str, bool] = {}

    def batch_path(self, batch: str) -> Path:
        """Where a batch PDF stands."""
        return self.folder / "batches" / f"{batch}.pdf"

    def _entry_path(self, key: str) -> Path:
        return self.folder / "entries" / key[:2] / key

    def has_batch(self, batch: str) -> bool:
        """Whether a batch PDF is here and whole."""
        if batch not in self._checked:
            try:
                data = read_own(self.batch_path(batch))
                self._checked[batch] = hashlib.sha256(data).hexdigest() == batch
            except OSError:
                self._checked[batch] = False
        return self._checked[batch]

    def _write(self, path: Path, data: bytes) -> None:
        """Put a file of the cache in its place; what stands in its way is damage, and goes. Raises MachineError."""
        try:
            for folder in path.relative_to(self.folder).parents:
                within = self.folder / folder
                # A link inside would lead elsewhere; the cache itself may well be one.
                if within.is_file() or (within != self.folder and within.is_symlink()):
                    within.unlink()
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            write_atomically(path, data)
        except OSError as error:
            reason = error.strerror or error
            hint = "make room there, or name another folder behind --cache"
            raise MachineError(f"cannot write to the cache in '{self.folder}': {reason}", hint) from error

    def load(self, key: str) -> DrawnExercise | None:
        """The drawn exercise of that key; None when there is none, or it was damaged, or its batch was."""
        path = self._entry_path(key)
        try:
            digest, _, body = read_own(path).decode("utf-8").partition("\n")
            if sign(key, body.encode()) != digest:
                return None
            drawn = DrawnExercise.from_text(body)
        except (OSError, ValueError, KeyError, TypeError):
            return None
        if not self.has_batch(drawn.batch):
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
            os.utime(self.batch_path(drawn.batch))
        return drawn

    def store_batch(self, data: bytes) -> str:
        """Keep a batch PDF; returns its name."""
        batch = hashlib.sha256(data).hexdigest()
        if not self.has_batch(batch):
            self._write(self.batch_path(batch), data)
            self._checked[batch] = True
        return batch

    def store(self, key: str, drawn: DrawnExercise) -> None:
        """Keep an entry; its batch must have been stored before."""
        body = drawn.to_text()
        self._write(self._entry_path(key), f"{sign(key, body.encode())}\n{body}".encode())

    def _blob_path(self, key: str) -> Path:
        return self.folder / "finished" / key

    def load_blob(self, key: str) -> bytes | None:
        """Bytes kept under a key, None when there are none or they were damaged."""
        try:
            digest, _, body = read_own(self._blob_path(key)).partition(b"\n")
        except OSError:
            return None
        if sign(key, body).encode() != digest:
            return None
        with contextlib.suppress(OSError):
            os.utime(self._blob_path(key))
        return body

    def store_blob(self, key: str, body: bytes) -> None:
        """Keep bytes under a key; a full disk costs the next build its time, not this one its success."""
        with contextlib.suppress(MachineError):
            self._write(self._blob_path(key), sign(key, body).encode() + b"\n" + body)

    def trim(self, keep: Iterable[str], limit: int = SIZE_LIMIT) -> None:
        """Delete the least recently used files over `limit` bytes, never a batch named in `keep`.

        Only files of the cache's own making are touched, whatever folder it was given.
        """
        kept = {self.batch_path(batch) for batch in keep}
        files = []
        for path in (path for name in _FOLDERS for path in (self.folder / name).rglob("*")):
            with contextlib.suppress(OSError):
                if _OWN.fullmatch(path.name) and path.is_file():
                    found = path.stat()
                    files.append((found.st_mtime, found.st_size, path))
        total = sum(size for _, size, _ in files)
        for _, size, path in sorted(files):
            if total <= limit:
                return
            if path in kept:
                continue
            with contextlib.suppress(OSError):
                path.unlink()
                total -= size
