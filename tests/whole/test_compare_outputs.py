"""What a comparison leaves behind: command, folder, tables, figures."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from matplotlib.figure import Figure
from matplotlib.text import Text

from frontcheck import CAUTION, read_front, screen
from frontcheck.cli.compare import compare as command
from frontcheck.comparison.comparison_result import Comparison
from frontcheck.comparison.two_fronts import compare
from frontcheck.outputs.documents.result_files import (
    changes_csv,
    comparison_files,
    findings_csv_comparison,
)
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import LABEL, NOTE, new_figure
from frontcheck.outputs.figures.comparison_figures import (
    changes_figure,
    distance_figure,
    leg_figure,
    overlay_figure,
    plan_figure,
)
from frontcheck.outputs.figures.side_view import figure_bytes

YS = (0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 580.0, 650.0, 710.0, 760.0)


@pytest.fixture(scope="module")
def found(geometries: Path) -> Comparison:
    a, b = (screen(read_front(geometries / f"{name}.csv")) for name in ("plover", "avocet"))
    return compare(a, b, draws=100)


@pytest.fixture(scope="module")
def same(found: Comparison) -> Comparison:
    return compare(found.a, found.a)


def assert_legible(figure: Figure) -> None:
    """No placed label, title or caution runs out of the figure or over another."""
    with look.house_style():
        figure.canvas.draw()
    width, height = figure.canvas.get_width_height()
    wanted = (LABEL, NOTE, "title", "caution")
    kept = [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_gid() in wanted]
    boxes = []
    for text in kept:
        box = Text.get_window_extent(text)  # of the words alone, without leader or arrow
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
        assert inside, f"runs out of the figure: {text.get_text()!r}"
        boxes.append((text.get_text(), box))
    assert len(boxes) >= 3
    for i, (a, p) in enumerate(boxes):
        for b, q in boxes[i + 1 :]:
            over = min(p.x1, q.x1) - max(p.x0, q.x0), min(p.y1, q.y1) - max(p.y0, q.y0)
            assert min(over) <= 0.0, f"{a!r} overlaps {b!r}"


@pytest.mark.parametrize("y", YS)
def test_overlay_and_leg_pair_are_legible_at_every_station(found, same, y) -> None:
    for each in (found, same):
        assert_legible(overlay_figure(each, y))
        assert_legible(leg_figure(each, y))


def test_other_figures_are_legible(found, same) -> None:
    for each in (found, same):
        assert_legible(changes_figure(each))
        assert_legible(distance_figure(each))


def test_a_planted_overlap_is_noticed(found) -> None:
    figure = leg_figure(found, 0.0)
    label = next(t for t in figure.findobj(Text) if t.get_gid() == LABEL)
    label.axes.text(*label.get_position(), "planted", gid=LABEL)
    with pytest.raises(AssertionError, match="overlaps"):
        assert_legible(figure)


def test_a_given_figure_is_drawn_into(found) -> None:
    for draw in (
        lambda figure: overlay_figure(found, 0.0, figure=figure),
        lambda figure: leg_figure(found, 0.0, figure=figure),
        lambda figure: changes_figure(found, figure=figure),
        lambda figure: distance_figure(found, figure=figure),
        lambda figure: plan_figure(found, figure=figure),
    ):
        mine = new_figure(11.0, 7.0)
        assert draw(mine) is mine
        assert mine.axes


def words(figure: Figure) -> str:
    return "\n".join(t.get_text() for t in figure.findobj(Text))


def test_figures_say_the_numbers_and_the_caution(found) -> None:
    overlay = words(overlay_figure(found, 0.0))
    # Rows of the tables: BLERL (101.5, 800) and (294.5, 697).
    assert "B 193.0 mm rearward, 103.0 mm lower" in overlay
    assert "Bumper lead: A 79.5 mm, B 223.5 mm (+144.0 mm)" in overlay
    assert "209.3 mm inside A" in overlay
    leg = words(leg_figure(found, 0.0))
    assert "Lower lip 14.0 mm behind the bumper" in leg
    assert "Lower lip 51.0 mm ahead of the bumper" in leg
    # 0.3268 of 1626 mm less 84.7, in shoes of 25 mm (source in tests/validation/test_ansur.py).
    assert "woman p50: 472 mm" in leg
    for figure in (overlay_figure(found, 0.0), changes_figure(found), plan_figure(found)):
        assert "not a test, approval or prediction of injury" in words(figure)


def test_the_bar_beside_the_distances_is_as_long_as_it_says(found) -> None:
    ax = next(ax for ax in distance_figure(found).axes if "length along A" in ax.get_xlabel())
    (bar,) = (line for line in ax.lines if line.get_linewidth() == 2.0)
    low, high = bar.get_ydata()
    words = [t.get_text() for t in ax.texts if t.get_text() == f"{high - low:g} mm"]
    assert len(words) == 1
    # The largest round length that the largest distance holds.
    peak = max(
        abs(each.value)
        for station in found.stations if station.contour is not None
        for each in (station.contour.outward, station.contour.inward) if each is not None
    )  # fmt: skip
    rounds = [step * 10.0**k for k in range(-1, 4) for step in (1.0, 2.0, 5.0)]
    assert high - low == pytest.approx(max(each for each in rounds if each <= peak))


def test_overlay_is_to_scale_and_the_leg_pair_to_one_scale(found) -> None:
    overlay = overlay_figure(found, 300.0)
    for ax in overlay.axes:
        box = ax.get_window_extent()
        across = (ax.get_xlim()[1] - ax.get_xlim()[0]) / box.width
        up = (ax.get_ylim()[1] - ax.get_ylim()[0]) / box.height
        assert across == pytest.approx(up, rel=1e-6)
    left, right = leg_figure(found, 300.0).axes
    assert left.get_xlim() == pytest.approx(right.get_xlim(), abs=1e-9)
    assert left.get_ylim() == pytest.approx(right.get_ylim(), abs=1e-9)


def test_fronts_can_be_told_apart_without_colour(found) -> None:
    ax = overlay_figure(found, 0.0).axes[0]
    drawn = {line.get_gid(): line for line in ax.lines if line.get_gid() in ("front A", "front B")}
    assert not drawn["front A"].is_dashed()
    assert drawn["front B"].is_dashed()


def test_a_figure_without_distances_says_why(found) -> None:
    local = screen(replace(found.a.front, datum="local"))
    each = compare(local, local)
    assert "datum set anew" in words(distance_figure(each))
    assert plan_figure(each) is None
    assert "Setbacks are not compared" in words(overlay_figure(each, 0.0))


def test_two_runs_leave_the_same_bytes(geometries: Path) -> None:
    def once() -> dict[str, bytes]:
        fronts = (read_front(geometries / f"{name}.csv") for name in ("plover", "avocet"))
        kept = [
            replace(f, sections=tuple(s for s in f.sections if s.y in (0.0, 760.0))) for f in fronts
        ]
        return comparison_files(compare(*(screen(front) for front in kept), draws=100))

    first, second = once(), once()
    assert list(first) == list(second)
    assert [name for name in first if first[name] != second[name]] == []
    assert {"comparison.json", "changes.csv", "changes.svg", "leg-y0760.png", "plan.svg"} <= set(
        first
    )
    assert CAUTION.encode() in first["changes.svg"]
    for name, content in first.items():
        if name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(content.decode())))
            assert {row[-1] for row in rows[1:]} == {CAUTION}


def test_csv_is_safe_and_complete(found) -> None:
    rows = list(csv.DictReader(io.StringIO(changes_csv(found).decode())))
    assert len(rows) == len(found.records())
    row = next(r for r in rows if r["y_mm"] == "0.0" and r["quantity"] == "BLERL_z_mm")
    assert float(row["change"]) == -103.0
    told = list(csv.DictReader(io.StringIO(findings_csv_comparison(found).decode())))
    assert len(told) == len(found.findings)
    assert {r["kind"] for r in told} <= {"new", "gone", "moved", "same"}


def run(*args: object) -> Result:
    return CliRunner().invoke(command, [str(arg) for arg in args])


def test_command_prints_tables(geometries) -> None:
    done = run(geometries / "plover.csv", geometries / "avocet.csv", "--draws", 100)
    assert done.exit_code == 0
    for text in (
        "A: Plover. B: Avocet.", "Findings: New in B", "LEG-LIP-AHEAD", "crossed its threshold",
        "beyond the uncertainty", "Probability, for the uncertainties stated", CAUTION,
        "no shift",
    ):  # fmt: skip
        assert text in done.stdout
    assert "\x1b" not in done.stdout


def test_command_says_when_nothing_differs(geometries) -> None:
    done = run(geometries / "plover.csv", geometries / "plover.csv")
    assert "Nothing is different in B." in done.stdout


def test_command_writes_json_alone_to_standard_output(geometries) -> None:
    done = run(geometries / "plover.csv", geometries / "avocet.csv", "--json", "-", "--wad", "1000")
    document = json.loads(done.stdout_bytes)
    assert document["schema"] == "frontcheck.comparison/2"
    assert document["settings"]["wad_mm"] == [1000.0]
    assert "WAD_1000_x_mm" in document["stations"][0]["lines"]


def test_command_writes_a_folder(geometries, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    text = (geometries / "plover.csv").read_text().splitlines()
    small = [line for line in text if not line[0].isdigit() or line.startswith(("0,", "760,"))]
    Path("a.csv").write_text("\n".join(small) + "\n")
    done = run("a.csv", "a.csv", "--out", "out")
    assert done.exit_code == 0, done.output
    names = {path.name for path in Path("out").iterdir()}
    assert {
        "comparison.json",
        "overlay-y0000.svg",
        "leg-y0760.png",
        "frontcheck-files.txt",
    } <= names
    assert "Written: out" in done.stdout


@pytest.mark.parametrize(
    ("args", "words_"),
    [
        (("missing.csv",), "missing.csv"),
        (("{plover}", "--draws", "5"), "5 draws"),
        (("{plover}", "--rules", "X"), "rule set 'X'"),
    ],
)
def test_command_refuses_in_one_line(geometries, args, words_) -> None:
    plover = str(geometries / "plover.csv")
    done = run(plover, *(arg.format(plover=plover) for arg in args))
    assert done.exit_code == 2
    assert words_ in done.stderr
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.output


def test_incomplete_lines_give_exit_code_1(geometries, tmp_path) -> None:
    # Without labels the windscreen would be found by its shape: here it was not measured.
    lines = (geometries / "plover.csv").read_text().splitlines(keepends=True)
    bare = tmp_path / "bare.csv"
    bare.write_text("".join(line for line in lines if not line.endswith(",windscreen\n")))
    done = run(geometries / "plover.csv", bare)
    assert done.exit_code == 1
    assert "Not comparable: x of the bonnet rear reference line: missing in B" in done.stdout


def test_a_table_and_a_mesh_of_the_same_front_agree(geometries) -> None:
    # The mesh was made from the table's sections, rows as vertices, so slices at measured
    # stations are those sections (to single precision of the file).
    done = run(geometries / "plover.csv", geometries / "plover.toml", "--json", "-")
    assert done.exit_code in (0, 1), done.stderr
    stations = json.loads(done.stdout_bytes)["stations"]
    measured = [s for s in stations if s["section_a"] == s["section_b"] == "measured"]
    assert len(measured) >= 5
    for station in measured:
        assert abs(station["lines"]["LBRL_z_mm"]["change"]) < 0.01


def test_figure_bytes_hold_no_date(found) -> None:
    assert b"<dc:date>" not in figure_bytes(changes_figure(found))
