"""Open ends: fans against shapely, the direction of an end, and which marks of the tape are known.

The class of continuations is own choice: up to 500 mm straight on, in a direction within 30 deg
either way of the chord of the last 50 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from frontcheck.geometry.straight_edge import StraightEdge
from frontcheck.lines.bumper_lines import bumper_of, tape_anchor
from frontcheck.lines.line_values import REASONS, LineValues
from frontcheck.lines.open_ends import Ends, open_reason, opened
from frontcheck.lines.section_lines import section_lines
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section

UN = rule_set("UN-R127-02")
REACH, SPREAD = 500.0, math.radians(30.0)


def fan(apex, along: float) -> shapely.Polygon:
    """The fan with eight sides that touch its arc from outside, from one end of the arc on."""
    half = SPREAD / 8.0
    corners = [along - SPREAD, *(along + k * half for k in range(-7, 8, 2)), along + SPREAD]
    radii = [REACH, *[REACH / math.cos(half)] * 8, REACH]
    arc = [(apex[0] + r * math.cos(a), apex[1] + r * math.sin(a)) for a, r in zip(corners, radii)]  # noqa: B905
    return shapely.Polygon([tuple(apex), *arc])


@pytest.mark.parametrize("seed", range(5))
def test_what_a_fan_reaches_is_what_shapely_cuts_of_it(seed: int) -> None:
    rng, count = np.random.default_rng(seed), 150
    apex = rng.uniform((-200.0, 100.0), (200.0, 900.0), (count, 2, 2))
    along = rng.uniform(-math.pi, math.pi, (count, 2))
    ends = Ends(apex, along, REACH, SPREAD)
    slope = rng.uniform(-0.6, 1.2, count)
    low = 0.0 if seed == 0 else float(rng.uniform(0.0, 700.0))
    high = math.inf if seed == 1 else low + float(rng.uniform(50.0, 700.0))
    strip = shapely.box(-3e3, low, 3e3, min(high, 3e3))
    least = np.full((count, 2), np.inf)
    for b in range(count):
        for end in (0, 1):
            inside = shapely.get_coordinates(fan(apex[b, end], along[b, end]) & strip)
            if len(inside):
                least[b, end] = (inside[:, 0] - slope[b] * inside[:, 1]).min()
    assert 100 < np.isfinite(least).sum() <= 2 * count
    for off in (1e-5, -1e-5):
        for end, bit in ((0, 1), (1, 2)):
            found = ends.ahead(slope, least[:, end] + off, low, high)
            own = np.isfinite(least[:, end]) & (off > 0.0)
            assert ((found & bit) > 0).tolist() == own.tolist()
    # Both at once, and those alone that count.
    bar = np.nanmax(np.where(np.isfinite(least), least, np.nan), axis=1, initial=-1e6) + 1.0
    both = (least < bar[:, None]) @ [1, 2]
    assert ends.ahead(slope, bar, low, high).tolist() == both.tolist()
    counted = rng.random((count, 2)) < 0.5
    own = ((least < bar[:, None]) & counted) @ [1, 2]
    assert ends.ahead(slope, bar, low, high, counted).tolist() == own.tolist()
    # An edge whose foot stands there, a margin ahead of it, and a millionth for rounding.
    edge = StraightEdge(20.0, low, high)
    foot = bar + low * math.tan(math.radians(20.0))
    some = ends.part(np.arange(40))
    for margin in (0.0, 3.0):
        plain = ends.ahead(math.tan(math.radians(20.0)), bar + margin + 1e-6, low, high)[:40]
        assert some.meet(edge, foot[:40], margin).tolist() == plain.tolist()
        named = some.meet(edge, foot[:40], margin, counted[:40])
        assert named.tolist() == (plain & (counted[:40] @ [1, 2])).tolist()


def test_the_direction_of_an_end_is_that_of_its_last_fifty_millimetres() -> None:
    """Against shapely; contours of few and of very many points side by side."""
    rng, sections = np.random.default_rng(7), []
    for step in (400.0, 30.0, 7.0, 3.0, 0.9, 60.0):
        z = np.arange(200.0, 700.0, step) if step < 200.0 else np.array([200.0, 230.0, 600.0])
        x = 100.0 + 0.3 * np.abs(z - 450.0) + rng.uniform(0.0, step / 3.0, len(z))
        sections.append(Section(np.stack([x, z], axis=1)))
    sections.append(Section([(0, 300), (5, 310), (9, 330)]))  # not fifty millimetres long
    found = Ends.of(Contours.of(sections), UN)
    assert (found.reach, found.spread) == (500.0, pytest.approx(SPREAD))
    for i, section in enumerate(sections):
        line = shapely.LineString(section.points)
        for end, inner in ((0, line.interpolate(50.0)), (1, line.interpolate(line.length - 50.0))):
            if line.length < 50.0:
                inner = shapely.Point(section.points[-1 - end * (len(section) - 1)])  # noqa: PLW2901
            apex = section.points[-end]
            assert found.apex[i, end].tolist() == apex.tolist()
            angle = math.atan2(apex[1] - inner.y, apex[0] - inner.x)
            assert found.along[i, end] == pytest.approx(angle, abs=1e-9)


def test_what_an_end_makes_of_a_line() -> None:
    """A line at an end is open as well, one that is not formed stays as it is."""
    apex = np.array([[(0.0, 300.0), (900.0, 800.0)]] * 6)
    ends = Ends(apex, np.zeros((6, 2)), REACH, SPREAD)
    x, z = np.array([5.0, 5.0, 0.0, 900.0, 5.0, 0.0]), np.array([500.0, 500, 300, 800, 500, 301])
    assert ends.at(x, z).tolist() == [0, 0, 1, 2, 0, 0]
    values = LineValues(np.array([0, 1, 0, 6, 8, 2]), x, z, np.array([0, 4, 0, 1, 6, 2]))
    opened(values, ends, np.array([0, 3, 0, 1, 1, 2], dtype=np.int8))
    assert values.code.tolist() == [0, 7, 7, 7, 8, 7]
    assert values.reason_code.tolist() == [0, 17, 15, 17, 6, 16]
    words = ["the lower end", "the rear end", "either end"]
    assert [open_reason(bits) for bits in (1, 2, 3)] == list(REASONS[15:18])
    assert all(word in open_reason(bits) for bits, word in enumerate(words, start=1))


# --- marks ---------------------------------------------------------------------------------

FACE = [(300.0, 190.0), (0.0, 250.0), (0.0, 700.0)]


def turned(x: float, z: float, deg: float, length: float) -> tuple[float, float]:
    return x + length * math.cos(math.radians(deg)), z + length * math.sin(math.radians(deg))


def ending(deg: float, low: float = 0.0, over: float = 800.0) -> list[tuple[float, float]]:
    """A bonnet from (0, 700) over (1000, 800), then, so much lower, 60 mm at an angle."""
    last = (1000.0 + low, 800.0 - low)
    return [*FACE, (1000.0, over), *([last] if low else []), turned(*last, deg, 60.0)]


REARS = {
    # Nothing comes across from an end rearward of the mark that runs on within 60 deg of level.
    "level": (ending(0.0), [0, 0]),
    "rising": (ending(59.9), [0, 0]),
    "falling": (ending(-59.9), [0, 0]),
    # Steeper it is clear where it stands highest of all and runs on within 60 deg of upright.
    "steep": (ending(75.0), [0, 0]),
    "leaning forward": (ending(149.5), [0, 0]),
    "too far forward": (ending(150.5), [2, 2]),
    "steep, below": (ending(62.0, low=100.0), [2, 2]),
    "not so steep, below": (ending(59.0, low=100.0), [0, 0]),
    "falling steeply": (ending(-61.0), [2, 2]),
}  # fmt: skip


@pytest.mark.parametrize("name", REARS)
def test_what_the_rear_end_makes_of_marks(name: str) -> None:
    """Marks 300 and 800 mm along the bonnet; beyond its end there is none to be known."""
    points, expected = REARS[name]
    batch = section_lines(Contours.of([Section(points)]), UN, (1000.0, 1500.0, 9000.0))
    assert batch.wad_open[0].tolist() == [*expected, 0]
    assert batch.WAD.reached[0].tolist() == [True, True, False]
    codes = [7 if each else 0 for each in expected]
    assert batch.wad_code[0].tolist() == [*codes, 8]


def test_a_mark_behind_the_end_of_a_roof_that_comes_back() -> None:
    """The end lies at x = 700: it runs on rearward of the mark at 300 mm, not of that at 800 mm."""
    points = [
        *FACE,
        (1000.0, 700.0),
        (1100.0, 760.0),
        (690.0, 900.0),
        (700.0, 960.0),
        (760.0, 965.0),
    ]
    batch = section_lines(Contours.of([Section(points)]), UN, (1000.0, 1500.0))
    assert batch.wad_open[0].tolist() == [0, 2]


FEET = {
    # Own choice: without labels the foremost point is sought up to 1000 mm.
    "underside": ([(400, 190), (100, 180), (0, 300)], None, 0),
    # Down at 68 deg, turned by 30 deg 98: on the ground at x = 12, or 15 mm ahead of the foot.
    "runs back": ([(40, 200), (0, 300)], None, 0),
    "runs ahead": ([(20, 250), (0, 300)], None, 1),
    "down": ([(0, 300)], None, 1),
    # What goes on below as underside is no bumper; the way of the tape it crosses all the same.
    "underside named": ([(20, 250), (0, 300)], ["underside", *["bumper"] * 2, *["bonnet"] * 2], 1),
    "a long way back": ([(600, 200), (590, 300), (0, 300)], None, 0),
    # From (400, 200) a continuation 500 mm long crosses the tape at x = 0.
    "comes round": ([(400, 200), (500, 210), (500, 300), (0, 300)], None, 1),
    "comes nearly round": ([(510, 200), (610, 210), (610, 300), (0, 300)], None, 0),
}  # fmt: skip


@pytest.mark.parametrize("name", FEET)
def test_what_the_lower_end_makes_of_marks(name: str) -> None:
    below, parts, expected = FEET[name]
    points = [*below, (0, 700), (1500, 800)]
    if len(points) < 5:
        points = [*below, (0, 700), (800, 760), (1500, 800)][: max(len(below) + 2, 5)]
    batch = section_lines(Contours.of([Section(points, parts=parts)]), UN, (1000.0,))
    assert batch.wad_open[0].tolist() == [expected]


def test_a_tape_that_leans_is_crossed_from_below_its_run() -> None:
    """The tape stands 300 mm ahead of the face and runs straight to its nose at (0, 500).

    The chin ends at (60, 250): what goes on ahead of it crosses that run, though it would cross
    no upright one; from (200, 250) rearward nothing does.
    """
    nose = [(0.0, 500.0), (20.0, 700.0), (1500.0, 800.0)]
    for chin, expected in (
        ([(60.0, 250.0), (80.0, 260.0), (90.0, 300.0)], 1),
        ([(600.0, 190.0), (200.0, 180.0), (90.0, 300.0)], 0),
    ):
        contours = Contours.of([Section([*chin, *nose])])
        found = section_lines(contours, UN, (1000.0,), tape_x=np.array([-300.0]))
        assert found.wad_open[0].tolist() == [expected]
        assert found.anchor_x.tolist() == [-300.0]


# --- bumper --------------------------------------------------------------------------------


def test_which_points_are_bumper() -> None:
    """UN R127 02 series, 2.11 (text read); what stands above the bumper ends it, its trim too."""
    points = [(300, 200), (40, 250), (20, 400), (0, 560), (0, 640), (80, 760), (900, 880)]
    rows = {
        ("underside", "bumper", "grille", "lamp", "", "bonnet", "bonnet"): "0110100",
        ("underside", "bumper", "trim", "wing", "trim", "bumper", ""): "0110001",
        ("underside", "", "trim", "cowl", "grille", "", "bonnet"): "0111111",
        ("", "lamp", "underside", "", "bonnet", "bonnet", "ignore"): "110111",
        ("", "", "", "", "", "", ""): "1111111",
    }
    for parts, counted in rows.items():
        contours = Contours.of([Section(points, parts=parts)])
        found = bumper_of(contours, UN)
        own = found.counted[0] if found.counted is not None else np.ones(len(points), dtype=bool)
        assert "".join("01"[int(k)] for k in own) == counted, parts
        assert found.labelled.tolist() == ["bumper" in parts]
        ends = found.ends(contours)
        assert ends is None or ends.tolist() == [[counted[0] == "1", counted[-1] == "1"]]
    every = bumper_of(Contours.of([Section(points)]), UN)
    assert (every.counted, every.ends(contours), every.of(np.array([0]))) == (None, None, None)


def test_ends_of_contours_of_different_length() -> None:
    """The last point of a shorter contour is its own, not one that was put behind it."""
    short = Section([(0, 300), (0, 500), (0, 700)], parts=["bumper", "bumper", "bonnet"])
    long = Section([(0, 300), (0, 400), (0, 500), (0, 600)], parts=["underside", *["bumper"] * 3])
    contours = Contours.of([short, long])
    assert bumper_of(contours, UN).ends(contours).tolist() == [[True, False], [False, True]]
    anchor = tape_anchor(contours, UN)
    assert anchor.start.tolist() == [0, 1]
    assert anchor.z.tolist() == [300.0, 400.0]


def test_lines_of_named_and_of_bare_contours_side_by_side() -> None:
    """Each is what it is alone, whatever lies beside it."""
    points = [(300, 200), (30, 250), (0, 700), (100, 900), (900, 1000)]
    parts = ["underside", "bumper", "bumper", "bonnet", "bonnet"]
    sections = [Section(points, parts=parts), Section(points), Section(points[1:]),
                Section(points, parts=["bumper", *parts[1:]], silhouette=True)]  # fmt: skip
    rules = [UN, rule_set("EU-631-2009")]
    for rule in rules:
        together = section_lines(Contours.of(sections), rule, (1000.0,))
        for i, section in enumerate(sections):
            alone = section_lines(Contours.of([section]), rule, (1000.0,))
            for name in ("UBRL", "LBRL", "BLERL"):
                one, own = getattr(together, name), getattr(alone, name)
                assert (one.status(i), one.reason(i)) == (own.status(0), own.reason(0))
                assert (one.x[i], one.z[i]) == (own.x[0], own.z[0])
            assert together.wad_open[i].tolist() == alone.wad_open[0].tolist()
    with_both = replace(together, distances=(1000.0,))
    assert with_both.bumper_lead.shape == (4,)
