"""Engraving on a running cluster: the same tasks through the same executor seam (optional extra `[cluster]`)."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from bookbuild.diagnostics import CallError, MachineError


@contextmanager
def connect(address: str) -> Iterator[Executor]:
    """An executor on the dask scheduler at `address` (such as tcp://127.0.0.1:8786).

    Every worker needs bookbuild, the engraver and the same fonts. Raises MachineError without the extra, CallError
    when nothing answers at the address within ten seconds.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise MachineError("building on a cluster needs one more package",
                           "run: pip install 'bookbuild[cluster]'") from error
    try:
        client = Client(address, timeout=10, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise CallError(f"no scheduler answers at '{address}'", "start one, or leave --cluster out") from error
    try:
        yield client.get_executor(pure=False)
    finally:
        client.close()
