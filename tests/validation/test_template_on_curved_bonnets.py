"""The template of the rear corner on curved bonnets, against closed forms.

Source: UN R127 02 series, 2.8 (text read): the template is thin flexible sheet, curved to follow
the bonnet top without wrinkles. Sheet does not stretch: on a cylinder its arc is a half circle of
the development, which is written out here (lengths across the axis become arc lengths). The
template is matched there by a plain method of its own (shapely distances, root finding by scipy).
Tolerance: lines and surface are straight between nodes 18 mm apart; lines of 3 m radius then lie
0.014 mm off.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from checks import Check, derived
from front_shapes import FAR, SCREENED_PARTS, screened
from scipy.optimize import brentq

from frontcheck.front.front import Front
from frontcheck.screening import screen
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.corner_patch import CornerPatch
from frontcheck.zones.front_zones import ZoneOptions
from frontcheck.zones.rear_corner import arc_of_template

TEMPLATE = Check(
    "template-on-cylinders",
    kind="independent method",
    quantity="arc of the rear-corner template on bonnets curved one way, and its rear end",
    unit="mm",
    source=derived("half circle of the development, fitted by shapely and scipy"),
    why="nodes 18 mm apart: lines of 3 m radius lie 0.014 mm off; twice that beyond radius 200",
)

ALLOWED = 0.015


class Bonnet:
    """Sections every 4 mm of a bonnet z(x, y)."""

    def __init__(self, height):
        self.height, self.y = height, np.arange(-1000.0, 1000.1, 4.0)

    def tops_at(self, x):
        with np.errstate(invalid="ignore"):
            return self.height(*np.broadcast_arrays(x[None], self.y[:, None]))

    def on(self, x, y):
        return np.stack([x, y, self.height(x, y)], axis=1)


def cylinder(turn_deg, radius, through):
    """Height and development of a cylinder, its level axis turned from x, through a place."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def off(x, y):
        return (y - through[1]) * c - (x - through[0]) * s

    def height(x, y):
        return np.sqrt(radius**2 - off(x, y) ** 2)

    def developed(x, y):
        along = (x - through[0]) * c + (y - through[1]) * s
        return np.stack([along, radius * np.arcsin(off(x, y) / radius)], axis=1)

    return height, developed


def lines(inner):
    """SRL and BRRL in plan, both curved; BRRL ends at y = inner."""
    x = np.arange(-600.0, 1800.0, 2.0)
    y = np.append(np.arange(0.0, inner, 2.0), inner)
    return (x, 620.0 - 2e-5 * (x - 900.0) ** 2), (1000.0 + 0.15 * y + 3e-4 * y * y, y)


def plain(side, rear):
    """Radius, centre and rear end of the first template that fits in a plane."""
    srl, brrl = shapely.LineString(side), shapely.LineString(rear)

    def at(s):
        return np.array(srl.interpolate(s).coords[0])

    for radius in np.arange(100.0, 1000.0, 20.0):

        def front(s, radius=radius):
            def short(u):
                return math.dist(at(u), at(s)) - 2.0 * radius

            return at(brentq(short, max(s - 3.0 * radius, 0.0), s, xtol=1e-10))

        def gap(s, radius=radius, front=front):
            return brrl.distance(shapely.Point((front(s) + at(s)) / 2.0)) - radius

        steps = np.arange(2.5 * radius, srl.length, 5.0)
        hit = next((s for s in steps if gap(s) <= 0.0), None)
        if hit is None or hit == steps[0]:
            continue
        s = brentq(gap, hit - 5.0, hit, xtol=1e-10)
        centre = (front(s) + at(s)) / 2.0
        along = brrl.project(shapely.Point(centre))
        touch = np.array(brrl.interpolate(along).coords[0])
        lean = math.degrees(math.asin((touch - centre) @ (at(s) - centre) / radius**2))
        if 1e-6 < along < brrl.length - 1e-6 and lean > 45.0:
            return radius, centre, at(s)
    return None


CYLINDERS = {
    "curved across": cylinder(0.0, 900.0, (0.0, 0.0)),
    "curved along": cylinder(90.0, 2500.0, (1400.0, 0.0)),
    "oblique 10 deg": cylinder(10.0, 1000.0, (600.0, 0.0)),
    "oblique -10 deg": cylinder(-10.0, 1100.0, (600.0, 0.0)),
    "oblique 45 deg": cylinder(45.0, 1500.0, (600.0, 0.0)),
}


@pytest.mark.parametrize("inner", [616.0, 560.0, 520.0])
@pytest.mark.parametrize("name", CYLINDERS)
def test_on_a_cylinder_the_template_is_a_half_circle_of_the_development(name, inner) -> None:
    height, developed = CYLINDERS[name]
    bonnet = Bonnet(height)
    side, rear = lines(inner)
    radius, arc = arc_of_template(bonnet, bonnet.on(*rear), bonnet.on(*side), 100.0, 20.0, 90.0)
    expected = plain(developed(*side), developed(*rear))
    assert radius == expected[0]
    end = developed(*arc[-1:, :2].T)[0]
    TEMPLATE.compare(expected[2], end, tolerance=ALLOWED, case=f"end, {name}")
    assert arc[:, 2] == pytest.approx(height(arc[:, 0], arc[:, 1]), abs=ALLOWED)
    off = np.hypot(*(developed(arc[:, 0], arc[:, 1]) - expected[1]).T)
    # Radii from 220 to 400 mm are tried on nodes 36 mm apart.
    within = ALLOWED if radius <= 200.0 else 2.0 * ALLOWED
    TEMPLATE.compare(radius, off, tolerance=within, case=f"arc, {name}")


def test_the_template_laid_in_a_plane_is_another_one_on_a_strongly_curved_bonnet() -> None:
    # What lengths on the surface are for: in plan view the same lines take another template.
    _, developed = CYLINDERS["curved across"]
    side, rear = lines(560.0)
    found = plain(developed(*side), developed(*rear))
    in_plan = plain(np.stack(side, axis=1), np.stack(rear, axis=1))
    assert (found[0], in_plan[0]) == (220.0, 140.0)


@pytest.mark.parametrize("radius", [2e5, 1e7])
def test_with_less_and_less_curvature_the_corner_becomes_that_of_the_plane(radius) -> None:
    # A sphere, flat to 2 mm in the first case: lengths differ by (600 / 2e5)^2 / 6 = 1.5e-6.
    bonnet = Bonnet(lambda x, y: np.sqrt(radius**2 - (x - 900.0) ** 2 - y * y) - radius)
    side, rear = lines(560.0)
    found, arc = arc_of_template(bonnet, bonnet.on(*rear), bonnet.on(*side), 100.0, 20.0, 90.0)
    expected = plain(np.stack(side, axis=1), np.stack(rear, axis=1))
    assert found == expected[0]
    assert arc[-1, :2] == pytest.approx(expected[2], abs=ALLOWED)


def test_on_a_sphere_the_arc_keeps_its_distances() -> None:
    # No sheet follows a sphere without play: of 2 m radius the lengths of a patch of 1 m by 0.3 m
    # change by some 1e-4. So distances on the sphere, R times the angle, between the rear end of
    # the arc and its other places are those of the half circle to 0.1 mm.
    size = 2000.0
    bonnet = Bonnet(lambda x, y: np.sqrt(size**2 - (x - 900.0) ** 2 - y * y))
    side, rear = lines(560.0)
    radius, arc = arc_of_template(bonnet, bonnet.on(*rear), bonnet.on(*side), 100.0, 20.0, 90.0)
    unit = (arc - [900.0, 0.0, 0.0]) / size
    assert np.linalg.norm(unit, axis=1) == pytest.approx(1.0, abs=ALLOWED / size)
    apart = size * 2.0 * np.arcsin(np.linalg.norm(unit - unit[-1], axis=1) / 2.0)
    # Places stand at equal angles from the touch to the end, 32 of them.
    chord = 2.0 * radius * np.sin(np.arange(33)[::-1] * _turn(apart, radius) / 2.0)
    assert apart == pytest.approx(chord, abs=0.1)
    # The other end is on SRL too: two radii from the rear end, the middle between them.
    srl = (bonnet.on(*side) - [900.0, 0.0, 0.0]) / size
    ahead = side[0] < arc[-1, 0]
    far = size * 2.0 * np.arcsin(np.linalg.norm(srl[ahead] - unit[-1], axis=1) / 2.0)
    front = srl[ahead][np.abs(far - 2.0 * radius).argmin()]
    middle = (front + unit[-1]) / np.linalg.norm(front + unit[-1])
    off = size * 2.0 * np.arcsin(np.linalg.norm(unit - middle, axis=1) / 2.0)
    # SRL is known every 2 mm here, so the middle to half a millimetre along it.
    assert off == pytest.approx(radius, abs=0.6)


def _turn(apart, radius) -> float:
    """Angle between neighbouring places, from the whole arc."""
    return 2.0 * math.asin(apart[0] / (2.0 * radius)) / 32.0


def test_a_bonnet_with_bumps_all_over_takes_no_template() -> None:
    # Bumps of 25 mm on a pitch of 100 mm: up and down any line lengths grow by a quarter and more,
    # between the bumps they hardly do.
    def height(x, y):
        return 800.0 + 25.0 * np.sin(np.pi * x / 50.0) * np.sin(np.pi * y / 50.0)

    bonnet = Bonnet(height)
    side, rear = lines(560.0)
    found = arc_of_template(bonnet, bonnet.on(*rear), bonnet.on(*side), 100.0, 20.0, 90.0)
    assert found == "the template does not follow the bonnet there without wrinkles"


def test_where_there_is_no_surface_there_is_no_patch() -> None:
    height = CYLINDERS["curved across"][0]
    holed = Bonnet(lambda x, y: np.where((y > 540.0) & (y < 590.0), np.nan, height(x, y)))
    side, rear = lines(520.0)
    whole = Bonnet(height)
    assert CornerPatch.of(holed, whole.on(*rear), whole.on(*side), 200.0) is None
    found = arc_of_template(holed, whole.on(*rear), whole.on(*side), 100.0, 20.0, 90.0)
    assert found == "the template leaves the surface"


def test_left_and_right_change_places_in_a_mirror() -> None:
    # Windscreen narrower than the bonnet, labelled to |y| = 600, and farther back on one side.
    def contour(y):
        corner = 1200.0 + 0.5 * abs(y) + 0.01 * y
        if abs(y) > 600.0:
            return [(200.0, 240.0), (0.0, 250.0), (0.0, 800.0), (corner, 800.0), (FAR, 800.0)]
        return screened(800.0, corner, 0.0, 30.0)

    def part(y):
        return SCREENED_PARTS if abs(y) <= 600.0 else ("underside", "bumper", *("bonnet",) * 3)

    stations = [-700.0, -601.0, -600.0, -300.0, 0.0, 300.0, 600.0, 601.0, 700.0]
    pairs = [
        zones_of(
            screen(
                Front(tuple(Section(contour(way * y), y, part(y)) for y in stations)), "UN-R127-02"
            ),
            ZoneOptions(between="straight"),
        ).rear_corners
        for way in (1.0, -1.0)
    ]
    for one, other in ((pairs[0].left, pairs[1].right), (pairs[0].right, pairs[1].left)):
        assert "is carried on along a template of radius" in one.reason
        # Heights between the stations are the same to rounding, 2e-13 mm.
        assert one.point == pytest.approx([*other.point[:1], -other.point[1], 800.0], abs=1e-9)
    assert pairs[0].left.point[0] != pairs[0].right.point[0]
