"""A mid-size saloon in side view, a section that stands for a class: own choice, no car's."""

from __future__ import annotations

import numpy as np

import frontcheck as fc
from frontcheck.body.struck_front import StruckFront
from frontcheck.lines.lined_front import chosen_stations, line_up

# x rearward, z up [mm].
SALOON = np.array([
    (120, 200), (40, 260), (5, 330), (0, 450), (8, 540), (40, 590), (85, 640), (120, 680),
    (170, 712), (250, 738), (400, 775), (700, 835), (1000, 885), (1120, 905), (1150, 905),
    (1400, 1050), (1700, 1215), (1950, 1340),
])  # fmt: skip
PARTS = ["bumper"] * 8 + ["bonnet"] * 7 + ["windscreen"] * 3


def front_of(points=SALOON, parts=PARTS, **options):
    """A front of one section at its centre."""
    return fc.Front([fc.Section(points, 0.0, parts)], **options)


def struck_front(points=SALOON, parts=PARTS):
    """The same as a person meets it."""
    lined = line_up(front_of(points, parts), "UN-R127-02")
    ((side,),) = chosen_stations([lined])[0].values()
    return StruckFront.of(side)


def resampled(points, count):
    """The same contour with points every so often, its corners kept."""
    arcs = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.unique(np.concatenate([arcs, np.linspace(0.0, arcs[-1], count)]))
    return np.stack([np.interp(at, arcs, points[:, i]) for i in (0, 1)], axis=1)


def wads(front, ended):
    """Wrap-around distances (B,) at which heads touched [mm]; not a number where none did."""
    out = np.full(len(ended.head_s), np.nan)
    met = np.flatnonzero(~np.isnan(ended.head_s))
    out[met] = front.distances(ended.head_stretch[met], 1e3 * ended.head_at[met])
    return out
