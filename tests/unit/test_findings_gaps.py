"""Gap findings on fronts drawn out straight across, with lengths known from plane geometry."""

from __future__ import annotations

import math

from corner_fronts import corner_nose, lined
from finding_sides import check_sides

from frontcheck.findings.finding import Finding
from frontcheck.findings.finding_rules import GAP_RULES
from frontcheck.findings.gaps import gap_findings
from frontcheck.findings.hard_points import head_contact
from frontcheck.front.beside import HardPoint
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import LinedFront, line_up
from frontcheck.surface.section import Section
from frontcheck.zones.build import zones_of
from frontcheck.zones.front_zones import FrontZones, ZoneOptions

RISE = math.radians(8.0)
# A sphere of radius 82.5 between bonnet (8 deg) and windscreen (35 deg) rests so far ahead of it.
SPHERE = 82.5 * math.tan(math.radians((35.0 - 8.0) / 2.0))


def zones(of: LinedFront) -> FrontZones:
    return zones_of(of, ZoneOptions(cut_mm=100.0))


def gaps(of: LinedFront, *points: HardPoint):
    return gap_findings(of, head_contact(of, zones(of), points))


def front(length: float = 1500.0, height: float = 800.0, half_width: float = 760.0) -> LinedFront:
    """Nose with BRRL at WAD height + length."""
    run = (length + SPHERE) * math.cos(RISE)
    return lined(
        *(corner_nose(height, bonnet_length=run, y=y) for y in (0.0, 300.0, half_width)),
        symmetric=True,
    )


def only(findings: tuple[Finding, ...], code: str) -> Finding:
    (found,) = [f for f in findings if f.code == code]
    return found


def test_no_adult_area_where_the_bonnet_ends_before_it() -> None:
    # Adult area from WAD 1700; it needs BRRL beyond 1782.5.
    (found,) = check_sides(
        "GAP-NO-HEAD-AREA", gaps(front(length=980.0)), gaps(front(length=1100.0))
    )
    assert "adult" in found.message
    assert found.station is None


def test_area_that_cannot_be_formed_is_told_apart_from_none() -> None:
    alone = gaps(lined(corner_nose(800.0)))
    messages = [f.message for f in alone if f.code == "GAP-NO-HEAD-AREA"]
    assert len(messages) == 2
    assert all("could not be formed: there is one station only" in text for text in messages)


def test_area_between_two_rows_of_the_grid() -> None:
    # Grid rows every 100 mm; WAD 1700 goes to the child, the adult area ends short of 1800.
    inside = gaps(front(length=1500.0))  # up to WAD 2100
    narrow = gaps(front(length=950.0 + 82.5))  # up to WAD 1750
    (found,) = check_sides("GAP-NO-GRID-POINT", narrow, inside)
    assert "50 mm along the tape" in found.message


def below(wad: float, depth: float = 30.0, y: float = 0.0) -> HardPoint:
    """Straight below the skin of the 800 mm nose at a wrap-around distance."""
    s = wad - 800.0
    return HardPoint(s * math.cos(RISE), y, 800.0 + s * math.sin(RISE) - depth, "box", "lid")


def test_hard_point_under_no_headform_area() -> None:
    of = front()
    ahead, inside = gaps(of, below(900.0)), gaps(of, below(1300.0))
    (found,) = check_sides("GAP-HARD-POINT", ahead, inside)
    assert "no headform area" in found.message
    assert "GAP-HARD-POINT" in {f.code for f in gaps(of, below(1300.0, y=800.0))}
    assert (
        "beyond the outermost stations"
        in only(gaps(of, below(1300.0, y=800.0)), "GAP-HARD-POINT").message
    )


def test_hard_points_need_a_common_datum() -> None:
    sections = tuple(corner_nose(800.0, bonnet_length=1500.0, y=y) for y in (0.0, 300.0, 760.0))
    of = line_up(Front(sections, datum="local"), "UN-R127-02")
    found = only(gaps(of, below(1300.0)), "GAP-HARD-POINT")
    assert "datum: local" in found.message


def test_missing_line() -> None:
    whole = front()
    points = corner_nose(800.0, bonnet_length=1500.0).points[:-2]
    bare = lined(
        *(Section(points, y, ["underside", "bumper", "bonnet", "bonnet"]) for y in (0.0, 760.0)),
        symmetric=True,
    )
    (found,) = check_sides("GAP-LINE-MISSING", gaps(bare), gaps(whole))
    assert found.message.startswith("BRRL could not be formed at y = 0 to 760 mm")
    assert "(either side), 2 stations: no point is labelled" in found.message
    assert bare.stations[0].BRRL.reason in found.message


def test_gaps_judge_nothing() -> None:
    for rule in GAP_RULES.values():
        assert rule.topic == "gap"
        assert "injur" not in rule.meaning
