"""IGES files written as text (IGES 5.3, entity 128; layouts from memory)."""

from __future__ import annotations

FLAGS = {"in": 1, "mm": 2, "ft": 4, "m": 6, "cm": 10}


def iges_text(grids, unit="mm", scale=1.0) -> str:
    """An IGES file of bilinear surfaces, each through (n, m, 3) points."""
    flag, name = FLAGS[unit], unit.upper()
    head = (
        f"1H,,1H;,5Hfront,9Hfront.igs,4Htest,1H1,32,38,6,308,15,5Hfront,{scale},{flag},"
        f"{len(name)}H{name},1,0.1,15H20261127.000000,0.0001,10000.,4Htest,4Htest,11,0,"
        "15H20261127.000000;"
    )
    lines = _section(["surfaces of a made-up front"], "S", 72)
    lines += _section(_cut(head, 72), "G", 72)
    directory, data = [], []
    for grid in grids:
        own = _cut(_entity(grid), 64)
        first = len(data) + 1
        at = 2 * len(directory) // 2 + 1
        data += [f"{line:<64}{at:8d}P{first + i:7d}" for i, line in enumerate(own)]
        directory += [
            f"{128:8d}{first:8d}{0:8d}{0:8d}{0:8d}{0:8d}{0:8d}{0:8d}{0:08d}D{at:7d}",
            f"{128:8d}{0:8d}{0:8d}{len(own):8d}{0:8d}{'':8}{'':8}{'':8}{0:8d}D{at + 1:7d}",
        ]
    end = f"S{1:7d}G{len(_cut(head, 72)):7d}D{len(directory):7d}P{len(data):7d}"
    return "\n".join([*lines, *directory, *data, *_section([end], "T", 72)]) + "\n"


def _entity(grid) -> str:
    """Entity 128, rational B-spline surface, of degree 1 both ways."""
    n, m = len(grid), len(grid[0])
    numbers = [128, n - 1, m - 1, 1, 1, 0, 0, 1, 0, 0]
    for count in (n, m):
        numbers += [0.0, *map(float, range(count)), float(count - 1)]
    numbers += [1.0] * (n * m)
    numbers += [float(c) for j in range(m) for i in range(n) for c in grid[i][j]]
    numbers += [0.0, float(n - 1), 0.0, float(m - 1)]
    return ",".join(map(repr, numbers)) + ";"


def _cut(text, width) -> list[str]:
    """Lines of whole values."""
    lines, held = [], ""
    for value in text.replace(";", ";\0").replace(",", ",\0").split("\0"):
        if len(held) + len(value) > width:
            lines.append(held)
            held = ""
        held += value
    return [*lines, held] if held else lines


def _section(lines, letter, width) -> list[str]:
    return [f"{line:<{width}}{letter}{i:7d}" for i, line in enumerate(lines, 1)]
