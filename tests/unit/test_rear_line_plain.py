"""BRRL: the cap, the seam, structure and glass; the template against a slow search."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from frontcheck.front.front import Front
from frontcheck.geometry.rolling_sphere import SphereLine
from frontcheck.lines import rear as module
from frontcheck.lines.bonnet_template import rear_template
from frontcheck.lines.line_values import LineValues
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.rear import (
    RuledRear,
    _capped,
    _divided,
    _Foot,
    _seam_along,
    _spread,
    with_rear,
)
from frontcheck.lines.section_lines import section_lines
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import PARTS, Section
from frontcheck.surface.surface import NO_PART, Facets

UN, EU = rule_set("UN-R127-02"), rule_set("EU-631-2009")
PARTS_5 = ["underside", "bumper", "bonnet", "windscreen", "windscreen"]
RADIUS = 82.5


def glazed(bonnet: float = 900.0, y: float = 0.0, parts=PARTS_5) -> Section:
    """An upright face, a level bonnet, and a windscreen at 45 deg."""
    points = [(300, 200), (0, 300), (0, 700), (bonnet, 700), (bonnet + 600.0, 1300.0)]
    return Section(points, y, parts)


BACK = RADIUS * math.tan(math.radians(22.5))
"""A sphere between planes at 45 deg touches so far ahead of the corner."""


def test_a_line_is_held_at_the_cap() -> None:
    """(EC) 631/2009, from memory: no farther than WAD 2100, x = 1400 behind a face of 700 mm."""
    x = np.array([1399.0, 1401.0, 1401.0, 0.0, 1300.0])
    code = np.array([0, 0, 8, 0, 7])
    z = np.array([700.0, 700.0, 700.0, 500.0, 700.0])
    contours = Contours.copies(glazed(2000.0), np.stack([glazed(2000.0).points] * 5))
    batch = section_lines(contours, EU, (1000.0,))
    values = LineValues(code, x, z, np.array([0, 0, 8, 0, 12]))
    found = _capped(values, batch, contours, EU)
    assert found.x.tolist() == [1399.0, pytest.approx(1400.0), 1401.0, 0.0, 1300.0]
    assert found.reason_code.tolist() == [0, 10, 8, 0, 12]
    assert found.code.tolist() == [0, 0, 8, 0, 7]
    # UN R127 02 series has no such end, nor has a contour too short for it one.
    assert _capped(values, batch, contours, UN) is values
    short = Contours.of([Section([(300, 200), (0, 300), (0, 700), (1350, 700)])])
    few = LineValues(np.array([0]), np.array([1340.0]), np.array([700.0]), np.array([0]))
    own = _capped(few, section_lines(short, EU, (1000.0,)), short, EU)
    assert (own.x[0], own.reason_code[0]) == (1340.0, 0)
    none = LineValues(np.array([8]), np.array([0.0]), np.array([0.0]), np.array([8]))
    assert _capped(none, section_lines(short, EU, (1000.0,)), short, EU) is none


def test_lines_of_stations_that_lack_glass() -> None:
    """Beside the windscreen none is carried round its edge; each says why."""
    bare = ["underside", "bumper", "bonnet", "bonnet", "bonnet"]
    front = Front((glazed(y=-300.0), glazed(y=0.0), glazed(y=300.0, parts=bare)))
    lined = line_up(front, UN)
    # At the outermost station the surface ends; at the centre it goes on either way.
    assert [s.BRRL.status for s in lined.stations[:2]] == ["open_end", "ok"]
    for station in lined.stations[:2]:
        assert station.BRRL.point == pytest.approx((900.0 - BACK, 700.0), abs=1e-6)
    last = lined.stations[2].BRRL
    assert (last.status, last.point) == ("not_available", None)
    assert last.reason == "no point is labelled windscreen, so the sphere cannot be kept on it"
    assert lined.batch.sphere[2].tolist() == [0.0] * 9
    for row, y in ((0, -300.0), (1, 0.0)):
        # Centre a radius above the bonnet; on the glass, square to it, as far from the corner.
        centre, front_at, glass = lined.batch.sphere[row].reshape(3, 3)
        assert centre == pytest.approx((900.0 - BACK, y, 700.0 + RADIUS), abs=1e-6)
        assert front_at == pytest.approx((900.0 - BACK, y, 700.0), abs=1e-6)
        up = BACK * math.sqrt(0.5)
        assert glass == pytest.approx((900.0 + up, y, 700.0 + up), abs=1e-6)


def test_a_foot_across_a_front() -> None:
    ys = np.array([200.0, -100.0, 50.0])
    sections = [glazed(900.0 + y, y) for y in ys]
    contours = Contours.of(sections)
    foot = _Foot.of(contours, ys, mirrored=False)
    assert foot.points.tolist() == [[800, -100, 700], [950, 50, 700], [1100, 200, 700]]
    both = _Foot.of(contours.part(np.array([0])), ys[:1], mirrored=True)
    assert both.points.tolist() == [[1100, -200, 700], [1100, 200, 700]]
    seen = foot.turned().points.tolist()
    assert seen == [[1100, -200, 700], [950, -50, 700], [800, 100, 700]]
    places = np.array([(900.0, -25.0, 0.0), (900.0, 500.0, 0.0), (900.0, -500.0, 0.0)])
    assert foot.behind(places).tolist() == [25.0, -200.0, 100.0]


def triangle(x: float, y: float = 0.0) -> list[tuple[float, float, float]]:
    return [(x - 1.0, y - 1.0, 0.0), (x + 1.0, y - 1.0, 0.0), (x, y + 2.0, 0.0)]


def test_what_is_structure_and_what_is_glass() -> None:
    """UN R127 02 series, 2.22 (text read): no glass, pillars, and nothing rearward of them.

    Without labels glass begins at its foot; structure ends one radius behind it.
    """
    foot = _Foot(np.array([(1000.0, -500.0, 700.0), (1000.0, 500.0, 700.0)]))
    xs = [900.0, 1000.0, 1082.0, 1083.0, 1200.0, 950.0, 960.0, 970.0]
    names = ["bonnet", "windscreen", "cowl", "cowl", "windscreen", "pillar", "ignore", ""]
    codes = np.array([PARTS.index(name) if name else NO_PART for name in names])
    some = Facets(np.array([triangle(x) for x in xs]), codes)
    structure, screen = _divided(some, foot, RADIUS)
    assert structure[:, 2, 0].tolist() == [900.0, 1082.0, 970.0]
    assert screen[:, 2, 0].tolist() == [1000.0, 1200.0]
    bare = Facets(some.corners, np.where(np.isin(codes, [PARTS.index("windscreen")]), 4, codes))
    structure, screen = _divided(bare, foot, RADIUS)
    assert structure[:, 2, 0].tolist() == [900.0, 970.0]
    assert screen[:, 2, 0].tolist() == [1000.0, 1082.0, 1083.0, 1200.0]


def test_lines_are_spread_over_the_stations_asked_for() -> None:
    row = np.arange(6.0).reshape(2, 3)
    own = SphereLine(np.array([True, True]), row, row + 10, row + 20, np.array([False, True]),
                     np.array([True, False]))  # fmt: skip
    full = _spread(own, np.array([False, True, False, True]))
    assert full.touched.tolist() == [False, True, False, True]
    assert full.centre[[1, 3]].tolist() == row.tolist()
    assert full.screen[[1, 3]].tolist() == (row + 20).tolist()
    assert full.front_end.tolist() == [False, False, False, True]
    assert full.screen_end.tolist() == [False, True, False, False]


@pytest.mark.parametrize(
    ("ys", "formed", "i", "expected"),
    [
        # From the next place inboard to the next outboard; from itself where there is none.
        ([-200, -100, 0, 100, 200], [1, 1, 1, 1, 1], 2, (-100, 100)),
        ([-200, -100, 0, 100, 200], [1, 0, 1, 0, 1], 2, (-200, 200)),
        ([0, 100, 200], [1, 1, 1], 2, (100, 200)),
        ([100, 200], [1, 1], 0, (100, 200)),
        ([200, 0, 100], [1, 1, 1], 2, (0, 200)),
        ([-300, -100], [1, 1], 1, (-300, -100)),
    ],
)
def test_the_direction_of_a_seam(ys, formed, i, expected) -> None:
    ys = np.array(ys, dtype=float)
    places = np.stack([900.0 + ys**2 / 1000.0, ys, 700.0 - ys / 20.0], axis=1)
    found = _seam_along(places, np.array(formed, dtype=bool), i)
    ends = [(900.0 + y * y / 1000.0, y, 700.0 - y / 20.0) for y in expected]
    assert found.tolist() == np.subtract(ends[1], ends[0]).tolist()


def test_the_direction_of_a_seam_at_the_centre_of_a_half() -> None:
    places = np.array([(900.0, 0.0, 700.0), (910.0, 100.0, 690.0)])
    assert _seam_along(places, np.array([True, True]), 0).tolist() == [0.0, 200.0, 0.0]
    off = np.add(places, (0.0, 50.0, 0.0))
    assert _seam_along(off, np.array([True, True]), 0).tolist() == [10.0, 100.0, -10.0]


def test_copies_move_as_the_circle_does() -> None:
    """Straight across: the line of a copy is exactly that of a front made of it."""
    ys = (-300.0, 0.0, 300.0)
    front = Front(tuple(glazed(y=y) for y in ys))
    contours = Contours.of(front.sections)
    batch = with_rear(section_lines(contours, UN), contours, front, np.array(ys), UN)
    ruled = RuledRear.of(batch, 1, contours.part(slice(1, 2)), UN)
    assert (ruled.code, ruled.reason) == (0, 0)
    assert ruled.shift == pytest.approx((0.0, 0.0), abs=1e-6)
    own = glazed().points
    moved = [
        own,
        np.add(own, (30.0, 0.0)),
        np.add(own, (0.0, 20.0)),
        np.where(own == 900.0, 950.0, own),
    ]
    copies = Contours.copies(glazed(), np.array(moved))
    found = ruled.on(section_lines(copies, UN), copies, UN).BRRL
    x = [900.0 - BACK, 930.0 - BACK, 900.0 - BACK]
    assert found.x[:3] == pytest.approx(x, abs=1e-6)
    assert found.z[:3] == pytest.approx([700.0, 700.0, 720.0], abs=1e-6)
    assert found.code.tolist() == [0] * 4
    # One on which no sphere rests says so; a line that there is not is none on copies either.
    far = np.array(own)
    far[3:] = (1500.0, 2000.0), (1501.0, 3000.0)
    lost = Contours.copies(glazed(), far[None])
    wall = ruled.on(section_lines(lost, UN), lost, UN).BRRL
    assert wall.code[0] in (0, 8)
    gone = replace(batch, BRRL=LineValues(np.full(3, 9), *np.zeros((2, 3)), np.full(3, 9)))
    none = RuledRear.of(gone, 1, contours.part(slice(1, 2)), UN)
    added = none.on(section_lines(copies, UN), copies, UN).BRRL
    assert (added.code.tolist(), added.reason_code.tolist()) == ([9] * 4, [9] * 4)


def test_without_a_surface_there_is_no_line() -> None:
    contours = Contours.of([glazed()])
    for front, reason in ((Front((glazed(),)), 13), (Front((glazed(),), datum="local"), 14)):
        found = with_rear(section_lines(contours, UN), contours, front, np.zeros(1), UN)
        assert (found.BRRL.code.tolist(), found.BRRL.reason_code.tolist()) == ([9], [reason])
        assert found.sphere.tolist() == [[0.0] * 9]
    assert module.RULED.startswith("BRRL of a changed section: the section is run on")


# --- the template --------------------------------------------------------------------------


def dense(line, step: float = 0.2) -> np.ndarray:
    """The places of a line every so many millimetres."""
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(0.0, arcs[-1], step)
    return np.stack([np.interp(at, arcs, column) for column in np.transpose(line)], axis=1)


def slow(side, rear, radius: float) -> tuple[np.ndarray, float]:
    """Slide the rear end along SRL by steps until the arc comes to the line: touch and angle."""
    places, line = dense(side), dense(rear)
    for k in range(int(2.0 * radius / 0.2), len(places), 3):
        ahead = np.flatnonzero(np.hypot(*(places[:k] - places[k]).T) >= 2.0 * radius)
        if len(ahead) == 0:
            continue
        centre = (places[k] + places[ahead[-1]]) / 2.0
        off = np.hypot(*(line - centre).T)
        if off.min() <= radius:
            touch = line[off.argmin()]
            share = float((touch - centre) @ (places[k] - centre)) / radius**2
            return touch, math.degrees(math.asin(np.clip(share, -1.0, 1.0)))
    raise AssertionError("never there")


@pytest.mark.parametrize("seed", range(4))
def test_the_template_slides_to_where_a_slow_search_stops(seed: int) -> None:
    """Side and rear lines that bend; within what steps of 0.6 mm leave open.

    It fits outside the middle arc, and not at an end of the line.
    """
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 1400.0, 9)
    side = np.stack([x, 700.0 + rng.uniform(-8.0, 8.0, 9)], axis=1)
    sweep = np.radians(np.sort(rng.uniform(12.0, 55.0, 5)))
    step = rng.uniform(60.0, 120.0, 5)[:, None]
    rear = np.concatenate([np.zeros((1, 2)), np.cumsum(
        step * np.stack([np.sin(sweep), np.cos(sweep)], axis=1), axis=0)])  # fmt: skip
    rear += np.array([1000.0, 700.0 - rng.uniform(5.0, 60.0)]) - rear[-1]
    radius = float(rng.choice([100.0, 140.0]))
    touch, angle = slow(side, rear, radius)
    off = np.hypot(*(rear[-1] - touch))
    for middle in (2.0 * angle - 2.0, 2.0 * angle + 2.0):
        found = rear_template(side, rear, [radius], middle)
        assert (found is not None) == (off > 0.5 and middle < 2.0 * angle)
        if found is not None:
            assert np.hypot(*(found.touch - touch)) < 2.0
            assert found.radius == radius
            assert np.hypot(*(dense(side) - found.arc[-1]).T).min() < 0.11
            assert np.hypot(*(dense(rear) - found.touch).T).min() < 0.11
            assert found.arc[0] == pytest.approx(found.touch, abs=1e-4)


def test_the_first_radius_that_fits_is_taken() -> None:
    """Straight lines, swept by 30 deg, ending 60 mm inside: R sin 30 must reach that far."""
    side = np.array([(-2000.0, 700.0), (3000.0, 700.0)])
    end = np.array([1000.0, 640.0])
    rear = np.array([end - 900.0 * np.array([0.5, math.sqrt(0.75)]), end])
    assert rear_template(side, rear, [100.0, 119.0], 90.0) is None
    assert rear_template(side, rear, [100.0, 121.0, 200.0], 90.0).radius == 121.0
    assert rear_template(side, rear, [200.0, 121.0], 90.0).radius == 200.0
    # It touches 90 deg less the sweep from its rear end: 60 deg from the middle, outside any
    # middle arc under 120 deg.
    assert rear_template(side, rear, [121.0], 119.9) is not None
    assert rear_template(side, rear, [121.0], 120.1) is None
    # Over the line where it first fits, there is none to be had.
    assert rear_template(side, np.subtract(rear, (2900.0, 0.0)), [121.0], 90.0) is None
    short = np.array([(-2000.0, 700.0), (-1800.0, 700.0)])
    assert rear_template(short, rear, [121.0], 90.0) is None
