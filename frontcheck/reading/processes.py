"""Other processes beside this one: they end with it, keep to limits, and are gone after a stop.

All that frontcheck starts begins here: workers of a pool, and children that read one file each,
for a file can ask for any amount of time and memory.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager, suppress
from importlib import import_module
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_NEAR: Final = 0.9
_SHORT: Final = 75
"""Temporary failure, not the file's fault: EX_TEMPFAIL of BSD's sysexits.h (from memory)."""
_GRACE_S: Final = 5
"""A child ends by itself so long after the time at which its parent ends it."""
_BEGIN: Final = (
    "import sys; sys.path.append(sys.argv[1]); "
    "from frontcheck.reading.processes import begin; begin()"
)


def end_with(parent: int, ended: Callable[[], None] | None = None) -> None:
    """Let this process end as soon as the one that started it has ended, however it did."""
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG
    elif ended is not None or os.name == "posix":

        def watch() -> None:
            if ended is not None:
                ended()
            while os.getppid() == parent and ended is None:
                time.sleep(0.5)
            os._exit(1)

        threading.Thread(target=watch, daemon=True).start()
    if os.name == "posix" and os.getppid() != parent:  # it ended before it could be watched
        os._exit(1)


@contextmanager
def _signals_held_back() -> Iterator[None]:
    """Hold all signals back while a process is started: it has this from its first moment."""
    if not hasattr(signal, "pthread_sigmask"):  # not on Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, signal.valid_signals())
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Worker(SpawnProcess):
    """A process of a pool: a stop is for the one that hands out work, which then ends this one."""

    def start(self) -> None:
        """Start it; what stops this process meanwhile does so a moment later."""
        with _signals_held_back():
            super().start()

    def run(self) -> None:
        """Work, as long as there is somebody to work for."""
        for each in (signal.SIGINT, signal.SIGTERM):
            signal.signal(each, signal.SIG_IGN)
        parent = multiprocessing.parent_process()
        if parent is not None and parent.pid is not None:
            end_with(parent.pid, parent.join)
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_SETMASK, ())
        super().run()

    def terminate(self) -> None:
        """End it, as an executor does that has lost another one."""
        self.kill()


class Workers(SpawnContext):
    """How a pool starts processes: afresh, not forked, the same everywhere and beside threads."""

    Process = Worker

    def __init__(self) -> None:
        if os.name == "posix":
            _track_quietly()


def _track_quietly() -> None:
    """Start what clears away after a pool that was stopped: it does so, and need not say it."""
    from multiprocessing import resource_tracker

    before = os.environ.get("PYTHONWARNINGS")
    os.environ["PYTHONWARNINGS"] = f"{before or 'default'},ignore:resource_tracker"
    try:
        resource_tracker.ensure_running()
    finally:
        del os.environ["PYTHONWARNINGS"]
        if before is not None:
            os.environ["PYTHONWARNINGS"] = before


def end_workers() -> None:
    """End all workers at once; nobody waits for what they are at."""
    for process in multiprocessing.active_children():
        if isinstance(process, Worker):
            process.kill()


def answer_of(
    child: str, told: tuple[str, ...], content: bytes, *, seconds: float, memory: int, output: int,
    env: dict[str, str] | None = None,
) -> subprocess.CompletedProcess[bytes]:  # fmt: skip
    """Let `child` of a module of this room turn a content into an answer, within limits."""
    limits = (math.ceil(seconds) + _GRACE_S, memory, output, os.getpid())
    command = [sys.executable, "-P", "-c", _BEGIN, str(Path(__file__).parents[2]), child]
    # -P: nothing is imported from the folder that happens to be the current one. Few arenas:
    # memory that is only set aside would count against the limit.
    try:
        return subprocess.run(
            [*command, *map(str, limits), *told],
            input=content, capture_output=True, timeout=seconds, check=False,
            env=os.environ | {"MALLOC_ARENA_MAX": "2"} | (env or {}),
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise TimeoutError from None


def begin() -> None:
    """In a child: keep to the limits, then do what was asked for."""
    child, seconds, memory, output, parent = sys.argv[2:7]
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with(int(parent))
    _keep_limits(int(seconds), int(memory), int(output))
    code = import_module(f"frontcheck.reading.{child}").child(*sys.argv[7:])
    sys.exit(code or (_SHORT if _ran_short(int(memory)) else 0))


def _ran_short(memory: int) -> bool:
    """Whether memory came near its limit: a library may then leave out what found no room."""
    if sys.platform != "linux":
        return False
    peak = Path("/proc/self/status").read_text().partition("VmPeak:")[2].split()[0]  # [KiB]
    return 1024 * int(peak) > _NEAR * memory


def _keep_limits(seconds: int, memory: int, output: int) -> None:
    """End at the end of the time, and beyond the memory, whatever a library is at."""
    if sys.platform == "win32":  # there the parent keeps the time, and nobody the memory
        return
    import resource

    # Python would never be asked while a library works: the kernel ends this process.
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.alarm(seconds)
    for kind, most in (
        (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_FSIZE, output),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(kind)
        own = most if hard == resource.RLIM_INFINITY else min(most, hard)
        with suppress(ValueError, OSError):  # where none can be set, time is limited anyway
            resource.setrlimit(kind, (own, hard))
