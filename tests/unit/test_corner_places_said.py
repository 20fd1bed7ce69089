"""Rear corners, thirds of the bonnet top and lines across: every reason, one side or both."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from front_shapes import FAR, SCREENED_PARTS, front_of, screened

import frontcheck as fc
from frontcheck.lines.front_line import Pair, Spot, UprightFace
from frontcheck.lines.line_values import REASONS, LineValues
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.side import Meeting, SideContacts
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section
from frontcheck.surface.surface import NO_PART, Facets
from frontcheck.zones import rear_corner as rear_module
from frontcheck.zones.build import _mirrored, _side_line
from frontcheck.zones.bumper_corners import Bumper, Heights, gauge_corner, plane_corner
from frontcheck.zones.lines_across import Across, line_across, sections_across, side_of, wad_across
from frontcheck.zones.rear_corner import arc_of_template, met_spot, rear_corner
from frontcheck.zones.thirds import bonnet_thirds

NO_SIDE = "nothing was measured on this side of the centre plane"
OPEN_SIDE = "the surface ends there: the side of the vehicle beyond it is not known"
YS = np.arange(-500.0, 501.0, 100.0)
UN = rule_set("UN-R127-02")


@cache
def bonnet(low: float = -500.0, depth: float = 2600.0) -> Across:
    """An upright face 700 mm high and a level bonnet, every 100 mm across."""
    ys = [y for y in YS if y >= low]
    front = front_of(lambda _: [(200, 240), (0, 250), (0, 700), (depth, 700)], ys)
    lined = line_up(front, UN)
    return sections_across(front.surface("straight"), lined, ys, rows_mm=100.0)


def values(codes=0, reasons=0, x=1000.0, z=700.0) -> LineValues:
    count = len(YS)
    codes, reasons = (np.broadcast_to(v, count).astype(int) for v in (codes, reasons))
    x, z = (np.broadcast_to(v, count).astype(float) for v in (x, z))
    return LineValues(codes, x, z, reasons)


def with_line(name: str, line: LineValues, across: Across | None = None) -> Across:
    across = bonnet() if across is None else across
    return replace(across, lines=replace(across.lines, **{name: line}))


# --- lines across --------------------------------------------------------------------------

LINES = {
    "formed": (values(), "ok", "", ["both"]),
    "all alike": (values(2, 2), "lower_end", REASONS[2], ["both"]),
    "nowhere": (values(8, 6), "not_reached", REASONS[6], []),
    "some": (
        values(np.where(YS > 250.0, 2, 0), np.where(YS > 250.0, 2, 0)), "lower_end",
        f"3 of 11 contours (y from 300 to 500 mm): {REASONS[2]}", ["both"],
    ),
    "left missing": (
        values(np.where(YS < 50.0, 8, 0), np.where(YS < 50.0, 6, 0)), "ok",
        f"no point at 6 of 11 contours (y from -500 to 0 mm): {REASONS[6]}", ["right"],
    ),
    "right missing": (
        values(np.where(YS > -50.0, 9, 7), np.where(YS > -50.0, 9, 15)), "open_end",
        "; ".join([f"5 of 11 contours (y from -500 to -100 mm): {REASONS[15]}",
                   f"no point at 6 of 11 contours (y from 0 to 500 mm): {REASONS[9]}"]), ["left"],
    ),
    "middle missing": (
        values(np.where(np.abs(YS) < 150.0, 8, 0), np.where(np.abs(YS) < 150.0, 6, 0)), "ok",
        f"no point at 3 of 11 contours (y from -100 to 100 mm): {REASONS[6]}", ["left", "right"],
    ),
    "one contour": (
        values(np.where(YS == 100.0, 0, 8), np.where(YS == 100.0, 0, 6)), "ok",
        f"no point at 10 of 11 contours (y from -500 to 500 mm): {REASONS[6]}", ["right"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LINES)
def test_what_a_line_across_says(name: str) -> None:
    own, status, reason, pieces = LINES[name]
    line = line_across(with_line("UBRL", own), "UBRL")
    assert (line.name, line.status, line.reason) == ("UBRL", status, reason)
    assert [piece.side for piece in line.pieces] == pieces
    assert line.points.tolist() == [[1000.0, y, 700.0] for y in YS[own.code < 8]]
    assert line.point_status == tuple(own.status(i) for i in np.flatnonzero(own.code < 8))
    assert line.wad == pytest.approx([1700.0] * len(line.points))


def test_a_mark_that_the_contours_do_not_reach() -> None:
    line = wad_across(bonnet(depth=900.0), 1700.0)
    assert (line.status, line.formed, line.pieces) == ("not_reached", False, ())
    assert line.reason == "the contour ends before this distance"
    line = wad_across(bonnet(depth=900.0), 1000.0)
    assert (line.name, line.status, line.reason) == ("WAD 1000", "ok", "")
    assert line.points.tolist() == [[pytest.approx(300.0), y, 700.0] for y in YS]


def test_side_of_a_piece() -> None:
    """A piece that ends on the centre plane lies on the side of its other end."""
    ends = {(0.0, 1.0): "right", (1.0, 2.0): "right", (-1.0, 0.0): "left", (-2.0, -1.0): "left",
            (-1.0, 1.0): "both", (0.0, 0.0): "both"}  # fmt: skip
    assert {key: side_of(*key) for key in ends} == ends


# --- where a line meets SRL ----------------------------------------------------------------


def test_a_place_is_as_sure_as_the_line_on_either_side_of_it() -> None:
    met = Meeting((300.0, 250.0, 700.0), False, "")
    for y, status in ((0.0, "ok"), (200.0, "open_end"), (300.0, "open_end"), (400.0, "ok"),
                      (-200.0, "ok")):  # fmt: skip
        line = values(np.where(y == YS, 7, 0), np.where(y == YS, 16, 0))
        spot = met_spot("corner", met, line, YS)
        assert (spot.name, spot.status, spot.point) == ("corner", status, met.point)
        assert spot.reason == (REASONS[16] if status == "open_end" else "")
    # A contour where the line is not formed is none of those beside it.
    line = values(np.select([YS == 200.0, YS == 100.0], [8, 7], 0), np.where(YS == 100.0, 16, 0))
    assert met_spot("corner", met, line, YS).status == "open_end"
    ended = Meeting((300.0, 250.0, 700.0), True, OPEN_SIDE)
    spot = met_spot("corner", ended, values(), YS)
    assert (spot.status, spot.point, spot.reason) == ("open_end", ended.point, OPEN_SIDE)


# --- rear corners --------------------------------------------------------------------------


def contacts(y=450.0, z=700.0, ended=False, touched=True, end=2600.0) -> SideContacts:
    x = np.arange(0.0, end + 1.0, 100.0)
    full = [np.broadcast_to(v, len(x)).copy() for v in (touched, y, z, ended)]
    return SideContacts(full[0], x, *full[1:])


def edge(met: Meeting) -> SimpleNamespace:
    return SimpleNamespace(meeting=lambda points, name: met if len(points) > 1 else name)


LOST = Meeting(None, False, "BRRL ends at y = 400 mm, inside the SRL")
REAR = {
    "one side": ("not_available", NO_SIDE, bonnet(low=-500.0), values()),
    "no glass": ("not_available", REASONS[9], bonnet(), values(9, 9)),
    "not at the centre": (
        "not_reached", REASONS[8], bonnet(),
        values(np.where(YS < 450.0, 8, 0), np.where(YS < 450.0, 8, 0)),
    ),
    "at the centre only": (
        "ok", "BRRL could not be formed on this side", bonnet(),
        values(np.where(YS == 0.0, 0, 8), np.where(YS == 0.0, 0, 8)),
    ),
    "on the other side only": (
        "open_end", REASONS[16], bonnet(),
        values(np.where(YS > 50.0, 8, 7), np.where(YS > 50.0, 8, 16)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REAR)
def test_rear_corners_without_a_line(name: str) -> None:
    status, reason, across, line = REAR[name]
    across = with_line("BRRL", line, across)
    if name == "one side":
        keep = across.y <= 0.0
        across = replace(across, y=across.y[keep])
    found = rear_corner(across, edge(LOST), contacts())
    assert (found.spot.status, found.spot.reason, found.spot.point) == (status, reason, None)
    assert found.spot.name == "rear corner"
    assert found.arc.shape == (0, 3)


def test_rear_corners_where_the_lines_meet() -> None:
    across = with_line("BRRL", values(np.where(YS == 400.0, 7, 0), np.where(YS == 400.0, 16, 0)))
    for y, status in ((450.0, "open_end"), (250.0, "ok")):
        met = Meeting((1000.0, y, 700.0), False, "")
        found = rear_corner(across, edge(met), contacts())
        assert (found.spot.status, found.spot.point) == (status, met.point)
        assert len(found.arc) == 0
    # Two places are enough for a line.
    two = (YS == 0.0) | (YS == 100.0)
    few = with_line("BRRL", values(np.where(two, 0, 8), np.where(two, 0, 8)))
    assert rear_corner(few, edge(met), contacts()).spot.point == met.point


ARC = np.array([(1000.0, 400.0, 700.0), (1100.0, 450.0, 700.0)])
CARRIED = (
    "BRRL ends at y = 400 mm, inside the SRL; BRRL is carried on along a template of radius 120 "
    "mm, with a middle arc of 90 deg (text read)"
)


@pytest.mark.parametrize(
    ("ended", "touched", "codes", "status", "reason"),
    [
        (False, True, 0, "ok", CARRIED),
        # SRL ends within a radius of the corner, at 1000 and at 1200; at 900 and 1300 it does not.
        ([1000.0], True, 0, "open_end", f"{CARRIED}; {OPEN_SIDE}"),
        ([1200.0], True, 0, "open_end", f"{CARRIED}; {OPEN_SIDE}"),
        ([900.0, 1300.0], True, 0, "ok", CARRIED),
        ([1200.0], [1200.0], 0, "ok", CARRIED),
        (False, True, [500.0], "open_end", CARRIED),
        (False, True, [0.0, 400.0], "ok", CARRIED),
    ],
)
def test_rear_corners_by_the_template(monkeypatch, ended, touched, codes, status, reason) -> None:
    """Radii from 100 mm every 20 mm (UN R127 02 series, 2.8, text read), middle arc 90 deg."""
    asked = []

    def arc(tops, rear, side, *constants):
        asked.append((*rear[0].tolist(), *rear[-1].tolist(), len(side), constants))
        return 120.0, ARC

    monkeypatch.setattr(rear_module, "arc_of_template", arc)
    srl = contacts()
    srl.open_end[:] = np.isin(srl.x, ended if ended else [])
    if touched is not True:
        srl.touched[np.isin(srl.x, touched)] = False
    own = np.isin(YS, codes) if codes else np.zeros(len(YS), dtype=bool)
    across = with_line("BRRL", values(np.where(own, 7, 0), np.where(own, 16, 0)))
    found = rear_corner(across, edge(LOST), srl)
    assert (found.spot.status, found.spot.reason) == (status, reason)
    assert found.spot.point == tuple(ARC[-1])
    assert found.arc is ARC
    places = (1000.0, 0.0, 700.0, 1000.0, 500.0, 700.0)
    assert asked == [(*places, srl.touched.sum(), (100.0, 20.0, 90.0))]


def test_a_template_that_does_not_fit_is_said(monkeypatch) -> None:
    monkeypatch.setattr(rear_module, "arc_of_template", lambda *_: "no template fits")
    found = rear_corner(with_line("BRRL", values()), edge(LOST), contacts())
    reason = "BRRL ends at y = 400 mm, inside the SRL, and no template fits"
    assert (found.spot.status, found.spot.reason) == ("not_reached", reason)
    assert (found.spot.point, len(found.arc)) == (None, 0)


def swept(sweep_deg: float, short: float) -> tuple[str, float | None]:
    """A level bonnet, SRL at y = 450, BRRL swept rearward going out and ending `short` inside."""
    y = np.linspace(0.0, 450.0 - short, 41)
    x = 1200.0 + (y - y[-1]) * math.tan(math.radians(sweep_deg))
    rear = np.stack([x, y, np.full(41, 700.0)], axis=1)
    found = arc_of_template(bonnet(), rear, contacts().points, 100.0, 20.0, 90.0)
    return (found, None) if isinstance(found, str) else ("", found[0])


def test_why_there_is_no_template() -> None:
    """On a flat bonnet: R sin(sweep) must reach the end of the line (see the closed forms)."""
    assert swept(30.0, 40.0) == ("", 100.0)
    assert swept(30.0, 95.0) == ("", 200.0)
    assert swept(30.0, 95.5) == ("", 200.0)
    assert swept(60.0, 40.0) == ("no template fits between the two", None)
    beyond = np.array([(2700.0, 0.0, 700.0), (2700.0, 400.0, 700.0)])
    found = arc_of_template(bonnet(), beyond, contacts().points, 100.0, 20.0, 90.0)
    assert found == "the template leaves the surface"


# --- thirds of the bonnet top --------------------------------------------------------------


def corners(left, right, status="ok", reason="") -> Pair:
    return Pair(*(
        Spot("c", status if x is None else "ok", None if x is None else (x, y, 700.0),
             reason if x is None else "")
        for x, y in ((left, -400.0), (right, 400.0))
    ))  # fmt: skip


def thirds(front: Pair, rear: Pair, brrl=None, left=None, right=None):
    across = with_line("BRRL", brrl or values(x=2000.0))
    return bonnet_thirds(across, left or contacts(400.0), right or contacts(400.0), front, rear)


@pytest.mark.parametrize(
    ("front", "rear", "status", "reason"),
    [
        (corners(None, 0, "not_reached", "no line"), corners(900, 900), "not_available",
         "left: no line"),
        (corners(0, None, "not_available", "no line"), corners(900, None, "not_reached", "lost"),
         "not_available", "right: no line"),
        (corners(0, 0), corners(None, 900, "not_reached", "lost"), "not_available", "left: lost"),
        (corners(0, 900), corners(900, 900), "not_available",
         "the rear corners lie ahead of the corner reference points"),
        (corners(0, 0), corners(900, 0), "not_available",
         "the rear corners lie ahead of the corner reference points"),
    ],
)  # fmt: skip
def test_bonnet_thirds_that_cannot_be_formed(front, rear, status, reason) -> None:
    line = thirds(front, rear)
    assert (line.name, line.status, line.reason) == ("bonnet top third", status, reason)
    assert (line.formed, line.pieces, line.point_status) == (False, (), ())


def test_bonnet_thirds_between_uneven_sides() -> None:
    """SRL at -420 and 480: 900 mm, cut at -120 and 180; from x = 105 to 195, every 20 mm between.

    The corner reference points lie at 100 and 105, the rear corners at 195 and 300.
    """
    line = thirds(corners(100, 105), corners(300, 195), left=contacts(420.0), right=contacts(480.0))
    xs = [105.0, 120.0, 140.0, 160.0, 180.0, 195.0]
    left, right = line.runs
    assert left.tolist() == [[x, pytest.approx(-120.0), pytest.approx(700.0)] for x in xs]
    assert right.tolist() == [[x, pytest.approx(180.0), pytest.approx(700.0)] for x in xs]
    assert [piece.side for piece in line.pieces] == ["left", "right"]
    assert (line.status, line.reason, set(line.point_status)) == ("ok", "", {"ok"})
    assert line.wad == pytest.approx([700.0 + x for x in xs] * 2)
    # On whole multiples of 20 mm nothing is cut twice.
    line = thirds(corners(100, 100), corners(200, 200))
    assert line.runs[0][:, 0].tolist() == [100, 120, 140, 160, 180, 200]


def test_bonnet_thirds_end_at_the_rear_line_and_say_where_a_side_is_open() -> None:
    """BRRL at x = 150 left of -50 and at 2000 from 0 on: the left third ends at 150."""
    brrl = values(x=np.where(YS < 0.0, 150.0, 2000.0))
    line = thirds(corners(100, 100), corners(200, 200), brrl)
    assert [run[:, 0].tolist() for run in line.runs] == [
        [100, 120, 140], [100, 120, 140, 160, 180, 200]
    ]  # fmt: skip
    for side in ("left", "right"):
        open_end = contacts(400.0, ended=np.arange(0.0, 2601.0, 100.0) == 200.0)
        line = thirds(corners(100, 100), corners(200, 200), **{side: open_end})
        # Beyond the place at 100 mm the next one of SRL is that at 200 mm.
        own = ("ok", *("open_end",) * 5)
        assert (line.status, line.reason) == ("open_end", OPEN_SIDE)
        assert line.point_status == own + own


# --- bumper corners ------------------------------------------------------------------------


def plates(*spans) -> Facets:
    rows = [[(0, y, a), (0, y + 9, a), (0, y, b)] for y, a, b in spans]
    return Facets(np.array(rows, dtype=float), np.full(len(rows), NO_PART))


def test_bumper_corners_that_cannot_be_formed() -> None:
    level = Heights(np.array([-900.0, 900.0]), np.full(2, 300.0), np.full(2, 600.0))
    left = Bumper.of(plates((-200, 300, 600)), UN)
    for spot in (plane_corner(left, UN), gauge_corner(left, level, UN)):
        assert (spot.name, spot.status) == ("bumper corner", "not_available")
        assert (spot.reason, spot.point) == (NO_SIDE, None)
    # Without labels what stands higher than a metre is no bumper: own choice.
    high = Bumper.of(plates((200, 1001, 1300)), UN)
    spot = plane_corner(high, UN)
    assert (spot.status, spot.reason) == ("not_reached", "no contour has a bumper point")
    assert plane_corner(Bumper.of(plates((200, 1000, 1300)), UN), UN).point is not None
    spot = gauge_corner(high, level, UN)
    assert (spot.status, spot.reason) == (
        "not_reached", "the gauge touches nowhere on its centreline"
    )  # fmt: skip
    reason = "LBRL and UBRL leave no height for the centre of the gauge on this side"
    own = Bumper.of(plates((200, 300, 600)), UN)
    for y, low, top in (([-900.0, 0.0], 300.0, 600.0), ([0.0, 900.0], 601.0, 600.0)):
        heights = Heights(np.array(y), np.full(2, low), np.full(2, top))
        spot = gauge_corner(own, heights, UN)
        assert (spot.status, spot.reason, spot.point) == ("not_reached", reason, None)
    just = Heights(np.array([0.0, 900.0]), np.full(2, 450.0), np.full(2, 450.0))
    assert gauge_corner(own, just, UN).reason != reason


def test_a_place_seen_in_a_mirror_takes_its_tool_along() -> None:
    tool = UprightFace((0.5, 0.8), 236.0)
    spot = _mirrored(Spot("c", "ok", (1.0, 2.0, 3.0), "why", 900.0, tool))
    assert (spot.point, spot.tool) == ((1.0, -2.0, 3.0), UprightFace((0.5, -0.8), 236.0))
    assert (spot.reason, spot.wad) == ("why", 900.0)
    nowhere = Spot("c", "not_reached", None, "why")
    assert _mirrored(nowhere) is nowhere
    assert _mirrored(Spot("c", "ok", (1.0, 2.0, 3.0))).tool is None


def test_the_side_line_says_how_many_of_its_places_are_open() -> None:
    none = contacts(touched=False)
    here = contacts(400.0, end=300.0, ended=[True, False, False, True])
    there = contacts(420.0, end=200.0)
    plain, bare = Spot("c", "ok", (0.0, 0.0, 0.0)), Spot("c", "not_available", None, NO_SIDE)
    line = _side_line(bonnet(), here, there, Pair(plain, plain))
    assert (line.name, line.status) == ("SRL", "open_end")
    assert line.reason == f"2 of 7 points: {OPEN_SIDE}"
    assert [(p.start, p.stop, p.side) for p in line.pieces] == [(0, 4, "left"), (4, 7, "right")]
    assert line.points[:, 1].tolist() == [-400.0] * 4 + [420.0] * 3
    assert line.point_status == ("open_end", "ok", "ok", "open_end", "ok", "ok", "ok")
    line = _side_line(bonnet(), none, there, Pair(bare, plain))
    assert (line.status, line.reason) == ("ok", f"left: {NO_SIDE}")
    assert [(p.start, p.stop, p.side) for p in line.pieces] == [(0, 3, "right")]
    line = _side_line(bonnet(), there, none, Pair(plain, bare))
    assert (line.status, line.reason) == ("ok", f"right: {NO_SIDE}")
    line = _side_line(bonnet(), none, none, Pair(plain, plain))
    assert (line.status, line.reason, line.formed) == ("not_reached", "", False)


@pytest.mark.parametrize("grid", [400.0, 500.0, 1000.0])
def test_a_coarse_grid_leaves_a_corner_or_a_reason(grid: float) -> None:
    """Own choice of the user: BRRL then has hardly a row within what the template lies on."""

    def contour(y: float) -> list[tuple[float, float]]:
        corner = 1200.0 + 0.5 * abs(y)
        if abs(y) > 400.0:
            return [(200.0, 240.0), (0.0, 250.0), (0.0, 800.0), (corner, 800.0), (FAR, 800.0)]
        return screened(800.0, corner, 0.0, 30.0)

    bare = (*SCREENED_PARTS[:3], "bonnet", "bonnet")
    sections = [
        Section(contour(y), y, bare if y > 400.0 else SCREENED_PARTS)
        for y in (0.0, 400.0, 401.0, 500.0)
    ]
    options = fc.ZoneOptions(between="straight", grid_mm=grid, cut_mm=400.0)
    zones = fc.screen(fc.Front(sections, symmetric=True), zone_options=options).zones
    corner = zones.rear_corners.right
    assert corner.status == "open_end"
    assert "carried on along a template of radius 260 mm" in corner.reason
