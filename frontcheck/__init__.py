"""frontcheck: pedestrian-protection reference lines and zones of a vehicle front, from its offsets.

A screening of geometry. Not a test, not an approval, not a prediction of injury.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from frontcheck.caution import CAUTION
    from frontcheck.comparison import Comparison, compare
    from frontcheck.findings.catalogue import explain
    from frontcheck.findings.settings import FindingSettings
    from frontcheck.front import Front, Source
    from frontcheck.profile import Section
    from frontcheck.readers import read_front
    from frontcheck.rules import RuleSet, rule_set, rule_set_ids
    from frontcheck.screening import Screening, screen
    from frontcheck.tolerance import Tolerance
    from frontcheck.zones import ZoneOptions

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
    "Comparison": "comparison",
    "compare": "comparison",
    "FindingSettings": "findings.settings",
    "explain": "findings.catalogue",
    "Tolerance": "tolerance",
    "ZoneOptions": "zones",
    "Front": "front",
    "Source": "front",
    "Section": "profile",
    "read_front": "readers",
    "RuleSet": "rules",
    "rule_set": "rules",
    "rule_set_ids": "rules",
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
