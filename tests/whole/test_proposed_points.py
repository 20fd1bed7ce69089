"""Moved fronts from end to end: proposed points are named, a user's files stay, all fits the page.

What is read back is read by programs that know nothing of this one: csv, json, ezdxf, hashlib. The
front below is a polygon whose lips stand at two of its three stations.
"""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.outputs.documents.exports import stations_csv
from frontcheck.outputs.documents.offset_table import offset_table, table_place
from frontcheck.outputs.documents.result_files import (
    changes_csv,
    findings_csv,
    findings_csv_comparison,
    intervals_csv,
    lines_csv,
)
from frontcheck.outputs.figures.side_view import figure_bytes, side_view_figure

DRAWING = "A drawing, not advice to alter a vehicle."
SAID = "107 of 378 points proposed, not measured"


def run(*words: object) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture(scope="module")
def moved(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("moved") / "moved.csv"
    assert run("what-if", "geometries/plover.csv", "--upper-lip", "up:5", "--out", out)[0] == 0
    return out


OUTPUTS = {
    "screen": "screen FILE",
    "stations": "screen FILE --stations",
    "findings": "screen FILE --findings",
    "tolerance": "tolerance FILE --draws 100",
    "leg": "leg FILE",
    "motion": "motion FILE --draws 20",
    "compare": "compare geometries/plover.csv FILE",
    "annex": "annex FILE --out OUT",
}


@pytest.mark.parametrize("name", OUTPUTS)
def test_every_command_names_proposed_points(name, moved, tmp_path) -> None:
    words = OUTPUTS[name].replace("FILE", str(moved)).replace("OUT", str(tmp_path / "out")).split()
    code, text, problem = run(*words)
    assert code in (0, 1), problem
    if name == "annex":
        text = (tmp_path / "out" / "annex.html").read_text("utf-8")
    text = " ".join(text.split())
    assert "Plover (proposed)" in text
    assert SAID in text
    if name != "screen":
        assert f"Plover (proposed): {SAID}. {DRAWING}" in text
    if name in ("screen", "annex"):  # what is proposed cannot be measured before it is made
        assert {"screen": "Next, on a car made so ", "annex": "do next, on a car made so"}[
            name
        ] in text
    if name == "tolerance":
        assert "Proposed points are drawn as unsure as before they moved." in text


def test_every_file_names_proposed_points(moved, tmp_path) -> None:
    one, two = (fc.screen(fc.read_front(path)) for path in ("geometries/plover.csv", moved))
    compared, sure = fc.compare(one, two), fc.tolerance(two.front, two.rules, draws=100)
    tables = (
        stations_csv(two), lines_csv(two), findings_csv(two), intervals_csv(sure),
        changes_csv(compared), findings_csv_comparison(compared),
    )  # fmt: skip
    for table in tables:
        rows = list(csv.DictReader(io.StringIO(table.decode())))
        assert rows
        assert {row["caution"] for row in rows} == {
            f"{fc.CAUTION} Plover (proposed): {SAID}. {DRAWING}"
        }
    picture = figure_bytes(side_view_figure(two, 0.0)).decode()
    assert "Plover (proposed): side view" in picture
    dxf = fc.write_dxf(two.zones, tmp_path / "lines.dxf")
    (text,) = ezdxf.readfile(dxf).modelspace().query('MTEXT[layer=="CAUTION"]')
    assert f"{SAID}. {DRAWING}" in text.plain_text()
    assert f"Plover (proposed): {SAID}. {DRAWING}" in two.to_dict()["cautions"]
    line = moved.read_text("utf-8").splitlines()[2]
    assert line == f"# proposed: Plover (proposed): {SAID}. {DRAWING}"


def test_nothing_is_said_of_a_front_that_was_measured() -> None:
    plover = fc.read_front("geometries/plover.csv")
    assert (plover.name, plover.drawn) == ("Plover", "")
    lifted = fc.what_if(plover, {"ride_height": {"up": 5}}).front
    assert (lifted.name, lifted.proposed) == ("Plover (proposed)", (378, 378))
    again = fc.what_if(lifted, {"ride_height": {"up": 5}}).front
    assert again.name == "Plover (proposed)"
    assert "378 of 378 points proposed, not measured\n" in run_screen(lifted)


def run_screen(front: fc.Front) -> str:
    from frontcheck.outputs.text.terminal import Plain

    return Plain().screening(fc.screen(front))


# A user's own columns and files.

PLOVER = Path("geometries/plover.csv").read_text("utf-8")
ROWS = PLOVER.splitlines()
HEAD = next(i for i, line in enumerate(ROWS) if line.startswith("station_mm"))


def with_column(name: str, cells) -> str:
    rows = [f"{row},{cells(i)}" for i, row in enumerate(ROWS[HEAD + 1 :])]
    return "\n".join([*ROWS[:HEAD], f"{ROWS[HEAD]},{name}", *rows, ""])


OWN = {
    "numbers": ("origin", str),
    "blank": ("origin", lambda _: ""),
    "words": ("origin", lambda i: "photo" if i % 2 else "tape"),
    "some measured": ("Origin", lambda i: "measured" if i % 2 else "estimated"),
    "original": ("original", str),
    "original words": ("original", lambda _: "yes"),
}


@pytest.mark.parametrize("name", OWN)
def test_a_column_of_the_users_own_is_left_aside_and_named(name, tmp_path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(with_column(*OWN[name]), "utf-8")
    front = fc.read_front(path)
    assert front.not_measured == ""
    assert [s.points.tolist() for s in front.sections] == [
        s.points.tolist() for s in fc.read_front("geometries/plover.csv").sections
    ]
    assert f"Left aside: 1 column ({OWN[name][0]})." in front.reader_notes


@pytest.mark.parametrize(
    ("column", "cells", "says"),
    [
        ("origin", lambda _: "propsed", "origin 'propsed'; expected one of measured, proposed"),
        ("origin", lambda i: "Proposed" if i else "", "blank"),
        ("orgin", lambda _: "proposed", "did you mean origin"),
    ],
)
def test_a_slip_never_makes_a_proposed_point_a_measured_one(column, cells, says, tmp_path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(with_column(column, cells), "utf-8")
    with pytest.raises(fc.errors.InputError, match=says):
        fc.read_front(path)


def test_a_table_is_replaced_only_as_it_was_written(moved, tmp_path) -> None:
    out = tmp_path / "mine.csv"
    out.write_bytes(moved.read_bytes())
    words = ("what-if", "geometries/plover.csv", "--upper-lip", "up:6", "--out", out)
    assert run(*words)[0] == 0  # ours, and as it was
    data = out.read_bytes()
    assert data != moved.read_bytes()
    for changed in (
        data.replace(b",226,", b",227,", 1), data + b"\n", data.replace(b"\n", b"\r\n"),
        data.split(b"\n", 1)[1], b"", data.replace(b"made_by: what-if", b"made_by: scan"),
    ):  # fmt: skip
        assert changed != data
        out.write_bytes(changed)
        code, text, problem = run(*words)
        assert (code, text) == (2, "")
        assert "what-if did not make, or that was changed since" in problem
        assert out.read_bytes() == changed


def test_what_goes_beside_a_table_is_replaced_only_as_it_was_written(tmp_path) -> None:
    table, picture = tmp_path / "a.csv", tmp_path / "a.png"
    plover = fc.read_front("geometries/plover.csv")
    table.write_bytes(offset_table(plover, "scan", [b"picture"]))
    for there, ours in ((b"picture", True), (None, True), (b"mine", False)):
        picture.unlink(missing_ok=True)
        if there is not None:
            picture.write_bytes(there)
        if ours:
            assert table_place(table, "scan", (".png",)) == (table, picture)
        else:
            with pytest.raises(fc.errors.OutputError, match="changed since"):
                table_place(table, "scan", (".png",))


PLACES = {
    "what-if": "what-if geometries/plover.csv --nose up:1 --json MINE",
    "screen": "screen geometries/plover.csv --json MINE",
    "drawing": "screen geometries/plover.csv --dxf MINE",
}


@pytest.mark.parametrize("name", PLACES)
@pytest.mark.parametrize("file", ["plover.csv", "plover.dxf"])
def test_no_document_is_written_over_a_file_of_the_user(name, file, tmp_path) -> None:
    mine = tmp_path / file
    data = Path("geometries", file).read_bytes()
    mine.write_bytes(data)
    words = PLACES[name].replace("MINE", str(mine)).split()
    code, _, problem = run(*words)
    assert code == 2
    assert f"{mine}: there is a file of this name that frontcheck did not write" in problem
    assert mine.read_bytes() == data
    mine.unlink()
    for _ in range(2):  # none there, then our own
        assert run(*words)[0] == 0
    assert mine.read_bytes() != data


def test_no_solution_is_written_over_a_file_of_the_user(tmp_path, monkeypatch) -> None:
    """What is found does not matter here, and takes long: another stands in its place."""
    found = SimpleNamespace(to_dict=lambda: {"schema": "frontcheck.solution/1"}, status="found")
    monkeypatch.setattr("frontcheck.study.solve.solve", lambda *_: found)
    mine = tmp_path / "mine.json"
    mine.write_text("{}", "utf-8")
    code, text, problem = run("solve", "geometries/nose-study.toml", "--json", mine)
    assert (code, text) == (2, "")
    assert "that frontcheck did not write" in problem
    assert mine.read_text("utf-8") == "{}"


@pytest.mark.parametrize("place", ["same", "folder", "taken"])
def test_all_is_written_or_nothing(place, tmp_path) -> None:
    out, document = tmp_path / "out.csv", tmp_path / "taken.json"
    document.write_text("{}", "utf-8")
    to = {"same": out, "folder": tmp_path / "none" / "a.json", "taken": document}[place]
    words = ("--nose", "up:1", "--out", out, "--json", to)
    code, text, problem = run("what-if", "geometries/plover.csv", *words)
    assert (code, text) == (2, "")
    assert len(problem.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["taken.json"]
    assert document.read_text("utf-8") == "{}"


@pytest.mark.parametrize("more", [0, 1])
def test_no_table_is_made_that_could_not_be_read(more, tmp_path) -> None:
    count = 99_994 + more  # and six lines above them: made_by to symmetric, and the columns
    z = np.linspace(100, 1000, 20_000)
    points = np.stack([0.3 * z, z], axis=1)
    sizes = [*[19_999] * 4, count - 4 * 19_999]
    sections = [fc.Section(points[:n], 10.0 * i) for i, n in enumerate(sizes)]
    front = fc.Front(tuple(sections), name="dense")
    if more:
        with pytest.raises(
            fc.errors.InputError, match="found 100001 rows; expected at most 100000"
        ):
            fc.offset_table(front, "a test")
        return
    path = tmp_path / "dense.csv"
    path.write_bytes(fc.offset_table(front, "a test"))
    assert len(path.read_text("utf-8").splitlines()) == 100_000
    assert fc.read_front(path).stations == front.stations


# What a move could not do.

LIPS = {0: (40, 70, 0, 60), 300: (60, 85, 20, 80), 600: (160, 150, 140, 180)}
PARTLY = "# datum: common\n# symmetric: yes\nstation_mm,height_mm,setback_mm,part\n" + "".join(
    f"{y},200,{low + 260},underside\n{y},300,{low},bumper\n{y},400,{mid},bumper\n"
    f"{y},500,{top},bumper\n{y},750,{edge},bonnet\n{y},860,{edge + 440},bonnet\n"
    f"{y},930,{edge + 940},bonnet\n{y},1200,{edge + 1440},windscreen\n"
    for y, (low, mid, top, edge) in LIPS.items()
)


def test_a_feature_that_one_station_lacks_is_moved_at_the_others(tmp_path) -> None:
    file, out, document = (tmp_path / name for name in ("in.csv", "out.csv", "out.json"))
    file.write_text(PARTLY, "utf-8")
    moves = ("--lower-lip", "forward:20", "--ride-height", "up:10")
    code, text, _ = run("what-if", file, *moves, "--out", out, "--json", document)
    lack = "at y = 600 mm no recess to be seen, so no lower lip"
    assert code == 1
    assert f"Not moved everywhere: {lack}." in text
    assert json.loads(document.read_text("utf-8"))["not_moved"] == [lack]
    back = fc.read_front(out)
    for y, (low, *_) in LIPS.items():
        forward = 0 if y == 600 else 20
        assert back.section(y).points[1].tolist() == pytest.approx([low - forward, 310], abs=1e-9)
    assert back.changes[0].endswith(f": lower lip forward 20 mm, ride height up 10 mm; {lack}")
    code, _, problem = run("what-if", file, "--lower-lip", "forward:20", "--only-at", "600")
    assert code == 2
    assert f"{lack}; expected a feature that one station has, or more" in problem


def test_the_most_that_can_be_made_can_be_made() -> None:
    wanted = ("--lower-lip", "up:300", "--leading-edge", "down:100")
    code, _, problem = run("what-if", "geometries/plover.csv", *wanted)
    assert code == 2
    most = re.search(
        r"\(lower lip up ([\d.]+) mm, leading edge down ([\d.]+) mm can be made\)", problem
    )
    lip, edge = map(float, most.groups())
    assert lip == pytest.approx(3 * edge)
    plover = fc.read_front("geometries/plover.csv")
    made = fc.what_if(plover, {"lower_lip": {"up": lip}, "leading_edge": {"down": edge}})
    assert made.front is not None
    # One hundredth more of what was wanted, 300 and 100 mm, cannot.
    over = fc.what_if(plover, {"lower_lip": {"up": lip + 3}, "leading_edge": {"down": edge + 1}})
    assert over.front is None


def test_a_ride_height_of_some_stations_lifts_no_hard_points() -> None:
    front = fc.read_front("geometries/plover.toml")
    assert front.beside.hard_points
    for only_at, lift in ((None, 5.0), ([front.stations[0]], 0.0)):
        made = fc.what_if(front, {"ride_height": {"up": 5}}, only_at=only_at).front
        for one, two in zip(front.beside.hard_points, made.beside.hard_points, strict=True):
            assert two.z - one.z == pytest.approx(lift, abs=1e-9)


WIDE = {
    "moves": "geometries/plover.csv --lower-lip forward:20 --nose up:7,back:3 --wad 1000,2500",
    "rates": "geometries/plover.csv --per-10mm",
    "mesh": "geometries/plover.toml --bonnet-slope steeper:1 --per-10mm",
}


@pytest.mark.parametrize("name", WIDE)
def test_no_line_is_wider_than_the_first_screen(name) -> None:
    code, text, _ = run("what-if", *WIDE[name].split())
    assert code in (0, 1)
    assert max(map(len, text.splitlines())) <= 100


def test_a_small_change_is_shown_by_its_own_digit_and_never_as_minus_nothing() -> None:
    code, text, _ = run("what-if", "geometries/plover.csv", "--lower-lip", "forward:20")
    moved = fc.what_if(fc.read_front("geometries/plover.csv"), {"lower_lip": {"forward": 20}})
    (wad,) = (each for y, each in moved.lines if (y, each.quantity) == (0.0, "WAD_1000_z_mm"))
    assert code == 0
    assert 0.0 < abs(wad.change) < 0.05
    shown = re.search(r"^WAD 1000 z +\S+ +\S+ +(\S+)", text, re.MULTILINE)[1]
    assert float(shown) == pytest.approx(wad.change, rel=0.3)
    assert not re.search(r"[+-]0\.0\b", text)


def test_ways_are_taken_however_they_are_spelt() -> None:
    plover = fc.read_front("geometries/plover.csv")
    made = [
        fc.what_if(plover, moves)
        for moves in (
            {"lower_lip": {"forward": 20}}, {"Lower Lip": {"Forward": 20}},
            {"lower-lip": {" FORWARD ": 20.0}}, {"lower_lip": {"back": -20}},
        )
    ]  # fmt: skip
    assert len({one.moves for one in made}) == 1
    code, text, _ = run("what-if", "geometries/plover.csv", "--lower-lip", "Forward: 20")
    assert code == 0
    assert text.startswith("Plover: lower lip forward 20 mm. ")
