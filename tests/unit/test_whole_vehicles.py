"""Meshes of whole vehicles: how wide a front is, is told by what a tool can reach."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from ruled_sheets import ruled

from frontcheck.errors import InputError
from frontcheck.geometry.outline import REACH_MM
from frontcheck.geometry.slicing import Axes
from frontcheck.reading import mesh
from frontcheck.reading.readers import read_front
from frontcheck.reading.solid import MeshData

FRONT = [(400.0, 220.0), (120.0, 210.0), (30.0, 300.0), (55.0, 420.0), (10.0, 560.0),
         (40.0, 760.0), (150.0, 850.0), (1000.0, 980.0), (1500.0, 1300.0)]  # fmt: skip
WHOLE = [*FRONT, (2000.0, 1450.0), (2400.0, 1450.0), (4200.0, 1450.0)]
WIDTHS = (-800.0, -330.0, 0.0, 250.0, 800.0)
OUT_MM = 300.0  # three times what a front may be uneven by


def flap(first: int, side: float) -> np.ndarray:
    """A triangle that stands out of an edge of the body, from a corner of the row to the last."""
    (x0, z0), (x1, z1) = WHOLE[first], WHOLE[-1]
    out = (x0 + 200.0, side * (800.0 + OUT_MM), z0)
    return np.array([[(x0, side * 800.0, z0), (x1, side * 800.0, z1), out]])


def vehicle(tmp_path, *more):
    corners = np.concatenate([ruled(WHOLE, WIDTHS), *more])
    path = tmp_path / "vehicle.stl"
    trimesh.Trimesh(**trimesh.triangles.to_kwargs(corners), process=False).export(path)
    return path


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_what_stands_out_behind_all_reach_leaves_the_front_as_it_is(tmp_path, side) -> None:
    plain = read_front(vehicle(tmp_path), unit="mm", pitch=100.0)
    laden = read_front(vehicle(tmp_path, flap(-2, side)), unit="mm", pitch=100.0)
    assert laden.stations == plain.stations == tuple(np.arange(-800.0, 801.0, 100.0))
    for ours, other in zip(laden.sections, plain.sections, strict=True):
        assert ours.points == pytest.approx(other.points, abs=1e-6)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_what_stands_out_within_reach_is_told(tmp_path, side) -> None:
    with pytest.raises(InputError, match="1100 mm to the " + ("right" if side > 0 else "left")):
        read_front(vehicle(tmp_path, flap(-4, side)), unit="mm", pitch=100.0)


@pytest.mark.parametrize("indexed", [True, False])
@pytest.mark.parametrize("seed", range(6))
def test_the_width_within_reach_against_trimesh(seed, indexed) -> None:
    """Triangles are cut where the reach ends, wherever their corners are."""
    rng = np.random.default_rng(seed)
    points = rng.uniform((0.0, -1000.0, 0.0), (5000.0, 1000.0, 1500.0), (30, 3))
    points[0, 0] = 0.0
    faces = np.array([rng.choice(30, 3, replace=False) for _ in range(14)])
    faces[0, 0] = 0
    held = (points, faces) if indexed else (points[faces], None)
    data = MeshData(*held, parts=None, sha256="", notes=[])
    low, high = mesh._extent(data, Axes())
    cut = trimesh.Trimesh(points, faces, process=False).slice_plane(
        (REACH_MM, 0.0, 0.0), (-1.0, 0.0, 0.0)
    )
    assert (low[1], high[1]) == pytest.approx(cut.bounds[:, 1], abs=1e-6)
    used = points[np.unique(faces)]
    assert low[::2] == pytest.approx(used.min(axis=0)[::2])
    assert high[::2] == pytest.approx(used.max(axis=0)[::2])
