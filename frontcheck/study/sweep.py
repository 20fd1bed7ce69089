"""Running a sweep: hand out the blocks that are still to do, keep what comes back.

How work is cut up depends on how fast it goes; what comes out does not, because blocks are
fixed and every block is worked out on its own.
"""

from __future__ import annotations

import math
import time
from concurrent.futures import FIRST_COMPLETED, wait
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import OutputError
from frontcheck.study.blocks import Parts
from frontcheck.study.study import Setup, result_rows

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterable
    from concurrent.futures import Future

    from frontcheck.geometry.arrays import Array
    from frontcheck.study.blocks import Crew
    from frontcheck.study.study import Study

_SHARE: Final = 0.04
"""Handing out a task may take this share of the time it works; the rest to 5 % is margin."""
_PIECE: Final = 31 * 2**20
"""Size of what `_keep_memory` takes and frees, just below 32 MiB [bytes]."""
_MOST_BLOCKS: Final = 64
"""Most blocks in a task: bounds memory, and what is lost when a worker dies."""
_RENEWALS: Final = 3
"""How often in a row, without a part finished, a broken executor is replaced."""


@dataclass(frozen=True)
class Task:
    """Some blocks of variants, with all that is needed to work them out."""

    setup: Setup  # What varies and by which rules
    first: int  # Number of the first variant
    sample: int  # Variants below this number are the sample
    values: Array  # (m, d) values


@dataclass(frozen=True)
class SweepRun:
    """What a run did. Times differ from run to run and are kept out of all files.

    Parameters
    ----------
    total : int
        Variants of the study.
    made : int
        Variants made by this run; the others were there already.
    seconds : float
        Time the run took [s].
    worked : float
        Time that workers spent on variants, added up [s].
    workers : int
        Tasks worked on at once.
    tasks : int
        Tasks handed out.
    handing_out : float
        Measured time to hand out a task and get its answer, without work [s].
    renewals : int
        How often the executor had to be replaced because a worker died.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> run.total, run.made
    (32, 32)
    """

    total: int
    made: int
    seconds: float
    worked: float
    workers: int
    tasks: int
    handing_out: float
    renewals: int

    @property
    def overhead(self) -> float:
        """Share of a worker's time that handing out its tasks takes, 0 to 1."""
        given = self.tasks * self.handing_out
        return given / (given + self.worked) if self.worked else 0.0


def work(task: Task) -> tuple[bytes, float]:
    """Work out the blocks of a task, in the worker: rows of the results table, and the time [s]."""
    _keep_memory()
    start, size = time.perf_counter(), task.setup.block
    pieces = [
        result_rows(task.setup, task.first + i, task.sample, task.values[i : i + size])
        for i in range(0, len(task.values), size)
    ]
    return b"".join(pieces), time.perf_counter() - start


def _keep_memory() -> None:
    """Let the process keep what it frees for the next block, instead of handing it back."""
    # The GNU allocator learns from the largest piece it has seen freed: after one of nearly 32
    # MiB (its own bound) it takes smaller ones from memory it holds. Without this every block
    # asks the system for its arrays anew, which costs a quarter of the time in a fresh worker.
    # The piece is never touched, so it takes no memory; other allocators ignore it.
    np.empty(_PIECE, dtype=np.uint8)


def idle(task: Task) -> int:
    """Take a task and do nothing: measures what handing out costs."""
    return task.first


def run_sweep(
    study: Study,
    folder: str | os.PathLike[str],
    crew: Crew | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SweepRun:
    """Make every variant of a study that is not there yet, and the table of results.

    Parameters
    ----------
    study : Study
        The study.
    folder : str or os.PathLike
        Where results go. A sweep that was interrupted there goes on.
    crew : Crew, optional
        Who works; this process alone when not given.
    progress : callable, optional
        Told how many variants there are, and of how many, whenever a part is finished.

    Returns
    -------
    SweepRun
        What was done.

    Raises
    ------
    OutputError
        If the folder holds anything else, another run writes there, it cannot be written, or
        workers keep dying; what is finished stays, and the same call goes on from there.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> fc.sweep(study, "nose").total
    32
    """
    start, workers = time.perf_counter(), crew.workers if crew else 1
    with Parts.kept(Path(folder), study) as parts:
        if parts.complete:
            return SweepRun(study.count, 0, 0.0, 0.0, workers, 0, 0.0, 0)
        hand = _Handing(study, parts, progress)
        if crew is None:
            hand.serially()
        else:
            hand.to(crew)
        parts.finish()
    took = time.perf_counter() - start
    did = (hand.made, took, hand.worked, workers, hand.tasks, hand.cost, hand.renewals)
    return SweepRun(study.count, *did)


class _Handing:
    """Work of one run: what is left, what is out, what came back."""

    def __init__(
        self, study: Study, parts: Parts, progress: Callable[[int, int], None] | None
    ) -> None:
        self.study, self.parts, self.progress = study, parts, progress
        self.values, self.size = study.values, study.setup.block
        self.gaps = _gaps(parts.done(), len(self.values))
        self.present = len(self.values) - self._left
        self.made = self.tasks = self.renewals = 0
        self.worked = self.cost = 0.0
        self.block_seconds: float | None = None
        self._tell()

    @property
    def _left(self) -> int:
        """Variants that are neither kept nor handed out."""
        return sum(after - first for first, after in self.gaps)

    def serially(self) -> None:
        """Work in this process, block by block."""
        while self.gaps:
            task = self._next(1)
            self._keep(task, *work(task))

    def to(self, crew: Crew) -> None:
        """Hand tasks to a crew, two a worker at a time so that none waits."""
        out: dict[Future[tuple[bytes, float]], Task] = {}
        failures = 0
        try:
            while self.gaps or out:
                try:
                    if self.gaps and not self.cost:
                        self.cost = self._cost(crew)
                    while self.gaps and len(out) < 2 * crew.workers:
                        task = self._next(self._blocks(crew.workers))
                        try:
                            future = crew.executor.submit(work, task)
                        except BaseException:
                            self._put_back([task])
                            raise
                        out[future] = task
                    for future in wait(out, return_when=FIRST_COMPLETED).done:
                        done = future.result()
                        self._keep(out.pop(future), *done)
                        failures = 0
                except crew.deaths as error:
                    if isinstance(error, OutputError):
                        raise
                    # A worker died. What had come back meanwhile counts; the rest is done again.
                    for future in list(out):
                        if future.done() and not (future.cancelled() or future.exception()):
                            self._keep(out.pop(future), *future.result())
                    self._put_back(out.values())
                    out.clear()
                    failures += 1
                    if failures > _RENEWALS:
                        raise OutputError(self._went_wrong(error)) from error
                    self.renewals += 1
                    crew.renew()
        finally:
            for future in out:
                future.cancel()

    def _went_wrong(self, error: BaseException) -> str:
        return (
            f"{self.parts.folder}: workers died {_RENEWALS + 1} times in a row "
            f"({type(error).__name__}); {self.present} of {len(self.values)} variants are kept; "
            "give the workers more memory or take fewer, and run the same command to go on"
        )

    def _cost(self, crew: Crew) -> float:
        """Time to hand out a task without work; the first ones start the workers."""
        probe = Task(self.study.setup, 0, 0, self.values[: 8 * self.size])
        for future in [crew.executor.submit(idle, probe) for _ in range(2 * crew.workers)]:
            future.result()
        times = []
        for _ in range(5):
            start = time.perf_counter()
            crew.executor.submit(idle, probe).result()
            times.append(time.perf_counter() - start)
        return median(times)

    def _blocks(self, workers: int) -> int:
        """Blocks of the next task, so that handing it out stays a small share of the work."""
        if self.block_seconds is None:
            return 1
        wanted = math.ceil(self.cost / _SHARE / max(self.block_seconds, 1e-9))
        # Toward the end all should stay busy.
        fair = math.ceil(self._left / self.size / (3 * workers))
        return max(1, min(wanted, fair, _MOST_BLOCKS))

    def _next(self, blocks: int) -> Task:
        first, after = self.gaps.pop(0)
        stop = min(after, first + blocks * self.size)
        if stop < after:
            self.gaps.insert(0, (stop, after))
        self.tasks += 1
        return Task(self.study.setup, first, len(self.study.sample), self.values[first:stop])

    def _put_back(self, tasks: Iterable[Task]) -> None:
        lost = [(task.first, task.first + len(task.values)) for task in tasks]
        self.tasks -= len(lost)
        self.gaps = sorted([*self.gaps, *lost])

    def _keep(self, task: Task, rows: bytes, seconds: float) -> None:
        count = len(task.values)
        self.parts.add(task.first, task.first + count, rows)
        self.made += count
        self.present += count
        self.worked += seconds
        each = seconds / max(count / self.size, 1e-9)
        known = self.block_seconds
        self.block_seconds = each if known is None else 0.7 * known + 0.3 * each
        self._tell()

    def _tell(self) -> None:
        if self.progress is not None:
            self.progress(self.present, len(self.values))


def _gaps(done: list[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    """Ranges of variants that no part holds."""
    gaps, at = [], 0
    for first, after in [*done, (count, count)]:
        if first > at:
            gaps.append((at, first))
        at = max(at, after)
    return gaps
