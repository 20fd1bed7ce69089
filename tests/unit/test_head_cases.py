"""What headforms meet, against plain searches: grid points, bends, cowls, areas; and in words.

Grid points are made up where only words and borders count; contours are drawn at random.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from varied_fronts import KINDS, measured

from frontcheck.findings.finding_settings import HeadSettings
from frontcheck.findings.head import (
    _angles,
    _bend,
    _bends,
    _cowl,
    _cowl_hits,
    _part_runs,
    _past,
    _wad_1000,
    head_findings,
)
from frontcheck.findings.head_points import (
    AreaRange,
    HeadPoint,
    bend_radius,
    wad_at,
)
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section
from frontcheck.zones.front_zones import ZoneOptions

R127 = rule_set("UN-R127-02")
OWN = HeadSettings()


def point(y, wad, angle, area="child") -> HeadPoint:
    return HeadPoint(area, wad - 800.0, y, 900.0, wad, angle, 10.0)


def angles(*points, symmetric=True, spacing=50.0, **settings):
    lined = SimpleNamespace(front=SimpleNamespace(symmetric=symmetric))
    return list(_angles(lined, points, spacing, HeadSettings(**settings)))


# --- grid points -------------------------------------------------------------------


def test_an_angle_exactly_at_its_limit_is_told() -> None:
    """15 and 60 deg, own choice."""
    for angle, codes in (
        (15.0, ["HEAD-NEAR-NORMAL"]), (15.001, []), (59.999, []), (60.0, ["HEAD-GLANCING"]),
        (0.0, ["HEAD-NEAR-NORMAL"]), (91.0, ["HEAD-GLANCING"]),
    ):  # fmt: skip
        assert [f.code for f in angles(point(0.0, 1200.0, angle))] == codes
    both = angles(point(0.0, 1200.0, 30.0), near_normal_deg=30.0, glancing_deg=30.0)
    assert [(f.code, f.limit) for f in both] == [
        ("HEAD-NEAR-NORMAL", 30.0),
        ("HEAD-GLANCING", 30.0),
    ]


def test_points_of_a_patch_are_told_by_the_clearest_of_them() -> None:
    rows = [point(0.0, 1200.0, 12.0), point(50.0, 1200.0, 10.0), point(50.0, 1250.0, 11.0),
            point(300.0, 1200.0, 60.0), point(300.0, 1250.0, 75.0), point(350.0, 1250.0, 70.0),
            point(50.0, 1200.0, 14.0, "adult"), point(600.0, 1200.0, 30.0)]  # fmt: skip
    near, adult, graze = angles(*rows)
    assert near.message == (
        "Child headform meets the skin nearly square at y = 0 to 50 mm (either side), WAD 1200 to "
        "1250; clearest at y = 50 mm, WAD 1200: 10 deg from the normal, not more than 15 deg (98 % "
        "of its speed along it)."
    )
    assert near.settled_by == "child headform test at y = 50 mm, WAD 1200"
    assert near.region.outline_mm == tuple(p.xyz for p in rows[:3])
    assert (near.station, near.value) == (50.0, 10.0)
    assert adult.message.startswith(
        "Adult headform meets the skin nearly square at y = 50 mm (either side), WAD 1200; clearest"
    )
    assert adult.region.name == "adult headform area"
    assert graze.message == (
        "Child headform grazes the skin at y = 300 to 350 mm (either side), WAD 1200 to 1250; "
        "clearest at y = 300 mm, WAD 1250: 75 deg from the normal, not less than 60 deg (26 % of "
        "its speed along it)."
    )
    (middle,) = angles(point(0.0, 1200.0, 1.0))
    assert "square at y = 0 mm, WAD 1200; clearest" in middle.message
    (whole,) = angles(point(-50.0, 1200.0, 1.0), point(0.0, 1200.0, 2.0), symmetric=False)
    assert "square at y = -50 to 0 mm, WAD 1200; clearest at y = -50 mm" in whole.message


def test_the_other_half_of_a_half_front_is_the_mirror_image() -> None:
    rows = tuple(point(y, 1200.0, 1.0) for y in (-300.0, 0.0, 300.0))
    lined = line_up(Front((section_of("saloon", 1),), symmetric=True), R127)
    zones = SimpleNamespace(options=ZoneOptions())
    head = SimpleNamespace(
        points=rows, zones=zones, depths=(), areas=SimpleNamespace(at=lambda _: ())
    )
    for symmetric, count in ((True, 2), (False, 3)):
        of = line_up(Front(lined.front.sections, symmetric=symmetric), R127)
        near = [f for f in head_findings(of, head, OWN) if f.code == "HEAD-NEAR-NORMAL"]
        assert len(near) == count


# --- bends -------------------------------------------------------------------------


def section_of(kind: str, seed: int) -> Section:
    """A section of a varied front at its centre, without labels."""
    y, rows = min(measured(kind, np.random.default_rng(seed)), key=lambda at: abs(at[0]))
    return Section(rows, y)


def of_section(kind, seed, start="section") -> LinedFront:
    return line_up(Front((section_of(kind, seed),)), R127, tape_start=start)


@pytest.mark.parametrize("start", ["section", "vehicle"])
@pytest.mark.parametrize("kind", KINDS)
def test_the_sharpest_bend_is_that_of_a_look_at_every_point(kind: str, start: str) -> None:
    """In the areas and 82.5 mm beyond them, half a mm for rounding; apart at their middle."""
    for seed in (1, 2, 3):
        lined = of_section(kind, seed, start)
        (station,) = lined.stations
        section = lined.front.section(station.y)
        radius = bend_radius(section.points, section.arc_lengths, 60.0)
        tape = lined.tape(station.y)
        for ranges in (
            (AreaRange("child", 1000.0, 1500.0),),
            (AreaRange("child", 900.0, 1200.0), AreaRange("adult", 1400.0, 1700.0)),
        ):
            areas = SimpleNamespace(at=lambda _, ranges=ranges: ranges)
            for most in (82.5, 400.0):
                plain = {False: [], True: []}
                middle = (ranges[0].front + ranges[-1].rear) / 2.0
                for i in range(station.tape_start, len(section)):
                    wad = tape.distances_up[i]
                    near = any(r.front - 83.0 <= wad <= r.rear + 83.0 for r in ranges)
                    if near and radius[i] < most:
                        plain[wad > middle].append((radius[i], i))
                for rear in (False, True):
                    settings = HeadSettings(bend_radius_mm=most)
                    hits = list(_bend(lined, station, areas, settings, rear=rear))
                    assert [hit.value for hit in hits] == [r for r, _ in sorted(plain[rear])[:1]]
                    for hit, (_, i) in zip(hits, sorted(plain[rear]), strict=False):
                        assert hit.start == hit.end == tuple(section.points[i])
                        inside = any(r.front <= tape.distances_up[i] <= r.rear for r in ranges)
                        assert hit.detail.endswith(
                            "inside a headform area" if inside
                            else "between a headform area and its line"
                        )  # fmt: skip
    assert list(_bend(lined, station, SimpleNamespace(at=lambda _: ()), OWN, rear=False)) == []


BENT = [(300.0, 250.0), (0.0, 300.0), (0.0, 800.0), (400.0, 800.0), (800.0, 500.0), (1200.0, 500.0)]


def bends(*ranges):
    lined = line_up(Front((Section(BENT),)), R127)
    return list(_bends(lined, SimpleNamespace(at=lambda _: ranges), OWN))


def test_bends_are_told_apart_by_what_they_are_near() -> None:
    """A right angle at WAD 800 and one of atan(3/4) at WAD 1200: 60 mm over the turn."""
    wide = AreaRange("child", 800.0, 1500.0)
    (front,) = bends(AreaRange("child", 800.0, 1000.0))
    assert front.message == (
        "Skin is bent sharply at the leading edge and bonnet front at y = 0 mm; here: radius 38 mm "
        "over 60 mm at WAD 800, less than 82.5 mm, inside a headform area."
    )
    assert (
        front.settled_by == "headform test at the bend, y = 0 mm, if the rules allow a point there"
    )
    assert front.region.name == "leading edge and bonnet front"
    (apart,) = bends(AreaRange("child", 883.0, 1000.0))
    assert apart.message.endswith("between a headform area and its line.")
    assert bends(AreaRange("child", 883.1, 1000.0)) == []
    # The crease at WAD 1200 has a radius of 60 / atan(3/4) = 93 mm: none.
    assert [f.value for f in bends(wide)] == [pytest.approx(60.0 / (math.pi / 2.0))]
    lined = line_up(Front((Section(BENT),)), R127)
    areas = SimpleNamespace(at=lambda _: (wide,))
    both = list(_bends(lined, areas, HeadSettings(bend_radius_mm=100.0)))
    assert [f.region.name for f in both] == [
        "leading edge and bonnet front",
        "bonnet rear and cowl",
    ]
    assert "Skin is bent sharply at the bonnet rear and cowl at y = 0 mm; here: radius 93 mm" in (
        both[1].message
    )


def test_a_tape_of_the_vehicle_is_longer_and_its_bends_are_not_left_out() -> None:
    """A section 400 mm behind the foremost: its edge lies at WAD hypot(400, 800) = 894."""
    behind = Section([(x + 400.0, z) for x, z in BENT], 300.0)
    areas = SimpleNamespace(at=lambda _: (AreaRange("child", 970.0, 1200.0),))
    for start, wads in (("section", []), ("vehicle", [894.0])):
        lined = line_up(Front((Section(BENT), behind)), R127, tape_start=start)
        station = lined.stations[1]
        hits = list(_bend(lined, station, areas, OWN, rear=False))
        assert [
            f"at WAD {wad:.0f}," in hit.detail for hit, wad in zip(hits, wads, strict=True)
        ] == [True for _ in wads]
        unhung = replace(station, tape_x=None)
        assert list(_bend(lined, unhung, areas, OWN, rear=False)) == []
        assert list(_cowl_hits(lined, unhung, areas)) == []
    cowl = line_up(Front((cowled(5, 6, 7),)), R127)
    assert list(_cowl_hits(cowl, replace(cowl.stations[0], tape_x=None), areas)) == []


# --- WAD 1000 and cowls ------------------------------------------------------------


def past(height: float, datum: float = 0.0):
    points = [(300.0, 250.0), (0.0, 300.0), (0.0, height), (1500.0, height + 300.0)]
    nose = Section([(x + datum, z) for x, z in points])
    lined = line_up(Front((nose,)), R127)
    return lined, list(_past(lined, lined.stations[0], 1000.0))


def test_a_face_past_wad_1000_is_told_from_the_mark_to_the_edge() -> None:
    """A plumb face: the tape goes straight up."""
    lined, (hit,) = past(1010.0)
    assert (hit.value, hit.threshold, hit.margin) == pytest.approx((1010.0, 1000.0, 10.0))
    assert hit.start == pytest.approx((0.0, 1000.0))
    assert hit.end == pytest.approx((0.0, 1010.0))
    assert hit.detail == "BLERL at WAD 1010, more than 1000 mm"
    (finding,) = _wad_1000(lined)
    assert finding.message == (
        "WAD 1000 lies on the face, ahead of the leading edge, at y = 0 mm; here: BLERL at WAD "
        "1010, more than 1000 mm."
    )
    assert finding.settled_by == (
        "no headform test of the rule set reaches the face at y = 0 mm; ask for one"
    )
    assert finding.region.name == "face below the leading edge"
    assert past(1000.0)[1] == past(990.0)[1] == []
    (shifted,) = past(1010.0, datum=1300.0)[1]
    assert (shifted.value, shifted.start) == (
        pytest.approx(1010.0),
        pytest.approx((1300.0, 1000.0)),
    )
    assert past(990.0, datum=1300.0)[1] == []
    (station,) = lined.stations
    assert wad_at(lined.tape(0.0), (0.0, 700.0)) == pytest.approx(700.0)
    for gone in (replace(station, BLERL=replace(station.BLERL, x=None, z=None)),
                 replace(station, tape_x=None)):  # fmt: skip
        assert list(_past(lined, gone, 1000.0)) == []
    # Without the mark among those asked for the tape is hung.
    assert [h.value for h in _past(lined, replace(station, wads=()), 1000.0)] == [hit.value]


def cowled(*labels):
    """A level bonnet 800 mm up in steps of 100 mm; WAD of the step at x is 800 + x."""
    points = [(300.0, 250.0), (0.0, 300.0), *((100.0 * i, 800.0) for i in range(12))]
    parts = ["underside", "bumper", *(("cowl" if i in labels else "bonnet") for i in range(12))]
    return Section(points, 0.0, parts)


@pytest.mark.parametrize(
    ("labels", "ranges", "length", "ends"),
    [
        ((5, 6, 7), ((1000.0, 1450.0),), 150.0, (500.0, 650.0)),
        ((5, 6, 7), ((1350.0, 1900.0),), 150.0, (550.0, 700.0)),
        ((5, 6, 7, 9, 10), ((1000.0, 1850.0),), 300.0, (500.0, 1000.0)),
        ((5, 6, 7), ((1000.0, 1350.0), (1400.0, 1800.0)), 150.0, (500.0, 700.0)),
        ((3, 5, 6, 7), ((1000.0, 1850.0),), 200.0, (500.0, 700.0)),
        ((5, 6, 7), ((1000.0, 1300.6),), 0.6, (500.0, 500.6)),
        ((5, 6, 7), ((1000.0, 1300.0),), None, None),
        ((5,), ((1000.0, 1800.0),), None, None),
        ((), ((1000.0, 1800.0),), None, None),
        ((5, 6, 7), ((1000.0, 5000.0),), None, None),  # its end is not reached
    ],
)
def test_cowl_inside_is_measured_along_the_skin(labels, ranges, length, ends) -> None:
    lined = line_up(Front((cowled(*labels),)), R127)
    areas = SimpleNamespace(at=lambda _: tuple(AreaRange("child", a, b) for a, b in ranges))
    hits = list(_cowl_hits(lined, lined.stations[0], areas))
    if length is None:
        assert hits == list(_cowl(lined, areas)) == []
        return
    (hit,) = hits
    assert (hit.value, hit.start[0], hit.end[0]) == pytest.approx((length, *ends))
    (finding,) = _cowl(lined, areas)
    assert finding.message == (
        f"Cowl lies inside a headform area at y = 0 mm; here: {length:.0f} mm of it along the "
        "section."
    )
    assert (finding.region.name, finding.settled_by) == (
        "cowl", "headform test on the cowl at y = 0 mm",
    )  # fmt: skip


def test_runs_of_a_part_go_from_its_first_point_to_its_last() -> None:
    section = cowled(0, 4, 5, 6, 11)
    along = section.arc_lengths
    runs = _part_runs(section, "cowl")
    assert runs == [(along[2], along[2]), (along[6], along[8]), (along[13], along[13])]
    assert _part_runs(section, "underside") == [(0.0, 0.0)]
    assert _part_runs(section, "wing") == []
