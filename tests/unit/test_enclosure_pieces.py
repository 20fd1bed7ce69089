"""Bounds over boxes piece by piece: against all corners, plain loops, and shapes themselves."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.front.front import Front
from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import rule_set
from frontcheck.study.enclosure import (
    ENCLOSED,
    Forms,
    Range,
    _crossing,
    _hull,
    _NoseEnclosure,
    _run_on,
    enclosures_of,
)
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import facets_for
from frontcheck.study.roundings import BUMPER_HIGH, CIRCLES, lay_out
from frontcheck.study.varied_shapes import FrontShapes, NoseShapes
from frontcheck.surface.section import Section

RULES = rule_set("UN-R127-02")
NAMES = (
    "LBRL_x_mm", "LBRL_z_mm", "UBRL_x_mm", "UBRL_z_mm", "BLERL_x_mm", "BLERL_z_mm",
    "bumper_lead_mm",
)  # fmt: skip


def row(*values: float) -> np.ndarray:
    return np.array([values], dtype=float)


def ends(found: Range) -> tuple[list, list]:
    return found.lo.tolist(), found.hi.tolist()


def test_ranges_of_differences_pairs_and_hulls() -> None:
    assert ENCLOSED == NAMES
    one, two = Range(row(1.0, 4.0), row(2.0, 9.0)), Range(row(-3.0, 5.0), row(6.0, 5.5))
    assert ends(one - two) == ([[-5.0, -1.5]], [[5.0, 4.0]])
    assert ends(one.joined(two, np.array([[True, False]]))) == ([[-3.0, 4.0]], [[6.0, 9.0]])
    three = Range(row(1.0, 4.0, 2.0), row(3.0, 8.0, 7.0))
    assert ends(three.pairs()) == ([[1.0, 2.0]], [[8.0, 8.0]])
    first, second = three.ends()
    assert ends(first) == ([[1.0, 4.0]], [[3.0, 8.0]])
    assert ends(second) == ([[4.0, 2.0]], [[8.0, 7.0]])
    hull = _hull([(np.array([[True, True, False]]), three), (np.array([[False, True]]), two)])
    assert ends(hull) == ([1.0], [8.0])
    empty = _hull([(np.array([[False] * 3]), three)])
    assert ends(empty) == ([math.inf], [-math.inf])


def test_forms_add_in_multiples() -> None:
    one = Forms(np.array([1.0, 2.0]), np.array([[3.0, -4.0]]))
    two = Forms(np.array([10.0, 20.0]), np.array([[5.0, 6.0]]))
    both = one.plus(-2.0, two)
    assert both.constant.tolist() == [-19.0, -38.0]
    assert both.slope.tolist() == [[-7.0, -16.0]]


@pytest.mark.parametrize("seed", range(6))
def test_a_stretch_that_surely_crosses_a_height_crosses_it_where_its_corners_do(seed) -> None:
    rng = np.random.default_rng(seed)
    for rising in (True, False):
        x = np.sort(rng.uniform(0.0, 100.0, (2, 2)), axis=0)
        low, high = np.sort(rng.uniform(0.0, 40.0, 2)), np.sort(rng.uniform(60.0, 100.0, 2))
        z = np.stack([low, high] if rising else [high, low], axis=1)
        found = _crossing(
            Range(x[:1], x[1:]), Range(z[:1], z[1:]), 50.0, Range(row(-1e3), row(1e3))
        )
        at = []
        for x0, x1, z0, z1 in itertools.product(*x.T.tolist(), *z.T.tolist()):
            at.append(x0 + (50.0 - z0) / (z1 - z0) * (x1 - x0))
        assert ends(found) == (
            [[pytest.approx(min(at), abs=3e-6)]], [[pytest.approx(max(at), abs=3e-6)]]
        )  # fmt: skip
        assert found.lo[0, 0] < min(at)  # allowance for rounding
        assert found.hi[0, 0] > max(at)


def test_a_stretch_that_may_be_level_crosses_anywhere() -> None:
    x, z = Range(row(0.0, 10.0), row(1.0, 12.0)), Range(row(5.0, 7.0), row(7.0, 9.0))
    anywhere = Range(row(-20.0), row(30.0))
    assert ends(_crossing(x, z, 7.0, anywhere)) == ([[-20.0]], [[30.0]])
    apart = Range(row(5.0, 7.1), row(7.0, 9.0))
    assert ends(_crossing(x, apart, 7.05, anywhere)) != ([[-20.0]], [[30.0]])


@pytest.mark.parametrize("seed", range(8))
def test_how_far_a_touch_runs_on_into_the_next_stretch(seed) -> None:
    """A stretch that leaves the edge by `away` at its end is within the tolerance for its share."""
    rng = np.random.default_rng(seed)
    n, near, cosine = 7, 2.0, 0.8
    gap = np.cumsum(rng.uniform(0.0, 4.0, (1, n)), axis=1)
    along = np.cumsum(rng.uniform(5.0, 60.0, (1, n)), axis=1)
    point = rng.random((1, n)) < 0.5
    gaps, alongs = Range(gap, gap + 1.0), Range(along, along + 3.0)
    bar = np.array([[gap.min() + near / cosine + 1e-6]])
    longest = 0.0
    for i, j in [(k, k + 1) for k in range(n - 1)] + [(k + 1, k) for k in range(n - 1)]:
        if point[0, i] and not point[0, j]:
            away = (gap[0, j] - gap.min()) * cosine
            length = max(abs(along[0, j] + 3.0 - along[0, i]), abs(along[0, i] + 3.0 - along[0, j]))
            longest = max(longest, min(near / max(away, near), 1.0) * length)
    found = _run_on(gaps, alongs, bar, point, near, cosine)
    assert found == pytest.approx([longest], rel=1e-9)


# A polygon whose skin and lines are known, and boxes of one shape only.

POINTS = np.array(
    [[400, 190], [200, 200], [40, 300], [70, 400], [0, 500], [60, 750], [500, 860], [1000, 930],
     [1500, 1200]], dtype=float
)  # fmt: skip
PARTS = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"]
HANDLES = ("lower_lip_up_mm", "upper_lip_back_mm", "leading_edge_up_mm", "ride_height_up_mm")


def polygon(names=HANDLES, parts=PARTS) -> FrontShapes:
    return FrontShapes(Front((Section(POINTS, 0.0, parts),)), names, (0.0,))


@pytest.mark.parametrize("parts", [PARTS, None])
def test_over_one_shape_a_range_is_the_line_itself(parts) -> None:
    """Nothing else may be touched: corners stand clear by more than the contact tolerance."""
    shapes = polygon(parts=parts)
    enclosure = enclosures_of(shapes, RULES)[0.0]
    rng = np.random.default_rng(2)
    tight = 0
    for values in rng.uniform(-25.0, 25.0, (40, 4)):
        station = line_up(shapes.front(values), RULES, ()).stations[0]
        box = values[None]
        for name in NAMES:
            line, axis = name.split("_")[:2]
            at = station.bumper_lead if axis == "lead" else getattr(getattr(station, line), axis)
            found = enclosure.line(name, box, box)
            assert found.lo[0] - 1e-6 <= at <= found.hi[0] + 1e-6, name
            tight += bool(found.hi[0] - found.lo[0] < 1e-5)
    assert tight == 40 * 7


def test_the_skin_moves_at_least_as_far_as_told_and_by_one_handle_just_so() -> None:
    names = ("lower_lip_up_mm", "lower_lip_back_mm")
    shapes = polygon(names)
    enclosure = enclosures_of(shapes, RULES)[0.0]
    lo = np.array([[3.0, 0.0], [-9.0, 0.0], [-4.0, 0.0], [3.0, 4.0], [-7.0, -9.0]])
    hi = np.array([[9.0, 0.0], [-2.0, 0.0], [5.0, 0.0], [6.0, 8.0], [-3.0, -4.0]])
    assert enclosure.moved(lo, hi) == pytest.approx([3.0, 2.0, 0.0, 5.0, 5.0])
    turned = polygon(("leading_edge_up_mm", "ride_height_up_mm"))
    enclosure = enclosures_of(turned, RULES)[0.0]
    # At the edge both add up: 5 less at most 2; far away the ride height alone, 5.
    found = enclosure.moved(row(-2.0, 5.0), row(2.0, 6.0))
    assert found == pytest.approx([5.0])
    x, z = enclosure.anywhere(row(0.0, 5.0), row(0.0, 6.0))
    assert (x.lo[0], x.hi[0], z.lo[0], z.hi[0]) == (0.0, 1500.0, 195.0, 1206.0)


def test_a_box_of_two_places_holds_both_and_what_lies_between() -> None:
    """The lower lip from 300 to 320 mm high: the line takes its height along, and no more."""
    enclosure = enclosures_of(polygon(("lower_lip_up_mm",)), RULES)[0.0]
    found = enclosure.line("LBRL_z_mm", row(0.0), row(20.0))
    assert ends(found) == ([300.0], [320.0])
    assert ends(enclosure.line("LBRL_x_mm", row(0.0), row(20.0))) == ([40.0], [40.0])
    assert ends(enclosure.line("bumper_lead_mm", row(0.0), row(20.0))) == ([60.0], [60.0])
    # So far forward that the upper lip may be the foremost of both: then either is told.
    enclosure = enclosures_of(polygon(("upper_lip_back_mm",)), RULES)[0.0]
    at = enclosure.line("UBRL_z_mm", row(0.0), row(150.0))
    assert at.lo[0] <= 300.0
    assert at.hi[0] >= 500.0


# Parametric noses.

VARIED = ("lower_lip_setback_mm", "bumper_radius_mm", "leading_edge_height_mm", "lead_mm")


def test_over_one_nose_a_range_is_the_line_itself_or_says_nothing() -> None:
    nose = Nose()
    low, high = np.array([0.0, 20.0, 760.0, 80.0]), np.array([60.0, 45.0, 860.0, 160.0])
    rng = np.random.default_rng(4)
    values = low + rng.random((8, 4)) * (high - low)
    bare = NoseShapes(nose, VARIED, (0.0, 300.0), facets_for(nose.values[None]), 0.02)
    shapes = NoseShapes(nose, VARIED, (0.0, 300.0), facets_for(bare.full(values)), 0.02)
    enclosures = enclosures_of(shapes, RULES)
    tight = made = 0
    for each in values[shapes.variants(values).feasible]:
        front = shapes.front(each)
        made += 1
        for station in line_up(front, RULES, ()).stations:
            enclosure = enclosures[station.y]
            for name in NAMES:
                line, axis = name.split("_")[:2]
                at = (
                    station.bumper_lead if axis == "lead" else getattr(getattr(station, line), axis)
                )
                found = enclosure.line(name, each[None], each[None])
                # Contact at a facet's own point: exact to rounding.
                assert found.lo[0] - 1e-5 <= at <= found.hi[0] + 1e-5, name
                tight += bool(found.hi[0] - found.lo[0] < 1e-5)
    assert made >= 6
    assert tight >= 0.9 * made * 14


def test_the_bumper_ends_no_farther_up_its_rounding_than_told() -> None:
    names = ("grille_depth_mm", "upper_lip_setback_mm", "upper_lip_height_mm", "bumper_radius_mm")
    nose = Nose()
    shapes = NoseShapes(nose, names, (0.0,), facets_for(nose.values[None]), 0.02)
    enclosure = _NoseEnclosure(shapes, RULES, 0.0)
    rng = np.random.default_rng(6)
    low, high = np.array([4.0, 20.0, 650.0, 25.0]), np.array([14.0, 70.0, 730.0, 45.0])
    for width in (0.0, 0.1, 0.5):
        for middle in low + rng.random((20, 4)) * (high - low):
            lo, hi = middle - width * (middle - low), middle + width * (high - middle)
            values = lo + rng.random((30, 4)) * (hi - lo)
            chain = lay_out(shapes.full(values))
            left = chain.leave[BUMPER_HIGH][chain.reason == ""]
            told = enclosure._bumper_ends(lo[None], hi[None])[0]
            assert (left <= told + 1e-9).all()
            if width == 0.0:
                # Told is the string without most of the turn into the recess: no flatter bound
                # than the string from the bumper to the upper lip itself.
                flat = shapes.full(middle[None])
                flat[:, [d.name for d in DIMENSIONS].index("grille_depth_mm")] = 0.0
                string = lay_out(flat).leave[BUMPER_HIGH][0]
                assert told <= string + 1e-9


def test_how_long_a_contact_with_one_rounding_may_be() -> None:
    """Along the arc itself, the line to the next rounding and the bonnet: each by its own formula,
    told by the length at which the answer turns."""
    nose, near, cosine = Nose(bonnet_crown_mm=25.0), 2.0, math.cos(math.radians(50.0))
    shapes = NoseShapes(nose, ("lead_mm",), (0.0,), facets_for(nose.values[None]), 0.02)
    enclosure = _NoseEnclosure(shapes, RULES, 0.0)
    box, edge = row(100.0), StraightEdge.standing(1000.0, 50.0, 600.0)
    gap = Range(row(40.0, 12.0, 30.0, 21.5, 90.0), row(41.0, 13.0, 31.0, 22.5, 91.0))
    bar = np.array([[12.0]])

    def flat(length: float) -> bool:
        enclosure.rules = Fake(value=lambda _: length)
        return bool(enclosure._flat(edge, box, box, gap, bar, near, cosine)[0])

    low, high = 0.0, 1e4
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if flat(middle) else (low, middle)
    chain = lay_out(nose.values[None])
    discs = [CIRCLES.index(name) for name in (
        "lower lip", "lower edge of the bumper", "upper edge of the bumper", "upper lip",
        "leading edge")]  # fmt: skip
    x, z = chain.centre[discs, 0].T
    rho = chain.rho[discs, 0].max()
    arc = 2.0 * math.sqrt(2.0 * rho * near)
    away = (21.5 - 12.0) * cosine
    spread = math.hypot(np.ptp(x) + 2.0 * rho, np.ptp(z) + 2.0 * rho)
    line = min(near / max(away, near), 1.0) * spread
    steep = math.radians(10.0) + 2.0 * math.atan2(2.0 * 25.0, 1080.0 - x[-1])
    bonnet = near / math.sin(math.radians(40.0) - steep)
    assert low == pytest.approx(arc + line + bonnet, rel=1e-6)
