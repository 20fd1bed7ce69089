"""10,000 perturbed copies of one section at once, against a plain shapely loop.

Run with ``pytest tests/benchmarks/test_line_speed.py -s`` to see the ratio. The baseline is
tests/references/plain_loop.py, run in the same process on a sample of the same copies and
scaled; what it finds is checked against the batch first, so that both do the same work.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np
import pytest
from references.plain_loop import lines_of

from frontcheck import Section, read_front, rule_set
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import RuledRear
from frontcheck.lines.section_lines import section_lines
from frontcheck.surface.contours import Contours

pytestmark = pytest.mark.benchmark

COPIES, SAMPLE, ROUNDS = 10_000, 100, 9
WADS = (1000.0, 1500.0, 1700.0, 2100.0)
AT_LEAST = 20.0


def seconds(call) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def between(section: Section, *parts: str) -> slice:
    """From the first to the last point of these parts."""
    at = np.flatnonzero(section.part_mask(*parts))
    return slice(int(at[0]), int(at[-1]) + 1)


def test_batch_against_a_plain_loop(geometries):
    front = read_front(geometries / "plover.csv")
    section = front.section(0.0)
    assert len(section) == 40
    rng = np.random.default_rng(7)
    # Each copy as if measured anew: the uncertainties stated in the demo table.
    noise = rng.standard_normal((COPIES, 40, 2)) * [1.5, 2.0]
    copies = section.points + noise
    rules = rule_set()
    contours = Contours.copies(section, copies)
    # At the centre plane the sphere is seen as a circle in the section, which is the loop's way.
    lined = line_up(front, rules, ())
    rear = RuledRear.of(lined.batch, lined.front.stations.index(0.0), Contours.of([section]), rules)
    glass = between(section, "windscreen")
    slices = (
        between(section, "bumper"),
        slice(between(section, "bonnet").start, glass.start + 1),
        glass,
    )

    def batch():
        return rear.on(section_lines(contours, rules, WADS), contours, rules)

    def loop():
        return [lines_of(points, *slices, WADS) for points in copies[:SAMPLE]]

    found, plain = batch(), loop()
    checked = 0
    for i, want in enumerate(plain):
        for name in ("UBRL", "LBRL", "BLERL"):
            got = getattr(found, name)
            assert (got.x[i], got.z[i]) == pytest.approx(want[name], rel=0, abs=1e-6)
        # A buffer of 32 facets a quadrant stands 0.03 mm inside a circle of 82.5 mm, which
        # moves a contact on a stretch (not on a corner) by up to a few tenths of a millimetre.
        assert (found.BRRL.x[i], found.BRRL.z[i]) == pytest.approx(want["BRRL"], rel=0, abs=1.0)
        for j, wad in enumerate(WADS):
            if found.WAD.reached[i, j]:
                at = (found.WAD.x[i, j], found.WAD.z[i, j])
                assert at == pytest.approx(want[f"WAD {wad:g}"], rel=0, abs=1e-6)
                checked += 1
    assert checked > 3 * SAMPLE

    # Alternately, so that a busy moment meets both; the least time of each is the one that
    # other work on the machine disturbed least.
    times = [(seconds(loop) / SAMPLE, seconds(batch) / COPIES) for _ in range(ROUNDS)]
    plain_best, batch_best = (min(column) for column in zip(*times, strict=True))
    ratio = plain_best / batch_best
    each = sorted(a / b for a, b in times)
    without = min(seconds(lambda: section_lines(contours, rules, WADS)) for _ in range(ROUNDS))
    share = 1.0 - without / (batch_best * COPIES)
    sys.stdout.write(
        f"\nall lines and {len(WADS)} WADs of {COPIES} copies of {len(section)} points: "
        f"{ratio:.1f} times as fast as a plain shapely loop (loop on {SAMPLE} copies, scaled; "
        f"least of {ROUNDS} alternate rounds each; single rounds {each[0]:.1f} to {each[-1]:.1f}, "
        f"median {statistics.median(each):.1f}); the sphere takes {100.0 * share:.0f} % of "
        f"{1e6 * batch_best:.0f} us a copy\n"
    )
    assert ratio >= AT_LEAST
