"""Rule sets: every number taken from a published text, with its source and how sure it is."""

from __future__ import annotations

from frontcheck.rules.constant import PROVENANCES, Constant
from frontcheck.rules.ruleset import (
    DEFAULT_RULES,
    RuleSet,
    parse_rule_set,
    rule_set,
    rule_set_ids,
)

__all__ = [
    "DEFAULT_RULES",
    "PROVENANCES",
    "Constant",
    "RuleSet",
    "parse_rule_set",
    "rule_set",
    "rule_set_ids",
]
