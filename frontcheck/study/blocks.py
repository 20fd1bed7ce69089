"""Who does the work of a sweep: this process, others on this machine, or a Dask cluster.

Any `concurrent.futures.Executor` serves; nothing here schedules work by itself.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import threading
import time
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
)
from contextlib import contextmanager
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Any, Final, Literal

from frontcheck.caution import CAUTION
from frontcheck.errors import NotAvailableError, OutputError
from frontcheck.files import ASIDE, cannot_write, write_file
from frontcheck.reading.processes import Workers, end_workers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from frontcheck.study.study import Study


class Crew:
    """An executor, how many tasks it works on at once, and how to make it anew."""

    def __init__(
        self,
        make: Callable[[], Executor],
        workers: int,
        deaths: tuple[type[BaseException], ...] = (),
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


_ANSWER_WITHIN: Final = "10s"
"""How long a scheduler is given to answer."""


@contextmanager
def local_crew(kind: Literal["processes", "threads"], workers: int = 0) -> Iterator[Crew]:
    """Open a crew on this machine."""
    count = workers or os.cpu_count() or 1

    def make() -> Executor:
        if kind == "threads":
            return ThreadPoolExecutor(count)
        return ProcessPoolExecutor(count, mp_context=Workers())

    crew = Crew(make, count)
    try:
        yield crew
        crew.executor.shutdown()  # the workers go once they are done
    except BaseException:
        # Nobody will ask for what they are at; threads cannot be ended before their task is. The
        # executor learns first that it ends: it takes workers that are gone for a fault.
        threading.Thread(target=partial(crew.executor.shutdown, cancel_futures=True)).start()
        time.sleep(0.05)
        end_workers()
        raise


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
        client = open_client(address, timeout=_ANSWER_WITHIN, set_as_default=False)
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
            crew.executor.shutdown(wait=False)


# The folder of a running sweep: a record of the study, and finished parts of the results.
#
# A part is written aside and renamed when complete, so that whatever stands in the folder is
# whole. Its name says which variants it holds; a sweep that goes on makes the others only.

RECORD: Final = "sweep.json"
"""What the results in the folder were made from."""
RESULTS: Final = "results.csv"
"""The table of results, once it is complete."""

_PARTS: Final = "parts"
_NAME: Final = re.compile(r"(\d{9})-(\d{9})\.csv")


class Parts:
    """The folder of one sweep."""

    def __init__(self, folder: Path, study: Study) -> None:
        self.folder = folder
        self.study = study
        self._claim()

    @property
    def results(self) -> Path:
        """Where the complete table stands."""
        return self.folder / RESULTS

    @property
    def complete(self) -> bool:
        """Whether the table is there, of this study."""
        return self.results.is_file()

    def done(self) -> list[tuple[int, int]]:
        """Return which variants have been made: (first, after the last) of every part."""
        paths = list((self.folder / _PARTS).iterdir())
        for path in paths:
            if path.name.startswith(ASIDE):
                path.unlink(missing_ok=True)  # left by an interrupted run
        named = filter(None, (_NAME.fullmatch(path.name) for path in paths))
        # Parts are whole blocks of one study and are only made where none was, so none overlap.
        return sorted((int(match[1]), int(match[2])) for match in named)

    def add(self, first: int, after: int, rows: bytes) -> None:
        """Keep the rows of some variants."""
        write_file(self._part(first, after), rows)

    def finish(self, header: Sequence[str]) -> None:
        """Join all parts to the table and clear them away."""
        head = f"# caution: {CAUTION}\n{','.join(header)}\n".encode()
        pieces = (self._part(*each).read_bytes() for each in self.done())
        write_file(self.results, chain([head], pieces))
        shutil.rmtree(self.folder / _PARTS, ignore_errors=True)

    def _part(self, first: int, after: int) -> Path:
        return self.folder / _PARTS / f"{first:09d}-{after:09d}.csv"

    def _claim(self) -> None:
        """Make the folder this study's, or refuse when it is another's."""
        path = self.folder / RECORD
        digest = self.study.digest
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            known = _digest_in(path)
            if known is None and any((self.folder / n).exists() for n in (RESULTS, _PARTS)):
                known = "unknown"
            if known is not None and known != digest:
                raise OutputError(
                    f"{self.folder}: found results of another study, or of this one before it was "
                    "changed; expected a new folder or one that this study began; name another "
                    "folder, or delete this one"
                )
            if known is None:
                record = self.study.record() | {"digest": digest, "caution": CAUTION}
                text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
                write_file(path, f"{text}\n".encode())
            if not self.complete:
                (self.folder / _PARTS).mkdir(exist_ok=True)
        except OutputError:
            raise
        except OSError as error:
            raise cannot_write(self.folder, error) from error


def _digest_in(path: Path) -> str | None:
    if not path.exists():
        return None
    try:
        return str(json.loads(path.read_text("utf-8"))["digest"])
    except (ValueError, KeyError, TypeError):
        return "unknown"
