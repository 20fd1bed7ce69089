"""frontcheck: pedestrian-protection reference lines and zones of a vehicle front, from its offsets.

A screening of geometry. Not a test, not an approval, not a prediction of injury.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from frontcheck.caution import CAUTION
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.comparison.two_fronts import compare
    from frontcheck.findings.catalogue import explain
    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.front.front import Front, Source
    from frontcheck.reading.readers import read_front
    from frontcheck.rules.ruleset import RuleSet, rule_set, rule_set_ids
    from frontcheck.screening import Screening, screen
    from frontcheck.sure.tolerance_result import Tolerance
    from frontcheck.surface.section import Section
    from frontcheck.zones.front_zones import ZoneOptions

__all__ = [
    "CAUTION",
    "Comparison",
    "FindingSettings",
    "Front",
    "RuleSet",
    "Screening",
    "Section",
    "Source",
    "Tolerance",
    "ZoneOptions",
    "__version__",
    "compare",
    "explain",
    "read_front",
    "rule_set",
    "rule_set_ids",
    "screen",
]

__version__ = "0.1.0"

_HOMES = {
    "CAUTION": "caution",
    "Comparison": "comparison.comparison_result",
    "compare": "comparison.two_fronts",
    "FindingSettings": "findings.finding_settings",
    "explain": "findings.catalogue",
    "Tolerance": "sure.tolerance_result",
    "ZoneOptions": "zones.front_zones",
    "Front": "front.front",
    "Source": "front.front",
    "Section": "surface.section",
    "read_front": "reading.readers",
    "RuleSet": "rules.ruleset",
    "rule_set": "rules.ruleset",
    "rule_set_ids": "rules.ruleset",
    "Screening": "screening",
    "screen": "screening",
}


def __getattr__(name: str) -> Any:
    """Import a public name on first use, so that the command line starts fast."""
    if name in _HOMES:
        value = getattr(import_module(f"frontcheck.{_HOMES[name]}"), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'frontcheck' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
