"""Scans of fronts whose shape is known, as a hand-held scanner would leave them.

The shapes are closed forms: a polygon in the side section, its corners rounded by tangent arcs,
and a plan that bends it rearward and down. Noise is half of each kind: from point to point, and
a field that keeps its value over some 40 mm. Holes are in glass and grille, spikes everywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CHECK = (
    (520, 235, 0), (60, 215, 18), (18, 330, 18), (62, 395, 14), (64, 440, 14), (-4, 500, 30),
    (2, 575, 22), (48, 612, 16), (66, 742, 12), (40, 765, 14), (75, 815, 60), (1010, 960, 25),
    (1022, 925, 12), (1075, 925, 12), (1110, 958, 20), (1720, 1330, 0),
)  # fmt: skip
"""The check front: corners x, z [mm] and the radius of each fillet."""
TALL = (
    (480, 250, 0), (70, 240, 25), (30, 330, 30), (10, 520, 60), (25, 640, 40), (60, 700, 25),
    (80, 880, 30), (150, 985, 90), (800, 1090, 60), (860, 1070, 20), (1350, 1500, 0),
)  # fmt: skip
"""A tall front, its grille set back by little."""
LOW = (
    (600, 170, 0), (90, 165, 12), (40, 230, 25), (70, 290, 16), (75, 330, 16), (5, 420, 30),
    (0, 500, 45), (60, 585, 40), (120, 640, 120), (1250, 870, 30), (1270, 845, 12),
    (1320, 850, 15), (1900, 1130, 0),
)  # fmt: skip
"""A low front with a long bonnet."""


def rounded(corners: tuple[tuple[float, float, float], ...], step: float) -> Array:
    """The outline with tangent arcs at its corners: points no farther apart than a step."""
    at = np.array(corners, dtype=float)
    out: list[Array] = [at[:1, :2]]
    for before, (x, z, r), after in zip(at[:-2, :2], at[1:-1], at[2:, :2], strict=True):
        corner = np.array([x, z])
        a, b = (end - corner for end in (before, after))
        a, b = a / np.hypot(*a), b / np.hypot(*b)
        half = np.arccos(np.clip(a @ b, -1, 1)) / 2
        centre = corner + (a + b) / np.hypot(*(a + b)) * r / np.sin(half)
        ends = [corner + way * r / np.tan(half) - centre for way in (a, b)]
        turn = np.arctan2(ends[0][0] * ends[1][1] - ends[0][1] * ends[1][0], ends[0] @ ends[1])
        way = np.arctan2(ends[0][1], ends[0][0])
        angles = way + np.linspace(0, turn, max(2, int(np.ceil(abs(turn) * r / step)) + 1))
        out.append(centre + r * np.column_stack([np.cos(angles), np.sin(angles)]))
    out.append(at[-1:, :2])
    points = np.concatenate(out)
    lengths = np.hypot(*np.diff(points, axis=0).T)
    filled = [
        np.linspace(p, q, max(1, int(np.ceil(n / step - 1e-9))), endpoint=False)
        for p, q, n in zip(points[:-1], points[1:], lengths, strict=True)
    ]
    return np.concatenate([*filled, points[-1:]])


def check_plan(x: Array, y: Array, z: Array) -> tuple[Array, Array]:
    """What the check front does across y, as it is defined."""
    beyond = np.maximum(np.abs(y) - 600.0, 0.0)
    return (
        x + y**2 / 5200 + beyond**2 / 520,
        z - y**2 / 13000 * np.clip((z - 600) / 250, 0, 1),
    )


def round_plan(x: Array, y: Array, z: Array) -> tuple[Array, Array]:
    """A rounder plan without a corner."""
    return x + y**2 / 3600 + (np.abs(y) / 900) ** 6 * 60, z - y**2 / 16000 * np.clip(
        (z - 500) / 300, 0, 1
    )


@dataclass(frozen=True)
class Shape:
    """A front of known shape."""

    corners: tuple[tuple[float, float, float], ...] = CHECK
    plan: Callable[[Array, Array, Array], tuple[Array, Array]] = check_plan
    half_width: float = 880.0
    glass_from: float = 1110.0  # x of the foot of the glass at y = 0
    grille: tuple[float, float] = (380.0, 460.0)

    def section(self, y: float, step: float = 0.5) -> Array:
        """The contour at a station: (n, 2) float, x and z [mm]."""
        x, z = rounded(self.corners, step).T
        return np.column_stack(self.plan(x, np.full_like(x, y), z))


CHECK_FRONT = Shape()
SHAPES = {
    "check": CHECK_FRONT,
    "tall": Shape(TALL, round_plan, 860.0, 860.0, (640.0, 700.0)),
    "low": Shape(LOW, check_plan, 900.0, 1320.0, (285.0, 335.0)),
}


@dataclass(frozen=True)
class MadeScan:
    """Points of a scan in its own pose, and the pose."""

    points: Array  # (n, 3) float, file coordinates [mm]
    faces: NDArray[np.int64]  # (m, 3) int
    turn: Array = field(default_factory=lambda: np.eye(3))  # p_file = turn @ p + shift
    shift: Array = field(default_factory=lambda: np.zeros(3))

    def write_ply(self, path: Path, *, metres: bool = True, faces: bool = True) -> Path:
        """Write a binary PLY file, with or without its triangles."""
        points = (self.points / (1000.0 if metres else 1.0)).astype("<f4")
        head = f"ply\nformat binary_little_endian 1.0\nelement vertex {len(points)}\n"
        head += "property float x\nproperty float y\nproperty float z\n"
        body = points.tobytes()
        if faces:
            head += f"element face {len(self.faces)}\nproperty list uchar int vertex_indices\n"
            rows = np.zeros(len(self.faces), dtype=[("n", "u1"), ("v", "<i4", 3)])
            rows["n"], rows["v"] = 3, self.faces
            body += rows.tobytes()
        path.write_bytes((head + "end_header\n").encode() + body)
        return path


class Field:
    """A random field of unit variance, covariance exp(-d^2 / 2 l^2), as a sum of waves."""

    def __init__(self, rng: np.random.Generator, length: float, waves: int = 250) -> None:
        self.ways = rng.normal(size=(waves, 3)) / length
        self.phases = rng.uniform(0, 2 * np.pi, waves)

    def __call__(self, points: Array) -> Array:
        out = np.empty(len(points))
        for i in range(0, len(points), 20_000):
            some = points[i : i + 20_000].astype(np.float32)
            waves = np.cos(some @ self.ways.T.astype(np.float32) + self.phases.astype(np.float32))
            out[i : i + 20_000] = waves.sum(axis=1) * np.sqrt(2.0 / len(self.phases))
        return out


def _grid(a: Array, b: Array) -> tuple[Array, Array, NDArray[np.int64]]:
    """A rectangle of points and its triangles."""
    i = np.arange(len(a) * len(b)).reshape(len(a), len(b))
    quads = np.stack([i[:-1, :-1], i[1:, :-1], i[1:, 1:], i[:-1, 1:]], axis=-1).reshape(-1, 4)
    faces = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    return np.repeat(a, len(b)), np.tile(b, len(a)), faces


def made_scan(
    seed: int,
    noise: float = 2.0,
    shape: Shape = CHECK_FRONT,
    *,
    spacing: float = 6.0,
    ground_spacing: float = 12.0,
    glass_missing: float = 0.6,
    grille_missing: float = 0.25,
    spikes: float = 0.005,
    posed: bool = True,
    sides: bool = True,
    half: bool = False,
) -> MadeScan:
    """A scan of a shape: seeded, so that the same numbers come again."""
    rng = np.random.default_rng(seed)
    w = shape.half_width
    outline = rounded(shape.corners, spacing)
    arc = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(outline, axis=0).T))])
    rows = np.arange(0, arc[-1], spacing)
    s, y, faces = _grid(rows, np.arange(0.0 if half else -w, w + 0.1, spacing))
    s = np.clip(s + rng.uniform(-0.4, 0.4, s.shape) * spacing, 0, arc[-1])
    y = np.clip(y + rng.uniform(-0.4, 0.4, y.shape) * spacing, -w, w)
    x0, z0 = (np.interp(s, arc, outline[:, i]) for i in (0, 1))
    x, z = shape.plan(x0, y, z0)
    parts = [np.column_stack([x, y, z])]
    kept = [np.ones(len(s), bool)]
    holes = Field(rng, 90.0, 80)(parts[0])
    glass = x0 > shape.glass_from
    grille = (z0 > shape.grille[0]) & (z0 < shape.grille[1]) & (x0 < 300)
    for where, share in ((glass, glass_missing), (grille, grille_missing)):
        if share > 0 and where.any():
            kept[0][where] = holes[where] > np.quantile(holes[where], share)
    all_faces = [faces]
    if sides:
        top = rounded(shape.corners, 5.0)
        top = top[top[:, 1] > 700]
        low = 260.0
        edge_x, edge_z = shape.plan(top[:, 0], np.full(len(top), w), top[:, 1])
        for side in (1.0,) if half else (-1.0, 1.0):
            a, b, f = _grid(np.arange(edge_x[0], edge_x[-1], 10.0), np.arange(low, 1500.0, 10.0))
            fits = b < np.interp(a, np.maximum.accumulate(edge_x), edge_z)
            fits &= np.hypot(a - 900, b - 300) > 340  # the wheel arch
            all_faces.append(f + sum(map(len, parts)))
            parts.append(np.column_stack([a, np.full_like(a, side * w), b]))
            kept.append(fits)
    a, b, f = _grid(
        np.arange(-1100.0, 1800, ground_spacing), np.arange(-1700.0, 1700, ground_spacing)
    )
    all_faces.append(f + sum(map(len, parts)))
    jitter = rng.uniform(-0.4, 0.4, (2, len(a))) * ground_spacing
    parts.append(np.column_stack([a + jitter[0], b + jitter[1], np.zeros_like(a)]))
    kept.append(~((a > 250) & (np.abs(b) < w - 60)))
    points = np.concatenate(parts)
    keep = np.concatenate(kept)
    if noise > 0:
        along = np.stack([Field(rng, 40.0)(points) for _ in range(3)], axis=1)
        points = points + noise * np.sqrt(0.5) * (along + rng.normal(size=points.shape))
    hit = rng.random(len(points)) < spikes
    ways = rng.normal(size=(int(hit.sum()), 3))
    ways *= (rng.uniform(20, 150, len(ways)) / np.linalg.norm(ways, axis=1))[:, None]
    points[hit] += ways
    number = np.cumsum(keep) - 1
    triangles = np.concatenate(all_faces)
    triangles = number[triangles[keep[triangles].all(axis=1)]]
    points = points[keep]
    if not posed:
        return MadeScan(points, triangles)
    # x rearward, y right, z up, turned by a yaw and a small tilt, then y up and metres from afar.
    yaw, roll, nod = rng.uniform(-np.pi, np.pi), *np.radians(rng.uniform(-4, 4, 2))
    turn = _turn(0, roll) @ _turn(1, nod) @ _turn(2, yaw)
    turn = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]) @ turn
    shift = rng.uniform(-1500, 1500, 3)
    return MadeScan(points @ turn.T + shift, triangles, turn, shift)


def _turn(axis: int, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    i, j = [k for k in range(3) if k != axis]
    out = np.eye(3)
    out[i, i] = out[j, j] = c
    out[i, j], out[j, i] = (-s, s) if axis != 1 else (s, -s)
    return out


def demo_scan(spacing: float = 9.0, noise: float = 1.5) -> MadeScan:
    """The scan of Plover in `geometries/`: its surface, a patch of ground, little noise."""
    import frontcheck as fc

    rng = np.random.default_rng(16)
    front = fc.read_front("geometries/plover.csv")
    ends = np.arange(-758.0, 758.1, spacing)
    parts = []
    for y, section in zip(ends, front.surface().cuts(np.abs(ends)), strict=True):
        assert not isinstance(section, str)
        arc = section.arc_lengths
        at = np.arange(rng.uniform(0, spacing), arc[-1], spacing)
        x, z = (np.interp(at, arc, section.points[:, i]) for i in (0, 1))
        parts.append(np.column_stack([x, y + rng.uniform(-0.4, 0.4, len(at)) * spacing, z]))
    a, b, _ = _grid(np.arange(-1000.0, 1200, 24.0), np.arange(-1400.0, 1400, 24.0))
    on = ~((a > 150) & (np.abs(b) < 700))
    parts.append(np.column_stack([a[on], b[on], np.zeros(int(on.sum()))]))
    points = np.concatenate(parts)
    along = np.stack([Field(rng, 40.0)(points) for _ in range(3)], axis=1)
    points = points + noise * np.sqrt(0.5) * (along + rng.normal(size=points.shape))
    turn = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]) @ _turn(0, 0.02) @ _turn(2, 0.65)
    shift = np.array([240.0, -310.0, 900.0])
    return MadeScan(points @ turn.T + shift, np.zeros((0, 3), np.int64), turn, shift)


if __name__ == "__main__":  # makes geometries/plover-scan.ply anew
    demo_scan().write_ply(Path("geometries/plover-scan.ply"), faces=False)
