"""Stretches linked, thinned and cut off, and planes dealt out to triangles: against plain loops."""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck.geometry import chains, slicing
from frontcheck.geometry.chains import Chain, ahead_of, link_segments
from frontcheck.geometry.slicing import Axes, cut_mesh
from frontcheck.geometry.thinning import Lines

# --- linking ------------------------------------------------------------------------------


def linked(stretches, planes=1, join=0.01, thin=0.0, tags=None):
    """Link stretches (plane, start key, end key); a key k lies at (10 k, 3 k k)."""
    plane = np.array([s[0] for s in stretches], dtype=np.intp)
    key = np.array([k for s in stretches for k in s[1:]], dtype=np.uint64)
    x, z = 10.0 * key.astype(float), 3.0 * key.astype(float) ** 2
    return link_segments(plane, x, z, key, tags, planes, join, thin)


def keys(chain):
    return np.rint(chain.points[:, 0] / 10.0).astype(int).tolist()


def counts(found, plane=0):
    own = found.counts[plane]
    return (own.stretches, own.duplicates, own.flipped, own.cracks, own.junctions)


@pytest.mark.parametrize("seed", range(12))
def test_paths_and_rings_come_back_whatever_the_order_and_way_of_their_stretches(seed) -> None:
    """Paths of 1 to 80 stretches and rings of 3 to 80, in three planes, with labels."""
    rng = np.random.default_rng(seed)
    stretches, tags, want, key = [], [], [], 1
    for k in range(9):
        n, closed = int(rng.choice([3, 4, 15, 16, 17, 31, 33, 80])), bool(k % 2)
        n = 1 if k == 0 else n
        plane = int(rng.integers(3))
        row = list(range(key, key + n + (not closed)))
        ends = row[1:] + (row[:1] if closed else [])
        way = int(rng.integers(3))  # wound one way, the other, or mixed
        flips = [[False] * n, [True] * n, [i % 2 == 0 for i in range(n)]][way]
        own = rng.integers(0, 4, n).tolist()
        for a, b, flip, tag in zip(row[: len(ends)], ends, flips, own, strict=True):
            stretches.append((plane, b, a) if flip else (plane, a, b))
            tags.append(tag)
        want.append((plane, closed, row, own, {True: 1}.get(len(set(flips)) == 1, 0)))
        key += n + 5
    order = rng.permutation(len(stretches))
    found = linked([stretches[i] for i in order], 3, tags=np.array(tags)[order])
    for plane in range(3):
        mine = [w for w in want if w[0] == plane]
        assert len(found.chains[plane]) == len(mine)
        assert found.counts[plane].stretches == sum(len(w[3]) for w in mine)
        for chain in found.chains[plane]:
            (own,) = [w for w in mine if keys(chain)[0] in w[2]]
            _, closed, row, labels, same = own
            assert chain.closed == closed
            got = keys(chain)
            assert sorted(got) == row
            pairs = {}
            for i, label in enumerate(labels):
                pairs[frozenset((row[i], row[(i + 1) % len(row)]))] = label
            steps = list(zip(got, got[1:] + (got[:1] if closed else []), strict=False))
            assert [pairs[frozenset(s)] for s in steps] == chain.labels.tolist()
            assert len(chain.labels) == len(labels)
            if same and len(labels) > 1:
                # +1 where the stretches run as the walk does.
                given = {tuple(s[1:]) for s in stretches}
                assert chain.winding == (1 if steps[0] in given else -1)
                assert all((s in given) == (steps[0] in given) for s in steps)
            elif len(labels) > 1:
                assert chain.winding == 0


def test_what_was_linked_and_left_out_is_counted_by_plane() -> None:
    """By the order (stretches, duplicates, flipped, cracks, junctions)."""
    assert counts(linked([(0, 1, 2), (0, 2, 3)])) == (2, 0, 0, 0, 0)
    assert counts(linked([(0, 1, 2), (0, 3, 2)])) == (2, 0, 1, 0, 0)
    assert counts(linked([(0, 2, 1), (0, 2, 3)])) == (2, 0, 1, 0, 0)
    # A stretch of no length counts and is left out.
    found = linked([(0, 1, 2), (0, 2, 2), (0, 2, 3)])
    assert counts(found) == (3, 0, 0, 0, 0)
    assert [keys(c) for c in found.chains[0]] in ([[1, 2, 3]], [[3, 2, 1]])
    # Twice the same, either way round, where three or more meet.
    for again in ((0, 2, 3), (0, 3, 2)):
        found = linked([(0, 1, 2), (0, 2, 3), again, (0, 3, 4)])
        assert counts(found) == (4, 1, 0, 0, 0)
        assert sorted(keys(found.chains[0][0])) == [1, 2, 3, 4]
    # Three at one edge are a junction, and linked by no key; nor by nearness, being three.
    found = linked([(0, 1, 2), (0, 2, 3), (0, 2, 4)])
    assert counts(found) == (3, 0, 0, 0, 1)
    assert len(found.chains[0]) == 3
    # Of another plane each count.
    found = linked([(1, 1, 2), (1, 3, 2), (0, 7, 8)], 3)
    assert [counts(found, p) for p in range(3)] == [(1, 0, 0, 0, 0), (2, 0, 1, 0, 0), (0,) * 5]
    assert [len(c) for c in found.chains] == [1, 1, 0]


@pytest.mark.parametrize(("apart", "joined"), [(0.0, True), (0.0099, True), (0.03, False)])
@pytest.mark.parametrize("at", [0.0, 0.005, 0.0101, 0.0149, -0.013])
@pytest.mark.parametrize("way", [(1.0, 0.0), (0.0, 1.0), (-0.7, 0.7)])
def test_ends_within_the_tolerance_are_linked_wherever_they_lie(apart, joined, at, way) -> None:
    """0.01 mm: two ends that close are one point, in whatever cells of a grid they fall."""
    x = np.array([-5.0, at, at + apart * way[0], 9.0])
    z = np.array([1.0, at, at + apart * way[1], 4.0])
    key = np.arange(4, dtype=np.uint64)
    found = link_segments(np.zeros(2, dtype=np.intp), x, z, key, None, 1, 0.01, 0.0)
    assert len(found.chains[0]) == (1 if joined else 2)
    assert found.counts[0].cracks == int(joined)
    assert found.counts[0].flipped == 0
    turned = [0, 1, 3, 2]
    found = link_segments(np.zeros(2, dtype=np.intp), x[turned], z[turned], key, None, 1, 0.01, 0.0)
    assert (found.counts[0].cracks, found.counts[0].flipped) == (int(joined), int(joined))
    # Not across planes, nor where three lie together.
    found = link_segments(np.arange(2), x, z, key, None, 2, 0.01, 0.0)
    assert [len(c) for c in found.chains] == [1, 1]
    three = [np.append(v, [v[1], 30.0]) for v in (x, z)]
    found = link_segments(
        np.zeros(3, dtype=np.intp), *three, np.arange(6, dtype=np.uint64), None, 1, 0.01, 0.0
    )
    if apart == 0.0:
        assert len(found.chains[0]) == 3


def test_of_thousands_of_ends_that_lie_together_in_pairs_none_is_missed() -> None:
    """Stretches one after the other, each begun within 0.01 mm of the end of the one before."""
    rng = np.random.default_rng(6)
    n = 6000
    at = np.stack([np.arange(n + 1.0), np.zeros(n + 1)], axis=1)
    at += rng.uniform(0.0, 0.3, (n + 1, 2))
    angle, off = rng.uniform(0.0, 2.0 * np.pi, n + 1), 0.00999 * np.sqrt(rng.random(n + 1))
    begun = at + off[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    ends = np.stack([begun[:-1], at[1:]], axis=1).reshape(-1, 2)
    found = link_segments(
        np.zeros(n, dtype=np.intp), *ends.T.copy(), np.arange(2 * n, dtype=np.uint64), None, 1,
        0.01, 0.0,
    )  # fmt: skip
    assert len(found.chains[0]) == 1
    assert found.counts[0].cracks == n - 1
    assert found.counts[0].flipped == 0


def test_a_short_stretch_is_not_closed_onto_itself() -> None:
    x, z = np.array([1.0, 1.004]), np.zeros(2)
    key = np.array([1, 2], dtype=np.uint64)
    found = link_segments(np.zeros(1, dtype=np.intp), x, z, key, None, 1, 0.01, 0.0)
    assert [(c.closed, len(c.points)) for c in found.chains[0]] == [(False, 2)]
    assert found.counts[0].cracks == 0


def test_keys_are_put_in_order_as_they_rise() -> None:
    rng = np.random.default_rng(3)
    key = rng.integers(0, 2**63, 500, dtype=np.uint64) * np.uint64(2)
    key[::7] = key[3]
    key[1::9] &= np.uint64(0xFFFF)
    key[2::11] &= np.uint64(0xFFFF00000000)
    assert chains._rising(key).tolist() == np.argsort(key, kind="stable").tolist()
    size, first = chains._groups(np.sort(key))
    _, many = np.unique(key, return_counts=True)
    assert size.tolist() == many.tolist()
    assert (np.sort(key)[first] == np.unique(key)).all()


def test_chains_turned_round_keep_their_stretches_and_labels() -> None:
    points = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)])
    line = Chain(points, labels=np.array([1, 2, 3]), winding=1).reversed()
    assert (line.points.tolist(), line.labels.tolist(), line.winding) == (
        points[::-1].tolist(), [3, 2, 1], -1
    )  # fmt: skip
    ring = Chain(points, True, np.array([1, 2, 3, 4]), -1).reversed()
    # The stretch after point 0 is the one that led to it, of label 4.
    assert ring.points.tolist() == points[[0, 3, 2, 1]].tolist()
    assert (ring.labels.tolist(), ring.closed, ring.winding) == ([4, 3, 2, 1], True, 1)
    assert Chain(points).reversed().labels is None
    assert Chain(points).winding == 0  # nothing is known of it


# --- cut off by a plane across ------------------------------------------------------------

ZIGZAG = np.array([(0.0, 0.0), (10.0, 4.0), (20.0, 0.0), (10.0, 8.0), (0.0, 9.0), (30.0, 12.0)])


def test_labels_and_windings_go_along_where_a_chain_is_cut() -> None:
    line = Chain(ZIGZAG, labels=np.array([1, 2, 3, 4, 5]), winding=-1)
    cut = ahead_of(line, 15.0)
    found = [(c.points.tolist(), c.labels.tolist(), c.closed, c.winding) for c in cut]
    assert found == [
        ([[0.0, 0.0], [10.0, 4.0], [15.0, 2.0]], [1, 2], False, -1),
        ([[15.0, 4.0], [10.0, 8.0], [0.0, 9.0], [15.0, 10.5]], [3, 4, 5], False, -1),
    ]
    # Through points: they belong to what lies ahead, and stretches beyond do not.
    found = [(c.points.tolist(), c.labels.tolist()) for c in ahead_of(line, 10.0)]
    assert found == [
        ([[0.0, 0.0], [10.0, 4.0]], [1]),
        ([[10.0, 8.0], [0.0, 9.0], [10.0, 10.0]], [4, 5]),
    ]
    # A point that only touches the plane from behind is nothing.
    touching = Chain(ZIGZAG[[2, 3, 2]], labels=np.array([1, 2]))
    assert ahead_of(touching, 10.0) == []
    assert ahead_of(line, 30.0) == [line]
    assert ahead_of(line, -0.1) == []
    assert [c.labels for c in ahead_of(Chain(ZIGZAG), 15.0)] == [None, None]


def test_a_ring_is_opened_where_it_is_cut() -> None:
    square = np.array([(0.0, 0.0), (20.0, 0.0), (20.0, 8.0), (0.0, 8.0)])
    for turn in range(4):
        ring = Chain(np.roll(square, turn, axis=0), True, np.roll([1, 2, 3, 4], turn), 1)
        (cut,) = ahead_of(ring, 15.0)
        assert cut.points.tolist() == [[15.0, 8.0], [0.0, 8.0], [0.0, 0.0], [15.0, 0.0]]
        assert (cut.labels.tolist(), cut.closed, cut.winding) == ([3, 4, 1], False, 1)
        (cut,) = ahead_of(ring, 0.0)
        assert (cut.points.tolist(), cut.labels.tolist()) == ([[0.0, 8.0], [0.0, 0.0]], [4])


# --- thinning -----------------------------------------------------------------------------


def thin(points, tolerance, closed=False, labels=None):
    points = np.asarray(points, dtype=float)
    many = None if labels is None else np.array(labels)
    out = Lines(points, many, np.array([len(points)]), np.array([closed])).thinned(tolerance)
    return out.points.tolist(), None if out.labels is None else out.labels.tolist()


def test_points_in_a_row_go_and_ends_corners_and_changes_of_label_stay() -> None:
    row = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0), (3.0, 5.0)]
    assert thin(row, 1e-6)[0] == [[0.0, 0.0], [3.0, 0.0], [3.0, 5.0]]
    assert thin(row, 0.0)[0] == [list(p) for p in row]
    assert thin(row, 1e-6, labels=[1, 1, 2, 2, 0]) == (
        [[0.0, 0.0], [2.0, 0.0], [3.0, 0.0], [3.0, 5.0]], [1, 2, 2, 0]
    )  # fmt: skip
    # Repeated points go, of a line and of a ring; what has no length goes whole.
    twice = [row[0], row[0], row[3], row[3], row[4], row[4]]
    assert thin(twice, 0.0)[0] == [[0.0, 0.0], [3.0, 0.0], [3.0, 5.0]]
    assert thin(twice, 0.0, labels=[9, 1, 9, 2, 9, 0])[1] == [1, 2, 0]
    assert thin([*twice, row[0]], 0.0, closed=True)[0] == [[0.0, 0.0], [3.0, 0.0], [3.0, 5.0]]
    assert thin([row[0]] * 3, 0.0)[0] == thin([row[0]] * 3, 0.0, closed=True)[0] == []
    # A point that the line turns back at stays.
    assert len(thin([(0.0, 0.0), (5.0, 0.0), (2.0, 0.0)], 1e-6)[0]) == 3
    # A ring keeps three points at least, a line two.
    square = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 4.0), (0.0, 4.0), (0.0, 2.0)]
    assert sorted(thin(square, 1e-6, closed=True)[0]) == [[0, 0], [0, 4], [4, 0], [4, 4]]
    assert len(thin([(0.0, 0.0), (2.0, 1e-9), (4.0, 0.0)], 1.0, closed=True)[0]) == 3
    assert len(thin([(0.0, 0.0), (2.0, 1e-9), (4.0, 0.0)], 1.0)[0]) == 2


@pytest.mark.parametrize(("off", "kept"), [(0.49, False), (0.51, True)])
def test_the_first_round_moves_a_line_by_half_of_the_tolerance(off, kept) -> None:
    assert len(thin([(0.0, 0.0), (5.0, off), (10.0, 0.0)], 1.0)[0]) == (3 if kept else 2)


def test_many_lines_are_thinned_each_for_itself() -> None:
    rng = np.random.default_rng(4)
    lines = []
    for k in range(12):
        n = int(rng.integers(2, 30))
        line = np.cumsum(rng.integers(-1, 3, (n, 2)), axis=0).astype(float)
        labels = rng.integers(0, 2, n) if k % 3 else np.zeros(n, int)
        lines.append((line, bool(k % 2) and n > 3, labels))
    together = Lines(
        np.concatenate([p for p, _, _ in lines]), np.concatenate([t for _, _, t in lines]),
        np.array([len(p) for p, _, _ in lines]), np.array([c for _, c, _ in lines]),
    ).thinned(0.4)  # fmt: skip
    alone = [thin(p, 0.4, closed, t) for p, closed, t in lines]
    assert together.points.tolist() == [p for points, _ in alone for p in points]
    assert together.labels.tolist() == [t for _, tags in alone for t in tags]
    assert together.sizes.tolist() == [len(points) for points, _ in alone]


# --- planes and triangles -----------------------------------------------------------------


@pytest.mark.parametrize("even", [True, False])
def test_planes_up_to_a_place_are_counted_as_by_search(even) -> None:
    rng = np.random.default_rng(5)
    for n in (1, 2, 3, 40, 500):
        levels = np.sort(rng.uniform(-500.0, 500.0, n))
        if even:
            levels = -300.0 + 7.3 * np.arange(n) + rng.uniform(-0.9, 0.9, n)
        step = slicing._even_step(levels)
        assert not even or (step is not None) == (n > 1)
        y = np.concatenate([rng.uniform(-900.0, 9000.0, 300), levels, levels + 1e-9, levels - 1e-9])
        want = [sum(level <= at for level in levels.tolist()) for at in y.tolist()]
        assert slicing._planes_up_to(y, levels, step).tolist() == want


def test_planes_a_quarter_of_their_step_off_are_not_evenly_spaced() -> None:
    levels = np.arange(5) * 4.0
    assert slicing._even_step(levels) == 4.0
    assert slicing._even_step(np.add(levels, [0.0, 0.0, 0.99, 0.0, 0.0])) == 4.0
    assert slicing._even_step(np.add(levels, [0.0, 0.0, 1.0, 0.0, 0.0])) is None
    assert slicing._even_step(levels[:1]) is None


def soup(seed, count=160):
    rng = np.random.default_rng(seed)
    tri = rng.uniform(-100.0, 100.0, (count, 1, 3)) + rng.normal(0.0, 30.0, (count, 3, 3))
    tri[::5] = np.round(tri[::5] / 20.0) * 20.0  # corners on planes, and triangles in them
    return tri


def cut_by_loop(tri, y):
    """Ends of the stretch that each triangle leaves; a corner on the plane counts as above it."""
    out = []
    for corners in tri:
        ends = [
            tuple(np.round((p + (y - p[1]) / (q[1] - p[1]) * (q - p))[[0, 2]], 6) + 0.0)
            for p, q in ((corners[i], corners[i - 1]) for i in range(3))
            if (p[1] < y) != (q[1] < y)
        ]
        if len(ends) == 2 and ends[0] != ends[1]:
            out.append(tuple(sorted(ends)))
    return sorted(set(out))


@pytest.mark.parametrize(("at_once", "faces_at_once"), [(30_000, 200_000), (50, 7)])
@pytest.mark.parametrize("axes", [
    Axes(), Axes((1, 2, 0), (-1.0, -2.0, 0.5), (3.0, 40.0, -1.0)),
])  # fmt: skip
def test_cuts_are_those_of_a_loop(monkeypatch, at_once, faces_at_once, axes) -> None:
    monkeypatch.setattr(slicing, "_PAIRS_AT_ONCE", at_once)
    monkeypatch.setattr(slicing, "_FACES_AT_ONCE", faces_at_once)
    file = soup(6)
    ours = np.stack([file[..., o] * s + t for o, s, t in
                     zip(axes.order, axes.scale, axes.shift, strict=True)], axis=-1)  # fmt: skip
    planes = np.array([-120.0, -60.0, -40.0, -20.0, 0.0, 3.3, 20.0, 40.0, 77.0, 500.0])
    shared, faces = np.unique(file.reshape(-1, 3), axis=0, return_inverse=True)
    for given in ({"points": file}, {"points": shared, "faces": faces.reshape(-1, 3)}):
        found = list(cut_mesh(planes=planes, axes=axes, thin=0.0, join=1e-9, **given))
        assert [y for y, _, _ in found] == planes.tolist()
        for y, cut, _ in found:
            got = []
            for chain in cut:
                points = np.round(chain.points, 6) + 0.0
                ring = np.concatenate([points, points[:1]]) if chain.closed else points
                got += [tuple(sorted(map(tuple, pair.tolist()))) for pair in
                        np.stack([ring[:-1], ring[1:]], axis=1)]  # fmt: skip
            want = np.array(cut_by_loop(ours, y))
            assert np.array(sorted(set(got))) == pytest.approx(want, abs=2e-6)


def test_least_and_greatest_of_a_column_turned_round_change_places() -> None:
    axes = Axes((2, 0, 1), (1.0, -2.0, 1.0), (0.0, 5.0, 0.0))
    least, most = np.array([1.0]), np.array([4.0])
    assert [v.tolist() for v in axes.span(least, most, 1)] == [[-3.0], [3.0]]
    assert [v.tolist() for v in axes.span(least, most, 0)] == [[1.0], [4.0]]
    points = np.array([[1.0, 2.0, 3.0], [7.0, 8.0, 9.0]])
    assert axes.column(points, 1).tolist() == [3.0, -9.0]
    assert axes.column(points, 2).tolist() == [2.0, 8.0]
    # The foremost x of a front: of a column turned round that is its greatest.
    turned = Axes((1, 0, 2), (-1.0, 1.0, 1.0), (10.0, 0.0, 0.0))
    assert slicing._foremost(points, turned) == 2.0
    assert slicing._foremost(points, Axes(shift=(0.5, 0.0, 0.0))) == 1.5
