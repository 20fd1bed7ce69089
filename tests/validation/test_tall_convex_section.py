"""A tall convex section of five points: every line worked out here by plain arithmetic.

UN R127 02 series, 2.26, 2.38, 2.7 and 2.43 (text read). The points are invented, and chosen so that
the sloping stretches have whole lengths: 5-12-13, 7-24-25 and 41-840-841. On a convex section a
straight edge touches where x less z times the tangent of its angle is least, at a point or at an
end of its reach, and the tape lies on every stretch.
"""

from __future__ import annotations

import math

import pytest
from checks import Check, derived
from front_shapes import TALL_SECTION

from frontcheck import Front, Section, screen

TALL = Check(
    "tall-section",
    kind="closed form",
    quantity="UBRL, lead and wrap-around points of a tall convex section",
    unit="mm",
    source=derived("plain arithmetic; UN R127 02 series, 2.26, 2.38, 2.7, 2.43 (text read)"),
    why="rounding of doubles",
)

SILL, FOREMOST, CREST, SHOULDER, END = TALL_SECTION
REACH_20 = 700.0 * math.cos(math.radians(20.0))
REACH_25 = 700.0 * math.cos(math.radians(25.0))
REACH_50 = 600.0 + 1000.0 * math.cos(math.radians(50.0))


def along(a: tuple[float, float], b: tuple[float, float], share: float) -> tuple[float, float]:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def candidates(low: float, high: float) -> list[tuple[float, float]]:
    """Points of the section within a reach, and where the ends of the reach cut it."""
    found = [point for point in TALL_SECTION if low <= point[1] <= high]
    for a, b in zip(TALL_SECTION, TALL_SECTION[1:], strict=False):
        for z in (low, high):
            if a[1] <= z <= b[1]:
                found.append(along(a, b, (z - a[1]) / (b[1] - a[1])))
    return found


def touch(lean_deg: float, low: float, high: float) -> tuple[float, float]:
    tan = math.tan(math.radians(lean_deg))
    return min(candidates(low, high), key=lambda point: point[0] - point[1] * tan)


def on_the_tape(distance: float) -> tuple[float, float]:
    """Straight up from the ground to the foremost point, and on along the stretches."""
    left = distance - FOREMOST[1]
    for a, b in ((FOREMOST, CREST), (CREST, SHOULDER), (SHOULDER, END)):
        length = math.dist(a, b)
        if left <= length:
            return along(a, b, left / length)
        left -= length
    raise AssertionError


@pytest.fixture(scope="module")
def station():
    wads = [1000.0, 1400.0, 1500.0, 1700.0, 2100.0]
    return screen(Front((Section(TALL_SECTION),)), wad=wads).stations[0]


def test_the_stretches_have_whole_lengths_and_turn_one_way() -> None:
    pairs = list(zip(TALL_SECTION[1:], TALL_SECTION[2:], strict=False))
    assert [math.dist(*pair) for pair in pairs] == [390.0, 250.0, 1261.5]
    slopes = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in ((SILL, FOREMOST), *pairs)]
    assert slopes == sorted(slopes, reverse=True)


def test_upper_bumper_is_at_the_end_of_the_edge(station):
    """The tip of a 700 mm edge inclined 20 deg is 700 cos 20 up, on the lowest stretch."""
    want = along(SILL, FOREMOST, (REACH_20 - SILL[1]) / (FOREMOST[1] - SILL[1]))
    assert touch(20.0, 0.0, REACH_20) == pytest.approx(want, rel=0, abs=1e-9)
    assert station.UBRL.status == "edge_end"
    TALL.compare(want, (station.UBRL.x, station.UBRL.z), tolerance=1e-9, case="UBRL")


def test_lower_bumper_and_leading_edge_are_measured_points(station):
    assert touch(-25.0, 0.0, REACH_25) == SILL
    assert (station.LBRL.x, station.LBRL.z) == SILL
    # The lowest point measured: the face may go on below it.
    assert station.LBRL.status == "open_end"
    assert touch(50.0, 600.0, REACH_50) == CREST
    assert (station.BLERL.x, station.BLERL.z) == CREST
    assert station.BLERL.status == "ok"
    assert station.BLERL.edge_angle_deg == 50.0
    lead = CREST[0] - touch(20.0, 0.0, REACH_20)[0]
    TALL.compare(lead, station.bumper_lead, tolerance=1e-9, case="lead")
    assert (station.ble_height, station.lower_bumper_height) == (CREST[1], SILL[1])


@pytest.mark.parametrize(
    ("distance", "by_hand"),
    [
        (1000.0, (150.0 * 14.0 / 39.0, 860.0 + 360.0 * 14.0 / 39.0)),  # 140 of 390
        (1400.0, (150.0 + 240.0 * 0.6, 1220.0 + 70.0 * 0.6)),  # 150 of 250
        (1500.0, (390.0, 1290.0)),  # 860 + 390 + 250
        (1700.0, (390.0 + 200.0 * 840.0 / 841.0, 1290.0 + 200.0 * 41.0 / 841.0)),
        (2100.0, (390.0 + 600.0 * 840.0 / 841.0, 1290.0 + 600.0 * 41.0 / 841.0)),
    ],
)
def test_wrap_around_points(station, distance, by_hand):
    point = station.wad(distance)
    assert on_the_tape(distance) == pytest.approx(by_hand, rel=0, abs=1e-9)
    TALL.compare(by_hand, (point.x, point.z), tolerance=1e-9, case=f"WAD {distance:g}")
    # From the lowest point the face may come forward below (30 deg either way of its last
    # stretch, own choice): the tape would then hang from there.
    assert point.status == "open_end"
    assert point.bridged is False
    assert point.also_at == ()


def test_rear_line_needs_a_windscreen(station):
    assert station.BRRL.status == "not_available"
    assert station.BRRL.x is None
    assert "windscreen" in station.BRRL.reason
    # LBRL at 410 would be below 425 (UN R127 02 series, 5.1, text read), but is an open end.
    assert SILL[1] < 425.0
    assert station.legform is None
