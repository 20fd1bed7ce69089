"""Sections side by side: places, lengths and tape distances against shapely and closed forms."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import shapely
from front_shapes import front_of

from frontcheck.lines.line_values import LineValues
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.surface import Surface
from frontcheck.zones import lines_across
from frontcheck.zones.front_zones import ZoneOptions
from frontcheck.zones.grid import candidate_points, grid_rows
from frontcheck.zones.headform import AreaShape, SideBound
from frontcheck.zones.lines_across import Across, cuts_between, sections_across

UN = "UN-R127-02"


def leaning(y: float) -> list[tuple[float, float]]:
    """An upright face that stands back by 1:5 across, and a bonnet that rises rearward and left."""
    x, top = 0.2 * y, 700.0 - 0.05 * y
    return [(x + 200, 240), (x, 250), (x, top), (x + 2000, top + 200), (x + 2600, top + 200)]


def bumpy(y: float) -> list[tuple[float, float]]:
    """Fewer points on the left; the bonnet has a crest, so that a setback has one height."""
    more = [] if y < 0.0 else [(900.0, 905.0 - y / 10)]
    return [(200, 240), (0, 250), (0, 700), (300, 800 + y / 10), *more, (1400, 860), (2500, 900)]


@cache
def across(shape=leaning, start: str = "section", low: float = -400.0) -> Across:
    ys = [y for y in (-400.0, -150.0, 0.0, 250.0, 400.0) if y >= low]
    front = front_of(shape, ys)
    lined = line_up(front, UN, tape_start=start)
    return sections_across(front.surface("straight"), lined, ys, rows_mm=100.0)


SHAPES = pytest.mark.parametrize("shape", [leaning, bumpy])


@SHAPES
def test_lengths_and_places_along_contours(shape) -> None:
    own, rng = across(shape), np.random.default_rng(1)
    lines = [shapely.LineString(shape(y)) for y in own.y]
    for i, line in enumerate(lines):
        last = own.arcs[i, own.counts[i] - 1]
        assert last == pytest.approx(line.length)
        assert (own.arcs[i, own.counts[i] :] == last).all()
        assert len(line.coords) == own.counts[i]
    rows = rng.integers(0, len(own), 40)
    share = rng.uniform(0.0, 1.0, (40, 3))
    share[:4, 0], share[:4, 1] = 0.0, 1.0
    arcs = share * own.arcs[rows, -1][:, None]
    found = own.at(rows, arcs)
    for k, row in enumerate(rows):
        expected = shapely.get_coordinates(lines[row].interpolate(arcs[k]))
        assert found[k] == pytest.approx(expected, abs=1e-9)
    # Places a little off the contours are taken where they come nearest.
    at = np.stack(
        [lines[i].interpolate(0.3 + 0.1 * i, normalized=True).coords[0] for i in range(5)]
    )
    at += rng.uniform(-5.0, 5.0, at.shape)
    code = np.array([0, 0, 8, 0, 0])
    arc = own.arc_of(LineValues(code, at[:, 0], at[:, 1], np.zeros(5, dtype=int)))
    assert np.isnan(arc).tolist() == [False, False, True, False, False]
    for i in (0, 1, 3, 4):
        assert arc[i] == pytest.approx(lines[i].project(shapely.Point(at[i])), abs=1e-9)


@SHAPES
def test_heights_at_setbacks(shape) -> None:
    own = across(shape)
    x = np.array([900.0, -50.0, 123.4, 2300.0, 900.0, 4000.0])
    found = own.tops_at(x)
    for i, y in enumerate(own.y):
        line = shapely.LineString(shape(y))
        for k, at in enumerate(x):
            met = line.intersection(shapely.LineString([(at, -9e3), (at, 9e3)]))
            assert np.isnan(found[i, k]) == met.is_empty
            if not met.is_empty:
                assert found[i, k] == pytest.approx(met.bounds[3], abs=1e-9)


def test_wrap_around_distances_of_places_between_contours() -> None:
    """Leaning: up the face 700 - y / 20, then along the bonnet; linear from one to the next."""
    own = across()
    slope = math.hypot(2000.0, 200.0) / 2000.0
    rng = np.random.default_rng(2)
    y = np.concatenate([own.y, rng.uniform(-400.0, 400.0, 30)])
    along = rng.uniform(200.0, 1200.0, len(y))
    points = np.stack([0.2 * y + along, y, 700.0 - 0.05 * y + along / 10.0], axis=1)
    wads = 700.0 - 0.05 * y + along * slope
    # Off the planes between contours a place is not nearest to the same distance: near enough.
    assert own.wad_of(points[:5]) == pytest.approx(wads[:5], abs=1e-6)
    found = np.array(own.wad_of(points[5:]))
    cell = np.searchsorted(own.y, y[5:], side="right") - 1
    t = (y[5:] - own.y[cell]) / (own.y[cell + 1] - own.y[cell])
    expected = []
    for (x, _, z), k, share in zip(points[5:], cell, t, strict=True):
        ends = []
        for i in (k, k + 1):
            line = shapely.LineString(leaning(own.y[i]))
            back = line.interpolate(line.project(shapely.Point(x, z)))
            ends.append(700.0 - 0.05 * own.y[i] + (back.x - 0.2 * own.y[i]) * slope)
        expected.append((1.0 - share) * ends[0] + share * ends[1])
    assert found == pytest.approx(expected, abs=1e-6)
    # Before the first mark and beyond the last it is not known.
    odd = np.array([(190.0, 0.0, 240.0), (2600.0, 0.0, 900.0), (500.0, 0.0, 750.0)])
    known = own.wad_of(odd)
    assert known[:2] == (None, None)
    assert known[2] == pytest.approx(700.0 + 500.0 * slope, abs=2.0)
    rows, arcs = np.array([2, 2]), np.array([0.0, 210.0 + 450.0 + 300.0])
    assert own.wad_on(rows, arcs)[0] is None


def test_many_places_are_worked_out_in_blocks(monkeypatch) -> None:
    rng = np.random.default_rng(3)
    y = np.concatenate([[-400.0, 0.0, 400.0], rng.uniform(-400.0, 400.0, 40)])
    points = np.stack([rng.uniform(300.0, 1500.0, 43), y, np.full(43, 800.0)], axis=1)
    own = across(bumpy)
    whole = own.wad_of(points)
    monkeypatch.setattr(lines_across, "_AT_ONCE", 21)  # three contours of six or seven points
    assert own.wad_of(points) == whole


@SHAPES
def test_a_mirror_turns_everything_round(shape) -> None:
    own = across(shape)
    seen = own.mirrored()
    assert seen.y.tolist() == (-own.y[::-1]).tolist()
    assert np.array_equal(seen.points, own.points[::-1])
    assert np.array_equal(seen.lines.LBRL.x, own.lines.LBRL.x[::-1])
    assert np.array_equal(seen.mark_arc(1000.0), own.mark_arc(1000.0)[::-1])
    assert seen.missing == ()
    lost = Across(own.surface, own.y, own.contours, own.row, own.lines, own.rules,
                  ((-50.0, "torn"), (20.0, "bent")))  # fmt: skip
    assert lost.mirrored().missing == ((-20.0, "bent"), (50.0, "torn"))


def test_marks_from_the_foremost_point_of_all() -> None:
    """The tape stands at x = -80, below the left end; elsewhere it runs straight up to the face."""
    own, whole = across(), across(start="vehicle")
    column = own.lines.distances.index(1000.0)
    for i, y in enumerate(own.y):
        ahead = 0.2 * y + 80.0
        # To the upper end of the face it is longer by so much; so the mark lies before.
        top = 700.0 - 0.05 * y
        back = math.hypot(ahead, top) - top
        slope = math.hypot(2000.0, 200.0) / 2000.0
        x = own.lines.WAD.x[i, column] - back / slope
        assert whole.lines.WAD.x[i, column] == pytest.approx(x, abs=1e-6)


# --- where it is cut -----------------------------------------------------------------------


class Flat(Surface):
    """A surface known by its range and its kind alone."""

    symmetric = False

    def __init__(self, low: float, high: float, kind: str) -> None:
        self.ends, self._kind = (low, high), kind

    @property
    def y_range(self):
        return self.ends

    @property
    def kind(self):
        return self._kind

    def cuts(self, ys):
        raise NotImplementedError

    def _facets(self, low, high):
        raise NotImplementedError


@pytest.mark.parametrize(
    ("ends", "kind", "stations", "expected"),
    [
        # Every 10 mm, and at stations; a mesh at its very edge too.
        ((-12, 15), "straight", [-12, 3, 15], [-12, -10, 0, 3, 10, 15]),
        ((-12, 15), "mesh", [3], [-12, -10, 0, 3, 10, 15]),
        ((-20, 20), "straight", [-20, 20], [-20, -10, 0, 10, 20]),
        # Stations as close as that will do.
        ((-12, 8), "straight", [-12, -2, 8], [-12, -2, 8]),
        ((-12, 9), "straight", [-12, -2, 8.001], [-12, -10, -2, 0, 8.001]),
        ((-12, 8), "mesh", [-9, 1], [-12, -9, 1, 8]),
        ((-12, 9), "straight", [9, -12, -1.5], [-12, -10, -1.5, 0, 9]),
        ((0, 9), "mesh", [4], [0, 4, 9]),
    ],
)
def test_where_a_surface_is_cut(ends, kind, stations, expected) -> None:
    assert cuts_between(Flat(*ends, kind), stations, 10.0) == expected
    assert all(math.copysign(1.0, y) == 1.0 for y in cuts_between(Flat(*ends, kind), stations, 10.0)
               if y == 0.0)  # fmt: skip


def test_rows_of_the_grid() -> None:
    assert grid_rows(-250.0, 199.9, 100.0) == [-200, -100, 0, 100]
    assert grid_rows(-200.0, 200.0, 100.0) == [-200, -100, 0, 100, 200]
    assert grid_rows(-99.0, -10.0, 50.0) == [-50]
    assert grid_rows(10.0, 20.0, 50.0) == []


# --- candidate points ----------------------------------------------------------------------


def shape_of(own: Across, front: float, rear: float, left: float, right: float) -> AreaShape:
    rows = np.arange(len(own))
    sides = [SideBound(np.array([(0.0, w, 0.0), (1.0, w, 0.0)]), False) for w in (left, right)]
    return AreaShape(rows, own.mark_arc(front), own.mark_arc(rear), *sides)


def test_candidate_points_and_their_normals() -> None:
    """On the leaning bonnet z = 700 - 0.05 y + (x - 0.2 y) / 10: its normal is everywhere the same.

    Rows at -200 to 200 mm; marks exactly on a bound belong to the area named first.
    """
    ys = [-300.0, -200.0, -100.0, 0.0, 100.0, 200.0, 300.0]
    front = front_of(leaning, ys)
    lined = line_up(front, UN)
    # A contour between the rows of the grid holds none.
    cuts = [*ys[:4], 50.0, *ys[4:]]
    own = sections_across(front.surface("straight"), lined, cuts, rows_mm=100.0)
    shapes = {"child": shape_of(own, 1000.0, 1200.0, 200.0, 150.0),
              "adult": shape_of(own, 1200.0, 1400.0, 300.0, 300.0)}  # fmt: skip
    found = candidate_points(own, 100.0, shapes)
    child = {(y, wad) for y in (-200, -100, 0, 100) for wad in (1000, 1100, 1200)}
    adult = {(y, wad) for y in ys for wad in (1200, 1300, 1400)} - child
    for name, expected in (("child", child), ("adult", adult)):
        assert {(p.point[1], p.wad) for p in found if p.area == name} == expected
    normal = np.array([-0.1, 0.05 + 0.02, 1.0])
    normal /= np.linalg.norm(normal)
    slope = math.hypot(2000.0, 200.0) / 2000.0
    for p in found:
        assert p.normal == pytest.approx(tuple(normal), abs=1e-6)
        along = (p.wad - (700.0 - 0.05 * p.point[1])) / slope
        y = p.point[1]
        place = (0.2 * y + along, y, 700.0 - 0.05 * y + along / 10.0)
        assert p.point == pytest.approx(place, abs=1e-6)
    # A side bound that turns in behind x = 400: 100 mm out the marks at 1100 mm lie beyond it.
    bend = SideBound(np.array([(0, 150, 0), (399, 150, 0), (401, 50, 0), (2000, 50, 0)]), False)
    turned = AreaShape(*(getattr(shapes["child"], n) for n in ("rows", "front", "rear")),
                       shapes["child"].left, bend)  # fmt: skip
    right = {p.wad for p in candidate_points(own, 100.0, {"child": turned}) if p.point[1] == 100.0}
    assert right == {1000.0}
    # An area without depth holds nothing, nor one beside the marks.
    none = {"child": shape_of(own, 1100.0, 1100.0, 300.0, 300.0)}
    assert candidate_points(own, 100.0, none) == ()
    assert candidate_points(own, 100.0, {}) == ()
    few = candidate_points(own, 100.0, {"child": AreaShape(
        np.array([2, 3]), own.mark_arc(1000.0)[2:4], own.mark_arc(1000.0)[2:4] + 50.0,
        shapes["adult"].left, shapes["adult"].right)})  # fmt: skip
    assert [(p.point[1], p.wad) for p in few] == [(-100.0, 1000.0), (0.0, 1000.0)]


def test_normals_beside_a_contour_that_is_not_reached() -> None:
    """Where a neighbour has no mark the surface counts as level across."""

    def short(y: float) -> list[tuple[float, float]]:
        return leaning(y) if y < 200.0 else [*leaning(y)[:3], (60.0 + 0.2 * y, 700.0)]

    ys = [-300.0, -200.0, -100.0, 0.0, 100.0, 200.0]
    front = front_of(short, ys)
    own = sections_across(front.surface("straight"), line_up(front, UN), ys, rows_mm=100.0)
    found = candidate_points(own, 100.0, {"child": shape_of(own, 1000.0, 1100.0, 500.0, 500.0)})
    level = np.array([-0.1, 0.0, 1.0]) / math.sqrt(1.01)
    assert {p.point[1] for p in found} == {-300.0, -200.0, -100.0, 0.0, 100.0}
    for p in found:
        assert (p.normal == pytest.approx(tuple(level), abs=1e-6)) == (p.point[1] == 100.0)


def test_the_smallest_spacing() -> None:
    """Own choice: 1 mm or more."""
    assert (ZoneOptions(grid_mm=1.0).grid_mm, ZoneOptions(cut_mm=1.0).cut_mm) == (1.0, 1.0)
    for name in ("grid_mm", "cut_mm"):
        with pytest.raises(ValueError, match=f"{name} must be a length of 1 mm or more, not 0.99"):
            ZoneOptions(**{name: 0.99})
    with pytest.raises(ValueError, match=r"to the vehicle's right\), not 5 and 5"):
        ZoneOptions(beam_ends_mm=(5.0, 5.0))
    assert rule_set(UN).id == UN
