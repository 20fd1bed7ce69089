"""A sphere on windscreen and front structure at once (UN R127 02 series, 2.8, text read), in space.

Closed forms are derived where they stand; whatever has none is held against spheres let down by
brute force on dense points of the same triangles, and against trimesh's nearest points.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import trimesh
from checks import Check, derived

from frontcheck.geometry import rolling_sphere

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

R = 82.5
FACET_MM = 10.0
PLAN_MM = 1100.0


PLANES = Check(
    "sphere-on-planes",
    kind="closed form",
    quantity="BRRL where two planes meet, swept in plan, over a cowl, at an edge",
    unit="mm",
    source=derived("R tan(d / 2) from the meeting line; edges by hand"),
    why="exact on planes: rounding of doubles",
)
CURVED = Check(
    "sphere-on-curved-glass",
    kind="closed form",
    quantity="BRRL on a cylindrical windscreen and on a plan circle",
    unit="mm",
    source=derived("centre at R from the cylinder; tangency solved by scipy.optimize.fsolve"),
    why="facets of 10 mm: c^2 / 8R is 0.01 mm across, more along the bonnet",
)
RESTS = Check(
    "sphere-rests",
    kind="independent method",
    quantity="distance of the sphere's centre from windscreen and bonnet",
    unit="mm",
    source=derived("nearest points of the triangles by trimesh"),
    why="rounding",
)


def sphere_line(front: Floats, screen: Floats, radius: float, stations: Floats):
    return rolling_sphere.sphere_line([front, screen], radius, stations)


def net(nodes: Floats) -> Floats:
    """Triangles (k, 3, 3) of nodes (i, j, 3)."""
    a, b, c, d = (
        nodes[i : len(nodes) - 1 + i, j : nodes.shape[1] - 1 + j].reshape(-1, 3)
        for i, j in ((0, 0), (0, 1), (1, 0), (1, 1))
    )
    return np.concatenate([np.stack([a, b, c], 1), np.stack([d, c, b], 1)])


def ruled(
    section: list[tuple[float, float]], shift: Callable[[Floats], Floats], y: Floats
) -> Floats:
    """One section (x, z) at every y, its x shifted."""
    nodes = np.zeros((len(y), len(section), 3))
    nodes[..., 0] = np.asarray(section)[:, 0] + shift(y)[:, None]
    nodes[..., 1] = y[:, None]
    nodes[..., 2] = np.asarray(section)[:, 1]
    return net(nodes)


def two_planes(bonnet: float, glass: float, shift: Callable[[Floats], Floats], y: Floats):
    """Bonnet and windscreen [deg in the section] that meet at (shift(y), 900)."""
    b, g = np.deg2rad([bonnet, glass])
    ahead = [(-500.0 * np.cos(b), 900.0 - 500.0 * np.sin(b)), (0.0, 900.0)]
    behind = [(0.0, 900.0), (600.0 * np.cos(g), 900.0 + 600.0 * np.sin(g))]
    return ruled(ahead, shift, y), ruled(behind, shift, y)


def ahead_of_planes(bonnet: float, glass: float, sweep: float) -> float:
    """x from the meeting line to the contact, in the section.

    Square to the meeting line the contact lies R tan(d / 2) from it. Moving along the bonnet in
    the section by a length p moves away from that line by p |u - (u.t)t|.
    """
    b, g, s = np.deg2rad([bonnet, glass, sweep])
    t = np.array([np.tan(s), 1.0, 0.0]) / np.hypot(np.tan(s), 1.0)
    u, v = (np.array([np.cos(a), 0.0, np.sin(a)]) for a in (b, g))
    across_u, across_v = (w - (w @ t) * t for w in (u, v))
    lengths = np.linalg.norm(across_u), np.linalg.norm(across_v)
    turn = np.arccos(across_u @ across_v / (lengths[0] * lengths[1]))
    return float(R * np.tan(turn / 2.0) / lengths[0] * np.cos(b))


@pytest.mark.parametrize("sweep", [0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 45.0])
@pytest.mark.parametrize(("bonnet", "glass"), [(0.0, 30.0), (10.0, 32.0), (3.0, 55.0)])
def test_two_planes_swept_in_plan(bonnet: float, glass: float, sweep: float) -> None:
    slope = np.tan(np.deg2rad(sweep))
    front, screen = two_planes(
        bonnet, glass, lambda y: slope * y, np.arange(-400.0, 401.0, FACET_MM)
    )
    stations = np.array([-35.0, 0.0, 3.3, 50.0])
    line = sphere_line(front, screen, R, stations)
    assert line.touched.all()
    assert not line.front_end.any()
    assert not line.screen_end.any()
    expected = slope * stations - ahead_of_planes(bonnet, glass, sweep)
    PLANES.compare(expected, line.front[:, 0], tolerance=1e-8)
    np.testing.assert_array_equal(line.front[:, 1], stations)
    for contact in (line.front, line.screen):
        PLANES.compare(R, np.linalg.norm(contact - line.centre, axis=1), tolerance=1e-8)


@pytest.mark.parametrize("sweep", [0.0, 20.0, 45.0])
def test_nothing_stops_it_ahead_of_the_seam(sweep: float) -> None:
    # Bonnet steeper than the windscreen: both fall away from their seam, on which the sphere
    # touches both, square to the windscreen (derived: no place behind it is one of the bonnet).
    slope = np.tan(np.deg2rad(sweep))
    front, screen = two_planes(36.0, 33.0, lambda y: slope * y, np.arange(-400.0, 401.0, FACET_MM))
    stations = np.array([-35.0, 0.0, 3.3, 50.0])
    line = sphere_line(front, screen, R, stations)
    assert line.touched.all()
    seam = np.stack([slope * stations, stations, np.full(4, 900.0)], axis=1)
    np.testing.assert_allclose(line.front, seam, atol=2e-3)
    np.testing.assert_allclose(line.screen, seam, atol=2e-3)
    g = np.deg2rad(33.0)
    normal = np.cross([np.cos(g), 0.0, np.sin(g)], [slope, 1.0, 0.0])
    normal *= np.sign(normal[2]) / np.linalg.norm(normal)
    np.testing.assert_allclose(line.centre, seam + R * normal, atol=2e-3)


def on_plan_circle(y: Floats) -> Floats:
    return PLAN_MM - np.sqrt(PLAN_MM**2 - y * y)


PLAN_CIRCLE = {0: 22.106, 10: 22.722, 20: 24.702, 30: 28.499, 40: 35.099, 45: 40.019}
"""Bonnet level, windscreen 30 deg, ruled parallel to the section, meeting on a plan circle R 1100:
x ahead of the meeting line in the section where that is swept so much [mm]. The centre stands R
above the bonnet; the windscreen is z = tan(30) (x - X(y)): its nearest point was solved for."""


@pytest.mark.parametrize("sweep", PLAN_CIRCLE)
def test_a_plan_circle(sweep: int) -> None:
    # The foot of the facets lies within c^2 / 8 R of the circle: 0.011 mm, 0.03 along x at 45 deg.
    front, screen = two_planes(0.0, 30.0, on_plan_circle, np.arange(-900.0, 901.0, FACET_MM))
    y = np.array([PLAN_MM * np.sin(np.deg2rad(sweep))])
    line = sphere_line(front, screen, R, np.concatenate([-y, y]))
    ahead = on_plan_circle(y) - line.front[:, 0]
    CURVED.compare(PLAN_CIRCLE[sweep], ahead, tolerance=0.03)


def test_a_rising_bonnet_on_a_plan_circle_keeps_to_the_closed_form() -> None:
    # Bonnet z = tan(b) (x - X(y)), windscreen likewise: the centre and both contacts by Newton on
    # the six equations of tangency, from the closed form of the planes as start.
    bonnet, glass = np.tan(np.deg2rad([10.0, 32.0]))
    front, screen = two_planes(10.0, 32.0, on_plan_circle, np.arange(-900.0, 901.0, FACET_MM))
    for sweep in (0.0, 20.0, 40.0, 45.0):
        y = PLAN_MM * np.sin(np.deg2rad(sweep))
        station = np.round(y / FACET_MM) * FACET_MM
        line = sphere_line(front, screen, R, np.array([station]))
        expected = _tangent(bonnet, glass, station, line.front[0], line.screen[0])
        CURVED.compare(expected, line.front[0, 0], tolerance=0.1, case=f"rising, {sweep:g} deg")


def _tangent(bonnet: float, glass: float, y: float, on_front: Floats, on_glass: Floats) -> float:
    """x on the bonnet at y where one sphere of radius R is tangent to both smooth surfaces."""
    from scipy.optimize import fsolve

    def centre(slope: float, x: float, y: float) -> Floats:
        plan = y / np.sqrt(PLAN_MM**2 - y * y)
        normal = np.array([-slope, slope * plan, 1.0])
        at = np.array([x, y, 900.0 + slope * (x - on_plan_circle(np.array(y)))])
        return at + R * normal / np.linalg.norm(normal)

    def gap(v: Floats) -> Floats:
        return centre(bonnet, v[0], y) - centre(glass, v[1], v[2])

    found, _, done, _ = fsolve(gap, [on_front[0], *on_glass[:2]], full_output=True, xtol=1e-12)
    assert done == 1
    return float(found[0])


def test_a_cylindrical_windscreen() -> None:
    # Axis a inclined at 30 deg through A; over a level bonnet the centre (x, y, R) stands R off
    # the cylinder where |(C - A) x a| = radius + R: a quadratic in x.
    radius, a = 900.0, np.array([np.cos(np.pi / 6), 0.0, 0.5])
    square = np.array([-a[2], 0.0, a[0]])
    start = -radius * square
    t, phi = np.arange(-700.0, 701.0, FACET_MM), np.arange(-0.8, 0.801, FACET_MM / radius)
    nodes = (
        start
        + t[None, :, None] * a
        + radius * np.cos(phi)[:, None, None] * square
        + radius * np.sin(phi)[:, None, None] * np.array([0.0, 1.0, 0.0])
    )
    x = np.arange(-400.0, 700.0, FACET_MM)
    y = np.arange(-600.0, 601.0, FACET_MM)
    front = ruled([(v, 0.0) for v in x], lambda y: 0.0 * y, y)
    stations = np.linspace(-450.0, 450.0, 31)
    line = sphere_line(front, net(nodes), R, stations)
    assert line.touched.all()
    for station, contact in zip(stations, line.front, strict=True):
        # In the plane square to a: ((C - A).square)^2 + y^2 = (radius + R)^2.
        up = np.sqrt((radius + R) ** 2 - station**2)
        expected = start[0] + (up - (R - start[2]) * square[2]) / square[0]
        CURVED.compare(expected, contact[0], tolerance=0.05, case=f"cylinder, y {station:g}")


@pytest.mark.parametrize("sweep", [0.0, 25.0, 45.0])
def test_over_a_cowl_pit_the_rear_edge_of_the_bonnet_is_touched(sweep: float) -> None:
    # Square to the edge: edge at 0, windscreen from (60, -30) at 35 deg. The centre lies R off the
    # line of the windscreen and R off the edge.
    g = np.deg2rad(35.0)
    along, square = np.array([np.cos(g), np.sin(g)]), np.array([-np.sin(g), np.cos(g)])
    base = np.array([60.0, -30.0]) + R * square
    half = base @ along
    centre = base + along * (-half + np.sqrt(half * half - base @ base + R * R))
    y = np.arange(-600.0, 601.0, FACET_MM)
    front = ruled([(-300.0, -20.0), (-50.0, -5.0), (0.0, 0.0)], lambda y: 0.0 * y, y)
    rear = np.array([60.0, -30.0]) + 400.0 * along
    screen = ruled([(60.0, -30.0), tuple(rear)], lambda y: 0.0 * y, y)
    s = np.deg2rad(sweep)
    turn = np.array([[np.cos(s), np.sin(s), 0.0], [-np.sin(s), np.cos(s), 0.0], [0.0, 0.0, 1.0]])
    stations = np.array([-20.0, 0.0, 41.7])
    line = sphere_line(front @ turn.T, screen @ turn.T, R, stations)
    assert line.touched.all()
    assert line.front_end.all()  # nothing is known beyond the edge
    assert not line.screen_end.any()
    PLANES.compare(np.tan(s) * stations, line.front[:, 0], tolerance=1e-7)
    np.testing.assert_allclose(line.front[:, 2], 0.0, atol=1e-8)
    back = line.centre @ turn
    np.testing.assert_allclose(back[:, 0], centre[0], atol=1e-7)
    np.testing.assert_allclose(back[:, 2], centre[1], atol=1e-7)


def test_an_edge_that_goes_on_is_no_end() -> None:
    # A plate that hangs from the same edge closes it: the contact is the same.
    y = np.arange(-600.0, 601.0, FACET_MM)
    none: Callable[[Floats], Floats] = lambda y: 0.0 * y  # noqa: E731
    bonnet = ruled([(-300.0, -20.0), (0.0, 0.0)], none, y)
    hem = ruled([(0.0, 0.0), (0.0, -40.0)], none, y)
    screen = ruled([(60.0, -30.0), (400.0, 200.0)], none, y)
    stations = np.array([-20.0, 3.0])
    free = sphere_line(bonnet, screen, R, stations)
    closed = sphere_line(np.concatenate([bonnet, hem]), screen, R, stations)
    assert free.front_end.all()
    assert not closed.front_end.any()
    np.testing.assert_allclose(free.front, closed.front, atol=1e-8)


def test_ends_of_the_windscreen_are_told() -> None:
    # Its lower edge hangs over the bonnet: the sphere meets that edge, and more of it below would
    # be met first.
    y = np.arange(-400.0, 401.0, FACET_MM)
    none: Callable[[Floats], Floats] = lambda y: 0.0 * y  # noqa: E731
    bonnet = ruled([(-300.0, 0.0), (100.0, 0.0)], none, y)
    line = sphere_line(
        bonnet, ruled([(0.0, 60.0), (400.0, 300.0)], none, y), R, np.array([0.0, 5.0])
    )
    assert line.touched.all()
    assert line.screen_end.all()
    # The centre stands R over the bonnet and R off the edge.
    PLANES.compare(-np.sqrt(R**2 - (R - 60.0) ** 2), line.front[:, 0], tolerance=1e-8, case="end")


def test_nothing_to_touch() -> None:
    y = np.arange(-400.0, 401.0, 100.0)
    front, screen = two_planes(0.0, 30.0, lambda y: 0.0 * y, y)
    away = screen + np.array([500.0, 0.0, 0.0])
    assert not sphere_line(front, away, R, np.array([0.0, 50.0])).touched.any()
    assert not sphere_line(front[:0], screen, R, np.array([0.0])).touched.any()
    assert not sphere_line(front, screen[:0], R, np.array([0.0])).touched.any()
    assert sphere_line(front, screen, R, np.zeros(0)).touched.shape == (0,)
    far = sphere_line(front, screen, R, np.array([0.0, 900.0]))
    np.testing.assert_array_equal(far.touched, [True, False])


def rough_shape(seed: int) -> tuple[Floats, Floats]:
    """A swept, crowned, uneven corner of bonnet and windscreen, some with a gap between."""
    rng = np.random.default_rng(seed)
    step, uneven = rng.choice([15.0, 30.0, 60.0]), rng.choice([0.0, 0.3, 2.0, 5.0])
    sweep, bonnet, glass = np.tan(np.deg2rad(rng.uniform([-40, 0, 22], [40, 15, 40])))
    gap, crown = rng.choice([0.0, 0.0, 20.0, 60.0]), rng.uniform(-1, 1) / 1500.0
    sides = []
    for x, slope, drop, share in (
        (np.arange(-300.0, 1.0, step), bonnet, 0.0, 1.0),
        (np.arange(0.0, 361.0, step), glass, 0.7 * gap, 0.5),
    ):
        nodes = np.stack(np.meshgrid(x, np.arange(-240.0, 241.0, step), [0.0], indexing="ij"), -1)
        nodes = nodes[:, :, 0].astype(np.float64)
        noise = rng.normal(size=nodes.shape[:2]) * uneven * share
        nodes[..., 2] = slope * nodes[..., 0] + crown * nodes[..., 1] ** 2 / 2.0 + noise - drop
        nodes[..., 0] += sweep * nodes[..., 1] + (gap if drop else 0.0)
        sides.append(net(nodes))
    return sides[0], sides[1]


STATIONS = np.array([-61.0, -31.3, -7.7, 1.0, 12.2, 31.0, 47.0])


def _distance(tri: Floats, at: Floats) -> float:
    near = trimesh.triangles.closest_point(tri, np.repeat(at[None], len(tri), 0))
    return float(np.linalg.norm(near - at, axis=1).min())


@pytest.mark.parametrize("seed", range(40))
def test_the_sphere_touches_both_and_cuts_into_nothing(seed: int) -> None:
    front, screen = rough_shape(seed)
    line = sphere_line(front, screen, R, STATIONS)
    assert line.touched.all()
    for i in range(len(STATIONS)):
        for side in (front, screen):
            RESTS.compare(R, _distance(side, line.centre[i]), tolerance=1e-6)
        apart = np.linalg.norm(line.front[i] - line.centre[i])
        # On the surface, or on the way from one of two places touched at once to the other.
        assert apart <= R + 1e-6
        if apart > R - 1e-9:
            assert _distance(front, line.front[i]) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", [1, 3, 4, 6, 8, 9, 17, 23])
def test_the_sphere_is_the_first_to_rest_on_its_way_down(seed: int) -> None:
    front, screen = rough_shape(seed)
    line = sphere_line(front, screen, R, STATIONS)
    dense = [_points(side) for side in (front, screen)]
    for i in np.flatnonzero(line.touched):
        x, z = _let_down(*dense, line.centre[i])
        # Points 0.7 mm apart let a sphere sink by 0.7^2 / 8R, more where planes meet flat.
        assert np.hypot(x - line.centre[i, 0], z - line.centre[i, 2]) < 0.02


def _points(tri: Floats) -> Floats:
    """Points on triangles, some 0.7 mm apart or closer."""
    parts = []
    for a, b, c in tri[np.abs(tri[:, :, 1]).min(axis=1) < 190.0]:
        n = int(np.ceil(max(np.linalg.norm(v) for v in (b - a, c - a, c - b)) / 0.7))
        i, j = (v.ravel() / n for v in np.mgrid[: n + 1, : n + 1])
        inside = i + j <= 1.0 + 1e-9
        parts.append(a + i[inside, None] * (b - a) + j[inside, None] * (c - a))
    return np.concatenate(parts)


def _let_down(front: Floats, screen: Floats, near: Floats) -> tuple[float, float]:
    """In the plane of a centre: where a sphere that comes from the rear first meets both."""
    sides = [p[np.abs(p[:, 1] - near[1]) < R] for p in (front, screen)]

    def height(points: Floats, x: float) -> float:
        left = R * R - (points[:, 1] - near[1]) ** 2 - (points[:, 0] - x) ** 2
        reached = left > 0.0
        return float((points[reached, 2] + np.sqrt(left[reached])).max(initial=-1e9))

    x = near[0] + 60.0
    while height(sides[0], x) < height(sides[1], x):
        x -= 3.0
        assert x > near[0] - 60.0
    low, high = x, x + 3.0
    for _ in range(22):
        middle = (low + high) / 2.0
        if height(sides[0], middle) >= height(sides[1], middle):
            low = middle
        else:
            high = middle
    return low, height(sides[0], low)


def test_stations_together_and_alone_are_the_same() -> None:
    front, screen = two_planes(4.0, 30.0, on_plan_circle, np.arange(-800.0, 801.0, FACET_MM))
    stations = np.arange(-500.0, 501.0, 25.0)
    together = sphere_line(front, screen, R, stations)
    for i in range(0, len(stations), 5):
        alone = sphere_line(front, screen, R, stations[i : i + 1])
        np.testing.assert_allclose(alone.front[0], together.front[i], atol=1e-7)
    mixed = np.array([3, 0, 3, 40, 7])
    again = sphere_line(front, screen, R, stations[mixed])
    np.testing.assert_allclose(again.front, together.front[mixed], atol=1e-7)


def test_the_order_and_sense_of_triangles_do_not_matter() -> None:
    front, screen = two_planes(4.0, 30.0, on_plan_circle, np.arange(-800.0, 801.0, FACET_MM))
    stations = np.arange(-500.0, 501.0, 50.0)
    straight = sphere_line(front, screen, R, stations)
    rng = np.random.default_rng(1)
    shuffled = sphere_line(rng.permutation(front)[:, ::-1], rng.permutation(screen), R, stations)
    np.testing.assert_allclose(shuffled.front, straight.front, atol=1e-7)
    turned = np.array([1.0, -1.0, 1.0])
    mirrored = sphere_line(front * turned, screen * turned, R, -stations)
    np.testing.assert_allclose(mirrored.front * turned, straight.front, atol=1e-7)


def test_facets_of_any_size_give_the_same_planes() -> None:
    for y in (np.array([-700.0, 900.0]), np.arange(-700.0, 901.0, 2.5)):
        front, screen = two_planes(5.0, 30.0, lambda y: 0.3 * y, y)
        line = sphere_line(front, screen, R, np.array([-100.0, 0.0, 7.3]))
        ahead = 0.3 * line.front[:, 1] - line.front[:, 0]
        expected = ahead_of_planes(5.0, 30.0, np.rad2deg(np.arctan(0.3)))
        np.testing.assert_allclose(ahead, expected, atol=1e-8)
