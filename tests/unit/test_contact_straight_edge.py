"""Straight edges: poses, ties, what counts, padding. Numbers worked out by hand."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs

UPRIGHT = StraightEdge(0.0, 100.0, 500.0)
# A face at x = 0 from 200 to 400, with chin and bonnet behind it.
FACE = np.array([[50.0, 150.0], [0.0, 200.0], [0.0, 400.0], [80.0, 450.0]])


@pytest.mark.parametrize("lean", [90.0, -90.0, 120.0, math.nan])
def test_lean_must_leave_the_edge_standing(lean):
    with pytest.raises(ValueError, match="lean must be within"):
        StraightEdge(lean, 0.0, 100.0)


@pytest.mark.parametrize(
    ("low", "high"), [(100.0, 100.0), (100.0, 0.0), (-math.inf, 0.0), (0.0, math.nan)]
)
def test_reach_must_not_be_empty(low, high):
    with pytest.raises(ValueError, match="is empty"):
        StraightEdge(0.0, low, high)


def test_standing_edges_of_the_definitions():
    """UN R127.02, 2.38, 2.26 and 2.7 (text read): foot plus length times cosine of the lean."""
    assert StraightEdge.standing(700.0, 20.0).high == pytest.approx(657.785, abs=5e-4)
    assert StraightEdge.standing(700.0, -25.0).high == pytest.approx(634.415, abs=5e-4)
    assert StraightEdge.standing(1000.0, 50.0, 600.0).high == pytest.approx(1242.788, abs=5e-4)


def test_tie_takes_the_end_asked_for_and_keeps_both():
    upper = edge_contact(FACE[None], UPRIGHT)
    lower = edge_contact(FACE[None], UPRIGHT, take="lower")
    assert (upper.x[0], upper.z[0]) == (0.0, 400.0)
    assert (lower.x[0], lower.z[0]) == (0.0, 200.0)
    for touch in (upper, lower):
        assert (touch.z_lowest[0], touch.z_highest[0]) == (200.0, 400.0)
        assert not touch.at_low[0]
        assert not touch.at_high[0]


def test_clipped_stretches_count():
    """The reach ends between points: the contact is where the stretch is cut, exactly there."""
    touch = edge_contact(FACE[None], StraightEdge(0.0, 250.0, 350.0))
    assert (touch.x[0], touch.z[0], touch.stretch[0]) == (0.0, 350.0, 1)
    assert touch.at_high[0]
    assert not touch.at_low[0]
    low = edge_contact(FACE[None], StraightEdge(0.0, 425.0, 900.0))
    assert (low.x[0], low.z[0], low.stretch[0]) == (40.0, 425.0, 2)
    assert low.at_low[0]


def test_nothing_in_reach_is_not_touched_and_warns_of_nothing():
    both = np.stack([FACE, np.add(FACE, [0.0, 1000.0])])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        touch = edge_contact(both, UPRIGHT)
        runs = touch_runs(both, UPRIGHT, touch, 0.1)
    assert touch.touched.tolist() == [True, False]
    assert runs.count.tolist() == [1, 0]
    assert runs.longest[1] == 0.0


def test_only_counted_stretches_touch():
    """A stretch counts when both its ends do; a lone counted point counts alone."""
    upper = np.array([False, False, True, True])
    assert edge_contact(FACE[None], UPRIGHT, counted=upper, take="lower").z[0] == 400.0
    lone = np.array([True, False, False, False])
    touch = edge_contact(FACE[None], UPRIGHT, counted=lone)
    assert (touch.x[0], touch.z[0], touch.stretch[0]) == (50.0, 150.0, 0)
    last = np.array([False, False, False, True])
    touch = edge_contact(FACE[None], UPRIGHT, counted=last)
    assert (touch.x[0], touch.z[0], touch.stretch[0]) == (80.0, 450.0, 2)
    none = np.zeros(4, dtype=bool)
    assert not edge_contact(FACE[None], UPRIGHT, counted=none).touched[0]


def test_lone_counted_point_out_of_reach_does_not_touch():
    lone = np.array([False, False, False, True])
    assert not edge_contact(FACE[None], StraightEdge(0.0, 100.0, 440.0), counted=lone).touched[0]


def test_level_stretch_at_the_end_of_the_reach():
    ledge = np.array([[30.0, 300.0], [10.0, 500.0], [60.0, 500.0], [70.0, 700.0]])
    touch = edge_contact(ledge[None], UPRIGHT)
    assert (touch.x[0], touch.z[0]) == (10.0, 500.0)
    assert touch.at_high[0]


def test_padding_changes_nothing():
    padded = np.concatenate([FACE, np.repeat(FACE[-1:], 5, axis=0)])
    for edge in (UPRIGHT, StraightEdge(20.0, 0.0, 430.0), StraightEdge(-25.0, 0.0, 430.0)):
        one, two = edge_contact(FACE[None], edge), edge_contact(padded[None], edge)
        assert (one.x[0], one.z[0], one.foot_x[0]) == (two.x[0], two.z[0], two.foot_x[0])
        runs = [touch_runs(p[None], edge, c, 0.1) for p, c in ((FACE, one), (padded, two))]
        for name in ("longest", "spread", "count", "top_x", "top_z"):
            assert getattr(runs[0], name)[0] == getattr(runs[1], name)[0]


def test_touch_runs_of_the_upright_face():
    """200 mm of face, and 0.1 mm in x on the chin (1:1) and on the bonnet edge (8:5)."""
    touch = edge_contact(FACE[None], UPRIGHT)
    runs = touch_runs(FACE[None], UPRIGHT, touch, 0.1)
    assert runs.longest[0] == pytest.approx(200.0 + 0.1 + 0.1 * 50.0 / 80.0, rel=0, abs=1e-9)
    assert runs.count[0] == 1
    assert runs.spread[0] == 0.0
    assert (runs.top_x[0], runs.top_z[0]) == (0.0, 400.0)


def test_two_touches_are_as_far_apart_as_their_closest_points():
    teeth = np.array([[0.0, 200.0], [9.0, 250.0], [0.05, 300.0], [20.0, 400.0]])
    touch = edge_contact(teeth[None], UPRIGHT)
    runs = touch_runs(teeth[None], UPRIGHT, touch, 0.1)
    assert (runs.count[0], runs.spread[0]) == (2, 100.0)
    assert (runs.top_x[0], runs.top_z[0]) == (0.05, 300.0)
