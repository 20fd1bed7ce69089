"""The figure that is struck: bodies, circles of its skin, joints, built again number by number.

Numbers are those of the model's contract (own choice and from memory, named there); lengths are
shares of stature.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.body.anatomy import BODIES, Figure
from frontcheck.body.assumed import drawn, nominal
from frontcheck.body.joints import Joints
from frontcheck.body.whole_figure import spanned, whole
from frontcheck.people.people import struck_people

PARENT = (None, 0, 1, 2, 3, 0, 5, 0, 7)
ADULT = {
    "ankle": 0.039, "knee": 0.285, "hip": 0.530, "lumbar": 0.575, "waist": 0.665, "neck": 0.855,
    "skull": 0.920, "shoulder": 0.818, "chest": 0.135, "wide": 0.145, "broad": 0.0955,
    "head": 0.044, "turn": 0.039, "centre": 0.01513, "boxes": 1.0,
    "mass": (0.142, 0.139, 0.316, 0.019, 0.062, 0.100, 0.061, 0.100, 0.061),
}  # fmt: skip
CHILD = {
    "ankle": 0.039, "knee": 0.270, "hip": 0.495, "lumbar": 0.540, "waist": 0.635, "neck": 0.815,
    "skull": 0.870, "shoulder": 0.785, "chest": 0.115, "wide": 0.125, "broad": 0.085,
    "head": 0.061, "turn": 0.055, "centre": 0.055, "boxes": 0.085 / 0.0955,
    "mass": (0.135, 0.125, 0.300, 0.020, 0.150, 0.080, 0.055, 0.080, 0.055),
}  # fmt: skip
WHO = {"adult": (ADULT, 1.755, 77.0), "child": (CHILD, 1.153, 21.0)}
# How many circles 0.028 of stature apart fit on the lengths of the bodies, worked out by hand:
# pelvis from 0.045 below the hip, chest to 0.02 above the shoulder, both thighs, both shanks.
COUNTS = {"adult": (3, 3, 6, 2, 1, 9, 9, 10, 10), "child": (3, 3, 6, 2, 1, 8, 8, 10, 10)}
IN_ROWS = (0, 1, 2, 3, 4, 5, 7, 6, 8)


def built(who: str) -> Figure:
    _, stature, mass = WHO[who]
    return Figure.of(stature, mass, child=who == "child")


@pytest.mark.parametrize("who", WHO)
def test_bodies_hang_where_the_tables_say(who: str) -> None:
    """Joints, centres of mass, masses and inertias; trunk parts turn like boxes."""
    h, stature, mass = WHO[who]
    figure = built(who)
    up = (h["hip"], h["lumbar"], h["waist"], h["neck"], h["skull"])
    tall = np.diff(up)
    thigh, shank = h["hip"] - h["knee"], h["knee"] - h["ankle"]
    leg = [((side, 0.0), (0.0, -thigh)) for side in (0.05, -0.05)]
    at = [(0.0, 0.0), *((0.0, each) for each in tall), *leg[0], *leg[1]]
    down = (-0.433 * thigh, -0.606 * shank)
    centre = [0.5 * tall[0], 0.5 * tall[1], 0.469 * tall[2], 0.5 * tall[3], h["centre"], *down * 2]
    half = [h["boxes"] * 0.113, h["boxes"] * 0.083, h["boxes"] * 0.1246, 0.034]
    gyration = [
        *(math.sqrt(((2.0 * b) ** 2 + t**2) / 12.0) for b, t in zip(half, tall, strict=True)),
        h["turn"], *(0.323 * thigh, 0.416 * shank) * 2,
    ]  # fmt: skip
    chain = figure.chain
    assert (figure.stature, figure.mass) == (stature, mass)
    assert figure.hip == pytest.approx(h["hip"] * stature)
    assert figure.sole == pytest.approx(h["knee"] * stature)
    assert chain.parent.tolist() == [-1, 0, 1, 2, 3, 0, 5, 0, 7]
    for i, parent in enumerate(PARENT):
        if parent is not None:
            assert chain.arms[i, parent] == pytest.approx(np.multiply(at[i], stature)), BODIES[i]
    assert chain.centre == pytest.approx(
        np.stack([np.zeros(9), np.multiply(centre, stature)], axis=1)
    )
    shares = np.array(h["mass"]) / sum(h["mass"])
    assert chain.mass == pytest.approx(mass * shares)
    assert chain.inertia == pytest.approx(mass * shares * np.square(gyration) * stature**2)


def circles(who: str) -> list[tuple[int, float, float, float]]:
    """Body, outermost place, height and radius of every circle, standing, in statures."""
    h, rows = WHO[who][0], []

    def breadth(z: float) -> float:
        """Half breadth of the trunk: as the pelvis up to L5/S1, then by chest to shoulder."""
        if z <= h["lumbar"]:
            return h["broad"]
        chest = 0.5 * (h["waist"] + h["shoulder"])
        if z <= chest:
            share = (z - h["lumbar"]) / (chest - h["lumbar"])
            return h["broad"] + share * (h["chest"] - h["broad"])
        share = min((z - chest) / (h["shoulder"] - chest), 1.0)
        return h["chest"] + share * (h["wide"] - h["chest"])

    for body, count in zip(IN_ROWS, COUNTS[who], strict=True):
        low, high, radius, fixed = {
            0: (h["hip"] - 0.045, h["lumbar"], 0.050, h["broad"]),
            1: (h["lumbar"], h["waist"], 0.045, None),
            2: (h["waist"], h["shoulder"] + 0.020, 0.040, None),
            3: (h["neck"], h["skull"], 0.034, 0.034),
            4: (1.0 - 2.0 * h["head"], 1.0, h["head"], h["head"]),
            5: (h["knee"], h["hip"], 0.045, 0.045),
            6: (0.0, h["knee"], 0.030, 0.030),
        }[body if body < 7 else body - 2]
        for k in range(count):
            z = low + (k + 0.5) * (high - low) / count
            rows.append((body, breadth(z) if fixed is None else fixed, z, radius))
    return rows


@pytest.mark.parametrize("who", WHO)
def test_circles_of_the_skin_stand_along_the_outline(who: str) -> None:
    _, stature, _ = WHO[who]
    figure, rows = built(who), circles(who)
    skin, chain = figure.skin, figure.chain
    assert skin.body.tolist() == [row[0] for row in rows]
    pose = np.zeros((1, 11))
    pose[0, 1] = figure.hip
    standing = chain.origins(pose)[0][skin.body] + skin.place
    beside = np.array([0.05 if b in (5, 6) else -0.05 if b > 6 else 0.0 for b in skin.body])
    outer = standing[:, 0] + skin.radius - beside * stature
    assert outer == pytest.approx([row[1] * stature for row in rows])
    assert standing[:, 1] == pytest.approx([row[2] * stature for row in rows])
    assert skin.radius == pytest.approx([row[3] * stature for row in rows])
    # Each stands for 0.028 of stature, told in lengths of 100 mm; the chest is half as stiff.
    chest = np.where(skin.body == 2, 0.5, 1.0)
    assert skin.stiff == pytest.approx(chest * 0.028 * stature / 0.1)
    assert skin.shoulder.tolist() == [row[0] in (1, 2) for row in rows]


@pytest.mark.parametrize("who", WHO)
def test_narrower_shoulders_draw_the_outline_of_belly_and_chest_in(who: str) -> None:
    """The outermost place of a circle is that share of the full one; nothing else moves."""
    skin = built(who).skin
    moved = skin.with_shoulders(np.array([1.0, 0.8]))
    assert moved.shape == (2, len(skin.body), 2)
    assert moved[0] == pytest.approx(skin.place)
    trunk = np.isin(skin.body, (1, 2))
    edge = skin.place[:, 0] + skin.radius
    assert moved[1, trunk, 0] + skin.radius[trunk] == pytest.approx(0.8 * edge[trunk])
    assert (moved[1, ~trunk] == skin.place[~trunk]).all()
    assert (moved[1, :, 1] == skin.place[:, 1]).all()


@pytest.mark.parametrize("who", WHO)
def test_legs_are_told_apart(who: str) -> None:
    skin = built(who).skin
    near, far, reach = skin.legs
    body = skin.body.tolist()
    assert near.tolist() == [i for i, b in enumerate(body) if b in (5, 6)]
    assert far.tolist() == [i for i, b in enumerate(body) if b in (7, 8)]
    for i, one in enumerate(near.tolist()):
        for j, two in enumerate(far.tolist()):
            assert reach[i, j] == skin.radius[one] + skin.radius[two]


def test_the_outline_for_pictures_has_both_sides_and_stands_on_the_sole() -> None:
    figure = built("adult")
    body, place, radius = whole(figure, figure.skin.place)
    own = figure.skin
    assert body.tolist() == [*own.body.tolist(), *[0] * 3, *[1] * 3, *[2] * 6]
    assert (radius[:53] == own.radius).all()
    assert (radius[53:] == own.radius[:12]).all()
    assert (place[53:, 0] == -own.place[:12, 0]).all()
    assert (place[53:, 1] == own.place[:12, 1]).all()
    # Circles of shanks a tenth of 0.285 apart, 0.030 in radius: the lowest alone reaches below.
    lowest = [33, 43]
    assert place[lowest, 1] == pytest.approx([(0.030 - 0.285) * 1.755] * 2)
    others = [i for i in range(53) if i not in lowest]
    assert (place[others] == own.place[others]).all()
    assert own.place[33, 1] == pytest.approx((0.01425 - 0.285) * 1.755)  # untouched itself


def test_bands_go_round_a_body_and_the_nearest_circles_of_the_one_before() -> None:
    figure = built("adult")
    body, place, _ = whole(figure, figure.skin.place)
    thigh, far_thigh = tuple(range(15, 24)), tuple(range(24, 33))
    assert spanned(body, place) == (
        (0, 1, 2, 53, 54, 55),
        (3, 4, 5, 56, 57, 58, 2, 55),
        (*range(6, 12), *range(59, 65), 5, 58),
        (12, 13, 11, 64),
        (14, 13),
        thigh,
        (*range(33, 43), 15),  # a shank goes on from the lowest circle of its thigh
        far_thigh,
        (*range(43, 53), 24),
    )


def torques(who: str, cases, k: int, pose, rate) -> np.ndarray:
    """Joint by joint: spring (of the knee no more than it bears), stop, damper."""
    _, stature, mass = WHO[who]
    size = stature * mass / (1.755 * 77.0)
    out = np.zeros(9)
    for i, parent in enumerate(PARENT):
        if parent is None:
            continue
        bend, going = pose[2 + i] - pose[2 + parent], rate[2 + i] - rate[2 + parent]
        if i in (6, 8):
            most = cases.knee_most[k]
            torque = most * math.tanh(cases.knee[k] * bend / most) + 3.0 * going
        else:
            spring = {1: cases.spine, 2: cases.spine, 3: cases.neck, 4: cases.neck}.get(
                i, cases.hip
            )[k]
            stop = {1: 0.35, 2: 0.35, 3: 0.55 * cases.stops[k], 4: 0.45 * cases.stops[k]}.get(
                i, 0.6
            )
            over = math.copysign(max(abs(bend) - stop, 0.0), bend)
            stiff = 240.0 if i == 4 else 600.0
            torque = spring * bend + stiff * over + 0.4 * (0.05 * spring + 0.2) * going
        out[i] -= size * torque
        out[parent] += size * torque
    return out


@pytest.mark.parametrize("who", WHO)
def test_joints_pull_as_springs_stops_and_dampers_do(who: str) -> None:
    """Bent to either side, within the stops and beyond them; cases asked for out of order."""
    cases, rng = drawn(6, 4), np.random.default_rng(11)
    which = np.array([4, 0, 5, 2])
    for spread in (0.1, 0.6, 1.5):
        pose, rate = rng.normal(0.0, spread, (4, 11)), rng.normal(0.0, 3.0, (4, 11))
        start = rng.normal(0.0, 1.0, (4, 9))
        now = SimpleNamespace(
            case=which, angle=pose[:, 2:], turning=rate[:, 2:], torque=start.copy()
        )
        Joints(built(who), cases).load(now)
        for row, k in enumerate(which.tolist()):
            expected = torques(who, cases, k, pose[row], rate[row])
            assert now.torque[row] - start[row] == pytest.approx(expected, abs=1e-8)


def test_one_case_without_drawing_is_that_of_the_contract() -> None:
    one = nominal()
    numbers = {
        "stiffness": 1e5, "friction": 0.4, "rebound": 0.2, "grip": 0.5, "sole_friction": 0.6,
        "spine": 180.0, "neck": 25.0, "hip": 60.0, "knee": 600.0, "knee_most": 150.0,
        "stops": 1.0, "lean": 0.0, "shoulder": 1.0, "braking": 0.0, "legs_touch": 1.0,
    }  # fmt: skip
    assert len(one) == 1
    for name, value in numbers.items():
        found = getattr(one, name)
        assert found.shape == ((1, 4) if name in ("stiffness", "friction") else (1,)), name
        assert found == pytest.approx(value), name


def test_what_is_drawn_may_not_go_with_what_else_is_drawn() -> None:
    """Every quantity is drawn by itself: none follows another."""
    cases = drawn(400, 7)
    names = [
        "rebound", "grip", "sole_friction", "spine", "neck", "hip", "knee", "knee_most", "stops",
        "lean", "shoulder", "braking", "legs_touch",
    ]  # fmt: skip
    columns = [getattr(cases, name).astype(float) for name in names]
    columns += [*cases.stiffness.T, *cases.friction.T]
    together = np.corrcoef(columns) - np.eye(len(columns))
    assert np.abs(together).max() < 0.25  # 400 draws: five standard deviations
    assert len(cases) == 400
    assert cases.legs_touch.mean() == 0.5
    assert np.abs(np.degrees(cases.lean)).max() <= 5.0
    assert np.array_equal(cases.spine, drawn(400, 7).spine)
    assert not np.array_equal(cases.spine, drawn(400, 8).spine)


def test_people_who_are_struck_have_the_masses_of_the_contract() -> None:
    told = {person.name: (person.stature.known(), person.mass_kg) for person in struck_people()}
    assert {name: mass for name, (_, mass) in told.items()} == {
        "six-year-old": 21.0, "woman p5": 50.0, "woman p50": 62.0, "man p50": 77.0, "man p95": 98.0,
    }  # fmt: skip
    assert told["man p50"][0] == 1755.0
