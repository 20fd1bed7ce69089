"""What the readers of drawings and meshes share: file checks, axes, the extra to install."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import InputError, refuse
from frontcheck.geometry.slicing import Axes
from frontcheck.reading.table import MM_PER_UNIT, UNITS, file_size, mm_per

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

MAX_COORDINATE_MM: Final = 1e5
"""Farthest coordinate taken [mm], 100 m: beyond it the unit is wrong, or the number is."""

_AXES: Final = {"x": 0, "y": 1, "z": 2}


def cad_size(path: str | os.PathLike[str], largest: int, kind: str) -> int:
    """Check that a drawing or mesh is there, holds something and is of fair size."""
    size = file_size(path, kind)
    if size == 0:
        raise refuse("cad.empty", os.fspath(path), wanted=kind)
    if size > largest:
        raise refuse("cad.too_large", os.fspath(path), wanted=kind, size=size / 1e6,
                     most=largest / 1e6)  # fmt: skip
    return size


def told_apart(load: Callable[[], Any], file: str, kind: str) -> Any:
    """Run a parser of another package and turn whatever it raises into our error."""
    try:
        return load()
    except InputError:
        raise
    except ImportError as problem:
        package = (problem.name or "a parser").partition(".")[0]
        raise refuse("cad.no_package", file, package=package) from None
    except Exception as problem:  # parsers raise what they like on damaged files
        reason = " ".join(str(problem).split())[:120] or "no reason given"
        raise refuse(
            "cad.damaged", file, error=type(problem).__name__, reason=reason, wanted=kind
        ) from problem


def checked_unit(unit: str | None, file: str) -> str | None:
    """Return a unit given as an option, checked."""
    if unit is not None and unit not in MM_PER_UNIT:
        raise refuse("cad.unit", file, unit=unit, units=UNITS)
    return unit


def checked_length(
    value: float | None, name: str, default: float, low: float, high: float, file: str
) -> float:
    """Return a number given as an option, checked."""
    if value is None:
        return default
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = float("nan")
    if not low <= number <= high:
        raise refuse("cad.option", file, name=name, value=value, low=low, high=high)
    return number


def parse_axes(forward: str, up: str, unit: str, ground: float, file: str) -> Axes:
    """Return how file coordinates become ours."""
    front, front_sign = _axis(forward, "forward", file)
    top, top_sign = _axis(up, "up", file)
    if front == top:
        raise refuse("cad.axes_alike", file, forward=forward, up=up)
    side = 3 - front - top
    # forward x up points to the vehicle's right; +1 where (front, top, side) is cyclic.
    cyclic = 1.0 if (top - front) % 3 == 1 else -1.0
    k = mm_per(unit)
    scale = (-front_sign * k, cyclic * front_sign * top_sign * k, top_sign * k)
    return Axes((front, side, top), scale, (0.0, 0.0, -ground * k))


def _axis(text: str, name: str, file: str) -> tuple[int, float]:
    plain = str(text).strip().lower()
    sign, letter = (plain[0], plain[1:]) if plain[:1] in {"+", "-"} else ("+", plain)
    if letter not in _AXES:
        raise refuse("cad.axis", file, name=name, text=text)
    return _AXES[letter], -1.0 if sign == "-" else 1.0


# Curves of a drawing as points: exact at their ends, chords within a given distance.

CURVES: Final = ("LINE", "ARC", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE")
"""Entities that are read."""
_MAX_POINTS: Final = 200_000
_SPLINE_FRAME: Final = 16  # flag of a vertex that only controls a fitted polyline


def place_of(entity: Any) -> str:
    """Return where an entity is in the drawing, for messages."""
    return f"{entity.dxftype()} {entity.dxf.handle} on layer {entity.dxf.layer!r}"


def curve_points(entity: Any, chord: float, reach: float, file: str) -> NDArray[np.float64] | None:
    """Return the points of a curve in drawing coordinates."""

    def load() -> NDArray[np.float64] | None:
        kind = entity.dxftype()
        if kind == "LINE":
            return _array([entity.dxf.start, entity.dxf.end])
        if kind in {"ARC", "ELLIPSE"}:
            size = entity.dxf.radius if kind == "ARC" else entity.dxf.major_axis.magnitude
            _check_size(size, reach, entity, file)
            return _array(entity.flattening(chord))
        if kind == "SPLINE":
            inner = [*entity.control_points, *entity.fit_points]
            _check_size(np.abs(np.array(inner, dtype=np.float64)).max(), reach, entity, file)
            return _array(entity.flattening(chord, segments=8))
        if kind == "LWPOLYLINE":
            rows = list(entity.get_points("xyb"))
            return _flat_polyline(entity, rows, entity.dxf.elevation, chord, reach)
        if entity.is_3d_polyline:
            points = [v.dxf.location for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
            return _array([*points, points[0]] if entity.is_closed else points)
        if entity.is_2d_polyline:
            kept = [v for v in entity.vertices if not v.dxf.flags & _SPLINE_FRAME]
            rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in kept]
            height = kept[0].dxf.location.z if kept else 0.0
            return _flat_polyline(entity, rows, height, chord, reach)
        return None

    points: NDArray[np.float64] | None = told_apart(load, file, f"a sound {place_of(entity)}")
    if points is None:
        return None
    if len(points) < 2:
        raise refuse("curve.short", file, entity=place_of(entity))
    if not np.isfinite(points).all():
        raise refuse("curve.not_finite", file, entity=place_of(entity))
    if np.abs(points).max() > reach:
        raise refuse("curve.far", file, entity=place_of(entity))
    return points


def _array(points: Any) -> NDArray[np.float64]:
    out = []
    for point in points:
        out.append((point.x, point.y, point.z))
        if len(out) > _MAX_POINTS:
            raise ValueError(f"more than {_MAX_POINTS} points on one curve")
    return np.array(out, dtype=np.float64).reshape(-1, 3)


def _check_size(size: float, reach: float, entity: Any, file: str) -> None:
    if not size <= reach:
        raise refuse(
            "cad.size", file, entity=place_of(entity), size=size, reach=MAX_COORDINATE_MM / 1000.0
        )


def _flat_polyline(
    entity: Any,
    rows: list[tuple[float, float, float]],
    elevation: float,
    chord: float,
    reach: float,
) -> NDArray[np.float64]:
    """A polyline in its own plane; bulge is the tangent of a quarter of the arc's angle."""
    if not rows:
        return np.empty((0, 3))
    corners = np.array(rows, dtype=np.float64)
    if entity.is_closed:
        corners = np.concatenate([corners, corners[:1]])
    if not np.isfinite(corners[:-1]).all() or not np.isfinite(corners[:, :2]).all():
        return np.full((2, 3), np.nan)
    flat = [corners[:1, :2]]
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, corners[1:], strict=False):
        flat.append(_bulge(np.array([x0, y0]), np.array([x1, y1]), bulge, chord, reach))
    plane = np.concatenate(flat)
    if len(plane) > _MAX_POINTS:
        raise ValueError(f"more than {_MAX_POINTS} points on one curve")
    from ezdxf.math import Vec3

    if entity.dxf.extrusion.isclose((0.0, 0.0, 1.0)):
        return np.column_stack([plane, np.full(len(plane), float(elevation))])
    to_world = entity.ocs().to_wcs
    return _array([to_world(Vec3(x, y, elevation)) for x, y in plane.tolist()])


def _bulge(
    a: NDArray[np.float64], b: NDArray[np.float64], bulge: float, chord: float, reach: float
) -> NDArray[np.float64]:
    """Points after `a` up to `b`, along a straight line or an arc."""
    across = b - a
    span = float(np.hypot(*across))
    if bulge == 0.0 or span == 0.0:
        return b[None]
    radius = span * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    if not radius <= reach:
        return b[None]  # an arc so flat that it is straight over any front
    centre = (a + b) / 2.0 + np.array([-across[1], across[0]]) * (1.0 - bulge**2) / (4.0 * bulge)
    angle = 4.0 * math.atan(bulge)
    step = 2.0 * math.acos(max(1.0 - chord / radius, 0.0))
    pieces = max(math.ceil(abs(angle) / step), 1)
    turn = angle * np.arange(1, pieces) / pieces
    arm = a - centre
    arc = centre + np.stack(
        [
            arm[0] * np.cos(turn) - arm[1] * np.sin(turn),
            arm[0] * np.sin(turn) + arm[1] * np.cos(turn),
        ],
        axis=1,
    )
    return np.concatenate([arc, b[None]])
