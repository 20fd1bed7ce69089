"""Every finding code is tested on both sides of its threshold: how tests say so.

A test calls ``check_sides("CODE", fires, silent)`` with the code as a literal; the call is
itself the check. `sides_in` reads test sources for such calls, so that
tests/unit/test_catalogue.py can tell which codes nobody tests.
"""

from __future__ import annotations

import ast
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.findings.finding import Finding


def holds(finding: Finding) -> bool:
    """Whether value, comparison and threshold of a finding agree."""
    value, limit, comparison = finding.value, finding.limit, finding.rule.comparison
    if comparison == "is" or value is None or limit is None:
        return comparison == "is"
    if isinstance(limit, tuple):
        inside = limit[0] <= value <= limit[1]
        return inside if comparison == "within" else comparison == "outside" and not inside
    return {
        "<": value < limit,
        "<=": value <= limit,
        ">": value > limit,
        ">=": value >= limit,
    }[comparison]


def check_sides(
    code: str, fires: Iterable[Finding], silent: Iterable[Finding]
) -> tuple[Finding, ...]:
    """Assert that a code is found on one side of its threshold and not on the other.

    Returns the findings of that code on the side where it fires.
    """
    found = tuple(finding for finding in fires if finding.code == code)
    assert found, f"{code} was not found where it should be"
    assert [f.message for f in silent if f.code == code] == []
    for finding in found:
        assert holds(finding), (code, finding.value, finding.rule.comparison, finding.limit)
    return found


def sides_in(source: str) -> set[str]:
    """Codes whose both sides are checked inside test functions of a module's source."""
    codes = set()
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef) or not function.name.startswith("test_"):
            continue
        for node in ast.walk(function):
            if not isinstance(node, ast.Call) or ast.unparse(node.func) != "check_sides":
                continue
            first = node.args[0]
            if len(node.args) == 3 and isinstance(first, ast.Constant):
                codes.add(str(first.value))
    return codes
