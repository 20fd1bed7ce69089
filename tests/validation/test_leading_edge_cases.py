"""Special cases of the bonnet leading edge.

Source: UN R127.02, 2.7, and (EC) 631/2009 Annex Part I 2.2 (texts read): contact continuous or
multiple along the 50 deg edge: repeat at 40 deg; lower end touches first: that contact; upper end
touches first: the WAD 1000 point. The numbers for "continuous or multiple" are our own choice
(0.1 mm, 60 mm, 10 mm); values with six decimals are derived again beside each check.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, Source
from references.sections import arc, cosd, sind, tand

from frontcheck import Front, Section, screen
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs

SPECIAL = Check(
    "leading-edge-cases",
    kind="closed form",
    quantity="BLERL where the lower or the upper end of the edge touches first",
    unit="mm",
    source=Source(
        "UN R127.02 and Regulation (EC) No 631/2009", where="2.7; Annex Part I, 2.2; by hand",
        known="read",
    ),
    why="rounding of doubles",
)  # fmt: skip
FORMED = Check(
    "leading-edge-statuses",
    kind="closed form",
    quantity="how BLERL of two crests is formed, either side of our limits",
    source=SPECIAL.source,
    why="words; 0.1 mm, 60 mm and 10 mm are own choice",
)

EDGE = StraightEdge.standing(1000.0, 50.0, 600.0)


def leading_edge(points, rules="UN-R127-02"):
    return screen(Front((Section(points),)), rules).stations[0].BLERL


def test_low_nose_meets_the_lower_end():
    """Face x = 0 up to z = 550, bonnet 8 deg: BLERL (355.768486, 600)."""
    line = leading_edge([(200, 200), (0, 220), (0, 550), (1000, 550 + 1000 * tand(8.0))])
    assert line.status == "lower_end"
    assert (line.x, line.z) == pytest.approx((355.768486, 600.0), rel=0, abs=6e-7)
    SPECIAL.compare(50.0 / tand(8.0), line.x, tolerance=1e-9, case="lower end")
    assert line.edge_angle_deg == 50.0


def test_steep_plane_meets_the_upper_end():
    """A plane 20 deg from vertical through (0, 300): WAD 1000, (239.414100, 957.784835)."""
    points = [(150, 290), (0, 300), (1500 * sind(20.0), 300 + 1500 * cosd(20.0)), (900, 1750)]
    line = leading_edge(points)
    assert line.status == "wad_1000"
    assert (line.x, line.z) == pytest.approx((239.414100, 957.784835), rel=0, abs=6e-7)
    want = (700.0 * sind(20.0), 300.0 + 700.0 * cosd(20.0))
    SPECIAL.compare(want, (line.x, line.z), tolerance=1e-9, case="upper end")


def test_upper_end_without_a_wad_1000_point():
    """The whole contour is farther than 1000 mm along the tape: no line, and the reason."""
    points = [(300, 1005), (0, 1010), (1400 * sind(20.0), 1010 + 1400 * cosd(20.0))]
    section = Section(points, parts=["bumper", "bumper", "bonnet"])
    station = screen(Front((section,)), wad=(1000.0, 1500.0)).stations[0]
    assert station.wad(1000.0).status == "not_reached"
    assert station.wad(1500.0).status == "ok"
    assert (station.BLERL.status, station.BLERL.x) == ("not_reached", None)
    assert "WAD" in station.BLERL.reason


def test_smooth_nose_is_one_contact():
    """A nose of radius 180 stays within 0.1 mm over 2 sqrt(2 R t) = 12 mm; no retake."""
    for facets in (30, 300, 3000):
        nose = arc((180.0, 650.0), 180.0, 0.0, 85.0, facets)
        line = leading_edge([(100, 250), (0, 300), *nose, (1300, 900)])
        assert line.status == "ok"
        assert line.edge_angle_deg == 50.0
    touch = edge_contact(nose[None], EDGE)
    runs = touch_runs(nose[None], EDGE, touch, 0.1)
    # Chord at a sagitta of 0.1 mm: 2 sqrt(2 R h - h^2). Facets of 0.09 mm add next to nothing.
    assert runs.longest[0] == pytest.approx(2.0 * math.sqrt(36.0 - 0.01), abs=0.01)
    assert runs.count[0] == 1


def even_bonnet(length: float) -> list[tuple[float, float]]:
    """An upright face, a plane of this length inclined exactly 50 deg, then a flat bonnet."""
    top = (length * sind(50.0), 700.0 + length * cosd(50.0))
    return [(100, 250), (0, 300), (0, 700), top, (top[0] + 800, top[1] + 40)]


@pytest.mark.parametrize("length", [62.0, 100.0, 400.0])
def test_even_50_deg_bonnet_is_taken_again(length):
    """Continuous contact: the 40 deg edge touches the lower end of the plane."""
    line = leading_edge(even_bonnet(length))
    assert line.status == "retaken_40deg"
    assert line.edge_angle_deg == 40.0
    assert (line.x, line.z) == (0.0, 700.0)


def test_short_even_plane_is_one_contact():
    """Within 60 mm: the uppermost of the contact points stays the line.

    The neighbours add 0.1 / sin of their angle to the edge: 0.13 and 0.17 mm.
    """
    line = leading_edge(even_bonnet(59.5))
    assert line.status == "ok"
    assert (line.x, line.z) == pytest.approx(
        (59.5 * sind(50.0), 700.0 + 59.5 * cosd(50.0)), rel=0, abs=1e-9
    )


def crests(apart: float, behind: float, dip: float = 5.0) -> list[tuple[float, float]]:
    """Two crests on (or, the upper, a distance behind) one 50 deg line, a dip between them."""
    a = np.array([0.0, 700.0])
    along, back = np.array([sind(50.0), cosd(50.0)]), np.array([cosd(50.0), -sind(50.0)])
    b = a + apart * along + behind * back
    low = a + 0.5 * apart * along + dip * back
    return [(100, 250), (0, 300), tuple(a), tuple(low), tuple(b), (b[0] + 800, b[1] + 40)]


@pytest.mark.parametrize(
    ("apart", "behind", "status"),
    [
        (100.0, 0.0, "retaken_40deg"),
        (100.0, 0.09, "retaken_40deg"),  # within the tolerance of 0.1 mm
        (100.0, 0.11, "ok"),  # just outside it
        (11.0, 0.0, "retaken_40deg"),  # more than 10 mm apart
        (9.0, 0.0, "ok"),  # not
    ],
)
def test_double_touch(apart, behind, status):
    line = leading_edge(crests(apart, behind))
    FORMED.same(status, line.status, case=f"{apart:g} mm apart, {behind:g} mm behind")
    if status == "retaken_40deg":
        # The upper crest is 0.2267 of the distance behind the 40 deg edge.
        assert (line.x, line.z) == (0.0, 700.0)
        assert line.edge_angle_deg == 40.0


def test_shallow_dip_within_the_tolerance_is_no_second_touch():
    """The contour must leave the tolerance between two touches."""
    assert leading_edge(crests(40.0, 0.0, dip=0.05)).status == "ok"
    assert leading_edge(crests(70.0, 0.0, dip=0.05)).status == "retaken_40deg"  # continuous


def test_double_touch_at_40_deg_too_takes_the_uppermost():
    """Own choice where the text is silent: uppermost touch, and the reason says so."""
    upper = crests(100.0, 0.0)
    a = np.array(upper[2])
    along, back = np.array([sind(40.0), cosd(40.0)]), np.array([cosd(40.0), -sind(40.0)])
    c, low = a - 60.0 * along, a - 30.0 * along + 5.0 * back
    points = [(100, 250), (c[0], 300), tuple(c), tuple(low), *upper[2:]]
    line = leading_edge(points)
    assert line.status == "retaken_40deg"
    assert (line.x, line.z) == pytest.approx(tuple(a), rel=0, abs=1e-9)
    assert "uppermost" in line.reason


def test_reading_can_be_changed():
    """The three numbers are parameters: with 20 mm allowed apart, 11 mm is no second touch."""
    from frontcheck import rule_set

    points = crests(11.0, 0.0)
    loose = rule_set().with_values({"blerl.separate_touch_mm": 20.0})
    assert leading_edge(points).status == "retaken_40deg"
    assert leading_edge(points, loose).status == "ok"


def test_top_of_the_bumper_counts():
    """631/2009 2.2: the top edge of the bumper counts if touched."""
    section = Section(
        [(300, 250), (0, 300), (0, 680), (250, 700), (400, 900), (1200, 960)],
        parts=["underside", "bumper", "bumper", "grille", "bonnet", "bonnet"],
    )
    line = screen(Front((section,))).stations[0].BLERL
    assert (line.x, line.z, line.status) == (0.0, 680.0, "ok")
