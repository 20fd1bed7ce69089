"""Moved features of a polygonal nose, whose lines are worked out by hand before and after.

Every line touches a corner of the polygon: the lower bumper line (edge 25 deg forward) the lower
lip, the upper one (20 deg rearward) the upper lip, the leading edge line (50 deg rearward, from
600 mm) the leading edge. A corner that moves in full takes its line along by as much. Definitions:
UN R127 02 series, 2.26, 2.38, 2.7, 2.43.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from checks import Check, derived

import frontcheck as fc
from frontcheck.study.moves import BLEND_MM, HANDLES, amounts_of, morph_field, morph_front

MOVED = Check(
    "moved-features",
    kind="closed form",
    quantity="lines, lead and WAD 1000 of a polygon after moves of its features",
    unit="mm",
    source=derived("corners of the polygon; UN R127 02 series, 2.26, 2.38, 2.7, 2.43"),
    why="rounding of doubles",
)

LIP, RECESS, UPPER, EDGE, CROWN, REAR = (40, 300), (70, 400), (0, 500), (60, 750), (500, 860), (
    1000, 930)  # fmt: skip
POINTS = [(400, 190), (200, 200), LIP, RECESS, UPPER, EDGE, CROWN, REAR, (1500, 1200)]
PARTS = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"]
NOSE = fc.Front((fc.Section(POINTS, parts=PARTS),), name="polygon")
EXACT = 1e-9


def lines(front: fc.Front) -> dict[str, float]:
    at = fc.screen(front, "UN-R127-02", (1000,)).station(0)
    return {
        "LBRL": (at.LBRL.x, at.LBRL.z), "UBRL": (at.UBRL.x, at.UBRL.z),
        "BLERL": (at.BLERL.x, at.BLERL.z), "lead": (at.bumper_lead,),
        "WAD": (at.wad(1000).x, at.wad(1000).z),
    }  # fmt: skip


def wad(foremost: float, upper, edge, crown) -> tuple[float, float]:
    """A tape of 1000 mm: plumb up to the upper lip, straight to the edge, then on the bonnet."""
    left = 1000.0 - upper[1] - math.dist(upper, edge)
    share = left / math.dist(edge, crown)
    assert foremost == upper[0]
    assert 0 < share < 1
    return tuple(a + share * (b - a) for a, b in zip(edge, crown, strict=True))


BEFORE = {
    "LBRL": LIP, "UBRL": UPPER, "BLERL": EDGE, "lead": (60.0,), "WAD": wad(0, UPPER, EDGE, CROWN)
}  # fmt: skip

BY_HAND = {
    "upper lip forward": (
        {"upper_lip": {"forward": 20}},
        {"UBRL": (-20, 500), "lead": (80,), "WAD": wad(-20, (-20, 500), EDGE, CROWN)},
    ),
    "upper lip up": (
        {"upper lip": {"up": 30}}, {"UBRL": (0, 530), "WAD": wad(0, (0, 530), EDGE, CROWN)}
    ),
    "lower lip back": ({"lower_lip": {"back": 15}}, {"LBRL": (55, 300)}),
    "lower lip down by a negative up": ({"lower-lip": {"up": -25}}, {"LBRL": (40, 275)}),
    "recess": ({"recess": {"deeper": 40}}, {}),
    "face of the bumper": (
        {"bumper_face": {"back": 12, "up": 4}},
        {"LBRL": (52, 304), "UBRL": (12, 504), "lead": (48,),
         "WAD": wad(12, (12, 504), EDGE, CROWN)},
    ),
    "leading edge": (
        {"leading_edge": {"up": -40, "back": 10}},
        {"BLERL": (70, 710), "lead": (70,), "WAD": wad(0, UPPER, (70, 710), CROWN)},
    ),
    "height of the bonnet": (
        {"bonnet_height": {"up": 25}}, {"WAD": wad(0, UPPER, EDGE, (500, 885))}
    ),
    "ride height": (
        {"ride_height": {"up": 50}},
        {"LBRL": (40, 350), "UBRL": (0, 550), "BLERL": (60, 800),
         "WAD": wad(0, (0, 550), (60, 800), (500, 910))},
    ),
    "nose": (
        {"nose": {"forward": 30}},
        {"LBRL": (10, 300), "UBRL": (-30, 500), "BLERL": (30, 750)},
    ),
    "two at once": (
        {"upper_lip": {"forward": 5}, "ride_height": {"down": 10}},
        {"LBRL": (40, 290), "UBRL": (-5, 490), "BLERL": (60, 740), "lead": (65,),
         "WAD": wad(-5, (-5, 490), (60, 740), (500, 850))},
    ),
}  # fmt: skip


def test_the_nose_as_it_is() -> None:
    assert lines(NOSE) == {name: pytest.approx(at, abs=EXACT) for name, at in BEFORE.items()}


@pytest.mark.parametrize("name", BY_HAND)
def test_lines_after_a_move_are_those_worked_out_by_hand(name: str) -> None:
    moves, changed = BY_HAND[name]
    made = fc.what_if(NOSE, moves)
    found = lines(made.front)
    wanted = BEFORE | changed
    if name == "nose":  # the crown goes along in part: see the fade
        del wanted["WAD"], found["WAD"]
    assert found.keys() == wanted.keys()
    for line, at in wanted.items():
        MOVED.compare(at, found[line], tolerance=EXACT, case=f"{name}, {line}")


def test_a_bonnet_turns_by_the_angle_itself_about_its_leading_edge() -> None:
    made = fc.what_if(NOSE, {"bonnet_slope": {"steeper": 2.5}}).front.section(0)
    before, after = np.array(POINTS, float), made.points
    assert np.array_equal(after[:6], before[:6])
    slope = [math.degrees(math.atan2(*(p[7] - p[5])[::-1])) for p in (before, after)]
    assert slope[1] - slope[0] == pytest.approx(2.5, abs=EXACT)
    assert after[8] - after[7] == pytest.approx(before[8] - before[7], abs=EXACT)
    turned = fc.what_if(NOSE, {"bonnet_slope": {"flatter": -2.5}}).front.section(0).points
    assert np.array_equal(turned, after)


@pytest.mark.parametrize("lift", [-80.0, 12.34, 300.0])
def test_a_ride_height_is_added_to_every_height_and_taken_off_again(lift: float) -> None:
    plover = fc.read_front("geometries/plover.csv")
    up = fc.what_if(plover, {"ride_height": {"up": lift}}).front
    back = fc.what_if(up, {"ride_height": {"down": lift}}).front
    for one, two, three in zip(plover.sections, up.sections, back.sections, strict=True):
        assert np.array_equal(one.x, two.x)
        assert two.z - one.z == pytest.approx(lift, abs=EXACT)
        assert three.points == pytest.approx(one.points, abs=EXACT)
    assert (back.proposed, len(back.changes)) == ((378, 378), 2)


@pytest.mark.parametrize("handle", [h for h in HANDLES if h.opposite], ids=lambda h: h.name)
def test_there_and_back_in_one_move_is_the_front_as_measured(handle) -> None:
    plover = fc.read_front("geometries/plover.csv")
    made = fc.what_if(plover, {handle.what: {handle.way: 3.0, handle.opposite: 3.0}})
    assert (made.skin_moved_mm, made.front.not_measured, made.moves) == (0.0, "", "")
    assert all(
        np.array_equal(one.points, two.points)
        for one, two in zip(plover.sections, made.front.sections, strict=True)
    )


@pytest.mark.parametrize("handle", [h for h in HANDLES if h.what in
                                    ("lower_lip", "upper_lip", "bumper_face", "leading_edge")],
                         ids=lambda handle: handle.name)  # fmt: skip
def test_beyond_the_fade_every_point_stays_to_the_last_bit_and_none_is_called_proposed(handle):
    section = fc.read_front("geometries/plover.csv").sections[0]
    made = morph_front(fc.Front((section,)), {handle.name: 9.0}).front.sections[0]
    stays = (morph_field(section, [handle.name]).fields[0] == 0.0).all(axis=1)
    arcs = section.arc_lengths
    assert np.array_equal(made.points[stays], section.points[stays])
    assert np.array_equal(made.proposed, ~stays)
    full = np.flatnonzero(np.hypot(*(made.points - section.points).T) >= 9.0 - EXACT)
    reach = arcs[full[0]] - BLEND_MM, arcs[full[-1]] + BLEND_MM
    assert stays[(arcs < reach[0]) | (arcs > reach[1])].all()
    assert stays.sum() > 15


def test_rates_are_those_of_the_polygon() -> None:
    table = fc.sensitivity(NOSE, wad=(1000,))
    got = {(r.handle.name, r.line): r.mm for r in table.rates}
    corner = {"lower_lip": "LBRL", "upper_lip": "UBRL", "leading_edge": "BLERL"}
    for what, line in corner.items():
        for way, axis in (("back", "x"), ("up", "z")):
            for other in ("LBRL", "UBRL", "BLERL"):
                for o in "xz":
                    wanted = 10.0 if (other, o) == (line, axis) else 0.0
                    assert got[f"{what}_{way}_mm", f"{other}_{o}_mm"] == pytest.approx(
                        wanted, abs=1e-7
                    )
    assert got["upper_lip_back_mm", "bumper_lead_mm"] == pytest.approx(-10.0, abs=1e-7)
    # By hand: the tape is longer by the rise and by what the slant to the edge is shorter.
    h = 1e-4
    ends = [wad(0, (0, 500 + d), (60, 750 + d), (500, 860 + d)) for d in (h, -h)]
    assert got["ride_height_up_mm", "WAD_1000_x_mm"] == pytest.approx(
        (ends[0][0] - ends[1][0]) / (2 * h) * 10, rel=1e-5
    )


def test_a_rate_is_what_a_small_move_does() -> None:
    avocet = fc.read_front("geometries/avocet.csv")
    table = fc.sensitivity(avocet, station=100.0)
    start = fc.screen(avocet).station(100)
    for rate in table.rates:
        if rate.handle.unit == "mm" and rate.line == "BLERL_z_mm" and rate.mm is not None:
            moved = morph_front(avocet, {rate.handle.name: 0.5}).front
            change = fc.screen(moved).station(100).BLERL.z - start.BLERL.z
            assert rate.mm == pytest.approx(20 * change, abs=0.05)


def test_a_rate_of_the_tape_of_the_whole_vehicle_is_what_a_small_move_does() -> None:
    """The tape stands below the foremost point of all stations, which moves as well."""
    plover = fc.read_front("geometries/plover.csv")
    table = fc.sensitivity(plover, station=580.0, tape_start="vehicle")
    alone = fc.sensitivity(plover, station=580.0)
    names = ("lower_lip_back_mm", "nose_back_mm", "ride_height_up_mm")
    for name in names:
        ends = [
            fc.screen(morph_front(plover, {name: d}).front, tape_start="vehicle").station(580)
            for d in (0.5, -0.5)
        ]
        change = 10 * (ends[0].wad(1000).x - ends[1].wad(1000).x)
        rate = table.rate(name, "WAD_1000_x_mm").mm
        assert rate == pytest.approx(change, abs=1e-3)
        assert abs(rate - alone.rate(name, "WAD_1000_x_mm").mm) > 1.2e-3
    local = replace(plover, datum="local")
    lines = fc.sensitivity(local, station=580.0, tape_start="vehicle").lines
    assert lines == tuple(name for name in alone.lines if "WAD" not in name)


def test_a_line_between_two_corners_has_no_one_rate() -> None:
    """Edge of 50 deg laid on two corners at once: which it touches next depends on the way."""
    lean = math.tan(math.radians(50))
    two = [*POINTS[:5], EDGE, (60 + 8 * lean, 758), *POINTS[6:]]
    nose = fc.Front((fc.Section(two, parts=[*PARTS[:6], "bonnet", *PARTS[6:]]),))
    rate = fc.sensitivity(nose).rate("leading_edge_up_mm", "BLERL_z_mm")
    assert rate.mm is None
    assert rate.reason


def test_amounts_of_the_same_handle_add_up() -> None:
    moves = {"nose": {"up": 5, "down": 2}, "Leading edge": {"back": -1}}
    assert amounts_of(moves) == {"nose_up_mm": 3.0, "leading_edge_back_mm": -1.0}
