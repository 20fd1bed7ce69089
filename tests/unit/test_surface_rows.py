"""Surfaces laid over each other: at which stations, on which side, and what is left out."""

from __future__ import annotations

from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.comparison.changes import Origins
from frontcheck.comparison.contour_distance import (
    ContourDistance,
    Extreme,
    contour_distance,
    signed_distance,
    surface_overlay,
)
from frontcheck.errors import ContourError, NotAvailableError
from frontcheck.surface.section import Section

NONE = Origins(0.0, 0.0, "")


def front(x: float, low: float, high: float, symmetric: bool = False, gone=()) -> Fake:
    """A plane upright face at x from 250 to 650 mm, over a range of stations."""

    def section(y: float) -> Section:
        if y in gone:
            raise _no_contour()
        return Section([(x, 250.0), (x, 450.0), (x, 650.0)], y)

    surface = Fake(y_range=(low, high), section=section)
    return Fake(symmetric=symmetric, surface=lambda: surface)


def _no_contour() -> ContourError:
    try:
        Section([(0.0, 250.0), (0.0, 250.0)], 0.0)
    except ContourError as error:
        return error
    raise AssertionError("a section of one place is none")


@pytest.mark.parametrize(
    ("a", "b", "more", "ys"),
    [
        ((-120, 130), (-200, 200), (), [-100, -50, 0, 50, 100]),
        ((-100, 100), (-70, 200), (), [-50, 0, 50, 100]),
        ((-100, 100, True), (-100, 100, True), (), [0, 50, 100]),
        ((-100, 100, True), (-100, 100), (), [-100, -50, 0, 50, 100]),
        ((20, 101), (0, 100), (20.0, 77.5, 100.0, 100.5, 19.0), [20, 50, 77.5, 100]),
        ((0, 30), (0, 40), (30.0, 30.5, -1.0), [0, 30]),
        ((0, 10), (20, 40), (), []),
    ],
)
def test_rows_stand_every_50_mm_and_at_the_stations_of_both(a, b, more, ys) -> None:
    found = surface_overlay(front(0.0, *a), front(-5.0, *b), NONE, more)
    assert [row.y for row in found.rows] == ys
    assert found.heights_mm == (300.0, 400.0, 500.0, 600.0, 700.0)
    assert found.reason == ""
    for row in found.rows:
        assert (row.a, row.b) == ((0.0,) * 4 + (None,), (-5.0,) * 4 + (None,))
        assert (row.outward_mm, row.inward_mm) == (5.0, 0.0)  # B stands ahead of A


def test_setbacks_count_from_the_origins_and_b_behind_a_is_inside() -> None:
    one, two = front(30.0, 0, 0), front(12.0, 0, 0)
    (row,) = surface_overlay(one, two, Origins(10.0, -20.0, "")).rows
    assert (row.a[0], row.b[0]) == (20.0, 32.0)
    assert (row.outward_mm, row.inward_mm) == (0.0, 12.0)


def test_why_there_is_no_overlay_and_what_is_left_out() -> None:
    def refuses() -> None:
        raise NotAvailableError("one section gives no surface")

    good, none = front(0.0, 0, 200), Fake(symmetric=False, surface=refuses)
    assert surface_overlay(good, good, Origins(0.0, 0.0, "barred")).reason == "barred"
    for pair in ((good, none), (none, good)):
        found = surface_overlay(*pair, NONE)
        assert (found.rows, found.reason) == ((), "one section gives no surface")
    for pair in ((good, front(0.0, 0, 200, gone=(50.0, 200.0))),
                 (front(0.0, 0, 200, gone=(50.0, 200.0)), good)):  # fmt: skip
        found = surface_overlay(*pair, NONE)
        assert [row.y for row in found.rows] == [0.0, 100.0, 150.0]
        assert found.reason == (
            "left out, since the surface gives no contour there: y = 50, 200 mm"
        )


# Distances themselves: ends, corners, and both ways.

FACE = np.array([[0.0, 200.0], [0.0, 500.0], [0.0, 800.0]])


def test_a_place_level_with_an_end_is_comparable_and_one_past_it_is_not() -> None:
    places = np.array([[3.0, 200.0], [3.0, 199.99], [3.0, 800.0], [3.0, 800.01], [-4.0, 500.0]])
    values, feet, known = signed_distance(places, FACE)
    assert known.tolist() == [True, False, True, False, True]
    assert values[[0, 2, 4]].tolist() == [-3.0, -3.0, 4.0]
    assert feet[1].tolist() == [0.0, 200.0]
    assert feet[3].tolist() == [0.0, 800.0]
    # In many blocks it is the same.
    many = np.tile(places, (3000, 1))
    again, *_ = signed_distance(many, np.repeat(FACE, 1, axis=0))
    assert (again.reshape(-1, 5) == values).all()


def test_places_are_every_spacing_and_at_every_row() -> None:
    other = FACE + np.array([-2.0, 0.0])
    found = contour_distance(FACE, other, 70.0).along_a
    # 300 mm in 5 pieces of 60.
    assert found.arc.tolist() == pytest.approx(list(range(0, 601, 60)))
    assert found.measured.tolist() == [k in {0, 5, 10} for k in range(11)]
    assert found.points[:, 1] == pytest.approx(200.0 + found.arc)
    for bad in (0.0, -1.0, float("nan")):
        with pytest.raises(ValueError, match="spacing must be a positive length, not"):
            contour_distance(FACE, other, bad)


def test_the_farther_of_both_ways_is_kept_with_its_place_on_either() -> None:
    """B bulges out to a point 20 mm ahead, and in to one 30 mm behind: seen from B alone."""
    b = np.array([[0.0, 200.0], [0.0, 280.0], [-20.0, 300.0], [0.0, 320.0], [0.0, 570.0],
                  [30.0, 600.0], [0.0, 630.0], [0.0, 800.0]])  # fmt: skip
    found = contour_distance(FACE, b)
    assert (found.outward.value, found.outward.on_b) == (20.0, (-20.0, 300.0))
    assert found.outward.on_a == (0.0, 300.0)
    assert (found.inward.value, found.inward.on_b) == (-30.0, (30.0, 600.0))
    assert found.largest is found.inward
    assert found.reach == (20.0, -30.0)
    back = contour_distance(b, FACE)
    assert (back.outward.value, back.outward.on_a) == (30.0, (30.0, 600.0))
    assert back.reach == (30.0, -20.0)
    same = contour_distance(FACE, FACE)
    assert (same.outward, same.inward, same.largest, same.reach) == (None, None, None, (0.0, 0.0))
    one = Extreme(5.0, (0.0, 0.0), (0.0, 0.0))
    alone = ContourDistance(same.along_a, same.along_b, one, None)
    assert (alone.largest, alone.reach) == (one, (5.0, 0.0))
