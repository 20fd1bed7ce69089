"""Files: written so that a reader never sees half of one, and TOML read with the key at fault."""

from __future__ import annotations

import difflib
import math
import os
import re
import secrets
import shutil
import stat
import time
import zlib
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from frontcheck.errors import InputError, OutputError, refuse

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from frontcheck.errors import RefusedError

ASIDE: Final = ".frontcheck-new-"
"""Start of the name of what is being written, until it is complete and takes its place."""
_DAY_S: Final = 86400.0
_LOCK: Final = ".frontcheck-lock"
_WAIT_S: Final = 10.0
"""So long a second run waits: most folders are written in far less."""
_HEAD_BYTES: Final = 65_536
"""How far into a file its mark is sought."""
_NAMED: Final = re.compile(rf"{re.escape(ASIDE)}([0-9a-f]{{8}})-(\d+)-.*")


def aside_name() -> str:
    """Return a name of its own for what is being written, that says which process writes."""
    return f"{ASIDE}{_host()}-{os.getpid()}-{secrets.token_hex(4)}"


def clear_leftovers(folder: Path) -> None:
    """Remove what dead processes of this machine left more than a day ago."""
    for path in folder.glob(f"{ASIDE}*"):
        named = _NAMED.fullmatch(path.name)
        if named is None or named[1] != _host() or _lives(int(named[2])):
            continue
        if time.time() - path.lstat().st_mtime > _DAY_S:
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)


def _host() -> str:
    from platform import node  # here: most commands write nothing

    return f"{zlib.crc32(node().encode()):08x}"


def _lives(process: int) -> bool:
    """Whether a process is there; where that cannot be told safely, it counts as there."""
    if os.name != "posix":  # elsewhere the question itself may end the process
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        pass
    return True


@contextmanager
def writing_to(place: Path) -> Iterator[None]:
    """Say plainly where a place cannot be written to."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{place}: cannot be written ({reason}); name a place you may write to"
        ) from error


def place_of(folder: Path) -> Path:
    """Return where a folder of results really is; refuse those that are a person's own."""
    target = folder.resolve()
    here = (Path.cwd(), Path.home().resolve())
    if any(target == place or target in place.parents for place in here):
        raise OutputError(
            f"{folder}: this is the working folder, your home or a folder that holds them; "
            "expected a folder of its own; name another, such as reports/mine"
        )
    return target


def is_bare(folder: Path) -> bool:
    """Whether a folder is not there, or holds nothing but what a run of ours is writing."""
    return not folder.exists() or all(
        entry.name.startswith(".frontcheck-") for entry in folder.iterdir()
    )


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


def write_file(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file beside its place and rename it onto it; links are followed, modes kept."""
    aside: Path | None = None
    try:
        with writing_to(path):
            place = path.resolve()
            clear_leftovers(place.parent)
            mode = stat.S_IMODE(place.stat().st_mode) if place.exists() else None
            with (place.parent / aside_name()).open("xb") as stream:
                aside = Path(stream.name)
                stream.writelines([data] if isinstance(data, bytes) else data)
            if mode is not None:
                aside.chmod(mode)
            aside.replace(place)
    finally:
        if aside is not None:
            aside.unlink(missing_ok=True)


def check_folder(path: Path) -> None:
    """Refuse a place for a file in a folder that is not there."""
    if not path.parent.is_dir():
        raise OutputError(
            f"{path}: there is no folder {path.parent}; expected one; make it, or name another"
        )


def check_own(path: Path, mark: str) -> None:
    """Refuse a place where a file stands that does not bear the mark of ours near its start."""
    with writing_to(path):
        if not path.is_file() or not path.stat().st_size:
            return
        with path.open("rb") as stream:
            head = stream.read(_HEAD_BYTES)
    if mark.encode() not in head:
        raise OutputError(
            f"{path}: there is a file of this name that frontcheck did not write; expected none, "
            "or one of ours of this kind; name another"
        )


def read_text(path: Path, what: str, kind: type[RefusedError] = InputError) -> str:
    """Return the text of a small file of ours, such as a study."""
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise refuse("toml.unreadable", str(path), kind=kind, reason=reason, what=what) from error


# TOML into typed data.
#
# What a table may hold is a msgspec struct: names, kinds, ranges and defaults stand there and
# nowhere else. msgspec says which rule was broken and where; here that becomes a refusal in
# words, with the keys as they are written and list items counted from 1.

Shape = TypeVar("Shape")
_Steps = tuple[str | int, ...]
_MOST_SHOWN: Final = 60


def parse_toml(text: str, file: str, what: str, kind: type[RefusedError]) -> dict[str, Any]:
    """Return the keys and values of a TOML text."""
    import tomllib  # here: `--help` reads no TOML

    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also an integer of thousands of digits
        raise refuse("toml.malformed", file, kind=kind, reason=error, what=what) from None


def own_toml(package: str, name: str) -> dict[str, Any]:
    """Return the keys and values of a TOML file of this package: data, not input."""
    import tomllib
    from importlib.resources import files

    return tomllib.loads(files(package).joinpath(name).read_text("utf-8"))


def checked(
    values: object, shape: type[Shape], file: str, kind: type[RefusedError], key: str = ""
) -> Shape:
    """Return values of a TOML file as a struct, every one of its kind and within its range."""
    import msgspec

    try:
        found = msgspec.convert(values, shape)
    except msgspec.ValidationError as error:
        message, _, path = str(error).partition(" - at `$")
        raise _wrong(message, path, values, shape, file, kind, key) from None
    for steps in _not_finite(values) if hasattr(shape, "__struct_fields__") else ():
        raise _wrong("not finite", steps, values, shape, file, kind, key)
    return found


def _wrong(
    message: str, path: str | _Steps, values: Any, shape: type, file: str,
    kind: type[RefusedError], key: str,
) -> RefusedError:  # fmt: skip
    """Word what msgspec found wrong, or that a number is not finite."""
    from msgspec import inspect

    steps = _steps(path, values, shape) if isinstance(path, str) else path
    at = inspect.type_info(shape)
    for step in steps:
        at, values = _inside(at, step), values[step]
    if message.startswith("Object missing"):
        names = [f.encode_name for f in _struct(at).fields if f.required]
        names = [name for name in names if name not in values]
        return refuse("toml.missing", file, key=_dotted(key, (*steps, names[0])), kind=kind,
                      names=names, words=_words(_inside(at, names[0])))  # fmt: skip
    if message.startswith("Object contains unknown"):
        known = [field.encode_name for field in _struct(at).fields]
        name = next(name for name in values if name not in known)
        near = difflib.get_close_matches(name[:60], known, n=1)
        advice = f"did you mean {near[0]}?" if near else "correct the key"
        return refuse("toml.unknown_key", file, key=_dotted(key, (*steps, name)), kind=kind,
                      name=name, known=known, advice=advice)  # fmt: skip
    shown = repr(values)
    shown = shown if len(shown) <= _MOST_SHOWN else f"{shown[: _MOST_SHOWN - 3]}..."
    place = _dotted(key, steps)
    return refuse("toml.wrong", file, key=place, kind=kind, shown=shown, words=_words(at))


def _steps(path: str, values: Any, shape: type) -> _Steps:
    """Keys and positions that lead to the place at fault; msgspec leaves out those of mappings."""
    from msgspec import inspect

    steps: list[str | int] = []
    at = inspect.type_info(shape)
    for name, index in re.findall(r"\.([\w-]+)|\[(\d+|\.\.\.)\]", path):
        step: str | int = name or index
        if index == "...":
            step = next(k for k, v in values.items() if not _fits(v, _inside(at, k)))
        elif index:
            step = int(index)
        at, values = _inside(at, step), values[step]
        steps.append(step)
    return tuple(steps)


def _fits(value: object, kind: Any) -> bool:
    """Whether a value of a mapping is of its kind: structs and plain kinds are all there are."""
    import msgspec

    try:
        msgspec.convert(value, getattr(kind, "cls", None) or str)
    except msgspec.ValidationError:
        return False
    return True


def _inside(at: Any, step: str | int) -> Any:
    """The kind of what stands at a key or position of a table or list."""
    from msgspec import inspect

    for one in _choices(at):
        if isinstance(one, inspect.StructType) and isinstance(step, str):
            return next(field.type for field in one.fields if field.encode_name == step)
        if isinstance(one, inspect.DictType) and isinstance(step, str):
            return one.value_type
        if isinstance(one, (inspect.ListType, inspect.VarTupleType)) and isinstance(step, int):
            return one.item_type
        if isinstance(one, inspect.TupleType) and isinstance(step, int):
            return one.item_types[step]
    raise LookupError(step)  # msgspec names only what the shape has


def _choices(at: Any) -> Sequence[Any]:
    from msgspec import inspect

    while isinstance(at, inspect.Metadata):
        at = at.type
    if isinstance(at, inspect.UnionType):
        return [inner for one in at.types for inner in _choices(one)]
    return [at]


def _struct(at: Any) -> Any:
    from msgspec import inspect

    return next(one for one in _choices(at) if isinstance(one, inspect.StructType))


def _words(at: Any, many: bool = False) -> str:
    """What a kind is called, with its range."""
    from msgspec import inspect

    if isinstance(at, inspect.Metadata):
        described = (at.extra_json_schema or {}).get("description")
        return described or _words(at.type, many)
    if isinstance(at, inspect.UnionType):
        kinds = (one for one in at.types if not isinstance(one, inspect.NoneType))
        return " or ".join(dict.fromkeys(_words(one, many) for one in kinds))
    if isinstance(at, (inspect.ListType, inspect.VarTupleType)):
        return f"{'lists' if many else 'a list'} of {_words(at.item_type, many=True)}"
    if isinstance(at, (inspect.FloatType, inspect.IntType)):
        return ("a whole " if isinstance(at, inspect.IntType) else "a ")[2 * many :] + (
            f"number{'s' * many}{_range(at)}"
        )
    if isinstance(at, inspect.BoolType):
        return "true or false"
    word = "text" if isinstance(at, inspect.StrType) else "table"
    return f"{word}s" if many else f"a {word}"


def _range(at: Any) -> str:
    if at.gt is not None:
        return f" above {at.gt:g}"
    if at.ge is not None and at.le is not None:
        return f" from {at.ge:.12g} to {at.le:.12g}"
    return f" of {at.ge:g} or more" if at.ge is not None else ""


def _not_finite(values: Any, steps: _Steps = ()) -> Iterator[_Steps]:
    """Places of numbers that TOML can write and no dimension can have."""
    if isinstance(values, float) and not math.isfinite(values):
        yield steps
    elif isinstance(values, (dict, list)):
        for step, value in values.items() if isinstance(values, dict) else enumerate(values):
            yield from _not_finite(value, (*steps, step))


def _dotted(key: str, steps: _Steps) -> str:
    """Keys as a person would write them, list items counted from 1."""
    text = "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in steps)
    return f"{key}{text}".lstrip(".")
