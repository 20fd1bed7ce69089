"""BRRL run on along the template's arcs: where it is broken it stays so. Counted by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.lines.front_line import FrontLine, Piece, Spot
from frontcheck.zones import build
from frontcheck.zones.rear_corner import RearCorner


def corner(*ys: float) -> RearCorner:
    """A rear corner whose arc runs through these places on the right."""
    arc = np.array([(1000.0 + y, y, 900.0) for y in ys]).reshape(-1, 3)
    return RearCorner(Spot("rear corner", "ok", (0.0, 0.0, 0.0), "by the template"), arc)


def rear_line(monkeypatch, pieces, left, right) -> FrontLine:
    """The line at y = -500 to 500 mm every 100, in given pieces, between two corners."""
    y = np.arange(-500.0, 501.0, 100.0)
    points = np.stack([np.full(11, 1000.0), y, np.full(11, 900.0)], axis=1)
    wad = tuple(float(k) for k in range(11))
    own = FrontLine("BRRL", points, ("ok",) * 11, pieces, "ok", "", wad)
    monkeypatch.setattr(build, "line_across", lambda *_: own)
    across = SimpleNamespace(wad_of=lambda points: [-1.0] * len(points))
    return build._rear_line(across, left, right)


BROKEN = (Piece(0, 5, "left"), Piece(5, 11, "right"))
WHOLE = (Piece(0, 11, "both"),)


@pytest.mark.parametrize(
    ("pieces", "left", "right", "runs", "sides"),
    [
        (
            BROKEN, corner(440, 470), corner(420, 450),
            [[-470, -440, -400, -300, -200, -100], [0, 100, 200, 300, 400, 420, 450]],
            ["left", "right"],
        ),
        (
            WHOLE, corner(440, 470), corner(420, 450),
            [[-470, -440, *range(-400, 401, 100), 420, 450]], ["both"],
        ),
        (
            BROKEN, corner(), corner(120, 160),
            [[-500, -400, -300, -200, -100], [0, 100, 120, 160]], ["left", "right"],
        ),
        (BROKEN, corner(), corner(), [[*range(-500, -99, 100)], [*range(0, 501, 100)]],
         ["left", "right"]),
    ],
)  # fmt: skip
def test_pieces_go_on_into_the_arcs(monkeypatch, pieces, left, right, runs, sides):
    line = rear_line(monkeypatch, pieces, left, right)
    assert [run[:, 1].tolist() for run in line.runs] == runs
    assert [piece.side for piece in line.pieces] == sides
    assert len(line.point_status) == len(line.points) == len(line.wad)
    # Distances of the line itself stay with its points; those of the arcs are worked out.
    own = {-500.0 + 100.0 * k: float(k) for k in range(11)}
    assert line.wad == tuple(own.get(y, -1.0) for y in line.points[:, 1].tolist())


def test_a_line_that_lies_outside_of_both_arcs_is_the_arcs(monkeypatch):
    far = (Piece(0, 2, "left"), Piece(9, 11, "right"))
    line = rear_line(monkeypatch, far, corner(0.0, 60.0), corner(0.0, 50.0))
    assert line.points[:, 1].tolist() == [-60.0, 0.0, 0.0, 50.0]
    assert [(piece.start, piece.stop) for piece in line.pieces] == [(0, 4)]
