"""frontcheck: pedestrian-protection reference lines and zones of a vehicle front, from its offsets.

A screening of geometry. Not a test, not an approval, not a prediction of injury.
"""

from __future__ import annotations

from frontcheck.caution import CAUTION
from frontcheck.front import Front, Source
from frontcheck.profile import Section
from frontcheck.readers import read_front
from frontcheck.rules import RuleSet, rule_set, rule_set_ids
from frontcheck.screening import Screening, screen

__all__ = [
    "CAUTION",
    "Front",
    "RuleSet",
    "Screening",
    "Section",
    "Source",
    "__version__",
    "read_front",
    "rule_set",
    "rule_set_ids",
    "screen",
]

__version__ = "0.1.0"
