"""Solve: the least change where it can be worked out by hand, and proofs where there is none.

The shapes are straight-sided (tests/nose.py) or parametric noses; the optima are plane geometry,
given beside each check. 1e-6 mm is what the search leaves of the limit by intent (1e-7) and what
the verification allows.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from checks import Check, derived

from frontcheck.front.front import Front
from frontcheck.rules.ruleset import rule_set
from frontcheck.screening import screen
from frontcheck.study.sampling import sobol
from frontcheck.study.search import bound
from frontcheck.study.solve import solve
from frontcheck.study.study import Limit, Setup, Study, Varied, measure, prefixed
from frontcheck.study.study_file import parse_study
from frontcheck.study.varied_shapes import FrontShapes
from frontcheck.surface.section import Section

EXACT = 1e-6
LEAST = Check(
    "least-change",
    kind="closed form",
    quantity="least movement of the skin that keeps the limits of a study",
    unit="mm",
    source=derived("plane geometry of corners and lips"),
    why="what the search leaves of the limit by intent is 1e-7",
)


def study_of(section, varied, limits, blend=150.0):
    names = tuple(v.name for v in varied)
    shapes = FrontShapes(Front((section,), name="corner"), names, (section.y,), blend)
    setup = Setup(shapes, rule_set(), (1000.0,))
    sample = sobol([v.low for v in varied], [v.high for v in varied], 8, 1)
    return Study("corner", setup, tuple(varied), "sobol", 1, sample, limits=tuple(limits))


def corner(height=800.0, **kwargs):
    """Upright face x = 0 from a chin at 300 to the leading edge, then a bonnet rising 8 deg."""
    back = 1200.0
    rise = math.tan(math.radians(8.0)) * back
    points = [(400, 260), (0, 300), (0, height), (back, height + rise), (1700, height + rise + 350)]
    return Section(points, 0.0, ["underside", "bumper", "bonnet", "bonnet", "windscreen"], **kwargs)


def at_least(line, value):
    return Limit(line, None, value, math.inf)


def at_most(line, value, probability=None):
    return Limit(line, None, -math.inf, value, probability)


def test_one_handle_moves_just_far_enough():
    """BLERL is the corner (0, 800): raised to 830 the nose must come up by 30, no less."""
    found = solve(
        study_of(corner(), [Varied("nose_up_mm", "mm", -100, 100)], [at_least("BLERL_z_mm", 830)])
    )
    assert found.status == "found"
    assert found.values["nose_up_mm"] == pytest.approx(30, abs=EXACT)
    LEAST.compare(30, found.skin_moved_mm, tolerance=EXACT, case="one handle")
    assert found.lines[0].before == 800.0
    assert found.lines[0].after == pytest.approx(830, abs=EXACT)
    assert found.proof.status == "least_change"
    assert 0.97 * 30 <= found.proof.least_mm <= 30


def test_two_handles_share_the_way_as_pythagoras_has_it():
    """The corner must go 4 up and 3 back; UBRL stays, being out of the blend: 5 mm of skin."""
    section = Section(
        [(400, 260), (0, 300), (0, 500), (60, 560), (60, 800), (1260, 968), (1700, 1300)], 0.0,
        ["underside", "bumper", "bumper", "grille", "bonnet", "bonnet", "windscreen"],
    )  # fmt: skip
    lead = 60.0
    found = solve(
        study_of(
            section,
            [Varied("leading_edge_up_mm", "mm", -20, 20),
             Varied("leading_edge_back_mm", "mm", -20, 20)],
            [at_least("BLERL_z_mm", 804), at_least("bumper_lead_mm", lead + 3)],
            blend=100.0,
        )
    )  # fmt: skip
    assert found.status == "found"
    assert found.values["leading_edge_up_mm"] == pytest.approx(4, abs=EXACT)
    assert found.values["leading_edge_back_mm"] == pytest.approx(3, abs=EXACT)
    LEAST.compare(5, found.skin_moved_mm, tolerance=EXACT, case="two handles")
    assert found.proof.status == "least_change"


def test_of_two_handles_both_help_when_either_alone_must_go_farther():
    """Chin down 40: nose_up moves it by u, all other skin too; lower lip adds only at the lip.
    Any u + v = -40 keeps the limit and moves the lip 40: the least skin elsewhere is u = 0."""
    section = Section(
        [(400, 260), (0, 300), (60, 420), (0, 540), (0, 800), (1200, 968), (1700, 1300)], 0.0,
        ["underside", "bumper", "bumper", "bumper", "bonnet", "bonnet", "windscreen"],
    )  # fmt: skip
    found = solve(
        study_of(
            section,
            [Varied("nose_up_mm", "mm", -60, 60), Varied("lower_lip_up_mm", "mm", -60, 60)],
            [at_most("LBRL_z_mm", 260)],
            blend=120.0,
        )
    )
    LEAST.compare(40, found.skin_moved_mm, tolerance=EXACT, case="the one that helps")
    assert found.values["nose_up_mm"] == pytest.approx(0, abs=1e-3)
    assert found.values["lower_lip_up_mm"] == pytest.approx(-40, abs=1e-3)


def test_a_nose_meets_a_limit_on_its_lower_line_exactly():
    """LBRL on the lip's rounding: z = height - r sin 25 (test_arcs.py)."""
    study = parse_study("""
[nose]
lower_lip_radius_mm = 25
[vary]
lower_lip_height_mm = { low = 290, high = 350 }
[sampling]
variants = 64
[[limits]]
line = "LBRL_z_mm"
at_most_mm = 300
""")
    found = solve(study)
    assert found.status == "found"
    wanted = 300 + 25 * math.sin(math.radians(25))
    assert found.values["lower_lip_height_mm"] == pytest.approx(wanted, abs=EXACT)
    assert "not proven" in found.reason


def test_a_jump_of_the_contact_is_found():
    """LBRL leaves the lip at x = b for the bumper's lower edge when the lip stands back.

    Both are corners: the 25 deg edge touches the lip (b, 300) first while b + 300 tan 25 <
    0 + 500 tan 25, so for b < 200 tan 25 = 93.26. For LBRL at 500 the lip must go back that far.
    """
    section = Section(
        [(600, 260), (20, 300), (150, 400), (0, 500), (0, 800), (1200, 968), (1700, 1300)], 0.0,
        ["underside", "bumper", "bumper", "bumper", "bonnet", "bonnet", "windscreen"],
    )  # fmt: skip
    found = solve(
        study_of(
            section, [Varied("lower_lip_back_mm", "mm", 0, 120)], [at_least("LBRL_z_mm", 450)],
            blend=60.0,
        )
    )  # fmt: skip
    jump = 200 * math.tan(math.radians(25)) - 20
    assert found.status == "found"
    LEAST.compare(jump, found.skin_moved_mm, tolerance=EXACT, case="a jump")
    assert found.lines[0].after == 500.0


def test_a_base_that_keeps_its_limits_needs_no_change():
    found = solve(
        study_of(corner(), [Varied("nose_up_mm", "mm", -9, 9)], [at_least("BLERL_z_mm", 800)])
    )
    assert found.status == "met"
    assert found.skin_moved_mm == 0.0
    assert found.values == {}


@pytest.mark.parametrize(
    ("limits", "none"),
    [
        # The corner starts at 800 and may rise by 40: 840 is the most.
        ([at_least("BLERL_z_mm", 840.001)], True),
        ([at_least("BLERL_z_mm", 839.999)], False),
        # Chin and corner go together: 310 up one way, 830 needs 30 the other way.
        ([at_most("LBRL_z_mm", 320), at_least("BLERL_z_mm", 820.001)], True),
        ([at_most("LBRL_z_mm", 320), at_least("BLERL_z_mm", 819.999)], False),
        # Two narrow windows on one line.
        ([at_least("LBRL_z_mm", 310), at_most("LBRL_z_mm", 309.99)], True),
    ],
)
def test_that_nothing_keeps_the_limits_is_proven_and_only_then(limits, none):
    study = study_of(corner(), [Varied("nose_up_mm", "mm", -40, 40)], limits)
    proof = bound(study)
    assert (proof.status == "none_exists") == none
    if none:
        found = solve(study)
        assert found.status == "none_exists"
        assert found.values == {}
        assert found.front is None
        assert "Proven: nothing within the ranges" in found.reason
    else:
        assert "none_exists" not in proof.status


def test_a_nose_that_cannot_be_low_enough_is_proven():
    """LBRL of the nose is at least the lowest lip height less r sin 25, or it is on the bumper."""
    text = """
[nose]
lower_lip_radius_mm = 20
recess_radius_mm = 15
[vary]
lower_lip_height_mm = { low = 300, high = 350 }
lower_lip_setback_mm = { low = 0, high = 90 }
[sampling]
variants = 64
[[limits]]
line = "LBRL_z_mm"
at_most_mm = %r
"""
    least = 300 - 20 * math.sin(math.radians(25))
    assert bound(parse_study(text % (least - 0.001))).status == "none_exists"
    assert bound(parse_study(text % (least + 0.001))).status != "none_exists"


def test_where_no_bound_is_known_nothing_is_claimed():
    study = study_of(
        corner(), [Varied("nose_up_mm", "mm", -10, 10)], [at_most("WAD_1000_x_mm", -50)]
    )
    found = solve(study)
    assert found.status == "none_found"
    assert found.proof.status == "not_available"
    assert "That is no proof" in found.reason


def test_with_a_probability_the_line_lies_its_margin_inside():
    """The chin alone is touched: LBRL z is that point's height, normal with its uncertainty. For
    95 % below 320 the chin must come down to 320 - 1.645 * 2 (normal quantile). 4000 draws know a
    share of 0.95 to 0.0035, which is 0.034 standard deviations, 0.07 mm; the search stops
    within a few of those."""
    section = corner(height_u=2.0)
    limit = at_most("LBRL_z_mm", 290, probability=0.95)
    found = solve(study_of(section, [Varied("nose_up_mm", "mm", -60, 0)], [limit]))
    assert found.status == "found"
    assert found.lines[0].probability >= 0.95
    assert found.lines[0].after == pytest.approx(290 - 1.6449 * 2.0, abs=0.3)
    plain = solve(
        study_of(section, [Varied("nose_up_mm", "mm", -60, 0)], [at_most("LBRL_z_mm", 290)])
    )
    assert found.skin_moved_mm > plain.skin_moved_mm + 2.5


def test_the_document_holds_plain_values_and_the_caution():
    found = solve(
        study_of(corner(), [Varied("nose_up_mm", "mm", -100, 100)], [at_least("BLERL_z_mm", 830)])
    )
    document = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert document["schema"] == "frontcheck.solution/1"
    assert document["lines"][0]["at_most_mm"] is None
    assert document["lines"][0]["kept"] is True
    assert document["parameters"][0]["base"] == 0.0
    assert "not a test" in document["cautions"][0]


def test_solving_twice_gives_the_same():
    study = study_of(
        corner(),
        [Varied("nose_up_mm", "mm", -50, 50), Varied("face_lean_deg", "deg", -10, 10)],
        [at_least("BLERL_z_mm", 820), at_most("bumper_lead_mm", 30)],
    )
    assert solve(study).to_dict() == solve(study).to_dict()


LINES = {
    "LBRL_z_mm": lambda station: station.LBRL.z,
    "UBRL_z_mm": lambda station: station.UBRL.z,
    "BLERL_z_mm": lambda station: station.BLERL.z,
    "BRRL_x_mm": lambda station: station.BRRL.x,
    "bumper_lead_mm": lambda station: station.bumper_lead,
    "WAD_1000_x_mm": lambda station: station.wads[0].x,
}
GRID = 61


@pytest.mark.parametrize("seed", range(14))
def test_random_studies_against_every_place_of_a_grid(seed):
    """Two handles, one or two limits; every fifth front ends ahead of its windscreen, so that BRRL
    is missing. No place of the grid that keeps the limits may move the skin less than what was
    found, and none may keep them where that is said to be impossible."""
    rng = np.random.default_rng(seed)
    missing = seed % 5 == 0
    section = corner(float(rng.uniform(650.0, 900.0)))
    if missing:
        section = Section(section.points[:4], 0.0, section.parts[:4])
    names = rng.choice(["nose_up_mm", "face_lean_deg", "leading_edge_up_mm"], 2, replace=False)
    ends = [(-40.0, 40.0) if name.endswith("mm") else (-4.0, 12.0) for name in names]
    varied = [Varied(str(n), n.rpartition("_")[2], *e) for n, e in zip(names, ends, strict=True)]
    study = study_of(section, varied, [])
    shapes = study.setup.shapes
    axes = [np.linspace(*end, GRID) for end in ends]
    places = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2)
    measured = measure(study.setup, places)
    lines = (
        ["BRRL_x_mm"]
        if missing
        else rng.choice(sorted(LINES.keys() - {"BRRL_x_mm"}), 2, replace=False).tolist()
    )
    columns = [measured.known(prefixed(0.0, line)) for line in lines]
    limits, some = [], int(rng.integers(len(places)))
    for line, column in zip(lines, columns, strict=True):
        # Most limits are kept at some place of the grid, taken by chance.
        at = np.nan_to_num(column[some]) + (
            0.0 if rng.random() < 0.75 else rng.uniform(-30.0, 30.0)
        )
        high = column[some] > column[len(places) // 2]
        limits.append(at_least(line, float(at)) if high else at_most(line, float(at)))
    found = solve(study_of(section, varied, limits))
    kept = np.all(
        [(v >= m.at_least) & (v <= m.at_most) for v, m in zip(columns, limits, strict=True)], axis=0
    )
    travel = shapes.travel(places).max(axis=1)
    if found.status in {"met", "found"}:
        at = [found.values.get(str(name), 0.0) for name in names]
        made = screen(shapes.front(np.array(at)), wad=(1000.0,)).stations[0]
        for limit in limits:
            value = LINES[limit.line](made)
            assert value is not None
            assert limit.at_least - EXACT <= value <= limit.at_most + EXACT
        least = travel[kept].min() if kept.any() else np.inf
        assert (found.skin_moved_mm or 0.0) <= least + 1e-4
    else:
        assert not kept.any()
    if missing:
        assert found.status not in {"met", "found"}
