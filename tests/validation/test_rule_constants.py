"""Constants against the published texts.

The numbers here were written from the texts (or from memory of them, where the table says so) and
not copied from the rule-set files. What is known of a value, and where it stands, must also be what
the rule sets themselves say: a constant may not claim more than is known.

Read: UN R127, consolidated 02 series (E/ECE/324/Rev.2/Add.126/Rev.2), 2.1 to 2.43 and 5.1 to 5.1.2;
Regulation (EC) No 631/2009, Annex Part I, 2. Not read: UN R127.02 5.2, Annexes 3 to 6 and the
figures (but for the labels of Figure 3), UN GTR 9, the 03 and 04 series.
"""

from __future__ import annotations

import math

import pytest
from checks import Check, Source, derived

from frontcheck.caution import PROVENANCES
from frontcheck.rules.constant import Constant, Value
from frontcheck.rules.ruleset import parse_rule_set, rule_set, rule_set_ids

TEXT = Check(
    "rule-constants-read",
    kind="published value",
    quantity="constants of the default edition whose text was read: lines, zones, limits",
    source=Source(
        "UN R127, 02 series, E/ECE/324/Rev.2/Add.126/Rev.2", where="2.1 to 2.43, 5.1", known="read"
    ),
    why="entered as printed",
)
REST = Check(
    "rule-constants-remembered",
    kind="published value",
    quantity="constants of six other editions, and of the default one what was not read",
    source=Source("UN GTR 9, UN R127, (EC) 631/2009 and their amendments", known="memory"),
    why="entered as remembered, and marked so in the rule sets",
)
REACH = Check(
    "rule-reaches",
    kind="closed form",
    quantity="height that the edges of UBRL, LBRL and BLERL reach, in every edition",
    unit="mm",
    source=derived("700 cos 20, 700 cos 25, 600 + 1000 cos 50 deg"),
    why="half a unit of the last digit written down",
)

READ, MEMORY, UNCONFIRMED, OWN, PRACTICE = PROVENANCES
EARLY = ("UN-GTR9", "UN-GTR9-A2", "UN-R127-00", "EU-631-2009")

PUBLISHED: dict[str, tuple[Value, str]] = {
    # Straight edge of 700 mm, inclined rearward by 20 deg, its lower end on the ground.
    "ubrl.edge_length_mm": (700.0, "2.38"),
    "ubrl.lean_deg": (20.0, "2.38"),
    "ubrl.foot_on_ground": (True, "2.38"),
    # 700 mm, inclined forward by 25 deg.
    "lbrl.edge_length_mm": (700.0, "2.26"),
    "lbrl.lean_deg": (25.0, "2.26"),
    # 1000 mm, inclined rearward by 50 deg, lower end 600 mm above ground; 40 deg where contact is
    # continuous or multiple; WAD 1000 where the upper end touches first.
    "blerl.edge_length_mm": (1000.0, "2.7"),
    "blerl.lean_deg": (50.0, "2.7"),
    "blerl.foot_height_mm": (600.0, "2.7"),
    "blerl.retake_lean_deg": (40.0, "2.7"),
    "blerl.upper_end_wad_mm": (1000.0, "2.7"),
    # Sphere of 165 mm; template of 100 mm, then 20 mm more; C and D stand 45 deg from A and B.
    "brrl.sphere_diameter_mm": (165.0, "2.8"),
    "bonnet_corner.template_radius_mm": (100.0, "2.8"),
    "bonnet_corner.radius_step_mm": (20.0, "2.8"),
    "bonnet_corner.middle_arc_deg": (90.0, "2.8"),
    # The area ends at WAD 2100, not the line.
    "brrl.wad_cap_mm": (2100.0, "2.1"),
    "brrl.cap_line": (False, "2.1"),
    # 700 mm, 45 deg inward.
    "srl.edge_length_mm": (700.0, "2.32"),
    "srl.lean_deg": (45.0, "2.32"),
    # Legform by lower bumper height.
    "legform.lower_below_mm": (425.0, "5.1"),
    "legform.upper_from_mm": (500.0, "5.1"),
    # Flexible legform: 340 Nm, 380 Nm over 264 mm at most, MCL 22 mm, ACL and PCL 13 mm; upper
    # legform: 7.5 kN and 510 Nm.
    "legform.flexible": (True, "5.1.1"),
    "limits.tibia_bending_Nm": (340.0, "5.1.1"),
    "limits.tibia_bending_nominated_Nm": (380.0, "5.1.1"),
    "limits.nominated_width_mm": (264.0, "5.1.1"),
    "limits.mcl_mm": (22.0, "5.1.1"),
    "limits.acl_pcl_mm": (13.0, "5.1.1"),
    "limits.upper_force_kN": (7.5, "5.1.2"),
    "limits.upper_bending_Nm": (510.0, "5.1.2"),
    # Corner gauge, face at 60 deg, its centre from 75 to 1003 mm up; 42 mm inboard of corners or
    # of the ends of the beam, whichever is wider.
    "bumper_corner.gauge": (True, "2.17"),
    "bumper_corner.gauge_face_deg": (60.0, "2.17"),
    "bumper_corner.gauge_low_mm": (75.0, "2.17"),
    "bumper_corner.gauge_high_mm": (1003.0, "2.17"),
    "bumper_area.inboard_mm": (42.0, "2.14"),
    "bumper_area.beam_rule": (True, "2.14"),
    "bumper_area.beam_inboard_mm": (42.0, "2.14"),
    # Headform areas: adult 2.1, child 2.16, both 82.5 mm inside the lines, ahead of BRRL.
    "headform.area_offset_mm": (82.5, "2.1, 2.16"),
    "headform.impact_offset_mm": (82.5, "2.1, 2.16"),
    "headform.windscreen": (False, "2.1, 2.16"),
    "child_area.wad_front_mm": (1000.0, "2.16"),
    "child_area.wad_rear_mm": (1700.0, "2.16"),
    "adult_area.wad_front_mm": (1700.0, "2.1"),
    "adult_area.wad_rear_mm": (2100.0, "2.1"),
}
"""What was read in UN R127, 02 series: value and paragraph."""

REMEMBERED: dict[str, tuple[Value, str]] = {
    # Rigid legform, before the 01 series.
    "limits.tibia_acceleration_g": (170.0, MEMORY),
    "limits.knee_bending_deg": (19.0, MEMORY),
    "limits.knee_shear_mm": (6.0, MEMORY),
    "bumper_corner.plane_deg": (60.0, MEMORY),  # corners of the older editions
    "bumper_corner.gauge_width_mm": (236.0, UNCONFIRMED),
    "bumper_corner.gauge_height_mm": (114.0, UNCONFIRMED),
    # Read for the Korean rules (Republic of Korea, motor vehicle safety standards, art. 102-2; full
    # title and year not confirmed), and not for UN R127.
    "headform.diameter_mm": (165.0, MEMORY),
    "headform.child_mass_kg": (3.5, MEMORY),
    "headform.child_angle_deg": (50.0, MEMORY),
    "headform.adult_mass_kg": (4.5, MEMORY),
    "headform.adult_angle_deg": (65.0, MEMORY),
    "headform.speed_km_h": (35.0, MEMORY),
    "headform.impact_apart_mm": (165.0, UNCONFIRMED),
}
"""The rest of UN R127, 02 series: value, and how it is known."""

CHOSEN: dict[str, Value] = {
    "bumper.parts": ("bumper", "grille", "trim"),
    "blerl.contact_tolerance_mm": 0.1,
    "blerl.continuous_length_mm": 60.0,
    "blerl.separate_touch_mm": 10.0,
    "wad.distances_mm": (1000.0, 1500.0, 1700.0, 2100.0),
    "wad.anchor_height_mm": 1000.0,
    "open_end.reach_mm": 500.0,
    "open_end.spread_deg": 30.0,
    "open_end.last_mm": 50.0,
    "windscreen.above_z_mm": 700.0,
    "windscreen.rise_low_deg": 20.0,
    "windscreen.rise_high_deg": 65.0,
    "windscreen.length_mm": 250.0,
}
"""What no text gives."""

OTHERWISE: dict[str, dict[str, tuple[Value, str]]] = {
    # 66 mm in the first texts; corners by the plane; no beam; areas from line to line.
    "UN-GTR9": {
        "bumper_area.inboard_mm": (66.0, MEMORY),
        "legform.flexible": (False, MEMORY),
    },
    "UN-R127-00": {
        "bumper_area.inboard_mm": (66.0, MEMORY),
        "legform.flexible": (False, MEMORY),
    },
    "UN-GTR9-A2": {"legform.flexible": (True, UNCONFIRMED)},
    "UN-R127-01": {},
    "EU-631-2009": {
        "bumper_area.inboard_mm": (66.0, UNCONFIRMED),
        # The line itself ends at WAD 2100.
        "brrl.cap_line": (True, MEMORY),
        "ubrl.foot_on_ground": (False, UNCONFIRMED),
        "legform.flexible": (False, MEMORY),
        # Known with confidence for the UN texts only.
        "legform.lower_below_mm": (425.0, UNCONFIRMED),
        "legform.upper_from_mm": (500.0, UNCONFIRMED),
        "child_area.wad_front_mm": (1000.0, UNCONFIRMED),
        "child_area.wad_rear_mm": (1700.0, UNCONFIRMED),
        "adult_area.wad_front_mm": (1700.0, UNCONFIRMED),
        "adult_area.wad_rear_mm": (2100.0, UNCONFIRMED),
    },
    "UN-R127-03": {
        "adult_area.wad_rear_mm": (2500.0, UNCONFIRMED),
        "headform.windscreen": (True, UNCONFIRMED),
    },
}
"""Where another edition differs from the 02 series, gauge, beam and offsets apart."""

READ_IN_EUROPE = {
    "blerl.edge_length_mm": "2.2",
    "blerl.lean_deg": "2.2",
    "blerl.retake_lean_deg": "2.2",
    "blerl.foot_height_mm": "2.2",
    "blerl.upper_end_wad_mm": "2.2",
    "brrl.sphere_diameter_mm": "2.3",
}
"""Regulation (EC) No 631/2009, Annex Part I: paragraphs."""


def as_told(constant: Constant) -> tuple[Value, str, str]:
    return constant.value, constant.paragraph, constant.provenance


def test_every_constant_of_the_default_edition() -> None:
    rules = rule_set("UN-R127-02")
    want = {name: (value, at, READ) for name, (value, at) in PUBLISHED.items()}
    want |= {name: (value, "", known) for name, (value, known) in REMEMBERED.items()}
    want |= {name: (value, "", OWN) for name, value in CHOSEN.items()}
    assert {constant.name: as_told(constant) for constant in rules} == want
    assert {rules[name].document for name in PUBLISHED} == {rules.title}
    for check, table in ((TEXT, PUBLISHED), (REST, REMEMBERED)):
        for name, (value, _) in table.items():
            check.same(value, rules[name].value, case=name)


@pytest.mark.parametrize("id_", OTHERWISE)
def test_every_constant_of_the_other_editions(id_: str) -> None:
    want = {name: (value, MEMORY) for name, (value, _) in PUBLISHED.items()} | REMEMBERED
    if id_ not in ("UN-GTR9-A2", "UN-R127-03"):  # gauge and beam came later
        want["bumper_corner.gauge"] = want["bumper_area.beam_rule"] = (False, MEMORY)
    if id_ in EARLY:
        want["headform.area_offset_mm"] = (0.0, UNCONFIRMED)
        want["headform.impact_offset_mm"] = (82.5, UNCONFIRMED)
    want |= OTHERWISE[id_]
    if id_ == "UN-R127-03":  # provisional: nothing is confirmed
        want = {name: (value, UNCONFIRMED) for name, (value, _) in want.items()}
    if id_ == "EU-631-2009":
        want |= {name: (want[name][0], READ) for name in READ_IN_EUROPE}
    chosen = dict(CHOSEN)
    if id_ == "UN-R127-03":
        chosen["wad.distances_mm"] = (1000.0, 1500.0, 1700.0, 2100.0, 2500.0)
    want |= {name: (value, OWN) for name, value in chosen.items()}
    rules = rule_set(id_)
    assert {c.name: (c.value, c.provenance) for c in rules} == want
    for name in sorted(want.keys() - CHOSEN.keys()):
        REST.same(want[name][0], rules[name].value, case=f"{id_}, {name}")
    paragraphs = {c.name: c.paragraph for c in rules if c.paragraph}
    assert paragraphs == (READ_IN_EUROPE if id_ == "EU-631-2009" else {})
    for name in paragraphs:
        assert rules[name].document == "Regulation (EC) No 631/2009, Annex Part I"


def test_the_base_holds_nothing_that_was_read() -> None:
    # A tag belongs to one edition, and the base to none.
    base = parse_rule_set('id = "bare"\ntitle = "Nothing but the base"')
    assert READ not in {constant.provenance for constant in base}
    assert not any(constant.paragraph for constant in base)


@pytest.mark.parametrize("id_", rule_set_ids())
def test_what_is_our_own_choice_says_so_and_why(id_: str) -> None:
    for constant in rule_set(id_):
        ours = constant.provenance == OWN
        assert ours == constant.document.startswith("frontcheck "), constant.name
        assert not ours or len(constant.note.split()) > 8, constant.name


def test_series_that_exist_beside_the_default_are_told() -> None:
    # From memory, unconfirmed: series 03 and 04 of UN R127 exist.
    assert "Series 03 and 04" in rule_set().caution
    provisional = rule_set("UN-R127-03")
    assert "provisional" in provisional.title
    assert "not available" in provisional.caution
    assert rule_set("UN-GTR9").caution == ""
    changed = provisional.with_values({"ubrl.lean_deg": 21})
    assert changed.caution == provisional.caution


@pytest.mark.parametrize("id_", rule_set_ids())
def test_reach_of_the_edges(id_: str) -> None:
    # Derived: 700 cos 20, 700 cos 25, 600 + 1000 cos 50 (table of reaches, to 0.001 mm).
    rules = rule_set(id_)

    def rise(line: str) -> float:
        lean = math.radians(rules.value(f"{line}.lean_deg"))
        return rules.value(f"{line}.edge_length_mm") * math.cos(lean)

    found = rise("ubrl"), rise("lbrl"), rules.value("blerl.foot_height_mm") + rise("blerl")
    REACH.compare((657.785, 634.415, 1242.788), found, tolerance=5e-4)


@pytest.mark.parametrize("id_", rule_set_ids())
def test_areas_fit_together(id_: str) -> None:
    rules = rule_set(id_)
    # Impact points keep a headform's radius from the lines, and its diameter from one another.
    assert 2.0 * rules.value("headform.impact_offset_mm") == rules.value("headform.diameter_mm")
    assert rules.value("headform.impact_apart_mm") == rules.value("headform.diameter_mm")
    # The areas join: the adult area begins where the child area ends (WAD 1700).
    assert rules.value("child_area.wad_rear_mm") == rules.value("adult_area.wad_front_mm")


def test_smooth_nose_is_no_continuous_contact() -> None:
    # Geometry: a circle of radius R stays within t = 0.1 of its tangent over 2 sqrt(2 R t): 12 mm
    # for R = 180, and the 60 mm of the reading for R = 4500.
    rules = rule_set()
    tolerance = rules.value("blerl.contact_tolerance_mm")
    within = 2.0 * math.sqrt(2.0 * 180.0 * tolerance)
    assert within == pytest.approx(12.0, abs=0.01)
    long = rules.value("blerl.continuous_length_mm")
    assert long > 2.0 * within
    assert long == pytest.approx(2.0 * math.sqrt(2.0 * 4500.0 * tolerance))
