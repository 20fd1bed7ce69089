"""Zones of a front: bumper corners and test area, thirds, headform areas, candidate points."""

from __future__ import annotations

from frontcheck.zones.bonnet_results import GridPoint, HeadformArea, Outline
from frontcheck.zones.build import Screened, zones_of
from frontcheck.zones.bumper_results import BumperArea, BumperCorners, LegformRun, Thirds
from frontcheck.zones.results import FrontZones, ZoneOptions

__all__ = [
    "BumperArea",
    "BumperCorners",
    "FrontZones",
    "GridPoint",
    "HeadformArea",
    "LegformRun",
    "Outline",
    "Screened",
    "Thirds",
    "ZoneOptions",
    "zones_of",
]
