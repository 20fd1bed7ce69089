"""Curves of a drawing as points, those of blocks too: exact at their ends, chords between."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading.cad_file import MAX_COORDINATE_MM, told_apart

if TYPE_CHECKING:
    from collections.abc import Iterator

    from frontcheck.geometry.arrays import Array

KINDS: Final = ("LINE", "ARC", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE")
"""Entities that are read."""
_MAX_POINTS: Final = 200_000
_MOST_IN_BLOCKS: Final = 20_000
_DEEPEST: Final = 16
_SPLINE_FRAME: Final = 16  # flag of a vertex that only controls a fitted polyline


def place_of(entity: Any) -> str:
    """Return where an entity is in the drawing, for messages."""
    which = entity.dxf.handle or "in a block"
    return f"{entity.dxftype()} {which} on layer {entity.dxf.layer!r}"


def drawn(document: Any, file: str) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Entities of the model space, each with the blocks around it and its layer."""
    # What lies on layer 0 of a block counts to the layer of the block. A block that is nowhere
    # defined is left as it is.
    sizes: dict[str, int] = {}

    def size(insert: Any, blocks: tuple[str, ...]) -> int:
        block = insert.block()
        if block is None:
            return 0
        within = (*blocks, block.name)
        if block.name in blocks or len(blocks) == _DEEPEST:
            raise refuse("drawing.block_in_itself", file, blocks=" > ".join(within))
        if block.name not in sizes:
            inserts = [size(one, within) for one in block if one.dxftype() == "INSERT"]
            sizes[block.name] = len(block) + sum(inserts)
        count: int = insert.mcount * sizes[block.name]
        return count

    def taken_apart(insert: Any) -> list[Any]:
        copies = insert.multi_insert() if insert.mcount > 1 else [insert]
        return [entity for one in copies for entity in one.virtual_entities()]

    def walk(entities: Any, blocks: tuple[str, ...], outer: str) -> Iterator[Any]:
        for entity in entities:
            # What no version of the format knows has no layer either.
            own = entity.dxf.layer if entity.dxf.is_supported("layer") else "0"
            layer = outer if blocks and own == "0" else own
            block = entity.block() if entity.dxftype() == "INSERT" else None
            if block is None:
                yield entity, (*blocks, layer)
                continue
            apart = told_apart(partial(taken_apart, entity), file, f"a sound {place_of(entity)}")
            yield from walk(apart, (*blocks, block.name), layer)

    space = told_apart(document.modelspace, file, "a sound DXF drawing")
    inserts = space.query("INSERT")
    if (count := sum(size(one, ()) for one in inserts)) > _MOST_IN_BLOCKS:
        raise refuse("drawing.many_in_blocks", file, count=count, most=_MOST_IN_BLOCKS)
    yield from walk(space, (), "0")


def curve_points(entity: Any, chord: float, reach: float, file: str) -> Array | None:
    """Return the points of a curve in drawing coordinates."""

    def load() -> Array | None:
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

    points: Array | None = told_apart(load, file, f"a sound {place_of(entity)}")
    if points is None:
        return None
    if len(points) < 2:
        raise refuse("curve.short", file, entity=place_of(entity))
    if not np.isfinite(points).all():
        raise refuse("curve.not_finite", file, entity=place_of(entity))
    if np.abs(points).max() > reach:
        raise refuse("curve.far", file, entity=place_of(entity))
    return points


def _array(points: Any) -> Array:
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
) -> Array:
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


def _bulge(a: Array, b: Array, bulge: float, chord: float, reach: float) -> Array:
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
