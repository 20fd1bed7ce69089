"""Slices against trimesh, an independent implementation, on bodies of no special shape.

trimesh cuts with its own code and its own rule at vertices; lengths, areas and places of the
cuts must agree all the same.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh
from checks import Check, Source, derived

from frontcheck.geometry.slicing import cut_mesh

CUTS = Check(
    "mesh-cuts",
    kind="independent method",
    quantity="length and place of side sections cut from lumpy closed bodies",
    unit="mm",
    source=Source("trimesh", where="mesh_plane; distance by shapely", known="derived"),
    why="both are exact on the triangles: rounding of doubles only",
)
VOLUME = Check(
    "mesh-cuts-volume",
    kind="closed form",
    quantity="volume of a body from the areas of its cuts",
    unit="mm3",
    source=derived("Cavalieri; Simpson's rule is exact between rows of vertices"),
    why="a thousand-millionth of it: rounding of doubles",
)

SEEDS = range(6)


def lumpy(seed):
    """A closed body of random bumps, 5120 triangles."""
    body = trimesh.creation.icosphere(subdivisions=4, radius=300.0)
    rng = np.random.default_rng(seed)
    direction = body.vertices / 300.0
    height = np.ones(len(body.vertices))
    for _ in range(8):
        centre = rng.normal(size=3)
        centre /= np.linalg.norm(centre)
        height += rng.uniform(-0.3, 0.5) * np.exp(-8.0 * (1.0 - direction @ centre))
    return trimesh.Trimesh(body.vertices * height[:, None] + [400.0, 0.0, 700.0], body.faces)


def lines_of_trimesh(mesh, y):
    """All stretches that trimesh cuts at y, as one geometry."""
    cut = trimesh.intersections.mesh_plane(mesh, [0.0, 1.0, 0.0], [0.0, y, 0.0])
    return shapely.multilinestrings(list(shapely.linestrings(cut[:, :, ::2])))


def rings(chains):
    assert all(chain.closed for chain in chains)
    return [shapely.linearrings(chain.points) for chain in chains]


@pytest.mark.parametrize("seed", SEEDS)
def test_cuts_of_lumpy_bodies_agree(seed) -> None:
    mesh = lumpy(seed)
    assert mesh.is_watertight
    planes = np.linspace(mesh.bounds[0, 1] + 1.0, mesh.bounds[1, 1] - 1.0, 23)
    # Shuffled and without shared vertices: neither order nor welding may matter.
    order = np.random.default_rng(seed).permutation(len(mesh.faces))
    for y, chains, counts in cut_mesh(mesh.triangles[order], planes, thin=0.0):
        theirs = lines_of_trimesh(mesh, y)
        ours = shapely.geometrycollections(rings(chains))
        assert counts.junctions == counts.cracks == counts.flipped == counts.duplicates == 0
        # 1e-6 mm: both are exact on the triangles but for rounding.
        CUTS.compare(shapely.length(theirs), shapely.length(ours), tolerance=1e-6)
        CUTS.compare(0.0, shapely.hausdorff_distance(ours, theirs), tolerance=1e-6)
        assert all(chain.winding == 1 for chain in chains)


@pytest.mark.parametrize("seed", SEEDS)
def test_areas_of_the_cuts_add_up_to_the_volume(seed) -> None:
    # Cavalieri: the integral of the cut areas over y is the volume; between rows of vertices the
    # area is a quadratic in y, so Simpson's rule over these bands is exact.
    mesh = lumpy(seed)
    levels = np.unique(mesh.vertices[:, 1])
    middle = (levels[1:] + levels[:-1]) / 2.0
    wide = np.diff(levels) > 1e-9

    # At a level itself the area is continuous: just above it does as well.
    heights = np.unique(np.concatenate([levels, middle[wide]]))
    area = {}
    for y, chains, _ in cut_mesh(mesh.triangles, heights, thin=0.0):
        # Winding with air on the left is clockwise round the body, anticlockwise round a hole.
        area[y] = -sum(
            0.5 * float(np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1]))
            for p in (chain.points for chain in chains)
        )
    volume = sum(
        (b - a) / 6.0 * (area[a] + 4.0 * area[m] + area[b])
        for a, b, m in zip(levels[:-1][wide], levels[1:][wide], middle[wide], strict=True)
    )
    VOLUME.compare(mesh.volume, volume, relative=1e-9)


def test_planes_through_every_vertex_of_a_grid_agree() -> None:
    # Boxes subdivided so that every plane runs through rows of vertices and along edges.
    body = trimesh.creation.box((600.0, 800.0, 400.0)).subdivide().subdivide().subdivide()
    body.apply_translation([300.0, 0.0, 500.0])
    inner = np.unique(body.vertices[:, 1])[1:-1]
    for y, chains, counts in cut_mesh(body.triangles, inner):
        assert counts.junctions == 0
        (ring,) = rings(chains)
        assert shapely.length(ring) == pytest.approx(2000.0, abs=1e-9)
        assert shapely.area(shapely.polygons(ring)) == pytest.approx(240_000.0, abs=1e-6)
        assert len(chains[0].points) == 4, y
