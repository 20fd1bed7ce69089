"""The one surface: a mesh is itself, hand-measured stations span it; facets and cuts agree."""

from __future__ import annotations

import io

import numpy as np
import pytest
import shapely
from front_shapes import front_of, plan_circle, upright_face

from frontcheck import read_front
from frontcheck.errors import ContourError
from frontcheck.surface.section import PARTS, part_codes, point_parts, stretch_parts


def facet_cut(corners, y):
    """Cut facets by the plane at y, one by one: what is left is a heap of stretches."""
    out = []
    for triangle in corners:
        met = []
        for a, b in ((0, 1), (1, 2), (2, 0)):
            p, q = triangle[a], triangle[b]
            if (p[1] - y) * (q[1] - y) < 0.0:
                met.append(p + (y - p[1]) / (q[1] - p[1]) * (q - p))
        if len(met) == 2:
            out.append(shapely.LineString(np.array(met)[:, ::2]))
    return shapely.union_all(out)


@pytest.mark.parametrize("name", ["plover.csv", "avocet.csv"])
@pytest.mark.parametrize("y", [33.0, -417.5, 751.0])
def test_facets_and_sections_are_one_surface(geometries, name, y) -> None:
    """Facets of a smooth surface are 5 mm wide: what they leave out is its bend within that."""
    surface = read_front(geometries / name).surface()
    assert surface.kind == "smooth"
    found = facet_cut(surface.facets((-np.inf, y - 1.0, 0.0), (np.inf, y + 1.0, np.inf)).corners, y)
    section = shapely.LineString(surface.section(y).points)
    assert shapely.hausdorff_distance(found, section, densify=0.01) < 0.3


def test_sections_at_measured_stations_are_what_was_measured(geometries) -> None:
    front = read_front(geometries / "plover.csv")
    surface = front.surface()
    for section in front.full().sections:
        assert np.array_equal(surface.section(section.y).points, section.points)


def test_a_mesh_is_cut_and_never_interpolated(geometries) -> None:
    """Between stations 200 mm apart a cut of the mesh shows what stands there."""
    coarse = read_front(geometries / "plover.stl", unit="mm", pitch=200.0)
    fine = read_front(geometries / "plover.stl", unit="mm", pitch=10.0)
    surface = coarse.surface()
    assert surface.kind == "mesh"
    for y in (30.0, 170.0, -490.0):
        assert np.array_equal(surface.section(y).points, fine.full().section(y).points)
    assert surface.y_range == fine.surface().y_range


def test_facets_of_a_mesh_are_its_triangles(geometries) -> None:
    import trimesh

    text = (geometries / "plover.stl").read_bytes()
    mesh = trimesh.load(io.BytesIO(text), file_type="stl")
    front = read_front(geometries / "plover.stl", unit="mm")
    facets = front.surface().facets()
    area = np.linalg.norm(
        np.cross(facets.corners[:, 1] - facets.corners[:, 0],
                 facets.corners[:, 2] - facets.corners[:, 0]), axis=1
    ).sum() / 2.0  # fmt: skip
    both = 2.0 if front.symmetric else 1.0
    assert area == pytest.approx(both * mesh.area, rel=1e-6)
    box = front.surface().facets((0.0, -50.0, 400.0), (300.0, 20.0, 600.0))
    least, most = box.corners.min(axis=1), box.corners.max(axis=1)
    assert len(box)
    assert ((most >= (0.0, -50.0, 400.0)) & (least <= (300.0, 20.0, 600.0))).all()
    every_least, every_most = facets.corners.min(axis=1), facets.corners.max(axis=1)
    inside = (every_most >= (0.0, -50.0, 400.0)) & (every_least <= (300.0, 20.0, 600.0))
    assert len(box) == inside.all(axis=1).sum()


def test_a_symmetric_surface_is_symmetric_to_the_last_bit(geometries) -> None:
    for surface in (
        read_front(geometries / "plover.csv").surface(),
        read_front(geometries / "plover.stl", unit="mm", symmetric=True).surface(),
    ):
        right = surface.facets((-np.inf, 100.0, 0.0), (np.inf, 200.0, np.inf))
        left = surface.facets((-np.inf, -200.0, 0.0), (np.inf, -100.0, np.inf))
        assert np.array_equal(left.corners, right.corners * [1.0, -1.0, 1.0])
        assert np.array_equal(surface.section(-123.0).points, surface.section(123.0).points)


def test_beyond_the_surface_there_is_no_section(geometries) -> None:
    surface = read_front(geometries / "plover.stl", unit="mm").surface()
    with pytest.raises(ContourError, match="does not reach"):
        surface.section(2000.0)
    assert surface.cuts([0.0, 2000.0])[1] == "the mesh does not reach it"


def test_parts_of_points_and_of_stretches_say_the_same() -> None:
    rng = np.random.default_rng(4)
    for _ in range(200):
        runs = rng.permutation(len(PARTS))[: rng.integers(1, 6)]
        stretches = np.repeat(runs, rng.integers(2, 5, len(runs)))
        assert np.array_equal(stretch_parts(part_codes(point_parts(stretches) or [])), stretches)


def test_facets_carry_the_parts_of_their_stretches() -> None:
    shape = upright_face(plan_circle(1200.0))
    front = front_of(shape, np.arange(-400.0, 401.0, 100.0))
    assert (front.surface().facets().part == -1).all()
