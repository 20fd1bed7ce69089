"""Screening documents of the demo fronts, against what an earlier version wrote.

This says that nothing changed unnoticed, not that it is right: that is tests/validation.
Renew on purpose with ``pytest tests/regression --force-regen`` and read the difference.
"""

from __future__ import annotations

from typing import Any

import pytest

import frontcheck

DECIMALS = 6
"""A micrometre divided by a thousand: below any reading, above rounding of other machines."""


def rounded(value: Any) -> Any:
    """The same document with numbers rounded, and no negative zero."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, float):
        return round(value, DECIMALS) + 0.0
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(item) for item in value]
    return value


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
@pytest.mark.parametrize("front", ["plover", "avocet"])
def test_stations_of_a_demo_front(front, rules, geometries, data_regression):
    document = frontcheck.screen(
        frontcheck.read_front(geometries / f"{front}.csv"), rules
    ).to_dict()
    kept = {key: document[key] for key in ("schema", "rule_set", "settings", "stations")}
    data_regression.check(rounded(kept))
