"""Studies in TOML: what is read, and that every refusal names file, key, found and expected."""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck.errors import InputError, StudyError
from frontcheck.study.study_file import parse_study, read_study

GOOD = """
[nose]
[vary]
lower_lip_height_mm = { low = 320, high = 350 }
[sampling]
variants = 20
"""


def test_what_is_not_given_has_a_default():
    study = parse_study(GOOD)
    assert study.count == 20
    assert study.method == "sobol"
    assert study.setup.rules.id == "UN-R127-02"
    assert study.setup.wad == (1000.0, 1500.0, 1700.0, 2100.0)
    assert study.setup.shapes.stations == (0.0,)
    assert study.limits == ()


def test_a_grid_and_its_levels():
    study = parse_study("""
[nose]
[vary]
lead_mm = { values = [90, 110] }
recess_depth_mm = { low = 10, high = 20, steps = 3 }
[sampling]
method = "grid"
""")
    assert study.sample.tolist() == [
        [90, 10], [90, 15], [90, 20], [110, 10], [110, 15], [110, 20],
    ]  # fmt: skip


def test_a_list_of_variants(tmp_path):
    (tmp_path / "v.csv").write_text("# note\nlead_mm,recess_depth_mm\n90,10\n\n95.5,12\n", "utf-8")
    study = parse_study('[nose]\n[sampling]\nmethod = "list"\nfile = "v.csv"', folder=tmp_path)
    assert study.sample.tolist() == [[90, 10], [95.5, 12]]
    assert [v.name for v in study.varied] == ["lead_mm", "recess_depth_mm"]


def test_a_measured_front_with_handles(geometries):
    study = parse_study(
        '[front]\nfile = "plover.csv"\nstations_mm = [0, 300]\n'
        "[vary]\nnose_up_mm = { low = -20, high = 20 }",
        folder=geometries,
    )
    assert study.setup.shapes.stations == (0.0, 300.0)
    assert study.setup.shapes.base.tolist() == [0.0]


def test_the_digest_follows_what_results_depend_on_and_nothing_else():
    one = parse_study(GOOD).digest
    assert parse_study(GOOD).digest == one
    assert parse_study(f'name = "other"\n{GOOD}').digest == one
    with_limit = f'{GOOD}\n[[limits]]\nline = "LBRL_z_mm"\nat_most_mm = 320'
    assert parse_study(with_limit).digest == one
    for old, new in (
        ("350", "351"),
        ("variants = 20", "variants = 21"),
        ("variants = 20", "variants = 20\nseed = 2"),
        ("[nose]", "[nose]\nlead_mm = 101"),
        ("[nose]", 'rules = "UN-GTR9"\n[nose]'),
        ("[nose]", "wad_mm = [1000]\n[nose]"),
        ("[nose]", "[nose]\nchord_tolerance_mm = 0.1"),
    ):
        assert parse_study(GOOD.replace(old, new)).digest != one, new


BAD = {
    "not TOML": ("[nose", "not TOML"),
    "nothing to vary": ("[nose]", "key vary: found nothing that varies"),
    "neither": ("[vary]", "neither [nose] nor [front]"),
    "both": ("[nose]\n[front]\nfile='x'", "both [nose] and [front]"),
    "unknown top key": (f"stations = 3\n{GOOD}", "key stations: found key 'stations'"),
    "unknown nose key": (GOOD.replace("[nose]", "[nose]\nlip = 3"), "key nose.lip"),
    "unknown parameter": (GOOD.replace("lower_lip_height", "lip_height"), "key vary.lip_height_mm"),
    "handle on a nose": (
        GOOD.replace("lower_lip_height_mm", "nose_up_mm"), "key vary.nose_up_mm"),
    "low above high": (GOOD.replace("320", "360"), "key vary.lower_lip_height_mm.high: found 350"),
    "out of range": (GOOD.replace("320", "-5"), "= -5; expected a number from 50 to 1000 mm"),
    "text for a number": (GOOD.replace("320", "'x'"), "lower_lip_height_mm.low: found 'x'"),
    "no number": (GOOD.replace("320", "nan"), "found nan; expected a number"),
    "true for a number": (GOOD.replace("320", "true"), "found True; expected a number"),
    "method": (GOOD.replace("variants = 20", 'method = "random"'), "expected one of sobol"),
    "no variants": (GOOD.replace("= 20", "= 0"), "expected a whole number from 1"),
    "half a variant": (GOOD.replace("= 20", "= 2.5"), "found 2.5; expected a whole number"),
    "seed": (GOOD.replace("= 20", "= 20\nseed = -1"), "key sampling.seed"),
    "rules": (f'rules = "UN-R127-09"\n{GOOD}', "key rules: found 'UN-R127-09'"),
    "wad": (f"wad_mm = [1000, -1]\n{GOOD}", "key wad_mm[2]: found -1; expected lengths above 0 mm"),
    "power of two": (f"{GOOD}\n[sensitivity]\nsamples = 100", "a power of two"),
    "sensitivity of": (f'{GOOD}\n[sensitivity]\nof = ["LBRL"]', "key sensitivity.of: found 'LBRL'"),
    "limit on nothing": (f'{GOOD}\n[[limits]]\nline = "X"', "key limits[1].line: found 'X'"),
    "no limit": (f'{GOOD}\n[[limits]]\nline = "LBRL_z_mm"', "key limits[1]: found no limit"),
    "limits crossed": (
        f'{GOOD}\n[[limits]]\nline = "LBRL_z_mm"\nat_least_mm = 3\nat_most_mm = 2',
        "key limits[1].at_most_mm: found 2"),
    "limit station": (
        f'{GOOD}\n[[limits]]\nline = "LBRL_z_mm"\nat_most_mm = 2\nstation_mm = 7', "one of 0"),
    "probability of a nose": (
        f'{GOOD}\n[[limits]]\nline = "LBRL_z_mm"\nat_most_mm = 2\nprobability = 0.9',
        "measured front"),
    "limits no list": (f"{GOOD}\n[limits]\nline = 3", "a list of tables"),
    "base infeasible": (GOOD.replace("[nose]", "[nose]\nbumper_depth_mm = 30"),
                        "a nose that cannot be made: the bumper is less deep"),
    "stations unsorted": (GOOD.replace("[nose]", "[nose]\nstations_mm = [3, 1]"), "increasing"),
    "stations beyond plan": (GOOD.replace("[nose]", "[nose]\nstations_mm = [2200]"), "plan_radius"),
    "list without file": (GOOD.replace("variants = 20", 'method = "list"'), "key sampling.file"),
    "list missing": (GOOD.replace("variants = 20", 'method = "list"\nfile = "gone.csv"'),
                     "gone.csv: found a file that cannot be read"),
    "front missing": ('[front]\nfile = "gone.csv"\n[vary]\nnose_up_mm = { low = 0, high = 1 }',
                      "gone.csv"),
    "variants of a grid": (GOOD.replace("variants = 20", 'method = "grid"\nvariants = 20'),
                           "key sampling.variants: found key 'variants'"),
    "ends beside values": (GOOD.replace("high = 350", "values = [330, 340]"),
                           "key vary.lower_lip_height_mm.low: found key 'low'"),
    "one end only": (GOOD.replace(", high = 350", ""), "lower_lip_height_mm.high: found no high"),
    "number no table": (GOOD.replace("[nose]", "nose = 3"), "key nose: found 3; expected a table"),
    "infinite": (f"{GOOD}\n[[limits]]\nline = 'LBRL_z_mm'\nat_most_mm = inf",
                 "key limits[1].at_most_mm: found inf; expected a number"),
    "text in a list": (GOOD.replace("[nose]", "[nose]\nstations_mm = [0, 'x']"),
                       "key nose.stations_mm[2]: found 'x'; expected a number"),
    "grid too large": (GOOD.replace("high = 350", "high = 350, steps = 5000").replace(
        "variants = 20", 'method = "grid"').replace(
        "[sampling]", "lead_mm = { low = 90, high = 99, steps = 9999 }\n[sampling]"),
        "a grid of 49995000 variants"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_what_cannot_be_used_is_refused_with_its_place(case, tmp_path):
    text, says = BAD[case]
    path = tmp_path / "study.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        read_study(path)
    message = str(caught.value)
    assert says in message
    assert "found " in message
    assert "; expected " in message
    assert str(tmp_path) in message


BAD_LISTS = {
    "unknown": ("lip\n3\n", "row 1: found parameter 'lip'"),
    "twice": ("lead_mm,lead_mm\n3,4\n", "a parameter twice"),
    "ragged": ("lead_mm,recess_depth_mm\n100,10\n100\n", "row 3: found 1 cells"),
    "text": ("lead_mm\n100\nx\n", "row 3, column lead_mm: found 'x'"),
    "nan": ("lead_mm\nnan\n", "row 2, column lead_mm: found 'nan'"),
    "range": ("lead_mm\n# c\n9999\n", "row 3, column lead_mm: found lead_mm = 9999"),
    "empty": ("lead_mm\n", "found no variants"),
    "decimal comma": ("lead_mm\n100,5\n", "row 2: found 2 cells"),
}


@pytest.mark.parametrize("case", BAD_LISTS)
def test_a_bad_list_of_variants_is_refused_with_row_and_column(case, tmp_path):
    content, says = BAD_LISTS[case]
    (tmp_path / "v.csv").write_text(content, "utf-8")
    with pytest.raises(StudyError) as caught:
        parse_study('[nose]\n[sampling]\nmethod = "list"\nfile = "v.csv"', folder=tmp_path)
    assert says in str(caught.value)
    assert "v.csv" in str(caught.value)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StudyError, match="not UTF-8"):
        read_study(path)
    with pytest.raises(StudyError, match="cannot be read"):
        read_study(tmp_path)


def test_the_demo_study_can_be_read_and_all_its_noses_made(geometries):
    study = read_study(geometries / "nose-study.toml")
    assert study.setup.shapes.variants(study.sample[:256]).feasible.all()
    assert np.isfinite(study.values).all()
    assert study.count == len(study.values)


def test_skin_that_slides_along_itself_has_not_moved():
    """A longer windscreen or underside is its own length more and nothing else; a nose raised as
    it stands moves its level skin by that height, and the base moves by nothing."""
    study = parse_study("""
[nose]
bonnet_angle_deg = 0
bonnet_crown_mm = 0
[vary]
windscreen_length_mm = { low = 500, high = 700 }
underside_length_mm = { low = 300, high = 400 }
leading_edge_height_mm = { low = 795, high = 805 }
[sampling]
variants = 16
""")
    shapes = study.setup.shapes
    base = shapes.base
    steps = np.array([[0, 0, 0], [30, 0, 0], [0, 20, 0], [0, 0, 4]])
    travel = shapes.travel(base + steps)
    far = travel.max(axis=1)
    assert far[0] == 0.0
    assert far[1] == pytest.approx(30, abs=1e-9)
    assert far[2] == pytest.approx(20, abs=1e-9)
    assert (travel[1] > 1e-9).sum() == 1
    # The level bonnet rises by 4; no point of the skin can be farther from where it was.
    assert far[3] == pytest.approx(4, abs=1e-6)
