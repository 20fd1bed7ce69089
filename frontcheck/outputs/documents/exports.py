"""Tables and documents of a screening as bytes: JSON and CSV."""

from __future__ import annotations

import contextlib
import csv
import ctypes
import io
import json
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.errors import OutputError
from frontcheck.files import ASIDE, cannot_write
from frontcheck.screening import ScreeningDocument
from frontcheck.serializer import plain, read_document
from frontcheck.sure.tolerance_document import CorrectionsEntry, within_screening

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from frontcheck.screening import Screening
    from frontcheck.sure.corrections import CorrectionReport
    from frontcheck.sure.tolerance_result import Tolerance

_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def json_bytes(document: dict[str, Any]) -> bytes:
    """Return a document as JSON, numbers at full precision, keys in the order given."""
    import msgspec

    # Indented afterwards: without indents the encoder is ten times faster.
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    return f"{msgspec.json.format(text, indent=1)}\n".encode()


def screening_document(
    screening: Screening,
    *,
    lines_only: bool = False,
    tolerance: Tolerance | None = None,
    corrections: CorrectionReport | None = None,
) -> dict[str, Any]:
    """Return the screening document, with what was found beside the screening."""
    beside = {}
    if tolerance is not None:
        beside["tolerance"] = within_screening(tolerance)
    if corrections is not None:
        beside["corrections"] = plain(CorrectionsEntry, corrections, applied=True)
    return screening.to_dict(lines_only=lines_only) | beside


def read_screening(path: str | Path) -> ScreeningDocument:
    """Read a screening document back.

    Parameters
    ----------
    path : str or Path
        A JSON file that `Screening.to_dict` or the command line wrote.

    Returns
    -------
    ScreeningDocument
        Every key of the document as an attribute, such as ``stations[0].UBRL.z_mm``.

    Raises
    ------
    InputError
        If the file cannot be read, is damaged, or is no document ``frontcheck.screening/2``.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> path = fc.write_screening(result, "plover.json", lines_only=True)
    >>> fc.read_screening(path).stations[0].bumper_lead_mm
    79.5
    """
    return read_document(ScreeningDocument, path)


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return rows as comma-separated values, the caution in the last column of each."""
    # Text that a spreadsheet would take for a formula is given a leading apostrophe, so that
    # names and notes from input files stay text.
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*header, "caution"])
    start = stream.tell()
    writer.writerows([*map(_cell, row), CAUTION] for row in rows)
    if stream.tell() == start:  # No row to stand in: below the header, as a comment
        stream.write(f"# caution: {CAUTION}\n")
    return stream.getvalue().encode()


def station_rows(screening: Screening) -> tuple[list[str], list[list[object]]]:
    """Return the table of lines, one row a station, with units in the column names."""
    records = screening.records()
    header = list(records[0])
    return header, [[record[name] for name in header] for record in records]


def stations_csv(screening: Screening) -> bytes:
    """Return the table of lines as CSV."""
    return csv_bytes(*station_rows(screening))


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return f"'{value}"
    return value


# Writing a folder so that a reader never sees half of it.
#
# It is made complete beside its place and then swapped in whole: at every moment the old
# complete folder or the new complete one stands there.

CONTENTS: Final = "contents.txt"
"""List of the files that frontcheck made in a folder; others in it are the user's."""


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder with the given files and swap it in whole."""
    # Files of an earlier run, as listed in its `CONTENTS`, go; anything else in the folder stays.
    target = folder.absolute()
    if target == Path.cwd() or target in Path.cwd().parents:
        raise OutputError(
            f"{folder}: this is the working folder or holds it; expected a folder of its own; "
            "name another, such as reports/mine"
        )
    aside: Path | None = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep(target)
        aside = Path(tempfile.mkdtemp(prefix=f"{ASIDE}{target.name}-", dir=target.parent))
        aside.chmod(0o755)
        for name, data in files.items():
            (aside / name).write_bytes(data)
        listing = "".join(f"{name}\n" for name in sorted([*files, CONTENTS]))
        (aside / CONTENTS).write_bytes(listing.encode())
        if target.exists():
            _carry_over(target, aside, set(files) | {CONTENTS})
        _swap(aside, target)
    except OSError as error:
        raise cannot_write(folder, error) from error
    finally:
        # After the swap the old folder lies here; after an error, the unfinished new one.
        if aside is not None:
            shutil.rmtree(aside, ignore_errors=True)


def _sweep(target: Path) -> None:
    """Remove what an interrupted run left beside the folder."""
    for left in target.parent.glob(f"{ASIDE}{target.name}-*"):
        shutil.rmtree(left, ignore_errors=True)


def _carry_over(old: Path, new: Path, names: set[str]) -> None:
    """Take along what is not ours in the old folder."""
    listing = old / CONTENTS
    ours = set(listing.read_text("utf-8").splitlines()) if listing.is_file() else set()
    for entry in old.iterdir():
        if entry.name in ours or entry.name in names:
            continue
        if entry.is_dir() and not entry.is_symlink():
            shutil.copytree(entry, new / entry.name, symlinks=True)
        else:
            shutil.copy2(entry, new / entry.name, follow_symlinks=False)


def _swap(new: Path, target: Path) -> None:
    """Put `new` in the place of `target`; in one step where the system can."""
    if not target.exists():
        new.rename(target)
        return
    if _exchange(new, target):
        return
    # No exchange on this system: two renames, with a way back if the second fails.
    old = Path(tempfile.mkdtemp(prefix=f"{ASIDE}{target.name}-", dir=target.parent)) / "old"
    target.rename(old)
    try:
        new.rename(target)
    except OSError:
        old.rename(target)
        raise
    shutil.rmtree(old.parent, ignore_errors=True)


def _exchange(a: Path, b: Path) -> bool:
    """Exchange two folders atomically (Linux renameat2); False where that cannot be had."""
    if not sys.platform.startswith("linux"):
        return False
    with contextlib.suppress(OSError, AttributeError):
        libc = ctypes.CDLL(None, use_errno=True)
        at_fdcwd, rename_exchange = -100, 2
        done = libc.renameat2(at_fdcwd, os.fsencode(a), at_fdcwd, os.fsencode(b), rename_exchange)
        return bool(done == 0)
    return False
