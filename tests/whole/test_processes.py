"""Processes end with the one that started them, and a stop ends a command within two seconds.

Real commands, killed and stopped at times drawn with a seed. Two seconds, and the exit codes 128
and the number of the signal, are what a person at a terminal is used to (common practice, no
source).
"""

from __future__ import annotations

import ast
import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from lip_study import NOSE_STUDY
from stoppable import STOPPABLE

import frontcheck
from frontcheck.cli.common import crew_for
from frontcheck.errors import NotAvailableError
from frontcheck.study.blocks import local_crew
from frontcheck.study.study_file import read_study
from frontcheck.study.sweep import run_sweep

pytestmark = pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="looks into /proc")

AT_ONCE_S = 2.0
FRONTS = ("geometries/plover.csv", "geometries/avocet.csv")
POOLS = {
    "sweep": ("sweep", "STUDY", "--workers", "2", "--out", "OUT"),
    "motion": ("motion", *FRONTS, "--draws", "400", "--workers", "2", "--out", "OUT"),
    "screen": ("screen", FRONTS[0], "--motion", "--motion-draws", "400", "--out", "OUT"),
    "annex": ("annex", *FRONTS, "--motion", "--motion-draws", "400", "--out", "OUT"),
}
ALONE = {
    "leg": ("leg", *FRONTS, "--out", "OUT"),
    "sweep alone": ("sweep", "STUDY", "--workers", "1", "--out", "OUT"),
    "sweep in threads": ("sweep", "STUDY", "--threads", "--workers", "2", "--out", "OUT"),
    "solve": ("solve", "geometries/nose-study.toml"),
}


def running(tag: str) -> list[int]:
    """Processes with a mark in their environment, which what they start inherits."""
    found = []
    for pid in filter(str.isdecimal, os.listdir("/proc")):  # noqa: PTH208
        try:
            marked = tag.encode() in Path(f"/proc/{pid}/environ").read_bytes()
            state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except OSError:
            continue
        if marked and state != "Z":
            found.append(int(pid))
    return found


class Command:
    """A command that was started, in a session of its own, as a terminal does."""

    def __init__(self, root: Path, folder: Path, args: tuple[str, ...], most: int = 60000) -> None:
        self.tag = f"FRONTCHECK_TEST={folder.name}-{os.getpid()}-{time.monotonic_ns()}"
        self.out, study = folder / "out", folder / "study.toml"
        study.write_text(NOSE_STUDY.replace("variants = 1500", f"variants = {most}"), "utf-8")
        known = {"OUT": str(self.out), "STUDY": str(study)}
        self.process = subprocess.Popen(
            [sys.executable, "-c", STOPPABLE, *(known.get(arg, arg) for arg in args)],
            cwd=root, env=os.environ | dict([self.tag.split("=")]), start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip

    def ended(self, number: signal.Signals, *, group: bool) -> tuple[float, int, str]:
        """Send a signal; seconds until it had ended, its exit code, and what it said."""
        (os.killpg if group else os.kill)(self.process.pid, number)
        begun = time.monotonic()
        said = self.process.communicate(timeout=60)[1]
        return time.monotonic() - begun, self.process.returncode, said

    def left(self) -> list[int]:
        """What still runs of it after two seconds."""
        until = time.monotonic() + AT_ONCE_S
        while (found := running(self.tag)) and time.monotonic() < until:
            time.sleep(0.02)
        for pid in found:
            os.kill(pid, signal.SIGKILL)
        return found


def test_what_is_killed_leaves_no_process(root, tmp_path) -> None:
    draw, seen = random.Random(17), 0
    for turn in range(12):
        folder = tmp_path / str(turn)
        folder.mkdir()
        command = Command(root, folder, POOLS[draw.choice(list(POOLS))])
        until = time.monotonic() + 60.0
        while len(running(command.tag)) < 2 and time.monotonic() < until:
            time.sleep(0.02)
        time.sleep(draw.uniform(0.0, 2.0))
        seen += len(running(command.tag)) > 2  # a worker at least, and what looks after them
        command.ended(signal.SIGKILL, group=False)
        assert command.left() == []
    assert seen >= 6


@pytest.mark.parametrize("name", [*POOLS, *ALONE])
def test_a_stop_ends_everything_at_once(root, tmp_path, name) -> None:
    draw = random.Random(name)
    stops = [(signal.SIGINT, True), (signal.SIGINT, False), (signal.SIGTERM, draw.random() < 0.5)]
    for turn, (number, group) in enumerate(draw.sample(stops, 2)):
        folder = tmp_path / str(turn)
        folder.mkdir()
        command = Command(root, folder, (POOLS | ALONE)[name])
        time.sleep(draw.uniform(0.8, 2.5))
        if command.process.poll() is not None:  # on a fast machine
            continue
        seconds, code, said = command.ended(number, group=group)
        assert code == 128 + number
        assert seconds < AT_ONCE_S
        assert re.fullmatch(r"frontcheck: stopped; .+\n", said), said
        assert command.left() == []
        if not name.startswith("sweep"):
            assert [path.name for path in folder.iterdir()] == ["study.toml"]


@pytest.mark.parametrize("set_by_user", [None, "error"])
def test_what_a_stop_leaves_is_cleared_away_without_a_word(root, set_by_user) -> None:
    """Semaphores of a pool whose process is gone: Python removes them, and would warn of it."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONWARNINGS"}
    env |= {"PYTHONWARNINGS": set_by_user} if set_by_user else {}
    ends = (
        "import os; from frontcheck.reading.processes import Workers; lock = Workers().Lock(); "
        "print(os.environ.get('PYTHONWARNINGS'), flush=True); os._exit(3)"
    )
    done = subprocess.run(
        [sys.executable, "-c", ends], cwd=root, env=env, capture_output=True, text=True, check=False
    )  # its error stream is also that of what clears away: it is read to the end
    assert (done.returncode, done.stdout, done.stderr) == (3, f"{set_by_user}\n", "")


def test_a_stopped_sweep_says_what_is_saved_and_goes_on_to_the_same_bytes(root, tmp_path) -> None:
    """Stopped, killed and stopped again; the last run makes what is left."""
    folder = tmp_path / "work"
    folder.mkdir()
    command = Command(root, folder, POOLS["sweep"], 20000)
    study = read_study(folder / "study.toml")
    counts = []
    for number in (signal.SIGINT, signal.SIGKILL, signal.SIGTERM):
        known, until = len(list(command.out.glob("parts/0*"))), time.monotonic() + 60.0
        while len(list(command.out.glob("parts/0*"))) < known + 3 and time.monotonic() < until:
            time.sleep(0.02)
        said = command.ended(number, group=True)[2]
        assert command.left() == []
        parts = [path.name.split(".")[0].split("-") for path in command.out.glob("parts/0*")]
        counts.append(sum(int(after) - int(first) for first, after in parts))
        if number != signal.SIGKILL:
            assert said == (
                f"frontcheck: stopped; {counts[-1]} of 20000 variants are saved in {command.out}; "
                "the same command goes on\n"
            )
        assert not (command.out / "results.csv").exists()
        command = Command(root, folder, (*POOLS["sweep"], "--no-pictures"), 20000)
    assert 0 < counts[0] < counts[1] < counts[2]
    assert command.process.communicate(timeout=120)[1] == ""
    assert command.process.returncode in {0, 1}  # 1: some cannot be made
    run_sweep(study, tmp_path / "alone")
    for name in ("results.csv", "sweep.json"):
        assert (command.out / name).read_bytes() == (tmp_path / "alone" / name).read_bytes()


LOST = """
import signal, sys, threading, time, weakref
signal.signal(signal.SIGINT, signal.default_int_handler)
from frontcheck.cli.ending import ended_well, stoppable

class Thing:
    pass

def busy(_):
    print("ready", flush=True)
    end = time.monotonic() + 30.0
    while time.monotonic() < end:
        pass

with stoppable(), ended_well(debug=False):
    if sys.argv[1] == "dropped":  # Python drops what is raised in a callback
        thing = Thing()
        kept = weakref.ref(thing, busy)
        del thing
    elif sys.argv[1] == "swallowed":
        try:
            busy(None)
        except BaseException:
            pass
    else:
        try:
            busy(None)
        finally:
            time.sleep(30.0)
    time.sleep(30.0)
"""


@pytest.mark.parametrize("how", ["dropped", "swallowed", "late"])
def test_a_stop_that_is_lost_ends_the_command_all_the_same(how) -> None:
    process = subprocess.Popen([sys.executable, "-c", LOST, how], stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True)  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    begun = time.monotonic()
    process.send_signal(signal.SIGINT)
    time.sleep(0.2)
    process.send_signal(signal.SIGINT)  # a second one changes nothing
    said = process.communicate(timeout=60)[1]
    assert time.monotonic() - begun < AT_ONCE_S
    assert process.returncode == 130
    assert said == "frontcheck: stopped; outputs stand as they were\n"


def test_a_stop_that_is_ignored_stays_ignored(root, tmp_path) -> None:
    code = STOPPABLE.replace("signal.default_int_handler", "signal.SIG_IGN")
    process = subprocess.Popen(
        [sys.executable, "-c", code, "leg", FRONTS[0], "--json", str(tmp_path / "leg.json")],
        cwd=root, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    assert process.wait(60) in {0, 1}
    assert (tmp_path / "leg.json").exists()


ELSEWHERE = """
import multiprocessing, os, subprocess, sys, time

def work(ready):
    sys.platform = "darwin"
    from frontcheck.reading.processes import end_with
    parent = multiprocessing.parent_process()
    end_with(os.getppid() if parent is None else parent.pid, parent and parent.join)
    print("ready", flush=True)
    time.sleep(60.0)

if __name__ == "__main__":
    if sys.argv[1] == "child":
        work(None)
    multiprocessing.get_context("spawn").Process(target=work, args=(0,)).start()
    subprocess.run([sys.executable, __file__, "child"])
"""


def test_where_the_kernel_does_not_end_them_they_watch(tmp_path) -> None:
    """Workers wait for the end of their parent, children ask for it; here as elsewhere."""
    script, tag = tmp_path / "elsewhere.py", f"frontcheck-elsewhere-{os.getpid()}"
    script.write_text(ELSEWHERE, "utf-8")
    process = subprocess.Popen([sys.executable, str(script), "parent"], stdout=subprocess.PIPE,
                               env=os.environ | {"FRONTCHECK_TEST": tag})  # fmt: skip
    assert process.stdout is not None
    with process.stdout:
        assert [process.stdout.readline() for _ in range(2)] == [b"ready\n"] * 2
    assert len(running(tag)) >= 3
    process.kill()
    process.wait()
    until = time.monotonic() + AT_ONCE_S
    while running(tag) and time.monotonic() < until:
        time.sleep(0.02)
    assert running(tag) == []


def starting(source: str) -> set[str]:
    """What a module imports by which processes are started."""
    names = [
        name
        for node in ast.walk(ast.parse(source))
        for name in (
            [node.module or ""] if isinstance(node, ast.ImportFrom)
            else [each.name for each in node.names] if isinstance(node, ast.Import) else []
        )
    ]  # fmt: skip
    return {name.split(".")[0] for name in names} & {"subprocess", "multiprocessing", "pty"}


def test_processes_are_started_in_one_place() -> None:
    assert starting("def f():\n import os, subprocess\nfrom multiprocessing.pool import Pool") == {
        "subprocess", "multiprocessing",
    }  # fmt: skip
    package = Path(frontcheck.__file__).parent
    found = [path for path in package.rglob("*.py") if starting(path.read_text("utf-8"))]
    assert [path.name for path in found] == ["processes.py"]


def test_who_loses_a_worker_says_so_plainly() -> None:
    def lost() -> None:
        with crew_for(2, 2) as executor:
            assert executor is not None
            future = executor.submit(time.sleep, 30.0)
            time.sleep(0.1)
            os.kill(next(iter(executor._processes)), signal.SIGKILL)
            future.result()

    with pytest.raises(NotAvailableError, match="ended from outside"):
        lost()


def test_what_goes_wrong_while_workers_work_leaves_none() -> None:
    pids, futures = [], []

    def fails() -> None:
        with local_crew("processes", 2) as crew:
            futures.extend(crew.executor.submit(time.sleep, 30.0) for _ in range(8))
            pids.extend(crew.executor._processes)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails()
    until = time.monotonic() + AT_ONCE_S
    while any(Path(f"/proc/{pid}").exists() for pid in pids) and time.monotonic() < until:
        time.sleep(0.02)
    assert pids
    assert not any(Path(f"/proc/{pid}").exists() for pid in pids)
    assert all(future.done() for future in futures)
