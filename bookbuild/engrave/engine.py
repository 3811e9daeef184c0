"""The engraver program: where it is, and one bounded run of it. The only module that starts a process."""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from importlib import metadata
from pathlib import Path

from bookbuild.diagnostics import MachineError

if sys.platform != "win32":
    # Not where it is used: between fork and exec nothing may be imported.
    import resource

MEMORY_LIMIT = 3 << 30
"""Bytes of address space a run may take."""
FILE_LIMIT = 1 << 30
"""Bytes a file of a run may hold."""
MOST_SAID = 1 << 16
"""Bytes of an engraver's own words that are read."""
LEAST_ROOM = 4 << 20
"""Bytes free in the work folder below which a failed run is put down to a full disk."""
CORE_VERSION = "2.24"
PACKAGE = "lilypond==2.24.3"
"""What pip installs; its wheels are made for x86-64 alone."""
ANSWER_SECONDS = 20.0
"""How long a program may take to tell its version."""
_WARNING = re.compile(r"^(?!Fontconfig|GC Warning).*\b(?:warning|error): ", re.MULTILINE | re.IGNORECASE)
"""What a run must not say, even where it ends well; the libraries under it may grumble about the machine's own fonts
and its memory."""


@dataclass(frozen=True)
class Engraver:
    """A found engraver: its program and its version."""

    path: Path
    version: str

    @cached_property
    def identity(self) -> str:
        """Version and hash of the program: another build of the same version may draw otherwise."""
        with contextlib.suppress(OSError):
            return f"{self.version} {hashlib.sha256(self.path.read_bytes()).hexdigest()}"
        return self.version


_NO_MEMORY = re.compile(r"out of memory|failed to expand heap|bad_alloc|creating thread", re.IGNORECASE)
_LESS_AT_ONCE = "build again, with --workers 1 if memory is short"


class EngraverFailure(Exception):
    """A run that did not end well; `log` is what the engraver said. `late` runs were ended for taking too long."""

    def __init__(self, log: str, late: bool = False) -> None:
        super().__init__(log, late)
        self.log = log
        self.late = late


class Runs:
    """The runs that belong together: those that have not ended, and whether any more may begin."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: set[int] = set()
        self._closed = False

    def begin(self, start: Callable[[], subprocess.Popen[bytes]]) -> subprocess.Popen[bytes]:
        """Start a run; raises EngraverFailure when no more may begin."""
        with self._lock:
            if self._closed:
                raise EngraverFailure("it was given up before it had drawn", late=True)
            child = start()
            self._running.add(child.pid)
            return child

    def end(self, child: subprocess.Popen[bytes]) -> None:
        """Make sure that a run is over."""
        if child.poll() is None:
            _kill(child.pid)
            child.wait()
        with self._lock:
            self._running.discard(child.pid)

    def close(self) -> None:
        """Let none begin any more, and end all that have begun: nobody waits for what they draw."""
        with self._lock:
            self._closed = True
            for pid in self._running:
                _kill(pid)


def tell_install(*, anew: bool = False) -> str:
    """How this machine gets its engraver: as a package where one is made for its processor."""
    if platform.machine().lower() in ("x86_64", "amd64"):
        return f"run: pip install {'--force-reinstall ' * anew}{PACKAGE}"
    return (f"no package of it is made for this processor: install LilyPond {CORE_VERSION} from your system's packages "
            "so that it lies on the PATH, or name it behind --engraver")


def find_engraver(configured: str = "") -> Engraver:
    """The engraver to use: a configured path, then the installed wheel, then the PATH; raises MachineError."""
    if configured:
        return probe_engraver(Path(configured))
    try:
        import lilypond

        path = Path(lilypond.executable())
        if path.exists():
            return Engraver(path, metadata.version("lilypond"))
    except ImportError:
        pass
    found = shutil.which("lilypond")
    if not found:
        raise MachineError("the engraver (LilyPond) is not installed", tell_install())
    return probe_engraver(Path(found))


def probe_engraver(path: Path) -> Engraver:
    """Ask a program for its version; raises MachineError when it is missing or of another series."""
    try:
        answer = subprocess.run(
            [str(path), "--version"], capture_output=True, timeout=ANSWER_SECONDS, check=True, stdin=subprocess.DEVNULL
        )
        version = answer.stdout.decode("utf-8", "replace").split()[2]
    except (OSError, subprocess.SubprocessError, IndexError) as error:
        raise MachineError(f"'{path}' is not a working engraver", tell_install()) from error
    if not version.startswith(CORE_VERSION):
        raise MachineError(f"'{path}' is LilyPond {version}; this book needs {CORE_VERSION}", tell_install())
    return Engraver(path.resolve(), version)


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back what asks this program to end (POSIX only).

    While it makes a copy of itself Python would lose that word, and a run just begun is not yet known to those who end
    it.
    """
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT, signal.SIGTERM, signal.SIGHUP))
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _limit_child(seconds: float) -> None:
    """In the child, before the engraver starts: bound memory, work and file sizes, forbid core files (POSIX only).

    The bound on work ends it even when this program is killed and nobody waits any more. Nothing here takes a lock,
    which another thread may hold while this program is copied.
    """
    if sys.platform != "win32":
        _bound(resource.RLIMIT_AS, MEMORY_LIMIT)
        _bound(resource.RLIMIT_FSIZE, FILE_LIMIT)
        _bound(resource.RLIMIT_CPU, int(seconds) + 1)
        _bound(resource.RLIMIT_CORE, 0)
        signal.pthread_sigmask(signal.SIG_SETMASK, ())


def _bound(kind: int, most: int) -> None:
    """Bound one resource of this process, by less where the machine's own bound is lower; some systems know fewer."""
    if sys.platform != "win32":
        _, highest = resource.getrlimit(kind)
        value = most if highest == resource.RLIM_INFINITY else min(most, highest)
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(kind, (value, value))


def _child_environment(work: Path) -> dict[str, str]:
    kept = {name: os.environ[name] for name in ("SYSTEMROOT", "SYSTEMDRIVE") if name in os.environ}
    return {
        **kept,
        "TMPDIR": str(work),
        "HOME": str(work),
        "XDG_CACHE_HOME": str(work.parent / "fontcache"),
        "LANG": "C",
        # Collecting garbage took 40 % of a run's time; the prelude turns it on when the heap has grown.
        "GC_DONT_GC": "1",
    }


def start_engraver(engraver: Engraver, source: str, work: Path, *, seconds: float,
                   orders: int = subprocess.DEVNULL) -> subprocess.Popen[bytes]:
    """Start to engrave `source` in the empty folder `work`: at most `seconds` of computing, `orders` as its input.

    Raises MachineError when it cannot be started.
    """
    command = [
        str(engraver.path),
        "--loglevel=WARNING",
        "-dbackend=cairo",
        "--pdf",
        "-dno-point-and-click",
        "-dwarning-as-error",
        "--output=book",
        "input.ly",
    ]
    posix = sys.platform != "win32"
    lay_out(work, source)
    try:
        with (work / "log").open("wb") as log:
            return subprocess.Popen(
                command,
                cwd=work,
                stdin=orders,
                stdout=log,
                stderr=log,
                env=_child_environment(work),
                start_new_session=posix,
                preexec_fn=partial(_limit_child, seconds) if posix else None,
            )
    except OSError as error:
        raise MachineError(f"the engraver could not be started: {error}", tell_install(anew=True)) from error


def end_copy(pid: int) -> None:
    """End a copy that a run has made of itself."""
    if sys.platform != "win32":
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.kill(pid, signal.SIGKILL)


def run_engraver(engraver: Engraver, source: str, work: Path, *, seconds: float, runs: Runs | None = None) -> Path:
    """Engrave `source` in the empty folder `work`, as one of some `runs`; returns the PDF's path.

    Warnings count as errors, since a failed bar check alone would end well. Raises EngraverFailure when the engraver
    says anything is wrong or takes longer than `seconds`, MachineError when it cannot be started at all.
    """
    runs = runs or Runs()
    child = runs.begin(lambda: start_engraver(engraver, source, work, seconds=seconds))
    try:
        code = child.wait(seconds)
    except subprocess.TimeoutExpired as error:
        raise too_late(seconds) from error
    finally:
        runs.end(child)
    return take_result(work, code)


def too_late(seconds: float) -> EngraverFailure:
    """The failure of a run that took longer than `seconds`."""
    return EngraverFailure(f"it took longer than {seconds:.0f} seconds", late=True)


def take_result(work: Path, code: int = 0) -> Path:
    """The PDF of a run in `work` that ended with `code`; raises EngraverFailure, or MachineError on a full disk."""
    said = read_log(work)
    pdf = work / "book.pdf"
    if code or not pdf.exists():
        check_room(work, code)
        if _NO_MEMORY.search(said):
            raise MachineError("the engraver has too little memory, or may not start threads", _LESS_AT_ONCE)
        raise EngraverFailure(said or f"it ended with code {code} and no PDF")
    check_log(said)
    return pdf


def check_log(said: str) -> None:
    """Raise EngraverFailure when the engraver said in a run that anything is wrong."""
    if _WARNING.search(said):
        raise EngraverFailure(said)


def read_log(work: Path) -> str:
    """What the engraver said in a run, or the beginning of it."""
    with (work / "log").open("rb") as log:
        return log.read(MOST_SAID).decode("utf-8", "replace").strip()


def lay_out(work: Path, source: str) -> None:
    """Put the engraver's input into its work folder; raises MachineError."""
    try:
        work.mkdir(parents=True, exist_ok=True)
        (work / "input.ly").write_text(source, encoding="utf-8")
    except OSError as error:
        raise MachineError(f"cannot write in {work.parent.parent}: {error.strerror or error}",
                           "make room there, or name another folder in TMPDIR") from error


def check_room(work: Path, code: int = 0) -> None:
    """Raise MachineError when a failed run is put down to the machine, of which the engraver may say nothing.

    `code` is how the run ended: the system ends a program whose files outgrow a bound of the machine's, or one of many
    when memory is short.
    """
    if sys.platform != "win32" and code == -signal.SIGKILL:
        raise MachineError("the engraver was ended by the system", _LESS_AT_ONCE)
    if sys.platform != "win32" and code == -signal.SIGXFSZ:
        raise MachineError("the engraver may not write files as large as it needs", "raise the bound (ulimit -f)")
    if shutil.disk_usage(work).free < LEAST_ROOM:
        raise MachineError(f"no space is left for the engraver in {work.parent.parent}",
                           "make room there, or name another folder in TMPDIR")


def _kill(pid: int) -> None:
    """End a run and all it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        if sys.platform == "win32":
            os.kill(pid, signal.SIGTERM)
        else:
            os.killpg(pid, signal.SIGKILL)
