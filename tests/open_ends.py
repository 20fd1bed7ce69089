"""A front with ends planted open: one line at one station, and what rests on it."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

from frontcheck.lines.statuses import OPEN_END

if TYPE_CHECKING:
    from frontcheck.screening import Screening

REASON = "contact is at the last measured point: the surface beyond it is not known"


def closed(screening: Screening) -> Screening:
    """The same screening as if the sides beyond the outermost contours were known."""
    planted = replace(screening)
    vars(planted)["zones"] = _without(screening.zones)
    return planted


def _without(value: Any) -> Any:
    """The same results with every open end called ok."""
    if isinstance(value, tuple):
        return tuple(_without(each) for each in value)
    if not is_dataclass(value) or isinstance(value, type):
        return "ok" if isinstance(value, str) and value == OPEN_END else value
    changes = {f.name: _without(getattr(value, f.name)) for f in fields(value) if f.init}
    if getattr(value, "status", "") == OPEN_END and "reason" in changes:
        changes["reason"] = ""
    return replace(value, **changes)


def opened(screening: Screening, *names: str, y: float = 0.0) -> Screening:
    """The same screening with some lines of one station, and the zones on them, open ended."""
    stations = []
    for station in screening.stations:
        here = {
            name: replace(getattr(station, name), status=OPEN_END, reason=REASON)
            for name in names
            if station.y == y and hasattr(station, name)
        }
        wads = tuple(
            replace(mark, status=OPEN_END, reason=REASON)
            if station.y == y and mark.name in names
            else mark
            for mark in station.wads
        )
        form = None if "LBRL" in here else station.legform
        stations.append(replace(station, **here, wads=wads, legform=form))
    planted = replace(screening, stations=tuple(stations))
    zones = screening.zones
    lines = tuple(
        replace(
            line,
            status=OPEN_END,
            reason=REASON,
            point_status=tuple(
                OPEN_END if abs(at[1] - y) < 1e-9 else status
                for at, status in zip(line.points, line.point_status, strict=True)
            ),
        )
        if line.name in names
        else line
        for line in zones.lines
    )
    changed = {"lines": lines}
    if "BLERL" in names:
        changed["child_area"] = replace(zones.child_area, status=OPEN_END, reason=REASON)
    if "BRRL" in names:
        changed["adult_area"] = replace(zones.adult_area, status="wad_only", reason="no BRRL")
    if "LBRL" in names:
        changed["bumper_test_area"] = replace(
            zones.bumper_test_area, status=OPEN_END, reason=REASON
        )
    # What a screening works out once is planted where it keeps it.
    vars(planted)["zones"] = replace(zones, **changed)
    return planted
