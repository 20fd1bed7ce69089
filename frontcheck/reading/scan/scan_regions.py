"""Regions of a scan that carry the name of a part: a small table."""

from __future__ import annotations

import csv
import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.errors import refuse
from frontcheck.reading.table import read_bytes
from frontcheck.surface.section import PARTS, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array

_COLUMNS = ("part", "x_min", "x_max", "z_min", "z_max")


@dataclass(frozen=True)
class Region:
    """A box in the side section [mm] whose rows are of one part."""

    part: str
    x_min: float
    x_max: float
    z_min: float
    z_max: float

    def holds(self, point: Array) -> bool:
        """Whether a point lies in the box."""
        x, z = point
        return bool(self.x_min <= x <= self.x_max and self.z_min <= z <= self.z_max)


def read_regions(path: str | os.PathLike[str]) -> tuple[Region, ...]:
    """Read the table of regions."""
    file = os.fspath(path)
    content, _ = read_bytes(path)
    text = content.decode("utf-8-sig", "replace")
    rows = [
        (number, [cell.strip() for cell in row])
        for number, row in enumerate(csv.reader(text.splitlines()), start=1)
        if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("#")
    ]
    if not rows or tuple(rows[0][1]) != _COLUMNS:
        found = ", ".join(rows[0][1])[:80] if rows else "no row"
        raise refuse("regions.header", file, rows[0][0] if rows else None, header=found)
    regions = []
    for number, row in rows[1:]:
        try:
            part, (a, b, c, d) = row[0], map(float, row[1:])
        except ValueError:
            raise refuse("regions.row", file, number, row=", ".join(row)[:80]) from None
        if part not in PARTS:
            raise refuse("regions.part", file, number, column="part", part=part[:40], parts=PARTS)
        if not (a < b and c < d and np.isfinite([a, b, c, d]).all()):
            raise refuse("regions.row", file, number, row=", ".join(row)[:80])
        regions.append(Region(part, a, b, c, d))
    return tuple(regions)


def labels(section: Section, regions: Sequence[Region]) -> Section:
    """Return a section whose points carry the part of the first region that holds them."""
    if not regions:
        return section
    parts = [next((r.part for r in regions if r.holds(p)), "") for p in section.points]
    return section.relabelled(parts) if any(parts) else section
