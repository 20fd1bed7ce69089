"""Who does the work of a sweep: this process, others on this machine, or a Dask cluster.

Any `concurrent.futures.Executor` serves; nothing here schedules work by itself.
"""

from __future__ import annotations

import json
import os
import re
import threading
import time
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
)
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Any, Final, Literal

from frontcheck.caution import CAUTION
from frontcheck.errors import NotAvailableError, OutputError
from frontcheck.files import ASIDE, held, is_bare, place_of, write_file, writing_to
from frontcheck.reading.processes import Workers, end_workers
from frontcheck.study.study import result_header

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
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
    kind: Any = distributed.Client  # without types of its own
    client = kind.__new__(kind)
    try:
        client.__init__(address, timeout=_ANSWER_WITHIN, set_as_default=False)
    # Words of another kind of server are taken for the length of a message.
    except (OSError, ValueError, MemoryError) as error:
        client.status = "closed"  # or it tries to take its leave when it is collected, and says so
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
OWN: Final = (RECORD, RESULTS)
"""What a sweep looks after itself."""

_PARTS: Final = "parts"
_NAME: Final = re.compile(r"(\d{9})-(\d{9})\.csv")


class Parts:
    """The folder of one sweep, which no other run may write to meanwhile."""

    def __init__(self, folder: Path, study: Study) -> None:
        self.folder = folder
        self.study = study
        self._head = f"# caution: {CAUTION}\n{','.join(result_header(study.setup))}\n".encode()

    @classmethod
    @contextmanager
    def kept(cls, folder: Path, study: Study) -> Iterator[Parts]:
        """Make a folder this study's and keep it, or refuse it before any work."""
        with ExitStack() as stack:
            with writing_to(folder):
                parts = cls(place_of(folder), study)
                parts._check()
                parts.folder.mkdir(parents=True, exist_ok=True)
                stack.enter_context(held(parts.folder))
                parts._check()
                parts._begin()
            yield parts

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
        paths = (self.folder / _PARTS).glob("*")
        named = filter(None, (_NAME.fullmatch(path.name) for path in paths))
        # Parts are whole blocks of one study and are only made where none was, so none overlap.
        return sorted((int(match[1]), int(match[2])) for match in named)

    def add(self, first: int, after: int, rows: bytes) -> None:
        """Keep the rows of some variants."""
        write_file(self._part(first, after), rows)

    def finish(self) -> None:
        """Join all parts to the table and clear them away."""
        pieces = (self._part(*each).read_bytes() for each in self.done())
        write_file(self.results, chain([self._head], pieces))
        self._clear()

    def _part(self, first: int, after: int) -> Path:
        return self.folder / _PARTS / f"{first:09d}-{after:09d}.csv"

    def _clear(self) -> None:
        """Clear the parts away, and nothing that a person may have put there."""
        for each in self.done():
            self._part(*each).unlink()
        with suppress(OSError):
            (self.folder / _PARTS).rmdir()

    def _check(self) -> None:
        """Refuse a folder of another study or of anything else, and a table that is not ours."""
        known = _digest_in(self.folder / RECORD)
        if known is None and not is_bare(self.folder):
            raise OutputError(
                f"{self.folder}: holds files and no record of a sweep ({RECORD}); expected a new "
                "or empty folder, or one that this study began; name another folder"
            )
        if known not in (None, self.study.digest):
            raise OutputError(
                f"{self.folder}: found results of another study, or of this one before it was "
                "changed; expected a new folder or one that this study began; name another "
                "folder, or delete this one"
            )
        if os.path.lexists(self.results):
            with self.results.open("rb") as stream:
                ours = stream.read(len(self._head)) == self._head
            if not ours:
                raise OutputError(
                    f"{self.results}: found something else than the table of this study; expected "
                    "no such file, or ours; move it away, or name another folder"
                )

    def _begin(self) -> None:
        """Say whose the folder is, and clear away what a run left that was ended."""
        if not (self.folder / RECORD).exists():
            record = self.study.record() | {"digest": self.study.digest, "caution": CAUTION}
            text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
            write_file(self.folder / RECORD, f"{text}\n".encode())
        if self.complete:
            self._clear()
        else:
            (self.folder / _PARTS).mkdir(exist_ok=True)
        for path in (self.folder / _PARTS).glob(f"{ASIDE}*"):
            path.unlink(missing_ok=True)


def _digest_in(path: Path) -> str | None:
    if not path.exists():
        return None
    try:
        return str(json.loads(path.read_text("utf-8"))["digest"])
    except (ValueError, KeyError, TypeError):
        return "unknown"
