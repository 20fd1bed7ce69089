"""Whether a PLY file holds, row by row, what its header says: parsers fill up what is missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import refuse

if TYPE_CHECKING:
    from collections.abc import Sequence

_KINDS: Final = {
    "char": "i1", "uchar": "u1", "int8": "i1", "uint8": "u1", "short": "i2", "ushort": "u2",
    "int16": "i2", "uint16": "u2", "int": "i4", "uint": "u4", "int32": "i4", "uint32": "u4",
    "float": "f4", "float32": "f4", "double": "f8", "float64": "f8",
}  # fmt: skip
WIDTHS: Final = {name: int(kind[1]) for name, kind in _KINDS.items()}
_Property = tuple[str, str | None]  # Kind of its value, and of the count before a list
_Element = tuple[str, int, list[_Property]]


def elements_of(header: str) -> list[_Element]:
    """Name, rows and properties of every element of a header that was checked."""
    elements: list[_Element] = []
    for words in map(str.split, header.splitlines()):
        if words[:1] == ["element"]:
            elements.append((words[1], int(words[2]), []))
        elif words[:1] == ["property"]:
            several = words[1] == "list"
            elements[-1][2].append((words[3 if several else 1], words[2] if several else None))
    return elements


def check_body(content: bytes, start: int, header: str, file: str) -> None:
    """Refuse a body with fewer or more rows than the header says, or with rows of other length."""
    elements = elements_of(header)
    start += 2 if content[start : start + 2] == b"\r\n" else 1
    if "format ascii" in header:
        _check_text(content[start:], header.count("\n") + 2, elements, file)
        return
    order = "<" if "format binary_little_endian" in header else ">"
    at = start
    for name, rows, properties in elements:
        if any(count for _, count in properties):
            at = _past_lists(content, at, order, (name, rows, properties), file)
        else:
            at += rows * sum(WIDTHS[kind] for kind, _ in properties)
        if at > len(content):
            raise refuse("ply.short", file, name=name, rows=rows)
    if content[at:].strip():
        raise refuse("ply.long", file, spare=len(content) - at)


def _check_text(body: bytes, first: int, elements: Sequence[_Element], file: str) -> None:
    lines = enumerate(body.splitlines(), start=first)
    rows = ((number, words) for number, line in lines if (words := line.split()))
    for name, count, properties in elements:
        for _ in range(count):
            number, words = next(rows, (0, []))
            if not words:
                raise refuse("ply.short", file, name=name, rows=count)
            if _needed(words, properties) != len(words):
                raise refuse("ply.row", file, number, name=name, count=len(words))
    number, words = next(rows, (0, []))
    if words:
        raise refuse("ply.long", file, number, spare=len(words))


def _needed(words: list[bytes], properties: Sequence[_Property]) -> int:
    at = 0
    for _, several in properties:
        if several is None:
            at += 1
        elif at < len(words) and words[at].isdigit():
            at += 1 + int(words[at])
        else:
            return -1
    return at


def _past_lists(content: bytes, at: int, order: str, element: _Element, file: str) -> int:
    """Where the rows of an element with lists end."""
    name, rows, properties = element
    if len(properties) == 1 and rows:
        ((kind, several),) = properties
        # Lists of one length, as of triangles, are looked at together.
        one = np.dtype([("n", order + _KINDS[several or ""]), ("v", f"V{WIDTHS[kind] * 3}")])
        if at + rows * one.itemsize <= len(content):
            counts: Any = np.frombuffer(content, one, rows, at)["n"]
            if (counts == 3).all():
                return at + rows * one.itemsize
    for _ in range(rows):
        for kind, several in properties:
            if several is None:
                at += WIDTHS[kind]
                continue
            end = at + WIDTHS[several]
            if end > len(content):
                raise refuse("ply.short", file, name=name, rows=rows)
            number = int(np.frombuffer(content, order + _KINDS[several], 1, at)[0])
            if number < 0:
                raise refuse("ply.short", file, name=name, rows=rows)
            at = end + number * WIDTHS[kind]
        if at > len(content):
            raise refuse("ply.short", file, name=name, rows=rows)
    return at
