"""Poses of the tools against geometry built by shapely: touch, stay outside, have their length."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from frontcheck import Front, Section, read_front, screen
from frontcheck.lines.tool_poses import EdgePose, SpherePose

_CUT_MM = 0.5
"""An edge counts as shortened where the body stands farther ahead of it than this."""


@pytest.fixture(scope="module", params=["plover", "avocet"])
def screening(request, geometries):
    return screen(read_front(geometries / f"{request.param}.csv"), "EU-631-2009", [800, 1000, 1500])


def outline(section):
    return shapely.LineString(section.points)


def body(section):
    """The contour closed far behind: where no tool may be."""
    points = section.points
    back = points[:, 0].max() + 3000.0
    ends = [(back, points[-1, 1]), (back, -1.0), (points[0, 0], -1.0)]
    return shapely.Polygon([*points, *ends])


def stations(screening):
    return [(screening.front.section(s.y), s) for s in screening.stations]


def test_edges_have_their_length_and_lean(screening):
    leans = {
        "LBRL": -screening.rules.value("lbrl.lean_deg"),
        "UBRL": screening.rules.value("ubrl.lean_deg"),
    }
    for _, station in stations(screening):
        for line in (station.LBRL, station.UBRL, station.BLERL):
            pose = line.pose
            assert isinstance(pose, EdgePose)
            dx, dz = np.subtract(pose.tip, pose.foot)
            assert np.hypot(dx, dz) == pytest.approx(pose.length, abs=1e-9)
            lean = leans.get(line.name, line.edge_angle_deg)
            assert np.degrees(np.arctan2(dx, dz)) == pytest.approx(lean, abs=1e-9)


def test_edges_touch_where_the_line_is_and_stay_out_of_the_body(screening):
    shortened = 0
    for section, station in stations(screening):
        inside = body(section).buffer(-_CUT_MM - 1e-6)
        for line in (station.LBRL, station.UBRL, station.BLERL):
            used = shapely.LineString(line.pose.used)
            assert used.distance(shapely.Point(line.x, line.z)) < 1e-9
            assert not used.intersects(inside)
            whole = shapely.LineString([line.pose.foot, line.pose.tip])
            assert whole.distance(shapely.Point(line.pose.used[0])) < 1e-9
            assert whole.distance(shapely.Point(line.pose.used[1])) < 1e-9
            assert line.pose.shortened == (used.length < whole.length - 1e-9)
            shortened += line.pose.shortened
    assert shortened or screening.front.name != "Plover"


def test_an_edge_is_shortened_where_the_body_stands_in_its_way():
    # The bumper is held against alone; the lamp below it stands 200 mm farther forward.
    points = [(100, 100), (-100, 300), (-100, 400), (100, 420), (100, 600), (400, 800), (1200, 999)]
    parts = ["underside", "lamp", "lamp", "bumper", "bumper", "bonnet", "bonnet"]
    station = screen(Front((Section(points, parts=parts),)), "EU-631-2009").stations[0]
    pose = station.UBRL.pose
    assert isinstance(pose, EdgePose)
    assert pose.shortened
    (low_x, low_z), _ = pose.used
    edge = shapely.LineString([pose.foot, pose.tip])
    # The edge is free from where it crosses the upper side of the lamp.
    crossing = edge.intersection(shapely.LineString(points[2:4]))
    assert (low_x, low_z) == pytest.approx((crossing.x, crossing.y), abs=1e-9)


def test_where_its_end_touches_the_edge_stands_there_and_the_line_is_elsewhere():
    # A tall flat front: the upper end of the edge touches first.
    front = Front((Section([(300, 190), (0, 200), (0, 400), (60, 420), (40, 1500), (900, 1600)]),))
    line = screen(front, "EU-631-2009").stations[0].BLERL
    assert line.status == "wad_1000"
    assert isinstance(line.pose, EdgePose)
    contour = outline(front.sections[0])
    assert contour.distance(shapely.Point(line.pose.tip)) < 1e-9
    assert contour.distance(shapely.Point(line.x, line.z)) < 1e-9
    assert line.z < line.pose.tip[1] - 10.0


def test_spheres_rest_on_windscreen_and_surface(screening):
    import trimesh

    facets = screening.front.surface().facets()
    seen = 0
    for section, station in stations(screening):
        pose = station.BRRL.pose
        if pose is None:
            continue
        assert isinstance(pose, SpherePose)
        middle = facets.corners.mean(axis=1)
        near = np.hypot(*(middle - pose.centre)[:, :2].T) < 2.0 * pose.radius
        apart = {
            name: trimesh.triangles.closest_point(
                facets.corners[chosen], np.tile(pose.centre, (chosen.sum(), 1))
            )
            - pose.centre
            for name, chosen in (
                ("all", near),
                ("windscreen", near & facets.labelled("windscreen")),
            )
        }
        # The facets on either side of a station lean apart by a little: the line is their mean.
        for away in apart.values():
            assert np.linalg.norm(away, axis=1).min() == pytest.approx(pose.radius, abs=5e-3)
        for place in (pose.windscreen, pose.surface):
            assert np.linalg.norm(np.subtract(place, pose.centre)) == pytest.approx(
                pose.radius, abs=5e-3
            )
        assert pose.surface[1] == station.y
        flat = shapely.Point(pose.surface[0], pose.surface[2])
        assert outline(section).distance(flat) < 1e-3  # of one facet and the next, the mean
        if station.BRRL.reason == "":
            assert flat.coords[0] == (station.BRRL.x, station.BRRL.z)
        seen += 1
    assert seen


def test_tapes_have_their_length_and_stay_out_of_the_body(screening):
    spans = 0
    for section, station in stations(screening):
        inside = body(section).buffer(-1e-6)
        for mark in station.wads:
            assert mark.formed
            assert mark.tape is not None
            path = shapely.LineString(mark.tape.points)
            assert path.length == pytest.approx(mark.distance, abs=1e-6)
            assert mark.tape.points[0] == (station.tape_x, 0.0)
            assert mark.tape.points[-1] == pytest.approx((mark.x, mark.z), abs=1e-9)
            assert not path.intersects(inside)
            for span in mark.tape.spans:
                air = shapely.LineString(span)
                assert path.buffer(1e-6).covers(air)
                spans += 1
            assert mark.tape.hollow == 0.0 or mark.bridged
    assert spans


def test_what_was_not_formed_holds_no_tool(geometries):
    front = replace(read_front(geometries / "plover.csv"), datum="local")
    for station in screen(front, tape_start="vehicle").stations:
        assert all(mark.tape is None and not mark.formed for mark in station.wads)
    low = Front((Section([(0, 1200), (10, 1300), (400, 1500)]),))
    station = screen(low, "UN-R127-02").stations[0]
    for line in station.lines:
        assert (line.pose is None) == (not line.formed)
    assert station.LBRL.pose is None
