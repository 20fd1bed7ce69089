"""Writing a file so that a reader never sees half of it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

from frontcheck.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterable

ASIDE: Final = ".frontcheck-new-"
"""Start of the name of what is being written, until it is complete and takes its place."""


def write_file(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file beside its place and rename it onto it."""
    aside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=ASIDE, dir=path.parent)
        aside = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.writelines([data] if isinstance(data, bytes) else data)
        aside.chmod(0o644)
        aside.replace(path)
    except OSError as error:
        if aside is not None:
            aside.unlink(missing_ok=True)
        raise cannot_write(path, error) from error


def cannot_write(path: Path, error: OSError) -> OutputError:
    """Return the error for a place that cannot be written to."""
    reason = error.strerror or str(error)
    return OutputError(f"{path}: cannot be written ({reason}); name a place you may write to")
