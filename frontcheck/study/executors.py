"""Who does the work of a sweep: this process, others on this machine, or a Dask cluster.

Any `concurrent.futures.Executor` serves; nothing here schedules work by itself.
"""

from __future__ import annotations

import os
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
)
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal

from frontcheck.errors import NotAvailableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any

__all__ = ["Crew", "cluster_crew", "local_crew"]


class Crew:
    """An executor, how many tasks it works on at once, and how to make it anew."""

    def __init__(
        self,
        make: Callable[[], Executor],
        workers: int,
        deaths: tuple[type[Exception], ...] = (),
    ) -> None:
        self.workers = max(1, workers)
        self.deaths: tuple[type[BaseException], ...] = (
            BrokenExecutor,
            CancelledError,
            OSError,
            *deaths,
        )
        self._make = make
        self.executor = make()

    def renew(self) -> None:
        """Replace a broken executor."""
        self.executor.shutdown(wait=False)
        self.executor = self._make()

    def close(self) -> None:
        """Let the workers go, once they are done with what they have begun."""
        self.executor.shutdown(wait=True)


@contextmanager
def local_crew(kind: Literal["processes", "threads"], workers: int = 0) -> Iterator[Crew]:
    """Open a crew on this machine."""
    count = workers or os.cpu_count() or 1

    def make() -> Executor:
        if kind == "threads":
            return ThreadPoolExecutor(count)
        import multiprocessing

        # Started afresh, not forked: the same on every system, and safe beside threads.
        spawn = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(count, mp_context=spawn, initializer=_leave_interrupts)
        with _interrupts_held_back():
            for _ in range(count):  # a worker is started a task, as long as none is idle
                pool.submit(int)
        return pool

    crew = Crew(make, count)
    try:
        yield crew
    finally:
        crew.close()


@contextmanager
def cluster_crew(address: str) -> Iterator[Crew]:
    """Open a crew on a Dask cluster, by the executor that Dask itself provides."""
    try:
        import distributed
    except ImportError as error:
        raise NotAvailableError(
            "a cluster needs the package distributed, which is not installed; "
            "install it with: pip install 'frontcheck[cluster]'"
        ) from error
    open_client: Any = distributed.Client  # without types of its own
    try:
        client = open_client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise NotAvailableError(
            f"cluster {address}: found no scheduler that answers ({error}); expected the address "
            "of a running one, such as tcp://10.0.0.5:8786; check address and network"
        ) from error
    with client:
        threads = sum(client.nthreads().values())
        if not threads:
            raise NotAvailableError(f"cluster {address}: it has no workers; start at least one")
        # Results depend on the values only, so a task may safely be tried again elsewhere.
        crew = Crew(
            lambda: client.get_executor(pure=False, retries=3), threads, (distributed.KilledWorker,)
        )
        try:
            yield crew
        finally:
            crew.close()


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Hold back a stop from the keyboard while workers are started."""
    # A worker has what is held back from its first moment, before it can say so itself; a stop
    # that comes meanwhile reaches this process a moment later.
    import signal

    if not hasattr(signal, "pthread_sigmask"):  # not on Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _leave_interrupts() -> None:
    """In a worker: a stop from the keyboard is for the process that hands out work."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
