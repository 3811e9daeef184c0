"""The demo course built clean by several Pythons: their books must be the same to the byte.

    python tests/robust/same_bytes.py /path/to/python3.11 /path/to/python3.13 [--course DIR]

Every Python needs the project's requirements; the program is taken from this source tree.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from small_book import digest, environment

CONTENT = Path(__file__).parents[2] / "content"
_TELL = "import platform, abjad; print(platform.python_version(), 'abjad', abjad.__version__)"


def build_with(python: str, course: Path, folder: Path) -> Path:
    """The book a Python makes of a course, from an empty cache."""
    out = folder / "book.pdf"
    call = [python, "-m", "bookbuild", "book", "--course", str(course), "--out", str(out), "--cache", str(folder / "c")]
    subprocess.run(call, cwd=folder, env=environment(), check=True, capture_output=True)
    return out


def main() -> int:
    """Build with each, tell, and end with 1 when the books differ."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pythons", nargs="+")
    parser.add_argument("--course", type=Path, default=CONTENT)
    words = parser.parse_args()
    sums = set()
    for python in words.pythons:
        with tempfile.TemporaryDirectory(prefix="same-") as folder:
            started = time.monotonic()
            out = build_with(python, words.course.resolve(), Path(folder))
            version = subprocess.run([python, "-c", _TELL], capture_output=True, text=True, check=True).stdout.strip()
            sums.add(digest(out))
            print(f"{digest(out)}  Python {version}, {out.stat().st_size} bytes, {time.monotonic() - started:.0f} s")
    print("the same" if len(sums) == 1 else "different")
    return int(len(sums) != 1)


if __name__ == "__main__":
    sys.exit(main())
