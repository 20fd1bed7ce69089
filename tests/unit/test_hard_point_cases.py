"""Room above stiff parts, case by case: against a plain search, in words, and what is no room.

Fronts are made up; a wedge of a skin, or one of two stretches, has closed forms.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from unit.test_gap_words import above

from frontcheck.errors import ContourError, NotAvailableError
from frontcheck.findings.hard_points import (
    DepthAbove,
    _depth,
    _depths_above,
    _in_the_air,
    _Skin,
    free_depth,
    hard_point_findings,
)
from frontcheck.front.beside import HardPoint
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.people.impactors import headforms, square_pulse_stop_distance
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section

R127 = rule_set("UN-R127-02")
CHILD, ADULT = headforms(R127)


def gone(angle_deg: float) -> tuple[float, float]:
    return math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))


# --- free depth --------------------------------------------------------------------


def plain_depth(skin, point, travel):
    """Every stretch in turn: the first met on the way back, and the nearest place."""
    near, best = (math.inf, 0, 0.0), (math.inf, None)
    for i, (a, b) in enumerate(zip(skin, skin[1:], strict=False)):
        d, to = b - a, point - a
        t = min(max(float(d @ to / (d @ d)), 0.0), 1.0)
        near = min(near, (float(np.hypot(*(to - t * d))), i, t), key=lambda found: found[0])
        if abs(d[0] * travel[1] - d[1] * travel[0]) > 1e-12:
            # a + t d = point - s travel
            t, s = np.linalg.solve(np.column_stack([d, travel]), to)
            if 0.0 <= t <= 1.0 and 0.0 <= s < best[0]:
                best = (float(s), i)
    return near, best


def test_free_depth_is_that_of_a_search_stretch_by_stretch() -> None:
    rng = np.random.default_rng(11)
    seen = set()
    for _ in range(150):
        n = int(rng.integers(3, 9))
        # Strictly rising setbacks: no contour crosses itself, air is above.
        skin = np.column_stack([np.cumsum(rng.uniform(20, 300, n)), rng.uniform(500, 1000, n)])
        point = rng.uniform((-50, 450), (skin[-1, 0] + 100, 1050))
        travel = gone(rng.uniform(20, 85))
        found = free_depth(skin, tuple(point), travel)
        (normal, at, t), (way, i) = plain_depth(skin, point, np.array(travel))
        assert found.along_normal == pytest.approx(normal, abs=1e-9)
        inside = skin[0, 0] < point[0] < skin[-1, 0]
        air = inside and point[1] > np.interp(point[0], *skin.T)
        seen.add((found.status, bool(air)))
        at_an_end = (at, t) in ((0, 0.0), (n - 2, 1.0))  # what lies there is not known
        if air:
            assert found.status == ("open" if i is None and at_an_end else "outside")
        if found.status == "under":
            assert (found.along_travel, found.stretch) == (pytest.approx(way), i)
            assert found.skin == pytest.approx(point - way * np.array(travel))
            assert not air
        else:
            assert (found.along_travel, found.skin, found.stretch) == (None, None, None)
        if not air and inside and i is not None and travel[0] > 0.0:
            d = skin[i + 1] - skin[i]
            assert (found.status == "under") == (d[0] * -travel[1] - d[1] * -travel[0] > 0.0)
    assert {("under", False), ("outside", True), ("open", False)} <= seen


def test_the_corner_of_a_skin_is_met_and_a_point_on_it_has_no_room() -> None:
    skin = np.array([[0.0, 500.0], [0.0, 800.0], [1000.0, 800.0]])
    travel = gone(45.0)
    under = free_depth(skin, (100.0, 700.0), travel)  # back through the corner itself
    assert (under.status, under.along_travel) == ("under", pytest.approx(100.0 * math.sqrt(2.0)))
    assert under.skin == pytest.approx((0.0, 800.0))
    for point in ((0.0, 800.0), (1000.0, 800.0), (0.0, 500.0), (0.0, 650.0)):
        on = free_depth(skin, point, travel)
        assert (on.status, on.along_travel) == ("under", 0.0), point
    assert free_depth(skin, (1000.5, 800.5), travel).status == "open"
    assert free_depth(skin, (500.0, 800.2), travel).status == "outside"
    # On a rear face the way back leads through the body, and still there is no room.
    fold = np.vstack([skin, [[1000.0, 500.0]]])
    assert free_depth(fold, (1000.0, 650.0), travel).along_travel == 0.0
    fine = np.column_stack([np.arange(0.0, 30.0, 0.5), np.full(60, 800.0)])
    under = free_depth(fine, (20.0, 790.0), travel)
    assert (under.status, under.along_travel) == ("under", pytest.approx(10.0 * math.sqrt(2.0)))


def test_the_tip_of_a_skin_has_air_about_it_and_the_foot_of_a_slot_has_none() -> None:
    """Where a contour turns sharply, the mean of both directions tells air from body."""
    # It turns right at (100, 0): air all round that end.
    tip = np.array([[-5000.0, 8000.0], [0.0, 0.0], [100.0, 0.0], [0.0, -10.0], [-50.0, -90.0]])
    slot = tip * [1.0, -1.0]
    for skin, air in ((tip, True), (slot, False)):
        d = np.diff(skin, axis=0)
        for point in ((110.0, 5.0), (110.0, -12.0), (110.0, 0.0), (110.0, 12.0), (110.0, -5.0)):
            to = np.array(point) - skin[:-1]
            assert _in_the_air(d, to, 1, 1.0) is air, point
            assert _in_the_air(d, to, 2, 0.0) is air, point
        # Beyond either end of a contour nothing is known.
        for point in ((-10.0, 5.0), (-10.0, -20.0)):
            to = np.array(point) - skin[:-1]
            assert _in_the_air(d, to, 0, 0.0) is False
            assert _in_the_air(d, to, len(d) - 1, 1.0) is False
        above, below = (np.array((50.0, z)) - skin[:-1] for z in (5.0, -5.0))
        assert (_in_the_air(d, above, 1, 0.5), _in_the_air(d, below, 1, 0.5)) == (True, False)


# --- the skin across the vehicle ---------------------------------------------------


class Roof:
    """A skin that rises rearward by a tenth and falls to the right by half; none at some places."""

    y_range = (-100.0, 100.0)

    def __init__(self, holes=()) -> None:
        self.holes = holes

    def section(self, y: float) -> Section:
        if any(abs(y - hole) < 5.0 for hole in self.holes):
            raise ContourError("it crosses itself", expected="a plain one", todo="look")
        z = 800.0 - 0.5 * y
        return Section([(0.0, z - 50.0), (500.0, z), (1000.0, z + 50.0)], y)


def skin_of(surface, ys=(0.0,), refused="it is refused") -> _Skin:
    skin = object.__new__(_Skin)
    skin.front = SimpleNamespace(
        stations=ys, datum="common", section=lambda y: Section([(0, 9), (1, 9), (2, 9)], y)
    )
    skin.refused, skin.surface = refused, surface
    return skin


@pytest.mark.parametrize(("y", "z"), [(0.0, 760.0), (45.0, 700.0), (-80.0, 800.0), (90.0, 754.0)])
def test_the_shortest_way_to_the_skin_is_sought_60_mm_to_either_side(y: float, z: float) -> None:
    """Every 10 mm, own choice; by Pythagoras with the depth in each section."""
    point = HardPoint(500.0, y, z, "latch", "latch")
    holes = (y + 10.0,)
    tenth = math.hypot(1.0, 0.1)  # the normal of the skin leans by that
    own = (800.0 - 0.5 * y - z) / tenth
    across = [k for k in range(-60, 61, 10) if -100.0 <= y + k <= 100.0 and k != 10]
    plain = min(math.hypot((800.0 - 0.5 * (y + k) - z) / tenth, k) for k in across)
    assert skin_of(Roof(holes)).distance(point, own) == pytest.approx(plain)
    assert skin_of(Roof(holes)).distance(point, own) <= own
    assert skin_of(None).distance(point, own) == own
    far = skin_of(Roof()).distance(HardPoint(500.0, 0.0, 300.0, "deep", "deep"), 500.0)
    assert far == pytest.approx(math.hypot(470.0 / tenth, 60.0))


def test_a_section_is_had_at_its_own_station_or_cut_from_the_surface() -> None:
    skin = skin_of(Roof((50.0,)))
    assert skin.section(0.0).z[0] == 9.0
    assert skin.section(-100.0).z[0] == 800.0
    assert skin.section(100.0).z[0] == 700.0
    for y, words in (
        (100.5, "it lies beyond the outermost stations measured, -100 and 100 mm"),
        (-100.5, "it lies beyond the outermost stations measured, -100 and 100 mm"),
        (50.0, "the surface gives no section there: found it crosses itself"),
    ):
        with pytest.raises(NotAvailableError, match=words):
            skin.section(y)
    with pytest.raises(NotAvailableError, match="it is refused"):
        skin_of(None).section(1.0)
    assert skin_of(None).section(0.0).z[0] == 9.0


def test_the_skin_between_stations_is_that_of_the_zones() -> None:
    """Level bonnets 800, 780 and 700 mm up: half way straight lies at the mean, smooth does not."""
    sections = tuple(
        Section([(300.0, 250.0), (0.0, 300.0), (0.0, z), (1500.0, z)], y)
        for y, z in ((0.0, 800.0), (300.0, 780.0), (600.0, 700.0))
    )
    lined = line_up(Front(sections), R127)
    top = {kind: _Skin(lined, kind).section(450.0).z.max() for kind in ("straight", "smooth")}
    assert top["straight"] == pytest.approx(740.0)
    assert abs(top["smooth"] - 740.0) > 1.0


NOSE = [(300.0, 250.0), (0.0, 300.0), (0.0, 800.0), (1500.0, 800.0)]
PLAIN = line_up(Front((Section(NOSE), Section(NOSE, 300.0))), R127)


def depth(point, form=CHILD, *, holds=True, lined=PLAIN, skin=None):
    asked = []

    def inside(name, y, wad):
        asked.append((name, y, wad))
        return holds

    areas = SimpleNamespace(holds=inside)
    one = _depth(lined, areas, _Skin(lined, "smooth") if skin is None else skin, point, form)
    return one, asked


@pytest.mark.parametrize("form", [CHILD, ADULT])
def test_room_under_a_level_bonnet(form) -> None:
    """40 mm deep: 40 / sin(50 or 65 deg) along the travel; WAD is 800 mm up and then along."""
    point = HardPoint(700.0, 150.0, 760.0, "latch", "lock")
    back = 40.0 / math.tan(math.radians(form.angle_deg))
    for holds in (True, False):
        one, asked = depth(point, form, holds=holds)
        assert (one.point, one.headform, one.status) == (point, form.name, "under")
        assert one.along_travel == pytest.approx(40.0 / math.sin(math.radians(form.angle_deg)))
        assert one.along_normal == pytest.approx(40.0)
        assert one.skin == pytest.approx((700.0 - back, 150.0, 800.0))
        assert one.wad == pytest.approx(1500.0 - back)
        assert (one.in_area, one.reason) == (holds, "")
        assert asked == [(form.name, 150.0, one.wad)]


def test_what_is_outside_or_out_of_reach_has_no_room() -> None:
    outside, asked = depth(HardPoint(700.0, 0.0, 830.0, "wiper", "arm"), holds=True)
    assert outside == DepthAbove(
        outside.point, "child", "outside", None, pytest.approx(30.0), None, None, False
    )
    assert asked == []
    behind, _ = depth(HardPoint(1900.0, 0.0, 700.0, "box", "box"), ADULT)
    assert (behind.status, behind.along_normal, behind.in_area) == ("not assessed", None, False)
    assert behind.reason == "no skin of the section lies on the adult headform's way to it"
    beyond, _ = depth(HardPoint(700.0, 301.0, 700.0, "box", "box"))
    assert beyond.reason == "it lies beyond the outermost stations measured, 0 and 300 mm"
    local = line_up(Front((Section(NOSE), Section(NOSE, 300.0)), datum="local"), R127)
    refused, _ = depth(HardPoint(700.0, 0.0, 700.0, "box", "box"), lined=local)
    assert (refused.status, refused.headform) == ("not assessed", "child")
    assert refused.reason.startswith("setbacks are from a datum set anew at each station")


def test_one_section_alone_is_a_skin_at_its_own_station() -> None:
    alone = line_up(Front((Section(NOSE),)), R127)
    own, _ = depth(HardPoint(700.0, 0.0, 760.0, "latch", "lock"), lined=alone)
    assert (own.status, own.along_normal) == ("under", pytest.approx(40.0))
    off, asked = depth(HardPoint(700.0, 1.0, 760.0, "latch", "lock"), lined=alone)
    assert (off.status, off.along_travel, off.wad, asked) == ("not assessed", None, None, [])
    assert off.reason == "there is one station only, and one section makes no surface"
    half = line_up(Front((Section(NOSE), Section(NOSE, 300.0)), symmetric=True), R127)
    for y in (-300.0, -120.0, 300.0):
        left, asked = depth(HardPoint(700.0, y, 760.0, "latch", "lock"), lined=half)
        assert (left.status, left.skin[1], asked[0][1]) == ("under", y, y)


def test_a_tape_of_the_vehicle_stands_below_its_foremost_point() -> None:
    """Station 300 stands 100 mm behind: its tape goes 100 mm back and then along."""
    behind = [(x + 100.0, z) for x, z in NOSE]
    point = HardPoint(800.0, 300.0, 760.0, "latch", "lock")
    back = 40.0 / math.tan(math.radians(50.0))
    both = Front((Section(NOSE), Section(behind, 300.0)))
    for start, wad in (
        ("section", 1500.0 - back),
        ("vehicle", math.hypot(100.0, 800.0) + 700.0 - back),
    ):
        one, _ = depth(point, lined=line_up(both, R127, tape_start=start))
        assert one.wad == pytest.approx(wad)
    lined = line_up(both, R127, tape_start="vehicle")
    points = (point, HardPoint(800.0, 0.0, 700.0, "b", "b"))
    areas = SimpleNamespace(holds=lambda *_: True)
    above = _depths_above(lined, areas, points, "straight")
    assert [(d.point.name, d.headform) for d in above] == [
        ("latch", "child"), ("latch", "adult"), ("b", "child"), ("b", "adult"),
    ]  # fmt: skip
    assert _depths_above(lined, areas, (), "straight") == ()


# --- findings ----------------------------------------------------------------------


def short(*depths, hic=1000.0):
    return hard_point_findings(PLAIN, depths, hic)


def test_too_little_room_is_told_with_what_other_cases_need() -> None:
    """v^2 / (2 a g) with a = (HIC g / v)^(2/3): 47.9 mm at HIC 1000 and 35 km/h, 68.4 at 40 km/h;
    by 1.7^(2/3) less at HIC 1700; 75 % of it for any pulse."""
    (low,) = short(above(30.0))
    assert low.code == "HEAD-DEPTH-BELOW-BOUND"
    assert low.message == (
        "Stiff part below the skin, latch (lock) at y = 120 mm has 30.0 mm of room below the skin "
        "along the child headform's travel (25.0 mm along the normal), less than the 35.9 mm that "
        "any pulse needs for HIC 1000 at 35 km/h; a constant pulse would also need 33.6 mm (HIC "
        "1700, 35 km/h), 68.4 mm (HIC 1000, 40 km/h), 48.0 mm (HIC 1700, 40 km/h), any pulse 75 % "
        "of that."
    )
    assert low.region.name == "latch under the child headform area"
    assert low.region.outline_mm == ((480.0, 120.0, 730.0), (500.0, 120.0, 700.0))
    assert (low.station, low.value) == (120.0, 30.0)
    assert low.settled_by == "child headform test at y = 120 mm, WAD 1234"
    (some,) = short(above(40.0, headform="adult"))
    assert some.code == "HEAD-DEPTH-BELOW-SQUARE"
    assert (
        "less than the 47.9 mm that a constant pulse needs (35.9 mm any) for HIC 1000 at 35 km/h; "
        "a constant pulse would also need 68.4 mm (HIC 1000, 40 km/h), 48.0 mm (HIC 1700, 40 km/h)"
    ) in some.message
    (only,) = short(above(70.0), hic=500.0)
    assert only.message.endswith("(57.0 mm any) for HIC 500 at 35 km/h.")
    (other,) = short(above(33.0), hic=1700.0)
    assert "also need 47.9 mm (HIC 1000, 35 km/h), 68.4 mm" in other.message


def test_room_exactly_at_a_limit_is_enough_for_it() -> None:
    square = float(square_pulse_stop_distance(1000.0, 35.0))
    assert short(above(square)) == ()
    (one,) = short(above(0.75 * square))
    assert (one.code, one.limit) == ("HEAD-DEPTH-BELOW-SQUARE", (0.75 * square, square))
    assert short(above(20.0, in_area=False), above(None, status="not assessed")) == ()


def test_what_stands_outside_is_told_once() -> None:
    out = above(None, status="outside", in_area=False, normal=29.6)
    both = (out, above(None, status="outside", headform="adult", in_area=False))
    other = HardPoint(1.0, 2.0, 3.0, "hinge", "hinge")
    one, two = short(*both, above(None, status="outside", point=other, normal=None))
    assert one.message == (
        "Stiff part below the skin, latch (lock) at y = 120 mm stands 30 mm outside the skin."
    )
    assert (one.value, one.station) == (29.6, 120.0)
    assert one.region.outline_mm == ((500.0, 120.0, 700.0),)
    assert (two.value, two.region.name) == (0.0, "hinge")
    # One headform may find it outside and the other in its area, short of room.
    codes = [f.code for f in short(both[0], above(20.0, headform="adult"))]
    assert codes == ["HEAD-HARD-POINT-OUTSIDE", "HEAD-DEPTH-BELOW-BOUND"]
