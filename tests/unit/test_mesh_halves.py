"""Meshes as surfaces: halves of either side, edges, labels, the foot of the windscreen; notes."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.errors import ContourError
from frontcheck.geometry.slicing import Axes
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface import mesh_surface
from frontcheck.surface.mesh_surface import MeshSurface
from frontcheck.surface.section import PARTS, Section
from frontcheck.zones.build import _notes

ROW = np.array([(200, 240), (0, 250), (0, 700), (900, 760), (1500, 1100)], dtype=float)
STRETCHES = [PARTS.index(name) for name in ("underside", "bumper", "bonnet", "windscreen")]


def grid(ys) -> np.ndarray:
    """Vertices by y and place along the row, moved back by the plan shape y / 10."""
    return np.array([[(x + abs(y) / 10.0, y, z) for x, z in ROW] for y in ys])


def mesh(
    ys, *, side: int = 0, indexed: bool = False, labelled: bool = True, **given
) -> MeshSurface:
    n, m = len(ys), len(ROW)
    vertices = grid(ys).reshape(-1, 3)
    faces, labels = [], []
    for i in range(n - 1):
        for k in range(m - 1):
            a, b, c, d = i * m + k, i * m + k + 1, (i + 1) * m + k, (i + 1) * m + k + 1
            faces += [(a, b, c), (b, d, c)]
            labels += [STRETCHES[k]] * 2
    index = np.array(faces)
    return MeshSurface(
        vertices if indexed else vertices[index], index if indexed else None,
        np.array(labels) if labelled else None, Axes(), (float(min(ys)), float(max(ys))), side,
        **given,
    )  # fmt: skip


WHOLE = [-300.0, -100.0, 0.0, 200.0, 300.0]


def sorted_rows(corners) -> list:
    return sorted(tuple(np.round(c, 6).ravel().tolist()) for c in corners)


@pytest.mark.parametrize("indexed", [True, False])
@pytest.mark.parametrize("at_once", [3, 50_000])
def test_facets_in_a_box_are_those_of_all_triangles(indexed, at_once, monkeypatch) -> None:
    monkeypatch.setattr(mesh_surface, "_AT_ONCE", at_once)
    surface = mesh(WHOLE, indexed=indexed)
    every = surface.facets()
    assert len(every) == 2 * 4 * (len(ROW) - 1)
    rng = np.random.default_rng(4)
    for _ in range(25):
        low, high = np.sort(rng.uniform((-100, -350, 200), (1600, 350, 1200), (2, 3)), axis=0)
        if rng.random() < 0.4:
            low[rng.integers(3)] = -np.inf
            high[rng.integers(3)] = np.inf
        found = surface.facets(low, high)
        inside = ((every.corners.max(1) >= low) & (every.corners.min(1) <= high)).all(axis=1)
        assert sorted_rows(found.corners) == sorted_rows(every.corners[inside])
        assert sorted(found.part.tolist()) == sorted(every.part[inside].tolist())
    # What only touches the box belongs to it.
    edge = surface.facets((-np.inf, 300.0, -np.inf))
    assert len(edge) == 2 * (len(ROW) - 1)
    assert len(surface.facets((-np.inf, 300.1, -np.inf))) == 0
    bare = mesh(WHOLE, indexed=indexed, labelled=False).facets()
    assert set(bare.part.tolist()) == {-1}


@pytest.mark.parametrize("indexed", [True, False])
def test_a_half_of_either_side_stands_for_both(indexed) -> None:
    right = mesh([0.0, 150.0, 300.0], side=1, indexed=indexed)
    left = mesh([-300.0, -150.0, 0.0], side=-1, indexed=indexed)
    for surface in (right, left):
        assert surface.symmetric
        assert surface.y_range == (-300.0, 300.0)
        assert surface.kind == "mesh"
        facets = surface.facets()
        assert len(facets) == 2 * 2 * 2 * (len(ROW) - 1)
        flipped = facets.corners * (1.0, -1.0, 1.0)
        assert sorted_rows(flipped) == sorted_rows(facets.corners)
        only = surface.facets((-np.inf, 160.0, -np.inf), (np.inf, 310.0, np.inf))
        assert len(only) == 2 * (len(ROW) - 1)
        assert only.corners[..., 1].min() == 150.0
        cuts = surface.cuts([-200.0, 200.0, 300.0, -300.0, 300.9, 301.1])
        assert cuts[-1] == "the mesh does not reach it"
        for cut, y in zip(cuts[:5], (-200.0, 200.0, 300.0, -300.0, 300.9), strict=True):
            assert isinstance(cut, Section)
            assert cut.y == y
            # At the edge it is cut a thousandth of a millimetre inside.
            expected = np.add(ROW, (min(abs(y), 300.0) / 10.0, 0.0))
            assert np.abs(cut.points[[0, 1, 2, -2, -1]] - expected).max() < 0.02
    assert not mesh(WHOLE).symmetric
    assert mesh(WHOLE).y_range == (-300.0, 300.0)


def test_a_whole_mesh_is_cut_up_to_its_edge_and_a_thousandth_beyond() -> None:
    surface = mesh([-310.0, 0.0, 300.0])
    assert surface.y_range == (-310.0, 300.0)
    cuts = surface.cuts([-310.0005, -310.0, 300.0, 300.0005, 300.002, -310.002])
    assert [isinstance(cut, Section) for cut in cuts] == [True] * 4 + [False] * 2
    assert cuts[4] == cuts[5] == "the mesh does not reach it"
    assert cuts[0].parts[1] == "bumper"
    with pytest.raises(ContourError, match="the mesh does not reach it"):
        surface.section(400.0)
    seen = surface.mirrored()
    assert seen.y_range == (-300.0, 310.0)
    assert seen.mirrored() is surface
    one, two = seen.section(-250.0), surface.section(250.0)
    assert (one.y, two.y) == (-250.0, 250.0)
    assert np.array_equal(one.points, two.points)
    assert seen.cuts([400.0, 305.0])[0] == "the mesh does not reach it"
    assert isinstance(seen.cuts([305.0])[0], Section)
    assert seen.kind == "mesh"
    assert not seen.symmetric
    box = seen.facets((-np.inf, 100.0, -np.inf), (np.inf, 200.0, np.inf))
    assert sorted_rows(box.corners * (1.0, -1.0, 1.0)) == sorted_rows(
        surface.facets((-np.inf, -200.0, -np.inf), (np.inf, -100.0, np.inf)).corners
    )


@pytest.mark.parametrize("side", [0, 1])
def test_behind_its_foot_a_mesh_is_windscreen(side: int) -> None:
    """The foot runs from (900, 760) at y = 0 back to 20 mm farther at 200 mm out."""
    ys = [0.0, 100.0, 200.0, 300.0] if side else [-300.0, -200.0, -100.0, 0.0, 100.0, 200.0, 300.0]
    foot = np.array([(920.0, 200.0, 760.0), (900.0, 0.0, 760.0)])
    if not side:
        foot = np.concatenate([foot, [(920.0, -200.0, 760.0)]])
    surface = mesh(ys, side=side, labelled=False, foot=foot)
    facets = surface.facets()
    middle = facets.corners.mean(axis=1)
    glass = facets.labelled("windscreen")
    behind = (middle[:, 2] > 760.0) & (np.abs(middle[:, 1]) <= 200.0)
    assert behind.sum() == 8
    assert np.array_equal(glass, behind)
    for y in (-150.0, 0.0, 150.0, 200.0, 201.0, -201.0):
        cut = surface.section(y)
        if abs(y) > 200.0:
            assert cut.parts is None
            continue
        own = cut.points[cut.part_mask("windscreen")]
        assert own[0] == pytest.approx((900.0 + abs(y) / 10.0, 760.0), abs=0.02)


def test_a_mesh_is_moved_in_its_sections_alone() -> None:
    surface = mesh(WHOLE)
    moved = surface.moved(lambda xz: xz + np.array([30.0, -40.0]))
    assert moved.facets().corners == pytest.approx(
        np.add(surface.facets().corners, (30.0, 0.0, -40.0))
    )
    assert moved.extent == surface.extent
    swapped = MeshSurface(
        surface.points[..., [1, 0, 2]], None, surface.labels, Axes((1, 0, 2)), surface.extent
    )
    assert swapped.facets().corners == pytest.approx(surface.facets().corners)
    box = swapped.facets((100.0, -150.0, 600.0), (300.0, -120.0, 800.0))
    own = surface.facets((100.0, -150.0, 600.0), (300.0, -120.0, 800.0))
    assert sorted_rows(box.corners) == sorted_rows(own.corners)


# --- notes of the zones --------------------------------------------------------------------


def noted(rules: str, kind: str = "straight", missing=()) -> tuple[str, ...]:
    return _notes(SimpleNamespace(
        rules=rule_set(rules), surface=SimpleNamespace(kind=kind), missing=missing,
        y=np.array([-100.0, 0.0, 50.0, 100.0]),
    ))  # fmt: skip


def test_notes_of_the_zones() -> None:
    """Headforms of UN R127 02 series (text read): 3.5 kg at 50 deg, 4.5 kg at 65 deg, 165 mm."""
    found = noted("UN-R127-02")
    assert found[0].startswith("Rear corners: the middle arc of the template is taken as 90 deg (")
    assert found[1].startswith(
        "Headforms: child 3.5 kg at 50 deg, adult 4.5 kg at 65 deg to the horizontal, 165 mm "
        "across, at 35 km/h ("
    )
    assert not any("Headform areas end" in note for note in found)
    assert found[-1] == "Between stations the surface is straight."
    assert noted("UN-R127-02", "mesh")[-1] == (
        "The surface is the mesh itself, cut where needed; nothing is interpolated."
    )
    assert noted("UN-R127-02", "smooth")[-1].startswith(
        "Between measured stations the surface is a shape-preserving cubic, an interpolation; at "
    )
    earlier = next(note for note in noted("EU-631-2009") if note.startswith("Headform areas end"))
    assert earlier == (
        "Headform areas end 0 mm inside the reference lines (from memory, unconfirmed), impact "
        "points 82.5 mm (from memory, unconfirmed) and 165 mm from one another (from memory, "
        "unconfirmed)."
    )
    lost = ((-50.0, "torn"), (-30.0, "bent"), (70.0, "torn"))
    assert noted("UN-R127-02", missing=lost)[-1] == (
        "The surface gave no contour at y = -50, -30, 70 mm (torn); lines run straight across."
    )
