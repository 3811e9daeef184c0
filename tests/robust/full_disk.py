"""Builds of a course while less and less room is left on a disk, told as one JSON line each.

    python tests/robust/full_disk.py DISK COURSE OUT CACHE KILOBYTES…

`DISK` is a small disk of its own; before each build the cache is emptied and the disk filled up to the kilobytes. One
process for all of them, since its imports take longer than a build.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from dataclasses import asdict
from pathlib import Path

from small_book import call_book


def leave_room(disk: Path, kilobytes: int) -> None:
    """Fill a disk until so much of it is free."""
    filler = disk / "filler"
    filler.unlink(missing_ok=True)
    about = os.statvfs(disk)
    filler.write_bytes(bytes(about.f_bavail * about.f_bsize - kilobytes * 1024))


def main() -> None:
    """Build once for each size."""
    disk, course, out, cache = map(Path, sys.argv[1:5])
    earlier = out.read_bytes()
    for kilobytes in map(int, sys.argv[5:]):
        shutil.rmtree(cache, ignore_errors=True)
        leave_room(disk, kilobytes)
        out.write_bytes(earlier)
        said = call_book(course, out, cache)
        left = sorted(path.name for path in disk.iterdir())
        print(json.dumps({**asdict(said), "same": out.read_bytes() == earlier, "left": left}), flush=True)


if __name__ == "__main__":
    main()
