"""Which stretches of the chains of one section can be seen from the front and from above."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from frontcheck.geometry.chains import Chain

__all__ = ["Seen", "seen_stretches"]

_VIEWS_DEG: Final = (-45.0, 0.0, 45.0, 90.0)
_SAMPLE_MM: Final = 0.5
_DEPTH_MM: Final = 1.5
"""What stands this little behind the foremost along a line of sight counts as seen."""


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen of one chain of m stretches."""

    mask: NDArray[np.bool_]  # (m,) bool, whether at least half of a stretch is seen
    length: float  # Length seen [mm]
    from_left: float


def seen_stretches(chains: Sequence[Chain]) -> list[Seen]:
    """Return which stretches of every chain are seen from the front and from above."""
    starts, steps = [], []
    for chain in chains:
        after = np.roll(chain.points, -1, axis=0) if chain.closed else chain.points[1:]
        start = chain.points[: len(after)]
        starts.append(start)
        steps.append(after - start)
    start, step = np.concatenate(starts), np.concatenate(steps)
    length = np.hypot(step[:, 0], step[:, 1])
    reach = float(length.sum())
    # Samples closer than a line of sight is wide, so that no line slips between them.
    spacing = max(_SAMPLE_MM, reach / 200_000.0)
    count = np.maximum(np.ceil(length / spacing), 1).astype(np.intp)
    of = np.repeat(np.arange(len(start)), count)
    within = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    t = (within + 0.5) / count[of]
    samples = start[of] + t[:, None] * step[of]
    seen = np.zeros(len(of), dtype=bool)
    from_left = np.zeros(len(of))
    for view in _VIEWS_DEG:
        to_x, to_z = -math.cos(math.radians(view)), math.sin(math.radians(view))
        toward = samples[:, 0] * to_x + samples[:, 1] * to_z
        line = np.floor((samples[:, 1] * to_x - samples[:, 0] * to_z) / (2.0 * spacing))
        line = (line - line.min()).astype(np.intp)
        nearest = np.full(int(line.max()) + 1, -np.inf)
        np.maximum.at(nearest, line, toward)
        now = toward >= nearest[line] - max(_DEPTH_MM, 3.0 * spacing)
        seen |= now
        from_left += now * (step[of, 0] * to_z - step[of, 1] * to_x)
    share = np.bincount(of, weights=seen, minlength=len(start)) / count
    left = np.bincount(of, weights=from_left, minlength=len(start)) / count
    out, at = [], 0
    for part in starts:
        here = slice(at, at + len(part))
        out.append(
            Seen(share[here] >= 0.5, float(share[here] @ length[here]), float(left[here].sum()))
        )
        at += len(part)
    return out
