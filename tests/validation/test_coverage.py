"""How often the 95 % interval covers the true value: 200 simulated surveys of a known shape.

A survey is simulated here, with plain formulas and numpy's own generator, not with the draws of
the product: rows are misread, the square leans, the datum is off, the floor slopes, the body rides
high or low. The true value is the line of the shape itself. Each survey gets its own interval.

Of 200 trials with chance 0.95, three standard deviations are 5 %: a single quantity must lie above
0.9, all of one shape together between 0.94 and 0.98. Shapes that are harder:
tests/benchmarks/test_interval_coverage.py.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from checks import Check, Source

from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.reading.readers import read_front
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.uncertainty import HAND_TOOLS
from frontcheck.surface.section import Section

SIMULATED = Source(
    "simulated surveys of known shapes",
    where="200 a shape; plain formulas and numpy's own generator",
    known="derived",
)
SINGLE = Check(
    "interval-coverage-single",
    kind="independent method",
    quantity="share of 95 % intervals that hold the true value, each quantity by itself",
    source=SIMULATED,
    why="of 200 trials with chance 0.95, three standard deviations are 0.05",
)
TOGETHER = Check(
    "interval-coverage-together",
    kind="independent method",
    quantity="the same, all quantities of a shape together",
    source=SIMULATED,
    why="own choice: quantities of a shape go together, so that they average out in part",
)

SURVEYS = 200
DRAWS = 1000
RULES = "UN-R127-02"
WAD = (1000.0, 1500.0, 1700.0, 2100.0)

STATIONS = (0.0, 300.0)

# A plain nose: lower lip, upper lip, leading edge, bonnet, cowl, windscreen. Every contact has a
# row of its own, as on a car with clear edges.
NOSE = np.array(
    [
        [420, 230], [180, 240], [75, 300], [40, 380], [44, 470], [20, 560], [70, 690],
        [150, 790], [420, 850], [780, 910], [1080, 950], [1110, 940], [1180, 990], [1560, 1240],
        [1700, 1330],
    ],
    dtype=float,
)  # fmt: skip
PARTS = [
    *["underside"] * 2, *["bumper"] * 4, "grille", *["bonnet"] * 4, "cowl", *["windscreen"] * 3,
]  # fmt: skip


def shapes(geometries: Path) -> dict[str, Section]:
    n = len(NOSE)
    plain = Section(NOSE, parts=PARTS, height_u=np.full(n, 2.0), setback_u=np.full(n, 1.5))
    return {
        "plain nose": plain,
        "plover": read_front(geometries / "plover.csv").sections[0],
        "avocet": read_front(geometries / "avocet.csv").sections[0],
    }


def straight_across(*sections: Section) -> Front:
    """A front of two stations: one section does not tell where the sphere of BRRL rests."""
    pairs = zip(STATIONS, sections, strict=True)
    return Front(tuple(moved(section, section.points, y) for y, section in pairs), symmetric=True)


def surveyed(true: Section, rng: np.random.Generator) -> Front:
    """What one survey of a shape might read, errors of `HAND_TOOLS` and of the rows."""
    u = HAND_TOOLS
    assert true.setback_u is not None
    assert true.height_u is not None
    tilt = math.radians(u.square_tilt_u_deg * rng.normal())
    datum = u.datum_u_mm * rng.normal()
    turns = [
        (math.radians(turn * rng.normal()), pivot)
        for turn, pivot in ((u.ground_slope_u_deg, 0.0), (u.pitch_u_deg, u.pitch_pivot_mm))
    ]
    ride = u.ride_height_u_mm * rng.normal()
    sections = []
    for _ in STATIONS:
        x = true.x + rng.normal(size=len(true.x)) * true.setback_u
        z = true.z + rng.normal(size=len(true.z)) * true.height_u
        x += z * tilt + datum
        for angle, pivot in turns:
            x, z = x + z * angle, z - (x - pivot) * angle  # small angles
        sections.append(moved(true, np.stack([x, z + ride], axis=1)))
    return straight_across(*sections)


def moved(section: Section, points: np.ndarray, y: float = 0.0) -> Section:
    return Section(points, y, section.parts, section.height_u, section.setback_u, section.rows)


def true_values(section: Section) -> dict[str, float]:
    station = line_up(straight_across(section, section), RULES, WAD).stations[0]
    values = {}
    for point in (*station.lines, *station.wads):
        name = point.name.replace(" ", "_")
        values |= {f"{name}_x_mm": point.x, f"{name}_z_mm": point.z}
    return values | {"bumper_lead_mm": station.bumper_lead}


# Measured with the seeds below, all together and least single one: plain nose 0.948 and 0.920;
# plover 0.961 and 0.910; avocet, whose face nearly follows the straight edge of UBRL over 150 mm,
# 0.959 and 0.910.
LEAST = 0.9


@pytest.mark.slow
@pytest.mark.parametrize("name", ["plain nose", "plover", "avocet"])
def test_interval_covers_the_true_value(name: str, geometries: Path) -> None:
    true = shapes(geometries)[name]
    wanted = true_values(true)
    assert all(value is not None for value in wanted.values())
    rng = np.random.default_rng(20)
    covered = dict.fromkeys(wanted, 0)
    for i in range(SURVEYS):
        front = surveyed(true, rng)
        run = tolerance(front, RULES, WAD, HAND_TOOLS, draws=DRAWS, seed=i)
        for spread in run.stations[0].spreads:
            covered[spread.quantity] += spread.low <= wanted[spread.quantity] <= spread.high
    share = {quantity: hits / SURVEYS for quantity, hits in covered.items()}
    print(name, {quantity: round(value, 3) for quantity, value in share.items()})  # noqa: T201
    print(name, "all together", round(float(np.mean(list(share.values()))), 4))  # noqa: T201
    TOGETHER.between(np.mean(list(share.values())), 0.94, 0.98)
    for quantity, value in share.items():
        SINGLE.between(value, LEAST, case=f"{name}, {quantity}")


def test_interval_that_leaves_errors_out_covers_too_little(geometries: Path) -> None:
    """The check can fail: with the common errors left out, coverage falls far below 92 %."""
    true = shapes(geometries)["plain nose"]
    wanted = true_values(true)
    rng = np.random.default_rng(21)
    hits = 0
    for i in range(40):
        front = surveyed(true, rng)
        run = tolerance(front, RULES, WAD, draws=200, seed=i)
        spread = run.stations[0].line("BLERL").z
        hits += spread.low <= wanted["BLERL_z_mm"] <= spread.high
    assert hits / 40 < 0.8
