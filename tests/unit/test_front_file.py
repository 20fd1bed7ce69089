"""Front files: what they say is done, and what they must not say is refused with its key."""

from __future__ import annotations

import hashlib
import json
import math
import os
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from front_files import STATIONS, front_file, section_at, write_obj, write_table

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front

HARD = "x_mm,y_mm,z_mm,name,kind\n700,0,800,latch,latch\n"
MESH = 'unit = "mm"\n[cut]\nstations = [-100, 0, 100]\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_table(tmp_path / "front.csv")
    write_obj(tmp_path / "front.obj")
    (tmp_path / "hard.csv").write_text(HARD, "utf-8")
    (tmp_path / "sub").mkdir()
    write_table(tmp_path / "sub" / "below.csv")
    return tmp_path


def told(folder: Path, text: str, shape: str = "front.csv") -> fc.Front:
    return read_front(front_file(folder / "front.toml", shape, text))


def test_it_is_the_shape_that_it_names(folder) -> None:
    front, plain = told(folder, 'name = "Plover"\n'), read_front(folder / "front.csv")
    assert front.name == "Plover"
    assert front.stations == plain.stations
    assert read_front(front_file(folder / "two.toml", "sub/below.csv")).stations == plain.stations


def test_every_file_stands_in_the_source_with_its_digest(folder) -> None:
    file = front_file(
        folder / "front.toml", "front.obj", MESH + '[beside]\nhard_points="hard.csv"\n'
    )
    front = read_front(file)
    source = front.source
    for each, path in zip(
        (source, *source.files), ("front.toml", "front.obj", "hard.csv"), strict=True
    ):
        assert each.file == path
        assert each.sha256 == hashlib.sha256((folder / path).read_bytes()).hexdigest()
    documents = fc.screen(front).to_dict()["input"]
    assert [entry["file"] for entry in documents["files"]] == [
        "front.toml",
        "front.obj",
        "hard.csv",
    ]
    commands = (
        ["leg"],
        ["motion", "--draws", "20", "--person", "man p50"],
        ["tolerance", "--hand-tools", "--draws", "100"],
    )
    for command in commands:
        done = CliRunner().invoke(main, [command[0], str(file), *command[1:], "--json", "-"])
        assert done.exit_code in (0, 1), done.output
        for name in ("front.obj", "hard.csv"):
            assert hashlib.sha256((folder / name).read_bytes()).hexdigest() in done.stdout, command


def test_line_ends_and_a_mark_of_byte_order_are_taken(folder) -> None:
    content = b'\xef\xbb\xbffiles = ["front.csv"]\r\nname = "Pl\xc3\xb8ver"\r\n'
    (folder / "front.toml").write_bytes(content)
    front = read_front(folder / "front.toml")
    assert front.name == "Pløver"
    assert front.source.sha256 == hashlib.sha256(content).hexdigest()


def test_stations_half_and_datum(folder) -> None:
    assert told(folder, "[cut]\nstations = [0, 300]\n").stations == (0.0, 300.0)
    mesh = told(folder, 'unit="mm"\n[cut]\nstations=[310, 15.5]\nhalf=true\n', "front.obj")
    assert (mesh.stations, mesh.symmetric) == ((15.5, 310.0), True)
    pitch = told(folder, 'unit="mm"\n[cut]\npitch=350\n', "front.obj")
    assert pitch.stations == (-700.0, -350.0, 0.0, 350.0, 700.0)
    silent = (
        (folder / "front.csv").read_text("utf-8").replace("# datum: common\n# symmetric: no\n", "")
    )
    silent = "\n".join(line for line in silent.splitlines() if not line.startswith("-"))
    (folder / "silent.csv").write_text(silent, "utf-8")
    front = told(folder, '[cut]\ndatum="local"\nhalf=true\n', "silent.csv")
    assert (front.datum, front.symmetric) == ("local", True)


def test_the_attitude_is_stated(folder) -> None:
    plain = read_front(folder / "front.csv").section(0.0).points
    both = told(folder, "[attitude]\nride_front=-20\nride_rear=-20\n")
    np.testing.assert_allclose(both.section(0.0).points, plain - [0, 20], atol=1e-9)
    # Axles 750 and 3250 mm behind the foremost point: a point below the front axle rises by 10 mm.
    nose = told(folder, "[attitude]\nride_front=10\nride_rear=-5\n")
    assert nose.attitude.pitch_deg == pytest.approx(math.degrees(math.asin(15 / 2500)))
    assert nose.attitude.pivot == (pytest.approx(750.0), 0.0)
    assert any("common practice" in said for said in nose.assumed)
    turned = told(folder, MESH + "[attitude]\npitch_deg=1\n", "front.obj").section(0.0)
    want = (plain[:, 0] + 1j * plain[:, 1]) * np.exp(-1j * math.radians(1.0))
    np.testing.assert_allclose(turned.points, np.stack([want.real, want.imag], 1), atol=1e-9)


@pytest.mark.parametrize("shape", ["front.csv", "front.obj"])
@pytest.mark.parametrize(
    "mark", ['["sill",1200,310,300]', '{name="sill",x=1200,measured_z=310,design_z=300}']
)
def test_marks_move_any_kind_of_shape(folder, shape, mark) -> None:
    front = told(folder, f"{MESH if 'obj' in shape else ''}[beside]\nmarks=[{mark}]\n", shape)
    assert front.attitude.basis == "primary reference marks"
    np.testing.assert_allclose(front.section(0.0).points, section_at(0.0) - [0, 10], atol=1e-9)


def test_survey_and_noise_reach_any_kind_of_shape(folder) -> None:
    text = '[ground]\nslope_deg=0.4\n[survey]\ndatum_u="1 mm"\nsquare_tilt_u_deg=0.1\n'
    text += "[noise]\nheight_u=2.0\nsetback_u=1.5\n"
    front = told(folder, MESH + text, "front.obj")
    assert (front.ground_slope_deg, front.survey.datum_u_mm) == (0.4, 1.0)
    assert front.survey.square_tilt_u_deg == 0.1
    assert set(front.section(0.0).height_u) == {2.0}
    assert front.row_u_mm == 2.0
    level, report = fc.corrected(front)
    assert [each.name for each in report.corrections] == ["ground slope"]
    assert level.ground_slope_deg == 0.0


def test_what_stands_beside_the_shape_is_used(folder) -> None:
    text = '[beside]\nhard_points="hard.csv"\nbeam_ends=[-800, 800]\nwindscreen_from=[1040, 905]\n'
    result = fc.screen(told(folder, text))
    hard = fc.read_hard_points(folder / "hard.csv").points
    assert result.finding_settings.hard_points == hard
    assert result.front.windscreen.basis == "given"
    assert result.zones.bumper_test_area.basis == "beam"
    plain = fc.screen(told(folder, ""), windscreen_from=(1040, 905))
    assert plain.zones.bumper_test_area.basis != "beam"
    assert [s.parts for s in plain.front.sections] == [s.parts for s in result.front.sections]


@pytest.mark.parametrize(
    ("key", "value", "options"),
    [
        ("hard_points", '"hard.csv"', ["--hard-points", "hard.csv"]),
        ("beam_ends", "[-600, 600]", ["--beam-ends=-500,500"]),
        ("windscreen_from", "[1040, 905]", ["--windscreen-from", "1040,905"]),
    ],
)
def test_an_option_beside_the_same_key_is_refused(folder, monkeypatch, key, value, options) -> None:
    monkeypatch.chdir(folder)
    front_file(folder / "front.toml", "front.csv", f"[beside]\n{key} = {value}\n")
    done = CliRunner().invoke(main, ["screen", "front.toml", *options])
    assert done.exit_code == 2
    assert (
        f"front.toml, key beside.{key}: found it in the front file and as an option" in done.stderr
    )
    front_file(folder / "front.toml", "front.csv")
    assert CliRunner().invoke(main, ["screen", "front.toml", *options]).exit_code in (0, 1)


@pytest.mark.parametrize(
    "option",
    ["--unit mm", "--forward -x", "--up +z", "--ground 0", "--pitch 100", "--gap 5", "--half",
     "--include a", "--exclude a"],
)  # fmt: skip
def test_an_option_of_reading_is_refused(folder, option) -> None:
    file = front_file(folder / "front.toml", "front.obj", MESH)
    done = CliRunner().invoke(main, ["screen", str(file), "--lines-only", *option.split()])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "with a front file" in done.stderr


@pytest.mark.parametrize("command", ["compare", "leg", "tolerance", "annex", "motion"])
def test_the_options_are_gone_elsewhere(folder, command) -> None:
    text = CliRunner().invoke(main, [command, "--help"]).output
    for option in (
        "--unit",
        "--forward",
        "--up ",
        "--ground",
        "--pitch ",
        "--gap",
        "--half",
        "--include",
    ):
        assert option not in text


REFUSED = {
    # what stands in the front file: key or place, words of the message
    'colour = "red"': ("key colour", "one of: files, name, kind"),
    "[ground]\nheigth = 1": ("key ground.heigth", "did you mean height?"),
    '[parts]\nbumpr = ["*"]': ("key parts.bumpr", "did you mean bumper?"),
    '[survey]\ndatum = "1 mm"': ("key survey.datum", "did you mean datum_u?"),
    'unit = "inch"': ("key unit", "one of mm, cm, m, in"),
    'unit = 3': ("key unit", "one of mm, cm, m, in"),
    'kind = "cad"': ("key kind", "one of table, drawing, mesh, scan, step"),
    'kind = "mesh"': ("key kind", "table (.csv"),
    'name = ["a"]': ("key name", "expected a text"),
    "[cut]\nstations = 100": ("key cut.stations", "a list of stations such as"),
    "[cut]\nstations = []": ("key cut.stations", "a list of stations such as"),
    '[cut]\nstations = [0, "a"]': ("key cut.stations[2]", "expected a number"),
    "[cut]\nstations = [0, 50]": ("key cut.stations", "found station 50 mm"),
    "[cut]\nstations = [0]\npitch = 100": ("key cut.pitch", "stations and pitch"),
    "[cut]\npitch = nan": ("key cut.pitch", "a number from 0.1 to 1000"),
    "[cut]\npitch = 20": ("key cut.pitch", "of kind table"),
    "[cut]\ngap = 20": ("key cut.gap", "of kind table"),
    '[cut]\nhalf = "yes"': ("key cut.half", "true or false"),
    "[cut]\nhalf = true": ("row 3, column symmetric", "the front file says otherwise"),
    '[cut]\ndatum = "local"': ("row 2, column datum", "the front file says otherwise"),
    'unit = "in"': ("row 4, column station_mm", "another unit"),
    'sheet = 3': ("key sheet", "expected a text"),
    '[axes]\nforward = "+y"': ("key axes.forward", "of kind table"),
    '[axes]\nforward = "x"': ("key axes.forward", "one of +x, -x"),
    "[axes]\ncentre_y = 5": ("key unit", "no unit"),
    "[ground]\nheight = inf": ("key ground.height", "a number from"),
    "[ground]\nauto = true": ("key ground.auto", "of kind table"),
    "[ground]\nauto = true\nheight = 0": ("key ground.auto", "height and auto"),
    "[ground]\nslope_deg = 20": ("key ground.slope_deg", "from -15 to 15"),
    "[attitude]\npitch_deg = 1\nride_front = 5": ("key attitude.pitch_deg", "that differ"),
    "[attitude]\npitch_deg = 1\n[beside]\nmarks=[['a',0,300,310]]": ("key attitude", "states already"),
    '[parts]\nbumper = ["*"]': ("key parts", "of kind table"),
    '[beside]\nhard_points = "no.csv"': ("key beside.hard_points", "no such file"),
    '[beside]\nhard_points = "hrd.csv"': ("key beside.hard_points", "did you mean hard.csv?"),
    "[beside]\nbeam_ends = [560, -560]": ("key beside.beam_ends", "left end"),
    "[beside]\nbeam_ends = [560]": ("key beside.beam_ends", "a list such as [-560, 560]"),
    "[beside]\nmarks = [['sill', 0, 300]]": ("key beside.marks[1]", "name, x, measured z"),
    "[beside]\nmarks = [['sill', 0, 300, -5]]": ("key beside.marks[1]", "design"),
    "[beside]\nmarks = [['sill', 0, 'x', 5]]": ("key beside.marks[1][3]", "expected a number"),
    "[beside]\nmarks = [['sill', 0, 300, 360]]": ("marks[1]", "60 mm below its design height"),
    '[survey]\ndatum_u = "1 inch"': ("datum_u", "units"),
    "[noise]\nheight_u = -1": ("key noise.height_u", "from 0 to 200"),
    "beside = 1": ("key beside", "expected a table"),
    "[beside": ("front.toml", "not TOML"),
    "x = " + "9" * 5000: ("front.toml", "not TOML"),
    "x = " + "[" * 5000: ("front.toml", "not TOML"),
    "[ground]\nheight = 1" + "0" * 400: ("key ground.height", "a number"),
}  # fmt: skip


@pytest.mark.parametrize("text", REFUSED, ids=[text[:40] for text in REFUSED])
def test_what_cannot_be_is_refused_with_its_key(folder, text) -> None:
    place, words = REFUSED[text]
    file = front_file(folder / "front.toml", "front.csv", text + "\n")
    done = CliRunner().invoke(main, ["screen", str(file), "--lines-only"])
    assert (done.exit_code, done.stdout) == (2, "")
    assert place in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../front.csv", "outside the folder"),
        ("sub/../../x.csv", "outside the folder"),
        ("/etc/passwd", "outside the folder"),
        ("link.csv", "outside the folder"),
        ("linked/x.csv", "outside the folder"),
        ("loop.csv", "no such file"),
        ("sub", "no such file"),
        ("a\\u0000b.csv", "no such file"),
        ("x" * 900 + ".csv", "no such file"),
        ("frnt.csv", "did you mean front.csv?"),
        ("front.toml", "cannot name another"),
        ("hard.pdf", "files of one kind"),
    ],
)
def test_only_what_lies_in_its_folder_is_read(folder, tmp_path_factory, name, words) -> None:
    far = tmp_path_factory.mktemp("far")
    write_table(far / "x.csv")
    (folder / "link.csv").symlink_to(far / "x.csv")
    (folder / "linked").symlink_to(far)
    (folder / "loop.csv").symlink_to(folder / "loop.csv")
    (folder / "hard.pdf").write_bytes(b"%PDF")
    with pytest.raises(InputError, match=words) as caught:
        read_front(front_file(folder / "front.toml", name))
    assert caught.value.key == "files[1]" or caught.value.key == "files"


def test_a_pipe_is_not_waited_for(folder) -> None:
    os.mkfifo(folder / "pipe.csv")
    with pytest.raises(InputError, match="no such file"):
        told(folder, "", "pipe.csv")


def test_a_link_within_the_folder_is_followed(folder) -> None:
    (folder / "link.csv").symlink_to(folder / "front.csv")
    assert told(folder, "", "link.csv").stations == tuple(map(float, STATIONS))


def test_stations_of_a_mesh_lie_on_it(folder) -> None:
    with pytest.raises(InputError, match=r"station 900 mm.*from y = -700 to 700"):
        told(folder, 'unit="mm"\n[cut]\nstations=[0, 900]\n', "front.obj")
    with pytest.raises(InputError, match=r"stated unit.*frontcheck describe"):
        told(folder, "", "front.obj")


def test_a_drawing_that_says_another_unit_is_refused(folder) -> None:
    (folder / "a.dxf").write_bytes(Path("geometries/plover.dxf").read_bytes())
    with pytest.raises(InputError, match="unit in in the front file, while the drawing says mm"):
        told(folder, 'unit = "in"\n', "a.dxf")
    assert told(folder, 'unit = "mm"\n[cut]\nstations = [0]\n', "a.dxf").stations == (0.0,)
    with pytest.raises(InputError, match=r"station 20 mm.*0, 100"):
        told(folder, "[cut]\nstations = [20]\n", "a.dxf")


def test_hostile_files_end_soon(folder) -> None:
    file = folder / "front.toml"
    texts = (
        b"\x00" * 1000,
        b"\xff\xfe" * 1000,
        b'files = ["front.csv"]\n' + b"#" * 300_000,
        b"a" * 150_000,
        b"[" + b"a." * 70_000 + b"b]\n",
        b"files = [" + b'"front.csv",' * 10_000 + b"]\n",
        b'files = ["front.csv"]\n[cut]\nstations = [' + b"1," * 60_000 + b"]\n",
        b"".join(b"[t%d]\n" % i for i in range(20_000)),
        b'files = ["front.obj"]\nunit = "mm"\n[parts]\nexclude = ["' + b"*a" * 400 + b'b"]\n',
        b"x = " + b"{a=" * 3000,
    )
    for content in texts:
        file.write_bytes(content)
        start = time.perf_counter()
        done = CliRunner().invoke(main, ["screen", str(file), "--json", "-"])
        assert time.perf_counter() - start < 10.0
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr.startswith("frontcheck: ")
        assert "Traceback" not in done.stderr


def test_what_describe_guessed_is_told_until_the_mark_is_gone(folder) -> None:
    text = 'unit = "mm"   # GUESSED by its size\n[cut]\nstations = [0]\n'
    assert any(
        said.endswith("still marked so: unit.") for said in told(folder, text, "front.obj").assumed
    )
    assert not any("Guessed" in said for said in told(folder, MESH, "front.obj").assumed)


def test_a_study_takes_a_front_file(folder) -> None:
    front_file(folder / "front.toml", "front.csv")
    study = folder / "study.toml"
    study.write_text(
        '[front]\nfile = "front.toml"\nstations_mm = [0]\n[vary]\n'
        "nose_up_mm = {low=-5, high=5}\n[sampling]\nvariants = 4\n", "utf-8",
    )  # fmt: skip
    record = fc.read_study(study).record()
    assert "front.csv" in json.dumps(record)
