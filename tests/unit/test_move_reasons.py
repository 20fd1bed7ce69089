"""Handles, their words and fields, and what is in the way of a move: tables and plain formulas."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.errors import InputError, NotAvailableError
from frontcheck.front.beside import Beside, HardPoint
from frontcheck.front.front import Front
from frontcheck.study.moves import (
    HANDLES,
    MorphedFront,
    Obstacle,
    amounts_of,
    in_the_way,
    morph_field,
    morph_front,
    most_of,
    moves_said,
    ways_of,
)
from frontcheck.study.what_if import Told
from frontcheck.surface.section import Section

# Own choice: feature, way and opposite, unit, reach, meaning of a positive amount.
SIDE, REAR_END = "fading along the contour to either side", "fading over the bonnet to its rear end"
VOCABULARY = [
    ("lower_lip", "back", "forward", "mm", 500,
     f"moves the lower lip rearward, {SIDE}"),
    ("lower_lip", "up", "down", "mm", 500,
     f"moves the lower lip up, {SIDE}"),
    ("upper_lip", "back", "forward", "mm", 500,
     f"moves the upper lip rearward, {SIDE}"),
    ("upper_lip", "up", "down", "mm", 500,
     f"moves the upper lip up, {SIDE}"),
    ("recess", "deeper", "shallower", "mm", 500,
     "moves what lies between the lips rearward, most at its bottom; the lips stay"),
    ("bumper_face", "back", "forward", "mm", 500,
     f"moves the face of the bumper rearward as it is, {SIDE}"),
    ("bumper_face", "up", "down", "mm", 500,
     f"moves the face of the bumper up as it is, {SIDE}"),
    ("leading_edge", "back", "forward", "mm", 500,
     f"moves the leading edge rearward, {SIDE}"),
    ("leading_edge", "up", "down", "mm", 500,
     f"moves the leading edge up, {SIDE}"),
    ("bonnet_height", "up", "down", "mm", 500,
     "raises the bonnet, fading to its leading edge and to its rear end, which stay"),
    ("bonnet_slope", "steeper", "flatter", "deg", 15,
     "turns the bonnet up about its leading edge; what lies behind it goes along as it is"),
    ("nose", "back", "forward", "mm", 500,
     f"moves underside and face rearward as they are, {REAR_END}"),
    ("nose", "up", "down", "mm", 500,
     f"raises underside and face as they are, {REAR_END}"),
    ("face", "lean", "", "deg", 45,
     f"leans the face rearward about its lower end, {REAR_END}"),
    ("ride_height", "up", "down", "mm", 500,
     "raises the whole front, glass and all, above the ground"),
]  # fmt: skip


def test_every_handle_has_its_ways_its_reach_and_its_meaning() -> None:
    told = [(h.what, h.way, h.opposite, h.unit, h.reach, h.meaning) for h in HANDLES]
    assert told == VOCABULARY
    for handle in HANDLES:
        for amount in (handle.reach, -handle.reach):
            handle.check(amount)
        for amount in (handle.reach * 1.001, -handle.reach * 1.001, math.nan):
            with pytest.raises(InputError) as caught:
                handle.check(amount)
            low, high = f"{-handle.reach:g}", f"{handle.reach:g}"
            says = f"found {handle.name} = {amount:g}; expected a number from {low} to {high}"
            assert f"{says} {handle.unit}" in str(caught.value)


@pytest.mark.parametrize(
    ("amounts", "words"),
    [
        ({"lower_lip_back_mm": 20.0}, "lower lip back 20 mm"),
        ({"lower_lip_back_mm": -20.0}, "lower lip forward 20 mm"),
        ({"nose_up_mm": -2.5, "nose_back_mm": 0.0}, "nose down 2.5 mm"),
        ({"face_lean_deg": -3.0}, "face lean -3 deg"),
        ({"face_lean_deg": 3.0, "recess_deeper_mm": -4.0},
         "face lean 3 deg, recess shallower 4 mm"),
        ({"bonnet_slope_steeper_deg": -1.0}, "bonnet slope flatter 1 deg"),
        ({}, ""),
    ],
)  # fmt: skip
def test_moves_in_words(amounts, words) -> None:
    assert moves_said(amounts) == words


def test_ways_and_their_signs() -> None:
    assert {way: (h.name, sign) for way, (h, sign) in ways_of("upper_lip").items()} == {
        "back": ("upper_lip_back_mm", 1.0), "forward": ("upper_lip_back_mm", -1.0),
        "up": ("upper_lip_up_mm", 1.0), "down": ("upper_lip_up_mm", -1.0),
    }  # fmt: skip
    assert {way: sign for way, (_, sign) in ways_of("face").items()} == {"lean": 1.0}
    assert ways_of("nothing") == {}
    assert amounts_of({" Lower-Lip ": {" Forward ": 5.0, "back": 2.0}, "nose": {"up": 1.0}}) == {
        "lower_lip_back_mm": -3.0, "nose_up_mm": 1.0
    }  # fmt: skip


@pytest.mark.parametrize(
    ("moves", "words"),
    [
        ({"wing": {"up": 1.0}}, "found feature 'wing'; expected one of lower_lip, upper_lip"),
        ({"x" * 50: {"up": 1.0}}, f"found feature '{'x' * 40}'; expected"),
        ({"face": {"back": 1.0}}, "found face to go 'back'; expected one of lean;"),
        ({"upper_lip": {"y" * 50: 1.0}},
         f"found upper lip to go '{'y' * 40}'; expected one of back, forward, up, down;"),
        ({"upper_lip": {"down": 501.0}},
         "found upper lip down = 501; expected a number from -500 to 500 mm"),
        ({"nose": {"up": 300.0, "down": -250.0}},
         "found nose up in all = 550; expected a number from -500 to 500 mm"),
    ],
)  # fmt: skip
def test_moves_that_are_none_are_refused(moves, words) -> None:
    with pytest.raises(InputError) as caught:
        amounts_of(moves)
    assert words in str(caught.value)


# Fields on a polygon whose arc lengths are known, against formulas of their own.

POINTS = np.array(
    [[400, 190], [200, 200], [40, 300], [70, 400], [0, 500], [60, 750], [500, 860], [1000, 930],
     [1020, 900], [1500, 1200]], dtype=float
)  # fmt: skip
PARTS = ["underside"] * 2 + ["bumper"] * 3 + ["bonnet"] * 3 + ["windscreen"] * 2
LIP, RECESS, UPPER, EDGE, REAR = 2, 3, 4, 5, 7


def front(parts=PARTS, points=POINTS, **more) -> Front:
    return Front((Section(points, 0.0, parts),), **more)


def field(handle: str, blend: float = 150.0, parts=PARTS, points=POINTS) -> np.ndarray:
    return morph_field(Section(points, 0.0, parts), [handle], blend).fields[0]


def arcs(points=POINTS) -> list[float]:
    out = [0.0]
    for a, b in zip(points, points[1:], strict=False):
        out.append(out[-1] + math.dist(a, b))
    return out


def fade(t: float) -> float:
    """1 at 0, 0 from 1 on: 1 - 3 t^2 + 2 t^3."""
    t = min(max(t, 0.0), 1.0)
    return 1.0 - 3.0 * t * t + 2.0 * t**3


@pytest.mark.parametrize("blend", [90.0, 150.0, 420.0, 900.0])
def test_fields_along_the_contour_are_those_of_the_formula(blend) -> None:
    s = arcs()
    for name, k in (("lower_lip", LIP), ("upper_lip", UPPER), ("leading_edge", EDGE)):
        expected = [fade(abs(at - s[k]) / blend) for at in s]
        for way, axis in (("back_mm", 0), ("up_mm", 1)):
            found = field(f"{name}_{way}", blend)
            assert found[:, axis] == pytest.approx(expected)
            assert not found[:, 1 - axis].any()
    # The face of the bumper runs from the lower lip to the upper one, and goes as it is.
    away = [max(s[LIP] - at, at - s[UPPER], 0.0) for at in s]
    expected = [fade(far / blend) for far in away]
    assert field("bumper_face_back_mm", blend)[:, 0] == pytest.approx(expected)
    assert field("bumper_face_up_mm", blend)[:, 1] == pytest.approx(expected)
    # The recess fades to its lips, each at its own distance, whatever the blend.
    points = np.insert(POINTS, [3, 4], [[50, 333], [20, 471]], axis=0)
    parts = ["underside"] * 2 + ["bumper"] * 5 + ["bonnet"] * 3 + ["windscreen"] * 2
    s = arcs(points)
    down, up = s[4] - s[2], s[6] - s[4]
    assert down != pytest.approx(up, rel=0.05)
    expected = [fade((s[4] - at) / down if at < s[4] else (at - s[4]) / up) for at in s]
    found = field("recess_deeper_mm", blend, parts, points)
    assert found[:, 0] == pytest.approx(expected)
    assert not found[:, 1].any()
    # The bonnet rises, fading over the blend to both its ends, or over half of it where short.
    s = arcs()
    run = s[REAR] - s[EDGE]
    inside = [max(min(at - s[EDGE], s[REAR] - at), 0.0) for at in s]
    expected = [fade(1.0 - far / min(blend, run / 2.0)) for far in inside]
    assert field("bonnet_height_up_mm", blend)[:, 1] == pytest.approx(expected)
    # Nose and face keep to the leading edge and fade over the whole bonnet.
    over = [fade(max(at - s[EDGE], 0.0) / run) for at in s]
    assert field("nose_back_mm", blend)[:, 0] == pytest.approx(over)
    assert field("nose_up_mm", blend)[:, 1] == pytest.approx(over)
    rise = [0.0, 0.0, 0.0, 100.0, 200.0, 450.0, 450.0, 450.0, 450.0, 450.0]
    lean = field("face_lean_deg", blend)
    assert lean[:, 0] == pytest.approx(np.multiply(rise, over))
    assert not lean[:, 1].any()
    assert (field("ride_height_up_mm") == [0.0, 1.0]).all()


def test_a_bonnet_turns_square_to_its_chord() -> None:
    found = field("bonnet_slope_steeper_deg")
    chord = POINTS[REAR] - POINTS[EDGE]
    ahead = chord / np.hypot(*chord)
    for k in range(len(POINTS)):
        far = 0.0 if k < EDGE else float((POINTS[min(k, REAR)] - POINTS[EDGE]) @ ahead)
        assert found[k] == pytest.approx([-far * ahead[1], far * ahead[0]])


# Where the bonnet ends: its label, else the foot of the glass, else other parts, else the contour.
@pytest.mark.parametrize(
    ("parts", "end"),
    [
        (PARTS, 7),
        ([*PARTS[:5], "bumper", "bumper", "bumper", "windscreen", "windscreen"], 7),
        ([*PARTS[:5], "bumper", "bumper", "bumper", "cowl", "windscreen"], 7),
        ([*PARTS[:5], "bonnet", "bonnet", "lamp", "cowl", "windscreen"], 6),
        ([*PARTS[:6], "bonnet", "lamp", "lamp", "lamp"], 6),
        ([*PARTS[:2], *["bumper"] * 6, "underside", "underside"], 7),
        ([*PARTS[:2], *["grille"] * 5, *["underside"] * 3], 6),
        ([*PARTS[:2], *["lamp"] * 5, *["underside"] * 3], 6),
        ([*PARTS[:2], *["trim"] * 5, *["underside"] * 3], 6),
        ([*PARTS[:2], *["bumper"] * 3, *["underside"] * 5], 9),  # none behind the leading edge
        (None, 9),
    ],
)
def test_where_the_bonnet_ends(parts, end) -> None:
    s = arcs()
    run = s[end] - s[EDGE]
    expected = [fade(max(at - s[EDGE], 0.0) / run) for at in s]
    assert field("nose_up_mm", parts=parts)[:, 1] == pytest.approx(expected)


def test_labels_of_a_bumper_count_in_the_face_only() -> None:
    """Under the chin and behind the leading edge they are no face; without, up to the lip."""
    s = arcs()

    def reaches(parts) -> tuple[int, int]:
        full = np.flatnonzero(field("bumper_face_back_mm", 1.0, parts)[:, 0] == 1.0)
        return int(full[0]), int(full[-1])

    assert len(s) == 10
    assert reaches(["bumper"] * 4 + ["lamp"] * 2 + ["bonnet"] * 4) == (2, 3)
    assert reaches(["lamp"] * 3 + ["bumper"] * 7) == (3, 5)
    assert reaches(["lamp"] * 10) == (2, 4)
    assert reaches(None) == (2, 4)


# What is in the way, and what is told of a front that was made.

FLAT = np.array([[300.0, 250], [0, 300], [0, 600], [60, 750], [900, 900]])  # no recess


def two(**more) -> Front:
    """The polygon at the centre, a face without a recess at 300 mm."""
    return Front((Section(POINTS, 0.0, PARTS), Section(FLAT, 300.0)), **more)


def test_a_feature_that_a_station_lacks_is_moved_at_the_others_and_that_is_said() -> None:
    made = morph_front(two(name="n"), {"lower_lip_back_mm": 5.0})
    why = "no recess to be seen, so no lower lip"
    assert made.obstacles == (Obstacle(300.0, why),)
    assert made.obstacles[0].words == f"at y = 300 mm {why}"
    assert made.front.changes == (
        f"a front made in memory: lower lip back 5 mm; at y = 300 mm {why}",
    )
    assert np.array_equal(made.front.sections[1].points, FLAT)
    assert made.skin_moved_mm == 5.0
    nowhere = morph_front(two(), {"lower_lip_back_mm": 5.0}, only_at=[300.0])
    assert (nowhere.made, nowhere.skin_moved_mm) == (None, None)
    assert nowhere.obstacles == (Obstacle(300.0, why),)
    depth = morph_front(two(), {"recess_deeper_mm": 5.0}, only_at=(300.0,))
    assert depth.obstacles[0].reason == "no recess to be seen, so no depth of it"


def test_what_is_in_the_way_is_told_once_with_its_stations() -> None:
    low, meets = "the contour would go below the ground", "the contour would meet itself"
    assert in_the_way([Obstacle(0.0, low), Obstacle(300.0, low)], 2) == [low]
    told = in_the_way([Obstacle(0.0, low), Obstacle(300.0, meets), Obstacle(500.0, low)], 3)
    assert told == [f"at y = 0, 500 mm {low}", f"at y = 300 mm {meets}"]
    assert in_the_way([], 0) == []
    with pytest.raises(NotAvailableError) as caught:
        _ = MorphedFront(None, None, (Obstacle(0.0, low), Obstacle(300.0, meets))).front
    assert str(caught.value) == f"at y = 0 mm {low}; at y = 300 mm {meets}"
    down = morph_front(two(), {"ride_height_up_mm": -195.0})
    assert down.obstacles == (Obstacle(0.0, low),)  # the flat face begins at 250 mm
    assert morph_front(two(), {"ride_height_up_mm": -190.0}).made is not None  # on the ground
    crossed = morph_front(front(), {"lower_lip_up_mm": 400.0}, 50.0)
    assert crossed.obstacles == (Obstacle(0.0, meets),)


def test_a_change_is_told_with_where_it_was_made_and_none_where_nothing_moved() -> None:
    made = morph_front(two(), {"nose_up_mm": 4.0}, only_at=[300.0, 77.0]).front
    assert made.changes == ("a front made in memory: nose up 4 mm, at y = 300 mm only",)
    assert np.array_equal(made.sections[0].points, POINTS)
    assert made.sections[0].proposed is None
    again = morph_front(made, {"nose_up_mm": 0.0}).front
    assert again.changes == made.changes
    twice = morph_front(made, {"ride_height_up_mm": 2.0}).front
    assert len(twice.changes) == 2
    # What was proposed before stays so where nothing moves now.
    back = morph_front(made, {"lower_lip_back_mm": 3.0}, 60.0).front
    assert back.sections[1].proposed.tolist() == made.sections[1].proposed.tolist()


def test_hard_points_rise_with_a_ride_height_of_the_whole_front_only() -> None:
    hard = tuple(HardPoint(600.0, 0.0, z, f"p{z:g}", "hinge") for z in (700.0, 750.0))
    held = two(beside=Beside(hard_points=hard))
    before = [700.0, 750.0]

    def after(amounts, only_at=None) -> list[float]:
        made = morph_front(held, amounts, only_at=only_at).front
        return [point.z for point in made.beside.hard_points]

    lifted = after({"ride_height_up_mm": 7.0, "nose_up_mm": 2.0})
    assert lifted == pytest.approx(np.add(before, 7.0))
    assert after({"nose_up_mm": 7.0}) == before
    assert after({"ride_height_up_mm": 7.0}, [0.0]) == before


@pytest.mark.parametrize(
    "amounts", [{"ride_height_up_mm": -500.0}, {"lower_lip_up_mm": 400.0, "nose_up_mm": -10.0}]
)
def test_the_most_that_can_be_made_is_the_last_hundredth_before_the_first_that_cannot(
    amounts,
) -> None:
    def made(share: int) -> bool:
        part = {name: amount * share / 100.0 for name, amount in amounts.items()}
        return morph_front(front(), part).made is not None

    share = next(k for k in range(1, 101) if not made(k)) - 1
    assert 5 < share < 95
    expected = {name: pytest.approx(amount * share / 100.0) for name, amount in amounts.items()}
    assert most_of(front(), amounts) == expected


def test_where_nothing_can_be_made_there_is_no_most() -> None:
    grounded = front(points=POINTS - [0.0, 190.0])
    assert most_of(grounded, {"ride_height_up_mm": -50.0}) == {}


def test_handles_and_blends_that_are_none_are_refused() -> None:
    section = Section(POINTS, 0.0, PARTS)
    for blend in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(InputError) as caught:
            morph_field(section, ["nose_up_mm"], blend)
        assert f"found a blend of {blend:g} mm; expected a length above 0 mm" in str(caught.value)
    with pytest.raises(InputError, match="found handle 'nose_up'; expected one of lower_lip_back"):
        morph_field(section, ["nose_up"])
    with pytest.raises(InputError, match="no bonnet, so no bonnet slope, at y = 0 mm"):
        morph_field(Section(POINTS[:6], 0.0, PARTS[:6]), ["bonnet_slope_steeper_deg"])


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [(None, "b", "new"), ("a", None, "gone"), ("a", "a", "stayed"), ("a", "b", "changed")],
)
def test_what_became_of_a_line_of_the_answer(before, after, kind) -> None:
    assert Told("next", before, after).kind == kind


def test_a_front_moved_at_a_station_it_has_not_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        fc.what_if(two(), {"nose": {"up": 1.0}}, only_at=[0.0, 55.0])
    assert "found station 55 mm; expected stations of this front: 0, 300" in str(caught.value)
    made = fc.what_if(two(), {"nose": {"up": 1.0}}, wad=(1000.0,))
    assert made.before.wad == made.after.wad == (1000.0,)
    assert not replace(made, obstacles=(Obstacle(0.0, "why"),)).complete
