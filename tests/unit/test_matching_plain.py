"""Which places of neighbouring sections go together, and the surface between: by plain ways."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from scipy.interpolate import PchipInterpolator

from frontcheck.front.front import Front
from frontcheck.surface import interpolate
from frontcheck.surface.interpolate import StationSurface, Strip, _cubic, _straight_to, _thinned
from frontcheck.surface.matching import (
    _features,
    _in_order,
    _Landmarks,
    _pairs,
    _part_marks,
    _same_features,
    _shape_marks,
    match_sections,
)
from frontcheck.surface.section import PARTS, Section

NOSE = [
    (300.0, 200.0),
    (0.0, 300.0),
    (0.0, 600.0),
    (100.0, 720.0),
    (1000.0, 800.0),
    (1500.0, 1100.0),
]


def rough(rng: np.random.Generator, count: int = 60) -> Section:
    """A contour that goes up and rearward, with bends of all sizes."""
    turn = np.radians(rng.uniform(20.0, 110.0, count) * 0.5 + np.linspace(55.0, 5.0, count))
    step = rng.uniform(4.0, 40.0, count)
    points = np.stack([np.cumsum(step * np.cos(turn)), 200.0 + np.cumsum(step * np.sin(turn))], 1)
    return Section(points, float(rng.uniform(-500.0, 500.0)))


@pytest.mark.parametrize("seed", range(6))
def test_features_are_the_sharpest_bends(seed: int) -> None:
    """Own choice: 15 deg from 15 mm before to 15 mm after; within 15 mm it is the same edge."""
    section = rough(np.random.default_rng(seed))
    line = shapely.LineString(section.points)
    turns = []
    for p, arc in zip(section.points, section.arc_lengths, strict=True):
        near = [line.interpolate(min(max(arc + off, 0.0), line.length)) for off in (-15.0, 15.0)]
        into, out = p - (near[0].x, near[0].y), np.array([near[1].x, near[1].y]) - p
        if not into.any() or not out.any():
            turns.append(0.0)
            continue
        turn = math.degrees(math.atan2(out[1], out[0]) - math.atan2(into[1], into[0]))
        turns.append((turn + 180.0) % 360.0 - 180.0)
    kept: list[int] = []
    for i in sorted(range(len(turns)), key=lambda i: -abs(turns[i])):
        apart = [abs(section.arc_lengths[i] - section.arc_lengths[j]) for j in kept]
        if abs(turns[i]) >= 15.0 and min(apart, default=99.0) > 15.0:
            kept.append(i)
    at, turn = _features(section)
    assert at.tolist() == sorted(kept)
    assert turn == pytest.approx([turns[i] for i in at], abs=1e-6)
    assert len(at) > 3
    assert turn.min() < 0.0 < turn.max()


@pytest.mark.parametrize("seed", range(8))
def test_the_weightiest_pairs_in_order(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pairs = sorted({(int(i), int(j)): float(w) for i, j, w in zip(
        rng.integers(1, 7, 11), rng.integers(1, 7, 11), rng.uniform(0.1, 2.0, 11), strict=True
    )}.items())  # fmt: skip
    weighed = [(i, j, w) for (i, j), w in pairs]
    best = 0.0
    for count in range(1, len(weighed) + 1):
        for some in itertools.combinations(weighed, count):
            rising = all(a[0] < b[0] and a[1] < b[1] for a, b in itertools.pairwise(some))
            best = max(best, sum(w for *_, w in some)) if rising else best
    chosen = _in_order(weighed)
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in itertools.pairwise(chosen))
    assert sum(dict(pairs)[pair] for pair in chosen) == pytest.approx(best)
    assert _in_order([]) == []


def test_marks_of_parts_and_of_shape() -> None:
    """The first of several places where the same two parts meet; ends of the face."""
    names = ["underside", "bumper", "lamp", "bumper", "lamp", "bonnet"]
    section = Section(NOSE, parts=names)
    codes = {name: PARTS.index(name) for name in names}
    low, bump, lamp, top = (codes[n] for n in ("underside", "bumper", "lamp", "bonnet"))
    # A stretch from bumper to lamp is the lamp's, as the bumper takes the point between.
    assert _part_marks(section) == {
        f"{low} to {lamp}": 1, f"{lamp} to {top}": 4,
    }  # fmt: skip
    assert bump not in (low, lamp, top)
    assert _part_marks(Section(NOSE)) == {}
    again = Section(NOSE, parts=["bumper", "bumper", "bonnet", "bumper", "bumper", "bonnet"])
    assert _part_marks(again) == {f"{bump} to {top}": 1, f"{top} to {bump}": 3}
    # x + z tan 25 is least at (0, 300), x - z at (100, 720); the lowest foremost point counts.
    assert _shape_marks(section) == {"face bottom": 1, "foremost": 1, "face top": 3}


def landmarks(points, y: float, parts=None) -> _Landmarks:
    return _Landmarks.of(Section(points, y, parts))


def test_features_of_neighbours_are_one_or_two() -> None:
    """Own choice: apart over 20 mm and half the distance, and turns over 40 deg, together below 1.

    100 mm apart a feature may move by 70 mm; the edge at (100, 720) turns by the same there.
    """
    one = landmarks(NOSE, 0.0)
    for move, same in ((0.0, True), (34.0, True), (69.0, True), (71.0, False), (-69.0, True)):
        moved = [*NOSE[:4], (1000.0 + move, 800.0), (1500.0 + move, 1100.0)]
        two = landmarks(moved, 100.0)
        found = {(i, j): w for i, j, w in _same_features(one, two)}
        assert ((4, 4) in found) is same
        if same:
            turns = [m.turn[list(m.at).index(4)] for m in (one, two)]
            cost = abs(move) / 70.0 + abs(turns[0] - turns[1]) / 40.0
            assert found[4, 4] == pytest.approx(2.0 - cost)
    # Seen from the foremost point: a plan shape moves all features alike.
    back = landmarks(np.add(NOSE, (400.0, 0.0)), 100.0)
    assert {(i, j) for i, j, _ in _same_features(one, back)} >= {(4, 4), (3, 3)}
    # At (1000, 800) a hollow turns left, a crest right by as much.
    crest = landmarks([*NOSE[:5], (1500.0, 600.0)], 0.0)
    assert (4, 4) not in {(i, j) for i, j, _ in _same_features(one, crest)}


def test_pairs_have_both_ends_and_what_both_have() -> None:
    """One point more in the second section: what is the fifth of one is the sixth of the other."""
    more = [*NOSE[:4], (550.0, 760.0), *NOSE[4:]]
    names = ["bumper"] * 3 + ["bonnet"] * 2 + ["windscreen"]
    for parts, longer in ((None, None), (names, [*names[:4], "bonnet", *names[4:]])):
        one = landmarks(NOSE, -100.0, parts)
        two = landmarks(np.add(more, (30.0, 10.0)), -150.0, longer)
        here, there = _pairs(one, two)
        assert here.tolist() == one.section.arc_lengths.tolist()
        assert there.tolist() == np.delete(two.section.arc_lengths, 4).tolist()
    # The end of one is no landmark, even where the other has its like within.
    short, whole = landmarks(NOSE[1:], 0.0), landmarks(NOSE, 10.0)
    for one, two in ((short, whole), (whole, short)):
        here, there = _pairs(one, two)
        assert (np.diff(here) > 0.0).all()
        assert (np.diff(there) > 0.0).all()


@pytest.mark.parametrize(("move", "kept"), [(124.0, True), (126.0, False)])
def test_a_landmark_of_shape_that_strays(move: float, kept: bool) -> None:
    """Own choice: 25 mm and twice the distance, along the contour and straight: 125 mm for 50 mm.

    No bend here is sharp enough for a feature: an arc, whose face ends half way up.
    """

    def arc(shift: float, y: float) -> _Landmarks:
        turn = np.radians(np.linspace(170.0, 100.0, 71))
        low = np.array([(0.0, 300.0 - k) for k in (90.0, 60.0, 30.0)])
        up = np.array([(0.0, 300.0), (0.0, 300.0 + shift)])
        curve = np.stack([900.0 + 900.0 * np.cos(turn), 900.0 * np.sin(turn)], axis=1)
        curve += up[-1] - curve[0]
        return _Landmarks.of(Section(np.concatenate([low, up, curve[1:]]), y))

    one, two = arc(100.0, -150.0), arc(100.0 + move, -100.0)
    assert (len(one.at), len(two.at)) == (0, 0)
    here, there = _pairs(one, two)
    tops = [m.section.arc_lengths[m.shape["face top"]] for m in (one, two)]
    assert tops[1] - tops[0] == pytest.approx(move)
    assert (tops[0] in here) is kept
    assert (tops[1] in there) is kept


def test_the_foot_of_the_windscreen_meets_itself_whatever_else_turns() -> None:
    """A hundred weights: a sharp edge at the place of the other foot does not draw it away."""
    parts = ["bumper", "bumper", "bumper", "bonnet", "windscreen", "windscreen"]
    one = Section(NOSE, 0.0, parts)
    moved = [*NOSE[:3], (100.0, 720.0), (1180.0, 880.0), (1500.0, 1100.0)]
    two = Section(moved, 100.0, parts)
    u = match_sections([one, two])
    assert u[1][4] == pytest.approx(u[0][4], abs=1e-9)
    assert (u[0][0], u[0][-1], u[1][0], u[1][-1]) == (0.0, 1.0, 0.0, 1.0)
    assert all((np.diff(each) > 0.0).all() for each in u)


def test_shares_of_length_between_landmarks() -> None:
    """From the centre outward either way: what lies half way between two landmarks stays so."""
    half = [*NOSE[:4], (550.0, 760.0), *NOSE[4:]]
    shapes = [(half, -200.0), (NOSE, -100.0), (NOSE, 0.0), (half, 150.0), (NOSE, 300.0)]
    sections = [Section(np.add(points, (abs(y) / 5, 0)), y) for points, y in shapes]
    u = match_sections(sections)
    centre = sections[2]
    plain = centre.arc_lengths / centre.length
    for each, (points, _) in zip(u, shapes, strict=True):
        own = np.delete(each, 4) if points is half else each
        assert own == pytest.approx(plain, abs=1e-9)
        if points is half:
            assert each[4] == pytest.approx((plain[3] + plain[4]) / 2.0, abs=1e-9)


# --- the surface between -------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_the_cubic_is_that_of_scipy(seed: int) -> None:
    """Rising, falling, level and turning values; at the ends too; two and three stations."""
    rng = np.random.default_rng(seed)
    for count in (2, 3, 4, 7):
        x = np.cumsum(rng.uniform(20.0, 200.0, count))
        values = np.round(rng.uniform(-3.0, 3.0, (count, 6)) * 2.0) * 10.0
        for i in range(count - 1):
            step = np.linspace(0.0, x[i + 1] - x[i], 9)
            expected = PchipInterpolator(x, values)(x[i] + step)
            assert _cubic(x, values, i, step[:, None]) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("within", [0.1, 1.0, 8.0])
@pytest.mark.parametrize("seed", range(3))
def test_places_are_left_out_where_the_rest_runs_straight(seed: int, within: float) -> None:
    rng = np.random.default_rng(seed)
    u = np.cumsum(rng.uniform(0.5, 1.5, 90))
    curves = np.cumsum(np.cumsum(rng.normal(0.0, 0.2, (90, 2)), axis=0), axis=0)
    stops = [11, 40, 41, 89]

    def off(a: int, b: int) -> float:
        t = ((u[a : b + 1] - u[a]) / (u[b] - u[a]))[:, None]
        return float(np.abs(curves[a : b + 1] - (1 - t) * curves[a] - t * curves[b]).max())

    kept = _thinned(u, curves, stops, within)
    assert kept[0] == 0
    assert set(stops) <= set(kept)
    assert kept == sorted(set(kept))
    for a, b in itertools.pairwise(kept):
        assert b == a + 1 or off(a, b) <= within
        # The next place would lie off, or there is a stop.
        assert b in stops or off(a, b + 1) > within
    level = np.zeros((90, 2))
    for start, stop in ((0, 1), (0, 2), (3, 40), (3, 41), (0, 89)):
        assert _straight_to(u, level, start, stop, 0.0) == stop


def test_parts_between_stations_are_those_of_the_nearer_one() -> None:
    """Half way they are those of the inner one, on either side of the vehicle."""
    inner = Section(NOSE, 0.0, ["bumper"] * 4 + ["bonnet"] * 2)
    outer = Section(NOSE, 100.0, ["bumper"] * 3 + ["lamp"] + ["bonnet"] * 2)
    for sections in (
        (inner, outer), (Section(NOSE, -100.0, outer.parts), inner),
    ):  # fmt: skip
        surface = StationSurface(sections, symmetric=False, method="straight")
        sign = 1.0 if sections[0] is inner else -1.0
        parts = {y: surface.section(sign * y).parts for y in (49.0, 50.0, 51.0)}
        assert parts[49.0] == parts[50.0] == inner.parts
        assert parts[51.0] == outer.parts
        smooth = StationSurface(sections, symmetric=False, method="smooth")
        facets = smooth.facets()
        middle = np.abs(facets.corners[..., 1].mean(axis=1))
        lamps = middle[facets.labelled("lamp")]
        assert lamps.min() > 50.0
        assert (facets.part >= 0).all()
    bare = StationSurface((Section(NOSE, 0.0), outer), symmetric=False, method="straight")
    assert bare.section(50.0).parts is None
    assert bare.section(51.0).parts == outer.parts


def test_of_three_stations_the_two_beside_a_place_count() -> None:
    """Straight on from 0 to 50 mm back and to 20: at 175 of 100 to 250 half way, 35 mm back."""
    names = ["bumper"] * 3 + ["lamp"] + ["bonnet"] * 2
    rows = ((0.0, 0.0, "lamp"), (100.0, 50.0, "grille"), (250.0, 20.0, "cowl"))
    sections = tuple(
        Section(np.add(NOSE, (back, 0.0)), y, [part if n == "lamp" else n for n in names])
        for y, back, part in rows
    )
    for method in ("straight", "smooth"):
        surface = StationSurface(sections, symmetric=True, method=method)
        if method == "straight":
            for y, back in ((25.0, 12.5), (175.0, 35.0), (-25.0, 12.5), (-220.0, 26.0)):
                assert surface.section(y).points == pytest.approx(np.add(NOSE, (back, 0.0)))
        for y, part in ((49, "lamp"), (51, "grille"), (174, "grille"), (176, "cowl")):
            for side in (y, -y):
                assert surface.section(side).parts[3] == part
        facets = surface.facets()
        middle = np.abs(facets.corners[..., 1].mean(axis=1))
        if method == "smooth":
            for part, low, high in (("lamp", 0, 51), ("grille", 49, 176), ("cowl", 174, 250)):
                own = middle[facets.labelled(part)]
                assert low <= own.min() < low + 5
                assert high - 5 < own.max() <= high
        with pytest.raises(
            ValueError, match="y must lie between 0 and 250 mm, and u between 0 and"
        ):
            surface.points([0.0, 251.0], 0.5)
        with pytest.raises(
            ValueError, match="y must lie between 0 and 250 mm, and u between 0 and"
        ):
            surface.points(50.0, [0.5, -0.1])


def test_a_change_of_parts_stays_where_places_are_left_out(monkeypatch) -> None:
    """An upright face of very many points in two parts, that change at 500 and at 612 mm."""
    monkeypatch.setattr(interpolate, "_MANY_KNOTS", 50)
    z = np.arange(200.0, 801.0)
    rows = np.stack([np.full(601, 100.0), z], axis=1)
    sections = tuple(
        Section(rows, y, ["bumper" if h < at else "bonnet" for h in z])
        for y, at in ((0.0, 501.0), (100.0, 613.0))
    )
    surface = StationSurface(sections, symmetric=False, method="straight")
    knots = surface.knots(50.0)
    assert len(knots) < 20
    facets = surface.facets()
    assert set(facets.part.tolist()) == {PARTS.index("bumper"), PARTS.index("bonnet")}
    for y, i in ((40.0, 0), (60.0, 1)):
        made = surface.section(y)
        at = made.parts.index("bonnet")
        expected = sections[i].parts.index("bonnet") - 1
        share = np.interp(surface.u[i][expected], knots, made.z)
        assert made.z[at - 1] == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize("symmetric", [True, False])
def test_facets_are_five_millimetres_wide_and_those_in_a_box_are_all_there(symmetric) -> None:
    """Own choice for smooth surfaces; from the centre plane on for both sides alike."""
    ys = (-20.0, 30.0) if not symmetric else (-0.0, 7.0, 30.0)
    sections = tuple(Section(np.add(NOSE, (y * y / 50, 0)), y) for y in ys)
    surface = StationSurface(sections, symmetric=symmetric, method="smooth")
    every = surface.facets()
    wide = np.ptp(every.corners[..., 1], axis=1)
    assert wide.max() <= 5.0 + 1e-9
    assert wide.min() > 3.0
    side = every.corners[every.corners[..., 1].max(axis=1) > 0.0] if symmetric else every.corners
    strips = math.ceil(7 / 5) + math.ceil(23 / 5) if symmetric else 10
    knots = 2 * (len(NOSE) - 1)
    assert len(side) == strips * knots
    low, high = np.array([100.0, -12.0, 250.0]), np.array([400.0, 12.0, 780.0])
    some = surface.facets(low, high)
    least, most = some.corners.min(axis=1), some.corners.max(axis=1)
    # Cells, of two facets each, of which any corner's box reaches into the box.
    own = [c for c in every.corners if (c.max(0) >= low).all() and (c.min(0) <= high).all()]
    found = {c.tobytes() for c in some.corners}
    assert {c.tobytes() for c in own} <= found
    assert len(found) <= 2 * len(own)
    assert (most[:, 1] >= low[1]).all()
    assert (least[:, 1] <= high[1]).all()


def test_cells_are_parted_alike_on_either_side() -> None:
    points = np.array([[(0, y, 0), (1, y, 0)] for y in (2.0, 3.0)])
    right = Strip(points, np.array([[4]])).within(np.full(3, -9.0), np.full(3, 9.0))
    flip = points[::-1] * (1.0, -1.0, 1.0)
    left = Strip(flip, np.array([[4]])).within(np.full(3, -9.0), np.full(3, 9.0))
    assert np.array_equal(left.corners * (1.0, -1.0, 1.0), right.corners)
    assert (right.part.tolist(), left.part.tolist()) == ([4, 4], [4, 4])
    # A box that only touches a cell holds it.
    for low, high in (
        ((1, -9, -9), (9, 9, 9)),
        ((-9, 3, -9), (9, 9, 9)),
        ((-9, -9, -9), (9, 2, 0)),
    ):
        assert len(Strip(points, np.array([[4]])).within(np.array(low), np.array(high))) == 2
    assert len(Strip(points, np.array([[4]])).within(np.array((1.1, 0, 0)), np.full(3, 9.0))) == 0


def test_up_to_sixty_stations_are_joined_smoothly() -> None:
    """Own choice: more are slices of a model."""
    for count, method in ((60, "smooth"), (61, "straight")):
        sections = tuple(Section(NOSE, 10.0 * i) for i in range(count))
        assert Front(sections).surface().kind == method
    with pytest.raises(ValueError, match="method must be 'smooth' or 'straight', not 'wavy'"):
        StationSurface(sections[:2], symmetric=False, method="wavy")  # type: ignore[arg-type]


def test_the_finest_thinning_that_leaves_few_places(monkeypatch) -> None:
    """Within a micrometre, a hundredth and a tenth of a millimetre: own choice."""
    z = np.linspace(200.0, 800.0, 601)
    x = 100.0 + 0.05 * np.sin(z * 0.7) + 0.004 * np.sin(z * 2.0)
    rows = np.stack([x, z], axis=1)
    counts = {}
    for most in (700, 500, 300, 100):
        monkeypatch.setattr(interpolate, "_MANY_KNOTS", most)
        surface = StationSurface(
            (Section(rows, 0.0), Section(rows, 100.0)), symmetric=False, method="straight"
        )
        knots = surface.knots(50.0)
        counts[most] = len(knots)
        own = surface.points(50.0, knots)[:, ::2]
        off = np.abs(np.interp(z, own[:, 1], own[:, 0]) - x).max()
        assert off <= {700: 1e-9, 500: 0.011, 300: 0.11, 100: 0.11}[most]
    assert counts[700] == 601
    assert counts[500] <= 500
    assert counts[500] >= counts[300] >= counts[100]
