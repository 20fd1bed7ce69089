"""What changes from one front to another: lines, face, leg zone, zones, findings, contours.

The package is not called ``compare``, so that it does not hide the function of that name.
"""

from frontcheck.comparison.change import Change
from frontcheck.comparison.contour_distance import (
    ContourDistance,
    DistanceMap,
    Extreme,
    contour_distance,
    signed_distance,
)
from frontcheck.comparison.finding_changes import FindingChange
from frontcheck.comparison.leg_zone import LegZone, PersonTouch
from frontcheck.comparison.loft_overlay import LoftOverlay
from frontcheck.comparison.result import SCHEMA, Comparison, StationComparison
from frontcheck.comparison.run import compare

__all__ = [
    "SCHEMA",
    "Change",
    "Comparison",
    "ContourDistance",
    "DistanceMap",
    "Extreme",
    "FindingChange",
    "LegZone",
    "LoftOverlay",
    "PersonTouch",
    "StationComparison",
    "compare",
    "contour_distance",
    "signed_distance",
]
