"""The side edge: against a plain way over all facets, and where lines across meet its line."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.lines import side as module
from frontcheck.lines.side import Side, SideContacts
from frontcheck.surface.section import PARTS
from frontcheck.surface.surface import NO_PART, Facets

OPEN = "the surface ends there: the side of the vehicle beyond it is not known"
BONNET, GLASS, IGNORE = (PARTS.index(name) for name in ("bonnet", "windscreen", "ignore"))


def facets(corners, part=NO_PART) -> Facets:
    corners = np.asarray(corners, dtype=float).reshape(-1, 3, 3)
    return Facets(corners, np.broadcast_to(part, len(corners)).astype(np.intp))


def sheet(x, rows, part=NO_PART) -> Facets:
    """A surface through rows of (y, z), one at every x."""
    p = np.array([[(a, y, z) for y, z in row] for a, row in zip(x, rows, strict=True)])
    a, b, c, d = p[:-1, :-1], p[:-1, 1:], p[1:, :-1], p[1:, 1:]
    both = [np.stack(t, axis=2).reshape(-1, 3, 3) for t in ((a, b, c), (b, d, c))]
    return facets(np.concatenate(both), part)


def crossings(triangle, x: float) -> list[np.ndarray]:
    """Ends of the cut of one facet by a plane, edge by edge."""
    met = [p for p in triangle if p[0] == x]
    for p, q in zip(triangle, np.roll(triangle, -1, axis=0), strict=True):
        if (p[0] - x) * (q[0] - x) < 0.0:
            met.append(p + (x - p[0]) / (q[0] - p[0]) * (q - p))
    return met


def plain(corners, x: float, lean_deg: float) -> tuple[float, float, float] | None:
    """y and z of the place farthest out square to the edge, and how far; the highest of several."""
    cos, sin = math.cos(math.radians(lean_deg)), math.sin(math.radians(lean_deg))
    met = [p for triangle in corners for p in crossings(triangle, x)]
    if not met:
        return None
    out = max(p[1] * cos + p[2] * sin for p in met)
    _, y, z = max((p for p in met if p[1] * cos + p[2] * sin >= out - 1e-9), key=lambda p: p[2])
    return y, z, out


# Flat pieces longer than 40 mm are no smooth shape: the place of the touch is a corner of them.
def rough(rng: np.random.Generator, count: int) -> Facets:
    """Facets anywhere on either side of the centre plane, all of them long."""
    middle = rng.uniform((-900.0, -300.0, 300.0), (900.0, 800.0, 1000.0), (count, 1, 3))
    return facets(middle + rng.uniform(-300.0, 300.0, (count, 3, 3)))


@pytest.mark.parametrize("lean", [45.0, 20.0])
@pytest.mark.parametrize("seed", range(4))
def test_contacts_are_those_of_all_facets(seed: int, lean: float) -> None:
    rng = np.random.default_rng(seed)
    some = rough(rng, 25)
    levels = np.unique(rng.uniform(-1300.0, 1300.0, 60))
    found = Side.of(some, lean).contacts(levels)
    right = some.corners[(some.corners[..., 1] > 0.0).any(axis=1)]
    reached = 0
    for k, x in enumerate(levels):
        known = plain(right, x, lean)
        assert found.touched[k] == (known is not None and known[0] > 0.0)
        if not found.touched[k]:
            continue
        y, z, out = known
        square = found.y[k] * math.cos(math.radians(lean)) + found.z[k] * math.sin(
            math.radians(lean)
        )
        assert square == pytest.approx(out, abs=1e-9)
        assert (found.y[k], found.z[k]) == pytest.approx((y, z), abs=1e-6)
        reached += 1
    assert 20 < reached <= len(found.points)
    assert np.array_equal(found.points[:, 0], levels[found.touched])


@pytest.mark.parametrize("seed", range(3))
def test_a_sample_of_many_facets_hides_none(seed: int, monkeypatch) -> None:
    """Facets that a bound from a few leaves out have no say: the same as with all of them."""
    rng = np.random.default_rng(seed)
    some, levels = rough(rng, 400), np.unique(rng.uniform(-1300.0, 1300.0, 80))
    part = np.where(rng.random(400) < 0.7, BONNET, GLASS)
    side = Side.of(Facets(some.corners, part), 45.0)
    every = side.contacts(levels)
    for few in (1, 7, 60):
        monkeypatch.setattr(module, "_SAMPLE", few)
        found = side.contacts(levels)
        for name in ("touched", "open_end"):
            assert np.array_equal(getattr(found, name), getattr(every, name))
        for name in ("y", "z"):
            own = [getattr(each, name)[every.touched] for each in (found, every)]
            assert np.array_equal(*own)


def test_blocks_are_laid_end_to_end(monkeypatch) -> None:
    some = rough(np.random.default_rng(3), 23)
    whole = Side.of(some, 30.0)
    monkeypatch.setattr(module, "_AT_ONCE", 5)
    small = Side.of(some, 30.0)
    for name in ("low", "high", "out"):
        assert np.array_equal(getattr(whole, name), getattr(small, name))
    corners = whole.corners
    assert np.array_equal(whole.low, corners[..., 0].min(axis=1))
    assert np.array_equal(whole.high, corners[..., 0].max(axis=1))
    out = corners[..., 1] * math.cos(math.radians(30)) + corners[..., 2] / 2.0
    assert whole.out == pytest.approx(out.max(axis=1), abs=1e-9)
    part = whole.between(-100.0, 200.0)
    here = (whole.high >= -100.0) & (whole.low <= 200.0)
    assert 0 < here.sum() < len(here)
    assert np.array_equal(part.corners, corners[here])


def test_what_counts_is_the_front_structure_ahead_of_the_end_of_the_windscreen() -> None:
    """UN R127 02 series, 2.22 (text read): no glass, no pillars, nothing rearward of them.

    Nothing touches what is labelled ignore; without glass nothing lies rearward of it.
    """

    def upright(x0: float, x1: float) -> list[tuple[float, float, float]]:
        return [(x0, 600, 500), (x1, 600, 500), (x0, 600, 700)]

    spans = [(0, 500), (500, 900), (900, 1500), (890, 1400), (1500, 1700), (100, 200)]
    names = ["bonnet", "windscreen", "bonnet", "", "wing", "ignore"]
    codes = np.array([PARTS.index(name) if name else NO_PART for name in names])
    some = Facets(np.array([upright(*each) for each in spans], dtype=float), codes)
    side = Side.of(some, 45.0)
    # The glass ends at 900: what begins there or behind it lies rearward.
    assert side.low.tolist() == [0, 500, 900, 890, 1500]
    assert side.counted.tolist() == [True, False, False, True, False]
    bare = Side.of(some.only(codes != GLASS), 45.0)
    assert bare.counted.tolist() == [True, True, True, True]
    left = facets([[(0, -600, 500), (9, -600, 500), (0, 0, 700)]])
    assert len(Side.of(left, 45.0).low) == 0


def wedge(end: float = 600.0, drop: float = 200.0, part: int = BONNET) -> Facets:
    """A level top 600 mm wide from x = 0 to 1000, 700 mm high, that falls steeply beyond it."""
    row = [(0.0, 700.0), (end, 700.0), *([(end + 20.0, 700.0 - drop)] if drop else [])]
    return sheet([0.0, 1000.0], [row, row], part)


def test_the_end_of_the_surface_is_open_and_an_edge_is_not() -> None:
    for some, open_end in ((wedge(), False), (wedge(drop=0.0), True)):
        found = Side.of(some, 45.0).line()
        assert found.x.tolist() == np.arange(0.0, 1001.0, 10.0).tolist()
        assert np.abs(found.y - 600.0).max() < 1e-9
        assert np.abs(found.z - 700.0).max() < 1e-9
        assert set(found.open_end.tolist()) == {open_end}
    # In a plane of its own as well, at either end of a facet.
    for x in (0.0, 1000.0):
        alone = Side.of(wedge(), 45.0).contacts(np.array([x]))
        assert (alone.x[0], alone.y[0], bool(alone.touched[0])) == (x, pytest.approx(600.0), True)
    # The rim of an upright facet across the vehicle is no surface going on.
    rim = facets([[(0, 0, 600), (0, 700, 600), (0, 0, 700)]])
    both = Facets.joined([wedge(drop=0.0), rim])
    found = Side.of(Facets.joined([both, rim]), 45.0).contacts(np.array([0.0, 500.0]))
    assert found.open_end.tolist() == [True, True]


@pytest.mark.parametrize(
    ("on", "down", "open_end"),
    [(24.9, 1.0, False), (25.1, 1.0, True), (3.0, 24.7, False), (3.0, 25.0, True)],
)
def test_a_gap_between_panels_is_bridged(on: float, down: float, open_end: bool) -> None:
    """Beside a panel that ends the surface goes on where another begins within 25 mm: own choice.

    Its near edge lies so far along the straight edge, and so far below it.
    """
    y, z = 600.0 + (on - down) * math.sqrt(0.5), 700.0 - (on + down) * math.sqrt(0.5)
    beside = sheet([0.0, 1000.0], [[(y, z), (y + 1.0, z - 100.0)]] * 2)
    found = Side.of(Facets.joined([wedge(drop=0.0), beside]), 45.0).contacts(np.array([500.0]))
    assert found.y[0] == pytest.approx(600.0, abs=1e-9)
    assert bool(found.open_end[0]) is open_end


def test_the_line_has_planes_every_ten_millimetres_and_more_beside_bends() -> None:
    """A side that turns in by 4:1 at x = 503, between planes: three times halved beside it."""

    def rows(xs: list[float]) -> list[list[tuple[float, float]]]:
        wide = [600.0 - 4.0 * max(x - 503.0, 0.0) for x in xs]
        return [[(0.0, 700.0), (w, 700.0), (w + 10.0, 400.0)] for w in wide]

    xs = [-7.0, 503.0, 608.0]
    found = Side.of(sheet(xs, rows(xs)), 45.0).line((333.3,))
    whole = set(np.arange(0.0, 601.0, 10.0).tolist()) | {333.3}
    own = set(found.x.tolist())
    assert whole <= own
    more = sorted(own - whole)
    assert len(more) >= 3
    assert all(470.0 < x < 530.0 for x in more)
    assert np.diff(found.x).min() == pytest.approx(1.25)
    assert (np.diff(found.x) > 0.0).all()
    assert found.y == pytest.approx(600.0 - 4.0 * np.maximum(found.x - 503.0, 0.0), abs=1e-9)
    # One that bends by less than half a millimetre between planes has none of them.
    flat = sheet([0.0, 505.0, 1000.0], [[(0, 700), (w, 700), (w, 400)] for w in (600, 600, 560)])
    assert len(Side.of(flat, 45.0).line().x) == 101
    assert len(Side.of(wedge(part=GLASS), 45.0).line().x) == 0


# --- meetings ------------------------------------------------------------------------------


def across(points) -> np.ndarray:
    return np.array(points, dtype=float).reshape(-1, 3)


LEVEL = [(300.0, y, 700.0) for y in np.arange(0.0, 701.0, 50.0)]
MEETINGS = {
    "no surface": (wedge(part=GLASS), LEVEL, None,
                   "nothing was measured on this side of the centre plane"),
    "no line": (wedge(), [], None, "BLERL could not be formed on this side"),
    "ends inside": (wedge(), LEVEL[:8], None, "BLERL ends at y = 350 mm, inside the SRL"),
    "outside": (wedge(), [(300, 650, 700), (310, 700, 700)], None,
                "BLERL lies outside the SRL throughout"),
    "off the surface": (wedge(), [(-300, 0, 700), (-200, 700, 700)], None,
                        "BLERL lies outside the SRL throughout"),
    "between two": (wedge(), [(300, 0, 700), (300, 560, 700), (320, 640, 700)],
                    (310.0, 600.0, 700.0), ""),
    "at its end": (wedge(), [(300, 0, 700), (300, 600, 700)], (300.0, 600.0, 700.0), ""),
    "at its end, nearly": (wedge(), [(300, 0, 700), (300, 599.991, 700)],
                           (300.0, 599.991, 700.0), ""),
    "not at its end": (wedge(), [(300, 0, 700), (300, 599.98, 700)], None,
                       "BLERL ends at y = 599.98 mm, inside the SRL"),
    "just outside": (wedge(), [(300, 0, 700), (300, 600.009, 700)], (300.0, 600.009, 700.0), ""),
    "where it ends": (wedge(drop=0.0), [(300, 0, 700), (300, 600, 700)], (300.0, 600.0, 700.0),
                      OPEN),
    "beyond where it ends": (wedge(drop=0.0), LEVEL, (300.0, 600.0, 700.0), OPEN),
    # Twice across: the outer of both places counts.
    "twice": (wedge(), [(300, 0, 700), (310, 650, 700), (320, 550, 700), (340, 650, 700)],
              (330.0, 600.0, 700.0), ""),
}  # fmt: skip


@pytest.mark.parametrize("name", MEETINGS)
def test_meeting(name: str) -> None:
    some, line, point, reason = MEETINGS[name]
    met = Side.of(some, 45.0).meeting(across(line), "BLERL")
    assert met.reason == reason
    assert met.open_end == (reason == OPEN)
    assert met.point == (None if point is None else pytest.approx(point, abs=1e-6))


@pytest.mark.parametrize("count", [2, 15, 16, 17, 18, 31, 32, 33, 34, 50])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.93])
def test_meeting_of_a_line_of_many_places(count: int, share: float) -> None:
    """A few places at a time from the outer end: wherever it meets, it is found there.

    The line runs straight from the centre to y = 600 / share; it meets at y = 600.
    """
    y = np.linspace(0.0, 600.0 / share, count)
    line = np.stack([100.0 + y * share, y, np.full(count, 700.0)], axis=1)
    met = Side.of(wedge(), 45.0).meeting(line, "BRRL")
    # What lies outside by a hundredth of a millimetre still counts as inside: own choice.
    assert met.point == pytest.approx((100.0 + 600.0 * share, 600.0, 700.0), abs=0.0102)
    assert (met.open_end, met.reason) == (False, "")


def test_meeting_where_the_srl_leans_inward() -> None:
    """SRL from (0, 600) to (1000, 500); BLERL from (0, 0) at 1:2 meets where y = 600 - x / 10."""
    rows = [[(0.0, 700.0), (w, 700.0), (w + 5.0, 400.0)] for w in (600.0, 500.0)]
    side = Side.of(sheet([0.0, 1000.0], rows), 45.0)
    met = side.meeting(across([(0, 0, 700), (400, 800, 700)]), "BLERL")
    x = 600.0 / 2.1
    assert met.point == pytest.approx((x, 2.0 * x, 700.0), abs=1e-6)


def test_some_of_the_contacts() -> None:
    row = np.arange(3.0)
    held = SideContacts(np.array([True, False, True]), row, row + 10, row + 20, row > 1)
    assert held.points.tolist() == [[0, 10, 20], [2, 12, 22]]
    assert held.at(held.touched).x.tolist() == [0, 2]
    assert held.at(np.array([2])).points.tolist() == [[2, 12, 22]]
