"""How sure the lines are: draws of what the same measurement might have read."""

from frontcheck.tolerance.contacts import quantity_names
from frontcheck.tolerance.result import StationTolerance, Tolerance
from frontcheck.tolerance.run import tolerance
from frontcheck.tolerance.uncertainty import HAND_TOOLS, Uncertainty

__all__ = [
    "HAND_TOOLS",
    "StationTolerance",
    "Tolerance",
    "Uncertainty",
    "quantity_names",
    "tolerance",
]
