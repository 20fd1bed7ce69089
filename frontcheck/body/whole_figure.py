"""The outline of a person for pictures: circles of both sides, and which of them are spanned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.body.anatomy import (
    ABDOMEN,
    FAR_SHANK,
    FAR_THIGH,
    HEAD,
    NEAR_SHANK,
    NEAR_THIGH,
    NECK,
    PELVIS,
    THORAX,
)

if TYPE_CHECKING:
    from frontcheck.body.anatomy import Figure
    from frontcheck.geometry.arrays import Array, Index

_JOINED: Final = {
    ABDOMEN: PELVIS,
    THORAX: ABDOMEN,
    NECK: THORAX,
    HEAD: NECK,
    NEAR_SHANK: NEAR_THIGH,
    FAR_SHANK: FAR_THIGH,
}
"""Bodies whose outline begins at the nearest circles of another one."""


def whole(figure: Figure, place: Array) -> tuple[Index, Array, Array]:
    """Bodies, places and radii of the circles that a front meets, and those of the far side."""
    body, radius = figure.skin.body, figure.skin.radius
    place = place.copy()
    shank = np.isin(body, [NEAR_SHANK, FAR_SHANK])
    # The skin may lie a little below the sole, where nothing but the road is met.
    place[shank, 1] = np.maximum(place[shank, 1], radius[shank] - figure.sole)
    trunk = np.flatnonzero(np.isin(body, [PELVIS, ABDOMEN, THORAX]))
    return (
        np.append(body, body[trunk]),
        np.concatenate([place, place[trunk] * (-1.0, 1.0)]),
        np.append(radius, radius[trunk]),
    )


def spanned(body: Index, place: Array) -> tuple[tuple[int, ...], ...]:
    """Which circles one taut band lies round, for every body."""
    groups = []
    for one in np.unique(body).tolist():
        group = np.flatnonzero(body == one)
        before = _JOINED.get(one)
        if before is not None:
            of_it = np.flatnonzero(body == before)
            up = place[of_it, 1] if one <= HEAD else -place[of_it, 1]
            group = np.append(group, of_it[up > up.max() - 1e-9])
        groups.append(tuple(group.tolist()))
    return tuple(groups)
