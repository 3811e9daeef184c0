"""Engraving on a running cluster: the same tasks through the same executor seam (optional extra `[cluster]`)."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from concurrent.futures import CancelledError, Executor
from contextlib import contextmanager
from typing import Any

from bookbuild.diagnostics import CallError, MachineError

ANSWER_SECONDS = 10.0
"""How long a scheduler, and then its first worker, may take to answer."""
_ADDRESS = re.compile(r"(?:(?:tcp|tls|wss?)://)?(?:[\w.-]+|\[[0-9a-fA-F:]+\]):[0-9]{1,5}")


@contextmanager
def connect(address: str) -> Iterator[Executor]:
    """An executor on the dask scheduler at `address` (such as tcp://127.0.0.1:8786).

    Every worker needs bookbuild, the engraver and the same fonts, at the same paths. Raises MachineError without the
    extra, without workers and when they are lost on the way, CallError when nothing answers at the address.
    """
    client = _open_client(address)
    try:
        yield client.get_executor(pure=False)
    except _losses() as error:
        raise MachineError(
            "the cluster was lost while it worked", "look at its workers' logs, then build again"
        ) from error
    finally:
        client.close(timeout=ANSWER_SECONDS)


def _open_client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise MachineError(
            "building on a cluster needs one more package", "run: pip install 'bookbuild[cluster]'"
        ) from error
    # Its own words about every lost connection would bury ours.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    hint = "start one, or leave --cluster out"
    if not _ADDRESS.fullmatch(address):
        raise CallError(f"'{address}' is not a scheduler's address", "write it like tcp://127.0.0.1:8786")
    try:
        client = Client(address, timeout=ANSWER_SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise CallError(f"no scheduler answers at '{address}'", hint) from error
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
