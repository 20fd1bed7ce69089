"""Headform areas in the plane of y and wrap-around distance, their grid points and limits.

Areas are rectangles; facets and angles are held against plain searches.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from unit.test_head_cases import point

from frontcheck.errors import InputError
from frontcheck.findings.finding_settings import (
    FindingSettings,
    HeadSettings,
    LegSettings,
    settings_of,
)
from frontcheck.findings.head_points import (
    AreaRange,
    HeadAreas,
    HeadPoint,
    bend_radius,
    facets_between,
    head_points,
    impact_angle_deg,
)
from frontcheck.front.beside import HardPoint
from frontcheck.rules.ruleset import rule_set
from frontcheck.zones.front_zones import GridPoint, HeadformArea, Outline

R127 = rule_set("UN-R127-02")
OWN = HeadSettings()


@pytest.mark.parametrize("travel", [50.0, 65.0])
def test_an_impact_angle_is_that_between_two_vectors(travel: float) -> None:
    rng = np.random.default_rng(4)
    down = math.radians(travel)
    for drawn in rng.normal(size=(20, 3)):
        normal = drawn / np.linalg.norm(drawn)
        way = np.array([math.cos(down), 0.0, -math.sin(down)])
        wanted = math.degrees(math.acos(float(way @ -normal)))
        assert impact_angle_deg(tuple(normal), travel) == pytest.approx(wanted)
    square = (-math.cos(down), 0.0, math.sin(down))
    assert impact_angle_deg(tuple(1.0001 * v for v in square), travel) == 0.0
    assert impact_angle_deg(tuple(-1.0001 * v for v in square), travel) == 180.0
    assert HeadPoint("child", 1.0, 2.0, 3.0, 4.0, 120.0, None).normal_share == pytest.approx(-0.5)
    assert HeadPoint("child", 1.0, 2.0, 3.0, 4.0, 0.0, None).xyz == (1.0, 2.0, 3.0)


def test_facets_are_made_of_cells_with_three_corners_or_four() -> None:
    rng = np.random.default_rng(9)
    spacing = 40.0
    places = [(n, i, j) for n in ("child", "adult") for i in range(-3, 4) for j in range(30, 35)]
    kept = [places[k] for k in rng.permutation(len(places))[:45]]
    points = [point(i * spacing, j * spacing, 1.0, n) for n, i, j in kept]
    found = {tuple(sorted(row)) for row in facets_between(points, spacing).tolist()}
    cells = {}
    for k, (n, i, j) in enumerate(kept):
        for a in (0, 1):
            for b in (0, 1):
                cells.setdefault((n, i - a, j - b), []).append(k)
    full = [cell for cell in cells.values() if len(cell) == 4]
    three = {tuple(sorted(cell)) for cell in cells.values() if len(cell) == 3}
    assert three <= found
    assert len(found) == len(facets_between(points, spacing)) == 2 * len(full) + len(three)
    for cell in full:  # two triangles that share a diagonal and together hold all four
        both = [set(row) for row in found if set(row) <= set(cell)]
        assert len(both) == 2
        assert both[0] | both[1] == set(cell)
        corners = [kept[k] for k in both[0] & both[1]]
        assert abs(corners[0][1] - corners[1][1]) == abs(corners[0][2] - corners[1][2]) == 1
    assert facets_between(points[:2], spacing).shape == (0, 3)
    assert facets_between([], spacing).shape == (0, 3)


# --- areas in the unrolled plane ---------------------------------------------------


def ring(y0, y1, w0, w1):
    corners = ((y0, w0), (y1, w0), (y1, w1), (y0, w1))
    return Outline(tuple((0.0, y, 9.0) for y, _ in corners), tuple(w for _, w in corners))


def zones(child, adult, grid=()):
    made = [
        HeadformArea(name, None if parts is None else float(len(parts)), parts or (), "ok")
        for name, parts in (("child", child), ("adult", adult))
    ]
    return SimpleNamespace(child_area=made[0], adult_area=made[1], grid=grid)


TWO = (ring(-300.0, 300.0, 1000.0, 1300.0), ring(-300.0, 300.0, 1400.0, 1700.0))
ONE = (ring(-300.0, 200.0, 1700.0, 2000.0),)


def test_areas_are_cut_piece_by_piece() -> None:
    areas = HeadAreas(zones(TWO, ONE))
    assert areas.at(0.0) == (
        AreaRange("child", 1000.0, 1300.0), AreaRange("child", 1400.0, 1700.0),
        AreaRange("adult", 1700.0, 2000.0),
    )  # fmt: skip
    assert [r.name for r in areas.at(250.0)] == ["child", "child"]
    assert areas.at(300.5) == ()
    assert areas.at(200.0)[-1].name == "adult"  # its border counts
    for place, held in (((0.0, 1000.0), True), ((0.0, 999.99), False), ((300.0, 1350.0), False),
                        ((300.0, 1500.0), True), ((-300.01, 1500.0), False)):  # fmt: skip
        assert areas.holds("child", *place) is held
    assert areas.holds("adult", 0.0, 1700.0)
    assert not areas.holds("adult", 0.0, 1699.0)
    slanted = (Outline(((0.0, 0.0, 9.0), (0.0, 100.0, 9.0), (0.0, 100.0, 9.0)), (5.0, 5.0, 105.0)),)
    assert HeadAreas(zones(slanted, None)).at(100.0) == (AreaRange("child", 5.0, 105.0),)
    assert HeadAreas(zones(slanted, None)).at(0.0) == ()  # a corner alone is no range


def test_areas_are_known_where_both_could_be_formed_empty_or_not() -> None:
    known = [
        HeadAreas(zones(child, adult)).known
        for child, adult in ((TWO, ONE), ((), ()), (None, ONE), (TWO, None), (None, None))
    ]
    assert known == [True, True, False, False, False]
    assert HeadAreas(zones((), None)).at(0.0) == ()
    hung = Outline(TWO[0].points, (1000.0, None, None, 1300.0))
    assert HeadAreas(zones((hung,), ())).at(0.0) == ()
    three = Outline(TWO[0].points, (1000.0, 1000.0, None, 1300.0))
    assert HeadAreas(zones((three,), ())).at(0.0) == (AreaRange("child", 1000.0, 1150.0),)


def test_grid_points_have_the_travel_and_the_border_of_their_own_area() -> None:
    normal = (0.0, 0.0, 1.0)
    grid = (
        GridPoint("child", (1.0, 250.0, 3.0), 1200.0, normal),
        GridPoint("adult", (4.0, 0.0, 6.0), 1960.0, normal),
    )
    child, adult = head_points(zones(TWO, ONE, grid), R127)
    assert (child.xyz, child.wad, child.area) == ((1.0, 250.0, 3.0), 1200.0, "child")
    assert (child.angle_deg, adult.angle_deg) == (pytest.approx(40.0), pytest.approx(25.0))
    assert (child.to_border, adult.to_border) == (pytest.approx(50.0), pytest.approx(40.0))
    (lost,) = head_points(zones((), ONE, grid[:1]), R127)
    assert lost.to_border is None
    assert head_points(zones(TWO, ONE), R127) == ()


# --- bends ---


def plain_radius(points, length):
    """All stretches that hold a point and lie within half the length to either side of it."""
    n = len(points)
    steps = np.diff(points, axis=0)
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*steps.T))])
    turn = np.zeros(n)
    for k in range(1, n - 1):
        (ax, az), (bx, bz) = steps[k - 1], steps[k]
        turn[k] = math.atan2(az * bx - ax * bz, ax * bx + az * bz)  # to the right
    found = np.full(n, np.inf)
    for p in range(n):
        most = max(
            turn[i : j + 1].sum()
            for i in range(p + 1) if arcs[i] >= arcs[p] - length / 2.0
            for j in range(p, n) if arcs[j] <= arcs[p] + length / 2.0
        )  # fmt: skip
        if most > 1e-9:
            found[p] = length / most
    return arcs, found


@pytest.mark.parametrize("seed", range(8))
def test_bend_radius_is_that_of_a_search_over_all_stretches(seed: int) -> None:
    rng = np.random.default_rng(seed)
    steps = rng.integers(1, 5, 14) * 10.0  # so that many lie exactly half a length away
    heading = np.cumsum(rng.uniform(-1.2, 1.2, 14))
    points = np.cumsum(steps[:, None] * np.stack([np.cos(heading), np.sin(heading)], 1), axis=0)
    for length in (60.0, 35.0):
        arcs, plain = plain_radius(points, length)
        assert bend_radius(points, arcs, length) == pytest.approx(plain, rel=1e-6)


# --- settings ----------------------------------------------------------------------


def test_limits_of_the_settings_and_what_they_stand_at() -> None:
    """Own choice, but 82.5 mm: the radius of a headform (UN R127, UN GTR 9, from memory)."""
    assert (OWN.near_normal_deg, OWN.glancing_deg, OWN.bend_length_mm, OWN.bend_radius_mm) == (
        15.0, 60.0, 60.0, 82.5,
    )  # fmt: skip
    assert OWN.hic == 1000.0
    leg = LegSettings()
    assert (leg.knee_half_band_mm, leg.depth_mm, leg.early_depth_mm, leg.lip_mm) == (50, 60, 20, 10)
    assert (leg.overhang_mm, leg.free_stretch_mm, leg.low_depth_mm) == (15.0, 50.0, 50.0)
    assert (leg.long_lead_mm, leg.lead_mm, leg.legform_margin_mm) == (400.0, 100.0, 15.0)
    assert (leg.opens_share, leg.closes_share) == (0.5, 0.2)
    assert FindingSettings().hard_points == FindingSettings().read_from == ()
    for name, value, wanted in (
        ("near_normal_deg", 0.0, "an angle above 0 and up to 90 deg"),
        ("glancing_deg", 90.001, "an angle above 0 and up to 90 deg"),
        ("bend_length_mm", 0.0, "a positive number"),
        ("hic", math.inf, "a positive number"),
        ("bend_radius_mm", math.nan, "a positive number"),
    ):
        with pytest.raises(ValueError, match=wanted):
            HeadSettings(**{name: value})
    assert HeadSettings(glancing_deg=90.0, bend_radius_mm=500.0, hic=2000.0).glancing_deg == 90.0
    assert HeadSettings(near_normal_deg=0.5, bend_length_mm=0.5).near_normal_deg == 0.5
    with pytest.raises(ValueError, match="low_depth_mm must be a positive number, not inf"):
        LegSettings(low_depth_mm=math.inf)


def test_stiff_parts_are_given_once_with_the_front_or_with_the_settings() -> None:
    latch = HardPoint(500.0, 0.0, 700.0, "latch", "lock")

    def front(*points):
        beside = SimpleNamespace(hard_points=points)
        return SimpleNamespace(beside=beside, source=SimpleNamespace(file="front.toml"))

    own = FindingSettings(head=HeadSettings(hic=700.0))
    assert settings_of(front(), None) is None
    assert settings_of(front(), own) is own
    assert settings_of(front(latch), None) == FindingSettings(hard_points=(latch,))
    both = settings_of(front(latch), own)
    assert (both.hard_points, both.head.hic) == ((latch,), 700.0)
    with pytest.raises(InputError, match="hard_points"):
        settings_of(front(latch), FindingSettings(hard_points=(latch,)))
