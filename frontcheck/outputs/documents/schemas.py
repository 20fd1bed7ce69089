"""The JSON Schema files in the package: what every document may hold."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Final

from frontcheck.body.motion_document import MotionDocument
from frontcheck.comparison.comparison_document import ComparisonDocument
from frontcheck.files import write_file
from frontcheck.legs.leg_document import LegDocument
from frontcheck.screening import ScreeningDocument
from frontcheck.serializer import schema
from frontcheck.study.study_document import SolutionDocument, SweepSummary, WhatIfDocument
from frontcheck.sure.tolerance_document import ToleranceDocument

if TYPE_CHECKING:
    from frontcheck.serializer import Entry

SCHEMAS: Final[dict[str, type[Entry]]] = {
    "comparison": ComparisonDocument,
    "leg": LegDocument,
    "motion": MotionDocument,
    "screening": ScreeningDocument,
    "solution": SolutionDocument,
    "sweep-summary": SweepSummary,
    "tolerance": ToleranceDocument,
    "what-if": WhatIfDocument,
}
"""Documents with a schema, by name."""


def schema_path(name: str) -> Path:
    """Return where the schema of a document stands."""
    version = str(SCHEMAS[name].__struct_config__.tag).rpartition("/")[2]
    return Path(__file__).parent / "schema" / f"{name}-{version}.json"


def schema_bytes(name: str) -> bytes:
    """Return the schema of a document as its models give it."""
    return f"{json.dumps(schema(SCHEMAS[name]), indent=1)}\n".encode()


if __name__ == "__main__":
    for each in SCHEMAS:
        write_file(schema_path(each), schema_bytes(each))
