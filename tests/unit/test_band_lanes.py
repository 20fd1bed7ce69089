"""Bands of findings off the skin, by lengths on straight contours: place, lane, strip, direction.

A band of a point is 36 mm long; lanes are 26 mm wide, the first 16 mm off the skin; bands in one
lane are 12 mm apart at least (all own choice, for the eye).
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from frontcheck.findings.bands import bands_of, longest_bands, strip_along
from frontcheck.surface.section import Section

LEVEL = Section([(0.0, 500.0), (300.0, 500.0), (1000.0, 500.0)])
PLUMB = Section([(0.0, 100.0), (0.0, 400.0), (0.0, 900.0)], 200.0)


def finding(arc=None, outline=(), y: float | None = 0.0, code="A"):
    return SimpleNamespace(
        code=code, station=y, region=SimpleNamespace(arc_mm=arc, outline_mm=tuple(outline))
    )


def ends(bands):
    return [(band.number, band.low, band.high) for band in bands]


def test_a_band_lies_where_its_finding_does_and_is_36_mm_long_at_least() -> None:
    rows = [
        finding((100.0, 200.0)),
        finding((500.0, 500.0)),
        finding((690.0, 720.0)),
        finding((5.0, 5.0)),
        finding((990.0, 1000.0)),
        finding((600.0, 636.0)),
    ]
    assert ends(bands_of(LEVEL, rows)) == [
        (1, 100.0, 200.0), (2, 482.0, 518.0), (3, 687.0, 723.0), (4, 0.0, 23.0),
        (5, 977.0, 1000.0), (6, 600.0, 636.0),
    ]  # fmt: skip
    assert bands_of(LEVEL, []) == ()
    beside = finding(None, [(300.0, 20.0, 500.0), (350.0, -20.0, 490.0)], y=None)
    assert ends(bands_of(LEVEL, [beside])) == [(1, 300.0, 350.0)]


@pytest.mark.parametrize(
    ("row", "whole", "half"),
    [
        (finding((9.0, 90.0), y=200.0), (9.0, 90.0), (9.0, 90.0)),
        # Of another station: only what is drawn within 50 mm of this one.
        (finding((9.0, 90.0), y=100.0), None, None),
        (finding((9.0, 90.0), [(7.0, 200.0, 400.0)], y=100.0), (282.0, 318.0), (282.0, 318.0)),
        (finding(None, [(0.0, 250.0, 300.0), (0.0, 150.0, 500.0)]), (200.0, 400.0), (200.0, 400.0)),
        (finding(None, [(0.0, 250.1, 300.0), (0.0, 150.0, 500.0)]), (382.0, 418.0), (382.0, 418.0)),
        (finding(None, [(0.0, 149.9, 500.0)]), None, None),
        (finding(None, [(0.0, -210.0, 300.0), (0.0, -190.0, 340.0)]), None, (200.0, 240.0)),
        (finding(None, [(0.0, -150.0, 300.0)]), None, (182.0, 218.0)),
        (finding(None, [(0.0, -251.0, 300.0)]), None, None),
        (finding(None, [], y=200.0), None, None),
    ],
)
def test_what_is_drawn_near_a_section_counts_as_in_it(row, whole, half) -> None:
    for symmetric, wanted in ((False, whole), (True, half)):
        found = ends(bands_of(PLUMB, [finding(y=None), row], symmetric=symmetric))
        assert found == ([] if wanted is None else [(2, *wanted)])


def test_bands_lie_in_the_innermost_lane_that_is_free() -> None:
    """Short ones first; lanes reach 42, 68 and 94 mm off the skin."""
    rows = [(100.0, 300.0), (150.0, 200.0), (311.9, 411.9), (312.0, 400.0), (120.0, 260.0),
            (700.0, 800.0), (812.0, 912.0)]  # fmt: skip
    bands = bands_of(LEVEL, [finding(row) for row in rows])
    # 88 mm at 312, 50 at 150, ...: by length 2, 4, 3, 6, 7, 5, 1.
    assert {band.number: band.reach for band in bands} == {
        2: 42.0, 4: 42.0, 3: 68.0, 6: 42.0, 7: 42.0, 5: 68.0, 1: 94.0,
    }  # fmt: skip
    apart = bands_of(LEVEL, [finding((100.0, 200.0)), finding((212.0, 312.0))])
    near = bands_of(LEVEL, [finding((100.0, 200.0)), finding((211.5, 311.5))])
    assert [band.reach for band in apart] == [42.0, 42.0]
    assert [band.reach for band in near] == [42.0, 68.0]


@pytest.mark.parametrize("seed", range(4))
def test_no_two_bands_of_one_lane_come_closer_than_12_mm(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rows = [finding(tuple(sorted(rng.uniform(0, 1000, 2)))) for _ in range(14)]
    bands = bands_of(LEVEL, rows)
    order = sorted(bands, key=lambda b: (b.high - b.low, b.low, b.number))
    placed = []
    for band in order:
        lane = round((band.reach - 42.0) / 26.0)
        clash = {
            own for own, other in placed
            if band.low < other.high + 12.0 and other.low < band.high + 12.0
        }  # fmt: skip
        assert lane not in clash
        assert set(range(lane)) <= clash  # every lane farther in is taken there
        placed.append((lane, band))


def test_a_band_has_its_skin_its_middle_its_direction_and_its_strip() -> None:
    (band,) = bands_of(LEVEL, [finding((200.0, 600.0))])
    assert band.skin.tolist() == [[200.0, 500.0], [300.0, 500.0], [600.0, 500.0]]
    assert (band.middle, band.direction) == ((400.0, 500.0), (1.0, 0.0))
    assert band.number == 1
    # Its strip lies on the air side, from 16 mm on, 62 % of a lane wide.
    x, z = band.strip.T
    assert (x.min(), x.max()) == (200.0, 600.0)
    assert (z.min(), z.max()) == (pytest.approx(516.0), pytest.approx(516.0 + 0.62 * 26.0))
    assert shapely.Polygon(band.strip).area == pytest.approx(400.0 * 0.62 * 26.0)
    (up,) = bands_of(PLUMB, [finding((0.0, 30.0), y=200.0)])
    assert (up.low, up.high) == (0.0, 33.0)
    assert (up.middle, up.direction) == (pytest.approx((0.0, 116.5)), pytest.approx((0.0, 1.0)))
    assert up.strip[:, 0].max() == pytest.approx(-16.0)
    # Twenty mm either way of the middle, about a corner: half up, half rearward.
    corner = Section([(0.0, 100.0), (0.0, 400.0), (500.0, 400.0)])
    (bent,) = bands_of(corner, [finding((200.0, 400.0))])
    assert bent.direction == pytest.approx((np.sqrt(0.5), np.sqrt(0.5)))
    (off,) = bands_of(corner, [finding((205.0, 405.0))])
    assert off.direction == pytest.approx(tuple(np.array([25.0, 15.0]) / np.hypot(25.0, 15.0)))
    # Near either end no farther than the contour goes.
    short = Section([(0.0, 400.0), (0.0, 410.0), (20.0, 410.0)])
    (whole,) = bands_of(short, [finding((0.0, 30.0))])
    assert whole.direction == pytest.approx(tuple(np.array([20.0, 10.0]) / np.hypot(20.0, 10.0)))
    second = bands_of(LEVEL, [finding((200.0, 600.0)), finding((200.0, 610.0))])[1]
    assert second.strip[:, 1].min() == pytest.approx(542.0)


def test_a_strip_follows_the_contour_in_steps_and_does_not_fold_at_a_bend() -> None:
    corner = Section([(0.0, 100.0), (0.0, 400.0), (500.0, 400.0)])
    inner = corner.arc_lengths[1:2]
    strip = strip_along(corner, (250.0, 350.0), inner, 16.0, 32.0)
    near, far = strip[: len(strip) // 2], strip[len(strip) // 2 :][::-1]
    # Stops every 8 mm from its start on, at its end and at the bend.
    stops = sorted({*np.arange(250.0, 350.0, 8.0), 300.0, 350.0})
    assert len(near) == len(far) == len(stops)
    assert shapely.Polygon(strip).is_valid
    assert np.hypot(*(far - near).T) == pytest.approx(16.0)
    at = corner.at_arc_length(np.array(stops))
    assert np.hypot(*(near - at).T) == pytest.approx(16.0)
    bend = stops.index(300.0)
    assert near[bend] - at[bend] == pytest.approx([-16.0 * np.sqrt(0.5), 16.0 * np.sqrt(0.5)])
    # Normals are smoothed over half of how far it reaches and 4 mm: 20 mm from the bend plain.
    for stop, normal in ((250.0, (-1.0, 0.0)), (274.0, (-1.0, 0.0)), (322.0, (0.0, 1.0))):
        i = stops.index(stop)
        assert (near[i] - at[i]) / 16.0 == pytest.approx(normal)
    i = stops.index(298.0)  # 18 mm up, 2 + 16 mm ... rearward: 20 mm either way
    along = np.array([18.0, 22.0]) / np.hypot(18.0, 22.0)
    assert (near[i] - at[i]) / 16.0 == pytest.approx((-along[1], along[0]))


def test_of_every_line_the_longest_band_is_kept_and_numbered_as_the_lines_are() -> None:
    rows = [finding((100.0, 200.0), code="A"), finding((400.0, 700.0), code="A"),
            finding((150.0, 250.0), code="B"), finding((800.0, 860.0), code="C")]  # fmt: skip
    bands = bands_of(LEVEL, rows)
    lines = [SimpleNamespace(findings=codes) for codes in (("D",), ("B", "C"), ("A",))]
    kept = longest_bands(LEVEL, bands, lines)
    assert ends(kept) == [(2, 150.0, 250.0), (3, 400.0, 700.0)]
    assert [band.finding.code for band in kept] == ["B", "A"]
    assert [band.reach for band in kept] == [42.0, 42.0]
    assert longest_bands(LEVEL, bands, lines[:1]) == ()
