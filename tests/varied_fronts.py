"""Side sections of fronts of six kinds, varied, as a measurer might write them down; and slips.

Outlines of the kinds, their plan and their crowns are own choice and of no car; the saloon is the
closed-form front that other checks use too. Nothing here comes from the package.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Table = list[tuple[float, Array]]
"""Stations with their rows (setback, height) [mm]."""

# Corner (x, z) and the radius of its fillet [mm].
KINDS: Final = {
    "saloon": [
        (520, 235, 0), (60, 215, 18), (18, 330, 18), (62, 395, 14), (64, 440, 14), (-4, 500, 30),
        (2, 575, 22), (48, 612, 16), (66, 742, 12), (40, 765, 14), (75, 815, 60), (1010, 960, 25),
        (1022, 925, 12), (1075, 925, 12), (1110, 958, 20), (1720, 1330, 0),
    ],
    "hatchback": [
        (480, 205, 0), (75, 200, 20), (20, 300, 25), (8, 390, 15), (30, 430, 10), (30, 470, 10),
        (0, 500, 20), (0, 590, 40), (40, 690, 60), (130, 780, 70), (360, 860, 150), (930, 980, 30),
        (960, 960, 10), (1010, 965, 15), (1750, 1450, 0),
    ],
    "tall": [
        (430, 270, 0), (90, 275, 30), (30, 380, 30), (0, 480, 30), (0, 700, 60), (15, 900, 60),
        (60, 1030, 50), (220, 1080, 100), (1020, 1160, 30), (1050, 1135, 10), (1100, 1140, 15),
        (1620, 1590, 0),
    ],
    "van": [
        (380, 225, 0), (50, 230, 30), (5, 340, 40), (0, 520, 60), (25, 700, 90), (110, 900, 120),
        (330, 1040, 150), (640, 1150, 60), (700, 1160, 30), (1400, 1880, 0),
    ],
    "wedge": [
        (560, 140, 0), (110, 130, 12), (20, 190, 15), (0, 280, 30), (20, 390, 50), (90, 480, 60),
        (300, 600, 150), (1050, 800, 80), (1090, 790, 12), (1140, 800, 15), (1900, 1180, 0),
    ],
    "round": [
        (400, 220, 0), (120, 230, 60), (20, 340, 90), (0, 500, 140), (60, 660, 160),
        (220, 800, 200), (560, 930, 300), (940, 1010, 60), (1000, 1030, 20), (1600, 1430, 0),
    ],
}  # fmt: skip


def filleted(corners: Array, facet_deg: float = 4.0) -> Array:
    """A polygon (x, z, r) with its corners rounded by arcs tangent to both sides."""
    points, out = corners[:, :2], [corners[0, :2]]
    for a, b, c, radius in zip(points, points[1:], points[2:], corners[1:-1, 2], strict=False):
        back, ahead = (a - b) / np.hypot(*(a - b)), (c - b) / np.hypot(*(c - b))
        half = np.arccos(np.clip(back @ ahead, -1.0, 1.0)) / 2.0
        reach = min(radius / np.tan(half), 0.45 * np.hypot(*(a - b)), 0.45 * np.hypot(*(c - b)))
        middle = b + (back + ahead) / np.hypot(*(back + ahead)) * reach / np.cos(half)
        first, last = b + back * reach - middle, b + ahead * reach - middle
        turn = np.arctan2(first[0] * last[1] - first[1] * last[0], first @ last)
        for t in np.linspace(0.0, turn, max(2, round(abs(np.degrees(turn)) / facet_deg) + 1)):
            cosine, sine = np.cos(t), np.sin(t)
            out.append(middle + first @ np.array([[cosine, sine], [-sine, cosine]]))
    return np.array([*out, points[-1]])


def check_front(y: float) -> Array:
    """The closed-form front: its polygon with fillets, bent in plan and crowned."""
    points = filleted(np.array(KINDS["saloon"], dtype=np.float64), 2.0)
    x = points[:, 0] + y**2 / 5200.0 + max(abs(y) - 600.0, 0.0) ** 2 / 520.0
    z = points[:, 1] - y**2 / 13000.0 * np.clip((points[:, 1] - 600.0) / 250.0, 0.0, 1.0)
    return np.stack([x, z], axis=1)


def shape(kind: str, rng: np.random.Generator) -> Callable[[float], Array]:
    """One front of a kind: its section at any y, in fine facets."""
    corners = np.array(KINDS[kind], dtype=np.float64)
    corners *= (rng.uniform(0.85, 1.15), rng.uniform(0.93, 1.08), rng.uniform(0.5, 1.5))
    corners[1:-1, :2] += rng.normal(0.0, 3.0, (len(corners) - 2, 2))
    points = filleted(corners)
    plan, from_y, corner = rng.uniform(1800, 5000), rng.uniform(450, 650), rng.uniform(350, 900)
    crown, cut = rng.uniform(5000.0, 16000.0), rng.uniform(0.0, 0.25)
    low, edge = rng.uniform(300.0, 420.0), 0.55 * points[:, 1].max()

    def section(y: float) -> Array:
        x, z = points.T.copy()
        x += y**2 / (2.0 * plan) + max(abs(y) - from_y, 0.0) ** 2 / corner
        z -= y**2 / crown * np.clip((z - edge) / 250.0, 0.0, 1.0)
        # Towards the corners the underside is cut away.
        z += cut * max(abs(y) - from_y + 150.0, 0.0) * np.clip((low - z) / 150.0, 0.0, 1.0)
        return np.stack([x, z], axis=1)

    return section


def stations(rng: np.random.Generator) -> Array:
    """One to thirteen stations, of a half or a whole front, evenly apart or not."""
    count = int(rng.choice([1, 2, 3, 4, 5, 6, 7, 8, 9], p=[0.06, 0.06, *[0.88 / 7] * 7]))
    far = rng.uniform(500.0, 850.0)
    half = np.linspace(0.0, far, count)
    if count > 3 and rng.random() < 0.5:
        half[1:-1] += rng.uniform(-0.3, 0.3, count - 2) * half[1]
    half = np.round(half, -1)
    if rng.random() < 0.3:
        half = np.concatenate([-half[:0:-1], half])
    return half


def rows_of(section: Array, rng: np.random.Generator, noise: float) -> Array:
    """Rows that a measurer takes: edges, and between them a row every few centimetres."""
    import shapely

    kept = np.array(shapely.LineString(section).simplify(rng.uniform(2.0, 6.0)).coords)
    step, out = rng.uniform(35.0, 110.0), [kept[:1]]
    for a, b in zip(kept, kept[1:], strict=False):
        n = max(1, round(np.hypot(*(b - a)) / step))
        out.append(a + (b - a) * np.arange(1, n + 1)[:, None] / n)
    rows = np.concatenate(out)
    return rows + rng.normal(0.0, noise, rows.shape)


def measured(kind: str, rng: np.random.Generator) -> Table:
    """A table of one front of a kind: where it begins and ends differs from station to station."""
    section, noise = shape(kind, rng), rng.uniform(0.0, 2.0)
    datum, back, under = rng.uniform(-200.0, 200.0), rng.uniform(0.1, 1.0), rng.uniform(0.0, 0.9)
    table = []
    for y in stations(rng):
        rows = rows_of(section(y), rng, noise)
        foremost = int(rows[:, 0].argmin())
        front = rows[foremost, 0]
        windscreen = 950.0
        reach = rows[-1, 0] - front
        last = front + windscreen + back * max(reach - windscreen, 0.0) + rng.uniform(-60.0, 60.0)
        first = front + 60.0 + under * 350.0 + rng.uniform(-40.0, 40.0)
        ahead = np.arange(len(rows)) >= foremost
        keep = np.where(ahead, rows[:, 0] <= last, rows[:, 0] <= first)
        table.append((float(y), np.round(rows[keep] + (datum, 0.0), 1)))
    return table
