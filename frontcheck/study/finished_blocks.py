"""The folder of a running sweep: a record of the study, and finished parts of the results.

A part is written aside and renamed when complete, so that whatever stands in the folder is
whole. Its name says which variants it holds; a sweep that goes on makes the others only.
"""

from __future__ import annotations

import json
import re
import shutil
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.errors import OutputError
from frontcheck.files import ASIDE, cannot_write, write_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from frontcheck.study.study import Study

__all__ = ["RECORD", "RESULTS", "Parts"]

RECORD: Final = "sweep.json"
"""What the results in the folder were made from."""
RESULTS: Final = "results.csv"
"""The table of results, once it is complete."""

_PARTS: Final = "parts"
_NAME: Final = re.compile(r"(\d{9})-(\d{9})\.csv")


class Parts:
    """The folder of one sweep."""

    def __init__(self, folder: Path, study: Study) -> None:
        self.folder = folder
        self.study = study
        self._claim()

    @property
    def results(self) -> Path:
        """Where the complete table stands."""
        return self.folder / RESULTS

    @property
    def complete(self) -> bool:
        """Whether the table is there, of this study."""
        return self.results.is_file()

    def done(self) -> list[tuple[int, int]]:
        """Return which variants have been made: (first, after the last) of every part."""
        found = []
        for path in (self.folder / _PARTS).iterdir():
            match = _NAME.fullmatch(path.name)
            if match:
                found.append((int(match[1]), int(match[2])))
            elif path.name.startswith(ASIDE):
                path.unlink(missing_ok=True)  # left by an interrupted run
        # Parts are whole blocks of one study and are only made where none was, so none overlap.
        return sorted(found)

    def add(self, first: int, after: int, rows: bytes) -> None:
        """Keep the rows of some variants."""
        write_file(self._part(first, after), rows)

    def finish(self, header: Sequence[str]) -> None:
        """Join all parts to the table and clear them away."""
        head = f"# caution: {CAUTION}\n{','.join(header)}\n".encode()
        pieces = (self._part(first, after).read_bytes() for first, after in self.done())
        write_file(self.results, _chain(head, pieces))
        shutil.rmtree(self.folder / _PARTS, ignore_errors=True)

    def _part(self, first: int, after: int) -> Path:
        return self.folder / _PARTS / f"{first:09d}-{after:09d}.csv"

    def _claim(self) -> None:
        """Make the folder this study's, or refuse when it is another's."""
        path = self.folder / RECORD
        digest = self.study.digest
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            known = _digest_in(path)
            if known is None and any((self.folder / n).exists() for n in (RESULTS, _PARTS)):
                known = "unknown"
            if known is not None and known != digest:
                raise OutputError(
                    f"{self.folder}: found results of another study, or of this one before it was "
                    "changed; expected a new folder or one that this study began; name another "
                    "folder, or delete this one"
                )
            if known is None:
                record: dict[str, Any] = self.study.record() | {"digest": digest}
                text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
                write_file(path, f"{text}\n".encode())
            if not self.complete:
                (self.folder / _PARTS).mkdir(exist_ok=True)
        except OutputError:
            raise
        except OSError as error:
            raise cannot_write(self.folder, error) from error


def _chain(head: bytes, pieces: Iterable[bytes]) -> Iterable[bytes]:
    yield head
    yield from pieces


def _digest_in(path: Path) -> str | None:
    if not path.exists():
        return None
    try:
        return str(json.loads(path.read_text("utf-8"))["digest"])
    except (ValueError, KeyError, TypeError):
        return "unknown"
