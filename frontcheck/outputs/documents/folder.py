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
from pathlib import Path
from typing import TYPE_CHECKING, Final

from frontcheck.errors import OutputError
from frontcheck.files import aside_name, clear_leftovers, held, is_bare, place_of, writing_to

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    Stamp = tuple[int, str]  # Size and digest

LIST: Final = "frontcheck-files.txt"
"""List of the files that frontcheck made in a folder; others in it are the user's."""
_HEADING: Final = (
    "# Files that frontcheck wrote here: SHA-256, size in bytes, name. Others, and files changed "
    "since, are yours and stay."
)
_TAKEN: Final = (errno.ENOTEMPTY, errno.EEXIST, errno.EBUSY, errno.EXDEV)
"""A folder cannot be renamed there: another run was first, or it is a place of its own."""


def ready(
    folder: Path, names: Collection[str] = (), record: str = LIST, own: Collection[str] = ()
) -> Path:
    """Return where a folder really is, or refuse it: before any work, and before any writing."""
    # A `record` shows whose a folder is too; files of the names `own` are looked after by others.
    with writing_to(folder):
        target = place_of(folder)
        if is_bare(target):
            return target
        known = _listed(target)
        if known is None and not (record != LIST and (target / record).is_file()):
            raise OutputError(
                f"{folder}: holds files and no list of ours ({LIST}); expected a new or empty "
                "folder, or one that frontcheck made; name another"
            )
        for name in sorted({*(known or ()), *names}.difference(own)):
            _refuse_foreign(target, name, known or {})
    return target


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder with the given files, or bring one of ours up to date."""
    target = ready(folder, files)
    stamps = {name: _stamp_of(data) for name, data in files.items()}
    with writing_to(folder):
        target.parent.mkdir(parents=True, exist_ok=True)
        clear_leftovers(target.parent)
        if is_bare(target) and _made_whole(target, files, stamps):
            return
        with held(target):
            ready(target, files)
            clear_leftovers(target)
            _brought_up_to_date(target, files, stamps)


def write_beside(
    folder: Path, files: Mapping[str, bytes | Path], record: str, own: Collection[str]
) -> None:
    """Write files, or move them, into a folder beside what others look after; all there stays."""
    target = ready(folder, files, record, own)
    with writing_to(folder):
        target.mkdir(parents=True, exist_ok=True)
        with held(target):
            ready(target, files, record, own)
            names = {*(_listed(target) or ()), *own}
            there = {name: stamp for name in names if (stamp := _stamp(target / name))}
            new = {name: _stamp_of(data) for name, data in files.items()}
            _brought_up_to_date(target, files, there | new)


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
    target: Path, files: Mapping[str, bytes | Path], stamps: Mapping[str, Stamp]
) -> None:
    """Replace and remove what is ours, all that is new being on the disk before."""
    before = {name: kept for name, kept in (_listed(target) or {}).items() if _stamp(target / name)}
    aside = target / aside_name()
    aside.mkdir()
    try:
        changed = [name for name in files if _stamp(target / name) != stamps[name]]
        for name in changed:
            data = files[name]
            if isinstance(data, Path):
                data.replace(aside / name)
            else:
                (aside / name).write_bytes(data)
        # Whenever this run is killed, the list knows what stands there, old and new.
        both = [(name, kept) for name, every in before.items() for kept in sorted(every)]
        _put(aside, target, LIST, _listing([*both, *stamps.items()]))
        for name in changed:
            (aside / name).replace(target / name)
        for name in before.keys() - stamps.keys():
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


def _stamp_of(data: bytes | Path) -> Stamp:
    if isinstance(data, bytes):
        return len(data), hashlib.sha256(data).hexdigest()
    with data.open("rb") as stream:
        return data.stat().st_size, hashlib.file_digest(stream, "sha256").hexdigest()


def _stamp(path: Path) -> Stamp | None:
    """Size and digest of a plain file; None of anything else."""
    return _stamp_of(path) if path.is_file() and not path.is_symlink() else None
