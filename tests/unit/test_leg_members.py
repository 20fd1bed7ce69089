"""What an upright leg sees and meets, at the borders of every rule; words of the legform choice.

Heights and setbacks are made up so that every number is one of the input. Published: lower, either
or upper legform by lower bumper height, 425 and 500 mm (UN R127 02 series, 5.1). Else own choice.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from shapely import Polygon, unary_union

import frontcheck as fc
from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import (
    Silhouette,
    first_touch,
    front_contact,
    members_of,
    place_on_person,
    seen_by,
    silhouette_of,
    touch_of,
)
from frontcheck.legs.foundation import contact_bands, foundation_load
from frontcheck.legs.legform_test import choice_note, lower_refusal, upper_case
from frontcheck.legs.person_leg import knee_band, leg_load, person_leg
from frontcheck.lines.lined_front import line_up
from frontcheck.lines.station import LinePoint, Station
from frontcheck.people.people import person_of_stature
from frontcheck.rules.ruleset import rule_set

RULES = rule_set("UN-R127-02")


def person(knee=500.0, hip=900.0):
    """Somebody whose knee and hip stand at round heights."""
    man = person_of_stature(1755.0)
    return replace(man, knee=replace(man.knee, value_mm=knee), hip=replace(man.hip, value_mm=hip))


def line(name: str, at=None, status: str = "ok", reason: str = "") -> LinePoint:
    x, z = at or (None, None)
    return LinePoint(name, status, x, z, reason)


def station(low=None, high=None, edge=None, legform="lower", **lines) -> Station:
    own = {"LBRL": line("LBRL", low), "UBRL": line("UBRL", high), "BLERL": line("BLERL", edge)}
    return Station(
        0.0, **(own | lines), BRRL=line("BRRL"), wads=(), legform=legform, foremost=None,
        tape_x=None,
    )  # fmt: skip


def seen(*pieces: tuple[float, float, float, float]) -> Silhouette:
    """Pieces (lower height, upper height, setback there, setback there)."""
    values = np.array(pieces, dtype=float)
    return Silhouette(
        values[:, :2], values[:, 2:], np.arange(len(values)), (), values[0, 0], values[-1, 1]
    )


@pytest.mark.parametrize(
    ("pieces", "touch"),
    [
        ([(100, 200, 9, 5), (200, 300, 5, 5), (300, 400, 5, 8)], (200.0, 300.0)),
        ([(100, 200, 5, 5), (200, 300, 5, 5)], (100.0, 300.0)),  # goes on in the next piece
        ([(100, 200, 5, 5), (250, 300, 5, 5)], (100.0, 200.0)),  # not across a hole
        ([(100, 200, 5, 9), (200, 300, 5, 5)], (100.0, 100.0)),  # a lower point is met alone
        ([(100, 200, 9, 5), (200, 300, 6, 5), (300, 400, 5, 5)], (200.0, 200.0)),
        ([(100, 200, 5 + 9e-10, 5 + 9e-10), (200, 300, 5, 6)], (100.0, 200.0)),  # rounding
        ([(100, 200, 5 + 2e-9, 5 + 2e-9), (200, 300, 5, 6)], (200.0, 200.0)),
        ([(100, 200, 5, 5), (200, 300, 5, 9)], (100.0, 200.0)),
    ],
)
def test_the_lowest_of_what_is_foremost_is_touched_first(pieces, touch) -> None:
    silhouette = seen(*pieces)
    assert silhouette.first_touch == touch
    assert silhouette.foremost_x == 5.0
    assert silhouette.foremost == (5.0, sum(touch) / 2.0)


def test_points_are_the_ends_of_pieces_each_once() -> None:
    silhouette = seen((100, 200, 9, 5), (200, 300, 5, 5), (300, 400, 20, 30), (450, 500, 30, 40))
    assert silhouette.points.tolist() == [
        [9, 100], [5, 200], [5, 300], [20, 300], [30, 400], [30, 450], [40, 500],
    ]  # fmt: skip
    same_x = seen((100, 200, 5, 5), (200, 300, 5, 7))
    assert same_x.points.tolist() == [[5, 100], [5, 200], [7, 300]]
    kept = silhouette.only(np.array([True, False, True, False]))
    assert (kept.z.tolist(), kept.x.tolist()) == ([[100, 200], [300, 400]], [[9, 5], [20, 30]])
    assert (kept.stretch.tolist(), kept.low, kept.high) == ([0, 2], 100.0, 500.0)


def plain_cut(silhouette: Silhouette, low: float, high: float) -> list[tuple]:
    """Every piece held against both heights, its new ends by the line through the old ones."""
    out = []
    rows = zip(silhouette.z.tolist(), silhouette.x.tolist(), silhouette.stretch.tolist(),
               strict=True)  # fmt: skip
    for (z0, z1), (x0, x1), which in rows:
        a, b = max(z0, low), min(z1, high)
        if a < b:
            ends = [x0 + (z - z0) / (z1 - z0) * (x1 - x0) for z in (a, b)]
            out.append((a, b, *ends, which))
    return out


def test_cutting_is_holding_every_piece_against_both_heights() -> None:
    """Also at the very ends of pieces, in holes, beyond all of them, and within one piece."""
    silhouette = seen((100, 200, 9, 5), (200, 300, 5, 15), (350, 400, 20, 30), (400, 500, 33, 40))
    silhouette = replace(silhouette, labels=("a", "b", "c", "d"))
    heights = [50.0, 100.0, 140.0, 200.0, 260.0, 300.0, 325.0, 350.0, 400.0, 430.0, 500.0, 600.0]
    for i, low in enumerate(heights):
        for high in heights[i + 1 :]:
            cut = silhouette.cut(low, high)
            rows = [
                (*z, *x, s)
                for z, x, s in zip(
                    cut.z.tolist(), cut.x.tolist(), cut.stretch.tolist(), strict=True
                )
            ]
            expected = plain_cut(silhouette, low, high)
            assert len(rows) == len(expected), (low, high)
            for row, other in zip(rows, expected, strict=True):
                assert row == pytest.approx(other)
            assert (cut.low, cut.high) == (low, high)
            assert cut.parts == tuple("abcd"[int(row[4])] for row in expected)
            if len(cut.z):
                split = cut.split(260.0)
                pieces = [*plain_cut(cut, cut.low, 260.0), *plain_cut(cut, 260.0, high)]
                assert split.z.tolist() == [[low, high] for low, high, *_ in pieces]
                assert (split.low, split.high, split.labels) == (low, high, cut.labels)
                assert not ((split.z[:, 0] < 260.0) & (split.z[:, 1] > 260.0)).any()
    within = silhouette.cut(210.0, 240.0)
    assert (within.z.tolist(), within.x.tolist()) == ([[210, 240]], [[6, 9]])
    assert silhouette.z[1].tolist() == [200, 300]  # the whole one is left as it was


@pytest.mark.parametrize(
    ("height", "place"),
    [
        (449.999, "shin"), (450.0, "knee"), (550.0, "knee"), (550.001, "thigh"), (900.0, "thigh"),
        (900.001, "hip or trunk"),
    ],
)  # fmt: skip
def test_places_on_a_person_at_their_borders(height: float, place: str) -> None:
    assert place_on_person(height, person()) == place
    touch = touch_of(seen((height, height + 300.0, 5.0, 50.0)), person())
    assert (touch.x, touch.z, touch.place) == (5.0, height, place)
    assert touch.above_knee_mm == pytest.approx(height - 500.0)


def test_a_band_about_the_knee_may_be_asked_for() -> None:
    silhouette = seen((529.0, 700.0, 5.0, 50.0))
    assert touch_of(silhouette, person(), 29.0).place == "knee"
    assert touch_of(silhouette, person(), 28.0).place == "thigh"
    section = fc.Section([(100, 300), (5, 529), (50, 700)])
    assert first_touch(section, person(), 28.0).place == "thigh"
    assert first_touch(section, person()).place == "knee"


def test_a_person_sees_from_the_sole_to_the_top_of_the_head_in_shoes() -> None:
    whole = seen_by(fc.Section([(100, 50), (0, 500), (300, 3000)]), person_of_stature(1755.0))
    assert (whole.low, whole.high) == (0.0, 1780.0)
    assert (whole.z.min(), whole.z.max()) == (50.0, 1780.0)


# Members: one section of a plain face, lines put where they are wanted.
FACE = fc.Section([(300, 100), (40, 200), (20, 400), (40, 600), (120, 700), (900, 900)])
RECESS = fc.Section([(300, 100), (30, 250), (60, 400), (20, 550), (120, 700), (900, 900)])


@pytest.mark.parametrize(
    ("section", "lines", "members"),
    [
        # The foremost point, 400 mm up, just in the lower half and just in the upper one.
        (
            FACE, ((35, 250), (35, 550), (120, 700)),
            [("lower lip", 20, 400, "foremost point, in the lower half"),
             ("bumper", 35, 550, "UBRL; no recess below it"), ("leading edge", 120, 700, "BLERL")],
        ),
        (
            FACE, ((35, 250), (36, 549), (120, 700)),
            [("bumper", 20, 400, "foremost point, in the upper half"),
             ("lower lip", 35, 250, "LBRL; no recess above it"),
             ("leading edge", 120, 700, "BLERL")],
        ),
        (
            replace(FACE, silhouette=True), ((35, 250), (35, 550), None),
            [("lower lip", 20, 400, "foremost point, in the lower half"),
             ("bumper", 35, 550, "UBRL; not seen: a recess below it")],
        ),
        (
            replace(FACE, silhouette=True), ((35, 250), (36, 549), None),
            [("bumper", 20, 400, "foremost point, in the upper half"),
             ("lower lip", 35, 250, "LBRL; not seen: a recess above it")],
        ),
        (
            RECESS, ((40, 220), (60, 620), (10, 700)),
            [("leading edge", 10, 700, "BLERL"),
             ("bumper", 20, 550, "foremost point above the deepest recess"),
             ("lower lip", 30, 250, "foremost point below the deepest recess")],
        ),
        # Lines that have changed places, or are one.
        (FACE, ((30, 500), (35, 400), None), [("bumper", 35, 400, "UBRL, not above LBRL")]),
        (FACE, ((30, 500), (35, 500), None), [("bumper", 35, 500, "UBRL, not above LBRL")]),
        # Lines that are not there.
        (FACE, (None, (35, 550), (120, 700)), [("leading edge", 120, 700, "BLERL")]),
        (FACE, ((35, 250), None, None), []),
        (FACE, (None, None, None), []),
        # As far ahead: the lower one is told first.
        (
            FACE, ((30, 300), (35, 550), (20, 300)),
            [("leading edge", 20, 300, "BLERL"),
             ("lower lip", 20, 400, "foremost point, in the lower half"),
             ("bumper", 35, 550, "UBRL; no recess below it")],
        ),
    ],
)  # fmt: skip
def test_members_in_contact_order_and_how_each_was_found(section, lines, members) -> None:
    found = members_of(section, station(*lines))
    assert [(m.name, m.x, m.z, m.basis) for m in found] == members
    for member in found:
        assert member.closing_mm == member.x - found[0].x
    contact = front_contact(section, station(*lines), RULES)
    assert contact.members == found
    by_name = {name: x for name, x, *_ in members}
    for name in ("lower lip", "bumper", "leading edge"):
        member = contact.member(name)
        assert (None if member is None else member.x) == by_name.get(name)
    both = "lower lip" in by_name and "bumper" in by_name
    assert contact.undercut_mm == (by_name["lower lip"] - by_name["bumper"] if both else None)
    low, high, edge = lines
    lead = None if high is None or edge is None else edge[0] - high[0]
    assert contact.bumper_lead_mm == lead
    assert contact.overhang_mm == section.face.overhang_mm
    assert (contact.legform_margin_mm is None) == (low is None)


@pytest.mark.parametrize(
    ("height", "limit", "margin"),
    [
        (300.0, 425.0, -125.0), (425.0, 425.0, 0.0), (462.5, 425.0, 37.5), (462.6, 500.0, -37.4),
        (500.0, 500.0, 0.0), (640.0, 500.0, 140.0),
    ],
)  # fmt: skip
def test_the_nearer_limit_of_the_legform(height: float, limit: float, margin: float) -> None:
    """425 and 500 mm (UN R127 02 series, 5.1); half-way the lower one is told."""
    contact = front_contact(FACE, station((30, height), (35, 700)), RULES)
    assert contact.legform_limit_mm == limit
    assert contact.legform_margin_mm == pytest.approx(margin)
    assert contact.legform == "lower"
    none = front_contact(FACE, station(None, (35, 550), legform=None), RULES)
    assert (none.legform, none.legform_limit_mm, none.legform_margin_mm) == (None, None, None)


TITLE = "UN Regulation No. 127, 02 series of amendments, 5.1"
OLD = "UN Regulation No. 127, original version, from memory"
NOT_LOWER = (
    "the lower legform does not apply: the lower bumper height, {} mm, is not below 500 mm ({}); a "
    "test would use the upper legform"
)
EITHER = (
    "either legform is possible, by the manufacturer's choice: the lower bumper height, {} mm, is "
    "not below 425 mm ({}) but below 500 mm"
)


@pytest.mark.parametrize(
    ("legform", "low", "rules", "refused", "note"),
    [
        ("lower", line("LBRL", (30, 300)), "UN-R127-02", "", ""),
        (
            "upper", line("LBRL", (30, 512.4)), "UN-R127-02",
            NOT_LOWER.format(512, TITLE), "",
        ),
        (
            "upper", line("LBRL", (30, 500.0)), "UN-R127-00",
            NOT_LOWER.format(500, OLD), "",
        ),
        (
            "either", line("LBRL", (30, 460.0)), "UN-R127-02", "",
            EITHER.format(460, TITLE),
        ),
        (
            None, line("LBRL", None, "not_reached", "nothing to rest on"), "UN-R127-02",
            "which legform a test would use is not known: nothing to rest on", "",
        ),
        (
            None, line("LBRL", (30, 300), "open_end"), "UN-R127-02",
            "which legform a test would use is not known: LBRL has the status open_end", "",
        ),
    ],
)  # fmt: skip
def test_which_legform_a_test_would_use(legform, low, rules, refused, note) -> None:
    at = station(high=(35, 700), legform=legform, LBRL=low)
    assert lower_refusal(at, rule_set(rules)) == refused
    assert choice_note(at, rule_set(rules)) == note


def test_the_face_of_the_upper_legform_against_a_plumb_front() -> None:
    """350 mm long (from memory), half-way between LBRL and UBRL; loads of rectangles by hand."""
    plumb = fc.Section([(200, 300), (0, 400), (0, 1000), (200, 1100)])
    case = upper_case(plumb, station((0, 500), (0, 700), (0, 760)), [10.0, 50.0])
    assert (case.aim, case.low, case.high) == (600.0, 425.0, 775.0)
    assert (case.bumper_overlap, case.edge_overlap, case.edge_below_top) == (200.0, 60.0, 15.0)
    assert case.load_height == pytest.approx((600.0, 600.0))
    # Its ends cut off what is farther: bumper 300 to 1000, edge above; then an edge below UBRL.
    wide = upper_case(plumb, station((0, 300), (0, 1000), (0, 1010)), [10.0])
    assert (wide.bumper_overlap, wide.edge_overlap, wide.edge_below_top) == (350.0, 0.0, -185.0)
    low = upper_case(plumb, station((0, 500), (0, 700), (0, 690)), [10.0])
    assert (low.edge_overlap, low.edge_below_top) == (0.0, 85.0)
    over = upper_case(plumb, station((0, 500), (0, 700), (0, 900)), [10.0])
    assert (over.edge_overlap, over.edge_below_top) == (75.0, -125.0)
    bare = upper_case(plumb, station((0, 500), (0, 700)), [10.0])
    assert (bare.edge_overlap, bare.edge_below_top) == (None, None)
    # Lines crossed by more than the face is long: none of it is as high as the bumper.
    assert upper_case(plumb, station((0, 900), (0, 500)), [10.0]).bumper_overlap == 0.0
    # A wedge from 400 mm up, 45 deg: a triangle, its centre a third of the depth up.
    wedge = fc.Section([(0, 500), (500, 1000), (900, 1100)])
    assert upper_case(wedge, station((0, 600), (0, 700)), [30.0, 60.0]).load_height == (
        pytest.approx((510.0, 520.0))
    )
    for gone in (station(None, (0, 700)), station((0, 500), None)):
        with pytest.raises(NotAvailableError, match="half-way between LBRL and UBRL, which are no"):
            upper_case(plumb, gone, [10.0])


@pytest.mark.parametrize(
    ("low", "high", "place"),
    [
        (500.0, 600.0, "inside"), (400.0, 500.0, "inside"), (500.001, 600.0, "below"),
        (400.0, 499.999, "above"), (600.0, 400.0, "inside"), (600.0, 501.0, "below"),
    ],
)  # fmt: skip
def test_a_knee_against_the_band_of_the_bumper(low: float, high: float, place: str) -> None:
    band = knee_band(station((30, low), (35, high)), person())
    assert (band.knee, band.low, band.high, band.place) == (500.0, low, high, place)


def test_without_both_lines_no_knee_is_held_against_them() -> None:
    low, high = (30, 400), (35, 600)
    assert knee_band(station(None, high), person()) is None
    assert knee_band(station(low, None), person()) is None
    for name, at in (("LBRL", low), ("UBRL", high)):
        one = {name: line(name, at, "open_end")}
        assert knee_band(station(low, high, **one), person()) is None
    assert knee_band(station(low, high, BLERL=line("BLERL", (1, 700), "open_end")), person())


# A step: plumb to 500 mm, a ledge, plumb again from there.
def step(back: float, *more) -> fc.Section:
    return fc.Section([(90, 150), (0, 200), (0, 500), (back, 500), (back, 800), *more])


def test_what_comes_later_by_250_mm_at_most_is_met_next() -> None:
    for back, there in ((249.0, True), (250.0, True), (250.001, False)):
        met = person_leg(step(back, (900, 1000)), person(450.0))
        assert (met.second is not None) == there
        assert met.later_mm == (back if there else None)
    # Of two that come later the sooner one, wherever it is.
    two = step(200.0, (120, 1000), (120, 1200), (900, 1400))
    met = person_leg(two, person(520.0))
    assert (met.second.x, met.second.z, met.later_mm) == (120.0, 1000.0, 120.0)


def test_what_stays_free_of_touch_ends_at_sole_and_hip() -> None:
    """60 mm in, own choice: bands of contact cut at the hip, and what is between them."""
    section = fc.Section([(90, 150), (0, 200), (0, 300), (200, 350), (200, 600), (30, 700),
                          (30, 1000), (900, 1100)])  # fmt: skip
    met = person_leg(section, person())
    assert met.reach_mm == 60.0
    low = 200.0 - 50.0 * 60.0 / 90.0  # from (90, 150) to (0, 200) the front is 60 behind
    up = 300.0 + 50.0 * 60.0 / 200.0
    again = 600.0 + 100.0 * 140.0 / 170.0
    assert np.array(met.free_mm) == pytest.approx(np.array([(0.0, low), (up, again)]))
    short = person_leg(section, person(hip=310.0))
    assert np.array(short.free_mm) == pytest.approx(np.array([(0.0, low)]))
    # Contact that begins just at the hip holds nothing of the leg.
    at_hip = person_leg(section, person(hip=again))
    assert np.array(at_hip.free_mm) == pytest.approx(np.array([(0.0, low), (up, again)]))
    whole = fc.Section([(0, 0), (0, 1900), (500, 2000)])
    assert person_leg(whole, person()).free_mm == ()


def test_what_overlaps_a_leg_is_as_large_as_its_load() -> None:
    """By shapely: outlines of what is pushed in are the front beyond the leg, and nothing else."""
    section = fc.Section([(300, 200), (60, 260), (40, 320), (90, 420), (20, 520), (60, 600),
                          (120, 700), (900, 950)])  # fmt: skip
    lined = line_up(fc.Front([section]), RULES)
    for depth in (10.0, 30.0, 60.0):
        found = leg_load(lined, 0.0, person(), depth)
        parts = [Polygon(each) for each in found.overlaps]
        assert all(part.is_valid for part in parts)
        assert sum(part.area for part in parts) == pytest.approx(found.here.load[0])
        pushed = Polygon([*(section.points - [depth, 0.0]), (2000, 950), (2000, 200)])
        leg = Polygon([(-500, 0), (20, 0), (20, 1780), (-500, 1780)])
        assert unary_union(parts).symmetric_difference(pushed & leg).area < 1e-6
        bounds = np.array([(part.bounds[1], part.bounds[3]) for part in parts])
        assert bounds == pytest.approx(np.array(found.here.bands[0]))
        assert found.here.depth.tolist() == [depth]
        assert found.here.knee == 500.0
        assert found.legform.name == "flexible legform"
        assert found.legform_touch == (20.0, 520.0)
        faced = silhouette_of(section, 75.0, 1003.0)
        assert found.legform_bands == contact_bands(faced, depth)
        assert found.refused == ""
    assert found.curve.depth[[0, 1, -1]].tolist() == [1.0, 1.5, 120.0]
    assert len(found.curve.depth) == 239
    assert found.curve.load[118] == pytest.approx(found.here.load[0])  # 60 mm


def test_shares_of_the_load_about_the_knee_by_plain_sums() -> None:
    """A hair at a time: load below, across and above the knee band; own choice 50 mm."""
    rng = np.random.default_rng(9)
    z = np.cumsum(rng.uniform(30.0, 90.0, 12)) + 100.0
    section = fc.Section(np.stack([np.cumsum(rng.uniform(-30.0, 45.0, 12)) + 100.0, z], axis=1))
    silhouette = silhouette_of(section, 0.0, 1600.0)
    edges = np.arange(0.0, 1600.0, 0.02)
    heights = 0.5 * (edges[1:] + edges[:-1])
    ahead = np.interp(heights, section.z, section.x, left=np.inf, right=np.inf)
    assert (np.diff(section.z) > 0.0).all()
    for depth in (15.0, 60.0):
        found = foundation_load(silhouette, depth, 450.0)
        pressed = np.maximum(depth - (ahead - section.x.min()), 0.0) * 0.02
        assert found.load[0] == pytest.approx(pressed.sum(), rel=2e-3)
        assert found.height[0] == pytest.approx((pressed * heights).sum() / pressed.sum(), abs=1.0)
        for name, low, high in (
            ("below", 0, 400), ("across", 400, 500), ("above", 500, 1600),
        ):  # fmt: skip
            own = pressed[(heights > low) & (heights < high)].sum() / pressed.sum()
            assert getattr(found, name)[0] == pytest.approx(own, abs=5e-3), name
        assert (found.knee, found.half_band) == (450.0, 50.0)
        for low, high in found.bands[0]:
            assert (pressed[(heights > low + 1) & (heights < high - 1)] > 0.0).all()
        for (_, low), (high, _) in pairwise(found.bands[0]):
            assert (pressed[(heights > low + 1) & (heights < high - 1)] == 0.0).all()
