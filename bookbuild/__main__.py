"""The program's door: `bookbuild …` and `python -m bookbuild …`."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    from bookbuild.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
