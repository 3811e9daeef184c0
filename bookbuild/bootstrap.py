"""Set-up on a fresh machine with the standard library alone: an environment in `.venv`, then a command in it.

    python3 -m bookbuild.bootstrap book     installs what is needed and builds the demo course book
    python3 -m bookbuild.bootstrap test     installs what is needed and runs the tests

Further words are handed on: `test -k bellows`, `book --edition pocket`.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"


def environment_python() -> Path:
    """The environment's interpreter."""
    return ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def install(extras: str) -> None:
    """Make the environment and install the project with `extras` in it, unless that was done for this pyproject."""
    wanted = f"{extras} {hashlib.sha256((ROOT / 'pyproject.toml').read_bytes()).hexdigest()}"
    stamp = ENVIRONMENT / f"installed-{extras or 'base'}"
    if stamp.exists() and stamp.read_text() == wanted:
        return
    if not environment_python().exists():
        print(f"making an environment in {ENVIRONMENT.name}", flush=True)
        venv.create(ENVIRONMENT, with_pip=True)
    target = f".[{extras}]" if extras else "."
    print(f"installing bookbuild{target[1:]}", flush=True)
    subprocess.run(
        [environment_python(), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", target],
        cwd=ROOT,
        check=True,
    )
    stamp.write_text(wanted)


def main(words: list[str]) -> int:
    """Run one set-up command; returns its exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036 - run before pip had a say
        print("bookbuild needs Python 3.11 or newer", file=sys.stderr)
        return 3
    if not words or words[0] not in ("book", "test"):
        print(__doc__)
        return 2
    command, rest = words[0], words[1:]
    try:
        install("test" if command == "test" else "")
    except subprocess.CalledProcessError:
        print("the packages could not be installed: see pip's message above", file=sys.stderr)
        return 3
    module = ["pytest", *rest] if command == "test" else ["bookbuild", "book", *rest]
    return subprocess.run([environment_python(), "-m", *module], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
