"""What parts mean: the bumper of both bumper lines and of the tape, and what no tool touches.

UN R127 02 series, text read: 2.11 (bumper: the front, lower, outer structure with its
attachments), 2.26 and 2.38 (bumper reference lines: contact with the bumper), 2.22 (front
structure: all but windscreen, windscreen header, pillars and what is rearward of them).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck import Front, Section, screen
from frontcheck.errors import ContourError

# An undertray that reaches 60 mm ahead of where the edge inclined 25 deg forward meets the bumper.
POINTS = [(500, 150), (20, 150), (18, 160), (90, 180), (90, 400), (22, 440), (0, 500), (0, 560),
          (60, 700), (160, 800), (1000, 930)]  # fmt: skip
LABELS = ["underside"] * 4 + ["bumper"] * 4 + ["bonnet"] * 3


def station(points, parts=None, rules="UN-R127-02"):
    return screen(Front((Section(points, parts=parts),)), rules, wad=(1000.0,)).stations[0]


def first(points, counted):
    """Lowermost point with the least gap to an edge inclined 25 deg forward, by the definition."""
    points = np.array(points, dtype=float)[counted]
    gap = points[:, 0] + points[:, 1] * math.tan(math.radians(25.0))
    return tuple(points[np.flatnonzero(gap <= gap.min() + 1e-9)[0]])


def test_the_lower_line_is_on_the_bumper_and_says_where_the_underside_would_touch():
    found = station(POINTS, LABELS).LBRL
    assert found.status == "underside_first"
    assert (found.x, found.z) == first(POINTS, slice(4, 8)) == (22.0, 440.0)
    assert found.other == first(POINTS, slice(0, 4)) == (20.0, 150.0)
    assert "underside" in found.reason
    assert found.formed
    bare = station(POINTS).LBRL
    assert (bare.x, bare.z) == first(POINTS, slice(None)) == (20.0, 150.0)
    assert bare.other is None


def test_the_legform_follows_the_bumper():
    """UN R127 02 series, 5.1 (text read): from 425 up to 500 mm either, below the lower one."""
    assert station(POINTS, LABELS).legform == "either"
    assert station(POINTS).legform == "lower"


def test_without_an_underside_ahead_nothing_is_said_of_it():
    points = [*[(x + 400, z) for x, z in POINTS[:4]], *POINTS[4:]]
    found = station(points, LABELS).LBRL
    assert found.status == "ok"
    assert found.other is None


@pytest.mark.parametrize(("ahead", "status"), [(0.0, "ok"), (1e-6, "underside_first")])
def test_an_underside_that_the_edge_meets_with_the_bumper_is_not_met_first(ahead, status):
    """Both on one line inclined 25 deg, but for rounding: one contact, and it is the bumper's."""
    points = [*POINTS[:3], (300, 180), *POINTS[4:]]
    x, z = first(points, slice(4, 8))
    points[2] = (x + (z - 160.0) * math.tan(math.radians(25.0)) - ahead, 160.0)
    points[0], points[1] = (500, 150), (points[2][0] + 10.0, 150)
    found = station(points, LABELS).LBRL
    assert (found.status, found.x, found.z) == (status, x, z)


def test_where_an_underside_lies_along_the_edge_its_lowest_point_is_told():
    """As of the bumper (text read: the lowermost points of contact)."""
    along = (20.0 - 20.0 * math.tan(math.radians(25.0)), 170.0)
    found = station([*POINTS[:2], along, *POINTS[3:]], LABELS).LBRL
    assert found.status == "underside_first"
    assert found.other == (20.0, 150.0)


def test_a_front_with_no_bumper_label_counts_all_but_its_underside():
    parts = ["underside"] * 4 + [""] * 7
    assert station(POINTS, parts).LBRL.z == 440.0
    assert station(POINTS, [*[""] * 8, *["bonnet"] * 3]).LBRL.z == 150.0


def test_the_tape_hangs_from_the_foremost_point_of_the_same_bumper():
    """No label: the foremost point at or below z 1000; else of bumper, grille and trim."""
    points = [(300, 200), (40, 250), (40, 500), (0, 560), (0, 640), (80, 760), (900, 880)]
    lamp = ["underside", "bumper", "bumper", "lamp", "lamp", "bonnet", "bonnet"]
    grille = ["underside", "bumper", "bumper", "grille", "grille", "bonnet", "bonnet"]
    assert station(points, lamp).foremost == (40.0, 250.0)
    assert station(points, grille).foremost == (0.0, 560.0)
    assert station(points).foremost == (0.0, 560.0)


NOSE = [(60, 200), (0, 400), (0, 560), (60, 700), (300, 800), (1000, 900)]
PLATE = [(0, 430), (-15, 435), (-15, 500), (0, 505)]


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
def test_what_is_ignored_touches_no_tool(rules):
    """With a plate before the bumper every line is that of the front without one."""
    points = [*NOSE[:2], *PLATE, *NOSE[2:]]
    parts = ["", "", *["ignore"] * 4, *[""] * 4]
    with_plate, without = station(points, parts, rules), station(NOSE, None, rules)
    assert [(p.x, p.z, p.status) for p in (*with_plate.lines, *with_plate.wads)] == [
        (p.x, p.z, p.status) for p in (*without.lines, *without.wads)
    ]
    # The same plate without its label would be touched.
    assert station(points, None, rules).foremost == (-15.0, 435.0)


def test_rows_and_uncertainties_stay_with_their_points():
    points = [*NOSE[:2], *PLATE, *NOSE[2:]]
    parts = ["", "", *["ignore"] * 4, *["bonnet"] * 4]
    section = Section(
        points, 0.0, parts, height_u=np.arange(10.0), setback_u=2.0, rows=range(20, 30)
    )
    assert section.points.tolist() == [[float(x), float(z)] for x, z in NOSE]
    assert section.rows == (20, 21, 26, 27, 28, 29)
    assert section.height_u.tolist() == [0.0, 1.0, 6.0, 7.0, 8.0, 9.0]
    assert section.setback_u.tolist() == [2.0] * 6
    assert section.parts == ("", "", *["bonnet"] * 4)


def test_an_error_beyond_ignored_points_names_the_point_as_given():
    points = [*NOSE[:2], *PLATE, (0, 560), (60, math.nan), (300, 800)]
    with pytest.raises(ContourError, match="not finite") as caught:
        Section(points, parts=["", "", *["ignore"] * 4, *[""] * 3])
    assert caught.value.index == 7


def test_a_contour_of_ignored_points_is_none():
    with pytest.raises(ContourError, match="at least 3 points"):
        Section(NOSE, parts=["", "", *["ignore"] * 4])
