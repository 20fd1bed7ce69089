"""Rules behind the findings, read from the TOML files of this room, one a theme."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal

from msgspec import convert

from frontcheck.caution import LEG_CAUTION, Provenance
from frontcheck.documents import Comparison, Evidence, Theme  # noqa: TC001 (read by msgspec)
from frontcheck.files import own_toml
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM, knee_rate_per_impulse
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping

Topic = Literal["leg", "body", "head", "gap", "measurement"]
Threshold = float | tuple[float, float]

COMMON_PRACTICE: Final = "common practice, no source"
"""Stands for a source where there is none to name."""

OWN_CHOICE: Final = "own choice, no source"
"""Stands for a source where the number is ours; the reason follows it."""


@one_line
@dataclass(frozen=True)
class FindingRule:
    """What all findings of one code have in common; `frontcheck explain CODE` prints it."""

    code: str  # Stable code, such as ``LEG-UNDERCUT``; never used again for something else
    topic: Topic  # What it concerns
    theme: Theme  # Of what the answer speaks when it speaks of this
    evidence: Evidence  # How strong it is
    title: str  # A few words
    meaning: str  # What the finding says, in plain sentences
    limits: str  # What it does not say, and where the geometry alone is not enough
    threshold: Threshold | None  # What the value is compared with, in `unit`
    unit: str  # Unit of value and threshold; empty for a plain statement
    comparison: Comparison  # How: ``<``, ``<=``, ``>``, ``>=``, ``within``, ``outside``, ``is``
    source: str  # Published source with place where known, `COMMON_PRACTICE` or `OWN_CHOICE`
    provenance: Provenance


WORDS: Final[dict[str, Mapping[str, Any]]] = {}
"""What the files hold beside the rules, by code: words of messages, published figures."""


def _read(theme: str, **phrases: str) -> dict[str, FindingRule]:
    """Read the rules of one theme."""
    tree = own_toml(__package__, f"{theme}.toml")
    topic = tree.pop("topic")
    said = {"common_practice": COMMON_PRACTICE, "own_choice": OWN_CHOICE, **phrases}
    for name, phrase in tree.pop("texts", {}).items():
        said[name] = _running(phrase, said)
    known = {field.name for field in fields(FindingRule)}
    rules: dict[str, FindingRule] = {}
    for code, entry in tree.items():
        WORDS[code] = {k: entry.pop(k) for k in entry.keys() - known}
        own = {k: _running(v, said) if isinstance(v, str) else v for k, v in entry.items()}
        whole = {"code": code, "topic": topic, "threshold": None, "unit": "", **own}
        rules[code] = convert(whole, FindingRule)
    return rules


def _running(text: str, phrases: Mapping[str, str]) -> str:
    """Text as one line, with its shared phrases put in; the files wrap it freely."""
    return " ".join(text.format_map(phrases).split())


def _leg_rules() -> dict[str, FindingRule]:
    """Rules of the leg; two of their thresholds are shares of what a blow at the knee does."""
    # Shown is that of the flexible legform; each finding has that of its rule set.
    legforms = f"{FLEXIBLE_LEGFORM.source}, or {RIGID_LEGFORM.source}, by the rule set"
    rules = _read("leg", leg_caution=LEG_CAUTION, legforms=legforms)
    at_knee = float(knee_rate_per_impulse(0.0, FLEXIBLE_LEGFORM))
    for code in rules:
        share = WORDS[code].get("threshold_of_blow_at_knee")
        if share is not None:
            rules[code] = replace(rules[code], threshold=share * at_knee)
    return rules


LEG_RULES: Final = _leg_rules()
BODY_RULES: Final = _read("body")
STRUCK_RULES: Final = _read("struck")
HEAD_RULES: Final = _read("head")
GAP_RULES: Final = _read("gaps")
MEASUREMENT_RULES: Final = _read("measurement")
RULES: Final[Mapping[str, FindingRule]] = MappingProxyType(
    LEG_RULES | BODY_RULES | STRUCK_RULES | HEAD_RULES | GAP_RULES | MEASUREMENT_RULES
)
"""Rule of every code, in the order leg, body, struck, head, gap, measurement."""
