"""Nearest points on triangles and what may lie within reach, against every triangle one by one."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from frontcheck.geometry import near_triangles
from frontcheck.geometry.near_triangles import (
    Discs,
    Nearest,
    Pieces,
    halved,
    held_by,
    nearest_on,
    nearest_on_edge,
    ranges,
)


def feet_on(tri, at):
    """Nearest point of every triangle (n, 3, 3) to its point (n, 3)."""
    # Of the nearest points of its edges, and of the foot on its plane where no edge leaves that
    # outside, the nearest.
    feet = []
    for i in range(3):
        a, step = tri[:, i], tri[:, i - 1] - tri[:, i]
        square = (step * step).sum(axis=1)
        t = ((at - a) * step).sum(axis=1) / np.where(square == 0.0, 1.0, square)
        feet.append(a + np.clip(t, 0.0, 1.0)[:, None] * step)
    normal = np.cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
    square = (normal * normal).sum(axis=1)
    off = ((at - tri[:, 0]) * normal).sum(axis=1) / np.where(square == 0.0, 1.0, square)
    foot = at - off[:, None] * normal
    inside = square > 1e-18
    for i in range(3):
        out = np.cross(tri[:, i] - tri[:, i - 1], foot - tri[:, i - 1])
        inside &= (out * normal).sum(axis=1) >= 0.0
    feet.append(np.where(inside[:, None], foot, feet[0]))
    feet = np.array(feet)
    best = np.linalg.norm(feet - at, axis=2).argmin(axis=0)
    return feet[best, np.arange(len(tri))]


def distances(tri, at):
    """Distances (points, triangles) of every point from every triangle."""
    rows = np.repeat(at, len(tri), axis=0)
    off = feet_on(np.tile(tri, (len(at), 1, 1)), rows) - rows
    return np.linalg.norm(off, axis=1).reshape(len(at), len(tri))


def soup(seed, count=60, spread=60.0, size=9.0):
    rng = np.random.default_rng(seed)
    middle = rng.uniform(-spread, spread, (count, 1, 3))
    return middle + rng.normal(0.0, size, (count, 3, 3))


def sheet(step=9.0, count=9):
    """A bent sheet of triangles that hang together, across the places 0."""
    x, y = np.meshgrid(np.arange(count) * step - 40.0, np.arange(count) * step - 41.0)
    p = np.stack([x, y, 0.004 * x * x - 0.1 * y], axis=-1)
    a, b, c, d = p[:-1, :-1], p[:-1, 1:], p[1:, :-1], p[1:, 1:]
    return np.concatenate([np.stack(t, axis=2).reshape(-1, 3, 3) for t in ((a, b, c), (b, d, c))])


def test_nearest_points_are_those_of_the_plane_or_of_an_edge() -> None:
    rng = np.random.default_rng(1)
    tri = soup(2, 400, 10.0, 10.0)
    tri[:20, 2] = tri[:20, 0]  # folded onto an edge
    tri[20:30] = tri[20:30, :1]  # a point
    tri[30:40] = np.round(tri[30:40])
    tri[30:40, 2] = 2.0 * tri[30:40, 1] - tri[30:40, 0]  # three corners in a row
    at = rng.uniform(-30.0, 30.0, (400, 3))
    at[40:60] = tri[40:60].mean(axis=1)  # on the face
    at[60:80] = tri[60:80, 1]  # on a corner
    at[80:100] = tri[80:100, :2].mean(axis=1)  # on an edge
    assert near_triangles.nearest_on(tri, at) == pytest.approx(feet_on(tri, at), abs=1e-7)


def test_beyond_an_edge_its_end_is_nearest_to_the_last_bit() -> None:
    rng = np.random.default_rng(3)
    a, b = rng.normal(size=(2, 300, 3)) * 1000.0
    past, before = b + 0.3 * (b - a), a - 0.3 * (b - a)
    assert (near_triangles.nearest_on_edge(a, b, past) == b).all()
    assert (near_triangles.nearest_on_edge(a, b, before) == a).all()
    assert (near_triangles.nearest_on_edge(a, a, past) == a).all()  # no length
    inner = near_triangles.nearest_on_edge(a, b, 0.75 * a + 0.25 * b)
    assert inner == pytest.approx(0.75 * a + 0.25 * b, abs=1e-9)


def test_products_and_units() -> None:
    rng = np.random.default_rng(4)
    a, b = rng.normal(size=(2, 50, 3))
    assert near_triangles.cross(a, b) == pytest.approx(np.cross(a, b), abs=1e-12)
    assert near_triangles.dot(a, b) == pytest.approx((a * b).sum(axis=1), abs=1e-12)
    assert near_triangles.unit(7.0 * a) == pytest.approx(
        a / np.linalg.norm(a, axis=1)[:, None], abs=1e-12
    )
    assert (near_triangles.unit(np.zeros((2, 3))) == 0.0).all()


def test_ranges_are_those_counted_one_by_one() -> None:
    rng = np.random.default_rng(5)
    first, last = rng.integers(0, 9, (2, 40))
    first[0], last[0], first[3], last[3] = 2, 5, 4, 4
    want = [(row, i) for row, (a, b) in enumerate(zip(first, last, strict=True))
            for i in range(a, b)]  # fmt: skip
    row, index = ranges(first, last)
    assert list(zip(row.tolist(), index.tolist(), strict=True)) == want
    assert [len(v) for v in ranges(first[:0], last[:0])] == [0, 0]


def test_points_held_by_others_are_told_to_the_last_bit() -> None:
    rng = np.random.default_rng(6)
    others = rng.normal(size=(200, 3)) * 500.0
    few = rng.normal(size=(4, 15, 3)) * 500.0
    few[0, :7] = others[:7]
    few[1, 0] = few[1, 1] = few[2, 3] = others[50]  # one place several times
    few[3, 14] = others[60] + [1e-12, 0.0, 0.0]
    marks = near_triangles.marks_of(others)
    few[2, 0], few[2, 1] = others[marks.argmin()], others[marks.argmax()]
    held = {tuple(p) for p in others.tolist()}
    want = [[tuple(p) in held for p in row] for row in few.tolist()]
    assert sum(map(sum, want)) == 12
    assert held_by(few, others).tolist() == want
    assert held_by(few, rng.permutation(others).reshape(2, 100, 3)).tolist() == want
    # The one asked for last, the first of all and none at all.
    assert held_by(others[[marks.argmax()]], others).tolist() == [True]
    assert held_by(few, others[:0]).tolist() == np.zeros((4, 15), dtype=bool).tolist()
    assert held_by(few[:0], others).shape == (0, 15)
    far = np.array([[1e6, 1e6, 1e6], [-1e6, -1e6, -1e6]])
    assert not held_by(far, others).any()
    assert not held_by(others[:5], far).any()
    # Places that differ in one coordinate only are different places.
    unlike = [others[0] * s for s in ([-1.0, 1.0, 1.0], [1.0, -1.0, 1.0], [1.0, 1.0, -1.0])]
    assert not held_by(others[:1], np.array(unlike)).any()


@pytest.mark.parametrize("longest", [16.0, 5.0])
def test_halved_triangles_cover_what_they_were_cut_from(longest) -> None:
    tri = np.concatenate([soup(7, 12, 50.0, 30.0), soup(8, 5, 9.0, 0.5)])
    pieces, origin = halved(tri, longest)
    edges = np.linalg.norm(pieces - np.roll(pieces, 1, axis=1), axis=2)
    assert edges.max() <= longest
    assert edges.max(axis=1)[origin < 12].mean() > longest / 2.0  # cut no smaller than need be
    across = [np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]) for t in (pieces, tri)]
    total = np.zeros_like(tri[:, 0])
    np.add.at(total, origin, across[0])  # areas with the way they face
    assert total == pytest.approx(across[1], abs=1e-8)
    assert ((across[0] * across[1][origin]).sum(axis=1) > 0.0).all()
    corners = pieces.reshape(-1, 3)
    assert feet_on(tri[np.repeat(origin, 3)], corners) == pytest.approx(corners, abs=1e-9)
    small = np.flatnonzero(np.isin(origin, range(12, 17)))
    assert (pieces[small] == tri[origin[small]]).all()
    assert sorted(origin[small].tolist()) == list(range(12, 17))


def test_an_edge_just_as_long_as_allowed_is_not_cut() -> None:
    tri = np.array([[(0.0, 0.0, 0.0), (16.0, 0.0, 0.0), (0.0, 3.0, 0.0)]])
    assert len(halved(tri, 17.0)[0]) == 1
    assert len(halved(tri[:, :], 16.0)[0]) == 2  # its slanted edge is longer
    right = np.array([[(0.0, 0.0, 0.0), (16.0, 0.0, 0.0), (8.0, 3.0, 0.0)]])
    assert (halved(right, 16.0)[0] == right).all()
    assert [len(v) for v in halved(tri[:0], 16.0)] == [0, 0]
    # At its longest edge, that is in two with sides of half of it.
    thin = np.array([[(0.0, 0.0, 0.0), (30.0, 0.0, 0.0), (15.0, 1.0, 0.0)]])
    pieces, origin = halved(thin, 16.0)
    assert origin.tolist() == [0, 0]
    assert np.linalg.norm(pieces - np.roll(pieces, 1, axis=1), axis=2).max() < 15.1


def test_pieces_lie_in_their_cubes_and_discs() -> None:
    tri = sheet()
    tri = np.random.default_rng(9).permutation(np.concatenate([tri, soup(10, 30, 50.0, 3.0)]))
    pieces = Pieces.of(tri)
    assert sorted(map(tuple, pieces.corners.reshape(-1, 9).tolist())) == sorted(
        map(tuple, tri.reshape(-1, 9).tolist())
    )
    count = np.diff(pieces.first)
    assert (pieces.first[0], pieces.first[-1], count.min() > 0) == (0, len(tri), True)
    cell = np.floor(pieces.corners.mean(axis=1) / 8.0).astype(int)  # cubes of 8 mm (own choice)
    cube = np.repeat(np.arange(len(count)), count)
    held = [{tuple(c) for c in cell[cube == i].tolist()} for i in range(len(count))]
    assert all(len(cells) == 1 for cells in held)
    assert len(set.union(*held)) == len(held)  # no cube twice
    assert (np.diff(pieces.layer) >= 0).all()
    assert (pieces.layer[cube] == cell[:, 1]).all()
    for discs, of in ((pieces.discs, np.arange(len(tri))), (pieces.cubes, cube)):
        off = pieces.corners - discs.middle[of][:, None]
        length = np.linalg.norm(off, axis=2).max(axis=1)
        away = np.abs((off * discs.normal[of][:, None]).sum(axis=2)).max(axis=1)
        assert (length <= discs.radius[of]).all()
        assert (away <= discs.thick[of]).all()
        # No wider than the farthest corner, by a micrometre at most.
        widest, thickest = np.zeros((2, len(discs.radius)))
        np.maximum.at(widest, of, length)
        np.maximum.at(thickest, of, away)
        assert discs.radius == pytest.approx(widest, abs=2e-6)
        assert discs.thick == pytest.approx(thickest, abs=2e-6)
        assert np.linalg.norm(discs.normal, axis=1) == pytest.approx(1.0)
    # The middle of a cube's disc is that of the box round its pieces.
    for i in range(len(count)):
        own = pieces.corners[cube == i].reshape(-1, 3)
        assert pieces.cubes.middle[i] == pytest.approx((own.min(axis=0) + own.max(axis=0)) / 2.0)
    # A level sheet lies flat in its discs, whichever way round its triangles are given.
    level = sheet() * [1.0, 1.0, 0.0]
    level[::2] = level[::2, ::-1]
    flat = Pieces.of(level).cubes
    assert np.abs(flat.normal[:, 2]) == pytest.approx(1.0)
    assert flat.thick.max() < 1e-5


def test_a_disc_is_looked_at_where_its_edge_comes_within_reach() -> None:
    """A disc of radius 3, half thickness 0.5: seen along its normal, and from the side."""
    disc = Discs(np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]), np.array([3.0]), np.array([0.5]))
    for at, near in (
        ((0.0, 0.0, 7.49), True), ((0.0, 0.0, 7.51), False), ((0.0, 0.0, -7.49), True),
        ((9.99, 0.0, 0.0), True), ((0.0, 10.01, 0.0), False), ((-10.01, 0.0, 0.0), False),
        ((8.0, 0.0, 6.0), False),  # 10 off: 10 - (3 * 8 + 0.5 * 6) / 10 = 7.3
        ((7.6, 0.0, 5.7), True),  # 9.5 off: 9.5 - 2.7 = 6.8
        ((0.0, 0.0, 0.0), True),
    ):  # fmt: skip
        row, item = disc.closer(np.array([0]), np.array([0]), np.array([at]), np.array([7.0]))
        assert (row.tolist(), item.tolist()) == (([0], [0]) if near else ([], [])), at


@pytest.mark.parametrize("seed", range(4))
def test_of_all_pieces_none_within_reach_is_missed(seed) -> None:
    rng = np.random.default_rng(20 + seed)
    tri = sheet() if seed == 0 else soup(30 + seed, 150, 50.0, (2.0, 6.0, 12.0)[seed - 1])
    pieces = Pieces.of(tri)
    at = rng.uniform(-110.0, 110.0, (30, 3))
    at[0], at[1] = pieces.corners[0, 0], pieces.corners[-1, 2]
    reach = rng.uniform(0.0, 70.0, 30)
    gap = distances(pieces.corners, at)
    row, piece = pieces.within(at, reach)
    assert (np.diff(row) >= 0).all()
    found = set(zip(row.tolist(), piece.tolist(), strict=True))
    assert len(found) == len(row)
    assert set(zip(*(v.tolist() for v in np.nonzero(gap <= reach[:, None])), strict=True)) <= found
    # What is looked at in vain is no farther than a piece is wide.
    wide = np.linalg.norm(pieces.corners - np.roll(pieces.corners, 1, axis=1), axis=2).max(axis=1)
    assert (gap[row, piece] <= reach[row] + wide[piece] + 1e-5).all()
    assert [len(v) for v in pieces.within(at[:0], reach[:0])] == [0, 0]


def test_triangles_that_hold_a_point_are_all_those_at_it() -> None:
    """A corner of the sheet lies on up to six triangles, the middle of an edge on two."""
    tri = sheet()
    pieces = Pieces.of(tri)
    edge, face = tri[17, :2].mean(axis=0), tri[40].mean(axis=0)
    at = np.array(
        [tri[20, 0], edge, face, np.add(face, [0.0, 0.0, 0.9e-6]), np.add(face, [0.0, 0.0, 1.2e-6])]
    )
    pair, corners = pieces.holding(at)
    want = (distances(tri, at) <= 1e-6).sum(axis=1)  # closer than 1e-6 mm: on it
    assert np.bincount(pair, minlength=5).tolist() == want.tolist()
    assert want[1:].tolist() == [2, 1, 1, 0]
    assert want[0] in {3, 6}
    for k, own in zip(pair, corners, strict=True):
        assert distances(own[None], at[k : k + 1])[0, 0] <= 1e-6


@pytest.mark.parametrize("margins", [(0.8, 15.0), (3.0,)])
def test_nearest_pieces_to_points_that_move_are_those_of_all(margins) -> None:
    """Random steps, small and large, of some points at a time; asked each time of all pieces."""
    rng = np.random.default_rng(41)
    pieces = Pieces.of(soup(42, 90, 35.0, 5.0))
    count, reach = 12, 20.0
    near = Nearest(pieces, count, reach, margins)
    at = rng.uniform(-60.0, 60.0, (count, 3))
    placed = np.zeros(count, dtype=bool)
    lost = found = 0
    for step in itertools.chain([None], [30.0, 0.1, 0.5, 2.0, 0.1, 0.0] * 6):
        rows = np.arange(count) if step is None else np.flatnonzero(rng.random(count) < 0.6)
        at[rows] += 0.0 if step is None else rng.normal(size=(len(rows), 3)) * step / 2.0
        at[rows] = np.clip(at[rows], -70.0, 70.0)
        near.move(rows, at[rows])
        placed[rows] = True
        assert (near.at[placed] == at[placed]).all()
        gap = distances(pieces.corners, at[rows])
        least = gap.min(axis=1)
        best = near.best[rows]
        held = least <= reach + margins[-1]
        assert best[held] == pytest.approx(least[held], abs=1e-9)
        assert (best[~held] >= least[~held] - 1e-9).all()
        found, lost = found + int(held.sum()), lost + int(np.isinf(best).sum())
        some = np.flatnonzero(held)
        feet = near.foot[rows[some]]
        assert np.linalg.norm(feet - at[rows[some]], axis=1) == pytest.approx(least[some], abs=1e-9)
        assert (gap[some, near.piece[rows[some]]] <= least[some] + 1e-9).all()
    assert found > 100
    assert lost > 10


def test_small_moves_need_no_second_look_at_all_pieces(monkeypatch) -> None:
    pieces = Pieces.of(soup(43, 90, 35.0, 5.0))
    asked = []
    within = Pieces.within
    monkeypatch.setattr(Pieces, "within", lambda *args: asked.append(1) or within(*args))
    at = np.random.default_rng(44).uniform(-20.0, 20.0, (8, 3))
    near = Nearest(pieces, 8, 20.0, (0.8, 15.0))
    near.move(np.arange(8), at)
    first = len(asked)
    assert first >= 1
    for k in range(1, 8):  # 0.35 mm in all: twice that is less than the margin of 0.8 mm
        near.move(np.arange(8), np.add(at, [0.05 * k, 0.0, 0.0]))
        gap = distances(pieces.corners, near.at)
        assert near.best == pytest.approx(gap.min(axis=1), abs=1e-9)
    assert len(asked) == first
    near.move(np.arange(8), np.add(at, [40.0, 0.0, 0.0]))
    assert len(asked) > first


def test_of_pieces_as_near_the_first_counts() -> None:
    """A point over a corner of four triangles that lie in one cube."""
    up, out = np.array([0.0, 0.0, 2.0]), [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)]
    fan = np.array([[(4.0, 4.0, 1.0), (4.0 + a, 4.0 + b, 1.0), (4.0 + c, 4.0 + d, 1.0)]
                    for (a, b), (c, d) in zip(out, out[1:] + out[:1], strict=True)])  # fmt: skip
    near = Nearest(Pieces.of(fan), 1, 5.0, (1.0,))
    near.move(np.array([0]), fan[:1, 0] + up)
    assert (near.piece.tolist(), near.best.tolist()) == ([0], [2.0])
    assert near.foot.tolist() == [[4.0, 4.0, 1.0]]


def test_corners_in_a_row_but_for_rounding() -> None:
    """The nearest point then lies on one of the edges."""
    rng = np.random.default_rng(8)
    a, d = rng.uniform(-50.0, 50.0, (2, 4000, 3))
    at = a + rng.uniform(-60.0, 60.0, (4000, 3))
    found = np.linalg.norm(nearest_on(np.stack([a, a + d, a + 2.0 * d], axis=1), at) - at, axis=1)
    wanted = np.linalg.norm(nearest_on_edge(a, a + 2.0 * d, at) - at, axis=1)
    np.testing.assert_allclose(found, wanted, atol=1e-9)
