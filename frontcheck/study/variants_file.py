"""Reading a list of variants: one column a parameter, one row a variant."""

from __future__ import annotations

import csv
import math
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.errors import InputError
from frontcheck.study.toml_keys import StudyError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from frontcheck.study.moves import Handle
    from frontcheck.study.nose_dimensions import Dimension

__all__ = ["read_variants"]


def read_variants(
    path: Path, known: Mapping[str, Dimension | Handle]
) -> tuple[list[str], NDArray[np.float64]]:
    """Read a list of variants from comma-separated values."""
    file = str(path)
    try:
        lines = path.read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise StudyError(f"a file that cannot be read ({reason})", expected="a list of variants",
                         todo="check the name", file=file) from error  # fmt: skip
    numbered = [(i, t) for i, t in enumerate(lines, 1) if t.strip() and not t.startswith("#")]
    if len(numbered) < 2:
        raise StudyError("no variants", expected="a header and at least one row",
                         todo="add rows", file=file)  # fmt: skip
    names = [cell.strip() for cell in next(csv.reader([numbered[0][1]]))]
    for name in names:
        if name not in known:
            raise StudyError(f"parameter {name!r}", expected=f"one of {', '.join(known)}",
                             todo="correct the header", file=file, row=numbered[0][0])  # fmt: skip
    if len(set(names)) < len(names):
        raise StudyError("a parameter twice in the header", expected="each once",
                         todo="delete one of them", file=file, row=numbered[0][0])  # fmt: skip
    values = np.empty((len(numbered) - 1, len(names)))
    for i, (row, text) in enumerate(numbered[1:]):
        cells = next(csv.reader([text]))
        if len(cells) != len(names):
            raise StudyError(f"{len(cells)} cells", expected=f"{len(names)}, as in the header",
                             todo="complete the row", file=file, row=row)  # fmt: skip
        for k, (name, cell) in enumerate(zip(names, cells, strict=True)):
            try:
                value = float(cell)
            except ValueError:
                value = math.nan
            if not math.isfinite(value):
                raise StudyError(repr(cell), expected="a number", todo="correct the cell",
                                 file=file, row=row, column=name)  # fmt: skip
            try:
                known[name].check(value)
            except InputError as error:
                raise StudyError(error.found, expected=error.expected, todo=error.todo,
                                 file=file, row=row, column=name) from error  # fmt: skip
            values[i, k] = value
    return names, values
