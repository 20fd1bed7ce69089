"""What a block of draws says: every quantity, every status, and which rows are touched."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import InputError
from frontcheck.lines.section_lines import STATUSES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.lines.section_lines import LineBatch

__all__ = ["LINES", "contact_counts", "line_names", "quantities", "quantity_names", "status_codes"]

LINES: Final = ("UBRL", "LBRL", "BLERL", "BRRL")
"""Lines that are no wrap-around distance."""

_OK, _NOT_REACHED, _NOT_AVAILABLE = (
    STATUSES.index(name) for name in ("ok", "not_reached", "not_available")
)

_ALIASES: Final = {
    "ble_height_mm": "BLERL_z_mm",
    "upper_bumper_height_mm": "UBRL_z_mm",
    "lower_bumper_height_mm": "LBRL_z_mm",
}


def line_names(wad: Sequence[float]) -> tuple[str, ...]:
    """Return the names of all lines."""
    return (*LINES, *(f"WAD {distance:g}" for distance in wad))


def quantity_names(wad: Sequence[float]) -> tuple[str, ...]:
    """Return the names of all quantities: x and z of every line, then the bumper lead."""
    names = [f"{name.replace(' ', '_')}_{axis}_mm" for name in line_names(wad) for axis in "xz"]
    return (*names, "bumper_lead_mm")


def quantity_index(name: str, wad: Sequence[float]) -> int:
    """Return the place of a quantity among `quantity_names`; heights may go by their own name."""
    names = quantity_names(wad)
    wanted = _ALIASES.get(name, name)
    if wanted not in names:
        raise InputError(
            f"a threshold for {name!r}",
            expected=f"one of {', '.join((*names, *_ALIASES))}",
            todo="name one of these quantities",
        )
    return names.index(wanted)


def quantities(batch: LineBatch) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return every quantity of a batch."""
    lines = [getattr(batch, name) for name in LINES]
    m = len(batch.distances)
    values = [v for line in lines for v in (line.x, line.z)]
    values += [v[:, j] for j in range(m) for v in (batch.WAD.x, batch.WAD.z)]
    formed = [line.formed for line in lines for _ in "xz"]
    formed += [batch.WAD.reached[:, j] for j in range(m) for _ in "xz"]
    lead = batch.bumper_lead
    both = ~np.ma.getmaskarray(lead)
    return np.stack([*values, np.ma.getdata(lead)]), np.stack([*formed, both])


def status_codes(batch: LineBatch) -> NDArray[np.intp]:
    """Return the status of every line of a batch."""
    codes = [getattr(batch, name).code for name in LINES]
    for j in range(len(batch.distances)):
        reached = np.where(batch.WAD.reached[:, j], _OK, _NOT_REACHED)
        codes.append(np.where(batch.anchor.found, reached, _NOT_AVAILABLE))
    return np.stack(codes)


def contact_counts(batch: LineBatch, points: NDArray[np.float64]) -> NDArray[np.intp]:
    """Count at which rows the lines of a batch lie."""
    n = points.shape[1]
    counts = []
    for name in LINES:
        line = getattr(batch, name)
        chosen = np.flatnonzero(line.formed)
        at = np.stack([line.x[chosen], line.z[chosen]], axis=-1)
        counts.append(_count(*_rows_at(points[chosen], at), n))
    for j in range(len(batch.distances)):
        chosen = np.flatnonzero(batch.WAD.reached[:, j])
        at = np.stack([batch.WAD.x[chosen, j], batch.WAD.z[chosen, j]], axis=-1)
        lower = batch.WAD.stretch[chosen, j]
        counts.append(_count(*_on_stretch(points[chosen], at, lower), n))
    return np.stack(counts)


def _count(first: NDArray[np.intp], second: NDArray[np.intp], n: int) -> NDArray[np.intp]:
    between = first != second
    return np.bincount(first, minlength=n) + np.bincount(second[between], minlength=n)


def _rows_at(
    points: NDArray[np.float64], at: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last row of the point, or of the stretch, on which places (b, 2) lie."""
    same = (points[..., 0] == at[:, None, 0]) & (points[..., 1] == at[:, None, 1])
    first = same.argmax(axis=1)
    second = first.copy()
    between = np.flatnonzero(~same.any(axis=1))
    if len(between):
        a, step = points[between, :-1], np.diff(points[between], axis=1)
        to = at[between, None] - a
        square = (step * step).sum(axis=-1)
        t = np.clip((to * step).sum(axis=-1) / np.where(square == 0.0, 1.0, square), 0.0, 1.0)
        gap = to - t[..., None] * step
        first[between] = np.hypot(gap[..., 0], gap[..., 1]).argmin(axis=1)
        second[between] = first[between] + 1
    return first, second


def _on_stretch(
    points: NDArray[np.float64], at: NDArray[np.float64], lower: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The same for places on known stretches."""
    row = np.arange(len(points))
    at_lower = (points[row, lower] == at).all(axis=-1)
    at_upper = (points[row, lower + 1] == at).all(axis=-1)
    return np.where(at_upper, lower + 1, lower), np.where(at_lower, lower, lower + 1)
