"""What is seen of a section and what is left out of its contour, where one can tell by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from frontcheck.geometry import seen
from frontcheck.geometry.chains import Chain
from frontcheck.geometry.outline import NO_LABEL, outer_contour
from frontcheck.geometry.seen import Stretches

# --- places and points --------------------------------------------------------------------

SQUARE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)])


def test_places_on_chains_and_points_between_them() -> None:
    ring = Chain(SQUARE, closed=True, labels=np.array([5, 6, 7, 8]))
    line = Chain(SQUARE, labels=np.array([1, 2, 3]))
    laid = Stretches.of([ring, line, Chain(SQUARE[:2])])
    assert laid.chain.tolist() == [0] * 4 + [1] * 3 + [2]
    assert laid.index.tolist() == [0, 1, 2, 3, 0, 1, 2, 0]
    assert laid.point(0, 3.25) == (0.0, 6.0)
    assert laid.point(0, 4.0) == laid.point(0, 0.0) == (0.0, 0.0)
    assert laid.point(0, 5.5) == (10.0, 4.0)
    assert laid.point(1, 2.5) == (5.0, 8.0)
    points, labels = laid.between(0, 2.5, 5.5)
    assert points.tolist() == [[5.0, 8.0], [0.0, 8.0], [0.0, 0.0], [10.0, 0.0], [10.0, 4.0]]
    assert labels.tolist() == [7, 8, 5, 6]
    back, labels = laid.between(0, 5.5, 2.5)
    assert back.tolist() == points[::-1].tolist()
    assert labels.tolist() == [6, 5, 8, 7]
    points, labels = laid.between(1, 1.0, 3.0)
    assert points.tolist() == SQUARE[1:].tolist()
    assert labels.tolist() == [2, 3]
    assert laid.between(1, 0.25, 0.75)[0].tolist() == [[2.5, 0.0], [7.5, 0.0]]
    assert laid.between(2, 0.0, 1.0)[1] is None
    assert laid.between(2, 1.0, 0.5)[1] is None


def test_a_place_off_a_point_by_rounding_is_the_point() -> None:
    for place, want in ((3.0 + 9e-12, 3.0), (3.0 - 9e-12, 3.0), (3.0 + 2e-11, 3.0 + 2e-11),
                        (2.5, 2.5), (0.0, 0.0)):  # fmt: skip
        assert seen._at_point(place) == want


def test_shares_within_two_bounds_are_those_of_shapely() -> None:
    rng = np.random.default_rng(1)
    start, step = rng.normal(0.0, 10.0, (2, 60))
    step[:10] = 0.0
    start[0], start[1] = 3.0, -4.0  # level, just on a bound
    for low, high in ((-4.0, 3.0), (-math.inf, 3.0), (-4.0, math.inf), (-math.inf, math.inf)):
        share = seen._within(start, step, low, high)
        for a, d, (t0, t1) in zip(start, step, share.T, strict=True):
            # The stretch as a line of x = share, z = value, cut by a strip.
            strip = shapely.box(-1.0, max(low, -1e4), 2.0, min(high, 1e4))
            cut = shapely.LineString([(0.0, a), (1.0, a + d)]).intersection(strip)
            if cut.is_empty:
                assert t1 < t0
            else:
                assert (t0, t1) == pytest.approx((cut.bounds[0], cut.bounds[2]), abs=1e-9)


def test_the_nearest_of_crossing_lines_is_that_at_every_place() -> None:
    rng = np.random.default_rng(2)
    for n in (1, 2, 3, 8):
        for _ in range(25):
            va, vb = rng.integers(0, 12, (2, n)).astype(float)
            found = seen._crossing(va, vb)
            assert found[0][1] == 0.0
            assert found[-1][2] == 1.0
            for (_, _, end), (_, begin, _) in zip(found[:-1], found[1:], strict=True):
                assert end == begin
            for k, begin, end in found:
                assert begin < end
                for t in np.linspace(begin, end, 5):
                    assert va[k] + t * (vb[k] - va[k]) == pytest.approx(
                        (va + t * (vb - va)).min(), abs=1e-9
                    )


# --- runs ---------------------------------------------------------------------------------


def runs(chains, side, *bounds):
    return [
        (r.chain, r.begin, r.end, r.steep) for r in Stretches.of(chains).seen_from(side, *bounds)
    ]


def test_runs_tell_where_they_begin_and_end_and_how_near_they_come() -> None:
    line = np.array([(50.0, 0.0), (20.0, 100.0), (30.0, 150.0)])
    for points, way in ((line, 1.0), (line[::-1], -1.0)):
        (run,) = Stretches.of([Chain(points)]).seen_from("front")
        assert (run.begin, run.end) == ((0.0, 2.0) if way > 0.0 else (2.0, 0.0))
        assert run.first == (50.0, 0.0)
        assert run.last == (30.0, 150.0)
        assert run.across == pytest.approx((0.0, 150.0), abs=1e-4)
        assert run.depth == (50.0, 30.0)
        assert run.nearest == 20.0
        assert run.steep == 0
    (run,) = Stretches.of([Chain(line)]).seen_from("front", 25.0, 125.0)
    assert run.across == pytest.approx((25.0, 125.0), abs=1e-4)
    assert run.depth == pytest.approx((42.5, 25.0), abs=1e-4)
    assert (run.begin, run.end) == pytest.approx((0.25, 1.5), abs=1e-6)
    # Only what lies beyond a depth of 30.
    (run,) = Stretches.of([Chain(line)]).seen_from("front", -math.inf, math.inf, 30.0)
    assert (run.begin, run.end) == pytest.approx((0.0, 2.0 / 3.0), abs=1e-6)
    assert Stretches.of([Chain(line)]).seen_from("front", 200.0, 300.0) == []


def test_from_above_and_below_a_run_is_walked_with_the_air_on_its_left() -> None:
    line = np.array([(0.0, 30.0), (60.0, 40.0), (100.0, 20.0)])
    (run,) = Stretches.of([Chain(line)]).seen_from("above")
    assert (run.begin, run.end, run.across, run.depth) == (0.0, 2.0, (0.0, 100.0), (-30.0, -20.0))
    assert (run.nearest, run.first, run.last) == (-40.0, (0.0, 30.0), (100.0, 20.0))
    (run,) = Stretches.of([Chain(line)]).seen_from("below")
    assert (run.begin, run.end, run.across, run.depth) == (2.0, 0.0, (-100.0, 0.0), (20.0, 30.0))
    assert (run.nearest, run.first, run.last) == (20.0, (100.0, 20.0), (0.0, 30.0))


def test_where_a_line_goes_away_more_steeply_than_50_deg_another_run_begins() -> None:
    """tan 50 = 1.19175: no straight edge of the rules leans farther (own choice)."""
    for slope, steep in ((1.1917, 0), (1.1918, 1)):
        line = np.array([(0.0, 0.0), (0.0, 100.0), (100.0 * slope, 200.0)])
        found = runs([Chain(line)], "front")
        assert found == ([(0, 0.0, 2.0, 0)] if not steep else [(0, 0.0, 1.0, 0), (0, 1.0, 2.0, 1)])
        near = line * [-1.0, 1.0]
        found = runs([Chain(near)], "front")
        assert found == ([(0, 0.0, 2.0, 0)] if not steep else [(0, 0.0, 1.0, 0), (0, 1.0, 2.0, -1)])


def test_of_surfaces_a_micrometre_apart_the_first_chain_is_seen() -> None:
    front = np.array([(10.0, 0.0), (10.0, 100.0)])
    for apart, chain in ((0.0009, 0), (0.0011, 1), (-0.5, 0)):
        found = Stretches.of([Chain(front), Chain(front - [apart, 0.0])]).seen_from("front")
        long = [run for run in found if run.across[1] - run.across[0] > 1e-3]
        assert [(run.chain, run.steep) for run in long] == [(chain, 0)]
        assert (long[0].begin, long[0].end) == pytest.approx((0.0, 1.0), abs=1e-6)
    # Slanted ones change where they cross.
    other = np.array([(0.0, 0.0), (20.0, 100.0)])
    found = [r for r in runs([Chain(front), Chain(other)], "front") if abs(r[2] - r[1]) > 1e-6]
    assert [r[0] for r in found] == [1, 0]
    assert [r[1:3] for r in found] == [
        pytest.approx((0.0, 0.5), abs=1e-6), pytest.approx((0.5, 1.0), abs=1e-6)
    ]  # fmt: skip


def test_a_run_goes_on_across_the_last_point_of_a_ring() -> None:
    ring = Chain(SQUARE, closed=True)
    # From above the upper side only; from the front the side x = 0, from point 0 down... to 3.
    assert runs([ring], "above") == [(0, 3.0, 2.0, 0)]
    assert runs([ring], "below") == [(0, 1.0, 0.0, 0)]
    slanted = Chain(np.array([(0.0, 5.0), (5.0, 10.0), (10.0, 5.0), (5.0, 0.0)]), closed=True)
    ((_, begin, end, _),) = runs([slanted], "front")
    assert abs(end - begin) == pytest.approx(2.0, abs=1e-6)
    ((_, begin, end, _),) = runs([slanted], "above")
    assert abs(end - begin) == 2.0


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("side", ["front", "above", "below"])
def test_between_bounds_and_beyond_a_depth_rays_meet_what_is_seen(seed, side) -> None:
    rng = np.random.default_rng(seed)
    chains = []
    for _ in range(4):
        line = np.cumsum(rng.normal(0.0, 50.0, (int(rng.integers(2, 8)), 2)), axis=0)
        chains.append(Chain(line, closed=len(line) > 3 and bool(rng.integers(2))))
    low, high, beyond = -41.0, 57.0, float(rng.normal(-30.0, 30.0))
    laid = Stretches.of(chains)
    found = laid.seen_from(side, low, high, beyond)
    turn = {"front": ((0.0, 1.0), (1.0, 0.0)), "above": ((1.0, 0.0), (0.0, -1.0)),
            "below": ((-1.0, 0.0), (0.0, 1.0))}[side]  # fmt: skip
    parts = [(laid.start @ np.array(turn).T), (laid.stop @ np.array(turn).T)]
    for at in np.linspace(low + 0.017, high - 0.013, 40):
        depths = []
        for (u0, v0), (u1, v1) in zip(*parts, strict=True):
            if min(u0, u1) <= at <= max(u0, u1):
                depths.append(v0 + (at - u0) / (u1 - u0) * (v1 - v0))
        depths = [v for v in depths if v >= beyond]
        got = []
        for run in found:
            if run.across[0] <= at <= run.across[1]:
                points, _ = laid.between(run.chain, run.begin, run.end)
                u, v = np.array(turn) @ points.T
                got.append(float(np.interp(at, u, v)))
        assert bool(depths) == bool(got)
        if depths:
            assert min(got) == pytest.approx(min(depths), abs=2e-3)
    for run in found:
        assert low - 1e-9 <= run.across[0] < run.across[1] <= high + 1e-9


# --- what is left out ---------------------------------------------------------------------

FACE = np.array([(300.0, 200.0), (0.0, 250.0), (0.0, 800.0), (200.0, 900.0), (1200.0, 1000.0)])


def box(x, z, width, height):
    at = [(x, z), (x + width, z), (x + width, z + height), (x, z + height)]
    return Chain(np.array(at), closed=True)


def lost(*chains, **options):
    outline = outer_contour(list(chains), **options)
    return [(d.kind, round(d.length, 6), round(d.x, 6), round(d.z, 6)) for d in outline.dropped]


def moved(line, x, z):
    return Chain(np.add(line, (x, z)))


@pytest.mark.parametrize(
    ("part", "want"),
    [
        # Its length, and the middle one of its points.
        (Chain(np.array([(50.0, 300.0), (50.0, 400.0), (80.0, 440.0)])),
         ("hidden", 150.0, 50.0, 400.0)),
        (box(100.0, 300.0, 50.0, 100.0), ("hidden", 300.0, 150.0, 400.0)),
        # A second layer lies within 2 mm all along (own choice).
        (Chain(np.array([(1.9, 300.0), (1.9, 400.0), (1.9, 500.0)])),
         ("layer", 200.0, 1.9, 400.0)),
        (Chain(np.array([(1.9, 300.0), (1.9, 400.0), (2.1, 500.0)])),
         ("hidden", 200.0002, 1.9, 400.0)),
        # High up, small and far from everything: before the contour above, or within it.
        (box(600.0, 1100.0, 50.0, 100.0), ("free", 300.0, 650.0, 1200.0)),
        (box(700.0, 710.0, 50.0, 100.0), ("hidden", 300.0, 750.0, 810.0)),
        # Beyond the reach of 2200 mm behind the foremost point (own choice).
        (box(2201.0, 300.0, 50.0, 100.0), ("rear", 300.0, 2251.0, 400.0)),
    ],
)  # fmt: skip
def test_what_is_left_out_is_told_by_kind_length_and_place(part, want) -> None:
    assert lost(Chain(FACE), part, foremost=0.0) == [want]
    assert lost(part, Chain(FACE), foremost=0.0) == [want]
    outline = outer_contour([Chain(FACE), part], foremost=0.0)
    assert outline.points.tolist() == FACE.tolist()
    assert outline.whole is None
    assert outline.walked() is None


@pytest.mark.parametrize(("low", "apart", "free"), [
    (1150.0, 101.0, True), (1150.0, 99.0, False), (699.0, 150.0, False), (701.0, 150.0, True),
])  # fmt: skip
def test_a_small_part_is_free_above_700_and_100_mm_off(low, apart, free) -> None:
    """Own choice: wholly above 700 mm and farther than 100 mm from everything else."""
    if low > 1000.0:
        face, part = FACE, box(1200.0 + apart, low - 155.0, 30.0, 40.0)
    else:
        face = np.array([(300.0, 200.0), (0.0, 250.0), (0.0, 660.0), (900.0, 500.0)])
        part = box(600.0, low, 30.0, 40.0)
    kinds = {kind for kind, *_ in lost(Chain(face), part, foremost=0.0)}
    assert ("free" in kinds) == free
    # What a straight edge would meet first is never left out, however small and far.
    ahead = box(-300.0, 750.0, 20.0, 30.0)
    assert "free" not in {kind for kind, *_ in lost(Chain(face), ahead, foremost=-300.0)}


def test_a_free_part_near_another_that_hangs_on_the_body_is_body() -> None:
    """From one to the next, each within 100 mm: the whole chain of parts hangs on the body."""
    first, second = box(1250.0, 1050.0, 40.0, 40.0), box(1250.0, 1180.0, 40.0, 40.0)
    assert [k for k, *_ in lost(Chain(FACE), second, foremost=0.0)] == ["free"]
    assert "free" not in {k for k, *_ in lost(Chain(FACE), first, second, foremost=0.0)}
    assert "free" not in {k for k, *_ in lost(second, first, Chain(FACE), foremost=0.0)}


def test_parts_that_are_all_free_leave_no_contour() -> None:
    outline = outer_contour([box(0.0, 900.0, 20.0, 30.0)])
    assert outline.points.shape == (0, 2)
    assert (outline.labels, outline.opened) == (None, False)
    assert [(d.kind, d.length) for d in outline.dropped] == [("free", 100.0)]


@pytest.mark.parametrize(
    ("length", "kind"), [(99.0, "flange"), (100.0, "flange"), (101.0, "hidden")]
)
def test_a_flange_is_no_longer_than_100_mm(length, kind) -> None:
    """Own choice: the end of a panel, turned inward at a joint of 10 mm."""
    lower = np.array([(300.0, 200.0), (0.0, 250.0), (0.0, 600.0), (length, 600.0)])
    upper = np.array([(0.0, 610.0), (0.0, 800.0), (900.0, 900.0)])
    outline = outer_contour([Chain(lower), Chain(upper)], foremost=0.0)
    assert [(d.kind, d.length) for d in outline.dropped] == [(kind, length)]
    assert [(b.length, b.x, b.z) for b in outline.bridges] == [(10.0, 0.0, 605.0)]
    assert outline.points.tolist() == [*lower[:3].tolist(), *upper.tolist()]


def test_bridges_carry_no_label_and_parts_their_own() -> None:
    lower = Chain(FACE[:3], labels=np.array([4, 4]))
    upper = Chain(np.add(FACE[2:], (20.0, 0.0)), labels=np.array([7, 9]))
    for chains in ([lower, upper], [upper, lower], [lower.reversed(), upper.reversed()]):
        outline = outer_contour(chains)
        assert outline.labels.tolist() == [4, 4, NO_LABEL, 7, 9]
    bare = outer_contour([Chain(FACE[:3]), upper])
    assert bare.labels.tolist() == [NO_LABEL, NO_LABEL, NO_LABEL, 7, 9]
    assert outer_contour([Chain(FACE[:3]), Chain(upper.points)]).labels is None


def test_windings_that_agree_are_told_and_others_are_mixed() -> None:
    lower, upper = FACE[:3], np.add(FACE[2:], (20.0, 0.0))
    for one, two, want in ((1, 1, 1), (-1, -1, -1), (1, -1, 0), (0, 1, 0)):
        for turn in (False, True):
            chains = [Chain(lower, winding=one), Chain(upper, winding=two)]
            chains = [c.reversed() for c in chains] if turn else chains
            assert outer_contour(chains).winding == want


def test_the_rear_of_a_long_part_is_cut_away_and_told() -> None:
    """2200 mm behind its foremost point (own choice): 1000 of 3200 mm of a roof that rises."""
    long = np.array([(0.0, 500.0), (0.0, 900.0), (3200.0, 1220.0)])
    for points in (long, long[::-1]):
        outline = outer_contour([Chain(points)])
        assert outline.points.tolist() == [[0.0, 500.0], [0.0, 900.0], [2200.0, 1120.0]]
        (rear,) = outline.dropped
        assert (rear.kind, rear.x, rear.z) == ("rear", 3200.0, 1220.0)
        assert rear.length == pytest.approx(math.hypot(1000.0, 100.0))
    whole = outer_contour([Chain(long * [2200.0 / 3200.0, 1.0])])
    assert whole.dropped == ()
    assert whole.whole is not None
    walked = whole.walked()
    assert walked is not None
    assert walked.points.tolist() == whole.points.tolist()


def test_one_open_line_is_turned_so_that_the_air_is_on_its_left() -> None:
    """A front that wraps; a flat bonnet; a straight face; a floor."""
    for line in (
        FACE, np.array([(0.0, 700.0), (900.0, 760.0)]), np.array([(5.0, 0.0), (0.0, 90.0)]),
        np.array([(9.0, 0.0), (5.0, 400.0), (9.0, 800.0)]),
    ):  # fmt: skip
        for points in (line, line[::-1]):
            outline = outer_contour([Chain(points, winding=1)])
            assert outline.points.tolist() == line.tolist()
            assert outline.winding == (1 if points is line else -1)


def test_the_reach_is_counted_from_the_foremost_of_all_parts() -> None:
    """2200 mm (own choice): a roof from 1000 to 3000 behind a face at 0 is cut at 2200."""
    face = np.array([(0.0, 300.0), (0.0, 800.0), (900.0, 900.0)])
    roof = np.array([(920.0, 910.0), (3000.0, 1118.0)])
    for chains in ([Chain(face), Chain(roof)], [Chain(roof), Chain(face)]):
        outline = outer_contour(chains, foremost=0.0)
        assert outline.points[-1] == pytest.approx((2200.0, 1038.0))
        (rear,) = outline.dropped
        assert (rear.kind, rear.x) == ("rear", 3000.0)
        assert rear.length == pytest.approx(800.0 * math.hypot(1.0, 0.1))
    # What begins just within it is body, what begins beyond is not, however long.
    for x, kinds in ((2200.0, ["hidden"]), (2200.1, ["rear"])):
        post = Chain(np.array([(x, 500.0), (x, 600.0)]))
        assert [d.kind for d in outer_contour([Chain(face), post], foremost=0.0).dropped] == kinds
    # One line alone that begins beyond is no front; so long a one is cut.
    alone = outer_contour([Chain(np.add(face, [2300.0, 0.0]))], foremost=0.0)
    assert (alone.points.shape, [d.kind for d in alone.dropped]) == ((0, 2), ["rear"])


def test_of_two_layers_in_one_place_the_longer_counts() -> None:
    short = Chain(np.array([(0.0, 300.0), (0.0, 700.0)]), labels=np.array([3]))
    longer = Chain(FACE, labels=np.array([5, 6, 7, 8]))
    for chains in ([short, longer], [longer, short]):
        outline = outer_contour(chains)
        assert outline.points.tolist() == FACE.tolist()
        assert outline.labels.tolist() == [5, 6, 7, 8]
        assert [(d.kind, d.length) for d in outline.dropped] == [("layer", 400.0)]


def test_a_line_of_two_points_is_taken_as_it_is() -> None:
    for line in (np.array([(0.0, 200.0), (30.0, 700.0)]), np.array([(0.0, 700.0), (900.0, 760.0)])):
        outline = outer_contour([Chain(line)])
        assert outline.whole is not None
        assert outline.points.tolist() == line.tolist()
        assert (outline.opened, outline.bridges, outline.dropped) == (False, (), ())


@pytest.mark.parametrize(("rise", "wraps"), [(1.0, True), (-1.0, False)])
def test_a_line_that_hardly_wraps_is_turned_by_what_is_seen_of_it(rise, wraps) -> None:
    """Enclosing a twentieth of the square of its length at least tells the way (own choice).

    An open triangle of base b and height h, twice its area b h, sides of sqrt(b^2 / 4 + h^2): with
    b = 1000 that is 0.05 of the square of its length where h^2 - 5000 h + 250000 = 0: h = 50.51.
    """
    half, height = 500.0, 50.51 + rise
    length = 2.0 * math.hypot(half, height)
    assert (2.0 * half * height / length**2 >= 0.05) == wraps
    hollow = np.array([(0.0, 500.0), (half, 500.0 - height), (1000.0, 500.0)])
    # A hollow in a bonnet is seen from above; taken for a line that wraps, from below.
    for points in (hollow, hollow[::-1]):
        first = outer_contour([Chain(points)]).points[0].tolist()
        assert first == (hollow[-1] if wraps else hollow[0]).tolist()
