"""The caution that every output carries, in one place."""

from __future__ import annotations

from typing import Final

CAUTION: Final = (
    "This is a screening of geometry. It is not a test, not an approval and not a prediction "
    "of injury. Only testing by an accredited laboratory under the rules that apply where the "
    "vehicle is used can settle how it treats a pedestrian."
)
"""The full caution, for documents and tables."""

CAUTION_SHORT: Final = (
    "Screening of geometry only: not a test, approval or prediction of injury; "
    "defer to accredited testing and local rules."
)
"""The same in one line, for figures."""

LEG_CAUTION: Final = (
    "Stiffness not known: shapes may be ranked under the same assumptions; "
    "no value is to be held against a limit."
)
"""Said before any value of the leg models."""
