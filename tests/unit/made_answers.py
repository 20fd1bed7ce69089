"""Fronts and findings that are made up, so that every rank, margin and word is known beforehand."""

from __future__ import annotations

from types import SimpleNamespace

from frontcheck.findings.answer import _candidates
from frontcheck.findings.finding import Finding, Region
from frontcheck.findings.finding_rules import RULES
from frontcheck.rules.ruleset import rule_set

R127 = rule_set("UN-R127-02")


def front(*ys, symmetric=False, silhouette=False, datum="common", u=None):
    """Stations that are only known by their place."""
    sections = [SimpleNamespace(y=y, height_u=u, setback_u=None) for y in ys]
    of = SimpleNamespace(
        symmetric=symmetric, silhouette=silhouette, datum=datum, sections=sections, stations=ys
    )
    of.full = lambda: of
    return SimpleNamespace(
        front=of, stations=[SimpleNamespace(y=y) for y in ys], rules=R127, complete=True
    )


def found(code, value=None, *, y=0.0, ys=None, limit=None, person="", spread=None, **other):
    at = [y] if ys is None else ys
    z = other.pop("z", 500.0)
    outline = tuple((10.0 + i, each, z + 40.0 * i) for i, each in enumerate(at))
    region = Region(other.pop("region", "here"), outline_mm=outline)
    return Finding(
        RULES[code], region, y, value, f"{code} is said.", "settled", person, limit, spread, **other
    )


def candidates(of, *findings):
    return _candidates(of, findings)


HALF = front(0.0, 300.0, 580.0, symmetric=True)
WHOLE = front(-580.0, -300.0, 0.0, 300.0, 580.0)


LOWER = found("LEG-LOWER-LEGFORM", 400.0, limit=425.0)
KNEE = found("LEG-KNEE-FIRST", 0.0, person="man p50")
THIGH = found("LEG-THIGH-FIRST", 60.0, person="man p50")
NO_AREA = found("GAP-NO-HEAD-AREA", y=None, ys=[], region="adult headform area")
NOTHING_LOW = found("LEG-NOTHING-LOW", 300.0, limit=261.0, person="man p50")
ABOVE_WAIST = found("BODY-EDGE-ABOVE-WAIST", 1100.0, limit=1000.0, person="man p50")
LIP = found("LEG-LIP-AHEAD", 12.0)
