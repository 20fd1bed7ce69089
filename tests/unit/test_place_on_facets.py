"""The foremost place of a mesh between two heights, against its cut clipped by shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from frontcheck.zones.bumper_corners import Heights
from frontcheck.zones.thirds import _on_surface


@pytest.mark.parametrize("seed", range(12))
def test_the_foremost_place_between_heights_is_that_of_the_clipped_cut(seed: int) -> None:
    """Facets of a bent strip along y: its cut at any y is one polyline, known without slicing."""
    rng = np.random.default_rng(seed)
    z = np.linspace(300.0, 700.0, 9)
    x = np.cumsum(rng.normal(0.0, 30.0, len(z)))
    ends = np.array([-200.0, 200.0])
    grid = np.stack(
        [np.tile(x[:, None], 2), np.tile(ends, (len(z), 1)), np.tile(z[:, None], 2)], axis=-1
    )
    a, b, c, d = grid[:-1, 0], grid[1:, 0], grid[1:, 1], grid[:-1, 1]
    facets = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    low, high = np.sort(rng.uniform(320.0, 680.0, 2))
    heights = Heights(ends, np.full(2, low), np.full(2, high))
    y = float(rng.uniform(-150.0, 150.0))
    line = shapely.LineString(np.stack([x, z], axis=1))
    inside = shapely.get_coordinates(line.intersection(shapely.box(-1e4, low, 1e4, high)))
    first = inside[inside[:, 0] <= inside[:, 0].min() + 1e-9]
    for mirror in (1.0, -1.0):
        assert _on_surface(facets, heights, y, mirror) == pytest.approx(
            (first[:, 0].min(), first[:, 1].min()), abs=1e-6
        )


def test_no_place_where_the_mesh_ends_below_the_heights() -> None:
    facets = np.array([[[0.0, -9.0, 100.0], [0.0, 9.0, 100.0], [5.0, 0.0, 200.0]]])
    heights = Heights(np.array([-9.0, 9.0]), np.full(2, 300.0), np.full(2, 400.0))
    assert _on_surface(facets, heights, 0.0, 1.0) is None
