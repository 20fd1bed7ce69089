"""A mesh of a million triangles read and screened, against parsing and cutting it alone.

Run with ``pytest tests/benchmarks/test_mesh_speed.py -m benchmark -s`` on a quiet machine.
The baseline is trimesh: `load`, then `section_multiplane` at the same planes, in the same run,
without screening anything. All lines: those of `screen` for every section, the bonnet rear
reference line by a sphere in space on the windscreen that the shape shows.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set
from frontcheck.screening import screen

say = sys.stdout.write  # shown with -s
pytestmark = pytest.mark.benchmark

WIDTH_MM = 1700.0
PITCH_MM = 5.0
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


def profile(n):
    """A smooth side profile of n points: chin, nose of two arcs, bonnet, cowl, windscreen."""
    arc = np.radians(np.linspace(-70.0, 20.0, n // 6))
    chin = np.stack([80.0 - 80.0 * np.cos(arc), 450.0 + 80.0 * np.sin(arc)], axis=1)
    # From the chin arc up to the nose arc and over it, to a bonnet rising 8 deg.
    arc = np.radians(np.linspace(20.0, 82.0, n // 4))
    nose = np.stack([330.0 - 180.0 * np.cos(arc), 640.0 + 180.0 * np.sin(arc)], axis=1)
    t = np.linspace(0.0, 1.0, n - n // 6 - n // 4 - n // 8 + 1)[1:]
    bonnet = nose[-1] + np.stack([900.0 * t, 900.0 * np.tan(np.radians(8.0)) * t - 30.0 * t**2], 1)
    t = np.linspace(0.0, 1.0, n // 8 + 1)[1:]
    screen_ = bonnet[-1] + np.stack([500.0 * t, 250.0 * t], axis=1)
    return np.concatenate([chin, nose, bonnet, screen_])


def write_front(path, triangles):
    """Write a binary STL of a superellipse front; return its number of triangles."""
    rows = round(np.sqrt(triangles / 2.0 * 0.78))
    line = profile(round(triangles / 2.0 / rows) + 1)
    y = np.linspace(-WIDTH_MM / 2.0, WIDTH_MM / 2.0, rows + 1)
    back = 350.0 * (1.0 - (1.0 - (np.abs(y) / 900.0) ** 2.5) ** 0.4)
    grid = np.empty((rows + 1, len(line), 3), dtype=np.float32)
    grid[..., 0] = line[:, 0] + back[:, None]
    grid[..., 1] = y[:, None]
    grid[..., 2] = line[:, 1] * (1.0 - 0.04 * (y[:, None] / 850.0) ** 2)
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    records = np.zeros(2 * a.shape[0] * a.shape[1], dtype=_RECORD)
    records["corners"][::2] = np.stack([a, b, c], axis=2).reshape(-1, 3, 3)
    records["corners"][1::2] = np.stack([a, c, d], axis=2).reshape(-1, 3, 3)
    head = b"benchmark front, mm".ljust(80) + len(records).to_bytes(4, "little")
    path.write_bytes(head + records.tobytes())
    return len(records)


def run(path, pitch):
    """Seconds to read a mesh and form all lines."""
    started = time.perf_counter()
    front = read_front(path, unit="mm", pitch=pitch)
    middle = time.perf_counter()
    result = screen(front, rule_set())
    ended = time.perf_counter()
    assert len(result.stations) == len(front.sections)
    assert all(s.UBRL.formed and s.LBRL.formed and s.BLERL.formed for s in result.stations)
    assert all(wad.formed for s in result.stations for wad in s.wads if wad.distance <= 1500.0)
    return middle - started, ended - middle


def best(path, pitch, times=3):
    return min((run(path, pitch) for _ in range(times)), key=sum)


@pytest.fixture(scope="module")
def million(tmp_path_factory):
    path = tmp_path_factory.mktemp("mesh") / "million.stl"
    count = write_front(path, 1_000_000)
    assert abs(count - 1_000_000) < 2_000
    return path


def test_ten_times_faster_than_parsing_and_cutting_alone(million) -> None:
    """All lines, the sphere in space among them."""
    import trimesh

    planes = np.arange(-WIDTH_MM / 2.0, WIDTH_MM / 2.0 + 0.1, PITCH_MM)
    run(million, 50.0)  # imports
    tries = []
    for _ in range(2):
        started = time.perf_counter()
        mesh = trimesh.load(million)
        loaded = time.perf_counter()
        mesh.section_multiplane([0.0, 0.0, 0.0], [0.0, 1.0, 0.0], planes)
        tries.append((loaded - started, time.perf_counter() - loaded))
    loading, cutting = min(tries, key=sum)
    reading, screening = best(million, PITCH_MM, times=2)
    baseline, ours = loading + cutting, reading + screening
    say(
        f"\n{len(mesh.faces)} triangles, {len(planes)} planes; trimesh load"
        f" {loading:.2f} s + section_multiplane {cutting:.2f} s = {baseline:.2f} s;"
        f" frontcheck read {reading:.2f} s + screen {screening:.2f} s = {ours:.2f} s;"
        f" each best of 2; {baseline / ours:.1f} times faster\n"
    )
    assert baseline / ours >= 10.0


def test_everything_costs_at_most_two_times_the_lines(million, tmp_path) -> None:
    """Whole processes: zones, findings and answer beside the lines alone."""
    command = (
        sys.executable, "-m", "frontcheck", "screen", str(million), "--unit", "mm",
        "--pitch", f"{PITCH_MM:g}", "--json", str(tmp_path / "out.json"),
    )  # fmt: skip

    def seconds(*more: str) -> float:
        started = time.perf_counter()
        done = subprocess.run([*command, *more], capture_output=True, text=True, check=False)
        assert done.returncode in (0, 1), done.stderr
        return time.perf_counter() - started

    seconds()  # compiles what is imported
    pairs = [(seconds("--lines-only"), seconds()) for _ in range(3)]
    lines, everything = (min(column) for column in zip(*pairs, strict=True))
    say(
        f"\nwhole processes, best of 3: lines {lines:.2f} s, everything {everything:.2f} s,"
        f" {everything / lines:.2f} times\n"
    )
    assert everything / lines <= 2.0


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads /proc/self/status")
def test_peak_memory_is_at_most_three_times_the_mesh(million) -> None:
    # Peak resident memory of a process of its own, less what it holds after its imports on a
    # small front. The mesh arrays are 36 bytes a triangle: corners in the file's own numbers.
    small = million.with_name("small.stl")
    write_front(small, 2_000)
    code = """
import sys
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set
from frontcheck.screening import screen
def peak():
    # Not getrusage: its peak is inherited from the process that started this one.
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) * 1024 for line in status if line.startswith("VmHWM"))
screen(read_front(sys.argv[1], unit="mm", pitch=100.0))
before = peak()
front = read_front(sys.argv[2], unit="mm", pitch=5.0)
read = peak()
screen(front)
print(before, read, peak())
"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(small), str(million)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    before, read, screened = map(int, done.stdout.split())
    arrays = 36 * int.from_bytes(Path(million).read_bytes()[80:84], "little")
    say(
        f"\nmesh arrays {arrays / 1e6:.0f} MB; peak above the imports: reading"
        f" {(read - before) / 1e6:.0f} MB, reading and screening {(screened - before) / 1e6:.0f} MB"
        f" = {(screened - before) / arrays:.2f} times the mesh arrays\n"
    )
    assert screened - before <= 3.0 * arrays


def exponent(sizes, seconds):
    """Slope of log time over log size."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])


def test_time_grows_no_faster_than_triangles_and_stations(million) -> None:
    triangles = [125_000, 250_000, 500_000, 1_000_000, 2_000_000]
    by_triangles = []
    for count in triangles:
        path = million.with_name(f"front-{count}.stl")
        write_front(path, count)
        by_triangles.append(sum(best(path, PITCH_MM)))
    pitches = [40.0, 20.0, 10.0, 5.0, 2.5]
    stations = [WIDTH_MM / pitch + 1.0 for pitch in pitches]
    by_stations = [sum(best(million, pitch)) for pitch in pitches]
    # Time = fixed + slope x size: the fixed part (reading) must not pass for growth.
    at_triangles, at_stations = exponent(triangles, by_triangles), exponent(stations, by_stations)
    say(
        f"\nexponent of time in triangles {at_triangles:.2f}"
        f" ({', '.join(f'{t:.2f} s' for t in by_triangles)}), in stations {at_stations:.2f}"
        f" ({', '.join(f'{t:.2f} s' for t in by_stations)})\n"
    )
    # Linear at most; a tenth for noise of the clock.
    assert at_triangles <= 1.1
    assert at_stations <= 1.1
    # Beyond the fixed part: doubling the stations at most doubles what they add.
    steps = np.diff(by_stations) / np.diff(stations)
    assert steps[-1] <= 1.5 * np.median(steps)
