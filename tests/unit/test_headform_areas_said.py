"""Headform areas: every status and reason, and areas of closed form within uneven bounds.

An upright face 700 mm high and a level bonnet behind it: the wrap-around distance is 700 + x, the
arc along every contour is x and a constant. Child area WAD 1000 to 1700, adult to 2100 (UN R127 02
series, 2.16 and 2.1, text read): x from 300 to 1000 mm, and to 1400 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from front_shapes import front_of

from frontcheck.lines.line_values import REASONS, LineValues
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.side import SideContacts
from frontcheck.zones.headform import (
    SectionBounds,
    SideBound,
    enclosed,
    headform_area,
    section_bounds,
    side_bound,
)
from frontcheck.zones.lines_across import Across, sections_across

TOP = math.hypot(200.0, 10.0) + 450.0  # arc of the upper end of the face
YS = np.arange(-700.0, 701.0, 100.0)
NO_GLASS = "no point is labelled windscreen, so the sphere cannot be kept on it"
OPEN_SIDE = (
    "the sides are bounded from the outermost contours measured, so the area may reach farther out"
)
BY_WAD = "BRRL is not known, so the rear bound is the WAD line alone"
UN, LATER = "UN-R127-02", "UN-R127-03"


@cache
def bonnet(depth: float = 2600.0, rules: str = UN, low: float = -700.0) -> Across:
    """Sections of the bonnet, `depth` long, from `low` to 700 mm."""
    ys = [y for y in YS if y >= low]
    front = front_of(lambda _: [(200, 240), (0, 250), (0, 700), (depth, 700)], ys)
    lined = line_up(front, rules)
    return sections_across(front.surface("straight"), lined, ys, rows_mm=100.0)


def bounds(front=0.0, rear=math.nan, offset=82.5) -> SectionBounds:
    """Bounds at setbacks, alike on all contours or one a contour."""
    ends = [TOP + np.broadcast_to(np.asarray(value, dtype=float), len(YS)) for value in
            (front, rear)]  # fmt: skip
    return SectionBounds(offset, *ends)


def sides(left=600.0, right=600.0, open_end=(False, False)) -> tuple[SideBound, SideBound]:
    """Side bounds at x = 0 and 2000: widths, or one width of both."""
    return tuple(
        SideBound(np.array([(0.0, np.ravel(w)[0], 700.0), (2000.0, np.ravel(w)[-1], 700.0)]), ended)
        for w, ended in zip((left, right), open_end, strict=True)
    )


def line(reasons=0, codes=0) -> LineValues:
    """A line whose status and reason are given by contour."""
    codes, reasons = (np.broadcast_to(v, len(YS)).astype(int) for v in (codes, reasons))
    return LineValues(codes, np.zeros(len(YS)), np.zeros(len(YS)), reasons)


NONE = SideBound(np.empty((0, 3)), False)
NOWHERE = np.where(np.abs(YS) > 450.0, math.nan, 0.0)  # not known at -700 .. -500 and 500 .. 700
RIGHT = np.where(YS > 450.0, math.nan, 900.0)


def area(name, across=None, bound=None, side=None, blerl=None, brrl=None):
    across = bonnet() if across is None else across
    lines = {"BLERL": blerl or line(), "BRRL": brrl or across.lines.BRRL}
    across = replace(across, lines=replace(across.lines, **lines))
    return headform_area(name, across, bound or bounds(), *(side or sides()))


HALF = bonnet(low=0.0)
ONE_SIDE = "stations lie on one side of the centre plane only"


def lost(bound: str, count: int, low: int) -> str:
    return f"the {bound} bound is not known at {count} contours (y from {low} to 600 mm)"


MISSING = {
    "no left side": (
        {"side": (NONE, sides()[1])}, "SRL less 82.5 mm could not be formed on both sides",
    ),
    "no right side": (
        {"side": (sides()[0], NONE), "bound": bounds(offset=0.0)},
        "SRL could not be formed on both sides",
    ),
    "one side measured": (
        {"side": (NONE, sides()[1]), "across": HALF, "blerl": HALF.lines.BLERL},
        f"SRL less 82.5 mm could not be formed on both sides: {ONE_SIDE}",
    ),
    "short, front": (
        {"across": bonnet(250.0)},
        f"{lost('front', 13, -600)}: the contour ends before the front bound",
    ),
    "short, rear": (
        {"across": bonnet(900.0), "brrl": line()},
        f"{lost('rear', 13, -600)}: the contour ends before BRRL less 82.5 mm",
    ),
    "short, rear, line to line": (
        {"across": bonnet(900.0), "brrl": line(), "bound": bounds(offset=0.0)},
        f"{lost('rear', 13, -600)}: the contour ends before BRRL",
    ),
    "short, no windscreen": (
        {"across": bonnet(900.0)},
        f"{lost('rear', 13, -600)}: {NO_GLASS}",
    ),
    "no leading edge": (
        {"bound": bounds(front=NOWHERE), "blerl": line(np.where(YS < -550.0, 6, 7))},
        f"{lost('front', 4, -600)}: {REASONS[6]}",
    ),
    # A contour exactly at the side counts: what is beyond stands for nothing there.
    "at the side": (
        {"bound": bounds(front=np.where(np.abs(YS) == 600.0, np.nan, 400.0), rear=900.0)},
        f"{lost('front', 2, -600)}: the contour ends before the front bound",
    ),
    "some of the rear": (
        {"across": bonnet(950.0), "bound": bounds(rear=RIGHT), "brrl": line()},
        f"{lost('rear', 2, 500)}: the contour ends before BRRL less 82.5 mm",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MISSING)
def test_areas_that_cannot_be_formed(name: str) -> None:
    given, reason = MISSING[name]
    found, shape = area("child", **given)
    assert (found.name, found.status, found.reason) == ("child", "not_available", reason)
    assert (found.area_m2, found.outlines, found.formed, shape) == (None, (), False, None)


OPENED = line(np.where(YS == 300.0, 16, 0), np.where(YS == 300.0, 7, 0))
BEYOND = line(np.where(YS == 700.0, 16, 0), np.where(YS == 700.0, 7, 0))
FORMED = {
    # 700 mm between the WAD lines, 1200 mm between the sides.
    "by WAD": ("child", {}, 0.84, "wad_only", f"{BY_WAD}: {NO_GLASS}"),
    "adult by WAD": ("adult", {}, 0.48, "wad_only", f"{BY_WAD}: {NO_GLASS}"),
    "by WAD, no reason": ("child", {"brrl": line()}, 0.84, "wad_only", BY_WAD),
    "between lines": ("child", {"bound": bounds(400.0, 900.0)}, 0.6, "ok", ""),
    "rear bound by WAD": ("child", {"bound": bounds(400.0, 1100.0)}, 0.72, "ok", ""),
    "front bound by WAD": ("child", {"bound": bounds(200.0, 900.0)}, 0.72, "ok", ""),
    "left end open": (
        "child", {"bound": bounds(400, 900), "side": sides(open_end=(True, False))}, 0.6,
        "open_end", OPEN_SIDE,
    ),
    "right end open": (
        "child", {"bound": bounds(400, 900), "side": sides(open_end=(False, True))}, 0.6,
        "open_end", OPEN_SIDE,
    ),
    "open and by WAD": (
        "child", {"side": sides(open_end=(True, True))}, 0.84, "open_end",
        f"{BY_WAD}: {NO_GLASS}; {OPEN_SIDE}",
    ),
    "leading edge open": (
        "child", {"bound": bounds(400, 900), "blerl": OPENED}, 0.6, "open_end", REASONS[16],
    ),
    "rear line open": (
        "child", {"bound": bounds(400, 900), "brrl": OPENED}, 0.6, "open_end", REASONS[16],
    ),
    "open beyond": ("child", {"bound": bounds(400, 900), "brrl": BEYOND}, 0.6, "ok", ""),
    "rear line open and side": (
        "child", {"bound": bounds(400, 900), "brrl": OPENED,
                  "side": sides(open_end=(True, False))}, 0.6, "open_end", REASONS[16],
    ),
    "no depth": (
        "child", {"bound": bounds(900, 900)}, 0.0, "ok",
        "the front bound lies behind the rear bound everywhere: no area",
    ),
    "behind": (
        "child", {"bound": bounds(950, 900), "side": sides(open_end=(True, True))}, 0.0, "ok",
        "the front bound lies behind the rear bound everywhere: no area",
    ),
    # Uneven sides: 500 left and 300 right; from 400 to 700 and from 600 to 200 over 2000 mm.
    "uneven": ("child", {"bound": bounds(400, 900), "side": sides(500, 300)}, 0.4, "ok", ""),
    "leaning": (
        # Widths at x = 650: 497.5 and 470, the mean over 400 to 900.
        "child", {"bound": bounds(400, 900), "side": sides((400, 700), (600, 200))}, 0.48375,
        "ok", "",
    ),
    # Between contours 100 mm apart the side bound cuts off half a strip.
    "between contours": (
        "child", {"bound": bounds(400, 900), "side": sides(550, 550)}, 0.55, "ok", "",
    ),
    # The contour just beyond the side takes the bounds of its neighbour where it has none.
    "beyond, not known": (
        # It leans by 1:10: the strips at either end are 560 and 440 mm deep.
        "child", {"bound": bounds(np.where(np.abs(YS) > 650, np.nan, 400 + YS / 10), 900),
                  "side": sides(650, 650)}, 0.65, "ok", "",
    ),
    "beyond, rear not known": (
        "child", {"bound": bounds(400, np.where(np.abs(YS) > 650, np.nan, 900)),
                  "across": bonnet(950.0), "brrl": line(), "side": sides(650, 650)}, 0.65,
        "wad_only", BY_WAD,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMED)
def test_areas_that_are_formed(name: str) -> None:
    which, given, square, status, reason = FORMED[name]
    found, shape = area(which, **given)
    assert (found.name, found.status, found.reason) == (which, status, reason)
    assert found.area_m2 == pytest.approx(square, abs=2e-6)
    assert found.formed
    assert shape is not None
    assert len(found.outlines) == (square > 0.0)
    for outline in found.outlines:
        # Level: the outline seen from above has the area of the surface.
        assert shapely.Polygon(np.array(outline.points)[:, :2]).area == pytest.approx(
            square * 1e6, rel=1e-9
        )
        assert {z for _, _, z in outline.points} == {700.0}
        wads = [x + 700.0 for x, _, _ in outline.points]
        assert outline.wad == pytest.approx(wads, abs=1e-6)


def test_the_larger_of_two_parts_comes_first() -> None:
    """Front and rear bound meet from y = -100 to 200: what is left and right of it, apart."""
    rear = np.where((YS >= -100.0) & (YS <= 200.0), 400.0, 900.0)
    found, _ = area("child", bound=bounds(400.0, rear), side=sides(500, 600))
    # 300 mm on either side 500 mm deep, and a strip of 100 mm that runs out.
    assert found.area_m2 == pytest.approx(2 * 0.5 * (0.3 + 0.05), abs=1e-5)
    found, _ = area("child", bound=bounds(400.0, rear), side=sides(600, 500))
    signs = [np.sign(np.mean([y for _, y, _ in one.points])) for one in found.outlines]
    assert signs == [-1.0, 1.0]
    sizes = [shapely.Polygon(np.array(one.points)[:, :2]).area for one in found.outlines]
    assert sizes == pytest.approx([225_000.0, 125_000.0], rel=1e-9)


def test_an_area_that_goes_on_over_glass_says_how_far_it_is_known() -> None:
    """The 03 series, provisional: adult area from x = 1000; to 1600 it has 600 mm by 1200 mm."""
    across = bonnet(rules=LATER)
    found, shape = area("adult", across, bounds(0.0, 1600.0))
    assert shape is None
    assert (found.status, found.area_m2) == ("not_available", None)
    assert found.reason == (
        "the area of this rule set goes on over cowl and windscreen, where it is not formed; up to "
        "BRRL less 82.5 mm it has 0.72 m2"
    )
    found, shape = area("adult", across, bounds(0.0, 1800.0), brrl=line())
    assert (found.status, found.area_m2) == ("ok", pytest.approx(0.96))
    assert shape is not None


# --- bounds --------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [0.0, 82.5])
def test_bounds_of_sections_lie_a_tape_behind_and_ahead(length: float) -> None:
    """From BLERL at the upper end of the face rearward, from the rear line forward on the level."""
    rear = np.where(YS == 300.0, np.nan, TOP + 1000.0 - YS / 10.0)
    found = section_bounds(bonnet(), rear, length)
    assert found.offset == length
    assert found.front == pytest.approx(np.full(len(YS), TOP + length), abs=1e-6)
    known = YS != 300.0
    assert np.array_equal(np.isnan(found.rear), ~known)
    assert found.rear[known] == pytest.approx(rear[known] - length, abs=1e-6)


def contacts(y: float, z: float, *, ended: bool = False, touched: bool = True) -> SideContacts:
    x = np.array([100.0, 500.0, 900.0])
    full = np.full(3, True)
    held = np.array([True, touched, True])
    return SideContacts(held, x, np.full(3, y), np.full(3, z), full & [False, ended, False])


def test_side_bounds_lie_a_tape_inboard() -> None:
    across = bonnet()
    for ended in (False, True):
        bound = side_bound(across, contacts(650.0, 700.0, ended=ended), 82.5)
        assert bound.open_end is ended
        expected = [(x, 567.5, 700.0) for x in (100.0, 500.0, 900.0)]
        assert np.abs(bound.points - expected).max() < 1e-6
    # An end that is not touched does not count, nor does its place.
    bound = side_bound(across, contacts(650.0, 700.0, ended=True, touched=False), 82.5)
    assert bound.open_end is False
    assert bound.points[:, 0].tolist() == [100.0, 900.0]
    whole = side_bound(across, contacts(650.0, 640.0), 0.0)
    assert whole.points.tolist() == [[x, 650.0, 640.0] for x in (100.0, 500.0, 900.0)]
    # From 50 mm out and 30 mm below the level the tape goes up first: sqrt(50^2 + 30^2).
    bound = side_bound(across, contacts(650.0, 670.0), 82.5)
    assert bound.points[:, 1] == pytest.approx(600.0 - (82.5 - math.hypot(50.0, 30.0)), abs=1e-6)
    assert bound.points[:, 2] == pytest.approx(700.0)
    assert [float(bound.width(np.array(x))) for x in (0.0, 300.0, 2000.0)] == pytest.approx(
        [bound.points[0, 1]] * 3
    )
    # Nothing lies inboard of the innermost contour of one side.
    assert len(side_bound(bonnet(low=0.0), contacts(0.0, 700.0), 82.5).points) == 0
    # Behind the end of the contours there is no surface to lay it on.
    short = side_bound(bonnet(600.0), contacts(650.0, 700.0), 82.5)
    assert short.points[:, 0].tolist() == [100.0, 500.0]


def test_what_a_ring_encloses() -> None:
    square = [(0, 0, 5), (2, 0, 5), (2, 2, 5), (0, 2, 5)]
    assert enclosed(square).area == 4.0
    assert enclosed(square[:2]).is_empty
    bow = enclosed([(0, 0), (2, 2), (2, 0), (0, 2)])
    assert bow.area == pytest.approx(2.0)
    to_and_fro = enclosed([(0, 0), (2, 0), (2, 2), (2, 0), (0, 0), (0, 2)])
    assert to_and_fro.area == 0.0
