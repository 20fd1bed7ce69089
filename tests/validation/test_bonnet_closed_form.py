"""Rear line, rear corners and headform areas of whole fronts against closed forms.

See `test_zones_closed_form.py` for sources and tolerances.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from front_shapes import FAR, SCREENED_PARTS, barrel, front_of, screened

from frontcheck.front.front import Front
from frontcheck.lines.bonnet_template import rear_template
from frontcheck.screening import screen
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import ZoneOptions

ROUNDING = "exact on planes: rounding of doubles only"
SPHERE = Check(
    "rear-line-between-planes",
    kind="closed form",
    quantity="setback of BRRL, a sphere between a bonnet and a swept windscreen",
    unit="mm",
    source=derived("R tan(d / 2) ahead of the corner of two planes that meet at turn d"),
    why=ROUNDING,
)
TEMPLATE = Check(
    "rear-corner-template",
    kind="closed form",
    quantity="where the corner template touches a straight BRRL, across",
    unit="mm",
    source=derived("a circle with its centre on SRL touches R sin(sweep) inboard of it"),
    why="radii are tried in turn; touches are found to 1e-6 mm and better",
)
AREA = Check(
    "headform-area-planes",
    kind="closed form",
    quantity="child and adult headform areas on plane and rolled-out bonnets",
    unit="m2",
    source=derived(
        "rectangles between lines; UN R127.02, 2.1 and 2.16 (text read), EU from memory"
    ),
    why="a millionth of it: rounding of doubles",
)
BOUND = Check(
    "headform-area-bounds",
    kind="closed form",
    quantity="wrap-around distance at which headform areas begin and end",
    unit="mm",
    source=derived("lengths along planes"),
    why=ROUNDING,
)
ROLLED = Check(
    "headform-area-cylinder",
    kind="closed form",
    quantity="child headform area on a transverse cylinder",
    unit="m2",
    source=derived("developable: 700 mm times the arc between the 45 deg tangents"),
    why="a thousandth of it for stations up to 25 mm apart",
)
GRID = Check(
    "candidate-points-plane",
    kind="closed form",
    quantity="places of candidate points on a plane bonnet",
    unit="mm",
    source=derived("a grid laid along the plane"),
    why=ROUNDING,
)

EXACT = 1e-6
RADII = [100.0 + 20.0 * i for i in range(96)]  # UN R127 02 series, 2.8, text read


def zones(front, rules="UN-R127-02", wad=None, **options):
    return zones_of(screen(front, rules, wad), ZoneOptions(**options))


# --- rear line --------------------------------------------------------------------------


def test_sphere_between_planes_along_y() -> None:
    # Two planes meeting at turn d: contact R tan(d / 2) before the corner, square to the meeting
    # line. The corner is swept: x_c = 1200 + 0.2 |y|, straight between the stations -600, 0 and
    # 600 and on the one plane of the bonnet. At the stations themselves the sphere rests on the
    # smooth surface, and is not looked at here.
    rise, glass = 5.0, 30.0
    front = front_of(
        lambda y: screened(750.0, 1200.0 + 0.2 * abs(y), rise, glass),
        [-600.0, 0.0, 600.0],
        SCREENED_PARTS,
    )
    line = zones(front, between="straight", cut_mm=25.0, grid_mm=50.0).line("BRRL")
    u, v = (np.array([math.cos(a), 0.0, math.sin(a)]) for a in np.radians([rise, glass]))
    t = np.array([0.2, 1.0, 0.2 * math.tan(math.radians(rise))])
    t /= np.linalg.norm(t)
    across, up = u - (u @ t) * t, v - (v @ t) * t
    turn = math.acos(across @ up / (np.linalg.norm(across) * np.linalg.norm(up)))
    back = 82.5 * math.tan(turn / 2.0) / float(np.linalg.norm(across)) * u[0]
    assert len(line.points) == 49  # every 25 mm
    beside = line.points[~np.isin(line.points[:, 1], [-600.0, 0.0, 600.0])]
    expected = 1200.0 + 0.2 * np.abs(beside[:, 1]) - back
    SPHERE.compare(expected, beside[:, 0], tolerance=EXACT)


@pytest.mark.parametrize("sweep_deg", [15.0, 25.0, 40.0])
@pytest.mark.parametrize("short", [10.0, 60.0, 130.0])
def test_rear_template_on_straight_lines(sweep_deg: float, short: float) -> None:
    # SRL straight along x at y = 700; BRRL straight, swept rearward going out, ending
    # `short` inside SRL. A circle with its centre on SRL touches such a line R sin(sweep)
    # inboard of SRL: on the line where R sin(sweep) >= short. The first of R = 100, 120,
    # ... that is long enough fits; its touch is 90 deg - sweep from the middle of the arc,
    # so outside the central 90 deg for a sweep below 45.
    sweep = math.radians(sweep_deg)
    side = np.array([(-2000.0, 700.0), (3000.0, 700.0)])
    end = np.array([1000.0, 700.0 - short])
    rear = np.array([end - 900.0 * np.array([math.sin(sweep), math.cos(sweep)]), end])
    found = rear_template(side, rear, RADII, 90.0)
    steps = max(math.ceil((short / math.sin(sweep) - 100.0) / 20.0), 0)
    radius = 100.0 + 20.0 * steps
    assert found is not None
    assert found.radius == radius
    TEMPLATE.compare(700.0 - radius * math.sin(sweep), found.touch[1], tolerance=1e-5)
    # The arc ends on SRL, its rear end one radius behind the centre.
    centre_x = found.touch[0] - radius * math.cos(sweep)
    assert found.arc[-1] == pytest.approx((centre_x + radius, 700.0), abs=1e-4)
    assert found.arc[0] == pytest.approx(found.touch, abs=1e-6)


def test_rear_template_that_can_only_touch_in_its_middle_does_not_fit() -> None:
    # A sweep of 60 deg touches 30 deg from the middle: inside the central 90 deg at any radius.
    side = np.array([(-5000.0, 700.0), (5000.0, 700.0)])
    sweep = math.radians(60.0)
    rear = np.array([[0.0, 0.0], [600.0 * math.tan(sweep), 600.0]])
    assert rear_template(side, rear, RADII, 90.0) is None
    assert rear_template(side, rear, RADII, 50.0) is not None


def test_rear_corner_by_template_on_a_whole_front() -> None:
    # Level bonnet, windscreen corner at x = 1200 + 0.5 |y| and narrower than the bonnet:
    # labelled to |y| = 600, sides (SRL) at the last station |y| = 700.
    def contour(y):
        corner = 1200.0 + 0.5 * abs(y)
        if abs(y) > 600.0:
            return [(200.0, 240.0), (0.0, 250.0), (0.0, 800.0), (corner, 800.0), (FAR, 800.0)]
        return screened(800.0, corner, 0.0, 30.0)

    stations = [-700.0, -601.0, -600.0, -300.0, 0.0, 300.0, 600.0, 601.0, 700.0]
    bare = ("underside", "bumper", "bonnet", "bonnet", "bonnet")
    front = Front(tuple(
        Section(contour(y), y, bare if abs(y) > 600.0 else SCREENED_PARTS) for y in stations
    ))  # fmt: skip
    found = zones(front, between="straight")
    assert "is carried on along a template of radius" in found.rear_corners.right.reason
    # Towards its end the sphere finds less and less windscreen and rests farther back, so the
    # line bends there; where the template then touches has no closed form (flat and cylindrical
    # bonnets with straight lines have one: see the tests of the template itself).
    x, y, z = found.rear_corners.right.point
    assert (y, z) == pytest.approx((700.0, 800.0), abs=1e-3)
    assert 1300.0 < x < 1700.0  # between the line at the centre and twice its sweep
    line = found.line("BRRL")
    assert np.abs(line.points[:, 1]).max() == pytest.approx(700.0)
    assert line.points[:, 1].tolist() == sorted(line.points[:, 1].tolist())


# --- headform areas ---------------------------------------------------------------------


def test_area_of_a_plane_bonnet() -> None:
    # Extruded: upright face to z = 700, bonnet rising 6 deg, windscreen at 32 deg.
    # Everything is a plane, lengths along the bonnet are measured from its edge (which
    # BLERL is):
    #   front: WAD 1000 is 300 from the edge, BLERL + 82.5 is 82.5: the former;
    #   rear: WAD 1700 would be 1000 from the edge; BRRL - 82.5 is L - 82.5 tan((32 - 6) / 2
    #     deg) - 82.5;
    #   sides: SRL is the last station, +-700; less 82.5 on a level line across.
    rise, glass, x_corner = 6.0, 32.0, 1050.0
    stations = np.arange(-700.0, 701.0, 100.0)
    front = front_of(lambda _: screened(700.0, x_corner, rise, glass), stations, SCREENED_PARTS)
    found = zones(front)
    length = x_corner / math.cos(math.radians(rise))
    rear = length - 82.5 * math.tan(math.radians((glass - rise) / 2.0)) - 82.5
    assert rear < 1000.0
    exact = (rear - 300.0) * (1400.0 - 165.0) * 1e-6
    area = found.child_area
    assert area.status == "open_end"
    AREA.compare(exact, area.area_m2, relative=1e-6)
    assert found.adult_area.area_m2 == 0.0
    assert found.adult_area.outlines == ()
    assert "behind" in found.adult_area.reason
    points = np.array(area.outlines[0].points)
    assert np.abs(points[:, 1]).max() == pytest.approx(617.5, abs=EXACT)
    wad = area.outlines[0].wad
    BOUND.compare([1000.0, 700.0 + rear], [min(wad), max(wad)], tolerance=EXACT)


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
def test_both_areas_of_a_long_bonnet(rules: str) -> None:
    # As above with a long bonnet: child from WAD 1000 to 1700, adult from there to 2100.
    front = front_of(
        lambda _: screened(650.0, 1900.0, 4.0, 30.0),
        np.arange(-700.0, 701.0, 100.0),
        SCREENED_PARTS,
    )
    found = zones(front, rules)
    # UN R127.02, 2.1 and 2.16 (text read): sides 82.5 mm inboard of SRL, which is at +-700 mm. The
    # EU text, from memory: from line to line, with BRRL itself capped at WAD 2100; impact points
    # lie 82.5 mm inside, ahead of that BRRL too.
    later = rules.startswith("UN")
    width = 1.235 if later else 1.4
    areas = [found.child_area.area_m2, found.adult_area.area_m2]
    AREA.compare([0.7 * width, 0.4 * width], areas, relative=1e-6)
    inner = [area.impact_points for area in (found.child_area, found.adult_area)]
    if later:
        assert inner == [None, None]
    else:
        child, adult = inner
        exact = [0.7 * 1.235, (0.4 - 0.0825) * 1.235]
        AREA.compare(exact, [child.area_m2, adult.area_m2], relative=1e-6)
        assert max(abs(point.point[1]) for point in found.grid) <= 617.5 + EXACT
        assert any(
            "impact points 82.5 mm (from memory, unconfirmed)" in note for note in found.notes
        )


@pytest.mark.parametrize("rules", ["UN-GTR9", "UN-GTR9-A2", "UN-R127-00", "EU-631-2009"])
def test_earlier_areas_begin_and_end_at_the_lines(rules: str) -> None:
    # From memory, unconfirmed. Face to z = 950: WAD 1000 is 50 behind the edge, so the area begins
    # there, and its impact points at BLERL + 82.5. Bonnet of 600, level: BRRL R tan(15 deg) ahead
    # of the windscreen that rises at 30 deg.
    stations = np.arange(-700.0, 701.0, 100.0)
    front = front_of(lambda _: screened(950.0, 600.0, 0.0, 30.0), stations, SCREENED_PARTS)
    area = zones(front, rules).child_area
    rear = 950.0 + 600.0 - 82.5 * math.tan(math.radians(15.0))
    inner = area.impact_points
    for each, ends, width in ((area, [1000.0, rear], 1.4), (inner, [1032.5, rear - 82.5], 1.235)):
        wad = each.outlines[0].wad
        BOUND.compare(ends, [min(wad), max(wad)], tolerance=EXACT)
        AREA.compare((ends[1] - ends[0]) * width * 1e-3, each.area_m2, relative=1e-6)


def test_an_area_that_goes_on_over_the_windscreen_is_not_given() -> None:
    # UN R127, 03 series, provisional: where BRRL bounds it, the rest on glass and cowl is missing.
    stations = np.arange(-700.0, 701.0, 100.0)
    front = front_of(lambda _: screened(650.0, 1900.0, 4.0, 30.0), stations, SCREENED_PARTS)
    found = zones(front, "UN-R127-03")
    AREA.compare(0.7 * 1.235, found.child_area.area_m2, relative=1e-6)  # up to WAD 1700
    # Bonnet of 1900 mm in plan: BRRL less 82.5 mm, at WAD 2453, is ahead of WAD 2500.
    rear = 650.0 + 1900.0 / math.cos(math.radians(4.0)) - 82.5 * math.tan(math.radians(13.0)) - 82.5
    assert (found.adult_area.status, found.adult_area.area_m2) == ("not_available", None)
    assert f"{(rear - 1700.0) * 1235.0 * 1e-6:.4g} m2" in found.adult_area.reason


def test_front_bound_behind_a_high_leading_edge() -> None:
    # Face to z = 950: WAD 1000 is 50 behind the edge, BLERL + 82.5 more rearward.
    front = front_of(
        lambda _: screened(950.0, 1400.0, 0.0, 30.0),
        np.arange(-700.0, 701.0, 100.0),
        SCREENED_PARTS,
    )
    area = zones(front).child_area
    BOUND.compare(950.0 + 82.5, min(area.outlines[0].wad), tolerance=EXACT)
    AREA.compare((1700.0 - 1032.5) * 1235.0 * 1e-6, area.area_m2, relative=1e-6)


@pytest.mark.parametrize(
    ("step", "between", "allowed"), [(25.0, "smooth", 1e-3), (5.0, "straight", 1e-3)]
)
def test_area_on_a_transverse_cylinder(step: float, between: str, allowed: float) -> None:
    # Developable: generators along x, transverse circle R about (0, zc). From the upright
    # face at x = 0 the tape runs up z(y), then along a generator: WAD 1000 to 1700 is 700
    # of it everywhere. SRL is the 45 deg tangent; 82.5 inboard on the arc leaves +-(45 deg
    # - 82.5 / R).
    radius, zc = 900.0, 0.0
    half = math.radians(45.0) - 82.5 / radius

    def contour(y):
        z = zc + math.sqrt(radius**2 - y * y)
        return [*screened(z, 1700.0, 0.0, 30.0)]

    reach = 700.0
    # On a straight surface the 45 deg edge touches a contour; let there be one where it belongs.
    tangent = radius / math.sqrt(2.0)
    stations = np.unique([*np.arange(-reach, reach + 1.0, step), -tangent, tangent])
    area = zones(front_of(contour, stations, SCREENED_PARTS), between=between).child_area
    assert area.status == "ok"
    ROLLED.compare(700.0 * 2.0 * half * radius * 1e-6, area.area_m2, relative=allowed)


def test_area_on_a_cylinder_across() -> None:
    # Extruded arc, 35 deg steep at its front (so BLERL, at 40 deg from level, is the edge
    # of the face) and 5 deg at its rear: the tape lies on it, so between WAD 1000 and 1700
    # there are 700 mm of arc.
    angle = np.radians(np.linspace(55.0, 85.0, 301))
    radius = 2500.0
    arc = radius * np.stack(
        [np.cos(angle[0]) - np.cos(angle), np.sin(angle) - np.sin(angle[0])], axis=1
    )
    arc[:, 1] += 650.0

    def contour(y):
        end = arc[-1]
        return [(200.0, 240.0), (0.0, 250.0), *arc, (end[0] + 800.0, end[1] + 500.0)]

    parts = ("underside", "bumper", *("bonnet",) * (len(arc) - 1), "windscreen", "windscreen")
    front = front_of(contour, np.arange(-700.0, 701.0, 100.0), parts)
    found = zones(front, wad=[1000.0, 1700.0])
    bounds = [found.line(f"WAD {n}").points[0] for n in (1000, 1700)]
    assert math.dist(*[(b[0], b[2]) for b in bounds]) < 700.0
    AREA.compare(0.7 * 1.235, found.child_area.area_m2, relative=1e-6, case="cylinder across")


def test_without_a_windscreen_the_areas_are_bounded_by_wad_alone() -> None:
    front = front_of(barrel(lambda _: 700.0), np.arange(-700.0, 701.0, 100.0))
    found = zones(front)
    for area, most in ((found.child_area, 0.7), (found.adult_area, 0.4)):
        # The sides are the outermost stations, so the status is the farther one from ok.
        assert area.status == "open_end"
        assert "BRRL is not known, so the rear bound is the WAD line alone" in area.reason
        AREA.compare(most * 1.235, area.area_m2, relative=1e-6, case="no windscreen")


# --- candidate points -------------------------------------------------------------------


def test_grid_of_a_plane_bonnet() -> None:
    front = front_of(
        lambda _: screened(650.0, 1900.0, 4.0, 30.0),
        np.arange(-700.0, 701.0, 100.0),
        SCREENED_PARTS,
    )
    grid = zones(front, grid_mm=50.0).grid
    # Child: y = -600 .. 600 (25), WAD 1000 .. 1700 (15). Adult: WAD 1750 .. 2100 (8).
    child = [p for p in grid if p.area == "child"]
    adult = [p for p in grid if p.area == "adult"]
    assert (len(child), len(adult)) == (25 * 15, 25 * 8)
    rise = math.radians(4.0)
    normal = (-math.sin(rise), 0.0, math.cos(rise))
    for p in grid:
        along = p.wad - 650.0
        expected = (along * math.cos(rise), p.point[1], 650.0 + along * math.sin(rise))
        GRID.compare(expected, p.point, tolerance=EXACT)
        assert p.normal == pytest.approx(normal, abs=1e-9)
