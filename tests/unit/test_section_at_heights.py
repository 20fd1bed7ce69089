"""Foremost points of a section at heights: corners, level stretches, ends. Read off the drawing."""

from __future__ import annotations

import pytest

from frontcheck import Section

# A lower corner, a level shelf, a dip whose bottom is a corner, and a top corner.
POINTS = [(300, 200), (0, 250), (0, 400), (80, 400), (40, 500), (120, 450), (200, 700), (500, 650)]


@pytest.mark.parametrize(
    ("height", "x"),
    [
        (200.0, 300.0),  # the lowest corner alone
        (225.0, 150.0),
        (250.0, 0.0),
        (400.0, 0.0),  # a level stretch: its foremost end
        (450.0, 60.0),  # on the way from (80, 400) to (40, 500)
        (500.0, 40.0),
        (600.0, 168.0),
        (700.0, 200.0),  # the highest corner alone
        (199.9, None),
        (700.1, None),
    ],
)
def test_foremost_at_a_height(height, x):
    section = Section(POINTS)
    assert section.foremost_at(height) == (None if x is None else pytest.approx(x))
    many = section.setback_at(height)
    assert bool(many.mask) == (x is None)
    assert x is None or float(many) == pytest.approx(x)
