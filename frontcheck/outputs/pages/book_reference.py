"""What the docstrings of the public names say, read from the source without running it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import chain
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from griffe import Class, DocstringSection, Function, Module, Object

GROUPS: Final = (
    ("Shapes in", ("front", "reading", "surface")),
    ("Screening", ("caution", "screening", "lines", "zones", "findings", "rules")),
    ("How sure", ("sure",)),
    ("Legs and people", ("people", "legs", "body")),
    ("Comparing and trying out", ("comparison", "study")),
    ("Figures", ("figures",)),
    ("Files out", ("documents", "outputs", "pages")),
)
"""Headings of the reference, and the rooms whose public names stand below each."""
_FACADE: Final = "frontcheck"
_WIDE: Final = 76
"""Letters of a signature on one line."""


@dataclass(frozen=True)
class Part:
    """One section of a docstring: prose, rows of name, kind and text, or code."""

    heading: str  # Empty where prose goes on
    prose: str = ""
    rows: tuple[tuple[str, str, str], ...] = ()
    code: str = ""


@dataclass(frozen=True)
class Entry:
    """One public name, or a method or property of one."""

    name: str  # As one writes it: screen, Front.section
    kind: str  # function, class, constant, method or property
    signature: str
    place: str  # File and line
    parts: tuple[Part, ...]
    members: tuple[Entry, ...] = ()

    @property
    def summary(self) -> str:
        """First line of the docstring."""
        return self.parts[0].prose.partition("\n\n")[0] if self.parts else ""


@cache
def reference() -> dict[str, tuple[Entry, ...]]:
    """Return every public name under its heading, in the order of the alphabet."""
    facade = _module(_FACADE)
    found: dict[str, list[Entry]] = {heading: [] for heading, _ in GROUPS}
    for export in facade.exports or ():
        name = str(export)
        if name in facade.imports:
            home, _, own = facade.imports[name].rpartition(".")
            found[_group(home)].append(_entry(name, _module(home), own))
    return {heading: tuple(entries) for heading, entries in found.items()}


def _group(home: str) -> str:
    rooms = home.split(".")[1:]
    for heading, named in GROUPS:
        if set(rooms[:-1] or rooms) & set(named):
            return heading
    raise LookupError(home)


@cache
def _module(name: str) -> Module:
    """Read a module of the package, not run."""
    import griffe

    path = files(_FACADE)
    parts = name.split(".")[1:]
    file = path.joinpath(*parts[:-1], f"{parts[-1]}.py") if parts else path.joinpath("__init__.py")
    return griffe.visit(
        name,
        filepath=_local(file),
        code=file.read_text("utf-8"),
        docstring_parser="numpy",
        docstring_options={"warnings": False},  # fields of data classes are no arguments to it
    )


def _local(file: Any) -> Any:
    from pathlib import Path

    return Path(str(file))


def _entry(name: str, module: Module, own: str) -> Entry:
    held = module.members[own]
    place = f"{module.path.replace('.', '/')}.py, line {held.lineno}"
    if held.is_class:
        return _of_class(name, held, module, place)  # type: ignore[arg-type]
    if held.is_function:
        return _of_function(name, held, "function", place, module)  # type: ignore[arg-type]
    return Entry(name, "constant", name, place, _parts(held))  # type: ignore[arg-type]


def _of_class(name: str, held: Class, module: Module, place: str) -> Entry:
    parts = _parts(held)
    members = []
    for key, (member, home) in _members(held, module).items():
        at = f"{home.path.replace('.', '/')}.py, line {member.lineno}"
        if member.is_function:
            shown = _of_function(f"{name}.{key}", member, "method", at, home)  # type: ignore[arg-type]
            members.append(shown)
        elif "property" in member.labels or "cached" in member.labels:
            said = f"{name}.{key}"
            members.append(Entry(said, "property", said, at, _parts(member)))
    return Entry(name, "class", _made(name, held, module, parts), place, parts, tuple(members))


def _made(name: str, held: Class, module: Module, parts: tuple[Part, ...]) -> str:
    """How one is made; the name alone where fields of another class come first, or none is told."""
    if "__init__" in held.members:
        arguments = _arguments(held.members["__init__"], module)  # type: ignore[arg-type]
        return _signature(name, arguments[1:])
    rows = [row[0] for part in parts if part.heading == "Parameters" for row in part.rows]
    documented = [each for names in rows for each in names.split(", ")]
    fields = {
        key: getattr(member, "value", None)
        for key, member in held.members.items()
        if key in documented and member.is_attribute
    }
    if held.bases or set(fields) != set(documented):
        return name
    return _signature(
        name, [f"{k}={_plain(v, module)}" if _has_default(v) else k for k, v in fields.items()]
    )


def _has_default(value: object) -> bool:
    """Whether a field has something that it is when not given."""
    text = str(value)
    return value is not None and (not text.startswith("field(") or "default" in text)


def _members(held: Class, module: Module) -> dict[str, tuple[Object, Module]]:
    """Public methods and properties, those of bases in the package behind the class's own."""
    found: dict[str, tuple[Object, Module]] = {
        key: (member, module)  # type: ignore[misc]
        for key, member in held.members.items()
        if not key.startswith("_") and not member.is_alias and member.docstring
    }
    for base in held.bases:
        name = str(base).partition("[")[0]
        here = f"{module.path}.{name}" if name in module.members else ""
        home, _, own = module.imports.get(name, here).rpartition(".")
        if home.startswith(f"{_FACADE}."):
            there = _module(home)
            found = {**_members(there.members[own], there), **found}  # type: ignore[arg-type]
    return found


def _of_function(name: str, held: Function, kind: str, place: str, module: Module) -> Entry:
    arguments = _arguments(held, module)
    if kind == "method" and not held.labels & {"staticmethod"}:
        arguments = arguments[1:]
    return Entry(name, kind, _signature(name, arguments), place, _parts(held))


def _arguments(held: Function, module: Module) -> list[str]:
    """Arguments with what they are when not given; kinds stand in the table below."""
    found: list[str] = []
    for each in held.parameters:
        stars = {"variadic positional": "*", "variadic keyword": "**"}
        kind = each.kind.value if each.kind else ""
        if kind == "keyword-only" and not any(one.startswith("*") for one in found):
            found.append("*")
        default = (
            "" if each.default is None or kind in stars else f"={_plain(each.default, module)}"
        )
        found.append(f"{stars.get(kind, '')}{each.name}{default}")
    return found


def _plain(value: object, module: Module) -> str:
    """What a default says; of a named constant of the package its value."""
    text = str(value)
    home, _, own = module.imports.get(text, f"{module.path}.{text}").rpartition(".")
    if text.isidentifier() and home.startswith(f"{_FACADE}."):
        text = str(getattr(_module(home).members.get(own), "value", text))
    return "..." if re.match(r"field\(|_\w+\(", text) else text


def _signature(name: str, arguments: list[str]) -> str:
    line = f"{name}({', '.join(arguments)})"
    if len(line) <= _WIDE:
        return line
    return "\n".join([f"{name}(", *(f"    {each}," for each in arguments), ")"])


def _parts(held: Object) -> tuple[Part, ...]:
    if held.docstring is None:
        return ()
    return tuple(chain.from_iterable(map(_part, held.docstring.parsed)))


_ROWS: Final = {
    "parameters": "Parameters",
    "returns": "Returns",
    "yields": "Yields",
    "raises": "Raises",
}


def _part(section: DocstringSection) -> Iterator[Part]:
    kind, value = section.kind.value, section.value
    if kind in _ROWS:
        yield Part(_ROWS[kind], rows=tuple(_rows(value)))
    elif kind == "examples":
        for i, (what, text) in enumerate(value):
            code = what.value == "examples"
            heading = "" if i else "Example"
            yield Part(heading, prose="" if code else text, code=text if code else "")
    elif kind == "text":
        yield Part("", prose=value)
    else:
        yield Part((section.title or kind).capitalize(), prose=value.description)


def _rows(held: Sequence[Any]) -> Iterator[tuple[str, str, str]]:
    """Rows of name, kind and text; names that are explained together stand in one."""
    rows: list[tuple[str, str, str]] = []
    for row in held:
        kind = "" if row.annotation is None else str(row.annotation)
        if kind.startswith("('"):  # {"a4", "letter"} is handed on as a tuple
            kind = kind.strip("()").replace(", ", " or ")
        name, text = getattr(row, "name", "") or "", row.description.strip()
        if rows and name and rows[-1][1:] == (kind, text):
            rows[-1] = (f"{rows[-1][0]}, {name}", kind, text)
        else:
            rows.append((name, kind, text))
    yield from rows
