"""Every reason that a line can give, each from a small front whose line has a closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import pytest

import frontcheck as fc
from frontcheck.lines.line_values import REASONS

T50, T40 = (math.tan(math.radians(deg)) for deg in (50, 40))
UN, EU = "UN-R127-02", "EU-631-2009"
NOSE = [(300, 200), (0, 300), (0, 700), (900, 800)]
GLASS = ["bumper", "bumper", "bonnet", "windscreen", "windscreen"]


def glazed(bonnet: float = 900.0, glass: float = 600.0) -> list[tuple[float, float]]:
    """An upright face, a level bonnet, and a windscreen at 45 deg."""
    return [(300, 200), (0, 300), (0, 700), (bonnet, 700), (bonnet + glass, 700 + glass)]


@dataclass(frozen=True)
class Case:
    """A front, one of its lines, and what is said of it."""

    line: str
    points: list[tuple[float, float]]
    status: str
    reason: str
    at: tuple[float, float] | None
    parts: list[str] | None = None
    rules: str = UN
    ys: tuple[float, ...] = (0.0,)
    options: dict[str, bool] = field(default_factory=dict)
    datum: str = "common"


CASES = {
    # UN R127 02 series, 2.38: 700 mm long, 20 deg: its upper end is 657.8 mm high.
    "reach ends": Case(
        "UBRL", [(300, 200), (0, 300), (0, 700), (300, 800)], "edge_end",
        "the straight edge touches with its end: what lies beyond its reach may stand farther out",
        (0.0, 700 * math.cos(math.radians(20))),
    ),
    # 2.7: the lower end of the edge is 600 mm high; nothing above stands ahead of it.
    "lower end": Case(
        "BLERL", [(300, 200), (0, 400), (300, 620), (1500, 700)], "lower_end",
        "the lower end of the edge touches first; that contact is the line",
        (300 * 200 / 220, 600.0),
    ),
    # 2.7: at 50 deg an upright face meets the upper end; the line is where the tape reads 1000.
    "upper end": Case(
        "BLERL", [(300, 200), (0, 300), (0, 1400), (500, 1500)], "wad_1000",
        "the upper end of the edge touches first; the line is the WAD point that the rules name",
        (0.0, 1000.0),
    ),
    # 2.7: a stretch that leans 50 deg is touched all along; at 40 deg its lower end is.
    "taken again": Case(
        "BLERL", [(300, 200), (0, 300), (0, 700), (100 * T50, 800), (1500, 850)], "retaken_40deg",
        "contact at the first inclination is continuous or multiple; taken again at the second",
        (0.0, 700.0),
    ),
    # Reading: of a stretch that leans 40 deg, touched all along too, the top.
    "uppermost": Case(
        "BLERL",
        [(300, 200), (0, 300), (0, 700), (100 * T40, 800), (100 * T40 + 100 * T50, 900),
         (1800, 950)],
        "retaken_40deg",
        "contact is continuous or multiple at both inclinations; the uppermost touch is taken",
        (100 * T40, 800.0),
    ),
    "beyond reach": Case(
        "UBRL", [(300, 800), (0, 900), (0, 1100), (300, 1200)], "not_reached",
        "no part of the contour that counts lies within the reach of the straight edge", None,
    ),
    # The edge of 2.7 reaches 1242.8 mm, a foremost point without labels is sought up to 1000 mm.
    "no tape": Case(
        "BLERL", [(0, 1050), (0, 1500), (300, 1600)], "not_reached",
        "the upper end of the edge touches first, but the tape does not reach that WAD point", None,
    ),
    # 2.8: a sphere of 165 mm falls between a bonnet and a windscreen 166 mm behind it.
    "falls through": Case(
        "BRRL",
        [(300, 200), (0, 300), (0, 700), (900, 700), (905, 500), (1066, 500), (1066, 700),
         (1500, 1134)],
        "not_reached", "no sphere rests on windscreen and front structure at once there", None,
        ["bumper", "bumper", "bonnet", "bonnet", "pillar", "pillar", "windscreen", "windscreen"],
        ys=(-400.0, 0.0, 400.0),
    ),
    "no windscreen": Case(
        "BRRL", NOSE, "not_available",
        "no point is labelled windscreen, so the sphere cannot be kept on it", None,
        ys=(-400.0, 0.0, 400.0),
    ),
    # Tape: 700 mm up the face and 1400 along the bonnet; the sphere would touch at 1465.8.
    "beyond the cap": Case(
        "BRRL", glazed(bonnet=1500.0), "ok",
        "the sphere would rest beyond the WAD at which these rules cap the line", (1400.0, 700.0),
        GLASS, EU, ys=(-400.0, 0.0, 400.0),
    ),
    # 2.26: the edge leans 25 deg forward; the foremost of x + z tan 25 is the underside's.
    "underside": Case(
        "LBRL", [(600, 150), (60, 160), (70, 400), (0, 500), (0, 600), (300, 800)],
        "underside_first",
        "the edge would touch the underside first, which is no bumper; the line is on the bumper",
        (0.0, 500.0), ["underside", "underside", "bumper", "bumper", "bumper", "bonnet"],
    ),
    # The windscreen ends below the place where the sphere of 2.8 would touch it.
    "glass ends": Case(
        "BRRL", glazed(glass=10.0), "open_end",
        "the sphere touches where the measured surface ends: what lies beyond may be touched first",
        None, GLASS, ys=(-400.0, 0.0, 400.0),
    ),
    "one section": Case(
        "BRRL", glazed(), "not_available",
        "the sphere rests in space on windscreen and front structure: one section does not tell "
        "where", None, GLASS,
    ),
    "local datums": Case(
        "BRRL", glazed(), "not_available",
        "the sphere rests in space, and stations from local datums do not tell the plan shape",
        None, GLASS, ys=(-400.0, 0.0, 400.0), datum="local",
    ),
    # Own choice: straight on from an end for up to 500 mm, up to 30 deg either way.
    "lower end open": Case(
        "LBRL", [(0, 300), (0, 600), (300, 800)], "open_end",
        "open end: what lies beyond the lower end of the contour could change it, so it is not "
        "known; measure farther along the underside", (0.0, 300.0),
    ),
    "rear end open": Case(
        "UBRL", [(300, 200), (0, 300), (0, 600)], "open_end",
        "open end: what lies beyond the rear end of the contour could change it, so it is not "
        "known; measure farther up and rearward", (0.0, 600.0),
    ),
    "either end open": Case(
        "UBRL", [(0, 500), (0, 550), (0, 600)], "open_end",
        "open end: what lies beyond either end of the contour could change it, so it is not "
        "known; measure farther along the underside, and farther up and rearward", (0.0, 600.0),
    ),
    "not seen": Case(
        "LBRL", [(300, 200), (0, 300), (0, 700), (300, 800)], "open_end",
        "open end: the lower lip is not seen from the side, but the lowest of all stations; "
        "measure it", (0.0, 300.0), options={"silhouette": True},
    ),
}  # fmt: skip


def test_every_reason_has_a_case():
    assert {case.reason for case in CASES.values()} == set(REASONS) - {""}


@pytest.mark.parametrize("name", CASES)
def test_line_says_why(name):
    case = CASES[name]
    sections = [fc.Section(case.points, y, case.parts, **case.options) for y in case.ys]
    station = fc.screen(fc.Front(sections, datum=case.datum), case.rules).station(0.0)
    line = getattr(station, case.line)
    assert (line.status, line.reason) == (case.status, case.reason)
    if line.formed and case.at is not None:
        assert (line.x, line.z) == pytest.approx(case.at, abs=1e-6)
    assert line.formed == (case.at is not None or name == "glass ends")
    assert (line.point is None) == (not line.formed)
