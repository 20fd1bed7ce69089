"""How a front meets an upright leg: contact order, uniform-foundation load, planar dynamics.

Stiffness is not known, so everything here compares shapes: two shapes may be ranked under the
same assumptions, and no value is to be held against a limit.
"""

from __future__ import annotations

from typing import Final

__all__ = ["LEG_CAUTION"]

LEG_CAUTION: Final = (
    "Stiffness not known: shapes may be ranked under the same assumptions; "
    "no value is to be held against a limit."
)
"""Said before any value of the leg models."""
