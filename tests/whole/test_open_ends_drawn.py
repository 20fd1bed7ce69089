"""Open ends in draws, sweeps and searches: no interval, no limit kept, nothing proven.

A rule that no section has is planted between the lines and what reads them: LBRL below a height,
or BLERL ahead of a setback, counts as an open end. What must come out follows from the numbers.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import frontcheck
from frontcheck.cli.lists import explain as explain_command
from frontcheck.cli.study import solve as solve_command
from frontcheck.cli.study import sweep as sweep_command
from frontcheck.lines import section_lines as formed
from frontcheck.lines.line_values import OPEN_END
from frontcheck.outputs.documents.result_files import intervals_csv
from frontcheck.outputs.figures.sweep_figures import scatter_matrix
from frontcheck.outputs.figures.tolerance_figure import tolerance_figure
from frontcheck.outputs.text.leg_text import leg_text
from frontcheck.outputs.text.terminal import Plain
from frontcheck.outputs.text.tolerance_text import corrections_text, measurement_text
from frontcheck.people.people import PEOPLE
from frontcheck.study.search import Problem, bound
from frontcheck.study.study_file import parse_study

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
READERS = ("sure.intervals", "sure.closure", "study.study", "lines.lined_front")


@pytest.fixture
def plant(monkeypatch):
    """Make LBRL below one height, and BLERL ahead of one setback, an open end everywhere."""
    whole = formed.section_lines

    def plant(lbrl_below: float = -np.inf, blerl_ahead_of: float = -np.inf) -> None:
        def lines(*args, **options):
            batch = whole(*args, **options)
            ends = {}
            for name, where in (
                ("LBRL", batch.LBRL.z < lbrl_below),
                ("BLERL", batch.BLERL.x < blerl_ahead_of),
            ):
                line = getattr(batch, name)
                code = np.where(where & line.formed, OPEN_END, line.code)
                ends[name] = replace(line, code=code)
            return replace(batch, **ends)

        for reader in READERS:
            monkeypatch.setattr(f"frontcheck.{reader}.section_lines", lines)

    return plant


@pytest.fixture
def front():
    return frontcheck.read_front(GEOMETRIES / "plover.csv")


def drawn(front):
    return frontcheck.tolerance(
        front,
        "UN-R127-02",
        settings=frontcheck.HAND_TOOLS,
        draws=400,
        thresholds=[("LBRL_z_mm", 425.0), ("BLERL_z_mm", 700.0)],
    )


def test_no_interval_of_an_open_end_nor_of_what_rests_on_it(plant, front) -> None:
    before = drawn(front)
    plant(blerl_ahead_of=np.inf)
    after = drawn(front)
    for old, new in zip(before.stations, after.stations, strict=True):
        edge = new.line("BLERL")
        assert (edge.x, edge.z, new.bumper_lead) == (None, None, None)
        # The value is kept.
        assert edge.nominal == (old.line("BLERL").x.nominal, old.line("BLERL").z.nominal)
        assert "open end" in edge.no_interval
        assert new.no_lead_interval.startswith("BLERL: ")
        assert new.line("UBRL") == old.line("UBRL")
        assert old.line("BLERL").no_interval == old.no_lead_interval == ""
        by_name = {each.quantity: each for each in new.thresholds}
        assert by_name["BLERL_z_mm"].missing == 1.0
        assert by_name["LBRL_z_mm"] == old.thresholds[0]


def test_legform_of_draws_with_an_open_end_is_not_known(plant, front) -> None:
    plain = drawn(front).station(580)
    plant(lbrl_below=425.0)
    shares = dict(drawn(front).station(580).legform)
    # What would be "lower" is not known; the rest is as it was.
    assert shares["missing"] == pytest.approx(dict(plain.legform)["lower"], abs=1e-12)
    assert (shares["lower"], shares["either"]) == (0.0, dict(plain.legform)["either"])


def test_a_share_of_draws_with_an_open_end_is_said_and_the_interval_stays(plant, front) -> None:
    plain = drawn(front)
    nominal = plain.station(580).line("LBRL").z.nominal
    plant(lbrl_below=nominal - 1.0)
    result = drawn(front)
    line = result.station(580).line("LBRL")
    assert 0.0 < line.share("open_end") < 0.5
    assert line.z == plain.station(580).line("LBRL").z
    assert any("Some draws give an open end" in text for text in result.cautions)
    assert not any("open end" in text for text in plain.cautions)


def test_text_table_document_and_figure_of_draws_say_it(plant, front) -> None:
    from frontcheck.outputs.documents.result_files import Measurement

    def all_of():
        result = drawn(front)
        measurement = Measurement(
            result, frontcheck.spacing(front, "UN-R127-02"), frontcheck.closure(front, draws=100),
            frontcheck.corrected(front)[1], applied=False,
        )  # fmt: skip
        figure = tolerance_figure(result)
        words = "\n".join(text.get_text() for ax in figure.axes for text in ax.texts)
        return {
            "text": measurement_text(Plain(), measurement),
            "table": intervals_csv(result).decode(),
            "document": json.dumps(measurement.to_dict()),
            "figure": words + "\n".join(text.get_text() for text in figure.texts),
        }

    plain = all_of()
    plant(blerl_ahead_of=np.inf)
    for name, text in all_of().items():
        assert "open end" in text, name
        assert "open end" not in plain[name], name
    rows = list(csv.DictReader(io.StringIO(all_of()["table"])))
    edge = [row for row in rows if row["quantity"].startswith(("BLERL", "bumper_lead"))]
    assert len(edge) == 3 * len(front.stations)
    for row in edge:
        assert row["nominal_mm"]
        assert (row["low_mm"], row["high_mm"], row["median_mm"]) == ("", "", "")
        assert "open end" in row["reason"]
    assert "(800.0, open end)" in all_of()["text"]


def test_a_check_against_an_open_end_is_not_made(plant) -> None:
    survey = frontcheck.read_front(GEOMETRIES / "plover-survey.csv")
    plain = frontcheck.closure(survey, draws=100)
    plant(lbrl_below=np.inf, blerl_ahead_of=np.inf)
    report = frontcheck.closure(survey, draws=100)
    for before, after in zip(plain.closures, report.closures, strict=True):
        on_open = before.check.kind == "edge" and before.check.line in ("LBRL", "BLERL")
        assert (after.verdict == "not_available") == on_open
        assert ("open end" in after.reason) == on_open
    assert any("open end" in each.reason for each in report.closures)


def test_rows_in_between_say_nothing_of_an_open_end(plant, front) -> None:
    plain = frontcheck.spacing(front, "UN-R127-02")
    plant(blerl_ahead_of=np.inf)
    report = frontcheck.spacing(front, "UN-R127-02")
    assert plain.open_ends == ()
    assert {name for _, name in report.open_ends} == {"BLERL"}
    assert not any(gap.line == "BLERL" for gap in report.gaps)


# --- studies ---------------------------------------------------------------------------------

STUDY = """
name = "lip"
[nose]
[vary]
lower_lip_height_mm = { low = 300, high = 400 }
[sampling]
variants = 128
[[limits]]
line = "LBRL_z_mm"
at_most_mm = 330
[[limits]]
line = "bumper_lead_mm"
at_least_mm = 0
"""


def test_variants_with_an_open_end_keep_no_limit(plant, tmp_path) -> None:
    study = parse_study(STUDY)
    frontcheck.sweep(study, tmp_path / "plain")
    plain = frontcheck.read_results(study, tmp_path / "plain")
    plant(lbrl_below=315.0)
    frontcheck.sweep(study, tmp_path / "open")
    found = frontcheck.read_results(study, tmp_path / "open")
    z = plain.numbers["y0_LBRL_z_mm"]
    assert ((z > 315.0) & (z <= 330.0)).sum() > 5
    assert (z < 315.0).sum() > 5
    limit, lead = study.limits
    assert np.array_equal(plain.within(limit), z <= 330.0)
    assert np.array_equal(found.within(limit), (z >= 315.0) & (z <= 330.0))
    assert np.array_equal(found.open_ends(limit), z < 315.0)
    assert np.array_equal(found.within(lead), plain.within(lead))
    assert not plain.open_ends().any()
    made = plain.status != "infeasible"
    assert np.array_equal(found.status == "incomplete", z < 315.0)
    rows = list(csv.DictReader((tmp_path / "open" / "results.csv").read_text().splitlines()[1:]))
    # The value is kept in the table, and marked.
    assert [float(row["y0_LBRL_z_mm"] or np.nan) for row in rows] == pytest.approx(z, nan_ok=True)
    assert [row["y0_LBRL_status"] == "open_end" for row in rows] == (z < 315.0).tolist()
    assert [row["y0_legform"] == "" for row in rows] == ((z < 315.0) | ~made).tolist()
    figure = scatter_matrix(found)
    count = int((z < 315.0).sum())
    assert f"{count} variants left out: an open end" in " ".join(t.get_text() for t in figure.texts)
    assert "open end" not in " ".join(t.get_text() for t in scatter_matrix(plain).texts)


def test_the_sweep_command_counts_open_ends(plant, tmp_path) -> None:
    path = tmp_path / "study.toml"
    path.write_text(STUDY, "utf-8")
    args = [str(path), "--workers", "1", "--no-pictures", "--out"]
    plain = CliRunner().invoke(sweep_command, [*args, str(tmp_path / "plain")])
    plant(lbrl_below=315.0)
    found = CliRunner().invoke(sweep_command, [*args, str(tmp_path / "open")])
    assert "open end" not in plain.output
    assert found.exit_code == 1
    count = json.loads((tmp_path / "open" / "summary.json").read_text())["limits"][0]["open_end"]
    assert count > 0
    assert f"keep LBRL_z_mm at most 330 mm at all stations; {count} not known: open end" in (
        found.output
    )


def test_a_solution_never_rests_on_an_open_end(plant, tmp_path, monkeypatch) -> None:
    text = STUDY.replace("at_most_mm = 330", "at_most_mm = 312")
    path = tmp_path / "study.toml"
    path.write_text(text, "utf-8")
    study = parse_study(text)
    values = np.linspace(301.0, 310.0, 10)[:, None]
    problem = Problem(study, (0.0, 0.0))
    plain = problem.missed(values)
    kept = values[plain == 0.0]
    assert len(kept) > 3
    plant(lbrl_below=315.0)
    assert (problem.missed(values) > 0.0).all()
    # Were the search to hand one over all the same, the fresh screening would refuse it.
    monkeypatch.setattr("frontcheck.study.solve.search", lambda *_: kept[0])
    found = frontcheck.solve(study, most_boxes=50)
    assert found.status == "none_found"
    assert "LBRL_z_mm at most 312 mm at all stations is on a line with an open end" in found.reason
    told = CliRunner().invoke(solve_command, [str(path), "--boxes", "50"])
    assert told.exit_code == 1
    assert "open end" in told.output


def test_a_base_with_an_open_end_does_not_meet_a_limit(plant, monkeypatch) -> None:
    study = parse_study(STUDY.replace("at_most_mm = 330", "at_most_mm = 390"))
    monkeypatch.setattr("frontcheck.study.solve.search", lambda *_: None)
    assert frontcheck.solve(study, most_boxes=5).status == "met"
    plant(lbrl_below=390.0)
    found = frontcheck.solve(study, most_boxes=5)
    assert found.status == "none_found"
    line = found.lines[0]
    assert (line.before_open_end, line.kept) == (True, False)
    assert line.before is not None  # the value is kept
    assert found.to_dict()["lines"][0]["before_open_end"] is True


def test_nothing_is_proven_of_a_line_with_an_open_end(plant) -> None:
    # No nose in the ranges has LBRL below 200 mm: with every line known that is proven.
    study = parse_study(STUDY.replace("at_most_mm = 330", "at_most_mm = 200"))
    assert bound(study).status == "none_exists"
    plant(lbrl_below=315.0)
    found = bound(study, most_boxes=50)
    assert found.status == "open"
    assert "LBRL_z_mm at most 200 mm at all stations is on a line with an open end" in found.text
    alone = replace(study, limits=study.limits[:1])
    assert bound(alone).status == "not_available"
    assert "open end" in bound(alone).text


# --- what else reads lines ---------------------------------------------------------------------


def test_corrections_do_not_say_how_far_an_open_end_moved(plant) -> None:
    survey = frontcheck.read_front(GEOMETRIES / "plover-survey.csv")
    _, plain = frontcheck.corrected(survey)
    plant(blerl_ahead_of=np.inf)
    _, report = frontcheck.corrected(survey)
    for before, after in zip(plain.corrections, report.corrections, strict=True):
        for old, new in zip(before.moves, after.moves, strict=True):
            on_open = new.quantity.startswith(("BLERL", "bumper_lead"))
            assert (new.before, new.after) == (old.before, old.after)
            assert new.move == (None if on_open else old.move)
    text = "\n".join(corrections_text(Plain(), report, applied=False))
    assert ", open end)" in text
    assert "open end" not in "\n".join(corrections_text(Plain(), plain, applied=False))


def test_a_knee_is_not_placed_against_a_bumper_that_is_not_known(plant, front) -> None:
    def at(y: float):
        study = frontcheck.leg((frontcheck.screen(front),), PEOPLE[-2], [y])
        return study.stations[0].fronts[0], leg_text(Plain(), study)

    known, said = at(0.0)
    assert known.band is not None
    assert "open end" not in said
    plant(lbrl_below=np.inf)
    unknown, said = at(0.0)
    assert unknown.band is None
    assert "knee and bumper: not known: open end of LBRL" in said
    assert unknown.met == known.met


def test_the_caution_names_every_open_end(plant, front) -> None:
    assert not any("open end" in text for text in frontcheck.screen(front).cautions)
    plant(lbrl_below=302.0)
    screening = frontcheck.screen(front)
    (caution,) = [text for text in screening.cautions if "open end" in text]
    assert caution.endswith("LBRL at y = 0, 100 mm.")
    assert caution in screening._repr_html_()


def test_each_status_can_be_asked_for() -> None:
    told = CliRunner().invoke(explain_command, ["open_end"])
    assert told.exit_code == 0
    assert told.output.startswith(
        "open_end: what lies beyond the measured surface could change it.\n\nThe value stands"
    )
    listed = CliRunner().invoke(explain_command, [])
    assert "Statuses of lines, places and areas" in listed.output
