"""Constants against the published texts.

The numbers here were written from the texts (or from memory of them, where the comment
says so) and not copied from the rule-set files. "Read" and "from memory" must also be
what the rule sets themselves say: a constant may not claim more than is known.
"""

from __future__ import annotations

import math

import pytest

from frontcheck.rules.ruleset import rule_set, rule_set_ids

UN = ("UN-GTR9", "UN-GTR9-A2", "UN-R127-00", "UN-R127-01", "UN-R127-02")
READ, MEMORY, UNCONFIRMED = "text read", "from memory", "from memory, unconfirmed"
OWN = "own choice"


@pytest.mark.parametrize("id_", rule_set_ids())
@pytest.mark.parametrize(
    ("name", "number"),
    [
        # Upper bumper reference line: straight edge 700 mm long, inclined rearward by 20 deg.
        # Read in the European texts for fronts with no identifiable bumper structure;
        # UN GTR 9 and UN R127 from memory.
        ("ubrl.edge_length_mm", 700.0),
        ("ubrl.lean_deg", 20.0),
        # Lower bumper reference line: 700 mm, inclined forward by 25 deg. All from memory.
        ("lbrl.edge_length_mm", 700.0),
        ("lbrl.lean_deg", 25.0),
        # Bonnet leading edge: 1000 mm, 50 deg, lower end 600 mm above ground; 40 deg where the
        # contact is continuous or multiple; WAD 1000 where the upper end touches first.
        # (EC) 631/2009 Annex Part I 2.2, read; UN from memory.
        ("blerl.edge_length_mm", 1000.0),
        ("blerl.lean_deg", 50.0),
        ("blerl.foot_height_mm", 600.0),
        ("blerl.retake_lean_deg", 40.0),
        ("blerl.upper_end_wad_mm", 1000.0),
        # Bonnet rear: sphere of 165 mm diameter. (EC) 631/2009 2.3, read; UN from memory.
        ("brrl.sphere_diameter_mm", 165.0),
        ("brrl.wad_cap_mm", 2100.0),  # from memory
        # Side: 700 mm, 45 deg inward. European texts, read; UN from memory.
        ("srl.edge_length_mm", 700.0),
        ("srl.lean_deg", 45.0),
        # Rear bonnet corner template, from memory.
        ("bonnet_corner.template_radius_mm", 100.0),
        ("bonnet_corner.radius_step_mm", 20.0),
        # Legform by lower bumper height: GTR 9 and R127, from memory.
        ("legform.lower_below_mm", 425.0),
        ("legform.upper_from_mm", 500.0),
        # Classic bumper corner: vertical plane at 60 deg, from memory.
        ("bumper_corner.plane_deg", 60.0),
        # Headforms and areas: GTR 9 and R127, from memory.
        ("headform.diameter_mm", 165.0),
        ("headform.child_mass_kg", 3.5),
        ("headform.child_angle_deg", 50.0),
        ("headform.adult_mass_kg", 4.5),
        ("headform.adult_angle_deg", 65.0),
        ("headform.speed_km_h", 35.0),
        ("child_area.wad_front_mm", 1000.0),
        ("child_area.wad_rear_mm", 1700.0),
        ("adult_area.wad_front_mm", 1700.0),
        ("adult_area.wad_rear_mm", 2100.0),
    ],
)
def test_numbers_that_all_editions_share(id_: str, name: str, number: float) -> None:
    assert rule_set(id_).value(name) == number


@pytest.mark.parametrize("id_", rule_set_ids())
def test_reach_of_the_edges(id_: str) -> None:
    # Derived: 700 cos 20, 700 cos 25, 600 + 1000 cos 50 (table of reaches, to 0.001 mm).
    rules = rule_set(id_)

    def rise(line: str) -> float:
        lean = math.radians(rules.value(f"{line}.lean_deg"))
        return rules.value(f"{line}.edge_length_mm") * math.cos(lean)

    assert rise("ubrl") == pytest.approx(657.785, abs=5e-4)
    assert rise("lbrl") == pytest.approx(634.415, abs=5e-4)
    assert rules.value("blerl.foot_height_mm") + rise("blerl") == pytest.approx(1242.788, abs=5e-4)


@pytest.mark.parametrize("id_", rule_set_ids())
def test_headform_offset_is_the_radius(id_: str) -> None:
    rules = rule_set(id_)  # 82.5 mm: half of 165 mm
    assert 2.0 * rules.value("headform.offset_mm") == rules.value("headform.diameter_mm")
    # The areas join: the adult area begins where the child area ends (WAD 1700).
    assert rules.value("child_area.wad_rear_mm") == rules.value("adult_area.wad_front_mm")


@pytest.mark.parametrize(
    ("id_", "inboard", "provenance"),
    [
        ("UN-GTR9", 66.0, MEMORY),  # original GTR 9
        ("UN-R127-00", 66.0, MEMORY),
        ("UN-R127-01", 42.0, MEMORY),  # 42 mm from the 01 series on
        ("UN-R127-02", 42.0, MEMORY),
        ("UN-GTR9-A2", 42.0, MEMORY),
        ("EU-631-2009", 66.0, UNCONFIRMED),  # no source at hand
    ],
)
def test_bumper_area_inboard_of_the_corners(id_: str, inboard: float, provenance: str) -> None:
    constant = rule_set(id_)["bumper_area.inboard_mm"]
    assert (constant.value, constant.provenance) == (inboard, provenance)


@pytest.mark.parametrize("id_", rule_set_ids())
def test_gauge_and_beam_rule_came_together(id_: str) -> None:
    # From R127.02 and GTR 9 Amendment 2 on: the beam rule was read, the gauge is from memory.
    late = id_ in ("UN-R127-02", "UN-GTR9-A2")
    rules = rule_set(id_)
    assert rules.flag("bumper_corner.gauge") is late
    assert rules.flag("bumper_area.beam_rule") is late
    if late:
        assert rules["bumper_area.beam_rule"].provenance == READ
    assert rules.value("bumper_area.beam_inboard_mm") == 42.0  # from memory
    assert rules.value("bumper_corner.gauge_face_deg") == 60.0
    assert rules.value("bumper_corner.gauge_width_mm") == 236.0  # from memory, unconfirmed
    assert rules.value("bumper_corner.gauge_height_mm") == 114.0  # from memory, unconfirmed
    assert rules.value("bumper_corner.gauge_low_mm") == 75.0
    assert rules.value("bumper_corner.gauge_high_mm") == 1003.0
    assert rules["bumper_corner.gauge_width_mm"].provenance == UNCONFIRMED
    assert rules["bumper_corner.gauge_height_mm"].provenance == UNCONFIRMED


@pytest.mark.parametrize("id_", rule_set_ids())
def test_european_text_differs_in_two_switches(id_: str) -> None:
    europe = id_ == "EU-631-2009"
    rules = rule_set(id_)
    # 631/2009 caps the bonnet rear line at the WAD 2100 trace, UN texts the area: from memory.
    assert rules.flag("brrl.cap_line") is europe
    assert rules["brrl.cap_line"].provenance == MEMORY
    # With an identifiable bumper structure the edge need not stand on the ground: unconfirmed.
    assert rules.flag("ubrl.foot_on_ground") is not europe
    assert rules["ubrl.foot_on_ground"].provenance == (UNCONFIRMED if europe else MEMORY)


READ_IN_EUROPE = {
    "ubrl.edge_length_mm": "",
    "ubrl.lean_deg": "",
    "srl.edge_length_mm": "",
    "srl.lean_deg": "",
    "blerl.edge_length_mm": "2.2",
    "blerl.lean_deg": "2.2",
    "blerl.retake_lean_deg": "2.2",
    "blerl.foot_height_mm": "2.2",
    "blerl.upper_end_wad_mm": "2.2",
    "brrl.sphere_diameter_mm": "2.3",
}


def test_what_was_read_of_the_european_text() -> None:
    read = {c.name: c.paragraph for c in rule_set("EU-631-2009") if c.provenance == READ}
    assert read == READ_IN_EUROPE
    for name, paragraph in read.items():
        document = rule_set("EU-631-2009")[name].document
        assert "631/2009" in document
        assert not paragraph or document == "Regulation (EC) No 631/2009, Annex Part I"


@pytest.mark.parametrize("id_", UN)
def test_what_was_read_of_the_un_texts(id_: str) -> None:
    # Only the bumper-beam rule; everything else is from memory and must say so.
    read = {c.name for c in rule_set(id_) if c.provenance == READ}
    assert read == ({"bumper_area.beam_rule"} if id_ in ("UN-R127-02", "UN-GTR9-A2") else set())
    assert all(c.paragraph == "" for c in rule_set(id_))


@pytest.mark.parametrize("id_", rule_set_ids())
@pytest.mark.parametrize(
    ("name", "value"),
    [
        # No text gives these; they are readings of ours, and print as such.
        ("blerl.contact_tolerance_mm", 0.1),
        ("blerl.continuous_length_mm", 60.0),
        ("blerl.separate_touch_mm", 10.0),
        ("wad.anchor_height_mm", 1000.0),
        ("open_end.reach_mm", 500.0),
        ("open_end.spread_deg", 30.0),
        ("open_end.last_mm", 50.0),
        ("windscreen.above_z_mm", 700.0),
        ("windscreen.rise_low_deg", 20.0),
        ("windscreen.rise_high_deg", 65.0),
        ("windscreen.length_mm", 250.0),
    ],
)
def test_our_own_readings_say_so(id_: str, name: str, value: float) -> None:
    constant = rule_set(id_)[name]
    assert constant.value == value
    assert constant.document == "frontcheck reading, the text gives no number"
    assert constant.provenance == OWN
    assert len(constant.note.split()) > 8  # the reason


def test_smooth_nose_is_no_continuous_contact() -> None:
    # Geometry: a circle of radius 180 stays within t = 0.1 of its tangent over 2 sqrt(2 R t)
    # = 12 mm; the reading must leave such a nose alone, with room to spare.
    rules = rule_set()
    tolerance = rules.value("blerl.contact_tolerance_mm")
    within = 2.0 * math.sqrt(2.0 * 180.0 * tolerance)
    assert within == pytest.approx(12.0, abs=0.01)
    assert rules.value("blerl.continuous_length_mm") > 2.0 * within
