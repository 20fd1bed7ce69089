"""Fronts known in closed form, as meshes and as offset tables; and what must be found on them.

A section, a polyline of (x, z), is pushed back over y by a plan curve f(y). So every station has
the same section, and what stands in it moves by f(y) alone. The surface element of a stretch
whose direction is (dx, dz) is ds dy sqrt(1 + dz^2 f'(y)^2).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from frontcheck.front.front import Front
from frontcheck.surface.section import Section

POINTS = np.array(
    [(70, 190), (25, 255), (0, 340), (0, 560), (32, 645), (118, 725), (255, 783), (690, 862),
     (1180, 939), (1560, 1176), (1960, 1400)],
    dtype=np.float64,
)  # fmt: skip
FOOT = 8
"""The point at which the windscreen stands on the bonnet."""
PARTS = ("underside", "bumper", "bumper", "bumper", "bumper", *("bonnet",) * 3,
         *("windscreen",) * 3)  # fmt: skip
"""Part of every point."""
STRETCHES = ("underside", "bumper", "bumper", "bumper", *("bonnet",) * 4,
             "windscreen", "windscreen")  # fmt: skip
"""Part of every stretch between two points."""
HALF = 840.0

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def circle(radius: float) -> Curve:
    return lambda y: radius - np.sqrt(radius**2 - np.asarray(y) ** 2)


def flat_ellipse(flat: float, half: float, depth: float) -> Curve:
    """An ellipse quarter either side of a flat middle."""

    def curve(y: NDArray[np.float64]) -> NDArray[np.float64]:
        t = np.clip((np.abs(y) - flat) / half, 0.0, None)
        out: NDArray[np.float64] = depth * (1.0 - np.sqrt(1.0 - t**2))
        return out

    return curve


@dataclass(frozen=True)
class AnalyticFront:
    """A section pushed back over y."""

    plan: Curve
    points: NDArray[np.float64]
    parts: tuple[str, ...]

    def at(self, y: float) -> NDArray[np.float64]:
        return np.add(self.points, [float(self.plan(np.array(y))), 0.0])

    def table(self, step: float) -> Front:
        """Stations `step` apart, the outermost at the side of the front."""
        stations = np.unique([*np.arange(0.0, HALF, step), HALF])
        sections = tuple(Section(self.at(y), y, self.parts) for y in stations.tolist())
        return Front(sections, name="analytic", symmetric=True)

    def write_obj(self, path: Path, facet: float) -> Path:
        """A mesh with groups, no facet longer than `facet` across y or along the section."""
        y = np.linspace(-HALF, HALF, int(np.ceil(2.0 * HALF / facet)) + 1)
        arcs = arcs_of(self.points)
        pieces = [
            np.linspace(a, b, int(np.ceil((b - a) / facet)), endpoint=False)
            for a, b in zip(arcs, arcs[1:], strict=False)
        ]
        s = np.concatenate([*pieces, arcs[-1:]])
        x, z = (np.interp(s, arcs, self.points[:, k]) for k in (0, 1))
        n = len(s)
        lines = [
            f"v {a + back!r} {yi!r} {b!r}"
            for yi, back in zip(y.tolist(), self.plan(y).tolist(), strict=True)
            for a, b in zip(x.tolist(), z.tolist(), strict=True)
        ]
        owner = np.searchsorted(arcs, (s[:-1] + s[1:]) / 2.0) - 1
        for name in dict.fromkeys(STRETCHES):
            lines.append(f"g {name}")
            for j in np.flatnonzero([STRETCHES[k] == name for k in owner]).tolist():
                for i in range(len(y) - 1):
                    a, b = i * n + j + 1, (i + 1) * n + j + 1
                    lines += [f"f {a} {b} {a + 1}", f"f {b} {b + 1} {a + 1}"]
        path.write_text("\n".join(lines) + "\n")
        return path


def arcs_of(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
