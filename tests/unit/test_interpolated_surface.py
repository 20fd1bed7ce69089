"""The surface: exact on what was measured, shape-preserving between, refused where it must be."""

from __future__ import annotations

import numpy as np
import pytest
from front_shapes import front_of, plan_circle, upright_face
from scipy.interpolate import pchip_interpolate

from frontcheck.errors import NotAvailableError
from frontcheck.front.front import Front
from frontcheck.reading.readers import read_front
from frontcheck.surface.matching import match_sections
from frontcheck.surface.section import Section

DEMOS = ("plover.csv", "avocet.csv")


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("method", ["smooth", "straight"])
def test_measured_stations_are_what_was_measured(geometries, name, method) -> None:
    front = read_front(geometries / name)
    surface = front.surface(method)
    for section in front.full().sections:
        assert np.array_equal(surface.section(section.y).points, section.points)
        points = surface.points(section.y, surface.knots(section.y))
        assert np.abs(points[:, ::2] - section.points).max() == 0.0
        assert (points[:, 1] == section.y).all()


@pytest.mark.parametrize("name", DEMOS)
def test_smooth_surface_is_scipys_pchip_over_all_stations(geometries, name) -> None:
    """The four-station window must give what one interpolation over all stations gives."""
    front = read_front(geometries / name).full()
    surface = front.surface()
    assert surface.method == "smooth"
    for u in (0.0, 0.21, 0.5, 0.77, 1.0):
        curves = np.stack([surface.points(y, u) for y in surface.stations])
        y = np.linspace(*surface.y_range, 173)
        expected = pchip_interpolate(surface.stations, curves, y, axis=0)
        assert np.abs(surface.points(y, u) - expected).max() < 1e-9


@pytest.mark.parametrize("name", DEMOS)
def test_surface_never_leaves_the_range_of_its_neighbours(geometries, name) -> None:
    surface = read_front(geometries / name).surface()
    u = np.linspace(0.0, 1.0, 301)
    for low, high in zip(surface.stations, surface.stations[1:], strict=False):
        a, b = surface.points(low, u), surface.points(high, u)
        for t in (0.25, 0.5, 0.9):
            middle = surface.points(low + t * (high - low), u)
            assert (middle >= np.minimum(a, b) - 1e-9).all()
            assert (middle <= np.maximum(a, b) + 1e-9).all()


def test_straight_surface_is_the_straight_line() -> None:
    front = front_of(lambda y: [(y + 90, 200.0), (y, 300.0), (y + 30, 700.0), (900.0, 750.0)],
                     [0.0, 100.0])  # fmt: skip
    surface = front.surface("straight")
    u = np.linspace(0.0, 1.0, 11)
    t = 0.3
    expected = (1 - t) * surface.points(0.0, u) + t * surface.points(100.0, u)
    assert np.abs(surface.points(30.0, u) - expected).max() < 1e-9
    section = surface.section(30.0)
    assert section.points[1] == pytest.approx((30.0, 300.0))
    assert section.y == 30.0


def test_parts_go_with_parts() -> None:
    """Landmarks: the last bumper point of one station goes with that of the next."""
    parts = ("underside", "bumper", "bumper", "bonnet", "bonnet")
    a = Section([(90, 200), (0, 300), (0, 600), (20, 640), (900, 700)], 0.0, parts)
    b = Section([(190, 200), (50, 300), (50, 420), (70, 700), (950, 800)], 100.0, parts)
    ua, ub = match_sections([a, b])
    assert ub == pytest.approx(ua, abs=1e-12)
    surface = Front((a, b)).surface()
    made = surface.section(50.0)
    assert made.parts == parts
    assert made.points[2] == pytest.approx((25.0, 510.0))  # two stations: PCHIP is straight


def test_a_part_that_ends_is_no_landmark(geometries) -> None:
    """Avocet's grille gives way to the lamp; bumper and bonnet still go together."""
    front = read_front(geometries / "avocet.csv")
    surface = front.surface()
    section = surface.section(440.0)
    names = [p for i, p in enumerate(section.parts) if i == 0 or p != section.parts[i - 1]]
    assert names == ["underside", "bumper", "grille", "bonnet", "cowl", "windscreen"]


def test_unlabelled_sections_match_at_their_landmarks_of_shape() -> None:
    front = front_of(upright_face(plan_circle(1500.0)), np.linspace(-600.0, 600.0, 13))
    surface = front.surface()
    for y in (-350.0, 25.0, 510.0):
        points = surface.section(y).points
        corner = points[np.argmin(points[:, 0] - points[:, 1])]
        assert corner[1] == pytest.approx(700.0, abs=1e-9)  # the edge of the bonnet stays an edge


def test_a_landmark_that_jumps_is_left_out() -> None:
    """Foremost point on the lower lip here and on the upper lip there: no common feature."""
    low = Section([(80, 200), (0, 300), (30, 450), (4, 600), (60, 700), (900, 800)], 0.0)
    high = Section([(80, 200), (4, 300), (30, 450), (0, 600), (60, 700), (900, 800)], 20.0)
    u_low, u_high = match_sections([low, high])
    # Matched lips stay where they are; a foremost landmark would pull 300 onto 600.
    assert u_high == pytest.approx(u_low, abs=5e-3)


def test_refusals(geometries) -> None:
    front = read_front(geometries / "plover.csv")
    with pytest.raises(NotAvailableError, match="local"):
        Front(front.sections, datum="local", symmetric=True).surface()
    with pytest.raises(NotAvailableError, match="one station"):
        Front(front.sections[:1]).surface()
    surface = front.surface()
    with pytest.raises(ValueError, match="between -760 and 760"):
        surface.section(800.0)
    with pytest.raises(ValueError, match="between 0 and 1"):
        surface.points(0.0, 1.1)
    with pytest.raises(ValueError, match="smooth"):
        front.surface("wavy")  # type: ignore[arg-type]


def test_many_stations_are_joined_by_straight_lines_and_fast() -> None:
    front = front_of(upright_face(plan_circle(1500.0)), np.arange(-500.0, 501.0, 10.0))
    surface = front.surface()
    assert surface.method == "straight"
    assert len(surface.facets()) == 2 * 100 * (len(surface.sections[0]) - 1)


def test_a_labelled_edge_meets_itself_though_another_point_turns_more(geometries) -> None:
    """Where lamp and bonnet meet in both sections they do so between, whatever turns nearby.

    At 200 mm out the contour of this front turns less there than 30 mm below, by measurement.
    """
    front = read_front(geometries / "plover.csv")
    ends = [section for section in front.sections if section.y in (100.0, 200.0)]
    places = [
        section.points[np.flatnonzero(section.part_mask("bonnet"))[0] - 1] for section in ends
    ]
    middle = front.surface("straight").section(150.0)
    gap = np.hypot(*(middle.points - (places[0] + places[1]) / 2.0).T)
    assert gap.min() < 0.5


@pytest.mark.parametrize(("wave", "within"), [(0.0, 0.003), (0.05, 0.03), (0.3, 0.11)])
def test_a_station_of_very_many_points_is_thinned_between_stations_alone(wave, within) -> None:
    """The reference is scipy's interpolation at every place of the full contours."""
    dense = np.linspace(0.0, 1.0, 20_001)
    z = 200.0 + 700.0 * dense
    x = 100.0 * (2.0 * dense - 1.0) ** 2 + wave * np.sin(900.0 * dense)
    rows = np.append(np.stack([x, z], axis=1), [[900.0, 950.0]], axis=0)
    few = [(130, 210), (40, 420), (30, 560), (140, 880), (900, 940)]
    sections = [Section(few, 0.0), Section(rows, 150.0), Section(np.add(few, (40, 5)), 300.0)]
    surface = Front(tuple(sections), symmetric=False).surface()
    assert np.array_equal(surface.section(150.0).points, rows)
    knots = surface.knots(70.0)
    assert len(knots) < 3000
    u = surface.u[1]
    curves = np.stack([surface.points(y, u)[:, ::2] for y in surface.stations])
    for y in (1.0, 70.0, 149.0, 230.0):
        own = surface.points(y, surface.knots(y))
        here = np.stack([np.interp(u, surface.knots(y), own[:, k]) for k in (0, 2)], axis=1)
        expected = pchip_interpolate(surface.stations, curves, y, axis=0)
        assert np.abs(here - expected).max() < within
    assert len(surface.facets()) < 3000 * 2 * 2 * 30
