"""Bumper test area, legforms along it and thirds: every reason, one side open or missing."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from frontcheck.lines.front_line import FrontLine, Pair, Piece, Spot
from frontcheck.lines.line_values import LineValues
from frontcheck.lines.station import legform_for
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.surface import NO_PART, Facets
from frontcheck.zones.bumper_area import between_lines, bumper_area, legform_runs
from frontcheck.zones.bumper_corners import Bumper, Heights
from frontcheck.zones.thirds import bumper_thirds, leading_edge_thirds

GAUGE, PLANE = rule_set("UN-R127-02"), rule_set("UN-R127-01")  # with the beam rule, and without
NO_BEAM = (
    "the beam ends are not given, so the area is by the corners alone; these rules want the wider "
    "of that and the beam"
)
NOT_USED = "rule set UN-R127-01 has no beam rule, so the beam ends are not used"
NOTHING = "the inboard distances leave nothing between the two sides"


def corner(y: float | None, status: str = "ok", reason: str = "", x: float = 0.0) -> Spot:
    return Spot("corner", status, None if y is None else (x, y, 500.0), reason)


def pair(left: float | None, right: float | None, **of_right: str) -> Pair:
    return Pair(corner(left), corner(right, **of_right))


# Corners less 42 mm either side, the beam less 42 mm (UN R127 02 series, 2.14, text read).
GONE = {"status": "not_available", "reason": "nothing was measured"}
OPEN = {"status": "open_end", "reason": "it ends"}
AREAS = {
    "corners": (pair(-500, 400), None, PLANE, (-458, 358), "corners", "ok", ""),
    "no beam given": (pair(-500, 400), None, GAUGE, (-458, 358), "corners", "ok", NO_BEAM),
    "beam of no use": (pair(-500, 400), (-600, 700), PLANE, (-458, 358), "corners", "ok", NOT_USED),
    "wider beam": (pair(-500, 400), (-430, 480), GAUGE, (-388, 438), "beam", "ok", ""),
    "wider corners": (pair(-500, 400), (-420, 470), GAUGE, (-458, 358), "corners", "ok", ""),
    "as wide": (pair(-500, 400), (-450, 450), GAUGE, (-458, 358), "corners", "ok", ""),
    "one corner open": (
        pair(-500, 400, **OPEN), (-430, 490), GAUGE, (-388, 448), "beam", "open_end",
        "corners: right: it ends",
    ),
    "one corner missing": (
        pair(-500, None, **GONE), (-430, 490), GAUGE, None, "", "not_available",
        "corners: right: nothing was measured",
    ),
    "missing, no beam": (
        pair(-500, None, **GONE), None, GAUGE, None, "", "not_available",
        f"{NO_BEAM}; corners: right: nothing was measured",
    ),
    "missing, beam of no use": (
        pair(-500, None, **GONE), (-9, 9), PLANE, None, "", "not_available",
        f"{NOT_USED}; corners: right: nothing was measured",
    ),
    "nothing left": (pair(-42, 42), None, PLANE, None, "corners", "not_available", NOTHING),
    "hardly anything left": (pair(-42.5, 42), None, PLANE, (-0.5, 0), "corners", "ok", ""),
    "too near": (
        pair(-40, 40, **OPEN), None, PLANE, None, "corners", "not_available",
        f"corners: right: it ends; {NOTHING}",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", AREAS)
def test_bumper_test_area(name: str) -> None:
    corners, beam, rules, ends, basis, status, reason = AREAS[name]
    area = bumper_area(corners, beam, rules)
    assert (area.basis, area.status, area.reason) == (basis, status, reason)
    if ends is None:
        assert (area.y_min, area.y_max, area.width) == (None, None, None)
    else:
        assert (area.y_min, area.y_max) == pytest.approx(ends)
        assert area.width == pytest.approx(ends[1] - ends[0])


def line(name: str, ys: list[float], z: float, x: float = 0.0) -> FrontLine:
    points = np.array([(x, y, z) for y in ys]).reshape(-1, 3)
    pieces = (Piece(0, len(ys), "both"),) if ys else ()
    return FrontLine(name, points, ("ok",) * len(ys), pieces, "ok")


def test_outline_of_the_bumper_test_area_is_carried_on_level() -> None:
    area = bumper_area(pair(-242, 342), None, PLANE)  # from -200 to 300
    lower, upper = line("LBRL", [-250, 0, 250], 300.0, 10.0), line("UBRL", [-200, 100, 300], 600.0)
    outline = between_lines(area, lower, upper)
    assert outline.points == (
        (10, -200, 300), (10, 0, 300), (10, 250, 300), (10, 300, 300),
        (0, 300, 600), (0, 100, 600), (0, -200, 600),
    )  # fmt: skip
    assert outline.wad == (None,) * 7
    for without in ((lower, line("UBRL", [], 0.0)), (line("LBRL", [], 0.0), upper)):
        assert between_lines(area, *without) is None
    assert between_lines(bumper_area(pair(None, 300), None, PLANE), lower, upper) is None


def along(z: list[float], formed: list[bool] | None = None) -> SimpleNamespace:
    """LBRL at heights, every 100 mm across."""
    count = len(z)
    code = np.where([True] * count if formed is None else formed, 0, 8)
    values = LineValues(code, np.zeros(count), np.array(z), np.zeros(count, dtype=int))
    lines = SimpleNamespace(LBRL=values)
    return SimpleNamespace(y=100.0 * np.arange(count), lines=lines, rules=GAUGE)


@pytest.mark.parametrize(
    ("z", "formed", "runs"),
    [
        # UN R127 02 series (text read): lower below 425 mm, either below 500, upper from there.
        ([400, 400], None, [(0, 100, "lower")]),
        ([425, 425], None, [(0, 100, "either")]),
        ([500, 500], None, [(0, 100, "upper")]),
        ([400, 525], None, [(0, 20, "lower"), (20, 80, "either"), (80, 100, "upper")]),
        ([525, 400], None, [(0, 20, "upper"), (20, 80, "either"), (80, 100, "lower")]),
        ([400, 425, 450], None, [(0, 100, "lower"), (100, 200, "either")]),
        ([450, 550, 600], None, [(0, 50, "either"), (50, 200, "upper")]),
        ([400, 450, 450, 400], [1, 1, 0, 1], [(0, 50, "lower"), (50, 100, "either"),
                                              (100, 300, None)]),
        ([400, 550], [1, 0], [(0, 100, None)]),
        ([550, 400], [0, 1], [(0, 100, None)]),
    ],
)  # fmt: skip
def test_legform_runs(z, formed, runs) -> None:
    found = legform_runs(along(z, formed))
    assert [run.legform for run in found] == [run[2] for run in runs]
    for one, (start, end, _) in zip(found, runs, strict=True):
        assert (one.y_from, one.y_to) == pytest.approx((start, end))


def test_legform_on_the_borders() -> None:
    """UN R127 02 series (text read): below 425 mm, from 425 to below 500, from 500 mm."""
    just = [legform_for(z, GAUGE) for z in (424.999, 425.0, 499.999, 500.0)]
    assert just == ["lower", "either", "either", "upper"]


# --- thirds --------------------------------------------------------------------------------


def block(y_low: float, y_high: float, low: float, high: float, x: float) -> np.ndarray:
    """An upright plate at x, in two facets."""
    a, b, c, d = ((x, y_low, low), (x, y_high, low), (x, y_low, high), (x, y_high, high))
    return np.array([(a, b, c), (b, d, c)])


def bumper(*plates: np.ndarray) -> Bumper:
    corners = np.concatenate(plates)
    return Bumper.of(Facets(corners, np.full(len(corners), NO_PART)), GAUGE)


LEVEL = Heights(np.array([-900.0, 900.0]), np.full(2, 300.0), np.full(2, 600.0))
NONE = Heights(np.empty(0), np.empty(0), np.empty(0))
MISSING = {
    "left": (Pair(corner(None, **GONE), corner(300)), LEVEL, "left: nothing was measured"),
    "right": (pair(-300, None, **GONE), LEVEL, "right: nothing was measured"),
    "crossed": (pair(300, -300), LEVEL, "the ends lie on each other"),
    "one place": (pair(0, 0), LEVEL, "the ends lie on each other"),
    "crossed and open": (pair(300, -300, **OPEN), LEVEL, "right: it ends"),
}


@pytest.mark.parametrize("name", MISSING)
def test_thirds_that_cannot_be_formed(name: str) -> None:
    ends, heights, reason = MISSING[name]
    side = bumper(block(0, 500, 200, 700, 0.0))
    for thirds in (
        bumper_thirds(side, side, heights, ends),
        leading_edge_thirds(np.array([(0.0, 0.0, 700.0)]), ends),
    ):
        assert (thirds.status, thirds.reason) == ("not_available", reason)
        assert (thirds.ends, thirds.cuts, thirds.length) == ((), (), None)


def test_thirds_of_a_bumper_without_lines() -> None:
    side = bumper(block(0, 500, 200, 700, 0.0))
    thirds = bumper_thirds(side, side, NONE, pair(-300, 300))
    assert (thirds.status, thirds.length) == ("not_available", None)
    assert thirds.reason == "LBRL and UBRL bound nothing"


def test_thirds_of_a_bumper_between_uneven_ends() -> None:
    """A plate from -300 to 360: 660 mm of tape, cut at -80 and 140; both sides are not alike.

    The lowest of the foremost places lies where LBRL crosses the plate: at 300 mm.
    """
    # No facet reaches from one line to the other; what lies above or below both stands farther out.
    plates = [block(0, 500, *z, x) for *z, x in
              ((200, 290, -50), (290, 450, 0), (450, 610, 0), (610, 700, -50))]  # fmt: skip
    left, right = bumper(*plates), bumper(*plates)
    ends = Pair(corner(-300), corner(360, **OPEN))
    thirds = bumper_thirds(left, right, LEVEL, ends)
    assert thirds.length == pytest.approx(660.0)
    assert [cut.point for cut in thirds.cuts] == [
        pytest.approx((0.0, -80.0, 300.0)), pytest.approx((0.0, 140.0, 300.0))
    ]  # fmt: skip
    assert [cut.name for cut in thirds.cuts] == ["bumper third"] * 2
    assert {thirds.status, *(cut.status for cut in thirds.cuts)} == {"open_end"}
    assert {thirds.reason, *(cut.reason for cut in thirds.cuts)} == {"right: it ends"}
    assert thirds.ends == (ends.left, ends.right)


def test_a_third_over_a_hollow_says_so_on_its_side_only() -> None:
    """On the right a plate 60 mm back from y = 50 to 290: the tape runs on at x = 0 over it.

    From -300 to 300 the tape is 600 mm long, cut at +-100; on the right there is nothing to lie on.
    """
    left = bumper(block(0, 300, 200, 700, 0.0))
    right = bumper(
        block(0, 50, 200, 700, 0.0), block(50, 290, 200, 700, 60.0), block(290, 300, 200, 700, 0.0)
    )
    thirds = bumper_thirds(left, right, LEVEL, pair(-300, 300, **OPEN))
    assert [cut.point[:2] for cut in thirds.cuts] == [
        pytest.approx((0, -100)), pytest.approx((0, 100))
    ]  # fmt: skip
    bridged = "right: it ends; the tape bridges a hollow there; the cut lies on the tape"
    assert [cut.reason for cut in thirds.cuts] == ["right: it ends", bridged]
    # Half a millimetre farther back than the tape is still on the surface: own choice.
    for back, said in ((0.49, "right: it ends"), (0.51, bridged)):
        right = bumper(
            block(0, 50, 200, 700, 0.0), block(50, 290, 200, 700, back),
            block(290, 300, 200, 700, 0.0),
        )  # fmt: skip
        thirds = bumper_thirds(left, right, LEVEL, pair(-300, 300, **OPEN))
        assert thirds.cuts[1].reason == said
        assert thirds.cuts[1].point[0] == pytest.approx(back if back < 0.5 else 0.0)


def test_thirds_of_a_leading_edge_round_a_corner() -> None:
    """A tape bent over (0, 0) in plan, 300 mm and then 600 mm long: cuts at 300 and at 600."""
    a, b = np.array([0.0, -300.0, 700.0]), np.array([0.0, 0.0, 700.0])
    end = b + 600.0 * np.array([0.5, math.sqrt(0.75), 0.0])
    behind = b + np.array([50.0, 20.0, 0.0])  # the tape does not go there
    row = np.array([(0.0, -400.0, 700.0), a, (20.0, -100.0, 700.0), b, behind, end, end + 1.0])
    ends = Pair(Spot("c", "ok", tuple(a)), Spot("c", "lower_end", tuple(end), "why"))
    thirds = leading_edge_thirds(row, ends)
    assert thirds.length == pytest.approx(900.0)
    assert thirds.cuts[0].point == pytest.approx(tuple(b))
    assert thirds.cuts[1].point == pytest.approx(tuple((b + end) / 2.0))
    assert [cut.name for cut in thirds.cuts] == ["leading edge third"] * 2
    assert (thirds.status, thirds.cuts[0].status, thirds.reason) == (
        "lower_end", "lower_end", "right: why"
    )  # fmt: skip
