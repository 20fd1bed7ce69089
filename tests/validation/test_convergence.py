"""Fronts known in closed form, read as meshes and as tables at many pitches.

Whatever the pitch of the stations, a mesh is the same surface, so what is found on it must be
the same. A table knows its stations only: its error must fall with their spacing.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from analytic_fronts import FOOT, HALF, PARTS, POINTS, AnalyticFront, arcs_of, circle, flat_ellipse
from checks import Check, Source, derived
from references.tape import SlowTape
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import brentq, minimize_scalar

from frontcheck import read_front, screen

LINES = Check(
    "lines-of-analytic-fronts",
    kind="closed form",
    quantity="UBRL, LBRL and BLERL of fronts known in closed form, as mesh and as table",
    unit="mm",
    source=derived("the corner that lies farthest ahead of each edge"),
    why="own choice, for facets of 10 mm",
)
SPHERE = Check(
    "sphere-in-space",
    kind="independent method",
    quantity="setback of BRRL where a sphere rests on a curved windscreen, mesh and table",
    unit="mm",
    source=Source("scipy.optimize", where="brentq on the distance to the glass", known="derived"),
    why="own choice: 0.1 on a mesh; 1 on a table, which must guess between stations",
)
AREA = Check(
    "headform-areas-added-up",
    kind="independent method",
    quantity="headform areas of a mesh, whatever the pitch of its stations",
    unit="m2",
    source=Source("numpy", where="surface element added up on a grid of 0.5 mm", known="derived"),
    why="own choice: 0.2 % of it",
)
CORNERS = Check(
    "bumper-corners-of-analytic-fronts",
    kind="closed form",
    quantity="bumper corners by plane and gauge, mesh and table",
    unit="mm",
    source=derived("where the plan curve has the slope of 60 deg"),
    why="own choice: 0.5 for stations 50 mm apart, 0.25 for 10 mm",
)

RADIUS = 82.5
FRONTS = {
    "plan circle": AnalyticFront(circle(1100.0), POINTS, PARTS),
    "flat middle": AnalyticFront(flat_ellipse(250.0, 900.0, 620.0), POINTS, PARTS),
}


@pytest.fixture(scope="module", params=list(FRONTS))
def front(request):
    return FRONTS[request.param]


@pytest.fixture(scope="module")
def read(front, tmp_path_factory):
    folder = tmp_path_factory.mktemp("analytic")
    path = front.write_obj(folder / "front.obj", 10.0)
    made = {}

    def at(pitch):
        if pitch not in made:
            made[pitch] = screen(read_front(path, unit="mm", pitch=pitch))
        return made[pitch]

    return at


def expected_lines(points):
    """Where edges touch a polyline: at the point that lies farthest ahead of each edge."""
    x, z = points.T
    out = {}
    for name, lean, low, high in (
        ("UBRL", 20.0, 0.0, 700.0 * math.cos(math.radians(20.0))),
        ("LBRL", -25.0, 0.0, 700.0 * math.cos(math.radians(25.0))),
        ("BLERL", 50.0, 600.0, 600.0 + 1000.0 * math.cos(math.radians(50.0))),
    ):
        inside = (z >= low) & (z <= high)
        ahead = np.where(inside, x - z * math.tan(math.radians(lean)), np.inf)
        out[name] = points[int(ahead.argmin())]
    return out


def slope(front, y):
    """Slope of the plan curve, by a central difference."""
    h = 1e-4
    return float(front.plan(np.array(y + h)) - front.plan(np.array(y - h))) / (2.0 * h)


def test_lines_of_sections(front, read) -> None:
    lines = expected_lines(front.points)
    for found in (read(50.0), screen(front.table(50.0))):
        for station in found.stations:
            back = float(front.plan(np.array(station.y)))
            for name, (x, z) in lines.items():
                point = getattr(station, name)
                LINES.compare((x + back, z), (point.x, point.z), tolerance=0.05, case=name)


def rear_contact(front, y):
    """Setback, in the section at y, at which a sphere resting on the windscreen touches the bonnet.

    The centre stands one radius off the bonnet, square to it, above the contact; the contact is
    moved until the windscreen too is one radius away.
    """
    before, foot, after = front.points[FOOT - 1 : FOOT + 2]
    along, up = (foot - before) / math.dist(foot, before), (after - foot) / math.dist(after, foot)
    tilt = slope(front, y)
    normal = np.array([-along[1], along[1] * tilt, along[0]])
    normal /= np.linalg.norm(normal)

    def gap(back):
        touch = foot - back * along
        centre = (
            np.array([touch[0] + float(front.plan(np.array(y))), y, touch[1]]) + RADIUS * normal
        )

        def distance(other):
            off = centre[[0, 2]] - foot - [float(front.plan(np.array(other))), 0.0]
            square = off[0] * -up[1] + off[1] * up[0]
            return math.hypot(square, centre[1] - other)

        nearest = minimize_scalar(
            distance, bounds=(y - 100.0, y + 100.0), method="bounded", options={"xatol": 1e-9}
        )
        return nearest.fun - RADIUS

    back = brentq(gap, 0.0, 150.0, xtol=1e-9)
    return (foot - back * along)[0] + float(front.plan(np.array(y))), back


@pytest.mark.parametrize("y", [0.0, 200.0, 400.0, 600.0])
def test_sphere_in_space(front, read, y) -> None:
    x, _ = rear_contact(front, y)
    SPHERE.compare(x, read(50.0).station(y).BRRL.x, tolerance=0.1, case=f"mesh, y {y:g}")
    table = screen(front.table(50.0))
    SPHERE.compare(x, table.station(y).BRRL.x, tolerance=1.0, case=f"table, y {y:g}")


# --- headform areas ---------------------------------------------------------------------


def bounds(front):
    """Arcs of front and rear bound of either area, at stations 10 mm apart."""
    points, arcs = front.points, arcs_of(front.points)
    tape = SlowTape(points, float(points[:, 0].min()))
    wad = {}
    for distance in (1000.0, 1700.0, 2100.0):
        mark = tape.solve(distance, int(points[:, 0].argmin()))[0]
        wad[distance] = arcs[mark.stretch] + math.dist(points[mark.stretch], (mark.x, mark.z))
    edge = expected_lines(points)["BLERL"]
    # From BLERL and from BRRL the surface runs on without hollows: the tape lies on it.
    leading = arcs[int((points == edge).all(axis=1).argmax())] + RADIUS
    y = np.arange(0.0, HALF - 20.0, 10.0)
    rear = np.array([arcs[FOOT] - rear_contact(front, at)[1] - RADIUS for at in y.tolist()])
    return y, {
        "child": (max(wad[1000.0], leading), np.minimum(wad[1700.0], rear)),
        "adult": (max(wad[1700.0], leading), np.minimum(wad[2100.0], rear)),
    }


def exact_areas(front):
    """Both headform areas, the surface element added up on a fine grid."""
    points, arcs = front.points, arcs_of(front.points)
    y = np.arange(0.25, HALF, 0.5)
    tilt = np.array([slope(front, at) for at in y.tolist()])
    back = front.plan(y)
    # SRL is the side of the front: in a plane x = const the edge rests on its outermost point.
    # From there a tape lies on the curve z(X(x - f(y))) in that plane.
    xs = np.arange(300.0, 2500.0, 2.0)
    z = np.interp(xs[:, None] - back, points[:, 0], points[:, 1])
    across = y[::-1]
    length = cumulative_trapezoid(
        np.hypot(1.0, np.gradient(z[:, ::-1], across, axis=1)), -across, axis=1, initial=0.0
    )
    side = np.array([np.interp(RADIUS - 0.25, row, across) for row in length])
    at, known = bounds(front)
    out = {}
    for name, (front_arc, rear_arc) in known.items():
        s = np.arange(front_arc, arcs[-1], 0.5) + 0.25
        x = np.interp(s, arcs, points[:, 0])
        k = np.clip(np.searchsorted(arcs, s) - 1, 0, len(arcs) - 2)
        dz = (np.diff(points[:, 1]) / np.diff(arcs))[k]
        inside = s[:, None] < np.interp(y, at, rear_arc)
        inside &= y < np.interp(x[:, None] + back, xs, side)
        element = np.sqrt(1.0 + (dz[:, None] * tilt) ** 2)
        out[name] = float((inside * element).sum()) * 0.25 * 2.0e-6
    return out


@pytest.mark.parametrize("pitch", [100.0, 50.0, 20.0])
def test_areas_of_a_mesh_do_not_depend_on_the_pitch(front, read, pitch) -> None:
    zones = read(pitch).zones
    for name, exact in exact_areas(front).items():
        AREA.compare(exact, getattr(zones, f"{name}_area").area_m2, relative=0.002)


def test_areas_of_a_table_come_nearer_with_its_stations(front) -> None:
    exact = exact_areas(front)
    for name in exact:
        errors = [
            abs(
                getattr(screen(front.table(step)).zones, f"{name}_area").area_m2 / exact[name] - 1.0
            )
            for step in (100.0, 50.0, 10.0)
        ]
        assert errors[1] < 0.01
        assert errors[2] < 0.002
        assert errors[2] <= max(errors[0], 1e-4)


@pytest.mark.parametrize(("step", "allowed"), [(50.0, 0.5), (10.0, 0.25)])
def test_corners_of_the_bumper(front, read, step, allowed) -> None:
    # A vertical plane at 60 deg to the centre plane touches the plan curve where it has that
    # slope; the face is as far forward at one height only, so the gauge touches there as well.
    wanted = 1.0 / math.tan(math.radians(60.0))
    y = brentq(lambda at: slope(front, at) - wanted, 1.0, HALF - 1.0)
    x = float(front.plan(np.array(y)))
    for found in (read(step), screen(front.table(step))):
        corners = found.zones.bumper_corners
        for pair in (corners.plane, corners.gauge):
            CORNERS.compare((x, y), pair.right.point[:2], tolerance=allowed)
            CORNERS.compare((x, -y), pair.left.point[:2], tolerance=allowed)
