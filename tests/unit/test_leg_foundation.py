"""Uniform foundation: load, bands and knee response on the polyline."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.foundation import (
    contact_bands,
    foundation_load,
    knee_response,
    loads_between,
    positive_range,
)
from frontcheck.surface.section import Section

NOSE = Section(
    [(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
     (900, 950)]
)  # fmt: skip


def test_load_and_moment_by_quadrature() -> None:
    """Independent: scipy.integrate.quad of the penetration, read off by setback_at."""
    seen = silhouette_of(NOSE, 0.0, 900.0)
    depths = np.array([5.0, 20.0, 60.0, 150.0])
    (load,), (moment,) = loads_between(seen, depths, (0.0, 900.0))
    kinks = sorted(NOSE.z.tolist())
    for i, depth in enumerate(depths):

        def gap(z: float, depth: float = float(depth)) -> float:
            return depth - (float(NOSE.setback_at(z)) - 20.0)

        # quad needs its break points: contour points, and where penetration starts and ends.
        grid = np.linspace(200.0, 900.0, 1401)
        signs = np.sign([gap(z) for z in grid])
        turns = np.flatnonzero(signs[1:] != signs[:-1])
        edges = [brentq(gap, grid[j], grid[j + 1]) for j in turns]
        stops = sorted({200.0, 900.0, *kinks, *edges} - {950.0})
        spans = list(zip(stops, stops[1:], strict=False))
        by_quad = sum(quad(lambda z: max(gap(z), 0.0), a, b)[0] for a, b in spans)
        by_quad_m = sum(quad(lambda z: z * max(gap(z), 0.0), a, b)[0] for a, b in spans)
        # Straight pieces between the break points: quad is exact but for rounding.
        assert load[i] == pytest.approx(by_quad, rel=1e-9)
        assert moment[i] == pytest.approx(by_quad_m, rel=1e-9)


def test_shares_add_up_and_depth_is_a_batch() -> None:
    seen = silhouette_of(NOSE, 0.0, 900.0)
    depths = np.linspace(1.0, 200.0, 40)
    load = foundation_load(seen, depths, knee=480.0)
    assert np.allclose(load.below + load.across + load.above, 1.0, atol=1e-12)
    for i in (0, 17, 39):
        one = foundation_load(seen, depths[i], knee=480.0)
        assert one.load[0] == load.load[i]
        assert one.height[0] == load.height[i]
        assert one.bands[0] == load.bands[i]
    assert (np.diff(load.load) > 0.0).all()


def test_bands_part_and_join() -> None:
    seen = silhouette_of(NOSE, 0.0, 900.0)
    assert len(contact_bands(seen, 10.0)) == 1
    bands = contact_bands(seen, 30.0)
    assert len(bands) == 2
    # From (40, 320) to (70, 400) the setback 30 behind the foremost is reached at x = 50.
    assert bands[0][1] == pytest.approx(320.0 + 80.0 * 10.0 / 30.0)
    assert len(contact_bands(seen, 51.0)) == 1
    assert contact_bands(seen, 40.0)[0][0] == pytest.approx(260.0)


def test_band_does_not_join_across_a_hole() -> None:
    # Face, then a fold that hides nothing: the silhouette jumps but touches at the same height.
    ledge = Section([(50, 200), (0, 300), (0, 400), (80, 400), (80, 600), (300, 700)])
    seen = silhouette_of(ledge, 0.0, 700.0)
    assert contact_bands(seen, 50.0) == ((200.0, 400.0),)
    assert contact_bands(seen, 90.0)[0][1] > 600.0


def test_positive_range() -> None:
    start, end = (
        np.array([1.0, -1.0, 1.0, -1.0, 0.0, 0.0]),
        np.array([1.0, -1.0, -3.0, 3.0, 0.0, 2.0]),
    )
    first, last = positive_range(start, end)
    assert first.tolist() == [0.0, 0.0, 0.0, 0.25, 0.0, 0.0]
    assert last.tolist() == [1.0, 0.0, 0.25, 1.0, 0.0, 1.0]


@pytest.mark.parametrize("bad", [0.0, -5.0, float("nan"), [10.0, 0.0]])
def test_depth_must_be_positive(bad: object) -> None:
    seen = silhouette_of(NOSE, 0.0, 900.0)
    with pytest.raises(ValueError, match="depth must be"):
        foundation_load(seen, bad, knee=480.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="depth must be"):
        knee_response(NOSE, bad)  # type: ignore[arg-type]


def test_knee_band_needs_height() -> None:
    with pytest.raises(ValueError, match="knee band"):
        foundation_load(silhouette_of(NOSE, 0.0, 900.0), 20.0, knee=480.0, half_band=0.0)


def test_sense_in_words() -> None:
    opens = knee_response(NOSE, [60.0])
    assert opens.sense(0) == "opens"
    assert opens.sense(0, stays_within=1.0) == "stays"
    # A lone lip at 100 mm, far below the height of no rotation at 291 mm.
    low = knee_response(Section([(300, 60), (0, 100), (300, 140), (900, 900)]), [60.0])
    assert low.sense(0) == "closes"


def test_front_below_the_legform_is_not_available() -> None:
    with pytest.raises(NotAvailableError, match="nothing between 25 and 951 mm"):
        knee_response(Section([(90, 5), (0, 10), (50, 20)]), [60.0])
