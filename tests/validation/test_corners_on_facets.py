"""Bumper corners and thirds on facets: closed forms, and the gauge against a slow plain method.

Sources: a plane at 60 deg touches a plan circle of radius R at y = R / 2, x = R (1 - cos 30), and
so does the gauge where the face is upright: elementary geometry, as are the thirds of an arc.
Definitions: UN R127 02 series, 2.17 and 2.35 (text read).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from front_shapes import front_of, plan_circle, upright_face

from frontcheck.lines.front_line import Pair, Spot
from frontcheck.rules.ruleset import rule_set
from frontcheck.screening import screen
from frontcheck.surface.surface import NO_PART, Facets
from frontcheck.zones import bumper_corners
from frontcheck.zones.bumper_corners import Bumper, Heights, gauge_corner, plane_corner
from frontcheck.zones.thirds import bumper_thirds

CIRCLE = Check(
    "bumper-corner-on-a-circle",
    kind="closed form",
    quantity="bumper corner by plane and gauge on a plan circle, facets and tables",
    unit="mm",
    source=derived("y = R / 2, x = R (1 - cos 30 deg)"),
    why="own choice: 0.5; 0.6 and 0.1 facet where the cubic or shaken facets are coarser",
)
THIRDS = Check(
    "bumper-thirds-of-an-arc",
    kind="closed form",
    quantity="length of a bumper along a tape, and the cuts at its thirds",
    unit="mm",
    source=derived("2 R asin(740 / R), cuts at R sin(asin(740 / R) / 3)"),
    why="own choice; chords are short by c^2 / 24 R^2 of their length",
)

RULES = rule_set("UN-R127-02")
LEVEL = Heights(np.array([-900.0, 900.0]), np.full(2, 300.0), np.full(2, 600.0))


def cylinder(radius, facet, *, lean=None, seed=None, reach=0.95):
    """An upright plan circle in facets; `lean` sets it back by height, `seed` shakes corners."""
    u, z = np.meshgrid(
        np.arange(-reach * radius, reach * radius, facet), np.arange(200.0, 700.0, facet),
        indexing="ij",
    )  # fmt: skip
    if seed is not None:
        rng = np.random.default_rng(seed)
        u = u + rng.uniform(-0.3, 0.3, u.shape) * facet
        z = z + rng.uniform(-0.3, 0.3, z.shape) * facet
    r = radius - (lean(z) if lean else 0.0)
    p = np.stack([radius - r * np.cos(u / radius), r * np.sin(u / radius), z], axis=-1)
    a, b, c, d = p[:-1, :-1], p[:-1, 1:], p[1:, :-1], p[1:, 1:]
    corners = np.concatenate(
        [np.stack(t, axis=2).reshape(-1, 3, 3) for t in ((a, b, c), (b, d, c))]
    )
    return Facets(corners, np.full(len(corners), NO_PART))


def bulge(z):
    return (z - 447.0) ** 2 / 400.0


@pytest.mark.parametrize("radius", [700.0, 1100.0, 1500.0])
@pytest.mark.parametrize("facet", [5.0, 10.0])
@pytest.mark.parametrize("lean", [None, bulge])
@pytest.mark.parametrize("seed", [None, 5])
def test_60_deg_on_a_plan_circle_in_facets(radius, facet, lean, seed) -> None:
    # Facets with shaken corners know the circle to a facet error in height and in plan; then the
    # touch is known to a part of a facet only.
    allowed = 0.5 if seed is None or lean is None else 0.1 * facet
    bumper = Bumper.of(cylinder(radius, facet, lean=lean, seed=seed), RULES)
    for found in (plane_corner(bumper, RULES), gauge_corner(bumper, LEVEL, RULES)):
        x, y, _ = found.point
        assert found.status == "ok"
        exact = radius * (1.0 - math.cos(math.radians(30.0))), radius / 2.0
        CIRCLE.compare(exact, (x, y), tolerance=allowed)


@pytest.mark.parametrize("pitch", [50.0, 20.0, 5.0])
@pytest.mark.parametrize("radius", [700.0, 1200.0, 1500.0])
def test_60_deg_on_a_table_whatever_its_pitch(pitch, radius) -> None:
    end = math.floor(0.8 * radius / pitch) * pitch
    front = front_of(upright_face(plan_circle(radius)), np.arange(-end, end + 1.0, pitch))
    corners = screen(front).zones.bumper_corners
    for pair in (corners.plane, corners.gauge):
        # On 700 mm stations 50 mm apart are 4 deg of the circle: the cubic is 0.53 mm off there.
        allowed = 0.6 if (radius, pitch) == (700.0, 50.0) else 0.5
        found = [pair.right.point[1], -pair.left.point[1]]
        CIRCLE.compare(
            radius / 2.0, found, tolerance=allowed, case=f"R {radius:g}, pitch {pitch:g}"
        )


def two_lips(z):
    """Lips at 380 and 560, the lower one 25 mm behind the upper."""
    return np.where(z < 470.0, 25.0 + (z - 380.0) ** 2 / 80.0, (z - 560.0) ** 2 / 80.0)


def test_gauge_takes_heights_between_the_bounds_only() -> None:
    # With its centre at 380 or lower it cannot reach the upper lip; there it meets the lower one.
    bumper = Bumper.of(cylinder(900.0, 5.0, lean=two_lips), RULES)
    low = Heights(np.array([-900.0, 900.0]), np.full(2, 300.0), np.full(2, 380.0))
    _, y, z = gauge_corner(bumper, low, RULES).point
    assert z == pytest.approx(380.0, abs=2.6)
    assert y == pytest.approx((900.0 - 25.0) / 2.0, abs=0.5)
    high = Heights(np.array([-900.0, 900.0]), np.full(2, 560.0), np.full(2, 600.0))
    _, y, z = gauge_corner(bumper, high, RULES).point
    assert (y, z) == pytest.approx((450.0, 560.0), abs=0.5)


def test_a_face_that_leans_back_is_touched_by_the_edge_only() -> None:
    bumper = Bumper.of(cylinder(900.0, 10.0, lean=lambda z: (z - 200.0) / 5.0), RULES)
    found = gauge_corner(bumper, LEVEL, RULES)
    assert (found.status, found.point) == ("not_reached", None)
    assert "centreline" in found.reason


def test_corner_where_the_surface_ends_is_an_open_end() -> None:
    bumper = Bumper.of(cylinder(1500.0, 10.0, reach=0.4), RULES)
    for found in (plane_corner(bumper, RULES), gauge_corner(bumper, LEVEL, RULES)):
        assert found.status == "open_end"
        assert found.point[1] == pytest.approx(1500.0 * math.sin(0.4), abs=10.0)


@pytest.mark.parametrize("jump", [False, True])
@pytest.mark.parametrize("facet", [5.0, 10.0])
def test_thirds_of_an_arc_whatever_the_heights(jump, facet) -> None:
    # R 1500 between +-740: tape 2 R asin(740 / R) = 1547.8, cuts at R sin(asin(740 / R) / 3) =
    # 256.7. The foremost places jump between lips at 330 and 570 where `jump` is set.
    radius = 1500.0
    if jump:
        lower = cylinder(radius, facet, lean=lambda z: np.abs(z - 330.0) / 2.0)
        upper = cylinder(radius, facet, lean=lambda z: np.abs(z - 570.0) / 2.0)
        middle = lower.corners.mean(axis=1)[:, 1] // 37.0 % 2 == 0
        facets = Facets.joined([lower.only(middle), upper.only(~middle)])
    else:
        facets = cylinder(radius, facet)
    x = radius - math.sqrt(radius**2 - 740.0**2)
    ends = Pair(*(Spot("corner", "ok", (x, side * 740.0, 450.0)) for side in (-1.0, 1.0)))
    bumper = Bumper.of(facets, RULES)
    thirds = bumper_thirds(bumper.mirrored(), bumper, LEVEL, ends)
    angle = math.asin(740.0 / radius)
    # Chords are short by c^2 / 24 R^2 of their length.
    THIRDS.compare(2.0 * radius * angle, thirds.length, tolerance=0.1)
    assert thirds.length == pytest.approx(1547.8, abs=0.1)
    for cut, sign in zip(thirds.cuts, (-1.0, 1.0), strict=True):
        assert cut.reason == ""
        x, y = radius * (1 - math.cos(angle / 3.0)), sign * radius * math.sin(angle / 3.0)
        THIRDS.compare((x, y), cut.point[:2], tolerance=0.1)
        # On the surface: at one lip or the other, not between them.
        assert not jump or min(abs(cut.point[2] - 330.0), abs(cut.point[2] - 570.0)) < facet
    assert thirds.cuts[0].point[1] == -thirds.cuts[1].point[1] or jump


def test_a_cut_over_a_hollow_is_on_the_tape_and_says_so() -> None:
    def foremost(y):
        return float(np.interp(abs(y), [0.0, 300.0, 600.0, 750.0], [60.0, 0.0, 0.0, 600.0]))

    front = front_of(upright_face(foremost), np.arange(-750.0, 751.0, 50.0))
    thirds = screen(front, "UN-R127-01").zones.bumper_thirds
    for cut in thirds.cuts:
        assert abs(cut.point[1]) == pytest.approx(200.0, abs=1.0)
        assert cut.point[0] == pytest.approx(0.0, abs=0.5)
        assert "hollow" in cut.reason


def every_place(turned, lowest, highest, width):
    """Slow and plain: whatever lies between the heights may be touched."""
    rungs = np.arange(math.ceil(lowest / 20.0), highest / 20.0) * 20.0
    levels = np.array([lowest, *rungs[rungs > lowest], highest])
    points = np.unique(turned.between(lowest, highest, levels), axis=0)
    return points[np.argsort(-turned.y(points), kind="stable")]


# The first four are such that places sifted a cell too low would be missed.
@pytest.mark.parametrize("seed", [1114, 1191, 1375, 1379, 0, 1, 2])
def test_places_that_stand_out_are_all_that_the_gauge_can_touch(seed, monkeypatch) -> None:
    """Ribs and grooves as narrow as the cells in which places are sifted, and bounds that lean."""
    rng = np.random.default_rng(seed)
    at = np.arange(200.0, 701.0, rng.choice([5.0, 8.0, 10.0, 14.0]))
    back = rng.uniform(0.0, rng.choice([4.0, 30.0, 60.0]), len(at))
    back += np.abs(at - rng.uniform(350.0, 550.0)) / rng.choice([4.0, 10.0, 40.0])
    face = cylinder(400.0, 6.0, lean=lambda z: np.interp(z, at, back), reach=0.8)
    low = rng.uniform(300.0, 500.0, 2)
    heights = Heights(np.array([-400.0, 400.0]), low, low + rng.uniform(0.0, 80.0))
    sifted = gauge_corner(Bumper.of(face, RULES), heights, RULES)
    monkeypatch.setattr(bumper_corners, "_standing_out", every_place)
    assert gauge_corner(Bumper.of(face, RULES), heights, RULES).point == sifted.point
