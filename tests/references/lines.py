"""Reference lines composed from the slow references, clause by clause.

UN R127, 02 series of amendments, text read: bumper lines 2.26 and 2.38, special cases of the bonnet
leading edge 2.7; (EC) 631/2009 Annex Part I 2.2, text read, has the same cases. Constants are
written here, not taken from the rule sets.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from references.edges import NEAR, SlowContact, counted_line, slow_contact, slow_touches
from references.random_contours import RandomContour
from references.tape import SlowMark, SlowTape

GROUND_REACH_20 = 700.0 * math.cos(math.radians(20.0))
GROUND_REACH_25 = 700.0 * math.cos(math.radians(25.0))
TOLERANCE, CONTINUOUS, SEPARATE = 0.1, 60.0, 10.0
EXACT_MM = 1e-6
"""Agreement asked for where a reference is exact [mm]."""
GRAZING = 2e-3
"""A mark where the distance changes less than this per mm is not well placed: see `SlowTape`."""


@dataclass(frozen=True)
class SlowLine:
    """A line: status, and the point where it was formed."""

    status: str
    x: float = math.nan
    z: float = math.nan
    slope: float = 1.0


def bumper_mask(contour: RandomContour) -> np.ndarray | None:
    """Points that count as bumper; None: all, without labels.

    UN R127 02 series, 2.11 (text read): the front, lower, outer structure with its attachments.
    Reading: bumper, grille and trim below the bonnet, and what is not labelled.
    """
    labels = contour.labels
    if labels is None:
        return None
    if "bumper" not in labels:
        return np.array([label != "underside" for label in labels])
    mask, below = [], True
    for label in labels:
        below = below and label not in ("bonnet", "cowl", "windscreen")
        mask.append(label == "" or (below and label in ("bumper", "grille", "trim")))
    return np.array(mask)


def foremost(contour: RandomContour) -> tuple[float, float]:
    """Foremost bumper point; without labels the foremost point at or below z = 1000."""
    counted = bumper_mask(contour)
    high = math.inf if "bumper" in (contour.labels or ()) else 1000.0
    plumb = slow_contact(counted_line(contour.points, counted), 0.0, 0.0, high, "lower")
    return plumb.x, plumb.z


def start_index(contour: RandomContour, point: tuple[float, float]) -> int:
    """Index of the contour point from which to go up: that point, or the one just below it."""
    points = contour.points
    same = np.flatnonzero(np.hypot(*(points - point).T) < EXACT_MM)
    if len(same):
        return int(same[0])
    a, step = points[:-1], np.diff(points, axis=0)
    square = (step * step).sum(axis=1)
    t = np.clip(((point - a) * step).sum(axis=1) / square, 0.0, 1.0)
    i = int(np.argmin(np.hypot(*(point - a - t[:, None] * step).T)))
    # Where the surface comes down from above the height limit, the lower end is next.
    return i + int(points[i, 1] > 1000.0)


def bumper_line(contact: SlowContact, high: float) -> SlowLine:
    """A bumper line from its contact."""
    if not contact.touched:
        return SlowLine("not_reached")
    at_end = contact.z >= high - EXACT_MM or contact.z <= EXACT_MM
    return SlowLine("edge_end" if at_end else "ok", contact.x, contact.z)


def upper_bumper(contour: RandomContour, foot_on_ground: bool) -> SlowLine:
    """UBRL: uppermost contact of the edge inclined 20 deg rearward."""
    counted = bumper_mask(contour)
    # EU 631/2009: need not stand on the ground where a bumper is identified (unconfirmed).
    identified = "bumper" in (contour.labels or ())
    high = math.inf if identified and not foot_on_ground else GROUND_REACH_20
    line = counted_line(contour.points, counted)
    return bumper_line(slow_contact(line, 20.0, 0.0, high, "upper"), high)


def lower_bumper(contour: RandomContour) -> SlowLine:
    """LBRL: lowermost contact of the edge inclined 25 deg forward."""
    touch = slow_contact(
        counted_line(contour.points, bumper_mask(contour)), -25.0, 0.0, GROUND_REACH_25, "lower"
    )
    line = bumper_line(touch, GROUND_REACH_25)
    below = np.array([label == "underside" for label in contour.labels or ()])
    if line.status == "ok" and below.any():
        under = counted_line(contour.points, below)
        first = slow_contact(under, -25.0, 0.0, GROUND_REACH_25, "lower")
        if first.touched and first.foot_x < touch.foot_x - NEAR:
            return SlowLine("underside_first", line.x, line.z)
    return line


def bonnet_edge(contour: RandomContour, wad_1000: list[SlowMark]) -> tuple[SlowLine, float]:
    """BLERL and the lean of the edge that formed it [deg]."""
    line = counted_line(contour.points, None)
    for lean in (50.0, 40.0):
        high = 600.0 + 1000.0 * math.cos(math.radians(lean))
        touch = slow_contact(line, lean, 600.0, high, "upper")
        if not touch.touched:
            return SlowLine("not_reached"), lean
        runs = slow_touches(line, touch, lean, 600.0, high, TOLERANCE)
        several = runs.longest > CONTINUOUS or runs.spread > SEPARATE
        if several and lean == 50.0:
            continue
        if several:
            return SlowLine("retaken_40deg", *runs.top), lean
        if touch.z >= high - EXACT_MM:
            if not wad_1000:
                return SlowLine("not_reached"), lean
            return SlowLine("wad_1000", wad_1000[0].x, wad_1000[0].z, wad_1000[0].slope), lean
        status = "lower_end" if touch.z <= 600.0 + EXACT_MM else "ok"
        if lean == 40.0 and status == "ok":
            status = "retaken_40deg"
        return SlowLine(status, touch.x, touch.z), lean
    raise AssertionError


def tape_of(contour: RandomContour, front: tuple[float, float]) -> SlowTape:
    """The tape from the ground below the foremost point."""
    return SlowTape(contour.points, front[0])
