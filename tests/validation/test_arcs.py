"""A face that is one arc: contacts in closed form, and how facets come near them.

Derived: contact is where the normal of the arc is square to the edge. A rearward edge at angle A
touches an arc of centre (xc, zc) and radius R at (xc - R cos A, zc + R sin A), a forward edge at
(xc - R cos A, zc - R sin A); an arc made of chords c departs from the true one by c^2 / 8R.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from references.sections import arc, chord, cosd, sind

from frontcheck import Front, Section, screen
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact

CORNER = Check(
    "arc-contact-at-a-corner",
    kind="closed form",
    quantity="place where the edges of UBRL, LBRL and BLERL touch an arc",
    unit="mm",
    source=derived("contact where the normal of the arc is square to the edge"),
    why="with a corner there the contact is exact: rounding of doubles",
)
SAG = Check(
    "arc-facets-sag",
    kind="closed form",
    quantity="how far an edge comes too far on an arc made of chords c, at most",
    unit="mm",
    source=derived("an inscribed facet lies up to c^2 / 8R behind its arc"),
    why="0.1 % of it for the next term",
)
MIDDLE = Check(
    "arc-facets-middle",
    kind="closed form",
    quantity="how far an edge comes too far where it meets the middle of a facet",
    unit="mm",
    source=derived("c^2 / 8R"),
    why="0.2 % of it for the next term",
)
ORDER = Check(
    "arc-order-of-convergence",
    kind="closed form",
    quantity="order in which the error falls with the length of facets",
    source=derived("c^2 / 8R is of order two"),
    why="measured from facets of 8 to 0.5 deg",
)
TAPE = Check(
    "arc-wrap-around",
    kind="closed form",
    quantity="how far a wrap-around point over a faceted arc is off, at most",
    unit="mm",
    source=derived("L c^2 / 24 R^2 of a length L of arc, and the sag c^2 / 8R of its facet"),
    why="the bound is the limit itself",
)

CENTRE, RADIUS = (400.0, 450.0), 350.0
# The tool, its angle, and the sign of the height at which it touches.
TOOLS = [
    pytest.param(StraightEdge.standing(700.0, 20.0), 20.0, +1, "upper", id="UBRL"),
    pytest.param(StraightEdge.standing(700.0, -25.0), 25.0, -1, "lower", id="LBRL"),
    pytest.param(StraightEdge.standing(1000.0, 50.0, 600.0), 50.0, +1, "upper", id="BLERL"),
    pytest.param(StraightEdge.standing(1000.0, 40.0, 600.0), 40.0, +1, "upper", id="BLERL 40"),
]


def true_contact(angle: float, sign: int) -> tuple[float, float]:
    return CENTRE[0] - RADIUS * cosd(angle), CENTRE[1] + sign * RADIUS * sind(angle)


@pytest.mark.parametrize(("edge", "angle", "sign", "take"), TOOLS)
def test_touching_point_that_is_a_corner(edge, angle, sign, take):
    """With a corner at every whole degree the contact is exact."""
    got = edge_contact(arc(CENTRE, RADIUS, -80.0, 80.0, 160)[None], edge, take=take)
    CORNER.compare(true_contact(angle, sign), (got.x[0], got.z[0]), tolerance=1e-9)


@pytest.mark.parametrize("facets", [7, 20, 61, 200])
@pytest.mark.parametrize(("edge", "angle", "sign", "take"), TOOLS)
def test_contact_within_the_facet_error(edge, angle, sign, take, facets):
    """The edge stands within c^2 / 8R of its true place, square to it; the point within c / 2.

    An inscribed facet lies behind the arc, so the edge always comes too far.
    """
    c = chord(RADIUS, -79.3, 80.1, facets)
    got = edge_contact(arc(CENTRE, RADIUS, -79.3, 80.1, facets)[None], edge, take=take)
    x, z = true_contact(angle, sign)
    short = (got.foot_x[0] - edge.gap(np.array(x), np.array(z))) * cosd(angle)
    SAG.between(short, -1e-9, c * c / (8.0 * RADIUS) * 1.001 + 1e-9)
    # c / 2 along the arc at most, when the true point is in the middle of a facet.
    assert math.hypot(got.x[0] - x, got.z[0] - z) <= 0.5 * c * 1.001 + 1e-9


def test_order_of_convergence():
    """The true point in the middle of a facet, facets halved: the error falls by four each time."""
    edge = StraightEdge.standing(700.0, 20.0)
    x, z = true_contact(20.0, +1)
    errors = []
    steps = np.array([8.0, 4.0, 2.0, 1.0, 0.5])
    for step in steps:
        # Normals at 20 deg plus and minus half a step: the contact lies between two corners.
        low = 20.0 - step / 2.0 - 5 * step
        points = arc(CENTRE, RADIUS, low, low + 11 * step, 11)
        got = edge_contact(points[None], edge)
        errors.append((got.foot_x[0] - edge.gap(np.array(x), np.array(z))) * cosd(20.0))
        c = chord(RADIUS, 0.0, step, 1)
        MIDDLE.compare(c * c / (8.0 * RADIUS), errors[-1], relative=2e-3, case=f"{step:g} deg")
    order = np.log(np.divide(errors[:-1], errors[1:])) / np.log(steps[:-1] / steps[1:])
    ORDER.compare(2.0, order, tolerance=0.01)


def test_wrap_around_over_an_arc():
    """Straight up to the foremost point, then along the arc: closed form.

    Facets shorten a length L of arc by L c^2 / 24 R^2; order two again.
    """
    errors = []
    for facets in (80, 160, 320):
        face = arc(CENTRE, RADIUS, -60.0, 80.0, facets)
        point = screen(Front((Section(face),)), wad=(700.0,)).stations[0].wad(700.0)
        angle = (700.0 - CENTRE[1]) / RADIUS
        x, z = CENTRE[0] - RADIUS * math.cos(angle), CENTRE[1] + RADIUS * math.sin(angle)
        off = math.hypot(point.x - x, point.z - z)
        c = chord(RADIUS, -60.0, 80.0, facets)
        # The length, and the sag of the facet on which the point lies.
        most = 250.0 * c * c / (24.0 * RADIUS**2) + c * c / (8.0 * RADIUS)
        TAPE.between(off, high=most, case=f"{facets} facets")
        errors.append(off)
        assert not point.bridged
    assert errors[0] > 4.0 * errors[2]
