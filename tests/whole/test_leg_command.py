"""The command ``leg``: exit codes, refusals, what it says, what it ranks and what it leaves."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from frontcheck.caution import CAUTION, LEG_CAUTION
from frontcheck.cli import main
from frontcheck.legs import dynamics
from frontcheck.legs.contact import first_touch, front_contact, silhouette_of
from frontcheck.legs.dynamics import RunSettings, run_legform
from frontcheck.legs.faced import face_of, lip_heights
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.legs.leg_order import drawn_peaks, factors
from frontcheck.lines.lined_front import line_up
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM
from frontcheck.people.people import PEOPLE
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set

HIGH = """\
# name: high shelf
# datum: common
station_mm,height_mm,setback_mm
0,2000,30
0,2100,0
0,2300,100
0,2400,900
"""
LOW_SILL = """\
# name: low sill
# datum: common
station_mm,height_mm,setback_mm
0,5,30
0,12,0
0,20,30
"""


FEW = ("--draws", 20)
"""Enough where no order is asked for."""
HIGH_BUMPER = """\
# name: high bumper
# datum: common
station_mm,height_mm,setback_mm,part
0,520,300,underside
0,545,30,bumper
0,560,8,bumper
0,620,0,bumper
0,690,10,bumper
0,900,80,bonnet
0,1000,200,bonnet
0,1080,900,bonnet
"""


def run(*args):
    return CliRunner().invoke(main, ["leg", *(str(a) for a in args)])


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def demo(geometries):
    return geometries / "plover.csv", geometries / "avocet.csv"


@pytest.fixture(scope="module")
def both(demo):
    return run(*demo)


@pytest.fixture(scope="module")
def document(demo):
    return json.loads(run(*demo, "--station", 0, "--station", 500, *FEW, "--json", "-").stdout)


def test_stiffness_comes_first_and_the_caution_stands(both) -> None:
    assert both.exit_code == 0, both.output
    assert both.stderr == ""
    text = flat(both.stdout)
    assert text.startswith(LEG_CAUTION)
    assert CAUTION in text
    assert "Lower legform: flexible legform, data from memory, unconfirmed, foot 75 mm" in text
    assert "Assumed: legform at 40 km/h" in text
    assert "200 draws, the stiffness of every part by itself from 0.25 to 4 times that" in text
    # No limit of any rule is named beside the values.
    assert not any(limit in text for limit in ("170 g", "19 deg", "6 mm high", "limit of"))


def test_the_station_nearest_the_centre_is_the_default(both) -> None:
    assert "Legform at station y = 0 mm" in both.stdout
    assert both.stdout.count("Legform at station y = ") == 1


def test_the_order_is_that_of_the_draws_and_follows_the_files(demo) -> None:
    """By the rigid legform, counted anew from the draws; the same of a front either way round."""
    lined = [line_up(read_front(file), "UN-R127-00") for file in demo]
    faces = [
        face_of(x.front.section(0.0), RIGID_LEGFORM, lip_heights(
            front_contact(x.front.section(0.0), x.station(0.0), x.rules), x.station(0.0)))
        for x in lined
    ]  # fmt: skip
    drawn = factors({part for face in faces for part in face.part}, 200, 0)
    one, two = (drawn_peaks(face, RIGID_LEGFORM, RunSettings(), drawn) for face in faces)
    less = int(((two.opening < 0.98 * one.opening) & two.reached).sum())
    assert less > 180  # so that an order is told at all
    result = run(*demo, "--rules", "UN-R127-00")
    text = flat(result.stdout)
    told = re.search(
        r"Ranks: Avocet opens the knee of the legform less, in (\d+) of 200 draws", text
    )
    assert told
    assert less <= int(told[1]) <= int((two.opening < one.opening).sum())
    assert "rigid legform" in text
    assert "knee shear (not ranked)" in text
    assert "tibia bending" not in text  # the rigid one does not bend
    other = json.loads(run(*reversed(demo), "--rules", "UN-R127-00", "--json", "-").stdout)
    order = other["stations"][0]["order"]
    assert (order["status"], order["less"], order["a_less"]) == ("ranks", "a", int(told[1]))
    assert order["least_share"] >= 0.85


def test_what_no_draws_settle_names_the_part_to_measure(both) -> None:
    text = flat(both.stdout)
    assert "depends on the stiffness behind the skin: measure it" in text
    assert "What decides most is the lower lip (first-order share" in text
    assert "Ranks" not in text


def test_no_absolute_value_of_the_model_and_no_acceleration_is_told(both, document) -> None:
    """Of two fronts only ratios: nothing that could be held against 19 deg, 6 mm or 170 g."""
    assert not re.search(r"\d (deg|g|Nm|N m|kN)\b", both.stdout)
    assert "acceleration" not in both.stdout
    assert "acceleration" not in json.dumps(document)


def test_one_front_alone_is_not_ranked(demo) -> None:
    result = run(demo[0])
    assert result.exit_code == 0
    assert "tibia bends most" in result.stdout
    assert "rank" not in result.stdout.replace(LEG_CAUTION, "").replace("may be ranked", "")
    assert " less" not in result.stdout.replace("have less", "")


def test_person_and_legform_stand_under_headings_of_their_own(both) -> None:
    person, legform = (
        both.stdout.index(head) for head in ("Leg of man p50 at station", "Legform at station")
    )
    assert person < both.stdout.index("first touch") < legform
    assert legform < both.stdout.index("opening rate at 20 mm")


def test_a_person_is_told_in_heights_and_where_the_front_meets_them(demo) -> None:
    """Rows of the table: lips at 538 and, 14 mm behind, 338 mm; knee of 1500 mm at 430.5 mm, in
    shoes (lines over stature: tests/validation/test_ansur.py)."""
    text = flat(run(demo[0], "--stature", 1500).stdout)
    assert "Person: stature 1500 mm, knee 430, hip 794, waist 917 mm up in shoes of 25 mm" in text
    assert "stature p2 of women and below p1 of men (ANSUR II)" in text
    assert "first touch thigh, 538 mm high, 108 mm above the knee" in text
    assert "second touch shin, 338 mm high, 92 mm below the knee, 14 mm later" in text
    assert "leg free of touch, mm up 0 to 251, 768 to 794, 60 mm in" in text
    barefoot = flat(run(demo[0], "--stature", 1500, "--shoe", 0).stdout)
    assert "knee 406, hip 769, waist 892 mm up on bare feet" in barefoot


def test_where_the_upper_legform_applies_the_lower_one_is_refused(demo, tmp_path) -> None:
    """LBRL of 500 mm or more: upper legform (UN R127 02 series, 5.1, text read)."""
    path = tmp_path / "high.csv"
    path.write_text(HIGH_BUMPER, "utf-8")
    result = run(path, demo[0], *FEW)
    assert result.exit_code == 0, result.output
    text = flat(result.stdout)
    assert "high bumper: the lower legform does not apply: the lower bumper height, 5" in text
    assert "is not below 500 mm (UN Regulation No. 127, 02 series of amendments, 5.1)" in text
    assert "Ranks" not in text
    assert "Not ranked: high bumper" in text
    station = json.loads(run(path, demo[0], *FEW, "--json", "-").stdout)["stations"][0]
    front = station["fronts"]["a"]
    legform = front["legform"]
    assert (legform["test"], legform["lower"], station["order"]) == ("upper", None, None)
    assert "does not apply" in legform["lower_refused"]
    upper, band = legform["upper"], front["person"]["knee_and_bumper"]
    low, high = band["LBRL_z_mm"], band["UBRL_z_mm"]
    # The face, 350 mm long (from memory), stands half-way between LBRL and UBRL.
    assert upper["aim_mm"] == pytest.approx((low + high) / 2.0)
    assert upper["high_mm"] - upper["low_mm"] == pytest.approx(350.0)
    assert upper["bumper_overlap_mm"] == pytest.approx(high - low)
    assert all(low < height < upper["high_mm"] for height in upper["load_height_mm"])
    assert station["fronts"]["b"]["legform"]["lower"] is not None


def test_between_the_limits_both_legforms_are_possible_and_said_so(tmp_path) -> None:
    """425 to 500 mm: by the manufacturer's choice (UN R127 02 series, 5.1, text read)."""
    path = tmp_path / "between.csv"
    rows = [line.split(",") for line in HIGH_BUMPER.splitlines()]
    lowered = [",".join([r[0], str(int(r[1]) - 90), *r[2:]]) if r[0] == "0" else ",".join(r)
               for r in rows]  # fmt: skip
    path.write_text("\n".join(lowered) + "\n", "utf-8")
    result = run(path)
    assert result.exit_code == 0, result.output
    text = flat(result.stdout)
    assert "either legform is possible, by the manufacturer's choice" in text
    front = json.loads(run(path, "--json", "-").stdout)["stations"][0]["fronts"]["a"]
    assert front["legform"]["test"] == "either"
    assert front["legform"]["lower"] is not None
    assert front["legform"]["upper"] is not None


def test_a_run_out_of_balance_is_not_used(demo, monkeypatch) -> None:
    """A planted fault: what speeds the legform up counts a tenth more than what moves it."""
    monkeypatch.setattr(dynamics, "stepped", lambda p, r, f, s: (p + s * r, r + s * (1.1 * f)))
    text = run(demo[0])
    assert text.exit_code == 1
    assert "out of balance, not to be used" in text.stdout
    front = json.loads(run(demo[0], "--json", "-").stdout)["stations"][0]["fronts"]["a"]
    assert front["legform"]["lower"]["status"] == "out_of_balance"
    assert front["legform"]["lower"]["opening_reached"] is False


def test_values_are_those_of_the_library(document, demo) -> None:
    """Each number of the document, computed beside it from the modules that make it."""
    man = next(p for p in PEOPLE if p.name == "man p50")
    knee = man.knee.known()
    for letter, file in zip("ab", demo, strict=True):
        lined = line_up(read_front(file), "UN-R127-02")
        for entry in document["stations"]:
            told, y = entry["fronts"][letter], entry["y_mm"]
            section = lined.front.section(y)
            touch = first_touch(section, man)
            person, legform = told["person"], told["legform"]
            first = person["first_touch"]
            assert (first["place"], first["z_mm"]) == (touch.place, touch.z)
            order = front_contact(section, lined.station(y), lined.rules).members
            assert [m["name"] for m in told["contact_order"]] == [m.name for m in order]
            assert [m["closing_mm"] for m in told["contact_order"]] == [m.closing_mm for m in order]
            depths = [20.0, 60.0, 100.0]
            load = foundation_load(silhouette_of(section, 0.0, 1780.0), depths, knee)
            assert [row["height_mm"] for row in person["load"]] == load.height.tolist()
            for row in person["load"]:
                shares = [row[f"share_{at}_knee"] for at in ("below", "across", "above")]
                assert sum(shares) == pytest.approx(1.0)
            rates = knee_response(section, depths, FLEXIBLE_LEGFORM).rate.tolist()
            assert [row["rate_rad_per_s_per_N_s"] for row in legform["opening_rate"]] == rates
            flown = run_legform(section, legform=FLEXIBLE_LEGFORM)
            assert legform["lower"]["tibia_bending_height_mm"] == flown.tibia_bending_height
            assert legform["lower"]["energy_error"] == flown.energy_error
            band = person["knee_and_bumper"]
            inside = band["LBRL_z_mm"] <= knee <= band["UBRL_z_mm"]
            assert (band["place"] == "inside") == inside


def test_document_says_what_it_must(document) -> None:
    assert document["schema"] == "frontcheck.leg/2"
    assert document["caution"] == LEG_CAUTION
    # The note that later series exist stands with the others, as on every document.
    assert document["cautions"] == [LEG_CAUTION, CAUTION, rule_set("UN-R127-02").caution]
    assert document["complete"] is True
    assert [document["inputs"][letter]["name"] for letter in "ab"] == ["Plover", "Avocet"]
    assert all(len(document["inputs"][letter]["sha256"]) == 64 for letter in "ab")
    assert document["assumptions"]["stiffness_N_per_mm2"] == 0.3
    assert document["legform"]["provenance"] == "from memory, unconfirmed"
    assert [s["y_mm"] for s in document["stations"]] == [0.0, 500.0]
    front = document["stations"][0]["fronts"]["a"]
    assert list(front) == [
        "name", "basis", "missing", "contact_order", "lip_behind_bumper_mm", "person", "legform",
    ]  # fmt: skip
    # Nothing of a legform stands under the person, and nothing of the person under the legform.
    assert list(front["person"]) == [
        "first_touch", "second_touch", "second_later_mm", "free_mm", "free_within_mm",
        "knee_and_bumper", "load",
    ]  # fmt: skip
    assert list(front["legform"]) == [
        "test", "choice", "opening_rate", "lower", "lower_refused", "upper", "parts_not_faced",
    ]  # fmt: skip
    assert list(document["stations"][0]["order"]) == [
        "status", "less", "draws", "a_less", "b_less", "same_share", "least_share", "decides",
        "knee_opening_b_over_a", "knee_shear_b_over_a", "tibia_bending_b_over_a", "sentence",
    ]  # fmt: skip


def test_options_reach_the_assumptions(demo) -> None:
    told = json.loads(
        run(
            demo[0], "--stiffness", "all=0.4", "--stiffness", "bumper=0.8", "--speed", 30,
            "--stature", 1500, "--depth", 45, "--json", "-",
        ).stdout
    )  # fmt: skip
    assumed = told["assumptions"]
    assert assumed["speed_km_h"] == 30.0
    assert assumed["stiffness_N_per_mm2"] == 0.4
    assert assumed["parts_N_per_mm2"] == {"bumper": 0.8}
    assert told["depths_mm"] == [20.0, 45.0, 60.0, 100.0]
    assert told["person"]["knee_mm"] == pytest.approx(0.3268 * 1500.0 - 84.7 + 25.0)


def test_the_other_side_of_a_symmetric_front_is_the_same(demo) -> None:
    left, right = (run(demo[1], "--station", y).stdout for y in (-500, 500))
    assert left == right
    assert "Legform at station y = 500 mm" in left


def test_a_part_that_the_legform_does_not_face_is_told(demo) -> None:
    result = run(demo[0], "--stiffness", "pillar=2")
    assert result.exit_code == 0
    assert "does not face pillar here" in flat(result.stdout)
    assert "does not face" not in run(demo[0], "--stiffness", "bumper=0.4").stdout


def test_a_front_beside_itself_is_alike(demo) -> None:
    text = flat(run(demo[0], demo[0]).stdout)
    assert "Plover (A) and Plover (B) are alike in all draws" in text
    assert "Ranks" not in text


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (HIGH, "leg of man p50: the section at y = 0 mm has nothing between 0 and 1780 mm"),
        (LOW_SILL, "flexible legform: the section at y = 0 mm has nothing between 75 and 1003 mm"),
    ],
    ids=["above the legform", "below the legform"],
)
def test_what_cannot_be_had_ends_with_1_and_is_named(table, says, tmp_path) -> None:
    path, out = tmp_path / "front.csv", tmp_path / "out"
    path.write_text(table, "utf-8")
    result = run(path, "--out", out)
    assert result.exit_code == 1, result.output
    assert says in flat(result.stdout)
    told = json.loads((out / "leg.json").read_text("utf-8"))
    assert told["complete"] is False
    assert told["stations"][0]["fronts"]["a"]["legform"]["lower"] is None
    assert not list(out.glob("leg-motion*"))


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--stiffness", "bumpr=1"], "found part 'bumpr'; expected PART=NUMBER with a part of"),
        (["--stiffness", "=1"], "found part ''"),
        (["--stiffness", "bumper"], "expected a number from 0 to 1000 N/mm2"),
        (["--stiffness", "bumper=hard"], "found 'hard'; expected a number"),
        (["--stiffness", "bumper=-1"], "expected a number from 0"),
        (["--stiffness", "bumper=nan"], "expected a number from 0"),
        (["--stiffness", "bumper=inf"], "expected a number from 0 to 1000"),
        (["--stiffness", "glass=1"], "found part 'glass'"),
        (["--draws", "0"], "not in the range"),
        (["--stiffness", "bumper=1", "--stiffness", "bumper=2"], "bumper=... more than once"),
        (["--person", "giant"], "expected one of six-year-old, woman p5"),
        (["--person", "man p50", "--stature", "1700"], "expected one of the two"),
        (["--stature", "3"], "1100 to 2100 mm"),
        (["--station", "123"], "expected one of 0, 100, 200"),
        (["--station", "nan"], "station y = nan mm"),
        (["--station", "x"], "not a valid float"),
        (["--depth", "0"], "found '0'; expected a number above 0, at most 500 mm"),
        (["--depth", "nan"], "expected a number above 0"),
        (["--depth", "x"], "expected a number above 0"),
        (["--speed", "-40"], "expected a number above 0, at most 100 km/h"),
        (["--speed", "nan"], "expected a number above 0"),
        (["--rules", "UN-R127-09"], "UN-R127-02"),
    ],
)
def test_unusable_arguments_end_with_2_and_leave_nothing(args, says, demo, tmp_path) -> None:
    out = tmp_path / "out"
    result = run(demo[0], *args, "--out", out)
    assert result.exit_code == 2, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert says in flat(result.stderr)
    assert result.stdout == ""
    assert not list(tmp_path.iterdir())


def test_a_missing_second_file_ends_with_2(demo, tmp_path) -> None:
    result = run(demo[0], tmp_path / "none.csv")
    assert result.exit_code == 2
    assert result.stderr.startswith("frontcheck: ")
    assert "Traceback" not in result.output


def test_the_folder_is_complete_and_repeatable(demo, tmp_path) -> None:
    first, second = tmp_path / "a", tmp_path / "b"
    for out in (first, second):
        assert run(*demo, *FEW, "--station", 500, "--out", out).exit_code == 0
    stems = ["leg-a-y0500", "leg-b-y0500", "leg-motion-y0500"]
    names = [
        "frontcheck-files.txt",
        "leg.json",
        *(f"{s}.{kind}" for s in stems for kind in ("png", "svg")),
    ]
    assert sorted(p.name for p in first.iterdir()) == sorted(names)
    for name in names:
        assert (first / name).read_bytes() == (second / name).read_bytes(), name
    piped = run(*demo, *FEW, "--station", 500, "--json", "-")
    assert piped.stdout_bytes == (first / "leg.json").read_bytes()


def test_one_front_leaves_plain_names(demo, tmp_path) -> None:
    assert run(demo[0], "--out", tmp_path / "o").exit_code == 0
    names = {p.stem for p in (tmp_path / "o").glob("*.svg")}
    assert names == {"leg-y0000", "leg-motion-y0000"}
