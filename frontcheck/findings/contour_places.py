"""Where findings lie: places on a section's contour, and stretches of stations in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from frontcheck.findings.finding import Region

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.front.front import Front
    from frontcheck.surface.section import Section

__all__ = ["arc_of", "line_region", "runs", "stations_text"]


def arc_of(section: Section, point: tuple[float, float]) -> float:
    """Return the length along the contour to the contour point nearest to a point."""
    a = section.points[:-1]
    d = np.diff(section.points, axis=0)
    to = np.asarray(point) - a
    t = np.clip((to * d).sum(axis=1) / (d * d).sum(axis=1), 0.0, 1.0)
    gap = np.hypot(*(to - t[:, None] * d).T)
    i = int(np.argmin(gap))
    arcs = section.arc_lengths
    return float(arcs[i] + t[i] * (arcs[i + 1] - arcs[i]))


def line_region(
    name: str,
    section: Section,
    start: tuple[float, float],
    end: tuple[float, float],
    outline: Iterable[tuple[float, float, float]] = (),
) -> Region:
    """Return the region of one section between two points of its contour."""
    low, high = sorted((arc_of(section, start), arc_of(section, end)))
    return Region(name, (low, high), tuple(outline))


def runs(flags: Sequence[bool]) -> list[tuple[int, int]]:
    """Return the first and last index of every unbroken run of true flags."""
    found: list[tuple[int, int]] = []
    for i, flag in enumerate(flags):
        if flag and i and flags[i - 1]:
            found[-1] = (found[-1][0], i)
        elif flag:
            found.append((i, i))
    return found


def stations_text(ys: Sequence[float], front: Front | None = None) -> str:
    """Return in words at which neighbouring stations something holds."""
    low, high = ys[0], ys[-1]
    text = f"at y = {low:g} mm" if low == high else f"at y = {low:g} to {high:g} mm"
    either = front is not None and front.symmetric and (low, high) != (0.0, 0.0)
    return f"{text} (either side)" if either else text
