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
_ORDERS: Final = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_MAX_HEADER: Final = 100_000
_WIDTHS: Final = {name: int(kind[1]) for name, kind in _KINDS.items()}
_Property = tuple[str, str | None]  # Kind of its value, and of the count before a list
_Element = tuple[str, int, list[_Property]]


def check_ply(content: bytes, file: str) -> None:
    """Refuse a header that is none, and a body that has not just the rows that the header says."""
    end = content.find(b"end_header", 0, _MAX_HEADER)
    if not content.startswith((b"ply\n", b"ply\r")) or end < 0:
        raise refuse("damaged.ply", file)
    header = content[:end].decode("ascii", "replace")
    order, elements = _header(header, file)
    at = end + len(b"end_header")
    at += 2 if content[at : at + 2] == b"\r\n" else 1
    if not order:
        _check_text(content[at:], len(header.splitlines()) + 2, elements, file)
        return
    for name, rows, properties in elements:
        if any(count for _, count in properties):
            at = _past_lists(content, at, order, (name, rows, properties), file)
        else:
            at += rows * sum(_WIDTHS[kind] for kind, _ in properties)
        if at > len(content):
            raise refuse("ply.short", file, name=name, rows=rows)
    if content[at:].strip():
        raise refuse("ply.long", file, spare=len(content) - at)


def _header(header: str, file: str) -> tuple[str, list[_Element]]:
    """Byte order, none of a text, and name, rows and properties of every element."""
    order, elements, places, lists = "?", list[_Element](), set[str](), set[str]()
    for row, line in enumerate(header.splitlines(), start=1):
        words = line.split()
        try:
            if words[:1] == ["format"]:
                order = _ORDERS[words[1]]
            elif words[:1] == ["element"]:
                elements.append((words[1], int(words[2]), []))
                if int(words[2]) < 0:
                    raise ValueError
            elif words[:1] == ["property"]:
                several = words[2] if words[1] == "list" else None
                kind = words[3 if several else 1]
                if _WIDTHS[kind] and several and _KINDS[several][0] == "f":
                    raise ValueError
                elements[-1][2].append((kind, several))
                if elements[-1][0] == "vertex" and not several:
                    places.add(words[-1])
                if elements[-1][0] == "face" and several:
                    lists.add(words[-1])
        except (IndexError, KeyError, ValueError):
            raise refuse("mesh.ply_header", file, row, line=repr(line[:60])) from None
    if order == "?" or not places >= {"x", "y", "z"}:
        raise refuse("damaged.ply", file)
    faces = any(name == "face" and rows for name, rows, _ in elements)
    if faces and not lists & {"vertex_index", "vertex_indices"}:
        raise refuse("damaged.ply_face", file)
    return order, elements


def _check_text(body: bytes, first: int, elements: Sequence[_Element], file: str) -> None:
    left = max(body.count(b"\n"), body.count(b"\r")) + 1
    for name, count, _ in elements:
        left -= count
        if left < 0:
            raise refuse("ply.short", file, name=name, rows=count)
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
        one = np.dtype([("n", order + _KINDS[several or ""]), ("v", f"V{_WIDTHS[kind] * 3}")])
        if at + rows * one.itemsize <= len(content):
            counts: Any = np.frombuffer(content, one, rows, at)["n"]
            if (counts == 3).all():
                return at + rows * one.itemsize
    for _ in range(rows):
        for kind, several in properties:
            if several is None:
                at += _WIDTHS[kind]
                continue
            end = at + _WIDTHS[several]
            if end > len(content):
                raise refuse("ply.short", file, name=name, rows=rows)
            number = int(np.frombuffer(content, order + _KINDS[several], 1, at)[0])
            if number < 0:
                raise refuse("ply.short", file, name=name, rows=rows)
            at = end + number * _WIDTHS[kind]
        if at > len(content):
            raise refuse("ply.short", file, name=name, rows=rows)
    return at
