"""A sphere between bonnet and windscreen.

Source: UN R127.02, 2.8, and (EC) 631/2009 Annex Part I 2.3 (texts read): a sphere of 165 mm
diameter kept in contact with the windscreen touches the bonnet. Closed form: in a concave corner
of two planes that meet at a turn d, the centre stands on their bisector, R from both, so contact
is R tan(d/2) from the corner on both planes.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, derived
from references.sections import cosd, sind, tand

from frontcheck import Front, Section, screen
from frontcheck.geometry.sphere import sphere_contact

CORNERS = Check(
    "sphere-in-a-corner",
    kind="closed form",
    quantity="BRRL and touches of a 165 mm sphere between plane bonnet and windscreen",
    unit="mm",
    source=derived("R tan(d/2) from the corner; UN R127.02, 2.8 (text read)"),
    why="exact on planes: rounding, the more the steeper the glass",
)

RADIUS = 82.5
CORNER = (1100.0, 950.0)


def corner_section(bonnet: float, glass: float, pieces: int = 1) -> Section:
    """A front with a plane bonnet and a plane windscreen, rising by these angles [deg]."""
    s = np.linspace(0.0, 900.0, pieces + 1)
    back = [(CORNER[0] - t * cosd(bonnet), CORNER[1] - t * sind(bonnet)) for t in s[::-1]]
    up = [(CORNER[0] + t * cosd(glass), CORNER[1] + t * sind(glass)) for t in s[1:]]
    nose = back[0]
    points = [(nose[0] + 50.0, 200.0), (nose[0], 250.0), *back, *up]
    parts = ["bumper", "bumper", *["bonnet"] * pieces, *["windscreen"] * (pieces + 1)]
    return Section(points, parts=parts)


def ruled(section: Section) -> Front:
    """A front of one and the same section at three stations: only so the sphere is a circle."""
    ys = (-200.0, 0.0, 200.0)
    return Front(tuple(Section(section.points, y, section.parts) for y in ys))


@pytest.mark.parametrize("pieces", [1, 2, 7, 40])
@pytest.mark.parametrize(
    ("bonnet", "glass"), [(4.0, 29.0), (10.0, 35.0), (-3.0, 60.0), (12.0, 88.0)]
)
def test_contact_from_the_corner(bonnet, glass, pieces):
    """R tan(d/2) from the corner, on planes cut into any number of collinear stretches."""
    section = corner_section(bonnet, glass, pieces)
    reach = RADIUS * tand((glass - bonnet) / 2.0)
    line = screen(ruled(section)).station(0.0).BRRL
    want = (CORNER[0] - reach * cosd(bonnet), CORNER[1] - reach * sind(bonnet))
    assert line.status == "ok"
    CORNERS.compare(want, (line.x, line.z), tolerance=1e-6)
    first = 2 + pieces
    touch = sphere_contact(section.points[None], RADIUS, (first, first + pieces), 2)
    on_glass = (CORNER[0] + reach * cosd(glass), CORNER[1] + reach * sind(glass))
    CORNERS.compare(on_glass, (touch.screen_x[0], touch.screen_z[0]), tolerance=1e-9)
    centre = (want[0] - RADIUS * sind(bonnet), want[1] + RADIUS * cosd(bonnet))
    CORNERS.compare(centre, (touch.centre_x[0], touch.centre_z[0]), tolerance=1e-9)


def test_bonnet_edge_over_a_cowl():
    """A sphere on a 30 deg windscreen meets the edge of the bonnet, above a deep cowl.

    Centre on the line at one radius from the glass and on the circle about the edge point:
    both are solved by hand here.
    """
    glass, edge = 30.0, (1000.0, 950.0)
    foot = (1100.0, 900.0)
    section = Section(
        [(60, 200), (0, 300), (100, 850), edge, (1010, 880), (1090, 880), foot,
         (foot[0] + 800 * cosd(glass), foot[1] + 800 * sind(glass))],
        parts=["bumper", "bumper", "bonnet", "bonnet", "cowl", "cowl", "windscreen", "windscreen"],
    )  # fmt: skip
    line = screen(ruled(section)).station(0.0).BRRL
    CORNERS.compare(edge, (line.x, line.z), tolerance=1e-6, case="edge over a cowl")
    assert line.pose.centre[1] == 0.0
    # Height of the edge above the glass plane, and the slide of the centre along it.
    dx, dz = edge[0] - foot[0], edge[1] - foot[1]
    along, above = dx * cosd(glass) + dz * sind(glass), dz * cosd(glass) - dx * sind(glass)
    s = along + np.sqrt(RADIUS**2 - (RADIUS - above) ** 2)
    touch = sphere_contact(section.points[None], RADIUS, (6, 7), 2)
    want = (foot[0] + s * cosd(glass), foot[1] + s * sind(glass))
    at = touch.screen_x[0], touch.screen_z[0]
    CORNERS.compare(want, at, tolerance=1e-9, case="glass over a cowl")


def test_windscreen_too_short():
    """The sphere rests on the upper edge of what was measured: an open end, with the reason."""
    section = corner_section(5.0, 35.0)
    points = section.points.copy()
    points[-1] = (CORNER[0] + 10.0 * cosd(35.0), CORNER[1] + 10.0 * sind(35.0))
    line = screen(ruled(Section(points, parts=section.parts))).station(0.0).BRRL
    assert line.status == "open_end"
    assert "measured surface ends" in line.reason


def test_one_section_does_not_tell_where_the_sphere_rests():
    line = screen(Front((corner_section(5.0, 35.0),))).stations[0].BRRL
    assert (line.status, line.x) == ("not_available", None)
    assert "one section" in line.reason
    local = Front(ruled(corner_section(5.0, 35.0)).sections, datum="local")
    line = screen(local).stations[1].BRRL
    assert (line.status, line.x) == ("not_available", None)
    assert "local" in line.reason


def test_line_beyond_wad_2100_is_capped_by_the_eu_text_only():
    """631/2009 caps the line at the WAD 2100 trace; the UN texts cap the area (from memory)."""
    front = ruled(corner_section(6.0, 32.0))
    far = screen(front, "UN-R127-02").station(0.0)
    wad = screen(front, "UN-R127-02", wad=(1200.0,)).station(0.0).wad(1200.0)
    assert far.BRRL.x > wad.x
    from frontcheck import rule_set

    capped = rule_set("EU-631-2009").with_values({"brrl.wad_cap_mm": 1200.0})
    line = screen(front, capped).station(0.0).BRRL
    assert (line.x, line.z) == pytest.approx((wad.x, wad.z), rel=0, abs=1e-9)
    assert line.status == "ok"
    assert line.reason
    assert screen(front, "EU-631-2009").station(0.0).BRRL == far.BRRL


@pytest.mark.parametrize("gap", [150.0, 164.0, 166.0, 400.0])
def test_a_sphere_falls_through_a_gap_as_wide_as_itself(gap: float) -> None:
    """Between bonnet and glass as high as one another stands a cowl that is no structure."""
    foot, up = 900.0 + gap, (cosd(35.0), sind(35.0))
    points = [(100, 200), (0, 300), (0, 820), (60, 900), (900, 900), (901, 895), (foot - 1, 895),
              (foot, 900), (foot + 500 * up[0], 900 + 500 * up[1])]  # fmt: skip
    parts = [*["bumper"] * 3, "bonnet", "bonnet", "pillar", "pillar", "windscreen", "windscreen"]
    for symmetric, ys in ((True, (0.0, 300.0, 600.0)), (False, (-600.0, -200.0, 300.0, 600.0))):
        front = Front(tuple(Section(points, y, parts) for y in ys), symmetric=symmetric)
        found = screen(front)
        for station in found.stations:
            line = station.BRRL
            if gap < 2.0 * RADIUS:  # on the edge of both: what is measured of either ends there
                assert (line.status, line.point) == ("open_end", pytest.approx((900.0, 900.0)))
            else:
                assert (line.status, line.point) == ("not_reached", None)
                assert line.reason.startswith("no sphere rests on windscreen and front structure")
        assert len(found.zones.line("BRRL").points) == 0 or gap < 2.0 * RADIUS
