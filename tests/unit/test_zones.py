"""Zones as values: statuses and reasons, symmetry, the document, what may be chosen."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
import shapely
from front_shapes import barrel, front_of

from frontcheck.documents import FrontLineEntry, ZonesEntry
from frontcheck.errors import ContourError
from frontcheck.front.front import Front
from frontcheck.lines.front_line import Pair, Spot, worst_status
from frontcheck.lines.line_values import STATUSES
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set, rule_set_ids
from frontcheck.screening import screen
from frontcheck.serializer import plain
from frontcheck.surface.interpolate import StationSurface
from frontcheck.surface.section import PARTS, Section
from frontcheck.surface.surface import NO_PART, Facets
from frontcheck.zones.build import zones_of
from frontcheck.zones.bumper_corners import Bumper
from frontcheck.zones.front_zones import ZoneOptions

DEMOS = ("plover", "avocet")


@pytest.fixture(scope="module")
def fronts(geometries):
    return {name: read_front(geometries / f"{name}.csv") for name in DEMOS}


@pytest.fixture(scope="module")
def found(fronts):
    return {name: zones_of(screen(front)) for name, front in fronts.items()}


@pytest.mark.parametrize("name", DEMOS)
def test_lines_pass_through_the_points_of_the_measured_stations(name, fronts, found) -> None:
    """Across the front, a line at a measured station is what the station itself says."""
    for station in screen(fronts[name]).stations:
        for point in (*station.lines, *station.wads):
            line = found[name].line(point.name)
            at = line.points[line.points[:, 1] == station.y]
            assert len(at) == 1
            assert at[0, [0, 2]] == pytest.approx((point.x, point.z), abs=1e-9)
            index = int(np.flatnonzero(line.points[:, 1] == station.y)[0])
            assert line.point_status[index] == point.status
            if point.name.startswith("WAD"):
                assert line.wad[index] == pytest.approx(point.distance, abs=1e-9)


@pytest.mark.parametrize("name", DEMOS)
def test_symmetric_fronts_have_symmetric_zones_to_the_last_bit(name, found) -> None:
    zones = found[name]
    flip = np.array([1.0, -1.0, 1.0])
    for line in zones.lines:
        if line.name == "SRL":
            left, right = line.runs
            assert np.array_equal(left * flip, right)
        else:
            assert np.array_equal(line.points[::-1] * flip, line.points)
    corners = zones.bumper_corners
    for pair in (corners.plane, corners.gauge, zones.corner_reference_points, zones.rear_corners):
        assert tuple(np.array(pair.left.point) * flip) == pair.right.point
    grid = {point.point for point in zones.grid}
    assert {(x, -y + 0.0, z) for x, y, z in grid} == grid


@pytest.mark.parametrize("name", DEMOS)
def test_half_and_whole_front_agree(name, fronts, found) -> None:
    """A half said to be symmetric and the same front with both halves measured."""
    whole = zones_of(screen(fronts[name].full()))
    for a, b in zip(whole.lines, found[name].lines, strict=True):
        assert a.points == pytest.approx(b.points, abs=1e-9)
        assert a.status == b.status
    assert whole.child_area.area_m2 == pytest.approx(found[name].child_area.area_m2, abs=1e-12)
    assert whole.bumper_test_area.width == pytest.approx(found[name].bumper_test_area.width)


@pytest.mark.parametrize("name", DEMOS)
def test_areas_keep_their_bounds(name, found) -> None:
    zones = found[name]
    for area, low, high in ((zones.child_area, 1000, 1700), (zones.adult_area, 1700, 2100)):
        for outline in area.outlines:
            wad = np.array(outline.wad, dtype=float)
            # Exact on contours; where a side bound meets it between two, straight from one to
            # the other in both u and distance: a hundredth of a millimetre is ample.
            assert wad.min() >= low - 0.01
            assert wad.max() <= high + 0.01
            assert len(set(outline.points)) == len(outline.points)
    # Area of the outline's shadow in plan is less than the area of the surface.
    import shapely

    shadow = shapely.Polygon([p[:2] for p in zones.child_area.outlines[0].points]).area * 1e-6
    assert shadow < zones.child_area.area_m2 < 1.2 * shadow


@pytest.mark.parametrize("name", DEMOS)
def test_bumper_test_area_keeps_its_boundary(name, found) -> None:
    """Within its lateral extent, from one line to the other, in the front view."""
    zones = found[name]
    area = zones.bumper_test_area
    ring = shapely.Polygon(np.array(area.outline.points)[:, 1:])
    assert ring.is_valid
    lower, upper = (shapely.LineString(zones.line(n).points[:, 1:]) for n in ("LBRL", "UBRL"))
    assert ring.bounds[0] == area.y_min
    assert ring.bounds[2] == area.y_max
    sides = lower.buffer(1e-6).union(upper.buffer(1e-6))
    rest = ring.exterior.difference(sides)
    assert all(y in (area.y_min, area.y_max) for y, _ in shapely.get_coordinates(rest))
    # Every line between its ends lies on the boundary.
    strip = shapely.box(area.y_min, 0.0, area.y_max, 2000.0)
    for line in (lower, upper):
        assert ring.exterior.buffer(1e-6).covers(line.intersection(strip))


@pytest.mark.parametrize("name", DEMOS)
def test_corners_keep_the_tool_that_touches_there(name, fronts, found) -> None:
    corners = found[name].bumper_corners
    rules = rule_set()
    for pair, angle, width in (
        (corners.plane, rules.value("bumper_corner.plane_deg"), None),
        (corners.gauge, rules.value("bumper_corner.gauge_face_deg"),
         rules.value("bumper_corner.gauge_width_mm")),
    ):  # fmt: skip
        for spot, side in ((pair.left, -1.0), (pair.right, 1.0)):
            assert spot.tool.width == width
            turn = np.degrees(np.arctan2(*spot.tool.along[::-1]))
            assert turn == pytest.approx(side * angle, abs=1e-9)
    # Nothing of the bumper stands outside the plane: seen from above, within rounding.
    right = corners.plane.right
    (ax, ay), (x, y, _) = right.tool.along, right.point
    foremost = [(s.foremost[0], s.y) for s in screen(fronts[name]).stations]
    assert max((q - y) * ax - (p - x) * ay for p, q in foremost) < 0.5


@pytest.mark.parametrize("name", DEMOS)
def test_grid_is_even_and_inside(name, found) -> None:
    zones = found[name]
    assert len(zones.grid) > 50
    for point in zones.grid:
        assert point.point[1] % 100.0 == 0.0
        assert point.wad % 100.0 == 0.0
        assert np.linalg.norm(point.normal) == pytest.approx(1.0)
        assert point.normal[2] > 0.7  # a bonnet, not a face
        assert point.normal[0] < 0.0
    for point in zones.grid:  # the sides fall away: normals lean outward
        assert point.normal[1] * point.point[1] >= -1e-9


@pytest.mark.parametrize("rules", rule_set_ids())
def test_document_is_plain_json_and_keeps_the_agreed_names(rules, fronts) -> None:
    found = zones_of(screen(fronts["plover"], rules))
    zones = plain(ZonesEntry, found)
    document = {"lines": {n.name: plain(FrontLineEntry, n) for n in found.lines}, "zones": zones}
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert set(zones) == set(ZonesEntry.__struct_fields__)
    assert {"LBRL", "UBRL", "BLERL", "BRRL", "SRL", "WAD 1000"} <= set(document["lines"])
    for line in document["lines"].values():
        assert {"points_mm", "status", "reason"} <= set(line)
        assert line["status"] in STATUSES
        assert len(line["points_mm"]) == len(line["point_status"]) == len(line["wad_mm"])
    for how in ("plane_60deg", "gauge"):
        assert {"left_mm", "right_mm", "status"} <= set(zones["bumper_corners"][how])
    assert {"y_min_mm", "y_max_mm", "basis", "status"} <= set(zones["bumper_test_area"])
    assert {"bumper", "leading_edge", "bonnet_top"} == set(zones["thirds"])
    for area in ("child_headform_area", "adult_headform_area"):
        assert {"area_m2", "outline_mm", "status", "reason"} <= set(zones[area])
    gauge = rule_set(rules).flag("bumper_corner.gauge")
    assert zones["bumper_corners"]["applies"] == ("gauge" if gauge else "plane_60deg")


def test_nothing_across_the_front_with_a_local_datum(fronts) -> None:
    zones = zones_of(screen(replace(fronts["plover"], datum="local")))
    assert all(line.status == "not_available" and not line.formed for line in zones.lines)
    assert all("datum: local" in line.reason for line in zones.lines)
    assert zones.child_area.area_m2 is None
    assert zones.bumper_corners.chosen.left.point is None
    assert zones.bumper_test_area.width is None
    assert zones.legform_runs == ()
    assert zones.grid == ()
    json.dumps(plain(ZonesEntry, zones), allow_nan=False)
    json.dumps([plain(FrontLineEntry, line) for line in zones.lines], allow_nan=False)


def test_one_station_is_no_surface(fronts) -> None:
    zones = zones_of(screen(Front(fronts["plover"].sections[:1])))
    why = zones.child_area.reason
    assert "one station" in why
    assert zones.notes == (f"No lines across the front and no zones: {why}.",)
    corners = zones.bumper_corners
    spots = {
        "bumper corner": corners.chosen,
        "corner reference point": zones.corner_reference_points, "rear corner": zones.rear_corners,
    }  # fmt: skip
    for name, pair in spots.items():
        for spot in (pair.left, pair.right):
            assert (spot.name, spot.point, spot.reason) == (name, None, why)
    thirds = (zones.bumper_thirds, zones.leading_edge_thirds, zones.bonnet_thirds)
    areas = (zones.bumper_test_area, zones.child_area, zones.adult_area)
    for each in (*zones.lines, *thirds, *areas):
        assert (each.status, each.reason) == ("not_available", why)
    assert [zones.child_area.name, zones.adult_area.name] == ["child", "adult"]


def test_half_a_front_not_said_to_be_symmetric_has_one_side(fronts) -> None:
    zones = zones_of(screen(replace(fronts["plover"], symmetric=False)))
    corners = zones.bumper_corners.plane
    assert corners.left.status == "not_available"
    assert corners.left.point is None
    assert "on this side" in corners.left.reason
    assert corners.right.status == "ok"
    assert [piece.side for piece in zones.line("SRL").pieces] == ["right"]
    assert "one side of the centre plane" in zones.child_area.reason
    assert zones.bumper_test_area.status == "not_available"


def test_line_with_a_gap_is_drawn_in_pieces(fronts) -> None:
    """The windscreen is not labelled at two stations: no BRRL there, and none across them."""
    sections = []
    for section in fronts["plover"].sections:
        parts = section.parts
        if section.y in (300.0, 400.0):
            parts = ["bonnet" if p == "windscreen" else p for p in parts]
        sections.append(Section(section.points, section.y, parts))
    zones = zones_of(screen(Front(tuple(sections), symmetric=True)))
    line = zones.line("BRRL")
    assert len(line.pieces) == 3
    assert [piece.side for piece in line.pieces] == ["left", "both", "right"]
    gap = line.points[(line.points[:, 1] > 250.0) & (line.points[:, 1] < 450.0)]
    assert len(gap) == 0
    assert "no point at" in line.reason
    assert "windscreen" in zones.child_area.reason
    assert sum(len(run) for run in line.runs) == len(line.points)


def test_contour_that_ends_before_the_front_bound() -> None:
    short = front_of(lambda _: [(300, 150), (0, 160), (0, 700), (200, 720)], [-500.0, 0.0, 500.0])
    zones = zones_of(screen(short))
    assert zones.line("WAD 1000").status == "not_reached"
    assert zones.child_area.status == "not_available"
    assert "ends" in zones.child_area.reason


def test_vehicle_tape_start_moves_the_marks(fronts) -> None:
    """One anchor for all sections: the outer ones are reached by a longer tape."""
    section, vehicle = (
        zones_of(screen(fronts["plover"], tape_start=start)).line("WAD 1500").points
        for start in ("section", "vehicle")
    )
    assert vehicle[0, 0] < section[0, 0] - 1.0
    middle = len(section) // 2
    assert vehicle[middle] == pytest.approx(section[middle], abs=1e-9)


def test_closer_contours_change_little(fronts) -> None:
    """The spacing of the sections is a means: halving it moves nothing that matters."""
    coarse, fine = (
        zones_of(screen(fronts["plover"]), ZoneOptions(cut_mm=spacing)) for spacing in (10.0, 5.0)
    )
    assert coarse.child_area.area_m2 == pytest.approx(fine.child_area.area_m2, rel=1e-3)
    assert coarse.bumper_corners.plane.right.point == pytest.approx(
        fine.bumper_corners.plane.right.point, abs=0.5
    )


def test_options_are_checked() -> None:
    for name in ("grid_mm", "cut_mm"):
        for bad in (0.0, -5.0, float("inf"), float("nan")):
            with pytest.raises(ValueError, match=name):
                ZoneOptions(**{name: bad})
    with pytest.raises(ValueError, match="left end, then the right end"):
        ZoneOptions(beam_ends_mm=(500.0, -500.0))
    with pytest.raises(ValueError, match="smooth"):
        ZoneOptions(between="wavy")  # type: ignore[arg-type]
    with pytest.raises(FrozenInstanceError):
        ZoneOptions().grid_mm = 5.0  # type: ignore[misc]


def test_results_are_frozen(found) -> None:
    zones = found["plover"]
    with pytest.raises(FrozenInstanceError):
        zones.surface = "straight"  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        zones.line("SRL").points[0, 0] = 1.0
    with pytest.raises(KeyError, match="no line 'XYZ'"):
        zones.line("XYZ")


def test_status_of_a_pair_is_the_worse() -> None:
    good = Spot("a", "ok", (0.0, 0.0, 0.0))
    bad = Spot("a", "edge_end", (0.0, 0.0, 0.0), "why")
    assert Pair(good, bad).status == "edge_end"
    assert Pair(good, bad).reason == "right: why"
    assert Pair(bad, bad).reason == "why"
    assert worst_status() == "not_available"


def test_front_without_a_windscreen_has_no_rear_line_but_all_else(fronts) -> None:
    ahead = [(s, ~s.part_mask("windscreen")) for s in fronts["plover"].sections]
    bare = Front(tuple(Section(s.points[here], s.y) for s, here in ahead), symmetric=True)
    zones = zones_of(screen(bare))
    assert zones.line("BRRL").status == "not_available"
    assert zones.rear_corners.status == "not_available"
    assert zones.bumper_corners.gauge.formed
    assert zones.corner_reference_points.formed
    assert zones.child_area.status == "open_end"
    assert "the rear bound is the WAD line alone" in zones.child_area.reason


def test_places_without_a_contour_are_said(fronts, monkeypatch) -> None:
    """A contour that would cross itself is left out and named; the rest is as it was."""
    plain = StationSurface._section

    def section(surface: StationSurface, y: float) -> Section:
        if y == 250.0:
            raise ContourError("a crossing", expected="none", todo="look")
        return plain(surface, y)

    monkeypatch.setattr(StationSurface, "_section", section)
    zones = zones_of(screen(fronts["plover"]))
    assert any("no contour at y = 250 mm (a crossing)" in note for note in zones.notes)
    assert 250.0 not in zones.line("UBRL").points[:, 1]
    assert 260.0 in zones.line("UBRL").points[:, 1]
    assert len(zones.line("UBRL").pieces) == 1


def test_import_is_light() -> None:
    """No heavy package before zones are asked for: the command line must start fast."""
    code = (
        "import sys, frontcheck.zones\n"
        "heavy = {'scipy', 'shapely', 'matplotlib', 'pandas', 'ezdxf', 'trimesh'}\n"
        "sys.stdout.write(','.join(sorted(heavy & set(sys.modules))))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == ""


def test_level_top_srl_is_the_last_station_on_both_sides() -> None:
    zones = zones_of(screen(front_of(barrel(lambda _: 900.0), np.arange(-600.0, 601.0, 100.0))))
    assert {tuple(np.abs(p[1:])) for p in zones.line("SRL").points.tolist()} == {(600.0, 900.0)}


def test_the_parts_of_the_bumper_are_those_of_the_rule_set() -> None:
    """One list for the lines of sections and for the corners of the surface."""
    labels = ["bumper", "grille", "trim", "bonnet", "underside", ""]
    codes = np.array([PARTS.index(label) if label else NO_PART for label in labels])
    facets = Facets(np.zeros((6, 3, 3)), codes)
    for parts in (["bumper", "grille", "trim"], ["bumper"], ["bumper", "bonnet"]):
        counted = Bumper.of(facets, rule_set().with_values({"bumper.parts": parts})).counted
        assert counted.tolist() == [label in (*parts, "") for label in labels]
    # An empty list means every point.
    assert Bumper.of(facets, rule_set().with_values({"bumper.parts": []})).counted.all()


def test_cuts_that_gave_no_contour_are_told_as_stretches(fronts, monkeypatch) -> None:
    """Each neighbour of what is lost stands outside the stretch: none is told that is there."""
    made, lost = StationSurface.cuts, []

    def torn(surface, ys):
        wanted = list(ys)
        gone = [510.0 < y < 590.0 or y == 310.0 for y in wanted]
        lost.extend(y for y, away in zip(wanted, gone, strict=True) if away)
        cuts = made(surface, wanted)
        return ["torn there" if away else cut for cut, away in zip(cuts, gone, strict=True)]

    monkeypatch.setattr(StationSurface, "cuts", torn)
    (note,) = [each for each in zones_of(screen(fronts["plover"])).notes if "no contour" in each]
    between = [y for y in sorted(lost) if y != 310.0]
    assert lost.count(310.0) == 1
    assert len(between) > 3
    where = f"310, {between[0]:g} to {between[-1]:g}"
    said = f"The surface gave no contour at y = {where} mm (torn there); lines run straight across."
    assert note == said
