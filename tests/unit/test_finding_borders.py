"""What a finding is, on the borders: runs, ties, missing lines, patches, order.

Sections here are one straight line at z = 100, so that a length along the contour is a setback.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from corner_fronts import corner_nose, lined
from scipy.sparse.csgraph import connected_components
from scipy.spatial.distance import cdist

from frontcheck import Front, screen
from frontcheck.findings.catalogue import _doubted, _spread, closure_findings
from frontcheck.findings.finding import (
    Finding,
    Hit,
    Region,
    beyond,
    hits,
    in_order,
    line_region,
    merged,
    patches,
    runs,
    stations_text,
    stretch_of,
    told,
)
from frontcheck.findings.finding_rules import RULES
from frontcheck.front.survey import MeasuredCheck
from frontcheck.sure.closure import Closure
from frontcheck.surface.section import Section

RULE = RULES["HEAD-SHARP-BEND"]  # told where a value is less than 82.5
FLAT = [(0.0, 100.0), (500.0, 100.0), (2000.0, 100.0)]


def at(x: float | None) -> SimpleNamespace:
    return SimpleNamespace(x=x, z=None if x is None else 100.0)


def station(y: float, lower=400.0, upper=600.0, edge=900.0, rear=1500.0, start=1, open_ends=()):
    marks = {"LBRL": at(lower), "UBRL": at(upper), "BLERL": at(edge), "BRRL": at(rear)}
    return SimpleNamespace(y=y, tape_start=start, open_ends=open_ends, **marks)


def front(*stations, symmetric=False, silhouette=False):
    """Stations of a front whose sections are all alike."""
    of = SimpleNamespace(
        symmetric=symmetric, silhouette=silhouette, section=lambda y: Section(FLAT, y)
    )
    by_y = {one.y: one for one in stations}
    return SimpleNamespace(front=of, stations=stations, station=by_y.__getitem__)


def finding(arc=None, outline=(), y: float | None = 0.0, rule=RULE, name="here", **other):
    return Finding(rule, Region(name, arc, outline), y, None, "It is said.", "settled", **other)


def hit(value: float, start=(10.0, 100.0), end=(10.0, 100.0), person="") -> Hit:
    return Hit(RULE, value, 82.5, 82.5 - value, start, end, f"radius {value:g} mm", person)


# --- findings and hits -------------------------------------------------------------


def test_where_a_finding_holds_is_where_it_is_drawn_or_else_its_station() -> None:
    outline = ((0.0, 300.0, 1.0), (0.0, -100.0, 1.0), (5.0, 300.0, 2.0))
    assert finding(outline=outline, y=300.0).stations == (-100.0, 300.0)
    assert finding(y=250.0).stations == (250.0,)
    assert finding(y=0.0).stations == (0.0,)
    assert finding(y=None).stations == ()
    assert finding(y=None).aside is False


def test_a_limit_is_the_own_one_first_and_a_statement_has_no_margin() -> None:
    plain = finding()
    assert (plain.limit, plain.margin) == (82.5, None)
    assert replace(plain, value=80.0).margin == 2.5
    own = replace(plain, value=80.0, threshold=70.0)
    assert (own.limit, own.margin) == (70.0, -10.0)
    nought = replace(plain, value=0.0, threshold=0.0)
    assert (nought.limit, nought.margin) == (0.0, 0.0)
    open_rule = replace(RULE, threshold=None)
    assert replace(plain, rule=open_rule, value=1.0).margin is None


@pytest.mark.parametrize(
    ("comparison", "value", "margin", "fires"),
    [
        ("<", 9.5, 0.5, True), ("<", 10.0, 0.0, False), ("<", 12.0, -2.0, False),
        (">", 12.0, 2.0, True), (">", 10.0, 0.0, False), (">", 4.0, -6.0, False),
        ("<=", 10.0, 0.0, True), (">=", 10.0, 0.0, True), ("<=", 10.5, -0.5, False),
        ("is", 10.0, 0.0, True),
    ],
)  # fmt: skip
def test_a_border_belongs_to_what_says_so(comparison, value, margin, fires) -> None:
    assert beyond(comparison, value, 10.0) == margin
    rule = replace(RULE, comparison=comparison)
    found = list(hits(rule, value, 10.0, (1.0, 2.0), (3.0, 4.0), "said", "somebody"))
    wanted = [Hit(rule, value, 10.0, margin, (1.0, 2.0), (3.0, 4.0), "said", "somebody")]
    assert found == (wanted if fires else [])


@pytest.mark.parametrize(
    ("comparison", "value", "margin"),
    [
        ("within", 4.0, 1.0), ("within", 9.0, 1.0), ("within", 5.0, 2.0), ("within", 2.0, -1.0),
        ("outside", 12.0, 2.0), ("outside", 1.0, 2.0), ("outside", 4.0, -1.0),
    ],
)  # fmt: skip
def test_between_two_thresholds_the_nearer_one_counts(comparison, value, margin) -> None:
    assert beyond(comparison, value, (3.0, 10.0)) == margin


def test_runs_of_flags_are_those_of_a_plain_count() -> None:
    rng = np.random.default_rng(3)
    for n in range(9):
        flags = (rng.random(n) < 0.6).tolist()
        plain, first = [], None
        for i, flag in enumerate([*flags, False]):
            if flag and first is None:
                first = i
            elif not flag and first is not None:
                plain.append((first, i - 1))
                first = None
        assert runs(flags) == plain
    assert runs([True, True, False, True]) == [(0, 1), (3, 3)]


@pytest.mark.parametrize(
    ("ys", "whole", "half"),
    [
        ([0.0], "at y = 0 mm", "at y = 0 mm"),
        ([300.0], "at y = 300 mm", "at y = 300 mm (either side)"),
        ([0.0, 300.0], "at y = 0 to 300 mm", "at y = 0 to 300 mm (either side)"),
        ([-300.0, 0.0], "at y = -300 to 0 mm", "at y = -300 to 0 mm (either side)"),
    ],
)
def test_stations_in_words(ys, whole, half) -> None:
    assert stations_text(ys) == whole
    assert stations_text(ys, front(station(0.0)).front) == whole
    assert stations_text(ys, front(station(0.0), symmetric=True).front) == half


def test_a_run_is_told_by_its_clearest_place_and_where_a_tool_is_aimed_first() -> None:
    of = front(*(station(y) for y in (0.0, 100.0, 200.0, 300.0)))
    other = Hit(RULES["HEAD-NEAR-NORMAL"], 1.0, 15.0, 14.0, (0.0, 0.0), (0.0, 0.0), "other")
    found = [[hit(60.0), other], [hit(40.0, person="a"), hit(50.0)], [], [hit(40.0)]]
    first, second = told(of, [RULE], found)
    assert first.ys == [0.0, 100.0]
    assert (first.station.y, first.worst.person, first.spread) == (100.0, "a", (40.0, 60.0))
    assert (second.ys, second.station.y) == ([300.0], 300.0)
    aimed, _ = told(of, [RULE], found, before={0.0})
    assert (aimed.station.y, aimed.worst.value) == (0.0, 60.0)
    # Of those alike the first is told.
    tie, _ = told(of, [RULE], [[hit(40.0)], [hit(40.0)], [], [hit(1.0)]])
    assert tie.station.y == 0.0


def test_neighbours_are_merged_in_one_message() -> None:
    of = front(*(station(y) for y in (0.0, 100.0, 200.0)))
    ends = {"start": (10.0, 100.0), "end": (70.0, 100.0)}
    found = [[hit(50.0, **ends)], [], [hit(60.0)]]
    two, one = merged(of, RULE, "lid", found, "Bent", lambda y: f"test at {y:g}")
    assert two.message == "Bent at y = 0 mm; here: radius 50 mm."
    assert two.region == Region("lid", (10.0, 70.0), ((10.0, 0.0, 100.0), (70.0, 0.0, 100.0)))
    assert (one.settled_by, one.threshold, one.value, one.spread) == (
        "test at 200", 82.5, 60.0, (60.0, 60.0),
    )  # fmt: skip
    assert one.region == Region("lid", (10.0, 10.0), ((10.0, 200.0, 100.0),))
    (long,) = merged(
        of, RULE, "lid", [[hit(50.0)], [hit(40.0)], [hit(60.0)]], "Bent", lambda y: f"test at {y:g}"
    )
    assert long.message == "Bent at y = 0 to 200 mm; clearest at y = 100 mm: radius 40 mm."
    assert (long.station, long.spread) == (100.0, (40.0, 60.0))


def test_a_region_runs_from_the_lower_to_the_higher_length() -> None:
    section = Section(FLAT)
    region = line_region("here", section, (900.0, 90.0), (300.0, 120.0))
    assert region == Region("here", (300.0, 900.0), ())


@pytest.mark.parametrize("seed", range(6))
def test_patches_are_the_parts_of_a_graph_of_neighbours(seed: int) -> None:
    """Neighbours are no farther apart than the spacing either way, corners counted."""
    rng = np.random.default_rng(seed)
    grid = np.array([(i, j) for i in range(7) for j in range(6)]) * 50.0
    places = rng.permutation(grid)[:18]
    near = cdist(places, places, "chebyshev") <= 50.0 + 0.3
    _, label = connected_components(near)
    plain = sorted(np.flatnonzero(label == k).tolist() for k in range(label.max() + 1))
    assert patches(places, 50.0) == plain


def test_points_hardly_farther_apart_than_the_grid_are_neighbours() -> None:
    """Own choice: one in a hundred for rounding."""
    line = np.array([(0.0, 0.0), (50.4, 0.0), (50.4, 101.0)])
    assert patches(line, 50.0) == [[0, 1], [2]]
    assert patches(line[:2] * [50.6 / 50.4, 1.0], 50.0) == [[0], [1]]
    assert patches(line[:0], 50.0) == []
    assert patches(np.array([(0.0, 0.0), (1.01 * 50.0, 0.0)]), 50.0) == [[0, 1]]


# --- stretches and order -----------------------------------------------------------

BELOW, BUMPER, FACE, EDGE, BONNET, REAR, WHOLE = (
    "below the bumper", "bumper", "bumper to leading edge", "leading edge", "bonnet",
    "bonnet rear and windscreen", "whole front",
)  # fmt: skip


@pytest.mark.parametrize(
    ("arc", "missing", "stretch"),
    [
        (398.9, (), BELOW), (399.0, (), BUMPER), (601.0, (), BUMPER), (601.1, (), FACE),
        (898.9, (), FACE), (899.0, (), EDGE), (901.0, (), EDGE), (901.1, (), BONNET),
        (1499.0, (), BONNET), (1499.1, (), REAR), (1600.0, ("rear",), BONNET),
        (901.1, ("edge",), FACE), (1499.1, ("edge",), REAR), (700.0, ("upper", "edge"), BUMPER),
        (700.0, ("upper",), BUMPER), (100.0, ("lower",), BUMPER), (100.0, ("edge", "rear"), BELOW),
        (1800.0, ("lower", "upper", "edge", "rear"), BUMPER),
    ],
)  # fmt: skip
def test_a_stretch_reaches_one_mm_about_its_line(arc, missing, stretch) -> None:
    of = front(station(0.0, **dict.fromkeys(missing)))
    assert stretch_of(of, finding((arc - 30.0, arc + 30.0))) == stretch


def test_lines_of_a_stretch_lie_at_their_height() -> None:
    """A plumb face of 500 mm, then a level bonnet: lengths are heights and then setbacks."""
    of = front(station(0.0))
    of.front.section = lambda y: Section([(0.0, 100.0), (0.0, 600.0), (900.0, 600.0)], y)
    heights = {"LBRL": 300.0, "UBRL": 400.0, "BLERL": 550.0}
    for name, z in heights.items():
        setattr(of.stations[0], name, SimpleNamespace(x=0.0, z=z))
    of.stations[0].BRRL = SimpleNamespace(x=700.0, z=600.0)
    arcs = {150.0: BELOW, 250.0: BUMPER, 400.0: FACE, 450.0: EDGE, 1190.0: BONNET, 1210.0: REAR}
    assert {arc: stretch_of(of, finding((arc, arc))) for arc in arcs} == arcs


def test_what_has_no_place_concerns_the_whole_front() -> None:
    of = front(station(0.0), station(300.0, edge=100.0))
    assert stretch_of(of, finding()) == WHOLE
    assert stretch_of(of, finding((10.0, 20.0), y=None)) == WHOLE
    # An arc is that of its own station; an outline lies at the station nearest to its middle.
    assert stretch_of(of, finding((640.0, 660.0), y=300.0)) == BONNET
    spots = ((600.0, 290.0, 100.0), (700.0, 250.0, 130.0))
    assert stretch_of(of, finding(outline=spots, y=None)) == BONNET
    assert stretch_of(of, finding(outline=((650.0, 140.0, 100.0),), y=None)) == FACE
    half = front(*of.stations, symmetric=True)
    assert stretch_of(half, finding(outline=((650.0, -300.0, 100.0),), y=None)) == BONNET


@pytest.mark.parametrize(
    ("ys", "symmetric", "places"),
    [
        # Place, and the station whose lines tell its stretch; of two as near the inner one.
        ((-580, -300, 0, 300, 580), False,
         {-580: -580, 580: 580, -400: -300, 400: 300, -150: 0, 150: 0, -2000: -580, 10: 0}),
        ((0, 300, 580), True, {-580: 580, 580: 580, -400: 300, -150: 0, 150: 0, 10: 0}),
        ((-580, -300, 0), True, {-580: -580, 580: -580, 400: -300, -150: 0, 150: 0, 10: 0}),
        ((-580, -300, 0), False, {580: 0, -580: -580}),
    ],
)  # fmt: skip
def test_a_place_has_the_lines_of_the_nearest_station(ys, symmetric, places) -> None:
    """Each station in turn is the only one whose leading edge lies ahead of the place."""
    for place, own in places.items():
        spot = finding(outline=((650.0, float(place), 100.0),), y=None)
        stretches = {}
        for marked in ys:
            edges = {y: 100.0 if y == marked else 900.0 for y in ys}
            of = front(*(station(float(y), edge=edges[y]) for y in ys), symmetric=symmetric)
            stretches[marked] = stretch_of(of, spot)
        assert stretches == {y: BONNET if y == own else FACE for y in ys}, place


def test_order_is_stretch_then_place_then_name_then_station_then_code() -> None:
    """Regions of one name stay together where the foremost of them stands."""
    of = front(station(0.0, start=1), station(300.0, start=0))
    rows = [
        finding((0.0, 10.0), name="low"),
        finding((450.0, 460.0), name="b"),
        finding((560.0, 570.0), name="b", y=300.0),
        finding((480.0, 490.0), name="a"),
        finding((480.0, 490.0), name="a", rule=RULES["LEG-KNEE-FIRST"]),
        finding((480.0, 490.0), name="a", rule=RULES["LEG-KNEE-FIRST"], person="man"),
        finding((700.0, 720.0), name="c"),
        finding(name="all", y=300.0),
        finding(name="all", y=None),
    ]
    again = [rows[i] for i in np.random.default_rng(1).permutation(len(rows))]
    assert in_order(of, again) == tuple(rows)
    assert in_order(of, rows[::-1]) == tuple(rows)
    # Lengths count from where the tape starts: at station 300 from 0, at the centre from 500 mm.
    own = [finding((540.0, 550.0), name="z"), finding((410.0, 420.0), name="y", y=300.0)]
    assert in_order(of, own[::-1]) == tuple(own)


# --- findings of a whole front -----------------------------------------------------


@pytest.mark.parametrize(
    ("ys", "kept"),
    [
        ([0, 10, 20, 30, 40, 45], [0, 20, 40, 45]),
        ([-45, -40, -30, -20, -10, 0, 10], [-45, -40, -20, 0, 10]),
        ([5, 24.9, 25, 44], [5, 25, 44]),
        ([-30, -9, 8, 27.9, 28, 60], [-30, 8, 28, 60]),
        ([0, 20, 40], [0, 20, 40]),
        ([-41, -20, 0, 10, 20], [-41, -20, 0, 20]),
    ],
)
def test_close_stations_are_left_out_from_the_middle_outward(ys, kept) -> None:
    """Own choice: none closer than 20 mm, but the outermost and those that are asked for."""
    of = lined(*(corner_nose(800.0, y=float(y)) for y in ys))
    spread = _spread(of, ())
    assert [s.y for s in spread.stations] == [s.y for s in spread.front.sections] == kept
    assert len(spread.batch.anchor_x) == len(kept)
    asked = _spread(of, (float(ys[1]),))
    assert [s.y for s in asked.stations] == sorted({*kept, ys[1]})


def doubted(outline, y, *stations, symmetric=False, silhouette=False, code="LEG-SHORT-LEAD"):
    of = front(*stations, symmetric=symmetric, silhouette=silhouette)
    return _doubted(finding(outline=outline, y=y, rule=RULES[code]), of)


def test_what_rests_on_an_open_end_says_so_and_is_no_line_where_all_of_it_does() -> None:
    ends = [station(0.0), station(100.0, open_ends=("BLERL",)), station(200.0, open_ends=("LBRL",))]
    both = ((1.0, 0.0, 2.0), (1.0, 100.0, 2.0))
    part = doubted(both, 100.0, *ends)
    assert part.message == (
        "It is said (open end: BLERL at y = 100 mm: what lies beyond the measured surface could "
        "change it)."
    )
    assert part.aside is False
    assert doubted(both[1:], 100.0, *ends).aside is True
    assert doubted((), 100.0, *ends).aside is True
    row = [station(100.0 * i, open_ends=("UBRL",) if i != 1 else ()) for i in range(5)]
    many = doubted(tuple((1.0, 100.0 * i, 2.0) for i in range(5)), 0.0, *row)
    assert "(open end: UBRL at y = 0, 200 to 400 mm: what lies" in many.message
    assert many.aside is False
    two = doubted((), 0.0, station(0.0, open_ends=("UBRL", "BLERL")))
    assert "(open end: UBRL at y = 0 mm; BLERL at y = 0 mm: what lies" in two.message
    # LBRL does not change the lead, and a sound station has no doubt.
    for y in (0.0, 200.0):
        assert doubted((), y, *ends).message == "It is said."
    # On a half front either side is the same.
    mirrored = doubted(((1.0, -100.0, 2.0),), -100.0, ends[1], symmetric=True)
    assert "BLERL at y = 100 mm" in mirrored.message
    alone = doubted(((1.0, -100.0, 2.0),), -100.0, ends[1])
    assert alone.message == "It is said."


@pytest.mark.parametrize("opened", [(), (0,), (300,), (0, 300), (0, 300, 580)])
@pytest.mark.parametrize("held", [(0,), (300,), (0, 300), (300, 580)])
def test_an_open_end_weighs_as_much_on_a_half_front_as_on_the_whole_one(opened, held) -> None:
    """No line of an answer where all of it rests on open ends, whichever side was measured."""

    def aside(ys, symmetric, at):
        stations = [station(y, open_ends=("UBRL",) * (abs(y) in opened)) for y in ys]
        outline = tuple((1.0, float(y), 2.0) for y in at)
        return doubted(outline, float(at[-1]), *stations, symmetric=symmetric).aside

    right = [0.0, 300.0, 580.0]
    left = [0.0 - y for y in reversed(right)]
    other = [-y for y in held]
    wanted = set(held) <= set(opened)
    assert aside([*left[:-1], *right], False, sorted({*held, *other})) is wanted
    for ys in (right, left):
        for at in (held, other):
            assert aside(ys, True, at) is wanted


def test_nothing_low_above_an_open_end_is_no_line_of_a_half_front_either() -> None:
    points = [(0, 300), (0, 600), (900, 900)]
    half = Front((Section(points, 0.0), Section(points, 300.0)), symmetric=True)
    for of in (half, half.full()):
        found = screen(of)
        (low,) = (f for f in found.findings if f.code == "LEG-NOTHING-LOW")
        assert "open end: LBRL" in low.message
        assert low.aside is True
        assert "LEG-NOTHING-LOW" not in {
            code for line in found.answer.lines for code in line.findings
        }


def test_a_check_that_disagrees_is_told_in_its_uncertainties() -> None:
    """JCGM 100:2008, coverage factor 2 (from memory): (530 - 520.5) / hypot(3, 2) = 2.63."""
    far, near, unknown = (
        Closure(MeasuredCheck("edge", y, value, 3.0, "BLERL"), computed, 2.0)
        for y, value, computed in ((-300.0, 520.5, 530.0), (0.0, 523.0, 530.0), (0.0, 5.0, None))
    )
    (finding,) = closure_findings(SimpleNamespace(closures=(near, far, unknown)))
    assert finding.message == (
        "BLERL height at y = -300 mm: 520.5 mm measured, 530.0 mm from the offsets, 2.6 times "
        "their combined standard uncertainty of 3.6 mm apart; more than 2 times asks for a second "
        "look at both."
    )
    assert finding.settled_by == "measuring station y = -300 mm and the check again"
    assert (finding.station, finding.region.name) == (-300.0, "BLERL height")
    assert finding.value == pytest.approx(9.5 / np.hypot(3.0, 2.0))


def test_what_an_outline_hides_is_said_to_be_read_off_it() -> None:
    seen = doubted((), 0.0, station(0.0), silhouette=True, code="LEG-UNDERCUT")
    assert seen.message == (
        "It is said (read off the outline: recess and lower lip are not seen from the side)."
    )
    assert seen.aside is True
    for silhouette, code in ((False, "LEG-UNDERCUT"), (True, "LEG-SHORT-LEAD")):
        plain = doubted((), 0.0, station(0.0), silhouette=silhouette, code=code)
        assert (plain.message, plain.aside) == ("It is said.", False)
