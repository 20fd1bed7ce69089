"""Places from range and angle, from two tapes and from pieces of a comb, and how unsure they are.

Closed forms: JCGM 100:2008 (Guide to the expression of uncertainty in measurement, from memory),
5.1.2: u of a result from the u of what it is read from, by partial derivatives.
"""

from __future__ import annotations

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.geometry.measured import from_comb, from_polar, from_two_tapes
from frontcheck.sure.draws import station_draws


def numerically(place, readings, u):
    """Covariance by central differences of a place over its readings."""
    ways = []
    for k, each in enumerate(u):
        step = np.zeros(len(u))
        step[k] = 1e-4
        ways.append((place(*(readings + step)) - place(*(readings - step))) / 2e-4 * each)
    ways = np.array(ways)
    return ways.T @ ways


class TestPolar:
    """x = x0 + r cos a, z = z0 + r sin a; u_x^2 = (cos a u_r)^2 + (r sin a u_a)^2, u_z likewise."""

    def test_worked_case(self):
        place, cov = from_polar((-900, 620), np.array([1050.0]), np.array([8.0]), 1.5, 0.1)
        np.testing.assert_allclose(place[0], (139.7815, 766.1318), atol=5e-5)
        np.testing.assert_allclose(np.sqrt(np.diag(cov[0])), (1.507, 1.827), atol=5e-4)

    def test_by_formula_and_by_differences(self):
        rng = np.random.default_rng(3)
        for _ in range(50):
            r, a = rng.uniform(200, 3000), rng.uniform(-80, 170)
            u_r, u_a = rng.uniform(0.1, 3), rng.uniform(0.01, 0.5)
            _, cov = from_polar((-900, 620), np.array([r]), np.array([a]), u_r, u_a)
            t, w = np.radians(a), np.radians(u_a)
            u_x = np.hypot(np.cos(t) * u_r, r * np.sin(t) * w)
            u_z = np.hypot(np.sin(t) * u_r, r * np.cos(t) * w)
            np.testing.assert_allclose(np.sqrt(np.diag(cov[0])), (u_x, u_z))

            def place(r, a):
                return from_polar((-900, 620), np.array([r]), np.array([a]))[0][0]

            np.testing.assert_allclose(
                cov[0], numerically(place, np.array([r, a]), (u_r, u_a)), rtol=1e-6, atol=1e-8
            )


class TestTwoTapes:
    A, B = (-500.0, 0.0), (-1500.0, 0.0)

    def test_worked_case(self):
        a, b = np.array([793.9773]), np.array([1634.1359])
        place, cov = from_two_tapes(self.A, self.B, a, b, 1.5)
        np.testing.assert_allclose(place[0], (20.0, 600.0), atol=5e-4)
        np.testing.assert_allclose(np.sqrt(np.diag(cov[0])), (2.73, 3.69), atol=5e-3)

    @pytest.mark.parametrize("swapped", [False, True])
    @pytest.mark.parametrize("raised", [0.0, 150.0])
    def test_places_come_back_and_u_by_differences(self, swapped, raised):
        rng = np.random.default_rng(4)
        marks = [np.array(self.A), np.array([self.B[0], raised])]
        one, two = marks[::-1] if swapped else marks
        for _ in range(50):
            true = np.array([rng.uniform(-200, 1200), rng.uniform(250, 1500)])
            tapes = np.array([np.hypot(*(true - one)), np.hypot(*(true - two))])

            def place(a, b):
                return from_two_tapes(tuple(one), tuple(two), np.array([a]), np.array([b]))[0][0]

            np.testing.assert_allclose(place(*tapes), true, atol=1e-8)
            _, cov = from_two_tapes(tuple(one), tuple(two), *tapes[:, None], 1.5)
            np.testing.assert_allclose(cov[0], numerically(place, tapes, (1.5, 1.5)), rtol=1e-5)

    def test_tapes_that_do_not_meet(self):
        place, cov = from_two_tapes(self.A, self.B, np.array([100.0]), np.array([300.0]), 1.5)
        assert np.isnan(place).all()
        assert np.isnan(cov).all()


def comb_ends(count, overlap, runs, seed=8):
    """End errors of combs on an arc, the first piece standing exactly, and the u stated of them.

    Pieces of 250 mm, a pin a millimetre, read to 0.5 mm along and across; every pin of an overlap
    is known in both pieces.
    """
    rng = np.random.default_rng(seed)
    step, radius, comb_u = 250 - overlap, 3000.0, 0.5
    ends, u = [], 0.0
    for _ in range(runs):
        true, read = [], []
        for k in range(count):
            at = radius * np.exp(1j * (k * step + np.arange(251.0)) / radius)
            noise = rng.normal(0, comb_u, 251) + 1j * rng.normal(0, comb_u, 251)
            turned = (at - at[0]) * np.exp(-1j * np.angle(at[-1] - at[0]))
            true.append(at)
            read.append(turned + noise)
        pairs = [
            (k, k + 1, complex(read[k][step + j]), complex(read[k + 1][j]))
            for k in range(count - 1)
            for j in range(overlap + 1)
        ]
        anchors = [
            (0, complex(p), complex(at), (0.0, 0.0)) for p, at in zip(read[0], true[0], strict=True)
        ]
        placed, off = from_comb(read, pairs, anchors, comb_u)
        assert off.max() < 6.0
        points, cov = placed[-1]
        ends.append(abs(complex(*points[-1]) - true[-1][-1]))
        u = float(np.sqrt(np.trace(cov[-1])))
    return np.array(ends), u


@pytest.mark.parametrize(
    ("count", "overlap", "told"), [(4, 80, 1.9), (8, 80, 7.9), (4, 40, 6.5), (8, 40, 28.0)]
)
def test_ends_of_a_comb(count, overlap, told):
    """The u stated of an end is what ends stray by, and near what a prototype strayed by."""
    ends, u = comb_ends(count, overlap, 60 if count == 4 else 30)
    rms = float(np.sqrt(np.mean(ends**2)))
    # The rms of 60 (30) ends of two coordinates is itself known to 7 % (9 %): three of these.
    assert rms == pytest.approx(u, rel=0.28)
    # The prototype's shapes and its statistic (rms, mean or largest) are not known; u is ours.
    assert u == pytest.approx(told, rel=0.35)


def test_overlap_and_anchors_are_worth_what_is_asked_of_them():
    short, long = comb_ends(4, 40, 1)[1], comb_ends(4, 80, 1)[1]
    far = comb_ends(8, 80, 1)[1]
    assert short > 2.5 * long
    assert far > 2.5 * long


TAPES = """# datum: common
# ground_mark_a: -500 mm
# ground_mark_b: -1500 mm
# tape_u: 1.5 mm
station_mm,tape_a_mm,tape_b_mm
"""


def test_draws_stray_as_the_covariance_says(tmp_path):
    """What is drawn of two-tape rows has their u and their correlation: here -0.88 at 600 mm."""
    places = np.array([(60, 250), (20, 600), (80, 800), (600, 950)], dtype=float)
    tapes = [np.hypot(places[:, 0] - x, places[:, 1]) for x in (-500, -1500)]
    path = tmp_path / "front.csv"
    rows = "".join(f"0,{a:.6f},{b:.6f}\n" for a, b in zip(*tapes, strict=True))
    path.write_text(TAPES + rows)
    front = fc.read_front(path)
    section = front.sections[0]
    np.testing.assert_allclose(section.points, places, atol=1e-5)
    _, expected = from_two_tapes((-500, 0), (-1500, 0), *tapes, 1.5)
    survey = station_draws(front, fc.Uncertainty.of(front), 20_000, seed=1)[0]
    points = np.concatenate([points for _, _, points in survey.blocks()])
    for i, cov in enumerate(expected):
        drawn = np.cov(points[:, i].T)
        np.testing.assert_allclose(drawn, cov, atol=0.03 * np.trace(cov))
    assert section.correlation[1] == pytest.approx(-0.875, abs=5e-4)
    # As independent errors the variance along a line that rises to the rear would be far off.
    along = points[:, 1] @ np.array([1.0, 1.0]) / np.sqrt(2.0)
    independent = (expected[1][0, 0] + expected[1][1, 1]) / 2.0
    assert np.var(along) < 0.25 * independent
