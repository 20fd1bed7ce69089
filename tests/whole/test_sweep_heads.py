"""Where heads land on the variants of a study: intervals, same cases for all, never a target."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

import frontcheck as fc
from frontcheck.cli.study import solve, sweep
from frontcheck.errors import InputError, StudyError
from frontcheck.people.people import CHILD, struck_people
from frontcheck.study.blocks import local_crew
from frontcheck.study.study import Limit
from frontcheck.study.study_file import parse_study, read_study
from frontcheck.study.sweep import run_sweep
from frontcheck.study.sweep_results import read_results, summary

HEADS = """
[motion]
people = ["six-year-old", "woman p5"]
speed_km_h = 30
draws = 20
seed = 4
"""
LISTED = f"""
name = "heads"
[nose]
stations_mm = [0, 200]
[sampling]
method = "list"
file = "variants.csv"
{HEADS}"""
VARIANTS = "leading_edge_height_mm\n790\n731\n850\n790\n"  # the second cannot be made


@pytest.fixture(scope="module")
def listed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("heads")
    (folder / "variants.csv").write_text(VARIANTS, "utf-8")
    (folder / "study.toml").write_text(LISTED, "utf-8")
    study = read_study(folder / "study.toml")
    run_sweep(study, folder / "out")
    return study, folder


def table(folder):
    with (folder / "results.csv").open(encoding="utf-8") as stream:
        next(stream)
        return list(csv.DictReader(stream))


def test_every_variant_has_the_interval_of_its_own_front(listed):
    """Each variant made as a front, and struck by itself."""
    study, folder = listed
    rows = table(folder / "out")
    people = [person for person in struck_people() if person.name in study.setup.heads.people]
    assert [row["status"] == "infeasible" for row in rows] == [False, True, False, False]
    for row, values in zip(rows, study.values, strict=True):
        if row["status"] == "infeasible":
            assert {cell for name, cell in row.items() if "head_wad" in name} == {""}
            continue
        made = fc.motion(
            study.setup.shapes.front(values), people=people, station=0.0, speed_km_h=30.0,
            draws=20, seed=4,
        )  # fmt: skip
        for person, word in zip(made.people, ("six_year_old", "woman_p5"), strict=True):
            told = {name: row[f"y0_head_wad_{word}_{name}"] for name in ("status", "reason")}
            assert told == {"status": "ok", "reason": ""}
            median, p5, p95 = (
                float(row[f"y0_head_wad_{word}_{what}_mm"]) for what in ("median", "p5", "p95")
            )
            assert p5 < median < p95
            spread = person.wad_mm
            assert [median, p5, p95] == pytest.approx([spread.median, spread.p5, spread.p95])


def test_the_same_shape_has_the_same_numbers(listed):
    """Same draws for every variant: first and last are one shape."""
    rows = table(listed[1] / "out")
    first, last = ([c for n, c in row.items() if n not in ("variant",)] for row in rows[::3])
    assert first == last


def test_two_processes_leave_the_same_bytes(listed, tmp_path):
    study, folder = listed
    with local_crew("processes", 2) as crew:
        run_sweep(study, tmp_path, crew)
    for name in ("results.csv", "sweep.json"):
        assert (tmp_path / name).read_bytes() == (folder / "out" / name).read_bytes()


def test_the_summary_counts_and_names_both_ends(listed):
    study, folder = listed
    document = json.loads(json.dumps(summary(read_results(study, folder / "out"))))
    rows = [row for row in table(folder / "out") if row["status"] != "infeasible"]
    assert document["motion"] == {
        "people": ["six-year-old", "woman p5"], "station_mm": 0.0, "speed_km_h": 30.0,
        "draws": 20, "seed": 4,
    }  # fmt: skip
    for each, word in zip(document["heads"], ("six_year_old", "woman_p5"), strict=True):
        medians = [float(row[f"y0_head_wad_{word}_median_mm"]) for row in rows]
        assert (each["given"], each["not_given"], each["because"]) == (3, 0, {})
        for end, i in (("nearest", np.argmin(medians)), ("farthest", np.argmax(medians))):
            found = each[end]
            assert found["wad_mm"]["median"] == medians[i]
            assert rows[i]["y0_head_wad_" + word + "_p95_mm"] == str(found["wad_mm"]["p95"])
            assert medians[i] == float(
                next(r for r in rows if r["variant"] == str(found["variant"]))[
                    f"y0_head_wad_{word}_median_mm"
                ]
            )
    assert len(document["assumed"]) > 10
    assert any("never a chance in a crash" in each for each in document["cautions"])


def test_without_a_place_there_is_a_reason_and_no_number(geometries, tmp_path):
    """A front measured up to the bonnet only: heads go beyond it."""
    lines = (geometries / "plover.csv").read_text("utf-8").splitlines()
    kept = [line for line in lines if "windscreen" not in line and "cowl" not in line]
    (tmp_path / "short.csv").write_text("\n".join(kept) + "\n", "utf-8")
    study = parse_study(
        '[front]\nfile = "short.csv"\nstations_mm = [0]\n[vary]\nnose_up_mm = { values = [0, 5] }\n'
        '[sampling]\nmethod = "grid"\n[motion]\npeople = ["man p95"]\ndraws = 20\n',
        folder=tmp_path,
    )
    run_sweep(study, tmp_path / "out")
    rows = table(tmp_path / "out")
    alone = fc.motion(
        study.setup.shapes.front(study.values[0]), people=struck_people()[-1:], draws=20
    ).people[0]
    assert alone.wad_mm is None
    assert rows[0]["y0_head_wad_man_p95_reason"] == alone.reason
    for row in rows:
        assert row["y0_head_wad_man_p95_status"] == "not_available"
        assert {row[f"y0_head_wad_man_p95_{what}_mm"] for what in ("median", "p5", "p95")} == {""}
    heads = read_results(study, tmp_path / "out").head_landings[0]
    assert (heads.given, heads.not_given, heads.nearest) == (0, 2, None)
    assert sum(heads.because.values()) == 2


SAMPLED = """
[nose]
[vary]
lower_lip_height_mm = { low = 330, high = 350 }
[sampling]
variants = 2
"""


def test_variants_for_sensitivities_are_not_struck(tmp_path):
    study = parse_study(f"{SAMPLED}[sensitivity]\nsamples = 2\n{HEADS}")
    run_sweep(study, tmp_path)
    rows = table(tmp_path)
    assert [row["set"] for row in rows] == ["sample"] * 2 + ["sensitivity"] * 6
    for row in rows:
        struck = row["set"] == "sample"
        assert (row["y0_head_wad_woman_p5_status"] == "ok") == struck
        assert bool(row["y0_head_wad_woman_p5_median_mm"]) == struck
        assert ("in the sample" in row["y0_head_wad_woman_p5_reason"]) != struck
    assert read_results(study, tmp_path).head_landings[0].given == 2


def test_results_depend_on_what_is_asked_of_heads_and_on_nothing_where_they_are_not():
    plain = parse_study(SAMPLED)
    assert "motion" not in plain.record()
    assert plain.setup.block == 256
    digests = {plain.digest}
    for old, new in (
        ("", ""), ("20", "21"), ("seed = 4", "seed = 5"), ("30", "31"), (', "woman p5"', ""),
    ):  # fmt: skip
        digests.add(parse_study(SAMPLED + (HEADS.replace(old, new) if old else HEADS)).digest)
    assert len(digests) == 6


def test_what_is_not_asked_has_a_default():
    heads = parse_study(f'{SAMPLED}[motion]\npeople = ["man p50", "man p50"]').setup.heads
    assert (heads.people, heads.station, heads.speed_km_h) == (("man p50",), 0.0, 40.0)
    assert (heads.draws, heads.seed) == (64, 1)


@pytest.mark.parametrize(
    ("motion", "says"),
    [
        ('people = ["man p5"]', "key motion.people[1]: found 'man p5'; expected one of six-year"),
        ("people = []", "key motion.people: found []; expected a list of people"),
        ("draws = 20", "key motion.people: found no people"),
        ('people = ["man p50"]\nspeed_km_h = 51', "expected a number from 20 to 50"),
        ('people = ["man p50"]\nspeed_km_h = 19.9', "expected a number from 20 to 50"),
        ('people = ["man p50"]\ndraws = 19', "expected a whole number from 20 to 5000"),
        ('people = ["man p50"]\ndraws = 5001', "expected a whole number from 20 to 5000"),
        ('people = ["man p50"]\nstation_mm = 10', "key motion.station_mm"),
        ('people = ["man p50"]\nat_most_mm = 10', "found key 'at_most_mm'"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_the_range(motion, says):
    with pytest.raises(StudyError) as caught:
        parse_study(f"{SAMPLED}[motion]\n{motion}")
    assert says in str(caught.value)


def test_a_head_is_never_a_target(tmp_path):
    """Neither a limit nor a sensitivity of a study file, nor a limit made in Python."""
    line = "head_wad_woman_p5_median_mm"
    says = "an interval that rests on assumptions; ask for it under .motion.*no target"
    for more in (
        f'[[limits]]\nline = "{line}"\nat_most_mm = 1500',
        f'[sensitivity]\nof = ["{line}"]',
    ):
        with pytest.raises(StudyError, match=says) as caught:
            parse_study(f"{SAMPLED}{HEADS}{more}")
        assert caught.value.key in ("limits[1].line", "sensitivity.of")
    study = parse_study(SAMPLED + HEADS)
    with pytest.raises(InputError, match=says):
        fc.solve(replace(study, limits=(Limit(line, None, 0.0, 1500.0),)))
    file = tmp_path / "study.toml"
    file.write_text(f'{SAMPLED}{HEADS}[[limits]]\nline = "{line}"\nat_most_mm = 1500', "utf-8")
    assert CliRunner().invoke(solve, [str(file)]).exit_code == 2


def test_the_command_says_the_cost_first_and_the_intervals_last(listed, tmp_path):
    """4 variants x 2 people x 20 draws = 160 runs: 8 s at 20 a second."""
    _, folder = listed
    asked = [str(folder / "study.toml"), "--out", str(folder / "out"), "--no-pictures"]
    run = CliRunner().invoke(sweep, [*asked, "--workers", "1"])
    assert run.exit_code == 1  # one variant cannot be made
    assert run.stderr.startswith("Heads: 4 variants x 2 people x 20 draws = 160 runs; 8 s at 20")
    out = " ".join(run.stdout.split())
    for each in json.loads((folder / "out" / "summary.json").read_text())["heads"]:
        for end in (each["nearest"], each["farthest"]):
            wad = end["wad_mm"]
            assert (
                f"{wad['median']:.0f} mm ({wad['p5']:.0f} to {wad['p95']:.0f}) on variant "
                f"{end['variant']}"
            ) in out
        assert f"{each['person']}: " in out
    assert "which of two variants is ahead is not said" in out
    assert CHILD.name in out
