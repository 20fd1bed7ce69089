"""The contour through sections of several parts, where it can be drawn by hand.

Gaps of panels up to 25 mm are bridged; steeper than 50 deg into a slot nothing is touched (tan 50 =
1.19175); a contour ends at a bridge of more than 300 mm beyond which no straight edge would touch
anything. All three are own choices.
"""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck.geometry.chains import Chain
from frontcheck.geometry.outline import NO_LABEL, outer_contour

LOWER = [(200.0, 190.0), (0.0, 200.0), (0.0, 500.0)]
HIDDEN = [(60.0, 300.0), (60.0, 350.0)]


def upper(z):
    return [(0.0, z), (0.0, 800.0), (900.0, 900.0)]


def walls(x):
    """An upright wall behind a slot, 50 mm more at its lower end."""
    return [(x, 450.0), (x, 650.0)]


def chains(*lines):
    return [Chain(np.array(line), labels=np.full(len(line) - 1, k)) for k, line in enumerate(lines)]


DEEP = ["hidden"]
TAKEN = ["flange", "hidden"]
CASES = {
    # Narrower than the gap: whatever lies behind is left out.
    "narrow": ((LOWER, upper(524.9), walls(20.0)), [*LOWER, *upper(524.9)], DEEP, [24.9]),
    # As wide as the gap still.
    "as wide": ((LOWER, upper(525.0), walls(20.0)), [*LOWER, *upper(525.0)], DEEP, [25.0]),
    # Wider: what is seen of the wall is walked. 25.1 tan 50 = 29.91.
    "wide": (
        (LOWER, upper(525.1), walls(29.8)),
        [*LOWER, (29.8, 500.0), (29.8, 525.1), *upper(525.1)], TAKEN, [29.8, 29.8],
    ),
    "wide and deep": ((LOWER, upper(525.1), walls(30.0)), [*LOWER, *upper(525.1)], DEEP, [25.1]),
    # 40 tan 50 = 47.67.
    "wider": (
        (LOWER, upper(540.0), walls(47.5)),
        [*LOWER, (47.5, 500.0), (47.5, 540.0), *upper(540.0)], TAKEN, [47.5, 47.5],
    ),
    "wider and deep": ((LOWER, upper(540.0), walls(47.8)), [*LOWER, *upper(540.0)], DEEP, [40.0]),
    # A narrow and deep recess of one chain is walked: it is the surface.
    "recess": (
        ([*LOWER, (300.0, 502.0), (300.0, 507.0), *upper(505.0)], HIDDEN),
        [*LOWER, (300.0, 502.0), (300.0, 507.0), *upper(505.0)], DEEP, [],
    ),
    # Steps: what lies in one is seen from above, or from below where the step is forward.
    "step back": (
        (LOWER, [(150.0, 520.0), (150.0, 800.0), (900.0, 900.0)], [(10.0, 490.0), (160.0, 489.0)]),
        [*LOWER, (10.0, 490.0), (150.0, 489.0667), (150.0, 520.0), (150.0, 800.0), (900.0, 900.0)],
        ["flange"], [14.1421, 30.9333],
    ),
    "step forward": (
        ([(300.0, 190.0), (150.0, 200.0), (150.0, 500.0)],
         [(0.0, 520.0), (0.0, 800.0), (900.0, 900.0)], [(5.0, 530.0), (160.0, 531.0)]),
        [(300.0, 190.0), (150.0, 200.0), (150.0, 500.0), (150.0, 530.9355), (5.0, 530.0),
         (0.0, 520.0), (0.0, 800.0), (900.0, 900.0)], ["flange"], [30.9355, 11.1803],
    ),
    "step back, no floor": (
        (LOWER, [(150.0, 520.0), (150.0, 800.0), (900.0, 900.0)]),
        [*LOWER, (150.0, 520.0), (150.0, 800.0), (900.0, 900.0)], [], [151.3275],
    ),
    # A step no deeper than the gap asks for no floor.
    "small step back": (
        (LOWER, [(24.0, 530.0), (24.0, 800.0), (900.0, 900.0)], [(1.0, 490.0), (34.0, 489.0)]),
        [*LOWER, (24.0, 530.0), (24.0, 800.0), (900.0, 900.0)], ["hidden"], [38.4187],
    ),
    # Behind the highest point goes on what is seen from above, behind the lowest from below.
    "roof and floor": (
        ([(0.0, 200.0), (0.0, 500.0)], [(20.0, 499.0), (600.0, 450.0)], [(20.0, 201.0),
                                                                       (600.0, 240.0)]),
        [(600.0, 240.0), (20.0, 201.0), (0.0, 200.0), (0.0, 500.0), (20.0, 499.0), (600.0, 450.0)],
        [], [20.025, 20.025],
    ),
    # The contour ends at a long bridge beyond which nothing is touched first, here behind the top.
    "far roof": (
        ([*LOWER[:2], (0.0, 700.0), (300.0, 800.0)], [(599.0, 800.0), (1299.0, 900.0)]),
        [*LOWER[:2], (0.0, 700.0), (300.0, 800.0), (599.0, 800.0), (1299.0, 900.0)], [], [299.0],
    ),
    "farther roof": (
        ([*LOWER[:2], (0.0, 700.0), (300.0, 800.0)], [(601.0, 800.0), (1301.0, 900.0)]),
        [*LOWER[:2], (0.0, 700.0), (300.0, 800.0)], ["hidden"], [],
    ),
    # A longer gap in the face is spanned: straight edges touch both parts.
    "far face": (
        ([(200.0, 190.0), (0.0, 200.0), (0.0, 600.0)], [(0.0, 901.0), (0.0, 1301.0)]),
        [(200.0, 190.0), (0.0, 200.0), (0.0, 600.0), (0.0, 901.0), (0.0, 1301.0)], [], [301.0],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("order", ["given", "turned", "reversed"])
def test_the_contour_is_the_one_drawn_by_hand(name, order) -> None:
    lines, points, kinds, bridges = CASES[name]
    given = chains(*lines)
    if order == "turned":
        given = given[::-1]
    elif order == "reversed":
        given = [chain.reversed() for chain in given]
    outline = outer_contour(given)
    assert outline.points == pytest.approx(np.array(points), abs=1e-3)
    assert sorted(d.kind for d in outline.dropped) == kinds
    assert [b.length for b in outline.bridges] == pytest.approx(bridges, abs=1e-3)
    for bridge in outline.bridges:
        on = np.abs(np.add(points[1:], points[:-1]) / 2.0 - (bridge.x, bridge.z)).max(axis=1)
        assert on.min() < 1e-3
    assert (outline.labels == NO_LABEL).sum() == len(bridges)
    # Every stretch that is no bridge is of the part on which both its ends lie.
    for a, b, label in zip(outline.points, outline.points[1:], outline.labels, strict=False):
        if label != NO_LABEL:
            own = np.array(lines[label])
            for p in (a, b):
                step = np.diff(own, axis=0)
                t = np.clip(((p - own[:-1]) * step).sum(1) / (step * step).sum(1), 0.0, 1.0)
                assert np.hypot(*(own[:-1] + t[:, None] * step - p).T).min() < 1e-6


@pytest.mark.parametrize(("gap", "bridged"), [(25.0, True), (24.0, False), (60.0, True)])
def test_flanges_behind_a_bridge_of_the_gap_allowed_are_left_out(gap, bridged) -> None:
    """Two panels 24.5 mm apart, both turned in by 12 mm: edge to edge where the gap allows it."""
    low, high = [*LOWER, (12.0, 503.0)], [(12.0, 521.5), *upper(524.5)]
    outline = outer_contour(chains(low, high), gap)
    if bridged:
        assert outline.points.tolist() == [list(p) for p in (*LOWER, *upper(524.5))]
        assert [d.kind for d in outline.dropped] == ["flange", "flange"]
        assert [b.length for b in outline.bridges] == [pytest.approx(24.5)]
    else:
        assert outline.points[2:5].tolist() == [[0.0, 500.0], [12.0, 503.0], [12.0, 521.5]]
        assert [d.kind for d in outline.dropped] == []
        assert [b.length for b in outline.bridges] == [pytest.approx(18.5)]


def test_a_ring_is_opened_at_its_longest_rest() -> None:
    """A closed box with a plate before its lower half: what lies behind the plate is left out."""
    ring = np.array([(0.0, 200.0), (0.0, 900.0), (800.0, 950.0), (800.0, 230.0)])
    plate = np.array([(-10.0, 300.0), (-10.0, 500.0)])
    for closed in (ring, ring[::-1], np.roll(ring, 2, axis=0)):
        outline = outer_contour([Chain(closed, closed=True), Chain(plate)])
        assert outline.opened
        want = [(800.0, 230.0), (0.0, 200.0), (0.0, 300.0), (-10.0, 300.0), (-10.0, 500.0),
                (0.0, 500.0), (0.0, 900.0), (800.0, 950.0)]  # fmt: skip
        assert outline.points == pytest.approx(np.array(want), abs=1e-3)
        (left,) = outline.dropped
        assert (left.kind, left.x) == ("behind", 0.0)
        assert left.length == pytest.approx(200.0, abs=1e-3)
        assert [b.length for b in outline.bridges] == pytest.approx([10.0, 10.0], abs=1e-3)
    bare = outer_contour([Chain(plate), Chain(ring[:3])])
    assert not bare.opened
