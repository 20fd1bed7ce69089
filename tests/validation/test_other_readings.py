"""Places from range and angle, from two tapes and from pieces of a comb, and how unsure they are.

Closed forms: JCGM 100:2008 (Guide to the expression of uncertainty in measurement, from memory),
5.1.2: u of a result from the u of what it is read from, by partial derivatives.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, Source

import frontcheck as fc
from frontcheck.geometry.measured import from_comb, from_polar, from_two_tapes
from frontcheck.sure.draws import station_draws

READINGS = Check(
    "readings-places-and-u",
    kind="closed form",
    quantity="places from range and angle and from two tapes, and their covariance",
    source=Source(
        "Guide to the expression of uncertainty in measurement", author="JCGM", year="2008",
        where="100:2008, 5.1.2; differences of the place over its readings", known="memory",
    ),
    why="central differences: 1e-5 of the value; places: rounding",
)  # fmt: skip


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

            theirs = numerically(place, np.array([r, a]), (u_r, u_a))
            within = 1e-8 + 1e-6 * np.abs(theirs)
            READINGS.compare(theirs, cov[0], tolerance=within, case="range and angle")


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

            READINGS.compare(
                true, place(*tapes), tolerance=1e-8 + 1e-7 * np.abs(true), case="tapes"
            )
            _, cov = from_two_tapes(tuple(one), tuple(two), *tapes[:, None], 1.5)
            theirs = numerically(place, tapes, (1.5, 1.5))
            READINGS.compare(theirs, cov[0], relative=1e-5, case="u of tapes")

    def test_tapes_that_do_not_meet(self):
        place, cov = from_two_tapes(self.A, self.B, np.array([100.0]), np.array([300.0]), 1.5)
        assert np.isnan(place).all()
        assert np.isnan(cov).all()


def comb_joints(count, overlap, runs, seed=8):
    """How far off the middle of the last joint of a comb stands, across it, and the u stated of it.

    Pieces of 250 mm with a pin every 2 mm, read to 0.5 mm, laid along an arc; the pins of an
    overlap are known in both pieces, and the first piece stands exactly.
    """
    rng = np.random.default_rng(seed)
    step, radius, comb_u, pitch = 250 - overlap, 30_000.0, 0.5, 2.0
    pins = np.arange(1.0, 250.0, pitch)
    ends, u = [], 0.0
    for _ in range(runs):
        true, read = [], []
        for k in range(count):
            at = radius * np.exp(1j * (k * step + pins) / radius)
            noise = rng.normal(0, comb_u, len(pins)) + 1j * rng.normal(0, comb_u, len(pins))
            true.append(at)
            read.append((at - at[0]) * np.exp(-1j * np.angle(at[-1] - at[0])) + noise)
        first, shared = int(step / pitch), int(overlap / pitch)
        pairs = [
            (k, k + 1, complex(read[k][first + j]), complex(read[k + 1][j]))
            for k in range(count - 1)
            for j in range(shared)
        ]
        anchors = [
            (0, complex(p), complex(at), (0.0, 0.0)) for p, at in zip(read[0], true[0], strict=True)
        ]
        placed, off = from_comb(read, pairs, anchors, comb_u)
        assert off.max() < 6.0
        (x, z), cov = placed[-1][0][shared // 2], placed[-1][1][shared // 2]
        across = true[-1][shared // 2] / radius
        ends.append(((complex(x, z) - true[-1][shared // 2]) * np.conj(across)).real)
        way = np.array([across.real, across.imag])
        u = float(np.sqrt(way @ cov @ way))
    return np.array(ends), u


COMBS = [(4, 80, 1.9), (8, 80, 7.9), (4, 40, 6.5), (8, 40, 28.0)]
"""Pieces, overlap and what the requirement states of the end [mm], without saying how it is had."""


@pytest.mark.parametrize(("count", "overlap", "told"), COMBS)
def test_joints_of_a_comb(count, overlap, told):
    """One closed form gives all four stated values: a chain whose joints turn by chance.

    A straight line through the N pins of an overlap, p apart, each read twice to u, has an angle
    unsure by u sqrt(2) / sqrt(p^2 N (N^2 - 1) / 12). The middle of the last joint is off by those
    of all joints before it, at levers of whole steps; pins 2 mm apart are what fits the values.
    """
    step, n = 250.0 - overlap, overlap / 2.0
    turn = 0.5 * np.sqrt(2.0 / (4.0 * n * (n**2 - 1.0) / 12.0))
    shift = 0.5**2 * (2.0 / n * (count - 1) + 1.0)
    closed = np.sqrt(turn**2 * np.sum((step * np.arange(count - 1)) ** 2) + shift)
    assert closed == pytest.approx(told, rel=0.025)
    ends, u = comb_joints(count, overlap, 60)
    # First order about noisy readings: 0.4 to 1.4 % off, but 6 % for 8 pieces that overlap by 40.
    assert u == pytest.approx(closed, rel=0.03 if (count, overlap) != (8, 40) else 0.09)
    # The rms of 60 values is itself known to 9 %: three of these.
    assert np.sqrt(np.mean(ends**2)) == pytest.approx(u, rel=0.28)


def test_overlap_and_anchors_are_worth_what_is_asked_of_them():
    short, long = comb_joints(4, 40, 1)[1], comb_joints(4, 80, 1)[1]
    far = comb_joints(8, 80, 1)[1]
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
