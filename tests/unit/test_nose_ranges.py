"""What a nose may be: every default and range, facets, and why some cannot be made."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.errors import InputError, NotAvailableError
from frontcheck.study.nose_dimensions import DIMENSIONS, Facets, Nose, arc_parts
from frontcheck.study.noses import facets_for, nose_batch, nose_front
from frontcheck.study.roundings import CIRCLES, lay_out

# Own choice: default, least and greatest, as the handbook's page of parameters has them.
RANGES = """
underside_angle_deg 14 0 60
underside_length_mm 350 10 1500
lower_lip_height_mm 330 50 1000
lower_lip_setback_mm 20 -400 800
lower_lip_radius_mm 25 1 500
recess_depth_mm 22 0 400
recess_radius_mm 30 1 500
bumper_height_mm 510 100 1200
bumper_depth_mm 120 2 900
bumper_radius_mm 35 1 450
grille_depth_mm 8 0 400
grille_radius_mm 30 1 500
upper_lip_height_mm 690 150 1500
upper_lip_setback_mm 45 -400 1200
upper_lip_radius_mm 30 1 600
leading_edge_height_mm 800 200 1800
lead_mm 100 -300 1500
leading_edge_radius_mm 90 1 1500
bonnet_angle_deg 10 0 35
bonnet_crown_mm 15 0 300
bonnet_edge_radius_mm 6 0.5 100
cowl_setback_mm 1080 150 3000
cowl_gap_mm 60 1 500
cowl_depth_mm 22 0 300
cowl_radius_mm 18 0.5 300
windscreen_angle_deg 32 5 85
windscreen_length_mm 600 10 3000
plan_radius_mm 2200 300 100000
"""


def test_every_dimension_has_its_default_and_range() -> None:
    rows = [row.split() for row in RANGES.split("\n") if row]
    told = [(name, *map(float, numbers)) for name, *numbers in rows]
    assert [(d.name, d.default, d.low, d.high) for d in DIMENSIONS] == told
    assert [d.unit for d in DIMENSIONS] == [name.rpartition("_")[2] for name, *_ in told]
    assert Nose().values.tolist() == [default for _, default, *_ in told]


def test_the_ends_of_a_range_belong_to_it() -> None:
    for d in DIMENSIONS:
        for at in (d.low, d.high):
            assert getattr(Nose(**{d.name: at}), d.name) == at
        step = 1e-6 * (d.high - d.low)
        for beyond in (d.low - step, d.high + step, math.nan, math.inf):
            with pytest.raises(InputError) as caught:
                Nose(**{d.name: beyond})
            says = f"found {d.name} = {beyond:g}; expected a number from {d.low:g} to {d.high:g}"
            assert f"{says} {d.unit}" in str(caught.value)


@pytest.mark.parametrize("radius", [3.0, 25.0, 90.0, 400.0, 1500.0])
@pytest.mark.parametrize("tolerance", [0.0005, 0.02, 0.5])
def test_as_few_chords_as_keep_the_tolerance(radius, tolerance) -> None:
    """The height of an arc over a chord of the angle a is r (1 - cos(a / 2))."""
    parts = arc_parts(radius, tolerance)
    step = math.radians(5.0)
    heights = [radius * (1.0 - math.cos(step / n / 2.0)) for n in (parts, max(parts - 1, 1))]
    assert heights[0] <= tolerance * (1.0 + 1e-6)
    assert parts == 1 or heights[1] > tolerance


def test_an_arc_smaller_than_the_tolerance_is_one_chord() -> None:
    assert arc_parts(0.5, 0.5) == 1
    assert arc_parts(0.5, 3.0) == 1
    # Exactly two parts: of 2.5 deg each, so that rounding does not make them three.
    assert arc_parts(100.0, 100.0 * (1.0 - math.cos(math.radians(1.25)))) == 2


def test_directions_are_whole_parts_of_5_deg_between_first_and_last() -> None:
    facets = Facets(((2, -1, 3),), 4)
    assert np.degrees(facets.directions(0)) == pytest.approx([-2.5, 0.0, 2.5, 5.0, 7.5])


def test_facets_hold_all_directions_of_all_noses_and_no_more() -> None:
    """Own choice of chords of the bonnet: a flat arc of height h in m chords lies within h / m^2
    of them, a tenth more as it bends."""
    noses = np.stack([Nose().values, Nose(leading_edge_radius_mm=60.0, lead_mm=120.0).values])
    crown = 15.0
    for tolerance, margin in ((0.02, 0.0), (0.3, 5.0)):
        facets = facets_for(noses, tolerance, margin)
        chain = lay_out(noses)
        assert facets.bonnet == math.ceil(math.sqrt(1.1 * crown / tolerance))
        for i in range(len(CIRCLES)):
            ends = np.degrees(np.concatenate([chain.enter[i], chain.leave[i]]))
            parts, first, last = facets.arcs[i]
            assert parts == arc_parts(float(np.abs(chain.rho[i]).max()), tolerance)
            step = 5.0 / parts
            low, high = ends.min() - margin, ends.max() + margin
            inside = [k for k in range(-500, 1500) if low <= k * step <= high]
            assert (first, last) == (inside[0], inside[-1])
    flat = facets_for(Nose(bonnet_crown_mm=0.0).values[None])
    assert flat.bonnet == 1


def test_a_nose_that_cannot_be_made_among_others_is_left_out_of_the_facets() -> None:
    bad, good = Nose(bumper_depth_mm=30.0).values, Nose().values
    assert facets_for(np.stack([bad, good])) == facets_for(good[None])
    with pytest.raises(NotAvailableError) as caught:
        facets_for(np.stack([bad, Nose(lead_mm=900.0).values]))
    assert str(caught.value) == "the bumper is less deep than its two radii together"


APART = (
    "{} lie too close together for a straight line that touches both: move them apart or take "
    "smaller radii"
)
STANDS = "{} would bend the wrong way: it does not stand out between its neighbours"
ORDER = "{} would bend the wrong way: its neighbours lie too close together or out of order"
LAID = "the string from {} cannot be laid: one rounding lies within the other"
REASONS = {
    "the bumper is less deep than its two radii together": {"bumper_depth_mm": 69.9},
    LAID.format("lower lip to bumper"): {"lower_lip_height_mm": 485},
    LAID.format("bumper to upper lip"): {"upper_lip_setback_mm": -191, "upper_lip_radius_mm": 552},
    APART.format("lower lip and recess"): {"lower_lip_radius_mm": 198},
    APART.format("recess and lower edge of the bumper"): {
        "bumper_depth_mm": 320, "bumper_radius_mm": 152
    },
    APART.format("upper edge of the bumper and recess above the bumper"): {"grille_radius_mm": 474},
    APART.format("recess above the bumper and upper lip"): {"grille_radius_mm": 405},
    APART.format("upper lip and leading edge"): {"leading_edge_radius_mm": 221},
    APART.format("rear edge of the bonnet and cowl"): {"bonnet_edge_radius_mm": 58},
    STANDS.format("lower lip"): {"lower_lip_setback_mm": 744},
    STANDS.format("lower edge of the bumper"): {"lower_lip_setback_mm": -160},
    STANDS.format("upper edge of the bumper"): {"upper_lip_setback_mm": -35},
    STANDS.format("upper lip"): {"lead_mm": -288},
    STANDS.format("leading edge"): {"lead_mm": 646},
    STANDS.format("rear edge of the bonnet"): {"bonnet_crown_mm": 204},
    ORDER.format("recess"): {"bumper_depth_mm": 467},
    ORDER.format("recess above the bumper"): {"upper_lip_height_mm": 372},
    "a wall of a recess would run downward: make it shallower or move its lips apart": {
        "lower_lip_height_mm": 479
    },
    "the cowl lies ahead of the leading edge: move it rearward": {
        "cowl_setback_mm": 218, "lead_mm": 730
    },
    "the crown is more than a quarter of the bonnet's length": {"bonnet_crown_mm": 270},
    "the contour would go below the ground": {"lower_lip_height_mm": 72},
    "the rear of the bonnet would run back under itself: make the cowl shallower": {
        "bonnet_edge_radius_mm": 62, "cowl_depth_mm": 222
    },
    "the leading edge's rounding lacks the point whose tangent leans 50 deg: the face leans more": {
        "lead_mm": 335
    },
    "the cowl would lie lower than the face ahead of it and cut into it": {
        "recess_depth_mm": 249, "grille_depth_mm": 288, "bonnet_edge_radius_mm": 95,
        "cowl_setback_mm": 219,
    },
}  # fmt: skip


@pytest.mark.parametrize("reason", REASONS)
def test_why_a_nose_cannot_be_made(reason) -> None:
    with pytest.raises(NotAvailableError) as caught:
        nose_front(Nose(**REASONS[reason]))
    assert str(caught.value) == reason


OTHER_SIDES = [
    ("a wall of a recess would run downward", {"bumper_height_mm": 365}),  # the upper wall of one
    ("a wall of a recess", {"lower_lip_setback_mm": -83, "recess_depth_mm": 394}),  # the lower one
    ("the leading edge's rounding lacks the point", {"lead_mm": 381}),  # it begins above it
    ("the leading edge's rounding lacks the point", {"cowl_setback_mm": 208}),  # it ends below it
    ("the cowl would lie lower than the face ahead of it",
     {"lower_lip_height_mm": 225, "grille_depth_mm": 307, "cowl_setback_mm": 219}),
    ("the rear of the bonnet would run back", {"bonnet_edge_radius_mm": 46, "cowl_depth_mm": 216}),
    ("", {"cowl_depth_mm": 286}),  # lower than the leading edge, and well behind the face
]  # fmt: skip


@pytest.mark.parametrize(("reason", "dimensions"), OTHER_SIDES)
def test_either_side_of_a_rule_alone_rules_a_nose_out(reason, dimensions) -> None:
    chain = lay_out(Nose(**dimensions).values[None])
    assert chain.reason[0].startswith(reason)
    assert bool(chain.reason[0]) == bool(reason)


def test_at_a_limit_a_nose_can_still_be_made() -> None:
    """A bumper as deep as its two radii; an underside that ends on the ground itself."""
    assert nose_front(Nose(bumper_depth_mm=70.0)).sections
    chain = lay_out(Nose(underside_angle_deg=30.0).values[None])
    low = float(chain.start[0, 1]) / math.sin(math.radians(30.0))
    for more, made in ((-1e-6, True), (1e-3, False)):
        length = 350.0 + low + more
        batch = nose_batch(
            Nose(underside_angle_deg=30.0, underside_length_mm=length).values[None],
            facets_for(Nose(underside_angle_deg=30.0).values[None]),
        )
        assert batch.feasible.tolist() == [made]


def test_a_station_at_the_plan_radius_is_beyond_it() -> None:
    nose = Nose(plan_radius_mm=1500.0)
    section = nose_front(nose, (0.0, 1499.9)).sections[1]
    assert section.x.min() == pytest.approx(1500.0 - math.sqrt(1500.0**2 - 1499.9**2))
    with pytest.raises(NotAvailableError) as caught:
        nose_front(nose, (0.0, 1500.0))
    assert str(caught.value) == "the station lies outside the plan radius"


def test_parts_are_named_in_order() -> None:
    section = nose_front(Nose()).sections[0]
    order = list(dict.fromkeys(section.parts))
    assert order == ["underside", "bumper", "lamp", "bonnet", "cowl", "windscreen"]
    # The bumper ends with its upper rounding, the lamps begin in the recess above it.
    top = section.z[[part == "bumper" for part in section.parts]].max()
    assert 510.0 < top <= 570.0
    front = nose_front(Nose(), name="n")
    assert (front.name, front.method, front.symmetric) == (
        "n", "parametric nose, arcs and tangents", True
    )  # fmt: skip
