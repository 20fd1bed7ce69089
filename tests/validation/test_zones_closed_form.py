"""Lines and zones of whole fronts against closed forms.

Sources: the closed forms are elementary geometry, written out beside each check; those of the
60 deg plane on a plan circle and of the 45 deg edge on a transverse circle are listed in the
project's table of check values. Definitions of the lines: see `frontcheck rules ID`.
Tolerances: exact geometry 1e-6 mm. Where a curve of radius R is given by stations c apart,
a straight surface may be off by the facet error c^2 / 8R, computed in the test; between
smooth stations the tolerance is stated with its reason.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from front_shapes import (
    FAR,
    SCREENED_PARTS,
    barrel,
    barrel_top,
    front_of,
    plan_circle,
    superellipse,
    superellipse_corner,
    upright_face,
)

from frontcheck.rules.ruleset import rule_set
from frontcheck.screening import screen
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import ZoneOptions

CIRCLE = Check(
    "bumper-corner-on-smooth-circles",
    kind="closed form",
    quantity="bumper corners by plane and gauge on a smooth plan circle, R / 40 between stations",
    unit="mm",
    source=derived("y = R / 2, x = R (1 - cos 30 deg)"),
    why="own choice: 0.1 across, 0.06 in depth",
)
STRAIGHT = Check(
    "zones-on-straight-fronts",
    kind="closed form",
    quantity="bumper corners and thirds on straight surfaces",
    unit="mm",
    source=derived("elementary geometry, written out in the tests"),
    why="exact geometry: rounding of doubles only",
)

PLANE, GAUGE = "UN-R127-01", "UN-R127-02"
EXACT = 1e-6


def zones(front, rules=GAUGE, wad=None, **options):
    return zones_of(screen(front, rules, wad), ZoneOptions(**options))


# --- bumper corners ---------------------------------------------------------------------


@pytest.mark.parametrize("procedure", ["plane", "gauge"])
@pytest.mark.parametrize("radius", [700.0, 1200.0])
def test_60_deg_on_a_plan_circle(procedure: str, radius: float) -> None:
    # Tangent at 60 deg to the x axis: y = R / 2, x = R (1 - cos 30).
    stations = np.arange(-0.8 * radius, 0.8 * radius + 1.0, radius / 40.0)
    found = getattr(zones(front_of(upright_face(plan_circle(radius)), stations)).bumper_corners,
                    procedure)  # fmt: skip
    assert found.status == "ok"
    # Smooth surface, stations R / 40 apart: within 0.1 mm across, 0.06 in depth.
    for spot, sign in ((found.left, -1.0), (found.right, 1.0)):
        CIRCLE.compare(sign * radius / 2.0, spot.point[1], tolerance=0.1)
        deep = radius * (1 - math.cos(math.radians(30)))
        CIRCLE.compare(deep, spot.point[0], tolerance=0.06)


@pytest.mark.parametrize("procedure", ["plane", "gauge"])
def test_60_deg_on_a_straight_surface_is_within_the_facet(procedure: str) -> None:
    # A chord polygon touches at one of its corners: at most half a chord from the tangent
    # point along the curve, and c^2 / 8R square to the plane.
    radius, step = 1000.0, 5.0
    front = front_of(upright_face(plan_circle(radius)), np.arange(-800.0, 801.0, step))
    x, y, _ = getattr(zones(front, between="straight").bumper_corners, procedure).right.point
    chord = step / math.cos(math.radians(30.0))
    square = (y - radius / 2) * math.cos(math.radians(60)) - (
        x - radius * (1 - math.cos(math.radians(30)))
    ) * math.sin(math.radians(60))
    assert abs(y - radius / 2.0) <= step / 2.0 + EXACT
    assert abs(square) <= chord**2 / (8.0 * radius) * 1.01


@pytest.mark.parametrize(
    ("a", "b", "p"), [(800.0, 300.0, 2.5), (850.0, 500.0, 2.0), (780.0, 250.0, 4.0)]
)
def test_60_deg_on_superellipses(a: float, b: float, p: float) -> None:
    x, y = superellipse_corner(a, b, p, 60.0)
    stations = np.arange(-750.0, 751.0, 10.0)
    corners = zones(
        front_of(upright_face(superellipse(a, b, p)), stations), between="smooth"
    ).bumper_corners
    for pair in (corners.plane, corners.gauge):
        # Contours h = 10 mm apart, refined by a parabola: off by at most h^2 / 6 |x'''
        # / x''| across, to leading order; by tan 30 of that in depth. Derivatives by
        # differences of 1 mm.
        values = [superellipse(a, b, p)(y + k) for k in (-2.0, -1.0, 0.0, 1.0, 2.0)]
        third = (values[4] - 2 * values[3] + 2 * values[1] - values[0]) / 2.0
        second = values[3] - 2 * values[2] + values[1]
        allowed = 1.2 * 100.0 / 6.0 * third / second
        assert allowed < 0.7
        assert pair.right.point[1] == pytest.approx(y, abs=allowed)
        assert pair.right.point[0] == pytest.approx(x, abs=allowed * math.tan(math.radians(30)))
        assert pair.left.point[1] == pytest.approx(-pair.right.point[1], abs=1e-9)


def stepped(y: float) -> float:
    """Plan outline: 60 deg support at y = 500 for the whole, at 750 for what is near."""
    return float(
        np.interp(abs(y), [0.0, 500.0, 600.0, 750.0, 800.0], [0.0, 0.0, 150.0, 150.0, 300.0])
    )


def test_gauge_is_as_wide_as_it_is_and_the_plane_is_endless() -> None:
    # out = y cos 60 - x sin 60: 250 at y = 500, 245.1 at y = 750. The plane touches at 500.
    # Along the face the two are 291.5 mm apart, more than half the gauge (118): the gauge
    # touches at 750 too.
    corners = zones(
        front_of(upright_face(stepped), np.arange(-800.0, 801.0, 50.0)), between="straight"
    ).bumper_corners
    STRAIGHT.compare((0.0, 500.0), corners.plane.right.point[:2], tolerance=EXACT)
    STRAIGHT.compare((150.0, 750.0), corners.gauge.right.point[:2], tolerance=EXACT)


def test_wider_gauge_reaches_over_the_step() -> None:
    rules = rule_set(GAUGE).with_values({"bumper_corner.gauge_width_mm": 600.0})
    front = front_of(upright_face(stepped), np.arange(-800.0, 801.0, 50.0))
    corners = zones_of(screen(front, rules), ZoneOptions(between="straight")).bumper_corners
    assert corners.gauge.right.point[:2] == pytest.approx((0.0, 500.0), abs=EXACT)


def test_gauge_takes_no_contact_on_its_upper_edge() -> None:
    # Upright cylinder to z = 700; above, from |y| = 600 on, the body leans forward over it
    # up to z = 900. UBRL ends at z = 657.785, so the upper edge of the gauge goes up to
    # 714.785: there it meets the overhang with that edge only, which does not count; below
    # it touches the cylinder at y = R / 2.
    radius = 1000.0
    foremost = plan_circle(radius)

    def contour(y):
        x = foremost(y)
        lip = x if abs(y) < 600.0 else x - 80.0
        return [(x + 200, 240.0), (x, 250.0), (x, 700.0), (lip, 900.0), (lip, 920.0), (FAR, 930.0)]

    corners = zones(front_of(contour, np.arange(-800.0, 801.0, 25.0))).bumper_corners
    assert corners.gauge.right.point[1] == pytest.approx(500.0, abs=0.1)
    assert corners.gauge.right.point[2] < 700.0


def test_corner_at_the_last_station_is_said_to_be_open() -> None:
    corners = zones(
        front_of(upright_face(plan_circle(2000.0)), np.arange(-700.0, 701.0, 50.0))
    ).bumper_corners
    assert corners.plane.status == corners.gauge.status == "open_end"
    assert corners.plane.right.point[1] == pytest.approx(700.0, abs=1e-9)
    assert "nothing is known" in corners.plane.reason


# --- bumper: test area, thirds, legform -------------------------------------------------


@pytest.mark.parametrize(("rules", "inboard"), [("UN-R127-00", 66.0), ("UN-R127-01", 42.0)])
def test_bumper_area_is_inboard_of_the_corners(rules: str, inboard: float) -> None:
    found = zones(
        front_of(upright_face(plan_circle(1000.0)), np.arange(-800.0, 801.0, 25.0)), rules
    )
    corner = found.bumper_corners.plane.right.point[1]
    area = found.bumper_test_area
    assert (area.y_min, area.y_max) == pytest.approx((inboard - corner, corner - inboard))
    assert (area.basis, area.status, area.reason) == ("corners", "ok", "")


@pytest.mark.parametrize(
    ("beam", "basis", "half"),
    [((-600.0, 600.0), "beam", 558.0), ((-300.0, 300.0), "corners", 458.0)],
)
def test_beam_rule_takes_the_wider(beam, basis, half) -> None:
    front = front_of(upright_face(plan_circle(1000.0)), np.arange(-800.0, 801.0, 25.0))
    area = zones(front, GAUGE, beam_ends_mm=beam).bumper_test_area
    assert area.basis == basis
    assert (area.y_min, area.y_max) == pytest.approx((-half, half), abs=0.1)
    assert "beam ends are not given" in zones(front, GAUGE).bumper_test_area.reason
    assert "no beam rule" in zones(front, PLANE, beam_ends_mm=beam).bumper_test_area.reason


def test_thirds_of_a_plan_circle() -> None:
    # Corners at +-30 deg of the circle: the tape is R 60 deg long, the thirds end at +-10
    # deg. Chords of 10 mm on R 1000 are short by c^2 / 24 R^2 = 4e-6 of the length.
    radius = 1000.0
    front = front_of(upright_face(plan_circle(radius)), np.arange(-800.0, 801.0, 10.0))
    thirds = zones(front, PLANE, between="smooth").bumper_thirds
    assert thirds.length == pytest.approx(radius * math.radians(60.0), abs=0.2)
    for cut, sign in zip(thirds.cuts, (-1.0, 1.0), strict=True):
        assert cut.point[1] == pytest.approx(sign * radius * math.sin(math.radians(10.0)), abs=0.1)


def test_tape_bridges_a_hollow_in_plan() -> None:
    # A notch 60 mm deep about the centre: the taut tape runs straight across it.
    def foremost(y):
        return float(np.interp(abs(y), [0.0, 200.0, 600.0, 750.0], [60.0, 0.0, 0.0, 600.0]))

    front = front_of(upright_face(foremost), np.arange(-750.0, 751.0, 50.0))
    thirds = zones(front, PLANE, between="straight").bumper_thirds
    STRAIGHT.compare(1200.0, thirds.length, tolerance=EXACT, case="length of thirds")
    assert [c.point[0] for c in thirds.cuts] == pytest.approx([0.0, 0.0], abs=EXACT)
    STRAIGHT.compare([-200.0, 200.0], [c.point[1] for c in thirds.cuts], tolerance=EXACT)


def test_legform_changes_where_the_height_crosses() -> None:
    # LBRL at z = 400 + 0.2 |y|: 425 at |y| = 125, 500 at |y| = 500.
    def contour(y):
        low = 400.0 + 0.2 * abs(y)
        return [(300.0, low), (0.0, low), (0.0, 700.0), (FAR, 700.0)]

    front = front_of(contour, [-700.0, 0.0, 700.0])
    runs = zones(front, between="straight").legform_runs
    found = [(r.legform, r.y_from, r.y_to) for r in runs]
    expected = [("upper", -700, -500), ("either", -500, -125), ("lower", -125, 125),
                ("either", 125, 500), ("upper", 500, 700)]  # fmt: skip
    assert [f[0] for f in found] == [e[0] for e in expected]
    for f, e in zip(found, expected, strict=True):
        assert f[1:] == pytest.approx(e[1:], abs=EXACT)


# --- side reference line ----------------------------------------------------------------


@pytest.mark.parametrize("radius", [250.0, 300.0])
def test_srl_on_a_transverse_circle(radius: float) -> None:
    # 45 deg tangent: (y0 + R / sqrt 2, z0 + R / sqrt 2) in every transverse plane. Smooth over
    # stations 20 mm apart, refined by a parabola: within 0.2 mm along, 0.05 mm square to the edge.
    y0, z0 = 450.0, 600.0
    wide = y0 + 0.95 * radius
    stations = np.unique(
        [*np.arange(-y0, y0 + 1.0, 50.0), *np.linspace(y0, wide, 15), *-np.linspace(y0, wide, 15)]
    )
    line = zones(front_of(barrel(barrel_top(y0, z0, radius)), stations)).line("SRL")
    assert line.status == "ok"
    expected = np.array([y0 + radius / math.sqrt(2), z0 + radius / math.sqrt(2)])
    off = np.abs(line.points[:, 1:]) - expected
    assert np.abs(off).max() < 0.2
    assert np.abs(off.sum(axis=1)).max() / math.sqrt(2) < 0.05
    assert [piece.side for piece in line.pieces] == ["left", "right"]
    assert (
        np.sign(line.points[:, 1])
        == [-1.0] * line.pieces[0].stop + [1.0] * (len(off) - line.pieces[0].stop)
    ).all()


def test_srl_is_exact_at_an_edge_and_on_facets() -> None:
    # A flat top that turns down at more than 45 deg at |y| = 600: the edge of the top is touched.
    def top(y):
        return float(np.interp(abs(y), [0.0, 600.0, 700.0], [900.0, 880.0, 700.0]))

    front = front_of(barrel(top), np.arange(-700.0, 701.0, 100.0))
    line = zones(front, between="straight").line("SRL")
    assert np.abs(line.points[:, 1]) == pytest.approx(600.0, abs=EXACT)
    assert line.points[:, 2] == pytest.approx(880.0, abs=EXACT)


def test_srl_of_a_side_at_45_deg_is_its_highest_contact() -> None:
    # The side falls at exactly 45 deg from |y| = 500 on: all of it touches, the highest counts.
    def top(y):
        return 900.0 - max(abs(y) - 500.0, 0.0)

    line = zones(front_of(barrel(top), np.arange(-700.0, 701.0, 100.0)), between="straight").line(
        "SRL"
    )
    assert np.abs(line.points[:, 1]) == pytest.approx(500.0, abs=EXACT)


def test_srl_at_the_last_station_says_so() -> None:
    line = zones(front_of(barrel(lambda _: 900.0), np.arange(-600.0, 601.0, 100.0))).line("SRL")
    assert line.status == "open_end"
    assert set(line.point_status) == {"open_end"}
    assert "not known" in line.reason


def test_corner_reference_point() -> None:
    # Face and top meet at x = 0, z = top(y): the 50 deg edge touches there, and so does SRL
    # in the plane x = 0: they meet at the 45 deg tangent of the transverse circle.
    y0, z0, radius = 450.0, 500.0, 300.0
    stations = np.arange(-740.0, 741.0, 10.0)
    found = zones(
        front_of(barrel(barrel_top(y0, z0, radius)), stations), between="smooth"
    ).corner_reference_points
    expected = (0.0, y0 + radius / math.sqrt(2), z0 + radius / math.sqrt(2))
    assert found.status == "ok"
    # Contours h = 10 mm apart, refined by a parabola: off by h^2 / 6 |z''' / z''| = h^2 /
    # (2 R cos 45).
    allowed = 100.0 / (2.0 * radius * math.cos(math.radians(45.0)))
    assert found.right.point == pytest.approx(expected, abs=allowed)
    assert found.left.point == pytest.approx((0.0, -expected[1], expected[2]), abs=allowed)


@pytest.mark.parametrize("hollow", [0.0, 30.0])
def test_thirds_of_the_bonnet_top(hollow: float) -> None:
    """UN R127 02 series, 2.34 (text read): three equal parts of the outer contour between the SRLs.

    A level top between two quarter circles: SRL lies where they fall at 45 deg, so the tape over
    the top is 2 y0 + 2 R pi / 4 long. A hollow in the middle is bridged; the cut lies in it.
    """
    y0, z0, radius = 450.0, 600.0, 250.0
    dip = (120.0, 240.0)  # the hollow's floor and its rim

    def contour(y: float) -> list[tuple[float, float]]:
        top = barrel_top(y0, z0, radius)(y)
        top -= float(np.interp(abs(y), dip, (hollow, 0.0)))
        return [(200, 190), (0, 200), (0, top), (1500, top), (FAR, top + 1100 * math.tan(0.5))]

    inner = {*np.arange(0.0, y0, 30.0).tolist(), *np.linspace(y0, y0 + 0.9 * radius, 61).tolist()}
    ys = np.sort([*(-y for y in inner if y), *inner])
    front = front_of(contour, ys, SCREENED_PARTS)
    line = zones(front, between="straight").bonnet_thirds
    assert line.status == "ok"
    third = (2.0 * y0 + radius * math.pi / 2.0) / 3.0
    # The tape from the right: an arc, then level; the cut is a third from its end.
    flat = third - radius * math.pi / 4.0  # what is left of a third after the arc
    assert flat > 0.0
    y = y0 - flat
    z = z0 + radius - float(np.interp(y, dip, (hollow, 0.0)))
    for piece, sign in zip(line.pieces, (-1.0, 1.0), strict=True):
        points = line.points[piece.start : piece.stop]
        assert len(points) > 20
        assert points[:, 1] == pytest.approx(sign * y, abs=0.3)  # chords of the arcs
        assert points[:, 2] == pytest.approx(z, abs=0.3 * hollow / 120.0 + 1e-6)
    assert line.points[0, 0] < 50.0
    assert line.points[-1, 0] > 1300.0
