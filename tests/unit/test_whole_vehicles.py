"""Meshes of whole vehicles: what a tool can reach counts, and what lies behind is no doubt."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from ruled_sheets import ruled

import frontcheck as fc
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
    return written(tmp_path, np.concatenate([ruled(WHOLE, WIDTHS), *more]))


def written(tmp_path, corners):
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


SILL = [(2000.0, 350.0), (1600.0, 350.0), (1500.0, 650.0), (900.0, 650.0), (800.0, 330.0)]


def test_a_sill_and_a_wheel_above_what_is_foremost_are_no_slip(tmp_path) -> None:
    line = [*SILL, *FRONT[:3], (-60.0, 310.0), (20.0, 420.0), *WHOLE[5:]]
    front = read_front(written(tmp_path, ruled(line, WIDTHS)), unit="mm", pitch=200.0)
    at = front.section(0.0)
    assert at.points[0] == pytest.approx(SILL[0])
    assert at.z[at.x.argmin()] == pytest.approx(310.0)  # lower than where it begins
    assert fc.plausibility(front) == ()


@pytest.mark.parametrize(
    ("end", "odd"),
    [((110.0, 570.0), False), ((109.0, 570.0), True), ((111.0, 569.0), True)],
)
def test_where_a_section_of_a_mesh_must_end(tmp_path, end, odd) -> None:
    """100 mm behind what is foremost (10, 560), and 250 mm above the lower of it and the start."""
    line = [(400.0, 320.0), *FRONT[1:5], end]
    front = read_front(written(tmp_path, ruled(line, WIDTHS)), unit="mm", pitch=800.0)
    told = [doubt for doubt in fc.plausibility(front) if "the highest row" not in doubt.what]
    assert len(told) == odd
    for doubt in told:
        assert doubt.what == (
            "sections of the mesh do not end well behind and above what is foremost: "
            "point 6 at y = -800 mm, point 6 at y = 0 mm, point 6 at y = 800 mm"
        )
        assert doubt.do == "check forward and up, and that the mesh reaches over the bonnet"


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
