"""Which results rest on which constants: every constant changes some, and only those said to.

Each case sets one constant to another value on a front where it has to matter, and compares the
whole document before and after. The map of `frontcheck.rules.used_by` is held to what changes.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

import numpy as np
import pytest
from front_shapes import FAR, SCREENED_PARTS, front_of, screened

from frontcheck.caution import PROVENANCES
from frontcheck.front.front import Front
from frontcheck.rules.ruleset import rule_set, rule_set_ids
from frontcheck.rules.used_by import results_of, said_of, unconfirmed
from frontcheck.screening import screen
from frontcheck.surface.section import Section
from frontcheck.zones.front_zones import ZoneOptions

DEFAULT, EUROPE = "UN-R127-02", "EU-631-2009"
RESULTS = (
    "UBRL", "LBRL", "BLERL", "BRRL", "SRL", "WAD", "legform", "bumper corners by the plane",
    "bumper corners by the gauge", "bumper test area", "thirds of the bumper", "rear corners",
    "thirds of the leading edge", "thirds of the bonnet top", "corner reference points",
    "child headform area", "adult headform area", "impact points", "findings", "limits of the text",
)  # fmt: skip
OPTIONS = ZoneOptions(between="straight", grid_mm=200.0, beam_ends_mm=(-600.0, 600.0))


def bare(*points: tuple[float, float], parts: list[str] | None = None) -> Front:
    return Front((Section(points, parts=parts),))


def at_50_deg(*along_and_back: tuple[float, float]) -> list[tuple[float, float]]:
    """Points on, or behind, the line of a 50 deg edge through (0, 700)."""
    lean = math.radians(50.0)
    along, back = (
        np.array([math.sin(lean), math.cos(lean)]),
        np.array([math.cos(lean), -math.sin(lean)]),
    )
    return [tuple(np.array([0.0, 700.0]) + a * along + b * back) for a, b in along_and_back]


def crests(apart: float, dip: float) -> Front:
    upper = at_50_deg((0.0, 0.0), (apart / 2.0, dip), (apart, 0.0))
    return bare((100, 250), (0, 300), *upper, (upper[-1][0] + 800, upper[-1][1] + 40))


def rounded(y: float) -> list[tuple[float, float]]:
    """A face whose plan is a circle, widest at z = 420, under a bonnet that falls at the sides."""
    off = max(abs(y) - 500.0, 0.0)
    top = 800.0 - (250.0 - math.sqrt(250.0**2 - off * off))
    face = []
    for z in np.linspace(250.0, min(top, 700.0), 10):
        radius = 1000.0 - (z - 420.0) ** 2 / 400.0
        face.append((1000.0 - math.sqrt(radius * radius - y * y), float(z)))
    edge = face[-1][0]
    crown = [(edge + 60.0, top), (edge + 700.0, top + 40.0)]
    glass = (edge + 1500.0, top + 500.0)
    return [(edge + 500.0, 240.0), *face, *crown, glass]


def stepped(y: float) -> list[tuple[float, float]]:
    """A face that steps back by 150 mm at the sides: a narrow gauge reaches into the corner."""
    x = 150.0 if abs(y) > 500.0 else 0.0
    return screened(700.0, 1200.0, 5.0, 30.0, x)


def lipped(y: float) -> list[tuple[float, float]]:
    """An upright cylinder; above it, at the sides, the body leans forward from z = 700 to 900."""
    x = 1000.0 - math.sqrt(1000.0**2 - y * y)
    lip = x if abs(y) < 600.0 else x - 80.0
    return [(x + 200, 240), (x, 250), (x, 700), (lip, 900), (lip, 920), (FAR, 930)]


def cut_short(y: float) -> tuple[list[tuple[float, float]], tuple[str, ...]]:
    """A swept windscreen narrower than the bonnet: BRRL ends inside SRL."""
    corner = 1200.0 + 0.5 * abs(y)
    if abs(y) <= 600.0:
        return screened(800.0, corner, 0.0, 30.0), SCREENED_PARTS
    wing = [(200.0, 240.0), (0.0, 250.0), (0.0, 800.0), (corner, 800.0), (FAR, 800.0)]
    return wing, ("underside", "bumper", "bonnet", "bonnet", "bonnet")


_ROUNDED_PARTS = ("underside", *["bumper"] * 10, "bonnet", "windscreen", "windscreen")
_WIDE = np.arange(-700.0, 701.0, 100.0)
_WITH_END = np.sort([*_WIDE, -601.0, 601.0])  # the windscreen ends here, not half way on
FRONTS: dict[str, Front] = {
    "tall": bare((25, 400), (0, 840), (147, 1234), (461, 1324), (1662, 1333)),
    "hanging": bare((300, 290), (200, 300), (0, 700), (50, 900), (900, 1000)),
    "low": bare((200, 200), (0, 220), (0, 550), (1000, 690)),
    "steep": bare((150, 290), (0, 300), (513, 1710), (900, 1750)),
    "high": bare((300, 440), (0, 460), (0, 800), (900, 900)),
    "overhung": bare((100, 300), (0, 400), (40, 480), (0, 560), (300, 800), (1300, 850),
                     parts=["underside", "bumper", "bumper", "bonnet", "bonnet", "bonnet"]),
    "leaning": bare((300, 200), (100, 300), (60, 900), (0, 1200), (300, 1400)),
    "flat": crests(100.0, 0.0),
    "shallow": crests(40.0, 0.05),
    "double": crests(40.0, 5.0),
    "labelled": bare((100, 300), (0, 400), (30, 800), (0, 850), (300, 1100), (1300, 1150),
                     parts=["underside", "bumper", "bumper", "bonnet", "bonnet", "bonnet"]),
    "screened": front_of(lambda _: screened(800.0, 1300.0, 5.0, 30.0), _WIDE, SCREENED_PARTS),
    "long": front_of(lambda _: screened(650.0, 1900.0, 4.0, 30.0), _WIDE, SCREENED_PARTS),
    "round": front_of(rounded, np.arange(-740.0, 741.0, 74.0), _ROUNDED_PARTS),
    "lipped": front_of(lipped, _WIDE),
    "stepped": front_of(stepped, _WIDE, SCREENED_PARTS),
    "short": Front(tuple(Section(cut_short(y)[0], y, cut_short(y)[1]) for y in _WITH_END)),
}  # fmt: skip

CASES: dict[str, tuple[str, str, Any]] = {
    "ubrl.edge_length_mm": ("tall", DEFAULT, 600.0),
    "ubrl.lean_deg": ("round", DEFAULT, 5.0),
    "ubrl.foot_on_ground": ("labelled", DEFAULT, False),
    "bumper.parts": ("overhung", DEFAULT, []),
    "lbrl.edge_length_mm": ("hanging", DEFAULT, 650.0),
    "lbrl.lean_deg": ("hanging", DEFAULT, 5.0),
    "blerl.edge_length_mm": ("tall", DEFAULT, 900.0),
    "blerl.lean_deg": ("round", DEFAULT, 70.0),
    "blerl.retake_lean_deg": ("flat", DEFAULT, 55.0),
    "blerl.foot_height_mm": ("low", DEFAULT, 580.0),
    "blerl.upper_end_wad_mm": ("steep", DEFAULT, 950.0),
    "blerl.contact_tolerance_mm": ("shallow", DEFAULT, 0.01),
    "blerl.continuous_length_mm": ("shallow", DEFAULT, 30.0),
    "blerl.separate_touch_mm": ("double", DEFAULT, 50.0),
    "brrl.sphere_diameter_mm": ("screened", DEFAULT, 200.0),
    "brrl.wad_cap_mm": ("long", EUROPE, 2000.0),
    "brrl.cap_line": ("long", DEFAULT, True),
    "srl.lean_deg": ("round", DEFAULT, 30.0),
    "wad.distances_mm": ("low", DEFAULT, [1200.0]),
    "wad.anchor_height_mm": ("leaning", DEFAULT, 1100.0),
    "bonnet_corner.template_radius_mm": ("short", DEFAULT, 310.0),
    "bonnet_corner.radius_step_mm": ("short", DEFAULT, 50.0),
    "bonnet_corner.middle_arc_deg": ("short", DEFAULT, 60.0),
    "legform.lower_below_mm": ("tall", DEFAULT, 390.0),
    "legform.upper_from_mm": ("high", DEFAULT, 450.0),
    "legform.flexible": ("long", DEFAULT, False),
    "limits.tibia_bending_Nm": ("long", DEFAULT, 320.0),
    "limits.tibia_bending_nominated_Nm": ("long", DEFAULT, 400.0),
    "limits.nominated_width_mm": ("long", DEFAULT, 200.0),
    "limits.mcl_mm": ("long", DEFAULT, 20.0),
    "limits.acl_pcl_mm": ("long", DEFAULT, 12.0),
    "limits.tibia_acceleration_g": ("long", EUROPE, 150.0),
    "limits.knee_bending_deg": ("long", EUROPE, 15.0),
    "limits.knee_shear_mm": ("long", EUROPE, 5.0),
    "limits.upper_force_kN": ("long", DEFAULT, 5.0),
    "limits.upper_bending_Nm": ("long", DEFAULT, 300.0),
    "bumper_corner.plane_deg": ("round", DEFAULT, 50.0),
    "bumper_corner.gauge": ("stepped", DEFAULT, False),
    "bumper_corner.gauge_face_deg": ("round", DEFAULT, 50.0),
    "bumper_corner.gauge_width_mm": ("stepped", DEFAULT, 700.0),
    "bumper_corner.gauge_height_mm": ("lipped", DEFAULT, 600.0),
    "bumper_corner.gauge_low_mm": ("round", DEFAULT, 500.0),
    "bumper_corner.gauge_high_mm": ("round", DEFAULT, 300.0),
    "bumper_area.inboard_mm": ("round", EUROPE, 20.0),
    "bumper_area.beam_rule": ("round", DEFAULT, False),
    "bumper_area.beam_inboard_mm": ("round", DEFAULT, 20.0),
    "headform.diameter_mm": ("round", DEFAULT, 130.0),
    "headform.area_offset_mm": ("long", DEFAULT, 60.0),
    "headform.impact_offset_mm": ("long", DEFAULT, 120.0),
    "headform.impact_apart_mm": ("long", EUROPE, 130.0),
    "headform.windscreen": ("short", DEFAULT, True),
    "headform.child_mass_kg": ("long", DEFAULT, 2.5),
    "headform.child_angle_deg": ("long", DEFAULT, 65.0),
    "headform.adult_mass_kg": ("long", DEFAULT, 4.8),
    "headform.adult_angle_deg": ("long", DEFAULT, 50.0),
    "headform.speed_km_h": ("long", DEFAULT, 40.0),
    "child_area.wad_front_mm": ("long", DEFAULT, 900.0),
    "child_area.wad_rear_mm": ("long", DEFAULT, 1600.0),
    "adult_area.wad_front_mm": ("long", DEFAULT, 1800.0),
    "adult_area.wad_rear_mm": ("long", DEFAULT, 2000.0),
}
"""For every constant a front and a rule set by which another value of it makes a difference."""


@cache
def results(front: str, rules_id: str, name: str = "") -> dict[str, Any]:
    """Everything in the document by the name of the result that it belongs to."""
    rules = rule_set(rules_id)
    if name:
        rules = rules.with_values({name: CASES[name][2]})
    document = screen(FRONTS[front], rules, zone_options=OPTIONS).to_dict()
    zones = document["zones"]
    found: dict[str, Any] = {
        line: [station[line] for station in document["stations"]]
        for line in ("UBRL", "LBRL", "BLERL", "BRRL", "WAD", "legform")
    }
    corners, thirds = zones["bumper_corners"], zones["thirds"]
    limits = [note for note in zones["notes"] if "Limits" in note]
    notes = [n for n in zones["notes"] if "impact points" not in n and n not in limits]
    found |= {
        # But for the point where it meets BLERL, SRL is given at whole multiples of 10 mm.
        "SRL": [p for p in document["lines"]["SRL"]["points_mm"] if p[0] % 10.0 == 0.0],
        "bumper corners by the plane": corners["plane_60deg"],
        "bumper corners by the gauge": corners["gauge"],
        "bumper test area": zones["bumper_test_area"],
        "thirds of the bumper": thirds["bumper"],
        "thirds of the leading edge": thirds["leading_edge"],
        "thirds of the bonnet top": thirds["bonnet_top"],
        "corner reference points": zones["corner_reference_points"],
        "rear corners": zones["rear_corners"],
        "limits of the text": limits,
        "findings": (document["findings"], zones["candidate_points"], notes),
    }
    areas = [zones[f"{name}_headform_area"] for name in ("child", "adult")]
    found["impact points"] = [area.pop("impact_points", None) for area in areas]
    found["child headform area"], found["adult headform area"] = areas
    return found


@pytest.mark.parametrize("name", CASES)
def test_another_value_changes_the_results_said_to_rest_on_it(name: str) -> None:
    front, rules_id, value = CASES[name]
    before, after = results(front, rules_id), results(front, rules_id, name)
    changed = {result for result in before if before[result] != after[result]}
    assert changed, "a constant that changes nothing is dead"
    rules = rule_set(rules_id).with_values({name: value})
    assert changed <= {*results_of(name, rule_set(rules_id)), *results_of(name, rules)}


def test_every_constant_has_a_case_or_a_reason() -> None:
    waiting = {name for name in rule_set().constants if name not in CASES}
    assert {name.partition(".")[0] for name in waiting} <= {"open_end", "windscreen", "srl"}
    for name in waiting:
        assert results_of(name, rule_set())


def named(rules_id: str, shown: set[str]) -> dict[str, tuple[str, ...]]:
    return {one.constant: one.used_by for one in unconfirmed(rule_set(rules_id), shown)}


def test_the_gauge_is_named_where_it_was_used_and_only_there() -> None:
    # Gauge 236 x 114 mm, from memory, unconfirmed: see tests/validation/test_rule_constants.py.
    result = screen(FRONTS["round"], DEFAULT, zone_options=OPTIONS)
    whole, lines = result.to_dict(), result.to_dict(lines_only=True)
    gauge = {f"bumper_corner.gauge_{side}_mm" for side in ("width", "height")}
    assert {one["constant"] for one in whole["unconfirmed"]} == gauge
    for one in whole["unconfirmed"]:
        assert one["used_by"][0] == "bumper corners by the gauge"
        assert "bumper test area" in one["used_by"]
        assert one["document"]
        assert any(one["constant"] in text for text in whole["cautions"])
    assert lines["unconfirmed"] == []
    assert not any("gauge_width_mm" in text for text in lines["cautions"])


def test_what_rests_on_corners_follows_the_procedure_that_applies() -> None:
    for rules_id in rule_set_ids():
        rules = rule_set(rules_id)
        by = {
            one: results_of(f"bumper_corner.{one}", rules) for one in ("plane_deg", "gauge_low_mm")
        }
        later = rules.flag("bumper_corner.gauge")
        assert ("bumper test area" in by["gauge_low_mm"]) == later
        assert ("bumper test area" in by["plane_deg"]) == (not later)


def test_impact_points_count_where_they_are_bounded_apart() -> None:
    apart = "headform.impact_apart_mm"
    assert apart not in named(DEFAULT, {*RESULTS} - {"impact points"})
    assert named("UN-GTR9", {*RESULTS})[apart] == ("impact points",)
    # Nothing shown, nothing named; the cap on BRRL counts only where the line is capped.
    assert named("UN-R127-03", set()) == {}
    assert "brrl.wad_cap_mm" not in named("UN-R127-03", {*RESULTS})
    assert "UBRL" in named("UN-R127-03", {*RESULTS})["ubrl.lean_deg"]


@pytest.mark.parametrize("rules_id", rule_set_ids())
def test_the_caution_counts_by_tag(rules_id: str) -> None:
    rules = rule_set(rules_id)
    text = " ".join(said_of(rules, ()))
    counts = {word: int(n) for n, word in re.findall(r"(\d+) ([a-z ]+(?:, unconfirmed)?)[;.]", text)
              if word in PROVENANCES}  # fmt: skip
    assert sum(counts.values()) == len(rules)
    for word, n in counts.items():
        assert n == sum(constant.provenance == word for constant in rules)
    assert "not confirmed" not in text.replace(rules.caution, "")
