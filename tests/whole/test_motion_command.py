"""The command ``motion``: what it says is what its document holds; exit codes; refusals."""

from __future__ import annotations

import json
import re
from functools import cache

import pytest
from click.testing import CliRunner

import frontcheck as fc
from frontcheck.body.motion import DRAWS, SPEED_KM_H
from frontcheck.caution import CAUTION, MOTION_CAUTIONS
from frontcheck.cli import main
from frontcheck.findings.people_rows import plain_person

WIDEST = 100
FAST = ("--draws", "20", "--workers", "1")
TWO = ("--person", "six-year-old", "--person", "man p50")


def run(*args):
    return CliRunner().invoke(main, ["motion", *map(str, args)])


@pytest.fixture(scope="module")
def plover(geometries):
    return geometries / "plover.csv"


@pytest.fixture(scope="module")
def avocet(geometries):
    return geometries / "avocet.csv"


@cache
def _both(plover, avocet, folder):
    path = folder / "both.json"
    result = run(plover, avocet, *TWO, *FAST, "--json", path)
    return result, json.loads(path.read_text("utf-8"))


@pytest.fixture(scope="module")
def both(plover, avocet, tmp_path_factory):
    return _both(plover, avocet, tmp_path_factory.mktemp("motion"))


def row(text: str, heading: str, name: str) -> list[str]:
    """Cells of a row of the table under a heading."""
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith(heading))
    line = next(line for line in lines[first:] if line.startswith(name))
    return re.split(r"\s{2,}|(?<=%) +", line[len(name) :].strip())


def range_of(spread) -> str:
    return f"{spread['p5']:.0f} to {spread['p95']:.0f}"


def test_it_says_what_its_document_holds(both) -> None:
    result, document = both
    assert result.exit_code == 0
    assert max(map(len, result.output.splitlines())) <= WIDEST
    for name, people in (("Plover", document["people"]), ("Avocet", document["people_b"])):
        for person in people:
            cells = row(result.output, f"{name}  ", plain_person(person["person"]))
            shares = [person["shares"][key] for key in ("pushed", "folded", "carried")]
            assert cells[:3] == [f"{100 * share:.0f} %" for share in shares]
            assert person["kind"].startswith(cells[3])
            assert cells[4] == range_of(person["wad_mm"])
            assert cells[5].startswith(person["part"])
            assert cells[-1] == range_of(person["time_ms"])
    for change in document["changes"]:
        said = row(result.output, "From Plover to Avocet", plain_person(change["person"]))
        for spread, cell in zip((change["wad_mm"], change["time_ms"]), said[::2], strict=False):
            numbers = [float(each) for each in re.findall(r"[+-]\d+", cell)]
            assert numbers == [round(spread[key]) for key in ("median", "p5", "p95")]
        signs = [100 * change[key] for key in ("same_sign", "same_sign_drawn_apart")]
        assert "{:.0f} / {:.0f} %".format(*signs) in said[1]
        assert said[1].startswith({"yes": "yes", "no": "no"}.get(change["separable"], "if alike"))


def test_every_caution_and_assumption_is_printed(both) -> None:
    result, document = both
    flat = " ".join(result.output.split())
    assert document["cautions"] == [CAUTION, *MOTION_CAUTIONS]
    for text in (*document["cautions"], *document["assumed"]):
        assert " ".join(text.split()) in flat
    assert len(document["assumed"]) > 10
    assert "six-year-old" in flat
    assert "smaller than a six-year-old" in flat


def test_the_document_is_that_of_python(both, plover, avocet) -> None:
    _, document = both
    people = [person for person in fc.PEOPLE if person.name in ("six-year-old", "man p50")]
    fronts = [fc.read_front(path) for path in (plover, avocet)]
    assert fc.motion(*fronts, people=people, draws=20).to_dict() == document
    assert document["schema"] == "frontcheck.motion/1"
    assert set(document["people"][0]["shares"]) == {
        "pushed", "folded", "carried", "no_head_contact", "beyond_measured",
    }  # fmt: skip


def test_one_process_or_two_same_bytes(plover, tmp_path) -> None:
    files = []
    for workers in ("1", "2"):
        files.append(tmp_path / f"{workers}.json")
        assert run(plover, *TWO, "--draws", "20", "--workers", workers, "--json", files[-1])
    assert files[0].read_bytes() == files[1].read_bytes()


def test_a_front_that_faces_the_side_is_refused(plover) -> None:
    result = run(plover, "--station", "650", "--person", "man p50", *FAST)
    assert result.exit_code == 1
    assert "faces 27 deg to the side" in " ".join(result.output.split())
    assert not re.search(r"\d+ to \d+", result.output.partition("Assumed")[0].partition("\n\n")[2])


def test_someone_of_a_stature(plover) -> None:
    result = run(plover, "--stature", "1600", "--mass", "60", *FAST, "--json", "-")
    (person,) = json.loads(result.output)["people"]
    assert (person["stature_mm"], person["mass_kg"]) == (1600.0, 60.0)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--speed", "80"), "20 to 50 km/h"),
        (("--draws", "3"), "20 to 5000"),
        (("--stature", "1300", "--mass", "35"), "1200"),
        (("--stature", "1300", "--mass", "35"), "1450"),
        (("--stature", "900", "--mass", "15"), "1100"),
        (("--stature", "1750", "--mass", "400"), "kg"),
        (("--stature", "nan", "--mass", "70"), "1100 to 2100"),
        (("--stature", "1750"), "found --stature 1750 alone; expected both --stature and --mass"),
        (("--mass", "70"), "found --mass 70 alone"),
        (("--person", "woman p95"), "man p95; choose one, or give --stature MM and --mass KG"),
        (("--station", "50"), "one of 0, 100"),
    ],
)
def test_impossible_wishes_are_refused_with_the_range(plover, args, said) -> None:
    result = run(plover, *args)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output
    assert len(result.output.splitlines()) == 1


@pytest.mark.parametrize("command", ["motion", "compare"])
def test_a_seed_below_nought_is_refused(plover, avocet, command) -> None:
    result = CliRunner().invoke(main, [command, str(plover), str(avocet), "--seed", "-1"])
    assert result.exit_code == 2
    assert "'--seed': -1" in result.output


def test_a_damaged_file_is_refused(tmp_path) -> None:
    path = tmp_path / "torn.csv"
    path.write_text("station_mm,height_mm\n0,1\n", "utf-8")
    result = run(path)
    assert result.exit_code == 2
    assert "torn.csv" in result.output


@pytest.mark.parametrize("command", ["motion", "screen", "annex"])
def test_help_tells_the_numbers_taken_where_none_are_given(command) -> None:
    told = " ".join(CliRunner().invoke(main, [command, "--help"]).output.split())
    assert f"[default: {SPEED_KM_H:g}" in told
    assert f"[default: {DRAWS}]" in told


def test_seeds_below_nought_are_refused_everywhere() -> None:
    for command in ("motion", "leg", "compare", "screen", "tolerance"):
        files = ["geometries/plover.csv", "geometries/avocet.csv"][
            : 1 + (command in ("leg", "compare"))
        ]
        run = CliRunner().invoke(main, [command, *files, "--seed", "-1"])
        assert run.exit_code == 2, command
        assert "--seed" in run.output
