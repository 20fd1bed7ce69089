"""Seeded random side contours of plausible size, with everything that makes contacts hard.

Overhung lips, recesses, fold-backs, panel-gap pockets (straight, dovetail, L-shaped), outward
hooks, concave cowls, exact 50 deg bonnets, double touches, low noses, short bonnets. Every
contour is simple, stands on or above the ground and has the air on the left of the walk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

FAR = 30_000.0
"""How far to the rear the body is closed [mm]."""

KINDS = (
    "smooth",
    "middle",
    "tall",
    "short_bonnet",
    "low",
    "even_50",
    "double_touch",
    "triple_touch",
    "short",
)


@dataclass(frozen=True)
class RandomContour:
    """One made contour: points (n, 2), a part per point, and how it was made."""

    kind: str
    points: np.ndarray
    parts: tuple[str, ...]
    labelled: str  # "all", "none" or "some"

    @property
    def labels(self) -> tuple[str, ...] | None:
        """Parts as a measurer would give them."""
        if self.labelled == "none":
            return None
        if self.labelled == "all":
            return self.parts
        return tuple("" if i % 3 == 1 else part for i, part in enumerate(self.parts))


def body(points: np.ndarray) -> shapely.Polygon:
    """The body behind a contour, closed far to the rear."""
    (_, z_first), (_, z_last) = points[0], points[-1]
    return shapely.Polygon([*points, (FAR, z_last), (FAR, z_first)])


def is_good(points: np.ndarray) -> bool:
    """Simple, above ground, closable to the rear, air on the left."""
    if points[:, 1].min() < 1.0 or (np.abs(np.diff(points, axis=0)).max(axis=1) < 1e-3).any():
        return False
    if not shapely.LineString(points).is_simple:
        return False
    closed = body(points)
    return bool(closed.is_valid and not closed.exterior.is_ccw)


def random_contours(seed: int, count: int, kinds: tuple[str, ...] = KINDS) -> list[RandomContour]:
    """Make `count` contours, the kinds in turn; the same for the same seed."""
    rng = np.random.default_rng(seed)
    made: list[RandomContour] = []
    while len(made) < count:
        kind = kinds[len(made) % len(kinds)]
        walk = _walk(rng, kind)
        if kind != "smooth":
            for _ in range(int(rng.integers(0, 6))):
                walk = _with_feature(rng, walk)
        points = np.array([(x, z) for x, z, _ in walk])
        if rng.random() < 0.3 and kind != "even_50":
            points = np.round(points)  # a hand measurement in whole mm: ties and level steps
        if not is_good(points):
            continue
        if rng.random() < 0.3:
            points, walk = _with_collinear(rng, points, walk)
            if not is_good(points):
                continue
        labelled = str(rng.choice(["all", "none", "some"], p=[0.5, 0.35, 0.15]))
        made.append(RandomContour(kind, points, tuple(part for _, _, part in walk), labelled))
    return made


Walk = list[tuple[float, float, str]]


def _walk(rng: np.random.Generator, kind: str) -> Walk:
    """The plain run of a front from underside to windscreen."""
    low, high = {
        "low": (380.0, 590.0),
        "tall": (880.0, 1150.0),
        "short_bonnet": (1000.0, 1300.0),
        "short": (350.0, 560.0),
    }.get(kind, (620.0, 860.0))
    top = rng.uniform(low, high)
    sill = rng.uniform(120.0, 300.0)
    out: Walk = []
    chin_x = rng.uniform(40.0, 140.0)
    for x in np.sort(rng.uniform(chin_x + 30.0, 600.0, int(rng.integers(1, 4))))[::-1]:
        out.append((x, sill + rng.uniform(-15.0, 15.0), "underside"))
    out.append((chin_x, sill + rng.uniform(0.0, 25.0), "underside"))
    rough = 0.0 if kind == "smooth" else rng.uniform(0.0, 12.0 if kind == "triple_touch" else 55.0)
    lean = math.radians(
        rng.uniform(12.0, 30.0) if kind == "short_bonnet" else rng.uniform(-6.0, 14.0)
    )
    heights = np.linspace(sill + 50.0, top, int(rng.integers(5, 12)))
    heights += rng.uniform(-0.3, 0.3, len(heights)) * (heights[1] - heights[0])
    for z in heights:
        x = (z - sill) * math.tan(lean) + rng.uniform(-rough, rough)
        part = "bumper" if z < sill + 0.6 * (top - sill) else str(rng.choice(["grille", "lamp"]))
        out.append((x, z, part))
    if kind == "short":
        return [*out, (out[-1][0] + 80.0, out[-1][1] + rng.uniform(5.0, 30.0), "bonnet")]
    return out + _upper(rng, kind, out[-1][0], out[-1][1])


def _upper(rng: np.random.Generator, kind: str, x: float, z: float) -> Walk:
    """Bonnet, cowl and windscreen, on from the top of the face."""
    out: Walk = []
    if kind == "even_50":
        # Exact 50 deg from vertical for 80 to 300 mm: contact is continuous.
        run = rng.uniform(80.0, 300.0)
        lean = math.radians(50.0)
        x, z = x + 15.0, max(z, 610.0) + 20.0
        out.append((x, z, "bonnet"))
        x, z = x + run * math.sin(lean), z + run * math.cos(lean)
        out.append((x, z, "bonnet"))
    if kind == "triple_touch":
        # As the double touch below, and a lower crest on one 40 deg line with the first of them.
        run, dip = rng.uniform(40.0, 150.0), rng.uniform(1.0, 10.0)
        dx, dz = run * math.sin(math.radians(40.0)), run * math.cos(math.radians(40.0))
        x, z = x + 10.0, max(z, 605.0) + 25.0
        out.append((x, z, "bonnet"))
        out.append((x + dx / 2 + dip, z + dz / 2 - dip, "bonnet"))
        x, z = x + dx, z + dz
    if kind in ("double_touch", "triple_touch"):
        # Two crests on one 50 deg line, a dip between them.
        run, dip = rng.uniform(15.0, 200.0), rng.uniform(1.0, 30.0)
        dx, dz = run * math.sin(math.radians(50.0)), run * math.cos(math.radians(50.0))
        if kind == "double_touch":
            x, z = x + 15.0, max(z, 610.0) + 25.0
        second = rng.choice([0.0, 0.05, 0.15])  # within, and just outside, the tolerance
        out.append((x, z, "bonnet"))
        out.append((x + dx / 2 + dip, z + dz / 2 - dip, "bonnet"))
        x, z = x + dx + second, z + dz
        out.append((x, z, "bonnet"))
    rise = math.radians(rng.uniform(3.0, 16.0))
    length = rng.uniform(60.0, 250.0) if kind == "short_bonnet" else rng.uniform(500.0, 1100.0)
    noise = 0.0 if kind == "smooth" else rng.uniform(0.0, 8.0)
    steps = np.sort(rng.uniform(0.08, 1.0, int(rng.integers(3, 9)))) * length
    for s in steps:
        part = "bonnet" if rng.random() < 0.95 else "trim"
        out.append((x + s, z + 12.0 + s * math.tan(rise) + rng.uniform(-noise, noise), part))
    x, z, _ = out[-1]
    if rng.random() < 0.8:  # a cowl: a concave trough, at times undercut below the bonnet edge
        drop, run = rng.uniform(4.0, 70.0), rng.uniform(15.0, 160.0)
        under = rng.uniform(-15.0, 25.0) if kind != "smooth" else 5.0
        out.append((x + under, z - drop, "cowl"))
        out.append((x + run + max(under, 0.0), z - drop + rng.uniform(-3.0, 3.0), "cowl"))
        x, z, _ = out[-1]
    slope = math.radians(rng.uniform(24.0, 60.0))
    short = rng.random() < 0.15
    for _ in range(int(rng.integers(2, 5))):
        step = rng.uniform(10.0, 45.0) if short else rng.uniform(120.0, 350.0)
        x, z = x + step * math.cos(slope), z + step * math.sin(slope)
        out.append((x, z, "windscreen"))
        slope += math.radians(rng.uniform(-7.0, 5.0))
    return out


def _with_feature(rng: np.random.Generator, walk: Walk) -> Walk:
    """Put a pocket, notch, bump or hook on one stretch."""
    points = np.array([(x, z) for x, z, _ in walk])
    step = np.diff(points, axis=0)
    length = np.hypot(*step.T)
    long = np.flatnonzero(length > 25.0)
    if len(long) == 0:
        return walk
    i = int(rng.choice(long))
    along = step[i] / length[i]
    out = np.array([-along[1], along[0]])
    width = rng.uniform(0.1, 0.5) * min(length[i], 90.0)
    depth = rng.uniform(3.0, 60.0)
    begin = rng.uniform(0.1, 0.85) * (length[i] - width)
    a, b = begin, begin + width
    wide = rng.uniform(0.1, 0.9) * width
    shapes = {
        "slot": [(a, 0.0), (a, -depth), (b, -depth), (b, 0.0)],
        "dovetail": [(a, 0.0), (a - wide, -depth), (b + wide, -depth), (b, 0.0)],
        "notch": [(a, 0.0), (a + wide, -depth), (b, 0.0)],
        "l_pocket": [
            (a, 0.0), (a, -depth), (b + 2.0 * width, -depth), (b + 2.0 * width, -0.6 * depth),
            (b, -0.6 * depth), (b, 0.0),
        ],
        "bump": [(a, 0.0), (a + wide, 0.4 * depth), (b, 0.0)],
        "hook": [
            (a, 0.0), (a, depth), (b + width, depth), (b + width, 0.4 * depth), (b, 0.5 * depth),
            (b, 0.0),
        ],
        "hook_down": [
            (a, 0.0), (a, 0.5 * depth), (a - width, 0.3 * depth), (a - width, depth), (b, depth),
            (b, 0.0),
        ],
    }  # fmt: skip
    local = shapes[str(rng.choice(list(shapes)))]
    part = walk[i][2]
    new = [(*(points[i] + t * along + n * out), part) for t, n in local]
    return [*walk[: i + 1], *new, *walk[i + 1 :]]


def _with_collinear(
    rng: np.random.Generator, points: np.ndarray, walk: Walk
) -> tuple[np.ndarray, Walk]:
    """Halve some stretches: points that add nothing to the shape."""
    chosen = np.flatnonzero(rng.random(len(points) - 1) < 0.25)
    middle = (points[chosen] + points[chosen + 1]) / 2.0
    more = np.insert(points, chosen + 1, middle, axis=0)
    labels = list(walk)
    for i in chosen[::-1]:
        labels.insert(int(i) + 1, labels[int(i)])
    return more, labels
