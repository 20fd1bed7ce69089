"""A front as an offset table that reads back as it is; every such table is written here."""

from __future__ import annotations

import re
from codecs import BOM_UTF8
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck import __version__
from frontcheck.caution import CAUTION
from frontcheck.errors import OutputError, refuse
from frontcheck.files import check_folder
from frontcheck.reading.offset_header import CHANGES_MARK, LONGEST, ORIGIN, survey_lines
from frontcheck.reading.table import MAX_BYTES
from frontcheck.reading.workbook import MAX_ROWS

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.surface.section import Section

_KINDS: Final = ("height_u", "setback_u")


def offset_table(front: Front, made_by: str, beside: Sequence[bytes] = ()) -> bytes:
    """Return a front as an offset table, every number with all its digits.

    Points that are proposed are marked so in a column ``origin``. What a table cannot say is left
    out: hard points and beam ends, checks on the car, and how errors of height and setback stray
    together. The first line has the digest of the rest: a table changed since is the user's.

    Parameters
    ----------
    front : Front
        The front; of a mesh, its sections.
    made_by : str
        What makes the table, such as ``what-if``.
    beside : sequence of bytes, optional
        Files that go beside it, whose digests stand in it too.

    Returns
    -------
    bytes
        The table.

    Raises
    ------
    InputError
        If the table would be larger, or have more rows, than one that can be read.

    Examples
    --------
    >>> import frontcheck as fc
    >>> table = fc.offset_table(fc.read_front("geometries/plover.csv"), "a sketch")
    >>> table.decode().splitlines()[:3:2]
    ['# made_by: a sketch, frontcheck ...', '# name: Plover']
    """
    own = {kind: _stated(front, kind) for kind in _KINDS}
    columns = [kind for kind, rows in own.items() if rows is not None and len(set(rows)) > 1]
    proposed = bool(front.not_measured)
    metadata = {
        "caution": CAUTION,
        "proposed": front.drawn,
        "name": front.name,
        "method": front.method,
        "datum": front.datum,
        "symmetric": "yes" if front.symmetric else "no",
        "silhouette": "yes" if front.silhouette else "",
        **{
            kind: f"{_digits(rows[0])} mm"
            for kind, rows in own.items()
            if rows is not None and kind not in columns
        },
        "ground_slope_deg": _digits(front.ground_slope_deg) if front.ground_slope_deg else "",
        **survey_lines(front.survey, _digits),
        "changes": CHANGES_MARK.join(front.changes),
        "notes": front.notes,
    }
    header = ["station_mm", "height_mm", "setback_mm", "part", *[ORIGIN] * proposed]
    lines = [f"# {key}: {text}" for key, given in metadata.items() if (text := _fit(key, given))]
    lines.append(",".join([*header, *(f"{kind}_mm" for kind in columns)]))
    for section in front.sections:
        lines += _rows(section, columns, proposed=proposed)
    if len(lines) >= MAX_ROWS:  # with the line on top of them
        raise refuse("table.many_rows", count=len(lines) + 1, most=MAX_ROWS)
    rest = "".join(f"{line}\n" for line in lines).encode()
    digests = " ".join(sha256(each).hexdigest() for each in (rest, *beside))
    by = _fit("made_by", f"{made_by}, frontcheck {__version__}, sha256 {digests}")
    first = f"# made_by: {by}\n".encode()
    data = (b"" if (first + rest).isascii() else BOM_UTF8) + first + rest
    if len(data) > MAX_BYTES:
        raise refuse("table.too_large", size=len(data) / 1e6, most=MAX_BYTES / 1e6)
    return data


def table_place(
    path: str | os.PathLike[str], made_by: str, beside: Sequence[str] = (),
    inputs: Sequence[str | os.PathLike[str]] = (),
) -> tuple[Path, ...]:  # fmt: skip
    """Where table and files beside it go; only what the same maker left there is written over."""
    target = Path(path)
    if target.suffix.lower() != ".csv":
        raise OutputError(f"{target}: found no .csv; expected an offset table; name it so")
    check_folder(target)
    places = (target, *(target.with_suffix(suffix) for suffix in beside))
    read = {Path(each).resolve() for each in inputs}
    if any(place.resolve() in read for place in places):
        raise OutputError(f"{target}: this is what was read; expected a new file; name another")
    there = [place for place in places if place.exists()]
    if there and not _as_made(target, made_by, there[1:]):
        what = "a file of this name" + (" or of what goes beside it" if beside else "")
        raise OutputError(
            f"{target}: there is {what} that {made_by} did not make, or that was changed since; "
            f"expected none, or what an earlier {made_by} left; name another table"
        )
    return places


def _as_made(path: Path, made_by: str, beside: Sequence[Path]) -> bool:
    """Whether a table, and what stands beside it, is as its maker left it."""
    data = path.read_bytes() if path.is_file() and path.stat().st_size <= MAX_BYTES else b""
    first, _, rest = data.removeprefix(BOM_UTF8).partition(b"\n")
    known = re.fullmatch(rb"# made_by: (.+), frontcheck \S+, sha256 ([0-9a-f ]+)", first)
    if known is None or known[1] != made_by.encode():
        return False
    own, *others = known[2].decode().split()
    digests = [sha256(each.read_bytes()).hexdigest() for each in beside]
    return own == sha256(rest).hexdigest() and not {*digests}.difference(others)


def _stated(front: Front, kind: str) -> list[float] | None:
    """Uncertainty of every row; None where a station states none."""
    each: list[Array | None] = [getattr(section, kind) for section in front.sections]
    known = [rows for rows in each if rows is not None]
    return np.concatenate(known).tolist() if len(known) == len(each) else None


def _rows(section: Section, columns: Sequence[str], *, proposed: bool) -> list[str]:
    parts = section.parts or ("",) * len(section)
    marks = np.zeros(len(section), bool) if section.proposed is None else section.proposed
    beside = [getattr(section, kind).tolist() for kind in columns]
    y = _digits(section.y)
    return [
        ",".join(
            [
                y, _digits(z), _digits(x), part or "-",
                *["proposed" if mark else "measured"] * proposed, *map(_digits, given),
            ]
        )
        for (x, z), part, mark, *given in zip(
            section.points.tolist(), parts, marks.tolist(), *beside, strict=True
        )
    ]  # fmt: skip


def _digits(value: float) -> str:
    """A number with all its digits, and never three behind the point: that may be thousands."""
    text = np.format_float_positional(value + 0.0, trim="-")
    return f"{text}0" if len(text.partition(".")[2]) == 3 else text


def _fit(key: str, text: str) -> str:
    """A value on one line, as long as its reader takes it."""
    return " ".join(text.split())[: LONGEST[key]].rstrip(",; ")
