"""500 random contours against slow references with shapely, scipy and bisection.

Source of the definitions: UN R127.02, 2.7, 2.8, 2.26, 2.38 and 2.43, and (EC) 631/2009 Annex
Part I 2.2 and 2.3 (texts read). The references in tests/references are written from
those definitions. Agreement asked for: 1e-6 mm, except where a reference is itself less
exact, which is said beside the check.
"""

from __future__ import annotations

import math
from collections import Counter
from functools import cache

import numpy as np
import pytest
from checks import Check, Source
from references import lines as slow
from references.edges import counted_line, slow_contact, slow_touches
from references.random_contours import KINDS, RandomContour, is_good, random_contours
from references.sphere import slow_sphere
from references.tape import SlowMark, SlowTape

from frontcheck.geometry.sphere import sphere_contact
from frontcheck.geometry.straight_edge import StraightEdge, edge_contact, touch_runs
from frontcheck.geometry.tape import TapePoint, TautTape
from frontcheck.geometry.tape_batch import rises_then_runs, tape_marks
from frontcheck.lines.bumper_lines import bumper_of, tape_anchor
from frontcheck.lines.line_values import STATUSES
from frontcheck.lines.section_lines import section_lines
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section

SLOW = Source(
    "slow references on shapely, scipy and bisection, in tests/references",
    where="written from UN R127.02, 2.7, 2.8, 2.26, 2.38, 2.43 and (EC) 631/2009, texts read",
    known="derived",
)
ROUNDING = "both are exact on the polyline: rounding of doubles only"
EDGE = Check(
    "contours-straight-edge",
    kind="independent method",
    quantity="contact, foot and touches of four straight edges on 500 random contours",
    unit="mm",
    source=SLOW,
    why=ROUNDING,
)
TAPE = Check(
    "contours-tape",
    kind="independent method",
    quantity="distance along a taut tape to every point of 500 and 250 random contours",
    unit="mm",
    source=SLOW,
    why=ROUNDING,
)
MARKS = Check(
    "contours-wrap-around",
    kind="independent method",
    quantity="how far wrap-around points at five distances are off on 500 random contours",
    unit="mm",
    source=SLOW,
    why="rounding, and 1e-7 in the distance of the reference, by how the contour grazes there",
)
LINES = Check(
    "contours-lines",
    kind="independent method",
    quantity="UBRL, LBRL, BLERL and foremost points of 500 random contours",
    unit="mm",
    source=SLOW,
    why="as above: rounding; where WAD 1000 is taken, how well the reference places it",
)
STATUS = Check(
    "contours-statuses",
    kind="independent method",
    quantity="how UBRL, LBRL and BLERL of 500 random contours were formed, by two editions",
    source=SLOW,
    why="words: the same on each contour",
)
SPHERE = Check(
    "contours-sphere",
    kind="independent method",
    quantity="how far the contact of a sphere on the windscreen is off on random contours",
    unit="mm",
    source=SLOW,
    why="rounding; at a grazing touch it moves the contact by sqrt(2 R 1e-12) = 1.3e-5 mm",
)

COUNT = 500
EXACT = slow.EXACT_MM
WADS = (300.0, 1000.0, 1500.0, 1700.0, 2100.0)
RADIUS = 82.5


@cache
def made() -> tuple[RandomContour, ...]:
    return tuple(random_contours(631, COUNT))


@cache
def batch() -> Contours:
    return Contours.of([Section(c.points, parts=c.labels) for c in made()])


@cache
def tapes() -> tuple[tuple[SlowTape, int], ...]:
    """Slow tapes from the slow foremost point, and the index to go up from."""
    out = []
    for contour in made():
        front = slow.foremost(contour)
        out.append((SlowTape(contour.points, front[0]), slow.start_index(contour, front)))
    return tuple(out)


@cache
def slow_marks() -> tuple[tuple[list[SlowMark], ...], ...]:
    return tuple(tuple(tape.solve(d, start) for d in WADS) for tape, start in tapes())


def limit(mark: SlowMark) -> float:
    """How well the reference places a mark [mm]: its distance is good to about 1e-7."""
    return EXACT + 1e-7 / max(abs(mark.slope), slow.GRAZING)


def test_contours_are_what_they_should_be():
    """Counted here, so that the agreement below is not one of easy cases only."""
    assert len(made()) == COUNT
    assert {c.kind for c in made()} == set(KINDS)
    assert all(is_good(c.points) for c in made())
    steps = [np.diff(c.points, axis=0) for c in made()]
    folds_back = sum(((s[:, 0] < 0) & (np.arange(len(s)) > 4)).any() for s in steps)
    falls = sum((s[:, 1] < 0)[3:].any() for s in steps)
    assert folds_back > 300
    assert falls > 300
    assert max(len(c.points) for c in made()) > 50
    assert {c.labelled for c in made()} == {"all", "some", "none"}


EDGES = [
    pytest.param(700.0, 20.0, 0.0, "upper", id="UBRL"),
    pytest.param(700.0, -25.0, 0.0, "lower", id="LBRL"),
    pytest.param(1000.0, 50.0, 600.0, "upper", id="BLERL 50"),
    pytest.param(1000.0, 40.0, 600.0, "upper", id="BLERL 40"),
]


@pytest.mark.parametrize("parts", [False, True], ids=["whole", "bumper"])
@pytest.mark.parametrize(("length", "lean", "foot", "take"), EDGES)
def test_straight_edge_by_bisection(length, lean, foot, take, parts):
    high = foot + length * math.cos(math.radians(lean))
    edge = StraightEdge.standing(length, lean, foot)
    counted = bumper_of(batch(), rule_set()).counted if parts else None
    got = edge_contact(batch().points, edge, take=take, counted=counted)
    touched = 0
    for i, contour in enumerate(made()):
        mask = counted[i, : len(contour.points)] if parts else None
        want = slow_contact(counted_line(contour.points, mask), lean, foot, high, take)
        assert got.touched[i] == want.touched, i
        if want.touched:
            touched += 1
            found = (got.x[i], got.z[i], got.foot_x[i], got.z_lowest[i], got.z_highest[i])
            expected = (want.x, want.z, want.foot_x, want.lowest, want.highest)
            EDGE.compare(expected, found, tolerance=EXACT, case=f"edge at {lean:g} deg, {i}")
    assert touched > 100


@pytest.mark.parametrize("lean", [50.0, 40.0])
def test_touch_runs_by_clipping(lean):
    """Lengths and distances of touches within 0.1 mm of the edge, by cutting with a strip."""
    high = 600.0 + 1000.0 * math.cos(math.radians(lean))
    edge = StraightEdge.standing(1000.0, lean, 600.0)
    touch = edge_contact(batch().points, edge)
    runs = touch_runs(batch().points, edge, touch, 0.1)
    several = 0
    for i, contour in enumerate(made()):
        if not touch.touched[i]:
            assert runs.count[i] == 0
            continue
        line = counted_line(contour.points, None)
        want = slow_touches(
            line, slow_contact(line, lean, 600.0, high, "upper"), lean, 600.0, high, 0.1
        )
        several += want.count > 1
        assert runs.count[i] == want.count, i
        found = (runs.longest[i], runs.spread[i], runs.top_x[i], runs.top_z[i])
        # The strip's corners are rounded, and a crossing at 1e-3 rad makes 1e-9 of 1e-12.
        expected = (want.longest, want.spread, *want.top)
        EDGE.compare(expected, found, tolerance=EXACT, case=f"touches at {lean:g} deg, {i}")
    assert several > 5


def test_foremost_point_by_bisection():
    anchor = tape_anchor(batch(), rule_set())
    assert anchor.found.all()
    for i, contour in enumerate(made()):
        x, z = slow.foremost(contour)
        at = (anchor.x[i], anchor.z[i])
        LINES.compare((x, z), at, tolerance=EXACT, case=f"foremost, {i}")
        assert anchor.start[i] == tapes()[i][1], i


def test_tape_distance_to_every_point_by_visibility_graph():
    points = 0
    for i, (contour, (tape, start)) in enumerate(zip(made(), tapes(), strict=True)):
        got = TautTape(contour.points, float(tape.anchor[0]), start).distances
        TAPE.compare(tape.distances, got, tolerance=EXACT, case=f"contour {i}")
        points += len(got)
    assert points > 10_000


@pytest.mark.parametrize("few", [0, 10**9])
def test_tape_whether_few_points_or_many_are_looked_at(monkeypatch, few):
    """Few points are looked at one by one and many at once: the same tape, and the graph's."""
    monkeypatch.setattr("frontcheck.geometry.swept._FEW", few)
    caught = 0
    for i, contour in enumerate(random_contours(9, 120, ("middle", "tall", "double_touch"))):
        anchor_x = slow.foremost(contour)[0]
        tape = TautTape(contour.points, float(anchor_x), 0)
        want = SlowTape(contour.points, float(anchor_x)).distances
        assert tape.distances == pytest.approx(want, rel=0, abs=EXACT), i
        caught += any(tape.spans(tape.path_to(k)) for k in range(len(contour.points)))
    assert caught > 20


def test_tape_from_elsewhere_by_visibility_graph():
    """Anchors off the foremost point: a tape hung from the whole vehicle, or below the body."""
    rng = np.random.default_rng(4)
    for i, contour in enumerate(random_contours(5, 250, ("middle", "tall", "double_touch"))):
        anchor_x = slow.foremost(contour)[0] + rng.choice([-400.0, -60.0, -3.0, 20.0, 250.0])
        got = TautTape(contour.points, float(anchor_x), 0).distances
        want = SlowTape(contour.points, float(anchor_x)).distances
        TAPE.compare(want, got, tolerance=EXACT, case=f"from elsewhere, {i}")


def agrees(points: tuple[TapePoint, ...], marks: list[SlowMark]) -> bool:
    """Every mark has its point and every point its mark; grazing marks may be in doubt."""
    for mark in marks:
        near = [p for p in points if math.hypot(p.x - mark.x, p.z - mark.z) <= limit(mark)]
        if abs(mark.slope) > slow.GRAZING and len(near) != 1:
            return False
        if near and near[0].bridged != mark.bridged:
            return False
    return all(
        any(
            math.hypot(p.x - m.x, p.z - m.z) <= max(limit(m), 0.1 * (abs(m.slope) < slow.GRAZING))
            for m in marks
        )
        for p in points
    )


def test_every_wad_solution_by_root_finding():
    number = Counter()
    for i, (contour, (slow_tape, start)) in enumerate(zip(made(), tapes(), strict=True)):
        tape = TautTape(contour.points, float(slow_tape.anchor[0]), start)
        for distance, marks in zip(WADS, slow_marks()[i], strict=True):
            found = tape.solve(distance)
            assert agrees(found, marks), (i, distance, found, marks)
            for point in found:
                assert point.distance == pytest.approx(distance, rel=0, abs=1e-9)
                assert slow_tape.distance(point.stretch, point.t) == pytest.approx(
                    distance, rel=0, abs=1e-7
                )
            number[len(marks)] += 1
    # None, one, and three where the distance is not monotone: all occur.
    assert number[0] > 100
    assert number[1] > 1000
    assert number[3] > 5


def test_batched_marks_by_root_finding():
    """All 500 at once, short contours padded, plain and not plain mixed."""
    anchor = tape_anchor(batch(), rule_set())
    plain = rises_then_runs(batch().points, anchor.x, anchor.start)
    assert 50 < plain.sum() < COUNT - 50
    assert len(set(batch().counts.tolist())) > 20
    marks = tape_marks(batch().points, anchor.x, anchor.start, WADS)
    bridged = 0
    for i in range(COUNT):
        for j, want in enumerate(slow_marks()[i]):
            assert marks.reached[i, j] == bool(want), (i, j)
            if not want:
                continue
            off = math.hypot(marks.x[i, j] - want[0].x, marks.z[i, j] - want[0].z)
            MARKS.between(off, high=limit(want[0]), case=f"WAD {WADS[j]:g}, {i}")
            assert marks.bridged[i, j] == want[0].bridged, (i, j)
            assert marks.again[i, j] or len(want) == 1, (i, j)
            bridged += want[0].bridged
    assert bridged > 20


@pytest.mark.parametrize("rules", ["UN-R127-02", "EU-631-2009"])
def test_lines_and_statuses(rules):
    got = section_lines(batch(), rule_set(rules), WADS)
    statuses: Counter[str] = Counter()
    for i, contour in enumerate(made()):
        edge, lean = slow.bonnet_edge(contour, slow_marks()[i][WADS.index(1000.0)])
        for name, values, want in (
            ("UBRL", got.UBRL, slow.upper_bumper(contour, rules != "EU-631-2009")),
            ("LBRL", got.LBRL, slow.lower_bumper(contour)),
            ("BLERL", got.BLERL, edge),
        ):
            # What lies beyond an end is another test (tests/properties/test_open_ends.py).
            opened = values.status(i) == "open_end"
            if not opened:
                STATUS.same(want.status, values.status(i), case=f"{name}, {i}")
            assert values.formed[i] == (want.status != "not_reached")
            if values.formed[i]:
                at = (values.x[i], values.z[i])
                worst = EXACT + 1e-7 / max(abs(want.slope), slow.GRAZING) * (want.slope != 1.0)
                LINES.compare((want.x, want.z), at, tolerance=worst, case=f"{name}, {i}")
            statuses["open_end" if opened else want.status] += 1
        if edge.status != "not_reached":
            assert got.edge_angle_deg[i] == lean, i
        # One section does not tell where the sphere rests.
        assert got.BRRL.status(i) == "not_available"
    # Each status occurs but that, and that of areas bounded by the tape.
    assert set(statuses) == set(STATUSES) - {"wad_only", "not_available"}
    assert min(statuses.values()) >= 5, statuses


def test_sphere_by_going_down_the_windscreen():
    """At a grazing touch (rate of approach r) bisection places the contact to 1e-13 / r.

    There, as where the sphere rolls off the glass onto the surface, the touch is known to
    sqrt(2 R 1e-12) = 1.3e-5 mm only, for rounding moves it so far.
    """
    outcome: Counter[str] = Counter()
    for i, contour in enumerate(made()):
        upper, first, last = (int(k) for k in batch().screen[i])
        if first < 0:
            outcome["no windscreen"] += 1
            continue
        points = contour.points
        want = slow_sphere(points[upper : first + 1], points[first : last + 1], RADIUS)
        got = sphere_contact(points[None], RADIUS, (first, last), upper)
        if isinstance(want, str):
            outcome[want] += 1
            assert not got.touched[0], i
            continue
        grazing = want.rate < 1e-6
        outcome["grazing" if grazing else "rests"] += 1
        assert got.touched[0], i
        off = math.hypot(got.x[0] - want.x, got.z[0] - want.z)
        SPHERE.between(off, high=1.3e-5 if grazing else EXACT, case=f"contour {i}")
    assert outcome["rests"] > 100
    assert outcome["grazing"] > 100
    assert outcome["starts inside"] + outcome["no touch"] > 0
