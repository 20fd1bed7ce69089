"""What must hold for any contour: invariants of lines and tape.

Source: the definitions of UN R127.02, 2.7, 2.26, 2.38 and 2.43 (text read). Tools slide in x
only, a tape is a shortest path, and nothing depends on how a straight stretch is cut into points
or on y. Contours come from a seeded generator that makes recesses, hooks, pockets and cowls.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from references.random_contours import KINDS, RandomContour, random_contours

from frontcheck import Front, Section, rule_set, screen
from frontcheck.geometry.tape import TautTape
from frontcheck.lines.bumper_lines import tape_anchor
from frontcheck.lines.section_lines import LineBatch, section_lines
from frontcheck.surface.contours import Contours

EXAMPLES = settings(max_examples=60)
WADS = (400.0, 1000.0, 1500.0, 2100.0)
REACH = {"UBRL": 700.0 * math.cos(math.radians(20.0)), "LBRL": 700.0 * math.cos(math.radians(25.0))}
RULES = st.sampled_from(["UN-R127-02", "EU-631-2009"])

contours = st.builds(
    lambda seed, kind: random_contours(seed, 1, (kind,))[0],
    st.integers(0, 10**6),
    st.sampled_from(KINDS),
)


def section(contour: RandomContour, points: np.ndarray | None = None) -> Section:
    return Section(contour.points if points is None else points, parts=contour.labels)


def lines(contour: RandomContour, rules: str, points: np.ndarray | None = None) -> LineBatch:
    return section_lines(Contours.of([section(contour, points)]), rule_set(rules), WADS)


def same(a: LineBatch, b: LineBatch, by: tuple[float, float] = (0.0, 0.0), within=1e-8) -> None:
    """Same statuses; points moved by `by`."""
    for name in ("UBRL", "LBRL", "BLERL", "BRRL"):
        one, two = getattr(a, name), getattr(b, name)
        assert (one.code == two.code).all(), name
        for i in np.flatnonzero(one.formed):
            moved = (two.x[i] - by[0], two.z[i] - by[1])
            assert (one.x[i], one.z[i]) == pytest.approx(moved, rel=0, abs=within), name
    assert (a.WAD.reached == b.WAD.reached).all()
    on = a.WAD.reached
    assert (a.WAD.bridged == b.WAD.bridged)[on].all()
    assert a.WAD.x[on] == pytest.approx(b.WAD.x[on] - by[0], rel=0, abs=within)
    assert a.WAD.z[on] == pytest.approx(b.WAD.z[on] - by[1], rel=0, abs=within)


def steady(contour: RandomContour, rules: str, within: float = 1e-6) -> bool:
    """Whether rounding decides nothing: no mark grazes, no touch is at a threshold.

    A mark where the distance hardly changes along the contour, a contact length at
    exactly a limit or a sphere that only just grazes may jump by rounding alone.
    """
    before = lines(contour, rules)
    for wiggle in (1e-9, -1e-9):
        rng = np.random.default_rng(1)
        points = contour.points + wiggle * rng.standard_normal(contour.points.shape)
        try:
            same(before, lines(contour, rules, points), within=within)
        except AssertionError:
            return False
    return True


@EXAMPLES
@given(contours, st.integers(-40_000, 40_000).map(lambda n: n / 16.0), RULES)
def test_shift_in_x_moves_every_x_by_it(contour, shift, rules):
    assume(steady(contour, rules))
    moved = np.add(contour.points, [shift, 0.0])
    same(lines(contour, rules), lines(contour, rules, moved), (shift, 0.0), within=1e-6)


@EXAMPLES
@given(contours, st.integers(0, 10**6), RULES)
def test_extra_collinear_points_change_nothing(contour, seed, rules):
    """Also not whether a mark is bridged."""
    assume(steady(contour, rules))
    rng = np.random.default_rng(seed)
    points = contour.points
    parts = list(contour.labels or [""] * len(points))
    cut = np.flatnonzero(rng.random(len(points) - 1) < 0.4)
    # Between two parts a new point would be of one or the other: that changes what counts.
    cut = np.array([i for i in cut if parts[i] == parts[i + 1]], dtype=int)
    t = rng.uniform(0.1, 0.9, len(cut))[:, None]
    more = np.insert(points, cut + 1, points[cut] + t * (points[cut + 1] - points[cut]), axis=0)
    for i in cut[::-1]:
        parts.insert(int(i) + 1, parts[int(i)])
    finer = Section(more, parts=parts if contour.labels else None)
    after = section_lines(Contours.of([finer]), rule_set(rules), WADS)
    same(lines(contour, rules), after, within=1e-6)


@settings(max_examples=20)
@given(contours, st.floats(1.0, 1200.0), RULES)
def test_mirrored_y_changes_nothing(contour, y, rules):
    right = Section(contour.points, y=y, parts=contour.labels)
    one, two = (screen(Front((s,)), rules, wad=WADS).stations[0] for s in (right, right.mirrored()))
    assert two.y == -y
    assert one.lines == two.lines
    assert one.wads == two.wads


@EXAMPLES
@given(contours, st.floats(0.5, 80.0))
def test_raising_the_body_raises_every_contact_that_is_not_at_an_end(contour, up):
    """Nothing enters the reach of the bumper edges from below, so theirs only rise with it.

    Into the reach of the 50 deg edge, whose lower end is at 600, new surface may come from
    below: if that would touch first, nothing is claimed.
    """
    raised = np.add(contour.points, [0.0, up])
    before, after = lines(contour, "UN-R127-02"), lines(contour, "UN-R127-02", raised)
    claims = 0
    for name, reach in REACH.items():
        one, two = getattr(before, name), getattr(after, name)
        if one.status(0) == "ok" and one.z[0] + up < reach - 1e-6:
            assert two.status(0) == "ok"
            assert (two.x[0], two.z[0]) == pytest.approx((one.x[0], one.z[0] + up), rel=0, abs=1e-9)
            claims += 1
    one, two = before.BLERL, after.BLERL
    top = 600.0 + 1000.0 * math.cos(math.radians(50.0)) - 1e-6
    if one.status(0) == two.status(0) == "ok" and one.z[0] + up < top:
        tan = math.tan(math.radians(50.0))
        gap = contour.points[:, 0] - contour.points[:, 1] * tan
        enters = (contour.points[:, 1] < 600.0) & (contour.points[:, 1] >= 600.0 - up)
        if not (gap[enters] < one.x[0] - one.z[0] * tan).any():
            want = (one.x[0], one.z[0] + up)
            assert (two.x[0], two.z[0]) == pytest.approx(want, rel=0, abs=1e-9)
            claims += 1
    assume(claims > 0)


@EXAMPLES
@given(contours)
def test_wrap_around_lies_between_straight_line_and_surface(contour):
    """Straight distance <= WAD <= height of the foremost point + surface length from it.

    Without labels nothing stands between ground and foremost point.
    """
    bare = Section(contour.points)
    front = Front((bare,))
    screening = screen(front, wad=WADS)
    station, tape = screening.stations[0], screening.tape(0.0)
    x0, z0 = station.foremost
    start = station.tape_start
    first = bare.arc_lengths[start] + math.hypot(*(bare.points[start] - (x0, z0)))
    for i in range(start + 1, len(bare)):
        straight = math.hypot(bare.x[i] - x0, bare.z[i])
        surface = z0 + bare.arc_lengths[i] - first
        assert straight - 1e-9 <= tape.distances[i] <= surface + 1e-9
    for point in station.wads:
        if point.formed:
            assert math.hypot(point.x - x0, point.z) <= point.distance + 1e-9


@EXAMPLES
@given(contours, st.integers(0, 10**6))
def test_distance_changes_no_faster_than_the_contour_runs(contour, seed):
    """|WAD(P) - WAD(Q)| <= straight distance of P and Q where they see each other.

    Neighbours on one stretch do, and by the triangle inequality the length along the
    contour bounds the difference everywhere.
    """
    points = contour.points
    anchor = tape_anchor(Contours.of([section(contour)]), rule_set())
    tape = TautTape(points, anchor.x[0], int(anchor.start[0]))
    rng = np.random.default_rng(seed)
    lengths = Section(points).arc_lengths
    found = []
    for stretch in rng.integers(0, len(points) - 1, 12):
        for t in rng.random(3):
            s = lengths[stretch] + t * (lengths[stretch + 1] - lengths[stretch])
            found.append((s, tape.at(int(stretch), float(t)).distance))
    found += [(s, d) for s, d in zip(lengths, tape.distances, strict=True)]
    s, d = np.array(sorted(found)).T
    assert (np.abs(np.diff(d)) <= np.diff(s) + 1e-9).all()


@EXAMPLES
@given(contours, st.integers(0, 10**6))
def test_distance_is_convex_along_a_stretch(contour, seed):
    """Shortest paths in a region without holes: distance is convex along a straight line.

    Source: R. Pollack, M. Sharir and G. Rote, Computing the geodesic center of a simple polygon,
    Discrete & Computational Geometry 4 (6), 611-626, 1989 (from memory).
    """
    anchor = tape_anchor(Contours.of([section(contour)]), rule_set())
    tape = TautTape(contour.points, anchor.x[0], int(anchor.start[0]))
    for stretch in np.random.default_rng(seed).integers(0, len(contour.points) - 1, 5):
        d = [tape.at(int(stretch), float(t)).distance for t in np.linspace(0.0, 1.0, 9)]
        assert (np.diff(d, 2) >= -1e-9).all()


@settings(max_examples=12)
@given(st.integers(0, 10**6), RULES)
def test_batch_equals_one_by_one(seed, rules):
    """Sections of all kinds and lengths side by side: each as if it were alone, to 1e-12."""
    made = random_contours(seed, 18)
    together = section_lines(Contours.of([section(c) for c in made]), rule_set(rules), WADS)
    for i, contour in enumerate(made):
        alone = lines(contour, rules)
        for name in ("UBRL", "LBRL", "BLERL", "BRRL"):
            one, two = getattr(alone, name), getattr(together, name)
            assert one.code[0] == two.code[i]
            assert one.reason(0) == two.reason(i)
            if one.formed[0]:
                np.testing.assert_allclose(
                    [two.x[i], two.z[i]], [one.x[0], one.z[0]], rtol=1e-12, atol=1e-12
                )
        assert (alone.WAD.reached[0] == together.WAD.reached[i]).all()
        on = alone.WAD.reached[0]
        for name in ("x", "z", "bridged", "stretch"):
            one, two = getattr(alone.WAD, name)[0][on], getattr(together.WAD, name)[i][on]
            np.testing.assert_allclose(two, one, rtol=1e-12, atol=1e-12)


@EXAMPLES
@given(contours)
def test_all_bumper_is_as_not_labelled_for_the_upper_bumper_line(contour):
    """Where every point is bumper nothing stands above it; with the foot on the ground only.

    (In EU 631/2009 an identified bumper lifts the foot off the ground: another edge.)
    """
    labelled = Section(contour.points, parts=["bumper"] * len(contour.points))
    one, two = (
        section_lines(Contours.of([s]), rule_set("UN-R127-02"), WADS).UBRL
        for s in (labelled, Section(contour.points))
    )
    assert one.code[0] == two.code[0]
    assert (one.x[0], one.z[0]) == (two.x[0], two.z[0])


@EXAMPLES
@given(contours)
def test_lower_line_is_never_above_the_upper_one(contour):
    """And a bonnet leading edge never below the lower end of its edge.

    LBRL is the lowermost touch of an edge inclined forward, UBRL the uppermost of one inclined
    rearward: on one contour without labels the first is never above the second.
    """
    got = section_lines(Contours.of([Section(contour.points)]), rule_set(), WADS)
    if got.UBRL.formed[0] and got.LBRL.formed[0]:
        assert got.LBRL.z[0] <= got.UBRL.z[0] + 1e-9
    if got.BLERL.status(0) in ("ok", "lower_end", "retaken_40deg"):
        assert got.BLERL.z[0] >= 600.0 - 1e-9
