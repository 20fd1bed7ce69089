"""The command ``leg``: exit codes, refusals, what it says, what it ranks and what it leaves."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from frontcheck.caution import CAUTION, LEG_CAUTION
from frontcheck.cli import main
from frontcheck.legs import dynamics
from frontcheck.legs.contact import first_touch, front_contact, silhouette_of
from frontcheck.legs.dynamics import run_legform
from frontcheck.legs.foundation import foundation_load, knee_response
from frontcheck.lines.lined_front import line_up
from frontcheck.people.people import PEOPLE
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set

HIGH = """\
# name: high shelf
# datum: common
station_mm,height_mm,setback_mm
0,1000,30
0,1100,0
0,1300,100
0,1400,900
"""
LOW_SILL = """\
# name: low sill
# datum: common
station_mm,height_mm,setback_mm
0,5,30
0,12,0
0,20,30
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
def swapped(demo):
    return run(*reversed(demo))


@pytest.fixture(scope="module")
def document(demo):
    return json.loads(run(*demo, "--station", 0, "--station", 500, "--json", "-").stdout)


def test_stiffness_comes_first_and_the_caution_stands(both) -> None:
    assert both.exit_code == 0, both.output
    assert both.stderr == ""
    text = flat(both.stdout)
    assert text.startswith(LEG_CAUTION)
    assert CAUTION in text
    assert "Assumed: legform at 40 km/h" in text
    # No limit of any rule is named beside the values.
    assert not any(limit in text for limit in ("170 g", "19 deg", "6 mm high", "limit of"))


def test_the_station_nearest_the_centre_is_the_default(both) -> None:
    assert "Station y = 0 mm" in both.stdout
    assert both.stdout.count("Station y = ") == 1


def test_ranking_is_that_of_the_peaks_and_follows_the_files(both, swapped, demo) -> None:
    """The order is taken anew from the runs, and told of the same front either way round."""
    plover, avocet = (run_legform(read_front(file).section(0.0)) for file in demo)
    expected = []
    for name, verb in (
        ("knee_angle", "opens the knee"),
        ("knee_shear", "shears the knee"),
        ("tibia_acceleration", "slows the tibia"),
    ):
        one, two = (float(abs(getattr(r, name)).max()) for r in (plover, avocet))
        assert abs(one - two) > 0.02 * max(one, two)
        expected.append(f"{'Plover' if one < two else 'Avocet'} {verb} less under these")
    assert expected[0].startswith("Avocet")  # so that not everything is said of one front
    assert expected[1].startswith("Plover")
    for result in (both, swapped):
        text = flat(result.stdout)
        assert all(sentence in text for sentence in expected)
        assert text.count(" less under these assumptions") == 3
    header = [next(x for x in r.stdout.splitlines() if "Avocet  " in x or x.endswith("Avocet"))
              for r in (both, swapped)]  # fmt: skip
    assert header[0].split() == ["Plover", "Avocet"]
    assert header[1].split() == ["Avocet", "Plover"]


def test_letters_of_the_ranking_flip_with_the_files(document, demo) -> None:
    other = json.loads(run(*reversed(demo), "--json", "-").stdout)
    here, there = document["stations"][0]["rankings"], other["stations"][0]["rankings"]
    assert [r["less"] for r in here] == ["b", "a", "b"]
    assert [r["less"] for r in there] == ["a", "b", "a"]
    for a, b in zip(here, there, strict=True):
        assert (a["peak_a"], a["peak_b"]) == (b["peak_b"], b["peak_a"])
        assert a["holds"] == b["holds"]


def test_one_front_alone_is_not_ranked(demo) -> None:
    result = run(demo[0])
    assert result.exit_code == 0
    assert "peak knee angle" in result.stdout
    assert "rank" not in result.stdout.replace(LEG_CAUTION, "").replace("may be ranked", "")
    assert " less under" not in result.stdout


def test_a_run_that_ended_early_is_not_ranked(demo) -> None:
    result = run(*demo, "--stiffness", "all=0.6")
    assert result.exit_code == 1
    text = flat(result.stdout)
    assert "Not ranked: Avocet: a rotation reached 30 deg" in text
    assert "ended early" in text
    assert " less under" not in text


def test_a_run_out_of_balance_is_not_ranked_and_has_no_peaks(demo, monkeypatch) -> None:
    """A planted fault: the skin's stored energy is counted wrongly."""
    true = dynamics.Links.energies

    def wrong(self, state):
        kinetic, skin, knee, lost = true(self, state)
        return kinetic, 1.001 * skin, knee, lost

    monkeypatch.setattr(dynamics.Links, "energies", wrong)
    text = run(*demo)
    assert text.exit_code == 1
    assert "Not ranked" in text.stdout
    assert "out of balance, not to be used" in text.stdout
    assert " less under" not in text.stdout
    station = json.loads(run(*demo, "--json", "-").stdout)["stations"][0]
    for letter in "ab":
        legform = station["fronts"][letter]["legform"]
        assert legform["status"] == "out_of_balance"
        assert legform["peak_knee_angle_deg"] is None
        assert legform["history"] is None
    assert [r["less"] for r in station["rankings"]] == [None] * 3
    assert all(r["status"] == "not_ranked" and r["reason"] for r in station["rankings"])


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
            assert (told["first_touch"]["place"], told["first_touch"]["z_mm"]) == (
                touch.place, touch.z,
            )  # fmt: skip
            order = front_contact(section, lined.station(y), lined.rules).members
            assert [m["name"] for m in told["contact_order"]] == [m.name for m in order]
            assert [m["closing_mm"] for m in told["contact_order"]] == [m.closing_mm for m in order]
            depths = [20.0, 60.0, 100.0]
            load = foundation_load(silhouette_of(section, 0.0, man.hip.known()), depths, knee)
            assert [row["height_mm"] for row in told["load"]] == load.height.tolist()
            for row in told["load"]:
                shares = [row[f"share_{at}_knee"] for at in ("below", "across", "above")]
                assert sum(shares) == pytest.approx(1.0)
            rates = knee_response(section, depths).rate.tolist()
            assert [row["rate_rad_per_s_per_N_s"] for row in told["opening_rate"]] == rates
            flown = run_legform(section)
            assert told["legform"]["peak_knee_angle_deg"] == flown.peak_knee_angle
            assert told["legform"]["energy_error"] == flown.energy_error
            band = told["knee_and_bumper"]
            inside = band["LBRL_z_mm"] <= knee <= band["UBRL_z_mm"]
            assert (band["place"] == "inside") == inside


def test_document_says_what_it_must(document) -> None:
    assert document["schema"] == "frontcheck.leg/1"
    assert document["caution"] == LEG_CAUTION
    # The note that later series exist stands with the others, as on every document.
    assert document["cautions"] == [LEG_CAUTION, CAUTION, rule_set("UN-R127-02").caution]
    assert document["complete"] is True
    assert [document["inputs"][letter]["name"] for letter in "ab"] == ["Plover", "Avocet"]
    assert all(len(document["inputs"][letter]["sha256"]) == 64 for letter in "ab")
    assert document["assumptions"]["skin"] == {"stiffness_N_per_mm2": 0.3, "damping_s_per_m": 0.1}
    assert [s["y_mm"] for s in document["stations"]] == [0.0, 500.0]
    front = document["stations"][0]["fronts"]["a"]
    assert list(front) == [
        "name", "basis", "missing", "first_touch", "contact_order", "lip_behind_bumper_mm",
        "knee_and_bumper", "load", "opening_rate", "legform", "parts_not_faced",
    ]  # fmt: skip
    history = front["legform"]["history"]
    assert {len(values) for values in history.values()} == {251}
    assert list(document["stations"][0]["rankings"][0]) == [
        "quantity", "unit", "peak_a", "peak_b", "less", "status", "reason", "sentence",
        "at_other_stiffness", "holds",
    ]  # fmt: skip


def test_options_reach_the_assumptions(demo) -> None:
    told = json.loads(
        run(
            demo[0], "--stiffness", "all=0.4", "--stiffness", "bumper=0.8", "--damping",
            "grille=0.2", "--speed", 30, "--stature", 1500, "--depth", 45, "--json", "-",
        ).stdout
    )  # fmt: skip
    assumed = told["assumptions"]
    assert assumed["speed_km_h"] == 30.0
    assert assumed["skin"]["stiffness_N_per_mm2"] == 0.4
    assert assumed["parts"] == {
        "bumper": {"stiffness_N_per_mm2": 0.8, "damping_s_per_m": 0.1},
        "grille": {"stiffness_N_per_mm2": 0.4, "damping_s_per_m": 0.2},
    }
    assert told["depths_mm"] == [20.0, 45.0, 60.0, 100.0]
    assert told["person"]["knee_mm"] == pytest.approx(0.285 * 1500.0)


def test_the_other_side_of_a_symmetric_front_is_the_same(demo) -> None:
    left, right = (run(demo[1], "--station", y).stdout for y in (-500, 500))
    assert left == right
    assert "Station y = 500 mm" in left


def test_a_part_that_the_legform_does_not_face_is_told(demo) -> None:
    result = run(demo[0], "--stiffness", "windscreen=2")
    assert result.exit_code == 0
    assert "does not face windscreen here" in flat(result.stdout)
    assert "does not face" not in run(demo[0], "--stiffness", "bumper=0.4").stdout


def test_a_front_beside_itself_is_alike(demo) -> None:
    text = flat(run(demo[0], demo[0]).stdout)
    assert text.count("Plover (A) and Plover (B) are alike under these assumptions") == 3
    assert text.count("at half the stiffness the same, at twice the stiffness the same") == 3
    assert " less under" not in text


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (HIGH, "leg of man p50: the section at y = 0 mm has nothing between 0 and 899 mm"),
        (LOW_SILL, "legform: the section at y = 0 mm has nothing between 25 and 951 mm"),
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
    assert told["stations"][0]["fronts"]["a"]["legform"] is None
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
        (["--damping", "grille=1e9"], "expected a number from 0 to 100 s/m"),
        (["--damping", "glass=1"], "found part 'glass'"),
        (["--stiffness", "bumper=1", "--stiffness", "bumper=2"], "bumper=... more than once"),
        (["--person", "giant"], "expected one of six-year-old, woman p5"),
        (["--person", "man p50", "--stature", "1700"], "expected one of the two"),
        (["--stature", "3"], "700 to 2500 mm"),
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
        assert run(*demo, "--station", 500, "--out", out).exit_code == 0
    stems = ["leg-a-y0500", "leg-b-y0500", "leg-motion-y0500"]
    names = ["contents.txt", "leg.json", *(f"{s}.{kind}" for s in stems for kind in ("png", "svg"))]
    assert sorted(p.name for p in first.iterdir()) == sorted(names)
    for name in names:
        assert (first / name).read_bytes() == (second / name).read_bytes(), name
    piped = run(*demo, "--station", 500, "--json", "-")
    assert piped.stdout_bytes == (first / "leg.json").read_bytes()


def test_one_front_leaves_plain_names(demo, tmp_path) -> None:
    assert run(demo[0], "--out", tmp_path / "o").exit_code == 0
    names = {p.stem for p in (tmp_path / "o").glob("*.svg")}
    assert names == {"leg-y0000", "leg-motion-y0000"}
