"""The caution that every output carries, and the words for how well something is known."""

from __future__ import annotations

from typing import Final, Literal, get_args

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

DRAWING: Final = "A drawing, not advice to alter a vehicle."
"""Said with every front that has points that were never measured."""

LEG_CAUTION: Final = (
    "Stiffness not known: shapes may be ranked under the same assumptions; "
    "no value is to be held against a limit."
)
"""Said before any value of the leg models."""

MOTION_CAUTIONS: Final = (
    (
        "A share is a share of assumed cases, never a chance in a crash. None of pushed ahead, "
        "folded and carried up is the better one: a person pushed ahead may be run over; one "
        "carried up may strike the windscreen."
    ),
    (
        "The motion model is geometry and stated assumptions in one plane, until the head touches. "
        "It does not say how hard anything is struck, how fast the head is, what happens "
        "afterwards, or which front is better; nor anything of people who run, ride, sit, lie or "
        "are struck obliquely, of anybody smaller than a six-year-old, of the sides of the front, "
        "pillars and wing edges."
    ),
)
"""Said with every result of the motion model."""

Provenance = Literal[
    "text read", "from memory", "from memory, unconfirmed", "own choice", "common practice"
]
"""How a value is known: the text of that very edition was read for it; entered from memory of the
text with high confidence; entered from memory, to be confirmed before anyone relies on it; chosen
by us with a reason, for no text gives it; a habit of the trade without a source."""

PROVENANCES: Final[tuple[Provenance, ...]] = get_args(Provenance)
