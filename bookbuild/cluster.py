"""Engraving on a running cluster: the same tasks through the same executor seam (optional extra `[cluster]`)."""

from __future__ import annotations

import hashlib
import logging
import re
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from bookbuild.diagnostics import CallError, MachineError
from bookbuild.engrave.batch import fonts_digest
from bookbuild.finished import program_digest

ANSWER_SECONDS = 10.0
"""How long a scheduler, and then its first worker, may take to answer."""
_ADDRESS = re.compile(r"(?:(?:tcp|tls|wss?)://)?(?:[\w.-]+|\[[0-9a-fA-F:]+\]):[0-9]{1,5}")


@dataclass(frozen=True)
class Equipment:
    """What must be the same wherever a part of a book is drawn: hashes of this program, the engraver and the fonts."""

    program: str
    engraver: str
    fonts: str


@cache
def tell_equipment(engraver: Path, fonts: Path) -> Equipment:
    """The equipment of the machine this runs on; empty where the engraver cannot be read."""
    try:
        drawing = hashlib.sha256(engraver.read_bytes()).hexdigest()
    except OSError:
        drawing = ""
    return Equipment(program_digest(), drawing, fonts_digest(fonts))


def compare_equipment(wanted: Equipment, found: object, where: str) -> None:
    """Raise MachineError when a machine of the cluster would draw otherwise, or could not at all."""
    if found == wanted:
        return
    hint = "install the same version of bookbuild there as here, at the same path, with its engraver and fonts"
    if not isinstance(found, Equipment):
        raise MachineError(f"{where} of the cluster cannot run this bookbuild: {found}", hint)
    named = {"program": "another version of bookbuild", "engraver": "another engraver", "fonts": "other fonts"}
    other = [words for name, words in named.items() if getattr(found, name) != getattr(wanted, name)]
    raise MachineError(f"{where} of the cluster has {' and '.join(other)}", hint)


def run_alike(wanted: Equipment, engraver: Path, fonts: Path, task: Callable[..., Any], *arguments: Any) -> Any:
    """Run a task in a worker, unless that has come from elsewhere since the cluster was looked at."""
    compare_equipment(wanted, tell_equipment(engraver, fonts), "a worker")
    return task(*arguments)


@dataclass(frozen=True)
class ClusterExecutor(Executor):
    """Hands tasks to the cluster's own executor, each with the equipment it must be run with."""

    inner: Executor
    engraver: Path
    fonts: Path

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As every executor; tasks are functions with plain arguments."""
        wanted = tell_equipment(self.engraver, self.fonts)
        return self.inner.submit(run_alike, wanted, self.engraver, self.fonts, fn, *args, **kwargs)


@contextmanager
def connect(address: str, engraver: Path, fonts: Path) -> Iterator[Executor]:
    """An executor on the dask scheduler at `address` (such as tcp://127.0.0.1:8786).

    The scheduler and every worker need bookbuild, the engraver and the fonts, the same and at the same paths. Raises
    MachineError without the extra, without workers, when they are not the same and when they are lost on the way,
    CallError when nothing answers at the address.
    """
    client = _open_client(address)
    try:
        _look_round(client, tell_equipment(engraver, fonts), engraver, fonts)
        yield ClusterExecutor(client.get_executor(pure=False), engraver, fonts)
    except _losses() as error:
        hint = "look at the logs of its scheduler and workers, then build again"
        raise MachineError("the cluster was lost while it worked", hint) from error
    except (ImportError, RuntimeError) as error:
        if isinstance(error, RuntimeError) and "deserialization" not in str(error):
            raise
        compare_equipment(tell_equipment(engraver, fonts), error, "a machine")
    finally:
        client.close(timeout=ANSWER_SECONDS)


def _look_round(client: Any, wanted: Equipment, engraver: Path, fonts: Path) -> None:
    """Hold the scheduler and its workers against this machine."""
    try:
        found = client.run_on_scheduler(tell_equipment, engraver, fonts)
    except (ImportError, AttributeError, TypeError, RuntimeError) as error:
        found = error
    if isinstance(found, Exception):
        compare_equipment(wanted, found, "the scheduler")
    for worker, told in client.run(tell_equipment, engraver, fonts, on_error="return").items():
        compare_equipment(wanted, told, f"the worker {worker}")


def _open_client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise MachineError(
            "building on a cluster needs one more package", 'run: pip install "bookbuild[cluster]"'
        ) from error
    # Its own words about lost connections and other versions would bury ours.
    for name in [name for name in logging.root.manager.loggerDict if name.startswith("distributed")]:
        logging.getLogger(name).setLevel(logging.CRITICAL)
    warnings.filterwarnings("ignore", module="distributed")
    if not _ADDRESS.fullmatch(address):
        raise CallError(f"'{address}' is not a scheduler's address", "write it like tcp://127.0.0.1:8786")
    try:
        client = Client(address, timeout=ANSWER_SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise CallError(f"no scheduler answers at '{address}'", "start one, or leave --cluster out") from error
    try:
        client.wait_for_workers(1, timeout=ANSWER_SECONDS)
    except TimeoutError as error:
        client.close()
        raise MachineError(f"the scheduler at '{address}' has no workers", "start workers, then build again") from error
    return client


def _losses() -> tuple[type[Exception], ...]:
    """What the library raises when a worker or the scheduler is gone."""
    from distributed import KilledWorker
    from distributed.comm import CommClosedError

    return CancelledError, KilledWorker, CommClosedError
