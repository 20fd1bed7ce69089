"""What one front, or two under the same assumptions, do to an upright leg, at chosen stations."""

from __future__ import annotations

from frontcheck.leg_study.study import (
    DEPTHS,
    KneeBand,
    LegAt,
    LegStation,
    LegStudy,
    leg_study,
)

__all__ = ["DEPTHS", "KneeBand", "LegAt", "LegStation", "LegStudy", "leg_study"]
