"""Fronts cut into panels with narrow gaps: the outer contour is the front they were cut from."""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck.geometry.chains import Chain
from frontcheck.geometry.outline import outer_contour
from frontcheck.geometry.polyline import nearest

BONNETS = ("level", "falling", "rising", "crowned")


def front(rng: np.random.Generator, bonnet: str) -> np.ndarray:
    """Underside, chin, face, a bonnet of up to three straight stretches, windscreen."""
    chin = rng.uniform(180.0, 300.0)
    points = [(rng.uniform(260.0, 600.0), chin - rng.uniform(0.0, 40.0)),
              (rng.uniform(10.0, 60.0), chin), (0.0, chin + rng.uniform(50.0, 150.0)),
              (rng.uniform(0.0, 80.0), rng.uniform(600.0, 900.0))]  # fmt: skip
    count, length, x0 = rng.integers(1, 4), rng.uniform(500.0, 1100.0), points[-1][0]
    shares = np.append(np.sort(rng.uniform(0.15, 0.85, count - 1)), 1.0)
    for i, share in enumerate(shares):
        falls = bonnet == "falling" or (bonnet == "crowned" and i > 0)
        slope = -rng.uniform(0.001, 0.08) if falls else rng.uniform(0.001, 0.1)
        x, z = x0 + length * share, points[-1][1]
        points.append((x, z if bonnet == "level" else z + slope * (x - points[-1][0])))
    x, z = points[-1]
    points.append((x + rng.uniform(300.0, 600.0), z + rng.uniform(200.0, 400.0)))
    return np.array(points)


def panels(points: np.ndarray, rng: np.random.Generator) -> list[np.ndarray]:
    """Cut a line at up to three places, at least 60 mm apart, with gaps of 1 to 18 mm."""
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    cuts = np.sort(rng.uniform(100.0, along[-1] - 100.0, rng.integers(0, 4)))
    cuts = cuts[np.diff(cuts, prepend=0.0) > 60.0]
    starts = np.append(0.0, cuts + rng.uniform(0.5, 9.0, len(cuts)))
    stops = np.append(cuts - rng.uniform(0.5, 9.0, len(cuts)), along[-1])
    out = []
    for a, b in zip(starts, stops, strict=True):
        ends = [[np.interp(at, along, points[:, i]) for i in (0, 1)] for at in (a, b)]
        inner = points[(along > a + 2.5) & (along < b - 2.5)]
        out.append(np.concatenate([ends[:1], inner, ends[1:]]))
    return out


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("bonnet", BONNETS)
def test_panels_are_put_together_again(bonnet, seed) -> None:
    """Whatever order and way round they come in, with or without a liner behind the face."""
    rng = np.random.default_rng([BONNETS.index(bonnet), seed])
    whole = front(rng, bonnet)
    cut = panels(whole, rng)
    chains = [Chain(each if rng.random() < 0.5 else each[::-1]) for each in cut]
    if seed % 3:
        x = rng.uniform(120.0, 200.0)
        chains.append(Chain(np.array([(x, whole[1, 1] + 80.0), (x + 20.0, whole[3, 1] - 80.0)])))
    found = outer_contour([chains[i] for i in rng.permutation(len(chains))])
    wanted = np.concatenate(cut)
    assert found.points.shape == wanted.shape
    np.testing.assert_allclose(found.points, wanted, atol=1e-6)
    assert [each.kind for each in found.dropped] == (["hidden"] if seed % 3 else [])
    gaps = [np.hypot(*(b[0] - a[-1])) for a, b in zip(cut[:-1], cut[1:], strict=True)]
    assert [bridge.length for bridge in found.bridges] == pytest.approx(gaps)


def built(rng: np.random.Generator) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Fascia, bonnet and windscreen as cars have them, and what else stands behind or between."""
    u = rng.uniform
    chin, top, lean = u(180.0, 300.0), u(620.0, 860.0), u(0.0, 90.0)
    fascia = [
        (u(150.0, 450.0), chin - u(0.0, 30.0)),
        (u(15.0, 50.0), chin),
        (0.0, chin + u(60.0, 140.0)),
        (lean / 2.0, (chin + top) / 2.0 + 60.0),
        (lean, top),
    ]
    x, z, long = lean + u(2.0, 20.0), top + u(-8.0, 12.0), u(600.0, 1000.0)
    share, crown, rise = np.linspace(0.0, 1.0, rng.integers(2, 8)), u(-120.0, 240.0), u(-40.0, 40.0)
    shape = rise * share + crown * share * (1.0 - share)
    bonnet = np.stack([x + long * share, z + shape], axis=1)
    for end in (0, -1):
        if rng.random() < 0.5:  # a flange turned down
            flange = bonnet[end] + [(1 if end == 0 else -1) * u(5.0, 20.0), -u(10.0, 30.0)]
            bonnet = np.insert(bonnet, 0 if end == 0 else len(bonnet), flange, axis=0)
    x, z = x + long, z + rise
    foot = x + u(5.0, 80.0), z - u(-20.0, 60.0)
    glass = [foot, (foot[0] + u(350.0, 600.0), foot[1] + u(250.0, 420.0))]
    behind = [
        [(x - u(0.0, 60.0), z - u(10.0, 90.0)), (foot[0] + u(0.0, 10.0), foot[1] - u(2.0, 30.0))],
        np.stack([lean + 50.0 + (long - 80.0) * share, top + shape - u(30.0, 50.0)], axis=1),
        [(lean + u(80.0, 130.0), chin + 70.0), (lean + u(80.0, 130.0), top - 70.0)],
        [(fascia[0][0] + u(0.0, 40.0), chin - u(0.0, 20.0)), (2100.0, chin - u(0.0, 30.0))],
    ]
    skin = [np.array(fascia), bonnet, np.array(glass)]
    if rng.random() < 0.5:  # a grille between two lips, a radiator and bars behind it
        low = chin + u(150.0, 190.0)
        high = max(top - u(90.0, 160.0), low + 60.0)
        skin[:1] = [
            np.array([*fascia[:3], (u(-5.0, 15.0), low)]),
            np.array([(u(15.0, 40.0), high - u(0.0, 15.0)), (u(-10.0, 20.0), high), (lean, top)]),
        ]
        deep = u(80.0, 350.0)
        behind.append([(deep, chin + 40.0), (deep + u(-20.0, 60.0), top - 60.0)])
        for z in rng.uniform(low + 10.0, high - 25.0, 2):
            behind.append([(u(20.0, 40.0), z), (u(60.0, 80.0), z + u(-4.0, 4.0))])
    return skin, [np.array(part) for part in behind if rng.random() < 0.5]


@pytest.mark.parametrize("seed", range(150))
def test_nothing_of_the_outer_skin_is_lost(seed) -> None:
    """Cowl, inner panel, beam, floor or not: long stretches of the skin are on the contour."""
    rng = np.random.default_rng(seed)
    skin, behind = built(rng)
    parts = [Chain(part if rng.random() < 0.5 else part[::-1]) for part in (*skin, *behind)]
    found = outer_contour([parts[i] for i in rng.permutation(len(parts))])
    for part in skin:
        long = np.hypot(*np.diff(part, axis=0).T) > 60.0
        middles = (part[:-1] + part[1:])[long] / 2.0
        assert nearest(found.points, middles).distance.max() < 0.01


def chain(*points: tuple[float, float]) -> Chain:
    return Chain(np.array(points, dtype=float))


@pytest.mark.parametrize("rear", [700.0, 705.0, 709.0, 710.0, 711.0, 715.0])
def test_a_bonnet_that_falls_stays(rear) -> None:
    """Its underside shows between the face's edge and its own: 22 mm, a gap like others."""
    bonnet = [(20.0, 710.0), (1000.0, rear), (1600.0, 1100.0)]
    found = outer_contour([chain((300, 200), (0, 250), (0, 700)), chain(*bonnet)])
    assert found.points.tolist() == [[300, 200], [0, 250], [0, 700], *map(list, bonnet)]
    assert found.dropped == ()


def test_a_level_sheet_longer_than_any_reach_is_cut_there() -> None:
    found = outer_contour([chain((0, 500), (0, 900), (3200, 900))])
    assert found.points.tolist() == [[0, 500], [0, 900], [2200, 900]]
    assert [(each.kind, each.length) for each in found.dropped] == [("rear", 1000.0)]


@pytest.mark.parametrize(("height", "kept"), [(399.0, False), (401.0, True)])
def test_a_single_sheet_behind_is_a_bonnet_from_200_mm_above_the_lowest_place(height, kept) -> None:
    """Own choice; below that it is a floor, which nobody lays a tape on."""
    rear = chain((320, height), (1200, height))
    found = outer_contour([chain((300, 200), (0, 250), (0, 380), (300, 385)), rear])
    assert (found.points[-1].tolist() == [1200.0, height]) == kept
