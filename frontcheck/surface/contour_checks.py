"""What makes some points a contour of a section, and what is said where they are none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array

_MIN_POINTS: Final = 3
_MAX_OFFSET: Final = 1e5
"""Largest coordinate taken [mm]: 100 m, own choice: beyond is a unit mistake, not a car."""


def contour_error(index: int | None, found: str, expected: str, todo: str) -> ContourError:
    """Return the refusal of a contour, and which of its points is meant."""
    error = ContourError(found, expected=expected, todo=todo)
    error.index = index
    return error


def check_contour(points: Array) -> None:
    """Refuse what is no contour: too few points, some not finite, below ground or twice, a loop."""
    if points.ndim != 2 or points.shape[1] != 2:
        raise contour_error(
            None, f"an array of shape {points.shape}", "shape (n, 2)", "give one x, z pair a point"
        )
    if len(points) < _MIN_POINTS:
        raise contour_error(
            None,
            f"{len(points)} point{'s' if len(points) != 1 else ''}",
            f"at least {_MIN_POINTS} points in a section",
            "measure more rows at this station",
        )
    bad = ~np.isfinite(points).all(axis=1)
    if bad.any():
        raise contour_error(
            int(np.argmax(bad)), "a value that is not finite", "plain numbers", "correct the value"
        )
    far = (np.abs(points) > _MAX_OFFSET).any(axis=1)
    if far.any():
        raise contour_error(
            int(np.argmax(far)),
            "a coordinate beyond 100 m",
            "offsets of a vehicle front",
            "check the unit stated in the file",
        )
    low = points[:, 1] < 0.0
    if low.any():
        i = int(np.argmax(low))
        raise contour_error(
            i,
            f"height {points[i, 1]:g} mm, below the ground",
            "heights above the ground plane",
            "measure heights from level ground, upward",
        )
    same = (np.diff(points, axis=0) == 0.0).all(axis=1)
    if same.any():
        raise contour_error(
            int(np.argmax(same)) + 1,
            "the same point twice in a row",
            "each point once",
            "delete one of the two rows",
        )
    _check_simple(points)


def _check_simple(points: Array) -> None:
    if _is_simple(points):
        return
    i, j = _first_crossing(points)
    raise contour_error(
        j,
        f"a contour that crosses or touches itself (stretch {i + 1}-{i + 2} meets {j + 1}-{j + 2})",
        "a contour traced once along the surface",
        "put the points in the order in which the surface runs, or correct the one out of place",
    )


def _is_simple(points: Array) -> bool:
    import shapely  # here and not above: the command line must start fast

    # A closed ring counts as simple there; a contour must not come back to its start.
    return shapely.LineString(points).is_simple and not np.array_equal(points[0], points[-1])


def _first_crossing(points: Array) -> tuple[int, int]:
    """First stretch that meets an earlier one, and the first of those; earlier one first."""
    import shapely

    good, bad = 2, len(points)  # points of a prefix that is simple, and of one that is not
    while bad - good > 1:
        middle = (good + bad) // 2
        if _is_simple(points[:middle]):
            good = middle
        else:
            bad = middle
    j = bad - 2
    segments = shapely.linestrings(np.stack([points[: j + 1], points[1 : j + 2]], axis=1))
    hits = shapely.intersection(segments[:j], segments[j])
    touching = ~shapely.is_empty(hits)
    # Neighbours share their common point; more than that is a fold onto itself.
    touching[-1] = shapely.length(hits[-1]) > 0.0
    return int(np.argmax(touching)), j
