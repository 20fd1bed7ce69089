"""Parts of a mesh that are no part of the body: mirrors, wires, aerials.

Nothing names them, so they are known by their shape (own choice, all of it). Only a piece of the
mesh that hangs together with nothing else is ever left out.

mirror
    Wholly above 700 mm, no larger than 600 mm along or across and 900 mm high, and its middle
    lies farther out than every large piece reaches: lamps and flares lie within the body's width.
wire
    Wholly above 700 mm, no thicker on average than a rod of 12 mm, and at least half of its
    corners stand 100 mm clear of every other triangle: slats, badges and wipers lie on the body.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.geometry.connected import Pieces, pieces_of
from frontcheck.geometry.outline import REACH_MM
from frontcheck.reading.table import several

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask
    from frontcheck.geometry.slicing import Axes
    from frontcheck.reading.solid import MeshData

_ABOVE_MM: Final = 700.0
_MIRROR_MM: Final = (600.0, 600.0, 900.0)
_LARGE_MM: Final = 1000.0
_WIRE_MM: Final = 12.0 * np.pi
"""Area of a rod of 12 mm over its length."""
_CLEAR_MM: Final = 100.0


def leave_out_free(data: MeshData, axes: Axes) -> tuple[list[str], Array]:
    """Leave mirrors and wires out of a mesh; what was, in sentences and as boxes (k, 2, 3)."""
    held = data.points if data.faces is None else data.points[data.faces]
    corners = np.stack([axes.column(held, i) for i in range(3)], axis=-1)
    pieces = pieces_of(corners)
    size = pieces.high - pieces.low
    high_up = pieces.low[:, 2] > _ABOVE_MM
    mirror = high_up & (size <= _MIRROR_MM).all(axis=1) & _outboard(pieces, size)
    thin = high_up & ~mirror & (pieces.area <= _WIRE_MM * np.sqrt((size**2).sum(axis=1)))
    wire = np.zeros(len(thin), dtype=bool)
    for i in np.flatnonzero(thin).tolist():
        wire[i] = _stands_clear(corners, pieces, i)
    out = []
    for kind, which in (("outboard of the body (mirrors)", mirror), ("thin (wires)", wire)):
        chosen = np.flatnonzero(which)
        if len(chosen):
            out.append(_sentence(kind, chosen, pieces, data))
    lost = mirror | wire
    if out:
        data.keep(~lost[pieces.of])
    return out, np.stack([pieces.low[lost], pieces.high[lost]], axis=1)


def _outboard(pieces: Pieces, size: Array) -> Mask:
    """Pieces whose middle lies farther out than every large piece of the front reaches."""
    large = size.max(axis=1) > _LARGE_MM
    large &= pieces.low[:, 0] <= pieces.low[:, 0].min() + REACH_MM
    if not large.any():
        return np.zeros(len(size), dtype=bool)
    middle = (pieces.low[:, 1] + pieces.high[:, 1]) / 2.0
    out: Mask = (middle < pieces.low[large, 1].min()) | (middle > pieces.high[large, 1].max())
    return out


def _stands_clear(corners: Array, pieces: Pieces, i: int) -> bool:
    """Whether at least half of the corners of a piece are clear of all other triangles."""
    own = corners[pieces.of == i].reshape(-1, 3)
    others = corners[pieces.of != i]
    low, high = others.min(axis=1), others.max(axis=1)
    near = ((low <= pieces.high[i] + _CLEAR_MM) & (high >= pieces.low[i] - _CLEAR_MM)).all(axis=1)
    low, high = low[near], high[near]
    # Boxes of triangles, not triangles: what is called clear is clear.
    clear = [not ((low <= p + _CLEAR_MM) & (high >= p - _CLEAR_MM)).all(axis=1).any() for p in own]
    return 2 * sum(clear) >= len(clear)


def _sentence(kind: str, chosen: Index, pieces: Pieces, data: MeshData) -> str:
    shown = []
    for i in chosen[:6].tolist():
        names = ""
        if data.object_of is not None:
            own = np.unique(data.object_of[pieces.of == i]).tolist()
            names = f" ({', '.join(data.objects[k] or 'no name' for k in own)})"
        x, y, z = (pieces.low[i] + pieces.high[i]) / 2.0
        a, b, c = pieces.high[i] - pieces.low[i]
        shown.append(f"{a:.4g} x {b:.4g} x {c:.4g} mm at x {x:.4g}, y {y:.4g}, z {z:.4g}{names}")
    more = "; ..." if len(chosen) > 6 else ""
    return f"Left out: {several(len(chosen), 'part')} {kind}: {'; '.join(shown)}{more}."
