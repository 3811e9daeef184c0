"""What this process does to the machine while it is watched: programs started, files written, sockets used."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_STARTS = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.startfile", "pty.spawn")
_CHANGES = {
    "os.remove": (0, 1),
    "os.rmdir": (0, 1),
    "os.mkdir": (0, 2),
    "os.rename": (1, 3),
    "os.link": (1, 3),
    "os.symlink": (1, 2),
    "os.truncate": (0, None),
    "shutil.rmtree": (0, 1),
}
"""Audit events that change a folder, and of their arguments the name made or taken away and the folder it is in."""


@dataclass
class Deeds:
    """What was done: programs by path, files opened for reading and writing or changed otherwise, sockets."""

    programs: set[str] = field(default_factory=set)
    read: set[str] = field(default_factory=set)
    written: set[str] = field(default_factory=set)
    sockets: list[str] = field(default_factory=list)

    def written_outside(self, *folders: Path) -> set[str]:
        """Files written that lie in none of the folders."""
        return {name for name in self.written if not _inside(name, folders)}

    def read_inside(self, folder: Path) -> set[str]:
        """Files read that lie in a folder."""
        return {name for name in self.read if _inside(name, (folder,))}


def _inside(name: str, folders: tuple[Path, ...]) -> bool:
    path = Path(name).resolve()
    return any(path.is_relative_to(folder.resolve()) for folder in folders)


_watching: list[Deeds] = []


def _full_name(path: str | bytes | os.PathLike[Any], folder: int | None) -> str:
    """The name as it is meant now: in an open folder, by its number, or in the folder the process is in."""
    base = os.getcwd() if folder is None or folder < 0 else _open_folder(folder)
    return os.path.join(base, os.fsdecode(path))


def _open_folder(number: int) -> str:
    if sys.platform == "darwin":
        import fcntl

        return os.fsdecode(fcntl.fcntl(number, fcntl.F_GETPATH, bytes(1024)).rstrip(b"\0"))
    return os.readlink(f"/proc/self/fd/{number}")


def _note(event: str, arguments: tuple[Any, ...]) -> None:
    if not _watching:
        return
    deeds = _watching[-1]
    if event == "open":
        path, mode, flags = arguments
        if isinstance(path, (str, bytes, os.PathLike)):
            writing = bool((flags or 0) & _WRITING) or any(letter in (mode or "") for letter in "wax+")
            (deeds.written if writing else deeds.read).add(_full_name(path, None))
    elif event in _STARTS:
        deeds.programs.add(os.fsdecode(arguments[0]))
    elif event in _CHANGES:
        name, folder = _CHANGES[event]
        deeds.written.add(_full_name(arguments[name], None if folder is None else arguments[folder]))
    elif event in ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto"):
        deeds.sockets.append(f"{event} {arguments[1:]}")


sys.addaudithook(_note)


@contextmanager
def watch() -> Iterator[Deeds]:
    """Record what this process does, its threads included (children of it are not seen)."""
    _watching.append(Deeds())
    try:
        yield _watching[-1]
    finally:
        _watching.pop()
