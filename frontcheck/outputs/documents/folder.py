"""Writing a folder of results: made whole where there is none, else only what is ours in it.

A new or empty folder is made beside its place and renamed. A folder that an earlier run made holds
a list with size and digest of each file; only what stands there as listed is replaced or removed,
file by file, under a lock. Whatever else stands there is the user's and stays.
"""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import stat
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from frontcheck.errors import OutputError
from frontcheck.files import aside_name, cannot_write, clear_leftovers

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    Stamp = tuple[int, str]  # Size and digest

LIST: Final = "frontcheck-files.txt"
"""List of the files that frontcheck made in a folder; others in it are the user's."""
_HEADING: Final = (
    "# Files that frontcheck wrote here: SHA-256, size in bytes, name. Others, and files changed "
    "since, are yours and stay."
)
_LOCK: Final = ".frontcheck-lock"
_WAIT_S: Final = 10.0
"""So long a second run waits: a folder is written in far less."""
_TAKEN: Final = (errno.ENOTEMPTY, errno.EEXIST, errno.EBUSY, errno.EXDEV)
"""A folder cannot be renamed there: another run was first, or it is a place of its own."""


def ready(folder: Path, names: Collection[str] = ()) -> Path:
    """Return where a folder really is, or refuse it: before any work, and before any writing."""
    try:
        target = folder.resolve()
        here = (Path.cwd(), Path.home().resolve())
        if any(target == place or target in place.parents for place in here):
            raise OutputError(
                f"{folder}: this is the working folder, your home or a folder that holds them; "
                "expected a folder of its own; name another, such as reports/mine"
            )
        if not target.exists():
            return target
        if all(entry.name.startswith(".frontcheck-") for entry in target.iterdir()):
            return target
        known = _listed(target)
        if known is None:
            raise OutputError(
                f"{folder}: holds files and no list of ours ({LIST}); expected a new or empty "
                "folder, or one that frontcheck made; name another"
            )
        for name in sorted({*known, *names}):
            _refuse_foreign(target, name, known)
    except OutputError:
        raise
    except OSError as error:
        raise cannot_write(folder, error) from error
    return target


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder with the given files, or bring one of ours up to date."""
    target = ready(folder, files)
    stamps = {name: _stamp_of(data) for name, data in files.items()}
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        clear_leftovers(target.parent)
        if _is_bare(target) and _made_whole(target, files, stamps):
            return
        with held(target):
            ready(target, files)
            clear_leftovers(target)
            _brought_up_to_date(target, files, stamps)
    except OutputError:
        raise
    except OSError as error:
        raise cannot_write(folder, error) from error


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Keep other runs from writing into a folder; wait for one that does."""
    from filelock import SoftFileLock, Timeout  # here: most commands write nothing

    lock = SoftFileLock(folder / _LOCK)
    try:
        lock.acquire(timeout=_WAIT_S)
    except Timeout:
        who = (folder / _LOCK).read_text("utf-8", "replace").split()[:2]
        raise OutputError(
            f"{folder}: another run (process {' on '.join(who)}) has been writing here for "
            f"{_WAIT_S:g} s; expected it to be done; wait for it, or delete {_LOCK} there if it "
            "is dead"
        ) from None
    try:
        yield
    finally:
        lock.release()


def _is_bare(target: Path) -> bool:
    return not target.exists() or not any(target.iterdir())


def _made_whole(target: Path, files: Mapping[str, bytes], stamps: Mapping[str, Stamp]) -> bool:
    """Make a folder aside and rename it; False where something stands there by then."""
    aside = target.parent / aside_name()
    aside.mkdir()
    try:
        for name, data in files.items():
            (aside / name).write_bytes(data)
        (aside / LIST).write_bytes(_listing(stamps.items()))
        if target.exists():
            aside.chmod(stat.S_IMODE(target.stat().st_mode))
        aside.rename(target)
    except OSError as error:
        if error.errno in _TAKEN and target.is_dir():
            return False
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return True


def _brought_up_to_date(
    target: Path, files: Mapping[str, bytes], stamps: Mapping[str, Stamp]
) -> None:
    """Replace and remove what is ours, all that is new being on the disk before."""
    before = {name: kept for name, kept in (_listed(target) or {}).items() if _stamp(target / name)}
    aside = target / aside_name()
    aside.mkdir()
    try:
        changed = [name for name in files if _stamp(target / name) != stamps[name]]
        for name in changed:
            (aside / name).write_bytes(files[name])
        # Whenever this run is killed, the list knows what stands there, old and new.
        both = [(name, kept) for name, every in before.items() for kept in sorted(every)]
        _put(aside, target, LIST, _listing([*both, *stamps.items()]))
        for name in changed:
            (aside / name).replace(target / name)
        for name in before.keys() - files.keys():
            (target / name).unlink()
        _put(aside, target, LIST, _listing(stamps.items()))
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _put(aside: Path, target: Path, name: str, data: bytes) -> None:
    (aside / name).write_bytes(data)
    (aside / name).replace(target / name)


def _refuse_foreign(target: Path, name: str, known: Mapping[str, set[Stamp]]) -> None:
    """Refuse a file of the user's where one of ours would stand."""
    path = target / name
    if os.path.lexists(path) and _stamp(path) not in known.get(name, ()):
        what = "changed since frontcheck wrote it" if name in known else "not written by frontcheck"
        raise OutputError(
            f"{path}: was {what}; expected no such file, or ours as it was; move it away, or name "
            "another folder"
        )


def _listing(entries: Iterable[tuple[str, Stamp]]) -> bytes:
    rows = sorted({f"{digest} {size} {name}" for name, (size, digest) in entries}, key=_name)
    return "\n".join([_HEADING, *rows, ""]).encode()


def _name(row: str) -> tuple[str, ...]:
    return tuple(reversed(row.split(" ", 2)))


def _listed(folder: Path) -> dict[str, set[Stamp]] | None:
    """What the list of a folder says of each file; None where there is none of ours."""
    path = folder / LIST
    try:
        rows = path.read_text("utf-8").splitlines() if path.is_file() else []
    except UnicodeDecodeError:
        return None
    if rows[:1] != [_HEADING]:
        return None
    found: dict[str, set[Stamp]] = {}
    for row in rows[1:]:
        digest, size, name = (*row.split(" ", 2), "", "")[:3]
        # A name that leads elsewhere is none that we wrote.
        if size.isdecimal() and name and name == Path(name).name:
            found.setdefault(name, set()).add((int(size), digest))
    return found


def _stamp_of(data: bytes) -> Stamp:
    return len(data), hashlib.sha256(data).hexdigest()


def _stamp(path: Path) -> Stamp | None:
    """Size and digest of a plain file; None of anything else."""
    plain = path.is_file() and not path.is_symlink()
    return _stamp_of(path.read_bytes()) if plain else None
