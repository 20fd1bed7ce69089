"""What was read instead of height and setback: range and angle, two tapes, pieces of a comb.

The table is an offset table in all else. Its header states what the readings start from, and how
unsure each is; heights and setbacks get their uncertainty, and its correlation, from that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import refuse
from frontcheck.geometry.measured import from_comb, from_polar, from_two_tapes
from frontcheck.reading.columns import Layout, plain_name
from frontcheck.reading.offset_header import READING_KEYS, one_angle, one_length
from frontcheck.reading.table import Cell

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.measured import Anchor
    from frontcheck.reading.columns import Column
    from frontcheck.reading.table import RawTable

    Row = tuple[Cell, ...]
    Length = Callable[[Row, str], float]

LEAST_OVERLAP_MM: Final = 80.0
"""Shortest overlap of two pieces of a comb [mm]. Ends of 4 pieces of 250 mm read to 0.5 mm stray
by some 2 mm at 80 mm, and by some 7 mm at 40 mm (tests/validation/test_other_readings.py)."""
_FREE_PIECES: Final = 3
"""Most pieces in a row without an anchor: one in every four; ends of 8 stray four times as far."""
_READ: Final = 3.0
"""A length between two marks may read short by so many times the uncertainty of a reading."""
_MISFIT: Final = 6.0
"""A mark or an anchor farther off than this many of its own standard uncertainties is a slip."""


@dataclass(frozen=True)
class Placed:
    """Rows of a station as points of its contour."""

    rows: Sequence[Row]  # Those that are used
    points: Array  # (n, 2) setback and height [mm]
    covariance: Array | None = None  # (n, 2, 2) [mm^2]

    @property
    def uncertainty(self) -> tuple[Array | None, ...]:
        """Standard uncertainty of height and of setback [mm], and their correlation."""
        if self.covariance is None:
            return None, None, None
        setback, height = np.sqrt(np.diagonal(self.covariance, axis1=1, axis2=2)).T
        both = np.where(setback * height > 0.0, setback * height, 1.0)
        return height, setback, np.clip(self.covariance[:, 0, 1] / both, -1.0, 1.0)


@dataclass(frozen=True)
class Readings:
    """A kind of readings: its columns, what its header must state, and how it gives places."""

    layout: Layout
    keys: tuple[str, ...]
    note: str  # What is said of the places
    place: Callable[[Sequence[Row], Mapping[str, Column], Mapping[str, Cell], Length, str], Placed]


def readings_of(table: RawTable) -> Readings | None:
    """Return the kind of readings of a table, by its columns; None for heights and setbacks."""
    names = " ".join(plain_name(name) for name in table.columns)
    if table.form:
        return None
    if re.search(r"\b(along|depth)_", names):
        return _COMB
    if re.search(r"\b(height|setback)_(?!u_)", names):
        return None
    return _POLAR if re.search(r"\b(range|angle)_", names) else (
        _TAPES if re.search(r"\btape_[ab]", names) else None
    )  # fmt: skip


def check_keys(
    readings: Readings | None, metadata: Mapping[str, Cell], table: RawTable, file: str
) -> None:
    """Refuse a header without what its readings need, or with what belongs to others."""
    wanted = readings.keys if readings else ()
    for key in wanted:
        if key not in metadata:
            example = READING_KEYS.get(key, "2 mm")
            raise refuse("readings.no_key", file, table.header_row, name=key, example=example)
    for key in (*READING_KEYS, "height_u", "setback_u"):
        foreign = readings is not None or key in READING_KEYS
        if foreign and key in metadata and key not in wanted:
            raise refuse("readings.key", file, metadata[key], name=key,
                         wanted=wanted or "height_u and setback_u")  # fmt: skip


def _start(cell: Cell, file: str, *, on_ground: bool = False) -> tuple[float, float]:
    """Setback and height of a place in the header; on the ground where no height is given."""
    pieces = [piece.strip() for piece in cell.text.split(";" if ";" in cell.text else ", ")]
    if not 2 - on_ground <= len(pieces) <= 2:
        raise refuse("readings.place", file, cell, text=cell.text[:40], name=cell.column,
                     example=READING_KEYS[cell.column])  # fmt: skip
    cells = [Cell(piece, cell.row, cell.column) for piece in pieces]
    x, z = [*(one_length(each, file) for each in cells), 0.0][:2]
    return x, z


def _polar(
    rows: Sequence[Row], columns: Mapping[str, Column], metadata: Mapping[str, Cell],
    length: Length, file: str,
) -> Placed:  # fmt: skip
    ranges = np.array([length(row, "range") for row in rows])
    _check_positive(ranges, rows, columns["range"], file)
    origin = _start(metadata["origin"], file)
    u_r = one_length(metadata["range_u"], file, least=0.0)
    u_a = one_angle(metadata["angle_u_deg"], file)
    angles = np.array([length(row, "angle") for row in rows])
    return Placed(rows, *from_polar(origin, ranges, angles, u_r, u_a))


def _tapes(
    rows: Sequence[Row], columns: Mapping[str, Column], metadata: Mapping[str, Cell],
    length: Length, file: str,
) -> Placed:  # fmt: skip
    a, b = (_start(metadata[f"ground_mark_{each}"], file, on_ground=True) for each in "ab")
    if abs(a[0] - b[0]) < 1.0:
        raise refuse("readings.marks", file, metadata["ground_mark_b"])
    from_a, from_b = (np.array([length(row, f"tape_{each}") for row in rows]) for each in "ab")
    for each, values in (("tape_a", from_a), ("tape_b", from_b)):
        _check_positive(values, rows, columns[each], file)
    u = one_length(metadata["tape_u"], file, least=0.0)
    points, covariance = from_two_tapes(a, b, from_a, from_b, u)
    for i in np.flatnonzero(np.isnan(points).any(axis=1)).tolist():
        raise refuse("readings.apart", file, rows[i][columns["tape_b"].position], a=from_a[i],
                     b=from_b[i], apart=float(np.hypot(*np.subtract(a, b))))  # fmt: skip
    return Placed(rows, points, covariance)


def _check_positive(values: Array, rows: Sequence[Row], column: Column, file: str) -> None:
    for i in np.flatnonzero(values <= 0.0).tolist():
        raise refuse("readings.not_positive", file, rows[i][column.position], value=values[i])


def _comb(
    rows: Sequence[Row], columns: Mapping[str, Column], metadata: Mapping[str, Cell],
    length: Length, file: str,
) -> Placed:  # fmt: skip
    def text(row: Row, quantity: str) -> str:
        return row[columns[quantity].position].text if quantity in columns else ""

    blocks = [list(group) for _, group in groupby(rows, key=lambda row: text(row, "piece"))]
    names = [text(block[0], "piece") for block in blocks]
    for i, name in enumerate(names):
        if name in names[:i]:
            raise refuse("comb.piece_twice", file, blocks[i][0][columns["piece"].position],
                         name=name[:20])  # fmt: skip
    u, height_u, setback_u = (
        one_length(metadata[key], file, least=0.0) for key in ("comb_u", "height_u", "setback_u")
    )
    if not u:
        raise refuse("comb.exact", file, metadata["comb_u"])
    pieces = [
        np.array([complex(length(row, "along"), -length(row, "depth")) for row in block])
        for block in blocks
    ]
    marks = [_marks(block, text, columns, file) for block in blocks]
    pairs, used, start, said = [], [], 0, []
    for i, (here, there) in enumerate(pairwise(marks)):
        shared = [mark for mark in here if mark in there]
        read = np.array([pieces[i][here[m]] for m in shared])
        overlap = float(np.abs(read[:, None] - read).max(initial=0.0))
        if overlap < LEAST_OVERLAP_MM - _READ * u:  # 80 mm may read as 79
            raise refuse("comb.overlap", file, blocks[i + 1][0][columns["mark"].position],
                         overlap=overlap, count=len(shared), one=names[i][:20],
                         two=names[i + 1][:20], least=LEAST_OVERLAP_MM)  # fmt: skip
        pairs += [(i, i + 1, pieces[i][here[m]], pieces[i + 1][there[m]]) for m in shared]
        said += [blocks[i + 1][there[m]] for m in shared]
        # The contour goes over from one piece to the next in the middle of their overlap.
        middle = sorted(shared, key=lambda m: here[m])[len(shared) // 2]
        used.append((start, here[middle]))
        start = there[middle]
    used.append((start, len(blocks[-1])))
    anchors: list[Anchor] = []
    free = 0
    for i, block in enumerate(blocks):
        before = len(anchors)
        for j, row in enumerate(block):
            given = [bool(text(row, each)) for each in ("height", "setback")]
            if any(given) and not all(given):
                raise refuse("comb.half_anchor", file, row[columns["height"].position])
            if all(given):
                place = complex(length(row, "setback"), length(row, "height"))
                anchors.append((i, pieces[i][j], place, (setback_u, height_u)))
                said.append(row)
        free = 0 if len(anchors) > before else free + 1
        if free > _FREE_PIECES:
            raise refuse("comb.no_anchor", file, block[0][0].row, first=names[i - free + 1][:20],
                         last=names[i][:20], count=free, each=_FREE_PIECES + 1)  # fmt: skip
    at = np.array([each[2] for each in anchors])
    if len(anchors) < 2 or np.abs(at - at[0]).max() < LEAST_OVERLAP_MM:
        raise refuse("comb.anchors", file, rows[0][0].row, count=len(anchors),
                     least=LEAST_OVERLAP_MM)  # fmt: skip
    placed, off = from_comb(pieces, pairs, anchors, u)
    worst = int(np.argmax(off))
    if off[worst] > _MISFIT:
        raise refuse("comb.misfit", file, said[worst][columns["along"].position],
                     off=off[worst], most=_MISFIT)  # fmt: skip
    rows = [row for block, (a, b) in zip(blocks, used, strict=True) for row in block[a:b]]
    points, covariance = (
        np.concatenate([p[which][a:b] for p, (a, b) in zip(placed, used, strict=True)])
        for which in (0, 1)
    )
    return Placed(rows, points, covariance)


def _marks(
    block: Sequence[Row], text: Callable[[Row, str], str], columns: Mapping[str, Column], file: str
) -> dict[str, int]:
    """Which row of a piece each mark is at."""
    found: dict[str, int] = {}
    for j, row in enumerate(block):
        mark = text(row, "mark")
        if mark in found:
            raise refuse("comb.mark_twice", file, row[columns["mark"].position], name=mark[:20],
                         row=block[found[mark]][0].row)  # fmt: skip
        if mark:
            found[mark] = j
    return found


_GIVEN: Final = "heights and setbacks, how unsure they are and how both stray together."
_POLAR: Final = Readings(
    Layout(("station", "range"), ("part",), ("station", "range", "angle"),
           "station_<u>, range_<u>, angle_deg or part", angles=("angle",)),
    ("origin", "range_u", "angle_u_deg"), f"Worked out from ranges and angles: {_GIVEN}", _polar,
)  # fmt: skip
_TAPES: Final = Readings(
    Layout(("station", "tape_a", "tape_b"), ("part",), ("station", "tape_a", "tape_b"),
           "station_<u>, tape_a_<u>, tape_b_<u> or part"),
    ("ground_mark_a", "ground_mark_b", "tape_u"), f"Worked out from two tapes: {_GIVEN}", _tapes,
)  # fmt: skip
_COMB: Final = Readings(
    Layout(("station", "along", "depth", "height", "setback"), ("piece", "mark", "part"),
           ("station", "piece", "along", "depth", "mark", "height", "setback"),
           "station_<u>, piece, along_<u>, depth_<u>, mark, height_<u>, setback_<u> or part",
           blank=("mark", "height", "setback")),
    ("comb_u", "height_u", "setback_u"),
    f"Worked out from pieces of a comb: {_GIVEN} Rows of one piece stray together; draws take them "
    "one by one.",
    _comb,
)  # fmt: skip
