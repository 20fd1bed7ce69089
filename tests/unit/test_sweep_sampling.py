"""Sampling: what the definitions of the designs say of every sample."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.stats import qmc

from frontcheck.study.sampling import grid, latin_hypercube, saltelli, sobol

LOW, HIGH = [0.0, -5.0, 100.0], [1.0, 5.0, 300.0]


@pytest.mark.parametrize("draw", [sobol, latin_hypercube])
def test_a_sample_lies_within_its_bounds_and_follows_its_seed(draw):
    one = draw(LOW, HIGH, 100, 3)
    assert one.shape == (100, 3)
    assert (one >= LOW).all()
    assert (one <= HIGH).all()
    assert np.array_equal(one, draw(LOW, HIGH, 100, 3))
    assert not np.array_equal(one, draw(LOW, HIGH, 100, 4))


def test_latin_hypercube_meets_every_stratum_once():
    """The definition: n equal strata in every dimension, one point in each."""
    unit = (latin_hypercube(LOW, HIGH, 50, 1) - LOW) / (np.array(HIGH) - LOW)
    for column in unit.T:
        assert sorted(np.floor(column * 50).astype(int)) == list(range(50))


def test_sobol_points_are_balanced_over_halves_and_quarters():
    """A (t, m, s)-net in base 2: every half and quarter of each axis holds its share exactly."""
    unit = (sobol(LOW, HIGH, 64, 9) - LOW) / (np.array(HIGH) - LOW)
    for column in unit.T:
        assert np.bincount(np.floor(column * 4).astype(int), minlength=4).tolist() == [16] * 4
    assert qmc.discrepancy(unit) < qmc.discrepancy(np.random.default_rng(9).random((64, 3)))


def test_sobol_of_any_number_is_the_start_of_the_longer_one():
    assert np.array_equal(sobol(LOW, HIGH, 100, 1), sobol(LOW, HIGH, 128, 1)[:100])
    assert len(sobol(LOW, HIGH, 1, 1)) == 1


def test_a_grid_is_the_product_of_its_levels():
    levels = [[1, 2], [10, 20, 30], [5]]
    assert grid(levels).tolist() == [list(map(float, c)) for c in itertools.product(*levels)]


def test_saltelli_points_mix_one_column_of_b_into_a():
    n, d = 16, 3
    points = saltelli(LOW, HIGH, n, 2)
    assert points.shape == (n * (d + 2), d)
    a, b, mixed = points[:n], points[n : 2 * n], points[2 * n :].reshape(d, n, d)
    assert not np.isclose(a, b).any()
    for k in range(d):
        others = [j for j in range(d) if j != k]
        assert np.array_equal(mixed[k][:, k], b[:, k])
        assert np.array_equal(mixed[k][:, others], a[:, others])
