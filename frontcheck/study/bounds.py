"""What can be proven about limits: that nothing within the ranges keeps them, or how far at least.

Branch and bound over boxes of parameter values. A box in which some limit is missed by every
shape (see `frontcheck.study.enclosure`) is discarded, and so is one in which every shape
moves the skin farther than a solution already known. What is left is halved. When nothing is
left, that is the proof.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from frontcheck.study.enclosure import ENCLOSED, ROUNDING_MM, enclosures_of
from frontcheck.study.varied_shapes import NoseShapes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from frontcheck.study.enclosure import Enclosure
    from frontcheck.study.study import Limit, Study

_BATCH: Final = 256
_GAP: Final = 0.02
"""The least change is narrowed down to this share of the change found."""


@dataclass(frozen=True)
class Bound:
    """What was proven."""

    status: Literal["none_exists", "least_change", "open", "not_available"]
    least_mm: float | None
    boxes: int  # Boxes looked at
    text: str  # What is claimed and how it was shown


def bound(study: Study, found_mm: float | None = None, most_boxes: int = 20_000) -> Bound:
    """Prove that no parameters keep the limits of a study, or how far the skin must move."""
    shapes = study.setup.shapes
    enclosures = enclosures_of(shapes, study.setup.rules)
    usable = [limit for limit in study.limits if limit.line in ENCLOSED]
    if enclosures is None or not usable:
        return Bound("not_available", None, 0,
                     "no proof: none of the limits is on a line that can be enclosed, which are "
                     + ", ".join(ENCLOSED))  # fmt: skip
    if found_mm is not None and isinstance(shapes, NoseShapes):
        return Bound("not_available", None, 0,
                     "That nothing smaller does is a result of the search and not proven: how far "
                     "the skin of a parametric nose travels is not enclosed.")  # fmt: skip
    lo, hi = (study_box(study, side) for side in ("low", "high"))
    lo, hi = lo[None], hi[None]
    least = _moved(enclosures, lo, hi)
    keep = ~_missed(enclosures, usable, lo, hi)
    lo, hi, least = lo[keep], hi[keep], least[keep]
    widths = np.maximum(study_box(study, "high") - study_box(study, "low"), 1e-12)
    target = np.inf if found_mm is None else found_mm * (1.0 - _GAP)
    seen = 1
    while len(lo) and seen < most_boxes:
        order = np.argsort(least, kind="stable")
        lo, hi, least = lo[order], hi[order], least[order]
        if least[0] >= target:
            break
        now = min(_BATCH, len(lo))
        halves = _halved(lo[:now], hi[:now], widths)
        new_lo, new_hi = halves
        seen += len(new_lo)
        keep = ~_missed(enclosures, usable, new_lo, new_hi)
        new_lo, new_hi = new_lo[keep], new_hi[keep]
        new_least = _moved(enclosures, new_lo, new_hi)
        lo = np.concatenate([new_lo, lo[now:]])
        hi = np.concatenate([new_hi, hi[now:]])
        least = np.concatenate([new_least, least[now:]])
    how = (
        "Shown by bounds over boxes of parameter values that hold for every shape in a box, not "
        f"for samples; {seen} boxes; rounding allowance {ROUNDING_MM:g} mm."
    )
    if len(lo) == 0:
        which = "; ".join(limit.text for limit in usable)
        return Bound("none_exists", None, seen,
                     f"Proven: nothing within the ranges keeps all of: {which}. {how}")  # fmt: skip
    proven = float(least.min())
    if found_mm is not None and proven >= target:
        return Bound("least_change", proven, seen,
                     f"Proven: the limits cannot be kept by moving the skin less than {proven:.4g} "
                     f"mm within the ranges. {how}")  # fmt: skip
    text = f"No proof within {seen} boxes."
    if proven > 0.0:
        text = (
            f"Proven only: the limits cannot be kept by moving the skin less than {proven:.4g} mm "
            f"within the ranges. {how}"
        )
    return Bound("open", proven, seen, text)


def study_box(study: Study, side: Literal["low", "high"]) -> NDArray[np.float64]:
    """Return one end of all ranges, angles of handles as their tangents."""
    values = np.array([getattr(v, side) for v in study.varied], dtype=float)
    fields = getattr(study.setup.shapes, "fields", None)
    if fields:
        scaled: NDArray[np.float64] = fields[0].scaled(values[None])[0]
        return scaled
    return values


def _missed(
    enclosures: dict[float, Enclosure],
    limits: list[Limit],
    lo: NDArray[np.float64],
    hi: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Boxes in which every shape misses some limit."""
    missed = np.zeros(len(lo), dtype=bool)
    for limit in limits:
        stations = enclosures if limit.station is None else {limit.station: None}
        for y in stations:
            found = enclosures[y].line(limit.line, lo, hi)
            missed |= found.lo > limit.at_most + ROUNDING_MM
            missed |= found.hi < limit.at_least - ROUNDING_MM
    return missed


def _moved(
    enclosures: dict[float, Enclosure], lo: NDArray[np.float64], hi: NDArray[np.float64]
) -> NDArray[np.float64]:
    every = [enclosure.moved(lo, hi) for enclosure in enclosures.values()]
    found: NDArray[np.float64] = np.max(every, axis=0)
    return found


def _halved(
    lo: NDArray[np.float64], hi: NDArray[np.float64], widths: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both halves of every box, cut across its relatively longest side."""
    side = ((hi - lo) / widths).argmax(axis=1)
    row = np.arange(len(lo))
    middle = (lo[row, side] + hi[row, side]) / 2.0
    low_hi, high_lo = hi.copy(), lo.copy()
    low_hi[row, side] = middle
    high_lo[row, side] = middle
    return np.concatenate([lo, high_lo]), np.concatenate([low_hi, hi])
