"""Parametric nose: it has the dimensions it was given, and is tangent where it should be.

Everything is checked against the definitions of the dimensions (docstring of `Nose`) and plane
geometry, on circles and directions; 1e-9 mm is some hundred times the rounding of coordinates
of two metres (2e3 * 2e-16 * a dozen operations).
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from scipy.optimize import brentq

from frontcheck.errors import InputError, NotAvailableError
from frontcheck.lines.lined_front import line_up
from frontcheck.study.nose_dimensions import DIMENSIONS, Nose
from frontcheck.study.noses import facets_for, nose_batch, nose_front
from frontcheck.study.roundings import (  # fmt: skip
    BONNET_END,
    BUMPER_HIGH,
    BUMPER_LOW,
    CIRCLES,
    COWL,
    EDGE,
    GRILLE,
    LIP,
    RECESS,
    UPPER_LIP,
    lay_out,
)
from frontcheck.surface.section import PARTS

EXACT = 1e-9

NOSES = {
    "default": Nose(),
    "low": Nose(
        leading_edge_height_mm=700, upper_lip_height_mm=620, bumper_height_mm=460,
        lower_lip_height_mm=280, bumper_depth_mm=100,
    ),
    "tall and blunt": Nose(
        leading_edge_height_mm=1050, upper_lip_height_mm=960, upper_lip_setback_mm=10, lead_mm=40,
        leading_edge_radius_mm=60, bumper_height_mm=620, bumper_depth_mm=220, grille_depth_mm=15,
        cowl_setback_mm=1300,
    ),
    "lip ahead": Nose(lower_lip_setback_mm=-30, recess_depth_mm=25, recess_radius_mm=15),
    "no recess": Nose(recess_depth_mm=0, grille_depth_mm=0),
    "flat bonnet": Nose(bonnet_crown_mm=0, bonnet_angle_deg=6),
    "half-round bumper": Nose(bumper_depth_mm=70, bumper_radius_mm=35),
}  # fmt: skip


def direction(t):
    return np.array([math.cos(t), math.sin(t)])


@pytest.fixture(params=NOSES, ids=str)
def nose(request):
    return NOSES[request.param]


@pytest.fixture
def chain(nose):
    made = lay_out(nose.values[None])
    assert made.reason[0] == ""
    return made


def test_lips_stand_where_they_were_put(nose, chain):
    for i, name in ((LIP, "lower_lip"), (UPPER_LIP, "upper_lip")):
        foremost = chain.centre[i, 0] - [chain.rho[i, 0], 0.0]
        wanted = [getattr(nose, f"{name}_setback_mm"), getattr(nose, f"{name}_height_mm")]
        assert foremost == pytest.approx(wanted, abs=EXACT)
        assert chain.rho[i, 0] == getattr(nose, f"{name}_radius_mm")


def test_the_bumper_has_its_face_height_depth_and_radius(nose, chain):
    low, high = chain.centre[BUMPER_LOW, 0], chain.centre[BUMPER_HIGH, 0]
    r = nose.bumper_radius_mm
    assert low[0] - r == pytest.approx(0.0, abs=EXACT)
    assert high[0] - r == pytest.approx(0.0, abs=EXACT)
    assert (high[1] + r) - (low[1] - r) == pytest.approx(nose.bumper_depth_mm, abs=EXACT)
    assert (high[1] + low[1]) / 2 == pytest.approx(nose.bumper_height_mm, abs=EXACT)


@pytest.mark.parametrize(
    ("low", "floor", "high", "name"),
    [(LIP, RECESS, BUMPER_LOW, "recess"), (BUMPER_HIGH, GRILLE, UPPER_LIP, "grille")],
)
def test_a_recess_is_as_deep_as_asked_for_below_the_string(nose, chain, low, floor, high, name):
    # The string another way: the direction in which both circles reach equally far forward.
    (ax, az), (bx, bz) = chain.centre[low, 0], chain.centre[high, 0]
    ra, rb = chain.rho[low, 0], chain.rho[high, 0]

    def gap(t):
        n = np.array([-math.sin(t), math.cos(t)])
        return (n @ [ax, az] + ra) - (n @ [bx, bz] + rb)

    phi = math.atan2(bz - az, bx - ax)
    t = brentq(gap, phi - 1.5, phi + 1.5, xtol=1e-15)
    n = np.array([-math.sin(t), math.cos(t)])
    level = n @ [ax, az] + ra
    # Deepest point of the floor circle against the string: along -n from its centre.
    deepest = chain.centre[floor, 0] - abs(chain.rho[floor, 0]) * n
    horizontal = (n @ deepest - level) / n[0]
    assert horizontal == pytest.approx(getattr(nose, f"{name}_depth_mm"), abs=EXACT)
    middle = (np.array([ax, az]) + ra * n + np.array([bx, bz]) + rb * n) / 2
    assert deepest[1] == pytest.approx(middle[1], abs=EXACT)


def test_leading_edge_height_and_lead_are_those_of_the_stated_tangents(nose, chain):
    # Where the normal of a circle is square to an edge inclined rearward by A: (xc - R cos A,
    # zc + R sin A).
    a50, a20 = math.radians(50), math.radians(20)
    (xe, ze), r = chain.centre[EDGE, 0], chain.rho[EDGE, 0]
    (xb, _), rb = chain.centre[BUMPER_HIGH, 0], chain.rho[BUMPER_HIGH, 0]
    assert ze + r * math.sin(a50) == pytest.approx(nose.leading_edge_height_mm, abs=EXACT)
    lead = (xe - r * math.cos(a50)) - (xb - rb * math.cos(a20))
    assert lead == pytest.approx(nose.lead_mm, abs=EXACT)


def test_bonnet_angle_crown_and_cowl(nose, chain):
    front = chain.point(EDGE, chain.leave[EDGE])[0]
    rear = chain.point(BONNET_END, chain.enter[BONNET_END])[0]
    chord = rear - front
    assert rear[0] == pytest.approx(nose.cowl_setback_mm, abs=EXACT)
    assert math.degrees(math.atan2(chord[1], chord[0])) == pytest.approx(
        nose.bonnet_angle_deg, abs=EXACT
    )
    values = nose.values[None]
    facets = facets_for(values, 1e-4)
    points = nose_batch(values, facets).points[0]
    bonnet = points[(points[:, 0] > front[0]) & (points[:, 0] < rear[0])]
    n = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    height = (np.concatenate([[front], bonnet]) - front) @ n
    # The crown is met at a facet point only when their number is even; else one facet below.
    assert height.max() == pytest.approx(nose.bonnet_crown_mm, abs=1e-4)
    lowest = chain.centre[COWL, 0] - [0.0, nose.cowl_radius_mm]
    assert lowest == pytest.approx(
        [nose.cowl_setback_mm + nose.cowl_gap_mm, rear[1] - nose.cowl_depth_mm], abs=EXACT
    )


def test_every_joint_touches_both_its_circles(chain):
    """Straight lines: the radius to each end is square to the line and as long as the radius."""
    for i in range(len(CIRCLES) - 1):
        if i == EDGE:
            continue  # the bonnet's arc lies between
        a = chain.point(i, chain.leave[i])[0]
        b = chain.point(i + 1, chain.enter[i + 1])[0]
        assert chain.leave[i, 0] == chain.enter[i + 1, 0]
        along = direction(chain.leave[i, 0])
        for end, k in ((a, i), (b, i + 1)):
            spoke = end - chain.centre[k, 0]
            assert np.hypot(*spoke) == pytest.approx(abs(chain.rho[k, 0]), abs=EXACT)
            assert spoke @ along == pytest.approx(0.0, abs=EXACT)
        off = b - a
        assert off[0] * along[1] - off[1] * along[0] == pytest.approx(0.0, abs=EXACT)
        assert off @ along >= -EXACT


def test_the_bonnet_runs_out_of_the_leading_edge_and_into_its_end_without_a_kink(nose, chain):
    assert chain.bonnet[0, 0] == chain.leave[EDGE, 0]
    assert chain.bonnet[1, 0] == chain.enter[BONNET_END, 0]
    # An arc over a chord c leaves it at both ends by half its turn, and h = c / 2 tan(turn / 4).
    half = (chain.bonnet[0, 0] - chain.bonnet[1, 0]) / 2
    height = chain.bonnet_length[0] / 2 * math.tan(half / 2)
    assert height == pytest.approx(nose.bonnet_crown_mm, abs=EXACT)


def test_arc_points_lie_on_their_circles_and_chords_within_the_tolerance(nose, chain):
    tolerance = 0.02
    section = nose_front(nose, chord_tolerance=tolerance).sections[0]
    points = section.points
    middles = (points[:-1] + points[1:]) / 2
    for i in range(len(CIRCLES)):
        centre, r = chain.centre[i, 0], abs(chain.rho[i, 0])
        on = np.abs(np.hypot(*(points - centre).T) - r) < EXACT
        pair = on[:-1] & on[1:]
        assert on.sum() >= 1, CIRCLES[i]
        away = r - np.hypot(*(middles[pair] - centre).T)
        # The joint between two neighbouring circles may have both its ends on one of them.
        assert ((away <= tolerance + EXACT) | (away > 1.0)).all(), CIRCLES[i]


def test_the_contour_is_simple_and_labelled_in_order(nose):
    section = nose_front(nose).sections[0]
    assert shapely.LineString(section.points).is_simple
    order = ["underside", "bumper", "lamp", "bonnet", "cowl", "windscreen"]
    ranks = [order.index(part) for part in section.parts]
    assert ranks == sorted(ranks)
    assert set(section.parts) == set(order)


def test_lines_of_a_nose_are_those_of_its_circles():
    """UBRL, LBRL and BLERL on a rounding: closed form (test_arcs.py), no facet error."""
    nose = Nose()
    station = line_up(nose_front(nose), "UN-R127-02").stations[0]
    low = nose.lower_lip_height_mm - nose.lower_lip_radius_mm * math.sin(math.radians(25))
    assert station.LBRL.z == pytest.approx(low, abs=EXACT)
    half = nose.bumper_depth_mm / 2 - nose.bumper_radius_mm
    high = nose.bumper_height_mm + half + nose.bumper_radius_mm * math.sin(math.radians(20))
    assert station.UBRL.z == pytest.approx(high, abs=EXACT)
    assert station.ble_height == pytest.approx(nose.leading_edge_height_mm, abs=EXACT)
    assert station.bumper_lead == pytest.approx(nose.lead_mm, abs=EXACT)


def test_the_recess_can_be_read_back_from_the_section():
    face = nose_front(Nose(recess_depth_mm=30, grille_depth_mm=2)).sections[0].face
    # Facets cut the lips short, so that the string lies up to one tolerance farther back.
    assert face.recess_depth_mm == pytest.approx(30, abs=0.02 / math.cos(math.radians(15)))


def test_sections_across_follow_the_plan_arc():
    nose = Nose(plan_radius_mm=1500)
    front = nose_front(nose, (0.0, 400.0, 700.0))
    for section in front.sections:
        back = 1500 - math.sqrt(1500**2 - section.y**2)
        assert section.points[:, 0] - front.sections[0].points[:, 0] == pytest.approx(
            np.full(len(section), back), abs=EXACT
        )
    with pytest.raises(NotAvailableError, match="plan radius"):
        nose_front(nose, (0.0, 1500.0))


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"bumper_depth_mm": 60.0}, "less deep than its two radii"),
        ({"lower_lip_height_mm": 440.0}, "too close together"),
        ({"upper_lip_setback_mm": 150.0, "lead_mm": 60.0}, "would bend the wrong way"),
        (
            {
                "recess_depth_mm": 91.2,
                "recess_radius_mm": 131.8,
                "lower_lip_height_mm": 479.6,
                "lower_lip_setback_mm": 97.0,
            },
            "run downward",
        ),
        ({"lead_mm": 900.0}, "leading edge would bend the wrong way"),
        ({"bonnet_angle_deg": 35.0, "bonnet_crown_mm": 100.0}, "lacks the point"),
        ({"cowl_setback_mm": 150.0, "lead_mm": 300.0}, "cowl lies ahead"),
        ({"cowl_depth_mm": 91.8, "cowl_gap_mm": 22.4, "cowl_radius_mm": 30.1}, "back under itself"),
        ({"bonnet_crown_mm": 300.0}, "crown is more than a quarter"),
        ({"underside_length_mm": 1400.0, "underside_angle_deg": 30.0}, "below the ground"),
    ],
)
def test_a_nose_that_cannot_be_made_says_why(changes, says):
    with pytest.raises(NotAvailableError, match=re.escape(says)):
        nose_front(Nose(**changes))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 1e9])
def test_a_dimension_out_of_range_is_refused_by_name(bad):
    with pytest.raises(InputError, match=r"lower_lip_radius_mm.*from 1 to 500 mm"):
        Nose(lower_lip_radius_mm=bad)


def test_many_at_once_are_the_same_as_one_by_one():
    rng = np.random.default_rng(4)
    base = np.array([d.default for d in DIMENSIONS])
    values = base * (1 + rng.uniform(-0.04, 0.04, (60, len(base))))
    facets = facets_for(values)
    batch = nose_batch(values, facets)
    assert 10 < batch.feasible.sum() < 60
    for i in range(60):
        if not batch.feasible[i]:
            with pytest.raises(NotAvailableError, match=re.escape(batch.reason[i])):
                nose_front(Nose(*values[i]))
            continue
        alone = nose_batch(values[i : i + 1], facets)
        assert np.array_equal(alone.points[0], batch.points[i])


def test_the_upper_side_begins_where_the_face_ends_and_ends_with_the_windscreen():
    values = Nose().values[None]
    contours = nose_batch(values, facets_for(values)).contours(300.0)
    names = [PARTS[code] for code in contours.parts[0]]
    begin, first, last = contours.screen[0]
    face = {"underside", "bumper", "lamp"}
    assert set(names[:begin]) == face
    assert face.isdisjoint(names[begin:])
    assert {i for i, name in enumerate(names) if name == "windscreen"} == {*range(first, last + 1)}


def test_a_tolerance_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        facets_for(Nose().values[None], 0.0)
