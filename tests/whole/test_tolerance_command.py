"""How sure the lines are, at the command line: what is said, drawn, written, and exit codes."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.colors import to_rgb
from pictures.test_figures import assert_legible

import frontcheck
from frontcheck.cli import main
from frontcheck.cli.draws import settings_for
from frontcheck.front.front import Front
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_view import overview, side_view_figure
from frontcheck.sure.corrections import corrected
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.uncertainty import HAND_TOOLS, Uncertainty
from frontcheck.surface.section import Section

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
SURVEY = GEOMETRIES / "plover-survey.csv"
# A tall flat front without a windscreen: BRRL is not formed.
PLAIN = """\
# name: plain
# datum: common
# symmetric: no
station_mm,height_mm,setback_mm,height_u_mm,setback_u_mm
0,300,40,2,1.5
0,480,0,2,1.5
0,760,60,2,1.5
0,900,200,2,1.5
0,1000,1700,2,1.5
"""


@pytest.fixture
def plain(tmp_path):
    path = tmp_path / "plain.csv"
    path.write_text(PLAIN, "utf-8")
    return path


@pytest.fixture
def centre(tmp_path):
    """Plover at its centre plane only."""
    lines = (GEOMETRIES / "plover.csv").read_text("utf-8").splitlines(keepends=True)
    path = tmp_path / "centre.csv"
    path.write_text("".join(line for line in lines if line.startswith(("#", "station", "0,"))))
    return path


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


def document(*args):
    result = run(*args, "--json", "-")
    assert result.exit_code in (0, 1), result.stderr
    assert result.stdout.startswith("{")
    return json.loads(result.stdout)  # and nothing but the document


# --- the command tolerance ---------------------------------------------------------------


def test_it_says_everything_there_is_to_say():
    result = run("tolerance", SURVEY, "--draws", 300, "--threshold", "LBRL_z_mm=300")
    assert result.exit_code == 0, result.output
    for words in (
        "300 draws of the measurement, seed 1",
        "square 0.1 deg",
        "95 % intervals: value [low, high], heights z and bumper lead",
        "Legform by lower bumper height",
        "Thresholds",
        "Measure again first",
        "Rows too far apart",
        "Checks on the car",
        "MEASUREMENT-CLOSURE",
        "Not corrected; --correct would give: square tilt",
        "Not corrected; --correct would give: ground slope",
        "Not corrected; --correct would give: ride attitude",
        "not levelled",
        "not a test, not an approval and not a prediction",
    ):
        assert words in " ".join(result.output.split()), words


def test_what_is_not_there_is_not_spoken_of(centre):
    output = run("tolerance", centre, "--draws", 300).output
    for words in ("Checks on the car", "orrected", "Thresholds", "levelled"):
        assert words not in output, words


def test_the_document_has_its_parts():
    found = document("tolerance", SURVEY, "--draws", 200, "--threshold", "ble_height_mm=800")
    assert found["schema"] == "frontcheck.tolerance/1"
    assert list(found) == [
        "schema", "frontcheck", "input", "rule_set", "settings", "stations", "measure_again",
        "spacing", "closure", "corrections", "cautions",
    ]  # fmt: skip
    assert (found["settings"]["draws"], found["settings"]["seed"]) == (200, 1)
    assert [check["verdict"] for check in found["closure"]["checks"]] == [
        *["agree"] * 3, "disagree"
    ]  # fmt: skip
    assert [f["code"] for f in found["closure"]["findings"]] == ["MEASUREMENT-CLOSURE"]
    assert found["corrections"]["applied"] is False
    (threshold,) = found["stations"][0]["thresholds"]
    shares = [threshold[f"{side}_share"] for side in ("below", "at_or_above", "missing")]
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)


def test_same_seed_same_bytes_other_seed_other_bytes(centre, tmp_path):
    outs = {}
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        out = tmp_path / name
        done = run("tolerance", centre, "--draws", 300, "--seed", seed, "--out", out)
        assert done.exit_code == 1  # one section does not tell where the sphere of BRRL rests
        outs[name] = {p.name: p.read_bytes() for p in out.iterdir()}
    assert outs["a"] == outs["b"]
    for name in ("tolerance.json", "intervals.csv", "tolerance.svg", "tolerance.png"):
        assert outs["a"][name] != outs["c"][name], name


def test_the_folder_holds_document_tables_and_figure(tmp_path):
    out = tmp_path / "out"
    assert run("tolerance", SURVEY, "--draws", 200, "--out", out).exit_code == 0
    tables = {"checks", "corrections", "intervals", "measure-again", "spacing"}
    assert {p.name for p in out.iterdir()} == {
        "frontcheck-files.txt", "tolerance.json", "tolerance.svg", "tolerance.png",
        *(f"{name}.csv" for name in tables),
    }  # fmt: skip
    found = json.loads((out / "tolerance.json").read_bytes())
    for name in tables:
        rows = list(csv.DictReader((out / f"{name}.csv").read_text("utf-8").splitlines()))
        assert len(rows) >= 4, name
        assert all("not a prediction of injury" in row["caution"] for row in rows), name
    rows = list(csv.DictReader((out / "intervals.csv").read_text("utf-8").splitlines()))
    for station in found["stations"]:
        z = station["lines"]["UBRL"]["z"]
        (row,) = [
            r for r in rows if float(r["y_mm"]) == station["y_mm"] and r["quantity"] == "UBRL_z_mm"
        ]
        assert [float(row[k]) for k in ("low_mm", "median_mm", "high_mm")] == [
            z["low_mm"], z["median_mm"], z["high_mm"]
        ]  # fmt: skip


def test_a_line_that_is_not_formed_ends_with_1(plain):
    result = run("tolerance", plain, "--draws", 200)
    assert result.exit_code == 1
    assert "Missing: BRRL (not available; formed in 0.0 % of draws) at y = 0 mm." in result.output


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--draws", "50"], "expected 100 or more"),
        (["--draws", "2000000000"], "not in the range"),
        (["--seed", "-1"], "not in the range"),
        (["--threshold", "LBRL_z_mm"], "not a threshold"),
        (["--threshold", "LBRL_z_mm=nan"], "not a threshold"),
        (["--threshold", "lip=5"], "expected one of"),
        (["--rules", "UN-R127-09"], "UN-R127-02"),
    ],
)
def test_unusable_arguments_end_with_2(args, says, centre, tmp_path):
    result = run("tolerance", centre, *args, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert says in result.stderr
    assert "Traceback" not in result.output + result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", ["tolerance", "screen"])
def test_no_uncertainty_is_refused_with_the_way_out(command, plain):
    text = PLAIN.replace(",height_u_mm,setback_u_mm", "").replace(",2,1.5", "")
    plain.write_text(text, "utf-8")
    refused = run(command, plain, "--draws", 200)
    assert refused.exit_code == 2
    assert "--hand-tools" in refused.stderr
    assert run(command, plain, "--draws", 200, "--hand-tools").exit_code == 1  # no windscreen


def test_hand_tools_fill_in_what_the_file_leaves_open():
    front = frontcheck.read_front(SURVEY)
    filled = settings_for(front, hand_tools=True)
    assert settings_for(front, hand_tools=False) == Uncertainty.of(front)
    # ride_height_u: 4 mm and datum_u: 1 mm stand in the file; heights have theirs by row.
    assert filled.ride_height_u_mm == 4.0
    assert filled.datum_u_mm == 1.0
    assert filled.height_u_mm == HAND_TOOLS.height_u_mm
    bare = Front((Section([(40.0, 300.0), (0.0, 500.0), (900.0, 900.0)]),))
    assert settings_for(bare, hand_tools=True) == HAND_TOOLS


# --- screen --draws ------------------------------------------------------------------------


def test_screen_without_draws_is_what_it_was(centre):
    plain = document("screen", centre, "--lines-only")
    assert "tolerance" not in plain
    assert "corrections" not in plain
    drawn = document("screen", centre, "--lines-only", "--draws", 200)
    assert list(drawn) == [*plain, "tolerance"]
    del drawn["tolerance"]
    assert drawn == plain


def test_screen_without_draws_imports_nothing_of_it():
    code = (
        "import sys\nfrom frontcheck.cli import main\n"
        "try:\n main(['screen', sys.argv[1], '--lines-only'])\nexcept SystemExit: pass\n"
        "print(*(m for m in sys.modules), sep='\\n', file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(SURVEY)], capture_output=True, text=True, check=True
    )
    loaded = set(done.stderr.split())
    assert "frontcheck.screening" in loaded
    for name in ("tolerance", "corrections", "closure", "spacing", "commands.tolerance_text"):
        assert f"frontcheck.{name}" not in loaded, name
    assert not loaded & {"matplotlib", "pandas", "scipy"}


def test_intervals_of_screen_are_those_of_tolerance(centre):
    ours = document("screen", centre, "--lines-only", "--draws", 300, "--seed", 3)["tolerance"]
    theirs = document("tolerance", centre, "--draws", 300, "--seed", 3)
    for part in ("schema", "settings", "stations", "measure_again"):
        assert ours[part] == theirs[part]


def test_the_table_of_intervals_shows_what_the_document_says(centre):
    drawn = document("screen", centre, "--lines-only", "--draws", 300)["tolerance"]
    output = run("screen", centre, "--lines-only", "--draws", 300).output
    lines = drawn["stations"][0]["lines"]
    for name, axis in (("LBRL", "z"), ("UBRL", "z"), ("BLERL", "z"), ("WAD 1000", "x")):
        spread = lines[name][axis]
        cell = f"{spread['nominal_mm']:.1f} [{spread['low_mm']:.1f}, {spread['high_mm']:.1f}]"
        assert cell in output
    assert "taken as normal and independent" in output


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_intervals_hold_the_value_as_measured(name):
    """Errors have mean zero: an interval that leaves its value out is a sign of a mistake.

    Not a must for each: a contact that is the foremost of several points is biased.
    """
    inside = []
    for station in sure(name)[1].stations:
        for spread in station.spreads:
            assert spread.low < spread.high
            inside.append(spread.low <= spread.nominal <= spread.high)
    assert len(inside) == 10 * 17
    assert np.mean(inside) > 0.97


def test_json_and_folder_of_screen_agree_and_repeat(centre, tmp_path):
    seen = []
    for name in ("a", "b"):
        out = tmp_path / name
        run("screen", centre, "--lines-only", "--draws", 200, "--out", out)
        seen.append({p.name: p.read_bytes() for p in out.iterdir()})
    assert seen[0] == seen[1]
    assert "intervals.csv" in seen[0]
    piped = run("screen", centre, "--lines-only", "--draws", 200, "--json", "-")
    assert piped.stdout_bytes == seen[0]["screening.json"]


# --- bands and bars ------------------------------------------------------------------------


@cache
def sure(name):
    front = frontcheck.read_front(GEOMETRIES / f"{name}.csv")
    result = frontcheck.screen(front)
    return result, tolerance(front, result.rules, result.wad, draws=400)


def drawn_ends(ax, gid):
    return sorted(
        (float(line.get_xdata()[0]), *map(float, line.get_ydata()))
        for line in ax.lines
        if line.get_gid() == gid
    )


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_bands_of_the_overview_lie_where_the_intervals_say(name):
    screening, drawn = sure(name)
    heights, lead = overview(screening, tolerance=drawn).axes[:2]
    for ax, what in ((heights, "LBRL"), (heights, "UBRL"), (heights, "BLERL"), (lead, "lead")):
        expected = []
        for here in drawn.stations:
            spread = here.bumper_lead if what == "lead" else here.line(what).z
            # Plover and Avocet are half fronts: both sides are drawn.
            expected += [(sign * here.y, spread.low, spread.high) for sign in (1.0, -1.0)]
        assert drawn_ends(ax, f"interval {what}") == sorted(expected)
        fills = [c for c in ax.collections if c.get_gid() == f"band {what}"]
        assert len(fills) == 2
        vertices = {tuple(v) for c in fills for path in c.get_paths() for v in path.vertices}
        for y, low, high in expected:
            assert {(y, low), (y, high)} <= vertices
        bottom, top = ax.get_ylim()
        assert all(bottom < low <= high < top for _, low, high in expected)


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_bars_of_the_side_view_lie_where_the_intervals_say(name):
    screening, drawn = sure(name)
    here = drawn.stations[0]
    figure = side_view_figure(screening, here.y, tolerance=drawn)
    side, face = figure.axes
    for line in here.lines:
        bars = {
            axis: [bar for bar in side.lines if bar.get_gid() == f"interval {line.name} {axis}"]
            for axis in "xz"
        }
        (across,), (up,) = bars["x"], bars["z"]
        assert tuple(across.get_xdata()) == (line.x.low, line.x.high)
        assert tuple(across.get_ydata()) == (line.z.nominal, line.z.nominal)
        assert tuple(up.get_ydata()) == (line.z.low, line.z.high)
        assert tuple(up.get_xdata()) == (line.x.nominal, line.x.nominal)
    assert any(line.get_gid() == "interval UBRL z" for line in face.lines)
    (legend,) = figure.legends
    assert "95 % interval, x and z" in [text.get_text() for text in legend.get_texts()]


@pytest.mark.parametrize("name", ["plover", "avocet"])
def test_figures_with_intervals_are_legible(name):
    screening, drawn = sure(name)
    assert_legible(overview(screening, tolerance=drawn))
    for y in (0.0, 400.0, 760.0):
        assert_legible(side_view_figure(screening, y, tolerance=drawn))


def test_a_line_that_no_draw_forms_leaves_a_gap():
    # No point low enough for LBRL: the face starts at 700 mm.
    front = Front((Section([(90.0, 700.0), (0.0, 760.0), (50.0, 800.0)]),), name="scrap")
    screening = frontcheck.screen(front)
    drawn = tolerance(front, screening.rules, (), Uncertainty(height_u_mm=3.0), draws=200)
    figure = overview(screening, tolerance=drawn)
    gids = {line.get_gid() for line in figure.axes[0].lines}
    formed = {line.name for line in drawn.stations[0].lines if line.z is not None}
    for name in ("LBRL", "UBRL", "BLERL"):
        assert (f"interval {name}" in gids) == (name in formed)
    assert formed != {"LBRL", "UBRL", "BLERL", "BRRL"}
    side_view_figure(screening, 0.0, tolerance=drawn)


def test_bars_are_seen_on_paper_and_on_a_dark_contour():
    """W3C, Web Content Accessibility Guidelines (WCAG) 2.1, 2018, 1.4.3: 4.5 to 1 against white
    (from memory); a white rim parts it from dark."""

    def luminance(color):
        linear = [((c + 0.055) / 1.055) ** 2.4 if c > 0.03928 else c / 12.92 for c in to_rgb(color)]
        return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))

    assert 1.05 / (luminance(look.SPREAD) + 0.05) >= 4.5


# --- --correct --------------------------------------------------------------------------------


def test_correct_takes_the_caution_and_the_note_away():
    before, after = (run("screen", SURVEY, "--lines-only", *more) for more in ([], ["--correct"]))
    for words in (
        "not levelled",
        "not corrected for it",
        "inclined by 0.4 deg",
        "To take this out",
    ):
        assert words in before.output, words
        assert words not in after.output, words
    assert "--correct" in before.output
    for name in ("square tilt", "ground slope", "ride attitude"):
        assert f"Corrected: {name}, from before to after" in after.output
    assert "Input: The ground rose rearward by 0.3 deg" in after.output


def test_correct_gives_back_the_shape_the_survey_was_made_from():
    """plover-survey.csv is Plover moved by exact inverse motions, rounded to 0.5 mm."""
    corrected_document = document("screen", SURVEY, "--lines-only", "--correct")
    plover = document("screen", GEOMETRIES / "plover.csv", "--lines-only")
    as_read = document("screen", SURVEY, "--lines-only")
    for i, station in enumerate(corrected_document["stations"]):
        for line in ("LBRL", "UBRL", "BLERL", "BRRL"):
            for axis in ("x_mm", "z_mm"):
                true = plover["stations"][i][line][axis]
                assert station[line][axis] == pytest.approx(true, abs=0.5)
            assert (
                abs(as_read["stations"][i][line]["z_mm"] - plover["stations"][i][line]["z_mm"]) > 10
            )


def test_correct_puts_its_report_into_the_document(tmp_path):
    out = tmp_path / "out"
    found = document("screen", SURVEY, "--lines-only", "--correct", "--out", out)["corrections"]
    _, report = corrected(frontcheck.read_front(SURVEY))
    assert found == {"applied": True, **json.loads(json.dumps(report.to_dict()))}
    rows = list(csv.DictReader((out / "corrections.csv").read_text("utf-8").splitlines()))
    assert len(rows) == len(found["lines"])
    sure = document("tolerance", SURVEY, "--correct", "--draws", 200)
    assert sure["corrections"] == found
    assert "not levelled" not in " ".join(sure["cautions"])
    middle = sure["stations"][0]["lines"]["UBRL"]["z"]["nominal_mm"]
    assert middle == pytest.approx(556.0, abs=0.5)  # UBRL of Plover at its centre plane


def test_checks_are_held_against_the_car_as_it_stood():
    """Whether the offsets are corrected or not, the checks were made on the same car."""
    one, two = (
        document("tolerance", SURVEY, "--draws", 200, *more)["closure"]
        for more in ([], ["--correct"])
    )
    assert one == two


def test_nothing_to_correct_is_said(centre):
    result = run("screen", centre, "--lines-only", "--correct")
    assert result.exit_code == 1  # one section does not tell where the sphere of BRRL rests
    assert "Nothing to correct" in result.output
    assert document("screen", centre, "--lines-only", "--correct")["corrections"] == {
        "applied": True, "corrections": [], "lines": []
    }  # fmt: skip


def test_a_slope_that_sinks_the_car_is_refused(plain, tmp_path):
    # A point 100 mm up and 450 mm back: 100 cos 14 deg - 450 sin 14 deg = -12 mm.
    text = PLAIN.replace("# symmetric: no", "# symmetric: no\n# ground_slope_deg: 14")
    plain.write_text(text.replace("0,300,40,2,1.5", "0,100,450,2,1.5\n0,300,40,2,1.5"), "utf-8")
    assert run("screen", plain, "--lines-only").exit_code == 1
    out = tmp_path / "out"
    result = run("screen", plain, "--lines-only", "--correct", "--out", out)
    assert result.exit_code == 2
    assert "check the value and the sign of the ground slope" in result.stderr
    assert result.stdout == ""
    assert not out.exists()


def test_correct_reaches_a_comparison():
    found = document("compare", SURVEY, SURVEY, "--correct")
    assert set(found["corrections"]) == {"a", "b"}
    assert found["corrections"]["a"] == found["corrections"]["b"]
    result = run("compare", SURVEY, SURVEY, "--correct")
    assert "A: Corrected: ground slope" in result.output
    assert "not levelled" not in result.output
