"""A comparison says exactly what changed, and nothing else."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from corner_fronts import corner_nose
from front_shapes import TALL_SECTION

from frontcheck import Front, Screening, Section, read_front, screen
from frontcheck.comparison.comparison_document import StationComparisonEntry
from frontcheck.comparison.comparison_result import Comparison
from frontcheck.comparison.leg_zone import chance
from frontcheck.comparison.two_fronts import compare
from frontcheck.errors import InputError
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.people.people import ADULTS
from frontcheck.serializer import plain
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.uncertainty import Uncertainty

ADULT = ADULTS[0]
LINE_VALUES = ("LBRL", "UBRL", "BLERL", "BRRL")


@pytest.fixture(scope="module")
def plover(geometries: Path) -> Screening:
    return screen(read_front(geometries / "plover.csv"))


@pytest.fixture(scope="module")
def avocet(geometries: Path) -> Screening:
    return screen(read_front(geometries / "avocet.csv"))


@pytest.fixture(scope="module")
def both(plover: Screening, avocet: Screening) -> Comparison:
    return compare(plover, avocet, draws=200)


def lip_forward(geometries: Path, folder: Path, by: float) -> Screening:
    """Plover with the three rows of its lower lip at the centre plane moved forward."""
    lines = (geometries / "plover.csv").read_text().splitlines()
    edited = 0
    for i, line in enumerate(lines):
        for height, setback in (("300", "43"), ("322", "35.5"), ("338", "33.5")):
            if line == f"0,{height},{setback},bumper":
                lines[i] = f"0,{height},{float(setback) - by:g},bumper"
                edited += 1
    assert edited == 3
    path = folder / "lip.csv"
    path.write_text("\n".join(lines) + "\n")
    return screen(read_front(path))


@pytest.mark.parametrize("align", ["none", "foremost"])
@pytest.mark.parametrize("which", ["plover", "avocet"])
def test_a_front_against_itself_is_all_zeros(which, align, request) -> None:
    one = request.getfixturevalue(which)
    found = compare(one, one, align=align)
    assert not found.changed
    values = [record["change"] for record in found.records()]
    assert len(values) > 300
    assert {value for value in values if value is not None} == {0.0}
    assert all(f.kind == "same" and f.change in (0.0, None) for f in found.findings)
    assert len(found.findings) == len(one.findings) > 5
    for station in found.stations:
        assert station.contour is not None
        assert station.contour.largest is None
        assert not station.contour.along_a.values.any()
    assert all(row.outward_mm == row.inward_mm == 0.0 for row in found.surface.rows)


def test_a_front_read_twice_is_the_same_front(plover, geometries) -> None:
    assert not compare(plover, screen(read_front(geometries / "plover.csv"))).changed


@pytest.mark.parametrize("what", ["stations", "zones", "findings"])
def test_one_kind_of_change_is_a_change(plover, both, what) -> None:
    same = compare(plover, plover)
    assert not replace(
        both, stations=same.stations, zones=same.zones, findings=same.findings
    ).changed
    assert replace(same, **{what: getattr(both, what)}).changed


@pytest.mark.parametrize("align", ["none", "foremost"])
def test_b_against_a_is_exactly_the_opposite(plover, avocet, align) -> None:
    there = compare(plover, avocet, align=align, draws=200)
    back = compare(avocet, plover, align=align, draws=200)
    compared = 0
    for one, two in zip(there.records(), back.records(), strict=True):
        assert (one["y_mm"], one["quantity"]) == (two["y_mm"], two["quantity"])
        assert (one["a"], one["b"]) == (two["b"], two["a"])
        assert (one["status_a"], one["status_b"]) == (two["status_b"], two["status_a"])
        assert (one["change"] is None) == (two["change"] is None)
        if one["change"] is not None:
            assert one["change"] == -two["change"]
            compared += one["change"] != 0.0
        assert (one["chance_b_less"], one["chance_b_more"]) == (
            two["chance_b_more"],
            two["chance_b_less"],
        )
    assert compared > 300
    for one, two in zip(there.stations, back.stations, strict=True):
        assert one.contour.outward.value == -two.contour.inward.value
        assert one.contour.inward.value == -two.contour.outward.value
        assert (one.contour.along_a.values == -two.contour.along_b.values).all()
    opposite = {"new": "gone", "gone": "new", "moved": "moved", "same": "same"}
    forth = sorted((f.finding.code, opposite[f.kind], f.crossed) for f in there.findings)
    assert forth == sorted((f.finding.code, f.kind, f.crossed) for f in back.findings)


def test_a_lip_moved_12_mm_is_reported_as_exactly_that(plover, geometries, tmp_path) -> None:
    # Worked out by hand from the rows: LBRL is the row least in x + z tan 25 deg, before and
    # after the edit that of 300 mm; no row of upper edge or tape is touched.
    found = compare(plover, lip_forward(geometries, tmp_path, 12.0))
    assert [station.y for station in found.stations if station.differs] == [0.0]
    here = found.station(0.0)
    moved = {c.quantity: c.change for c in here.changes if c.differs}
    expected = {
        "LBRL_x_mm": -12.0,
        "lower_lip_x_mm": -12.0,
        "lower_lip_closing_mm": -12.0,
        "lip_behind_bumper_mm": -12.0,
        "undercut_mm": -12.0,
        "recess_behind_lower_lip_mm": 12.0,
    }
    assert {name: moved.pop(name) for name in expected} == expected
    # Two measures of the face are left. The recess is between the rows of
    # 338 and 538 mm, deepest at 426 mm before and after (54 mm less the chord, by hand).
    before = 54.0 - (33.5 + (426 - 338) / 200 * (19.5 - 33.5))
    after = 54.0 - (21.5 + (426 - 338) / 200 * (19.5 - 21.5))
    # The face runs from LBRL to the row of (101.5, 800), least in x - z. The overhang is from the
    # deepest point below the upper lip, the recess at 54 mm, and is unmoved.
    lean = [math.degrees(math.atan2(101.5 - x, 800.0 - 300.0)) for x in (43.0, 31.0)]
    assert moved == {
        "recess_depth_mm": pytest.approx(after - before, abs=1e-9),
        "mean_face_angle_deg": pytest.approx(lean[1] - lean[0], abs=1e-9),
    }
    outward = here.contour.outward
    assert (outward.value, outward.on_a, outward.on_b) == (12.0, (33.5, 338.0), (21.5, 338.0))
    assert here.contour.inward is None


def test_a_lip_moved_by_row_can_carry_lbrl_along(plover, geometries, tmp_path) -> None:
    # 60 mm forward at 338 mm: x + z tan 25 deg is now least there in the edited rows.
    found = compare(plover, lip_forward(geometries, tmp_path, 60.0)).station(0.0)
    rows = [(43.0 - 60.0, 300.0), (35.5 - 60.0, 322.0), (33.5 - 60.0, 338.0)]
    x, z = min(rows, key=lambda p: p[0] + p[1] * math.tan(math.radians(25.0)))
    assert found.change("LBRL_x_mm").b == x
    assert found.change("LBRL_z_mm").b == z


def test_findings_of_the_demonstration_pair(both) -> None:
    kinds = {(f.finding.code, f.kind): f for f in both.findings}
    # Plover's bumper lead is 79.5 mm, Avocet's 223.5 mm; the rule asks for less than 100 mm.
    lead = kinds["LEG-SHORT-LEAD", "gone"]
    assert lead.crossed
    assert lead.beyond is True
    assert lead.b is None
    # A statement has no threshold to cross.
    assert not kinds["GAP-NO-HEAD-AREA", "new"].crossed
    counts = both.to_dict()["finding_counts"]
    assert sum(counts.values()) == len(both.findings)
    assert counts["new"] + counts["moved"] + counts["same"] == len(both.b.findings)
    assert counts["gone"] + counts["moved"] + counts["same"] == len(both.a.findings)


def corner(height: float, u: float | None = 2.0, **fields: object) -> Screening:
    """A prismatic front whose leading edge is a corner at a height (see tests/corner_fronts.py)."""
    sections = []
    for y in fields.pop("stations", (0.0, 200.0, 400.0)):  # type: ignore[attr-defined]
        one = corner_nose(height, y=y)
        sections.append(Section(one.points, y, one.parts, height_u=u, setback_u=u))
    options = {"symmetric": True, "name": "corner", **fields}
    hip = replace(ADULT.hip, value_mm=762.0)
    settings = FindingSettings(people=(replace(ADULT, name="tester", hip=hip),))
    return screen(Front(tuple(sections), **options), finding_settings=settings)  # type: ignore[arg-type]


@pytest.mark.parametrize(("height", "beyond"), [(765.0, False), (790.0, True)])
def test_a_threshold_crossed_within_or_beyond_the_uncertainty(height, beyond) -> None:
    # The corner is one row of 2 mm in height: the change has 2 sqrt 2 mm, twice that is
    # 5.66 mm. From 760 mm, 5 mm are within it and 30 mm beyond; the hip is at 762 mm.
    found = compare(corner(760.0), corner(height), draws=1000)
    (crossed,) = [f for f in found.findings if f.finding.code == "BODY-EDGE-HIP-TO-WAIST"]
    assert (crossed.kind, crossed.crossed, crossed.beyond) == ("new", True, beyond)
    change = found.station(0.0).change("BLERL_z_mm")
    assert change.change == height - 760.0
    assert change.u == pytest.approx(2.0 * math.sqrt(2.0), rel=0.05)


def test_without_draws_beyond_is_not_known_and_says_why() -> None:
    found = compare(corner(760.0), corner(790.0))
    (crossed,) = [f for f in found.findings if f.finding.code == "BODY-EDGE-HIP-TO-WAIST"]
    assert crossed.beyond is None
    assert crossed.why_not == "no draws were made"
    assert found.station(0.0).chances == ()


def test_chance_has_its_closed_form() -> None:
    # Two independent normal heights, 3 mm apart, 2 mm each:
    # P(B < A) = Phi(-3 / (2 sqrt 2)) = (1 - erf(0.75)) / 2.
    found = compare(corner(760.0), corner(763.0), draws=4000, seed=3)
    change = found.station(200.0).change("BLERL_z_mm")
    assert change.chance_less == pytest.approx(0.5 * (1.0 - math.erf(0.75)), abs=0.01)
    assert change.chance_less + change.chance_more == pytest.approx(1.0, abs=1e-9)
    named = {name: share for _, name, share in found.station(200.0).chances}
    assert named["BLERL_z_mm"] == change.chance_less
    assert set(named) == {
        "BLERL_z_mm", "UBRL_z_mm", "LBRL_z_mm", "bumper_lead_mm", "lip_behind_bumper_mm"
    }  # fmt: skip


def test_chance_counts_every_pair() -> None:
    a, b = np.array([1.0, 2.0, np.nan, 4.0]), np.array([2.0, 3.0, 0.0])
    pairs = [(x, y) for x in a for y in b if not math.isnan(x)]
    found = chance(a, b)
    assert found.less == sum(y < x for x, y in pairs) / 12
    assert found.more == sum(y > x for x, y in pairs) / 12
    nothing = chance(np.array([np.nan]), b)
    assert (nothing.u, nothing.less, nothing.more) == (None, 0.0, 0.0)


def test_draws_are_those_of_a_tolerance_run(plover, both) -> None:
    other = tolerance(plover.front, plover.rules, draws=200)
    alone = {s.y: s.line("UBRL").z.sd for s in other.stations}
    avocets = tolerance(both.b.front, plover.rules, draws=200)
    for station in both.stations:
        sd = avocets.station(station.y).line("UBRL").z.sd
        expected = math.hypot(alone[station.y], sd)
        assert station.change("UBRL_z_mm").u == pytest.approx(expected, rel=1e-9)


def test_draws_need_an_uncertainty_somewhere() -> None:
    with pytest.raises(InputError, match="no uncertainty in either front"):
        compare(corner(760.0, None), corner(763.0, None), draws=200)
    one = compare(corner(760.0, None), corner(763.0), draws=200)
    assert "A states no uncertainty and is taken as exact." in one.notes
    given = compare(
        corner(760.0, None), corner(763.0, None), draws=200, settings=Uncertainty(height_u_mm=1.0)
    )
    assert given.station(0.0).change("BLERL_z_mm").u == pytest.approx(math.sqrt(2.0), rel=0.1)
    with pytest.raises(InputError, match="99 draws; expected 100 or more"):
        compare(corner(760.0), corner(763.0), draws=99)
    with pytest.raises(InputError, match="seed -1"):
        compare(corner(760.0), corner(763.0), draws=100, seed=-1)


def test_stations_that_differ_are_interpolated_and_that_is_said() -> None:
    a, b = corner(760.0), corner(760.0, stations=(0.0, 150.0, 400.0))
    found = compare(a, b)
    assert [(s.y, s.matched.a.basis, s.matched.b.basis) for s in found.stations] == [
        (0.0, "measured", "measured"),
        (150.0, "interpolated", "measured"),
        (200.0, "measured", "interpolated"),
        (400.0, "measured", "measured"),
    ]
    assert any("A was not measured at y = 150 mm" in note for note in found.notes)
    assert any("B was not measured at y = 200 mm" in note for note in found.notes)
    # The same section everywhere: what is interpolated is that section.
    for station in found.stations:
        for change in station.changes:
            assert change.change is None or abs(change.change) < 1e-9, change.quantity
        assert station.contour.largest is None
    # No draws are made of a section that was not measured.
    drawn = compare(a, b, draws=100)
    assert drawn.station(150.0).change("BLERL_z_mm").chance_less is None
    assert drawn.station(0.0).change("BLERL_z_mm").chance_less is not None


def test_stations_outside_the_other_front_are_left_out_and_that_is_said() -> None:
    found = compare(corner(760.0), corner(760.0, stations=(0.0, 200.0, 300.0)))
    assert [station.y for station in found.stations] == [0.0, 200.0, 300.0]
    assert any("A at y = 400 mm, outside the stations of B" in note for note in found.notes)


def test_a_half_and_a_whole_front_are_matched() -> None:
    half = corner(760.0)
    whole = screen(half.front.full(), finding_settings=half.finding_settings)
    found = compare(half, whole)
    assert [s.y for s in found.stations] == [-400.0, -200.0, 0.0, 200.0, 400.0]
    assert not any(station.differs for station in found.stations)
    # What the half says once, the whole may say on either side: nothing is new or gone.
    assert {f.kind for f in found.findings} <= {"moved", "same"}
    assert {f.kind for f in compare(whole, half).findings} <= {"moved", "same"}
    left = replace(half.front, sections=tuple(s.mirrored() for s in half.front.sections[::-1]))
    assert [s.y for s in compare(half, screen(left)).stations] == [0.0, 200.0, 400.0]


def test_one_finding_of_a_half_serves_both_sides_of_a_whole_front(plover) -> None:
    whole = screen(plover.front.full())
    codes = [f.code for f in whole.findings]
    assert len(codes) > len(plover.findings)  # some on the left and on the right
    for found in (compare(plover, whole), compare(whole, plover)):
        assert {f.kind for f in found.findings} <= {"moved", "same"}
        assert not any(station.differs for station in found.stations)


def test_a_local_datum_compares_heights_only_until_aligned() -> None:
    shifted = [np.add(s.points, [35.0, 0.0]) for s in corner(760.0).front.sections]
    parts = corner(760.0).front.sections[0].parts
    ys = (0.0, 200.0, 400.0)
    sections = tuple(Section(p, y, parts) for p, y in zip(shifted, ys, strict=True))
    local = screen(Front(sections, symmetric=True, datum="local"))
    found = compare(corner(760.0), local)
    here = found.station(0.0)
    assert here.change("BLERL_x_mm").change is None
    assert "datum: local" in here.change("BLERL_x_mm").reason
    assert here.change("BLERL_z_mm").change == 0.0
    assert here.change("bumper_lead_mm").change == 0.0
    assert here.contour is None
    assert plain(StationComparisonEntry, here)["contour_distance"]["status"] == "not_available"
    assert found.surface.rows == ()
    aligned = compare(corner(760.0), local, align="foremost")
    assert "each section" in aligned.alignment
    assert aligned.station(0.0).change("BLERL_x_mm").change == 0.0
    assert aligned.station(0.0).contour.largest is None


def test_a_local_datum_is_not_interpolated() -> None:
    local = corner(760.0, stations=(0.0, 150.0, 400.0), datum="local")
    found = compare(corner(760.0), local)
    assert [station.y for station in found.stations] == [0.0, 150.0, 400.0]
    said = "B lacks y = 200 mm, and setbacks are from a datum set anew"
    assert any(said in note for note in found.notes)
    with pytest.raises(InputError, match="no station in common"):
        compare(
            corner(760.0, stations=(0.0, 200.0), datum="local"),
            corner(760.0, stations=(50.0, 150.0), datum="local"),
        )


def test_alignment_counts_from_the_foremost_point(plover, avocet) -> None:
    plain, aligned = compare(plover, avocet), compare(plover, avocet, align="foremost")
    first = [min(s.foremost[0] for s in each.stations) for each in (plover, avocet)]
    shift = first[0] - first[1]
    assert shift != 0.0
    for one, two in zip(plain.stations, aligned.stations, strict=True):
        moved = two.change("UBRL_x_mm").change - one.change("UBRL_x_mm").change
        assert moved == pytest.approx(shift, abs=1e-9)
        for name in ("UBRL_z_mm", "bumper_lead_mm", "lip_behind_bumper_mm"):
            assert one.change(name).change == two.change(name).change
    assert f"A is shifted by {-first[0]:g} mm" in aligned.alignment
    with pytest.raises(InputError, match="alignment 'left'"):
        compare(plover, avocet, align="left")  # type: ignore[arg-type]


def test_a_status_that_changes_is_a_change() -> None:
    # So tall that the edge inclined rearward ends on it; and the same 260 mm lower from there on.
    low = [TALL_SECTION[0], *((x, z - 260.0) for x, z in TALL_SECTION[1:])]
    found = compare(*(screen(Front((Section(p),))) for p in (low, TALL_SECTION)))
    change = found.station(0.0).change("UBRL_z_mm")
    assert (change.status_a, change.status_b) == ("ok", "edge_end")
    assert change.status_changed
    assert change.differs
    # The tip of a 700 mm edge inclined by 20 deg is 657.785 mm high; the corner was at 600 mm.
    assert change.change == pytest.approx(657.785 - 600.0, abs=5e-4)


def test_a_line_missing_on_one_side_is_not_comparable_and_says_why() -> None:
    full = corner(760.0)
    bare = screen(
        Front(
            tuple(Section(s.points[:4], s.y, s.parts[:4]) for s in full.front.sections),
            symmetric=True,
        )
    )
    found = compare(full, bare)
    assert any("A labels points as windscreen and B does not" in note for note in found.notes)
    change = found.station(0.0).change("BRRL_x_mm")
    assert change.change is None
    assert change.differs
    assert change.reason.startswith("missing in B: no point is labelled windscreen")
    assert compare(bare, bare).station(0.0).change("BRRL_x_mm").differs is False


def test_screenings_under_different_settings_are_refused(plover) -> None:
    front = plover.front
    for other, words in (
        (screen(front, "EU-631-2009"), "rule set"),
        (screen(front, wad=(1000.0,)), "wrap-around distances"),
        (screen(front, tape_start="vehicle"), "tape start"),
        (screen(front, plover.rules.with_values({"ubrl.lean_deg": 21.0})), "rule set"),
    ):
        with pytest.raises(InputError, match=words):
            compare(plover, other)
    vehicle = screen(front, tape_start="vehicle")
    assert not compare(vehicle, vehicle).changed
    with pytest.raises(InputError, match="tape stands below the foremost point of the vehicle"):
        compare(vehicle, vehicle, draws=100)


def test_leg_zone_side_by_side(both) -> None:
    zone = both.station(0.0).leg
    # Plover's upper lip leads by 14 mm, Avocet's lower lip by 51 mm (rows of the tables).
    assert [m.name for m in zone.a.members] == ["bumper", "lower lip", "leading edge"]
    assert [m.name for m in zone.b.members] == ["lower lip", "bumper", "leading edge"]
    assert [m.name for m in zone.a.members] != [m.name for m in zone.b.members]
    assert both.station(0.0).change("lip_behind_bumper_mm").change == -51.0 - 14.0
    man = next(person for person in zone.people if person.person == "man p95")
    # Of the average person as tall, in shoes: source of the line in tests/validation/test_ansur.py.
    assert man.knee_mm == pytest.approx(0.3268 * 1870.0 - 84.7 + 25.0)
    assert (man.a.place, man.b.place, man.moved_on_leg) == ("knee", "shin", True)


def test_document_and_tables(both, plover) -> None:
    document = both.to_dict()
    assert document["schema"] == "frontcheck.comparison/2"
    assert document["inputs"]["a"]["sha256"] == plover.front.source.sha256
    assert document["inputs"]["b"]["sha256"] != plover.front.source.sha256
    assert document["rule_set"]["id"] == "UN-R127-02"
    assert document["cautions"][0].startswith("This is a screening of geometry.")
    assert document["settings"]["draws"] == 200
    assert len(document["surface"]["rows"]) >= len(both.stations)
    frame = both.to_frame()
    assert frame.loc[(0.0, "BLERL_z_mm"), "change"] == -103.0
    assert len(frame) == len(both.records())
    assert len(both.summary()) == len(both.stations)
    with pytest.raises(KeyError, match="no station at 33 mm"):
        both.station(33.0)
    with pytest.raises(KeyError, match="no quantity 'x'"):
        both.station(0.0).change("x")


def test_names_cannot_inject_markup(plover) -> None:
    named = replace(plover.front, name="<script>alert(1)</script>")
    html = compare(screen(named), screen(named))._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    assert "no finding changes" in html
    assert "not a prediction of injury" in html
