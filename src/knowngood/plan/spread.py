"""Where long work is done: here, in processes, or on a Dask cluster. The answers come in order and are the same."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import active_children
from typing import Any, TypeVar

from knowngood import __version__
from knowngood.errors import ClusterError

Given = TypeVar("Given")
Done = TypeVar("Done")
Spread = Callable[[Callable[[Any], Any], Sequence[Any]], Iterator[Any]]
"""From a function and its arguments to its answers in order."""

PATIENCE = 10.0
"""Seconds until a cluster that does not answer is given up."""


def here(work: Callable[[Given], Done], given: Sequence[Given]) -> Iterator[Done]:
    """In this process."""
    return map(work, given)


def processes(count: int) -> Spread:
    """In so many processes of this machine."""
    if count <= 1:
        return here

    def spread(work: Callable[[Given], Done], given: Sequence[Given]) -> Iterator[Done]:
        others = set(active_children())
        with ProcessPoolExecutor(count, initializer=_deaf) as pool:
            try:
                yield from pool.map(work, given)
            except (KeyboardInterrupt, GeneratorExit):
                pool.shutdown(wait=False, cancel_futures=True)
                for child in set(active_children()) - others:
                    child.terminate()  # nobody waits for the rest, which may take long
                raise

    return spread


def _deaf() -> None:
    """A worker does not hear the person's Ctrl-C: the process that started it ends it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def cluster(address: str) -> Spread:
    """On the workers of the Dask scheduler at an address. Raises ClusterError, when the work begins."""

    def spread(work: Callable[[Given], Done], given: Sequence[Given]) -> Iterator[Done]:
        client = _client(address)
        try:
            _same_program(client, address)
            waiting = client.map(work, given, pure=False)
            try:
                while waiting:
                    yield waiting.pop(0).result()
            finally:
                client.cancel(waiting)
        finally:
            client.close()

    return spread


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as missing:
        raise ClusterError(
            f"A cluster needs Dask, and '{missing.name}' is missing. Install it: pip install 'knowngood[cluster]'"
        ) from missing
    try:
        return Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call, unused-ignore]
    except (OSError, ValueError, TypeError) as problem:
        raise ClusterError(
            f"No Dask scheduler answers at '{address}' ({problem}). Its address looks like tcp://192.0.2.7:8786."
        ) from problem


def _same_program(client: Any, address: str) -> None:
    """Another program on a worker would give other answers without a word."""
    try:
        versions = client.run(_version)
    except ImportError as missing:
        raise ClusterError(
            f"A worker of the cluster at '{address}' lacks '{missing.name}'. Install knowngood {__version__} on each."
        ) from missing
    if not versions:
        raise ClusterError(f"The cluster at '{address}' has no workers. Start one: dask worker {address}")
    for worker, version in versions.items():
        if version != __version__:
            raise ClusterError(f"The worker {worker} has knowngood {version}; this is {__version__}. Install the same.")


def _version() -> str:
    return __version__
