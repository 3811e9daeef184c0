"""Files put in their place in one move, for every room that writes one."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from pathlib import Path

_BINARY = getattr(os, "O_BINARY", 0)


def write_atomically(path: Path, data: bytes, *, durable: bool = False) -> None:
    """Put `data` at `path` in one move: a reader sees the old file or the new one, never a part. Raises OSError.

    With `durable` the new file is on the disk before the old one goes, even should the power fail.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        # Python says "File exists" of a file that stands where a folder is needed.
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path.parent)) from error
    part = path.parent / f".part-{os.getpid()}-{secrets.token_hex(6)}"
    # Opened by hand, since a file of tempfile's could be read by nobody else.
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise
