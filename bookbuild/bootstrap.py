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
OLDEST, BEYOND = (3, 11), (3, 15)
"""The first Python that is served, and the first that is not yet, as in pyproject.toml."""


def environment_python() -> Path:
    """The environment's interpreter."""
    return ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def has_pip() -> bool:
    """Whether the environment is there and whole: one that was broken off while it was made has no pip."""
    if not environment_python().exists():
        return False
    return subprocess.run([environment_python(), "-m", "pip", "--version"], capture_output=True).returncode == 0


def make_environment() -> None:
    """Make the environment, over what may be left of an earlier try. Raises CalledProcessError or OSError."""
    print(f"making an environment in {ENVIRONMENT.name}", flush=True)
    venv.create(ENVIRONMENT, with_pip=True, clear=True)


def make_stamp(extras: str) -> tuple[Path, str]:
    """The file that says what was installed, and what it holds when that was the project with `extras` as it is now."""
    wanted = f"{extras} {hashlib.sha256((ROOT / 'pyproject.toml').read_bytes()).hexdigest()}"
    return ENVIRONMENT / f"installed-{extras or 'base'}", wanted


def install(extras: str) -> None:
    """Install the project with `extras` in the environment. Raises CalledProcessError or OSError."""
    stamp, wanted = make_stamp(extras)
    target = f".[{extras}]" if extras else "."
    print(f"installing bookbuild{target[1:]}", flush=True)
    subprocess.run(
        [environment_python(), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", target],
        cwd=ROOT,
        check=True,
    )
    stamp.write_text(wanted)


def set_up(extras: str) -> str:
    """Make the environment ready, unless it is; what to tell where that failed, '' where it did not."""
    stamp, wanted = make_stamp(extras)
    if stamp.exists() and stamp.read_text() == wanted:
        return ""
    try:
        if not has_pip():
            make_environment()
    except (subprocess.CalledProcessError, OSError) as error:
        return (f"the environment could not be made: {error}\n"
                "    on Debian and Ubuntu install python3-venv first; elsewhere check the folder's rights and its room")
    try:
        install(extras)
    except (subprocess.CalledProcessError, OSError):
        return "the packages could not be installed: see pip's message above"
    return ""


def main(words: list[str]) -> int:
    """Run one set-up command; returns its exit code."""
    if not OLDEST <= sys.version_info[:2] < BEYOND:
        first, last = ".".join(map(str, OLDEST)), f"{BEYOND[0]}.{BEYOND[1] - 1}"
        print(f"bookbuild needs Python {first} to {last}, and this is {sys.version.split()[0]}", file=sys.stderr)
        return 3
    if not words or words[0] not in ("book", "test"):
        print(__doc__)
        return 2
    command, rest = words[0], words[1:]
    failure = set_up("test" if command == "test" else "")
    if failure:
        print(failure, file=sys.stderr)
        return 3
    module = ["pytest", *rest] if command == "test" else ["bookbuild", "book", *rest]
    return subprocess.run([environment_python(), "-m", *module], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
