"""Where the windscreen of a front begins, and how that is known."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.front.beside import given_once
from frontcheck.surface.windscreen import (
    Rise,
    Windscreen,
    feet_by_shape,
    feet_from,
    place_of,
    with_foot,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.front.front import Front

_NEAR_MM: Final = 100.0


def with_windscreen(front: Front, rise: Rise, given: tuple[float, float] | None = None) -> Front:
    """Return the front with its windscreen told: as given, by labels, or by shape."""
    if given is None and front.windscreen.basis != "none":
        return front
    given = given_once(given, front.beside.windscreen_from, "windscreen_from", front.source.file)
    if given is None and any(section.has_part("windscreen") for section in front.sections):
        return replace(front, windscreen=Windscreen("labels"))
    feet: Sequence[float | None]
    if given is None:
        feet = feet_by_shape(front.sections, rise)
    else:
        feet = feet_from(front.sections, given, rise)
    centre = int(np.argmin([abs(section.y) for section in front.sections]))
    foot = feet[centre]
    if foot is None:
        return front
    x, z = place_of(front.sections[centre], foot)
    if given is not None and np.hypot(x - given[0], z - given[1]) > _NEAR_MM:
        raise refuse("front.windscreen_from", front.source.file or None, x=given[0], z=given[1],
                     near_x=x, near_z=z)  # fmt: skip
    told = [(s, k) for s, k in zip(front.sections, feet, strict=True) if k is not None]
    line = np.array([(*place_of(s, k), s.y) for s, k in told])[:, [0, 2, 1]]
    said = (
        f"windscreen by shape: it begins at setback {x:.0f}, height {z:.0f} mm at y = "
        f"{front.sections[centre].y:g} mm; overrule it by labels, "
        "--windscreen-from X,Z or a front file"
    )
    return replace(
        front,
        sections=tuple(with_foot(s, k) for s, k in zip(front.sections, feet, strict=True)),
        mesh=front.mesh and replace(front.mesh, foot=line),
        windscreen=Windscreen("shape" if given is None else "given", (x, z)),
        assumed=front.assumed if given is not None else (*front.assumed, said),
    )
