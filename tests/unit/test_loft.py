"""The loft: exact on what was measured, shape-preserving between, refused where it must be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from front_shapes import front_of, plan_circle, upright_face
from scipy.interpolate import pchip_interpolate

from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.reading.readers import read_front
from frontcheck.surface.interpolate import match_sections
from frontcheck.surface.section import Section

DEMOS = ("plover.csv", "avocet.csv")


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("method", ["smooth", "straight"])
def test_measured_stations_are_what_was_measured(geometries, name, method) -> None:
    front = read_front(geometries / name)
    loft = front.loft(method)
    for section in front.full().sections:
        assert np.array_equal(loft.section(section.y).points, section.points)
        points = loft.points(section.y, loft.knots(section.y))
        assert np.abs(points[:, ::2] - section.points).max() == 0.0
        assert (points[:, 1] == section.y).all()


@pytest.mark.parametrize("name", DEMOS)
def test_smooth_loft_is_scipys_pchip_over_all_stations(geometries, name) -> None:
    """The four-station window must give what one interpolation over all stations gives."""
    front = read_front(geometries / name).full()
    loft = front.loft()
    assert loft.method == "smooth"
    for u in (0.0, 0.21, 0.5, 0.77, 1.0):
        curves = np.stack([loft.points(y, u) for y in loft.stations])
        y = np.linspace(*loft.y_range, 173)
        expected = pchip_interpolate(loft.stations, curves, y, axis=0)
        assert np.abs(loft.points(y, u) - expected).max() < 1e-9


@pytest.mark.parametrize("name", DEMOS)
def test_loft_never_leaves_the_range_of_its_neighbours(geometries, name) -> None:
    loft = read_front(geometries / name).loft()
    u = np.linspace(0.0, 1.0, 301)
    for low, high in zip(loft.stations, loft.stations[1:], strict=False):
        a, b = loft.points(low, u), loft.points(high, u)
        for t in (0.25, 0.5, 0.9):
            middle = loft.points(low + t * (high - low), u)
            assert (middle >= np.minimum(a, b) - 1e-9).all()
            assert (middle <= np.maximum(a, b) + 1e-9).all()


def test_straight_loft_is_the_straight_line() -> None:
    front = front_of(lambda y: [(y + 90, 200.0), (y, 300.0), (y + 30, 700.0), (900.0, 750.0)],
                     [0.0, 100.0])  # fmt: skip
    loft = front.loft("straight")
    u = np.linspace(0.0, 1.0, 11)
    t = 0.3
    expected = (1 - t) * loft.points(0.0, u) + t * loft.points(100.0, u)
    assert np.abs(loft.points(30.0, u) - expected).max() < 1e-9
    section = loft.section(30.0)
    assert section.points[1] == pytest.approx((30.0, 300.0))
    assert section.y == 30.0


def test_parts_go_with_parts() -> None:
    """Landmarks: the last bumper point of one station goes with that of the next."""
    parts = ("underside", "bumper", "bumper", "bonnet", "bonnet")
    a = Section([(90, 200), (0, 300), (0, 600), (20, 640), (900, 700)], 0.0, parts)
    b = Section([(190, 200), (50, 300), (50, 420), (70, 700), (950, 800)], 100.0, parts)
    ua, ub = match_sections([a, b])
    assert ub == pytest.approx(ua, abs=1e-12)
    loft = Front((a, b)).loft()
    lofted = loft.section(50.0)
    assert lofted.parts == parts
    assert lofted.points[2] == pytest.approx((25.0, 510.0))  # two stations: PCHIP is straight


def test_a_part_that_ends_is_no_landmark(geometries) -> None:
    """Plover's grille gives way to the lamp; bumper and bonnet still go together."""
    front = read_front(geometries / "plover.csv")
    loft = front.loft()
    section = loft.section(440.0)
    names = [p for i, p in enumerate(section.parts) if i == 0 or p != section.parts[i - 1]]
    assert names == ["underside", "bumper", "grille", "bonnet", "cowl", "windscreen"]


def test_unlabelled_sections_match_at_their_landmarks_of_shape() -> None:
    front = front_of(upright_face(plan_circle(1500.0)), np.linspace(-600.0, 600.0, 13))
    loft = front.loft()
    for y in (-350.0, 25.0, 510.0):
        points = loft.section(y).points
        corner = points[np.argmin(points[:, 0] - points[:, 1])]
        assert corner[1] == pytest.approx(700.0, abs=1e-9)  # the edge of the bonnet stays an edge


def test_a_landmark_that_jumps_is_left_out() -> None:
    """Foremost point on the lower lip here and on the upper lip there: no common feature."""
    low = Section([(80, 200), (0, 300), (30, 450), (4, 600), (60, 700), (900, 800)], 0.0)
    high = Section([(80, 200), (4, 300), (30, 450), (0, 600), (60, 700), (900, 800)], 20.0)
    u_low, u_high = match_sections([low, high])
    # Matched lips stay where they are; a foremost landmark would pull 300 onto 600.
    assert u_high == pytest.approx(u_low, abs=5e-3)


def test_sphere_normals_point_outward() -> None:
    """Closed form: on a sphere the normal is the radius. Facets: 1 deg, averaged over 5 mm."""
    radius = 900.0
    angle = np.radians(np.arange(-20.0, 91.0, 1.0))

    def contour(y: float) -> np.ndarray:
        r = math.sqrt(radius**2 - y**2)
        return np.stack([r * (1.0 - np.cos(angle)) + radius - r, 800.0 + r * np.sin(angle)], axis=1)

    front = front_of(contour, np.arange(-300.0, 301.0, 25.0))
    loft = front.loft()
    y, u = np.meshgrid([-210.0, 0.0, 140.0], [0.3, 0.5, 0.8])
    normals, points = loft.normals(y, u), loft.points(y, u)
    expected = (points - [radius, 0.0, 800.0]) / radius
    assert np.abs(normals - expected).max() < 0.01  # half a facet is 0.0087 rad
    assert np.linalg.norm(normals, axis=-1) == pytest.approx(1.0)


def test_refusals(geometries) -> None:
    front = read_front(geometries / "plover.csv")
    with pytest.raises(NotAvailableError, match="local"):
        Front(front.sections, datum="local", symmetric=True).loft()
    with pytest.raises(NotAvailableError, match="one station"):
        Front(front.sections[:1]).loft()
    loft = front.loft()
    with pytest.raises(ValueError, match="between -760 and 760"):
        loft.section(800.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        loft.points(0.0, 1.1)
    with pytest.raises(ValueError, match="smooth"):
        front.loft("wavy")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="spacing"):
        loft.net(0.0)


def test_net_of_a_symmetric_front_is_symmetric(geometries) -> None:
    net = read_front(geometries / "avocet.csv").loft().net(20.0, [33.0])
    assert np.array_equal(net.y, -net.y[::-1])
    assert np.array_equal(net.points, net.points[::-1])
    assert {-33.0, 33.0, 710.0, -760.0} <= set(net.y.tolist())
    assert net.measured.sum() == 19
    assert len(net.contours) == (len(net) + 1) // 2


def test_many_stations_are_joined_by_straight_lines_and_fast() -> None:
    front = front_of(upright_face(plan_circle(1500.0)), np.arange(-500.0, 501.0, 10.0))
    loft = front.loft()
    assert loft.method == "straight"
    assert len(loft.net()) == 101
