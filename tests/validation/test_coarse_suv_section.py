"""A coarse suv-like section of four segments.

Values derived by two scripts written apart from frontcheck, from the definitions of UN R127.02,
2.26, 2.38, 2.7 and 2.43 (text read). The checks that can be done by hand are done here again.
"""

from __future__ import annotations

import math

import pytest

from frontcheck import Front, Section, screen

POINTS = (
    (24.733, 396.535),
    (0.0, 838.896),
    (146.839, 1234.376),
    (461.218, 1324.111),
    (1661.762, 1333.321),
)
# The printed values have three decimals for UBRL and six for WAD.
UBRL = (10.126, 657.785)
WADS = {
    1000.0: (56.076264, 989.925638),
    1500.0: (376.894456, 1300.042047),
    1700.0: (573.523336, 1324.972553),
    2100.0: (973.511566, 1328.041071),
}


@pytest.fixture(scope="module")
def station():
    return screen(Front((Section(POINTS),)), wad=WADS).stations[0]


def test_upper_bumper_is_at_the_end_of_the_edge(station):
    """UBRL: edge end (10.126, 657.785)."""
    assert station.UBRL.status == "edge_end"
    assert (station.UBRL.x, station.UBRL.z) == pytest.approx(UBRL, rel=0, abs=5e-4)
    # By hand: the end of a 700 mm edge inclined 20 deg is at 700 cos 20, on the lowest stretch.
    z = 700.0 * math.cos(math.radians(20.0))
    x = 24.733 * (838.896 - z) / (838.896 - 396.535)
    assert (station.UBRL.x, station.UBRL.z) == pytest.approx((x, z), rel=0, abs=1e-9)


def test_lower_bumper_and_leading_edge_are_measured_points(station):
    """LBRL (24.733, 396.535), BLERL (146.839, 1234.376), lead 136.713."""
    assert (station.LBRL.x, station.LBRL.z) == POINTS[0]
    # The lowest point measured: the face may go on below it.
    assert station.LBRL.status == "open_end"
    assert (station.BLERL.x, station.BLERL.z) == POINTS[2]
    assert station.BLERL.status == "ok"
    assert station.BLERL.edge_angle_deg == 50.0
    assert station.bumper_lead == pytest.approx(136.713, rel=0, abs=5e-4)
    assert (station.ble_height, station.lower_bumper_height) == (1234.376, 396.535)


@pytest.mark.parametrize("distance", WADS)
def test_wrap_around_points(station, distance):
    """WAD 1000, 1500, 1700, 2100."""
    point = station.wad(distance)
    assert (point.x, point.z) == pytest.approx(WADS[distance], rel=0, abs=5e-7)
    # From the lowest point the face may come forward below (30 deg either way of its last
    # stretch, own choice): the tape would then hang from there.
    assert point.status == "open_end"
    assert point.bridged is False
    assert point.also_at == ()


def test_wrap_around_1000_by_hand(station):
    """The face is convex: up to the foremost point, then along the next stretch."""
    dx, dz = 146.839, 1234.376 - 838.896
    part = (1000.0 - 838.896) / math.hypot(dx, dz)
    point = station.wad(1000.0)
    want = (part * dx, 838.896 + part * dz)
    assert (point.x, point.z) == pytest.approx(want, rel=0, abs=1e-9)


def test_rear_line_needs_a_windscreen(station):
    assert station.BRRL.status == "not_available"
    assert station.BRRL.x is None
    assert "windscreen" in station.BRRL.reason
    # LBRL at 396.5 would be below 425 (UN R127 02 series, 5.1, text read), but is an open end.
    assert station.legform is None
