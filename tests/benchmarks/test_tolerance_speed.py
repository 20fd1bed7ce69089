"""10,000 draws of the ten-station demo, all lines and four distances, against a shapely loop.

The loop is timed on a sample of the same draws in the same run and scaled up, which is said in
what is printed: the whole would take several minutes. Time is that of the processor, so that
other work on the machine does not count. The loop that the ratio is asked of is
tests/references/shapely_loop.py, plain calls of shapely for every draw. The ratio to
tests/references/plain_loop.py, which makes all hulls of a draw in one call, is printed beside it.
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from references.plain_loop import lines_of as clever_lines_of
from references.shapely_loop import SPHERE_MM, lines_of

from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set
from frontcheck.sure.draws import StationDraws
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.uncertainty import HAND_TOOLS
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section

RULES = "UN-R127-02"
WAD = (1000.0, 1500.0, 1700.0, 2100.0)
DRAWS = 10_000
SAMPLE = 30


def seconds(call: Callable[[], None]) -> float:
    start = time.process_time()
    call()
    return time.process_time() - start


def clever_slices(section: Section) -> tuple[slice, slice, slice]:
    """Bumper, upper surface and windscreen of a section, for the cleverer loop."""

    def between(*parts: str) -> slice:
        at = np.flatnonzero(section.part_mask(*parts))
        return slice(int(at[0]), int(at[-1]) + 1)

    glass = between("windscreen")
    return between("bumper"), slice(between("bonnet").start, glass.start + 1), glass


def sample(geometries: Path) -> list:
    """The first draws of every station: section and (SAMPLE, n, 2) points."""
    front = read_front(geometries / "plover.csv")
    found = []
    for i, section in enumerate(front.sections):
        draws = StationDraws(section, HAND_TOOLS, i, 1000, 1)
        found.append((section, next(iter(draws.blocks()))[2][:SAMPLE]))
    return found


def test_loop_forms_the_same_lines(geometries: Path) -> None:
    """The loop is no straw man: it does the whole job, and gets the same lines."""
    lined = line_up(read_front(geometries / "plover.csv"), RULES, WAD)
    for s, (section, points) in enumerate(sample(geometries)):
        copies = Contours.copies(section, points)
        batch = section_lines(copies, rule_set(RULES), WAD)
        if section.y == 0.0:  # where the sphere is seen as a circle in the section
            rear = RuledRear.of(lined.batch, s, Contours.of([section]), rule_set(RULES))
            batch = rear.on(batch, copies, rule_set(RULES))
            assert batch.BRRL.formed.all()
        for i, copy in enumerate(points):
            slow = lines_of(copy, section.parts, WAD)
            for name in ("UBRL", "LBRL", "BLERL", "BRRL"):
                line = getattr(batch, name)
                if line.status(i) == "ok":
                    near = SPHERE_MM if name == "BRRL" else 1e-6
                    assert slow[name] == pytest.approx((line.x[i], line.z[i]), abs=near), name
            for j, distance in enumerate(WAD):
                at = (batch.WAD.x[i, j], batch.WAD.z[i, j])
                assert slow[f"WAD {distance:g}"] == pytest.approx(at, abs=1e-6), distance


@pytest.mark.benchmark
@pytest.mark.slow
def test_fifty_times_faster_than_a_shapely_loop(geometries: Path) -> None:
    front = read_front(geometries / "plover.csv")
    tolerance(front, RULES, WAD, HAND_TOOLS, draws=100)  # imports and caches
    copies = sample(geometries)

    def plain() -> None:
        for section, points in copies:
            for copy in points:
                lines_of(copy, section.parts, WAD)

    def clever() -> None:
        for section, points in copies:
            slices = clever_slices(section)
            for copy in points:
                clever_lines_of(copy, *slices, WAD)

    def ours() -> None:
        tolerance(front, RULES, WAD, HAND_TOOLS, draws=DRAWS)

    loop, best = (seconds(call) * DRAWS / SAMPLE for call in (plain, clever))
    own = seconds(ours)
    print(  # noqa: T201
        f"\n{DRAWS} draws of {len(front.sections)} stations, all lines, {len(WAD)} distances: "
        f"{own:.2f} s; plain shapely loop {loop:.0f} s, scaled from {SAMPLE} draws of every "
        f"station: {loop / own:.0f} times; cleverer loop {best:.0f} s: {best / own:.0f} times"
    )
    assert loop / own >= 50.0


@pytest.mark.benchmark
@pytest.mark.slow
def test_time_is_linear_and_memory_bounded_by_blocks(geometries: Path) -> None:
    """From 5 to 20 blocks the time a draw stays within a third; memory grows by results only."""
    whole = read_front(geometries / "plover.csv")
    # Three stations: stations are drawn one after another, so more would only repeat the measure.
    front = replace(whole, sections=whole.sections[::4])
    tolerance(front, RULES, WAD, HAND_TOOLS, draws=100)

    def least(draws: int) -> float:
        return min(
            seconds(lambda: tolerance(front, RULES, WAD, HAND_TOOLS, draws=draws)) for _ in range(2)
        )

    def peak(draws: int) -> int:
        tracemalloc.start()
        tolerance(front, RULES, WAD, HAND_TOOLS, draws=draws)
        top = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return top

    few, many = 5000, 20_000
    ratio = least(many) / least(few)
    print(f"time of {many} draws over that of {few}: {ratio:.2f} (linear: {many / few:.0f})")  # noqa: T201
    assert 4.0 / 1.33 < ratio < 4.0 * 1.33
    small, large = peak(few), peak(many)
    # Kept for one station at a time: 17 numbers and 17 flags a draw, with a copy being sorted.
    kept = (many - few) * 17 * 9 * 2
    print(  # noqa: T201
        f"peak memory {small / 1e6:.1f} and {large / 1e6:.1f} MB; kept results {kept / 1e6:.1f} MB"
    )
    assert large - small < kept
