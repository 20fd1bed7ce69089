"""Between hand-measured stations the surface follows what it was measured from.

A front with lips, a leading edge, a cowl and a windscreen, all of which move over y, is measured
at stations 100 mm apart: at each the edges are found, as a hand does, and points between them
anywhere, other ones at every station. What is known between the stations is then compared with
the front itself.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from checks import Check, derived

from frontcheck import Front, Section, screen

SURFACE = Check(
    "surface-between-stations",
    kind="closed form",
    quantity="distance of the surface, between stations 100 mm apart, from the front measured",
    unit="mm",
    source=derived("a front drawn by formulas; distance by shapely.hausdorff_distance"),
    why="half of it is the plan circle between stations; own choice",
)
SMOOTH = Check(
    "rear-line-between-stations",
    kind="closed form",
    quantity="bend of BRRL from one cut to the next, 10 mm apart",
    unit="mm",
    source=derived("the plan circle bends by 0.1 mm a cut, at 690 mm by 0.2 mm"),
    why="own choice: three times that",
)

EDGES = np.array(
    [(300, 225), (90, 235), (52, 290), (35, 338), (52, 395), (50, 450), (22, 520), (20, 556),
     (40, 600), (55, 700), (100, 800), (170, 833), (450, 900), (800, 962), (1082, 992),
     (1095, 974), (1128, 966), (1154, 984), (1335, 1091), (1592, 1228)],
    dtype=np.float64,
)  # fmt: skip
PARTS = ("underside", "underside", *("bumper",) * 6, *("grille",) * 2, *("bonnet",) * 5,
         *("cowl",) * 2, *("windscreen",) * 3)  # fmt: skip


def edges(y: float) -> np.ndarray:
    points = EDGES.copy()
    points[:, 0] += 1100.0 - np.sqrt(1100.0**2 - y * y)
    points[10:, 1] -= y * y / 13000.0
    points[14:, 0] += 0.25 * y * y / 1100.0  # the windscreen sweeps more than the face
    points[2:6, 0] += 0.02 * y  # the lower lip less than the bumper
    return points


def measured(y: float, rng: np.random.Generator, *, labelled: bool) -> Section:
    points, labels = [], []
    corners = edges(y)
    for k, (a, b) in enumerate(zip(corners, corners[1:], strict=False)):
        shares = rng.choice(np.linspace(0.15, 0.85, 6), rng.integers(0, 4), replace=False)
        inner = [] if np.hypot(*(b - a)) < 20.0 else sorted(shares.tolist())
        points += [a, *(a + t * (b - a) for t in inner)]
        # A point between two parts carries the one that ends there, but for the bumper's and the
        # windscreen's first.
        between = PARTS[k] if PARTS[k + 1] in (PARTS[k], "windscreen", "bumper") else PARTS[k + 1]
        labels += [PARTS[k], *(between for _ in inner)]
    points.append(corners[-1])
    labels.append(PARTS[-1])
    return Section(np.round(points, 1), y, labels if labelled else None)


@pytest.mark.parametrize("labelled", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_edges_run_as_lines_from_station_to_station(seed: int, labelled: bool) -> None:
    """Within 1 mm, of which half is the plan circle between stations 100 mm apart."""
    rng = np.random.default_rng(seed)
    stations = np.arange(0.0, 801.0, 100.0).tolist()
    front = Front(tuple(measured(y, rng, labelled=labelled) for y in stations), symmetric=True)
    surface = front.surface()
    for y in np.arange(10.0, 800.0, 20.0).tolist():
        truth, found = edges(y), surface.section(y).points
        apart = shapely.hausdorff_distance(
            shapely.LineString(truth), shapely.LineString(found), densify=0.02
        )
        SURFACE.between(apart, high=1.0, case=f"seed {seed}, y {y:g}")


def test_rear_line_is_smooth_between_stations() -> None:
    rng = np.random.default_rng(8)
    stations = np.arange(0.0, 801.0, 100.0).tolist()
    front = Front(tuple(measured(y, rng, labelled=True) for y in stations), symmetric=True)
    points = screen(front).zones.line("BRRL").points
    inner = points[np.abs(points[:, 1]) < 690.0]
    assert len(inner) > 100
    # The plan circle itself bends by 10^2 / 1100 = 0.1 mm from one cut to the next, at 690 by 0.2.
    SMOOTH.between(np.abs(np.diff(inner[:, 0], 2)).max(), high=0.6)
