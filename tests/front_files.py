"""Front files and shapes for them: one invented front, as a mesh in any pose, and as a table.

The mesh is written by its own few lines: corners of the sections at stations 50 mm apart, turned,
shifted and scaled with plain complex numbers and axes by name, so that a cut at a station of the
table is its row of corners exactly.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

_X = (210, 60, 8, 0, 42, 150, 610, 1040, 1350, 1700)
_Z = (190, 215, 300, 520, 640, 742, 838, 905, 1090, 1290)
SECTION = np.array([_X, _Z], dtype=float).T
"""Invented corners x, z [mm], from underside to windscreen."""
PER_MM = {"mm": 1.0, "cm": 0.1, "m": 0.001, "in": 1 / 25.4}
STATIONS = range(-700, 701, 100)
PLAIN = {"unit": "mm", "forward": "-x", "up": "+z"}


def section_at(y: float) -> np.ndarray:
    """Corners at a station: set back and lowered outboard."""
    return SECTION + np.array([y * y / 2600.0, -y * y / 30000.0])


def axis(name: str) -> np.ndarray:
    """Unit vector of a file axis such as ``-x``."""
    return np.eye(3)["xyz".index(name[1])] * (-1.0 if name[0] == "-" else 1.0)


def write_table(path: Path, nose: float = 0.0, unit: str = "mm") -> Path:
    """The front as an offset table; `nose` moves the corner at the foremost point [mm]."""
    rows = [f"station_{unit},height_{unit},setback_{unit}"]
    for y in STATIONS:
        points = section_at(y)
        points[3, 0] -= nose
        rows += [",".join(repr(v * PER_MM[unit]) for v in (y, z, x)) for x, z in points.tolist()]
    head = ["# name: invented", "# datum: common", "# symmetric: no"]
    path.write_text("\n".join([*head, *rows]) + "\n", "utf-8")
    return path


def write_obj(
    path: Path, *, unit: str = "mm", forward: str = "-x", up: str = "+z", ground: float = 0.0,
    centre: float = 0.0, pitch_deg: float = 0.0, nose: float = 0.0,
) -> Path:  # fmt: skip
    """The same as a mesh: nose down by `pitch_deg`, `ground` and `centre` in file units."""
    ys = np.arange(-700.0, 701.0, 50.0)
    grid = np.empty((len(ys), len(SECTION), 3))
    for i, y in enumerate(ys):
        points = section_at(y)
        points[3, 0] -= nose
        turned = (points[:, 0] + 1j * points[:, 1]) * np.exp(1j * np.radians(pitch_deg))
        grid[i] = np.stack([turned.real, np.full(len(points), y), turned.imag], axis=1)
    f, u = axis(forward), axis(up)
    side = np.cross(f, u)  # the vehicle's right
    x, y, z = np.moveaxis(grid * PER_MM[unit], -1, 0)[..., None]
    # centre_y counts along the file axis itself, whichever way it points
    across = y * side + centre * np.abs(side)
    corners = (-x * f + across + (z + ground) * u).reshape(-1, 3)
    n = len(SECTION)
    lines = ["v " + " ".join(map(repr, corner)) for corner in corners.tolist()]
    for i in range(len(ys) - 1):
        for j in range(n - 1):
            a = i * n + j + 1
            lines.append(f"f {a} {a + 1} {a + n + 1} {a + n}")
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


def front_file(path: Path, shape: str, text: str = "") -> Path:
    """A front file that names a shape beside it."""
    path.write_text(f'files = ["{shape}"]\n{text}', "utf-8")
    return path


def pose_text(
    *, unit: str = "mm", forward: str = "-x", up: str = "+z", ground: float = 0.0,
    centre: float = 0.0, pitch_deg: float = 0.0,
) -> str:  # fmt: skip
    """What a front file says of a mesh that `write_obj` wrote so."""
    return (
        f'unit = "{unit}"\n[axes]\nforward = "{forward}"\nup = "{up}"\ncentre_y = {centre!r}\n'
        f"[ground]\nheight = {ground!r}\n[attitude]\npitch_deg = {pitch_deg!r}\n"
        f"[cut]\nstations = {list(STATIONS)}\nhalf = false\n"
    )
