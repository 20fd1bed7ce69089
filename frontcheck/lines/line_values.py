"""Status, point and reason of a line, for many contours at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from frontcheck.geometry.arrays import Array, Index, Mask

STATUSES: Final = (
    "ok",
    "retaken_40deg",
    "lower_end",
    "wad_1000",
    "underside_first",
    "wad_only",
    "edge_end",
    "open_end",
    "not_reached",
    "not_available",
)
"""Status of a line, from the plainest to the least known; the index is the code in batches."""

(
    OK,
    RETAKEN,
    LOWER_END,
    WAD_1000,
    UNDERSIDE_FIRST,
    WAD_ONLY,
    EDGE_END,
    OPEN_END,
    NOT_REACHED,
    NOT_AVAILABLE,
) = range(len(STATUSES))

FORMED: Final = frozenset(STATUSES[:NOT_REACHED])
"""Statuses of what could be formed; of `open_end` the value is kept, but not known for sure."""

NO_ANCHOR: Final = "no point of the contour lies low enough to hang the tape from"
"""Why there is no wrap-around distance."""

NOT_SEEN: Final = (
    "whether the tape lies on the skin or over a recess there is not seen from the side"
)
"""Why it is not said of a wrap-around point of an outline."""

REASONS: tuple[str, ...] = (
    "",
    "the straight edge touches with its end: what lies beyond its reach may stand farther out",
    "the lower end of the edge touches first; that contact is the line",
    "the upper end of the edge touches first; the line is the WAD point that the rules name",
    "contact at the first inclination is continuous or multiple; taken again at the second",
    "contact is continuous or multiple at both inclinations; the uppermost touch is taken",
    "no part of the contour that counts lies within the reach of the straight edge",
    "the upper end of the edge touches first, but the tape does not reach that WAD point",
    "no sphere rests on windscreen and front structure at once there",
    "no point is labelled windscreen, so the sphere cannot be kept on it",
    "the sphere would rest beyond the WAD at which these rules cap the line",
    "the edge would touch the underside first, which is no bumper; the line is on the bumper",
    "the sphere touches where the measured surface ends: what lies beyond may be touched first",
    "the sphere rests in space on windscreen and front structure: one section does not tell where",
    "the sphere rests in space, and stations from local datums do not tell the plan shape",
    *(
        f"open end: what lies beyond {end} of the contour could change it, so it is not known; "
        f"measure farther {where}"
        for end, where in (
            ("the lower end", "along the underside"),
            ("the rear end", "up and rearward"),
            ("either end", "along the underside, and farther up and rearward"),
        )
    ),
    "open end: the lower lip is not seen from the side, but the lowest of all stations; measure it",
)
(
    PLAIN,
    R_END,
    R_LOWER,
    R_WAD,
    R_RETAKEN,
    R_UPPERMOST,
    R_REACH,
    R_NO_WAD,
    R_NO_REST,
    R_NO_SCREEN,
    R_CAPPED,
    R_UNDERSIDE,
    R_REAR_END,
    R_ONE_SECTION,
    R_LOCAL,
    R_OPEN_LOWER,
    _,
    _,
    R_NOT_SEEN,
) = range(len(REASONS))


@dataclass(frozen=True, eq=False)
class LineValues:
    """One line in B contours."""

    code: Index  # (B,) int, index into `STATUSES`
    x: Array  # (B,) point [mm]; holds nothing meaningful where `formed` is False
    z: Array  # (B,) point [mm]; holds nothing meaningful where `formed` is False
    reason_code: Index  # (B,) int; see `reason`

    @property
    def formed(self) -> Mask:
        """Where the line could be formed, (B,) bool."""
        return self.code < NOT_REACHED

    def status(self, i: int) -> str:
        """Return the status of one contour."""
        return STATUSES[self.code[i]]

    def reason(self, i: int) -> str:
        """Why the status of one contour is what it is; empty when there is nothing to say."""
        return REASONS[int(self.reason_code[i])]


def unavailable(batch: int, reason: int) -> LineValues:
    """A line that is not available in any of B contours."""
    return LineValues(
        np.full(batch, NOT_AVAILABLE), np.zeros(batch), np.zeros(batch), np.full(batch, reason)
    )
