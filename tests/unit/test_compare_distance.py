"""Signed distance between contours: closed forms, and shapely as an independent reference."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from references.random_contours import body, random_contours

import frontcheck as fc
from frontcheck.comparison.comparison_document import ContourDistanceEntry
from frontcheck.comparison.contour_distance import (
    contour_distance,
    signed_distance,
    surface_overlay,
)
from frontcheck.errors import ContourError
from frontcheck.serializer import plain

FACE = np.array([[0.0, 200.0], [0.0, 800.0]])  # upright face, walked upward: air at x < 0


def moved(by: float) -> np.ndarray:
    """The face moved rearward."""
    return FACE + np.array([by, 0.0])


def test_parallel_faces_are_their_gap_apart() -> None:
    found = contour_distance(FACE, moved(-12.0))
    assert (found.along_a.values == 12.0).all()
    assert (found.along_b.values == 12.0).all()
    assert found.outward.value == 12.0
    assert found.inward is None
    behind = contour_distance(FACE, moved(7.5))
    assert behind.inward.value == -7.5
    assert behind.outward is None
    assert behind.largest is behind.inward


def test_a_leant_face_is_measured_along_its_normal() -> None:
    # B leans by 20 deg through the foot of A: at height h the distance is h sin 20.
    lean = math.radians(20.0)
    b = np.array([[0.0, 200.0], [600.0 * math.tan(lean), 800.0]])
    found = contour_distance(FACE, b)
    height = found.along_a.points[:, 1] - 200.0
    assert found.along_a.values == pytest.approx(-height * math.sin(lean), abs=1e-9)
    # From the upper end of B the nearest place of A is level with it: 600 tan 20.
    assert found.inward.value == pytest.approx(-600.0 * math.tan(lean), abs=1e-9)


@pytest.mark.parametrize("half_angle", [20.0, 45.0, 70.0])
@pytest.mark.parametrize("middle", [500.0, 503.3])
def test_the_deepest_place_of_a_v_is_found_between_the_points(half_angle, middle) -> None:
    # A is flat, B has a V of depth 60: over its root, both flanks are 60 sin(half angle) away,
    # no place of A is farther. From B, the root itself is 60 away.
    half = 60.0 * math.tan(math.radians(half_angle))
    b = np.array([[0, 200], [0, middle - half], [60, middle], [0, middle + half], [0, 800.0]])
    found = contour_distance(FACE, b)
    k = int(found.along_a.values.argmin())
    assert found.along_a.values[k] >= -60.0 * math.sin(math.radians(half_angle)) - 1e-9
    assert found.inward.value == -60.0  # from the root of B
    back = contour_distance(b, FACE)
    assert back.outward.value == 60.0
    assert back.outward.on_a == (60.0, middle)
    # The other direction alone: narrowed down between the places looked at.
    from frontcheck.comparison.contour_distance import _extreme

    alone = _extreme(FACE, b, found.along_a, -1.0, -1.0)
    assert alone.value == pytest.approx(-60.0 * math.sin(math.radians(half_angle)), abs=1e-7)
    assert alone.on_a[1] == pytest.approx(middle, abs=1e-6)


def test_concentric_arcs_are_their_radii_apart() -> None:
    # Chords of 2 deg: the middle of a chord lies R (1 - cos 1 deg) inside the arc.
    angle = np.radians(np.arange(270.0, 89.0, -2.0))

    def arc(radius: float) -> np.ndarray:
        return np.stack([400.0 + radius * np.cos(angle), 500.0 + radius * np.sin(angle)], axis=1)

    a, b = arc(200.0), arc(230.0)
    found = contour_distance(a, b)
    apart = 30.0 * math.cos(math.radians(1.0))  # chords are parallel
    assert found.along_a.values.min() == pytest.approx(apart, abs=1e-9)
    assert found.along_a.values.max() <= 30.0 + 1e-9
    assert found.outward.value == pytest.approx(30.0, abs=1e-6)
    assert found.inward is None


def test_sign_at_a_sharp_corner() -> None:
    # A spike to the front: points beside it are outside whichever flank is nearer.
    spike = np.array([[100.0, 300.0], [0.0, 310.0], [100.0, 320.0]])
    probe = np.array([[-10.0, 310.0], [-10.0, 330.0], [-10.0, 290.0], [50.0, 310.0]])
    values, feet, _ = signed_distance(probe, spike)
    assert (np.sign(values) == [1, 1, 1, -1]).all()
    assert (feet[:3] == [0.0, 310.0]).all()
    assert values[1] == math.hypot(10.0, 20.0)


def test_beyond_an_end_nothing_is_compared() -> None:
    longer = np.array([[0.0, 100.0], [0.0, 900.0]])
    found = contour_distance(longer, moved(-5.0))
    inside = (found.along_a.points[:, 1] >= 200.0) & (found.along_a.points[:, 1] <= 800.0)
    assert (found.along_a.comparable == inside).all()
    assert found.outward.value == 5.0
    entry = plain(ContourDistanceEntry, found)["at_points_of_a"]
    assert [row["distance_mm"] for row in entry] == [None, None]


@pytest.mark.parametrize("seed", range(12))
def test_random_contours_against_shapely(seed: int) -> None:
    a, b = (contour.points for contour in random_contours(seed, 2))
    found = contour_distance(a, b, 40.0)
    line, inside = shapely.LineString(b), body(b)
    places = shapely.points(found.along_a.points)
    reference = shapely.distance(places, line)
    assert np.abs(found.along_a.values) == pytest.approx(reference, abs=1e-9)
    # The body is closed by a straight line far to the rear: the side is checked where the
    # nearest place is on the contour itself and clear of it.
    clear = found.along_a.comparable & (reference > 1e-6)
    within = shapely.contains_properly(inside, places)
    assert (within[clear] == (found.along_a.values[clear] > 0.0)).all()
    assert clear.sum() > 20
    largest = max(found.outward.value if found.outward else 0.0,
                  -found.inward.value if found.inward else 0.0)  # fmt: skip
    dense = np.stack([np.interp(np.linspace(0, 1, 4000), np.linspace(0, 1, len(a)), c)
                      for c in a.T], axis=1)  # fmt: skip
    values, _, comparable = signed_distance(dense, b)
    assert largest >= np.abs(values[comparable]).max() - 1e-6


@pytest.mark.parametrize("spacing", [0.0, -1.0, math.nan])
def test_spacing_must_be_positive(spacing: float) -> None:
    with pytest.raises(ValueError, match=f"a positive length, not {spacing:g}"):
        contour_distance(FACE, FACE, spacing)


class Holed:
    """A surface that gives no contour at some stations."""

    def __init__(self, surface, holes) -> None:
        self.y_range, self._surface, self._holes = surface.y_range, surface, holes

    def section(self, y):
        if y in self._holes:
            raise ContourError("a contour that crosses itself", expected="none", todo="look")
        return self._surface.section(y)


def test_where_a_surface_gives_no_contour_is_left_out_and_told(monkeypatch, geometries) -> None:
    a, b = (fc.screen(fc.read_front(geometries / f"{n}.csv")) for n in ("plover", "avocet"))
    origins = fc.compare(a, b).whole
    whole = surface_overlay(a.front, b.front, origins)
    assert whole.reason == ""
    holed = Holed(b.front.surface(), {100.0, 150.0, 200.0, 300.0})
    surfaces = {id(a.front): a.front.surface(), id(b.front): holed}
    monkeypatch.setattr(fc.Front, "surface", lambda front: surfaces[id(front)])
    found = surface_overlay(a.front, b.front, origins)
    assert found.reason.endswith("no contour there: y = 100 to 200, 300 mm")
    left = {row.y for row in whole.rows} - {row.y for row in found.rows}
    assert left == {100.0, 150.0, 200.0, 300.0}
    assert [row for row in whole.rows if row.y not in left] == list(found.rows)
