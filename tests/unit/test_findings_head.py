"""Head findings on fronts drawn out straight across, where angles and distances are known.

A flat bonnet at slope s meets a headform that travels at a to the horizontal at 90 - a - s from
its normal (plane geometry). Sections are the same at every station, so the plane of y and
wrap-around distance is the surface itself.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from corner_fronts import CHIN, corner_nose, lined, windscreen
from finding_sides import check_sides

from frontcheck.findings.finding_settings import HeadSettings
from frontcheck.findings.hard_points import head_contact, stop_table
from frontcheck.findings.head import head_findings
from frontcheck.findings.head_points import HeadAreas, head_points, impact_angle_deg, wad_at
from frontcheck.front.beside import HardPoint
from frontcheck.lines.lined_front import LinedFront
from frontcheck.people.impactors import least_stop_distance, square_pulse_stop_distance
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import FrontZones, ZoneOptions

SETTINGS = HeadSettings()
RULES = "UN-R127-02"


def front(half_width: float = 760.0, **nose: float) -> LinedFront:
    return lined(*(corner_nose(y=y, **nose) for y in (0.0, 300.0, half_width)), symmetric=True)


def zones(of: LinedFront) -> FrontZones:
    """Zones with few sections: the sections are all the same."""
    return zones_of(of, ZoneOptions(cut_mm=100.0))


def found(of: LinedFront, *points: HardPoint, settings: HeadSettings = SETTINGS):
    return head_findings(of, head_contact(of, zones(of), points), settings)


def flat(slope: float, height: float = 800.0):
    return found(front(height=height, bonnet_deg=slope))


# --- at grid points ----------------------------------------------------------------


@pytest.mark.parametrize("slope", [-10.0, 0.0, 8.0, 30.0])
@pytest.mark.parametrize(("area", "travel"), [("child", 50.0), ("adult", 65.0)])
def test_angle_of_a_flat_bonnet(slope: float, area: str, travel: float) -> None:
    normal = (-math.sin(math.radians(slope)), 0.0, math.cos(math.radians(slope)))
    assert impact_angle_deg(normal, travel) == pytest.approx(abs(90.0 - travel - slope), abs=1e-6)
    of = front(height=800.0, bonnet_deg=slope, bonnet_length=1500.0)
    points = [p for p in head_points(zones(of), of.rules) if p.area == area]
    assert len(points) > 10
    for point in points:
        assert point.angle_deg == pytest.approx(abs(90.0 - travel - slope), abs=1e-4)
        assert point.normal_share == pytest.approx(math.sin(math.radians(travel + slope)), abs=1e-6)


def test_distances_on_a_flat_front() -> None:
    of = front(height=800.0, bonnet_deg=8.0)
    length = 1200.0 / math.cos(math.radians(8.0))
    # Sphere in the concave corner between bonnet (8 deg) and windscreen (35 deg).
    rear = 800.0 + length - 82.5 * math.tan(math.radians((35.0 - 8.0) / 2.0))
    points = head_points(zones(of), of.rules)
    assert {p.area for p in points} == {"child", "adult"}
    for point in points:
        low, high = (1000.0, 1700.0) if point.area == "child" else (1700.0, rear - 82.5)
        sides = 760.0 - 82.5 - abs(point.y)
        expected = min(point.wad - low, high - point.wad, sides)
        assert point.to_border == pytest.approx(expected, abs=0.1)


def test_near_normal() -> None:
    # Child: 90 - 50 - s is 15 deg at a slope of 25.
    child_at = {s: [f for f in flat(s) if "Child" in f.message] for s in (24.5, 25.5)}
    (patch,) = check_sides("HEAD-NEAR-NORMAL", child_at[25.5], child_at[24.5])
    assert patch.value == pytest.approx(14.5, abs=1e-3)
    assert "child" in patch.region.name
    # Adult: 25 - s is 15 deg at a slope of 10.
    check_sides("HEAD-NEAR-NORMAL", flat(10.5), flat(9.5))


def test_glancing() -> None:
    # Child: 40 - s is 60 deg at a slope of -20.
    found_ = check_sides("HEAD-GLANCING", flat(-20.5), flat(-19.5))
    assert [f.value for f in found_] == [pytest.approx(60.5, abs=1e-3)]


def test_grid_points_that_touch_are_one_finding() -> None:
    of = front(height=800.0, bonnet_deg=26.0, bonnet_length=900.0)
    patches = [f for f in found(of) if f.code == "HEAD-NEAR-NORMAL" and "Child" in f.message]
    assert len(patches) == 1
    points = head_points(zones(of), of.rules)
    half = sum(p.area == "child" and p.y >= 0.0 for p in points)
    assert len(patches[0].region.outline_mm) == half
    assert "(either side)" in patches[0].message


# --- at stations -------------------------------------------------------------------


def test_wad_1000_ahead_of_the_leading_edge() -> None:
    # Tape: straight up the face, so WAD of the corner is its height.
    fires = check_sides(
        "HEAD-WAD1000-AHEAD", found(front(height=1001.0)), found(front(height=999.0))
    )
    assert fires[0].value == pytest.approx(1001.0, abs=1e-6)
    of = front(height=1001.0)
    assert wad_at(of.tape(0.0), (0.0, 700.0)) == pytest.approx(700.0, abs=1e-9)


def creased(turn_deg: float, y: float) -> Section:
    """Bonnet rising at 20 deg for 500 mm, then bent down by the turn."""
    up, down = math.radians(20.0), math.radians(20.0 - turn_deg)
    crest = np.array([500.0 * math.cos(up), 700.0 + 500.0 * math.sin(up)])
    rear = crest + 700.0 * np.array([math.cos(down), math.sin(down)])
    points = [(400.0, 260.0), (0.0, CHIN), (0.0, 700.0), crest, rear, *windscreen(*rear)]
    return Section(points, y, ["underside", "bumper", *["bonnet"] * 3, *["windscreen"] * 2])


def test_sharp_bend() -> None:
    def of(turn: float) -> LinedFront:
        return lined(*(creased(turn, y) for y in (0.0, 300.0, 760.0)), symmetric=True)

    # A lone crease has radius 60 / turn; 82.5 mm is a turn of 41.67 deg.
    fires = check_sides("HEAD-SHARP-BEND", found(of(42.0)), found(of(41.3)))
    assert [f.value for f in fires] == [pytest.approx(60.0 / math.radians(42.0))]
    assert fires[0].region.arc_mm is not None
    section = of(42.0).front.section(fires[0].station or 0.0)
    assert section.at_arc_length(fires[0].region.arc_mm[0]) == pytest.approx(section.points[3])


def test_bend_out_of_reach_is_not_told() -> None:
    # The leading edge of a nose 700 mm high is 300 mm ahead of the area, a right-angle bend or not.
    assert "HEAD-SHARP-BEND" not in {f.code for f in found(front(height=700.0))}
    # At 930 mm it is less than a headform radius ahead of it (BLERL + 82.5 = 1012.5).
    assert "HEAD-SHARP-BEND" in {f.code for f in found(front(height=930.0))}


def cowled(start: float, y: float) -> Section:
    """Straight bonnet of 900 mm from WAD 800, labelled cowl from WAD `start` on."""
    along = np.array([math.cos(math.radians(8.0)), math.sin(math.radians(8.0))])
    points = [(400.0, 260.0), (0.0, CHIN), (0.0, 800.0)]
    points += [tuple(np.array([0.0, 800.0]) + s * along) for s in (start - 800.0, 900.0)]
    points += windscreen(*points[-1])
    parts = ["underside", "bumper", "bonnet", "cowl", "cowl", "windscreen", "windscreen"]
    return Section(points, y, parts)


def test_cowl_inside() -> None:
    turn = math.radians(35.0 - 8.0)
    rear = 1700.0 - 82.5 * math.tan(turn / 2.0) - 82.5  # BRRL less the headform radius

    def of(start: float) -> LinedFront:
        return lined(*(cowled(start, y) for y in (0.0, 300.0, 760.0)), symmetric=True)

    (area,) = HeadAreas(zones(of(rear))).at(0.0)
    assert (area.front, area.rear) == pytest.approx((1000.0, rear), abs=0.05)
    fires = check_sides("HEAD-COWL-INSIDE", found(of(rear - 20.0)), found(of(rear + 1.0)))
    assert fires[0].value == pytest.approx(20.0, abs=0.1)


# --- hard points -------------------------------------------------------------------


def hard_point(along_travel: float, y: float = 0.0, travel_deg: float = 50.0) -> HardPoint:
    """Below the skin point at WAD 1300 of a nose 800 mm high with a bonnet at 8 deg."""
    s, a, t = 500.0, math.radians(8.0), math.radians(travel_deg)
    x = s * math.cos(a) + along_travel * math.cos(t)
    z = 800.0 + s * math.sin(a) - along_travel * math.sin(t)
    return HardPoint(x, y, z, "block", "test piece")


@pytest.mark.parametrize("y", [0.0, 150.0, -437.0])
def test_depth_below_the_bound_and_below_a_constant_pulse(y: float) -> None:
    """Thresholds: v^2 / (2 a g) for HIC 1000 at 35 km/h, 47.915607 mm, and 75 % of it."""
    square = 47.915607
    bound = 0.75 * square
    of = front(height=800.0, bonnet_deg=8.0)
    under, between, enough = (
        found(of, hard_point(free, y)) for free in (bound - 0.1, bound + 0.1, square + 0.1)
    )
    (low,) = check_sides("HEAD-DEPTH-BELOW-BOUND", under, between)
    assert low.value == pytest.approx(bound - 0.1, abs=1e-6)
    assert low.limit == pytest.approx(bound, abs=1e-6)
    (middle,) = check_sides("HEAD-DEPTH-BELOW-SQUARE", between, enough)
    check_sides("HEAD-DEPTH-BELOW-SQUARE", found(of, hard_point(square - 0.1, y)), under)
    assert middle.limit == pytest.approx((bound, square), abs=1e-6)
    # Along the normal: depth times the cosine of the angle between travel and normal.
    normal = (bound + 0.1) * math.sin(math.radians(58.0))
    assert f"({normal:.1f} mm along the normal)" in middle.message
    assert f"WAD {1300}" in middle.settled_by


def test_other_cases_are_named() -> None:
    of = front(height=800.0, bonnet_deg=8.0)
    (finding,) = [f for f in found(of, hard_point(40.0)) if "DEPTH" in f.code]
    for hic, speed in ((1000.0, 40.0), (1700.0, 40.0)):
        assert f"{float(square_pulse_stop_distance(hic, speed)):.1f} mm" in finding.message
    # 40 mm is enough for a constant pulse at HIC 1700 and 35 km/h, so that is not named.
    assert float(square_pulse_stop_distance(1700.0, 35.0)) < 40.0
    assert "HIC 1700, 35 km/h" not in finding.message


def test_table_of_cases() -> None:
    table = stop_table()
    assert {(hic, speed) for hic, speed, _, _ in table} == {
        (1000.0, 35.0), (1700.0, 35.0), (1000.0, 40.0), (1700.0, 40.0),
    }  # fmt: skip
    for hic, speed, square, least in table:
        v, g = speed / 3.6, 9.80665
        assert square == pytest.approx(1e3 * v**2 / (2 * g * (hic * g / v) ** (2 / 3)))
        assert least == pytest.approx(375.0 * v ** (8 / 3) / (g ** (5 / 3) * hic ** (2 / 3)))
        assert least == float(least_stop_distance(hic, speed))


def test_hard_point_outside_the_skin() -> None:
    of = front(height=800.0, bonnet_deg=8.0)
    (proud,) = check_sides(
        "HEAD-HARD-POINT-OUTSIDE", found(of, hard_point(-30.0)), found(of, hard_point(5.0))
    )
    assert proud.value == pytest.approx(30.0 * math.sin(math.radians(58.0)), abs=1e-6)


def test_hard_point_where_the_other_headform_is_aimed() -> None:
    # Below WAD 1750, in the adult area: judged along the adult's travel only.
    s, a, t = 950.0, math.radians(8.0), math.radians(65.0)
    point = HardPoint(
        s * math.cos(a) + 30.0 * math.cos(t), 0.0, 800.0 + s * math.sin(a) - 30.0 * math.sin(t),
        "hinge", "hinge",
    )  # fmt: skip
    of = front(height=800.0, bonnet_deg=8.0)
    (finding,) = [f for f in found(of, point) if "DEPTH" in f.code]
    assert finding.value == pytest.approx(30.0, abs=1e-6)
    assert "adult headform's travel" in finding.message


def test_settings_move_the_thresholds() -> None:
    of = front(height=800.0, bonnet_deg=20.0)
    wide = found(of, settings=HeadSettings(near_normal_deg=21.0))
    near = [f for f in wide if f.code == "HEAD-NEAR-NORMAL"]
    assert [f.limit for f in near if "Child" in f.message] == [21.0]
    with pytest.raises(ValueError, match="glancing_deg 95"):
        HeadSettings(glancing_deg=95.0)
    with pytest.raises(ValueError, match="bend_radius_mm -1"):
        HeadSettings(bend_radius_mm=-1.0)
