"""A first front file: readable at once, guesses right and marked, nothing overwritten."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from front_files import PER_MM, STATIONS, axis, section_at, write_obj, write_table
from ruled_sheets import ruled

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import InputError, escaped
from frontcheck.reading.readers import read_front

AXES = ("-x", "+x", "-y", "+y", "-z", "+z")


def run(*words):
    return CliRunner().invoke(main, ["describe", *map(str, words)])


def value(text, key):
    """What stands behind a key."""
    return re.search(rf'^{key} = "?([^"\s]+)', text, re.MULTILINE)[1]


@pytest.mark.parametrize(
    ("forward", "up"), [way for way in itertools.product(AXES, AXES) if way[0][1] != way[1][1]]
)
def test_a_mesh_is_found_as_it_stands(forward, up, tmp_path) -> None:
    """In all 24 ways in which axes may point; unit, ground and centre change with them."""
    unit = ("mm", "m", "in", "cm")[(AXES.index(forward) + AXES.index(up)) % 4]
    ground, centre = (
        (0.0, 0.0) if unit in ("mm", "in") else (500.0 * PER_MM[unit], 45.0 * PER_MM[unit])
    )
    shape = write_obj(tmp_path / "a.obj", unit=unit, forward=forward, up=up, ground=ground,
                      centre=centre)  # fmt: skip
    out = tmp_path / "a.toml"
    assert run(shape, "--out", out).exit_code == 0
    text = out.read_text("utf-8")
    assert (value(text, "unit"), value(text, "forward"), value(text, "up")) == (unit, forward, up)
    assert float(value(text, "centre_y")) == pytest.approx(centre, abs=0.01 * PER_MM[unit])
    front = read_front(out)
    assert front.stations == tuple(np.arange(-700.0, 701.0, 50.0))
    # The ground is guessed: at 0 where a file stands on it, else by the usual clearance.
    got = front.section(0.0).points - section_at(0.0)
    assert np.ptp(got[:, 1]) == pytest.approx(0.0, abs=1e-6)
    assert abs(got[0, 1]) < (1e-6 if ground == 0.0 else 60.0)
    assert any("still marked so" in said for said in front.assumed)


def test_half_a_mesh_and_a_whole_vehicle(tmp_path) -> None:
    lines = write_obj(tmp_path / "whole.obj").read_text("utf-8").splitlines()
    corners = [line.split() for line in lines if line.startswith("v")]
    kept = {i for i, corner in enumerate(corners, 1) if float(corner[2]) >= 0.0}
    faces = [line for line in lines if line.startswith("f")]
    faces = [face for face in faces if set(map(int, face.split()[1:])) <= kept]
    half = tmp_path / "half.obj"
    half.write_text("\n".join([*map(" ".join, corners), *faces]), "utf-8")
    text = fc.describe(half)
    assert value(text, "half") == "true"
    assert "one half for both sides" in text


NOSE = [(900, 200), (120, 200), (0, 400), (40, 700), (250, 820), (1200, 950), (2000, 1430)]
TAILS = {
    "of a hatchback": [(3700, 1430), (3950, 900), (4000, 500), (3900, 200), (3000, 200)],
    "of a saloon": [
        (3000, 1430),
        (3600, 1020),
        (4300, 1000),
        (4400, 500),
        (4300, 200),
        (3400, 200),
    ],
}


@pytest.mark.parametrize("tail", TAILS)
@pytest.mark.parametrize("mirrors", [0.0, 1280.0])
@pytest.mark.parametrize(
    ("forward", "up"), [("-x", "+z"), ("+x", "+z"), ("+z", "+y"), ("-y", "-x")]
)
def test_a_whole_vehicle_goes_nose_first(tail, mirrors, forward, up, tmp_path) -> None:
    """Both ends look like a front: the lower one is it."""
    corners = ruled([*NOSE, *TAILS[tail]], np.arange(-850.0, 851.0, 50.0))
    if mirrors:
        for side in (-1.0, 1.0):
            box = trimesh.creation.box((60.0, 200.0, 150.0))
            box.apply_translation((1700.0, side * (mirrors - 100.0), 1050.0))
            corners = np.concatenate([corners, box.triangles])
    f, u = axis(forward), axis(up)
    turned = corners @ np.array([-f, np.cross(f, u), u]) / 1000.0
    path = tmp_path / "whole.obj"
    trimesh.Trimesh(**trimesh.triangles.to_kwargs(turned)).export(path)
    text = fc.describe(path)
    assert (value(text, "unit"), value(text, "forward"), value(text, "up")) == ("m", forward, up)
    assert f"{4000 if 'hatch' in tail else 4400} x {2 * mirrors or 1700:.0f} x" in text


@pytest.mark.parametrize("name", ["plover.csv", "plover.dxf", "plover.stl"])
def test_what_is_written_is_read_at_once(name, geometries, tmp_path) -> None:
    (tmp_path / name).write_bytes((geometries / name).read_bytes())
    done = run(tmp_path / name)
    assert done.exit_code == 0
    assert done.stdout == fc.describe(tmp_path / name)
    (tmp_path / "front.toml").write_text(done.stdout, "utf-8")
    front = read_front(tmp_path / "front.toml")
    options = {"unit": "mm", "pitch": 50} if name.endswith("stl") else {}
    plain = read_front(tmp_path / name, **options)
    assert front.stations == plain.stations
    assert front.name.lower() == "plover"
    for one, two in zip(front.sections, plain.sections, strict=True):
        np.testing.assert_array_equal(one.points, two.points)


def test_the_examples_in_comments_can_be_taken_up(tmp_path) -> None:
    """Every commented key is one that a front file has: with '#' away the file is still checked."""
    write_table(tmp_path / "a.csv")
    text = fc.describe(tmp_path / "a.csv")
    open_ = re.sub(r"^# (\w+ = .*)$", r"\1", text, flags=re.MULTILINE)
    open_ = open_.replace("hard-points.csv", "hard.csv").replace("height = 0 ", "height = 0.0 ")
    assert open_.count(" = ") > text.count("\n") / 3
    (tmp_path / "hard.csv").write_text("x_mm,y_mm,z_mm,name,kind\n1,2,700,a,b\n", "utf-8")
    # Marks move the front, and so does the slope they are stated with: each by itself is taken.
    open_ = open_.replace("1250, 312, 305", "1250, 305, 305")
    (tmp_path / "a.toml").write_text(open_, "utf-8")
    front = read_front(tmp_path / "a.toml")
    assert front.survey.marks[0].name == "sill hole"
    assert front.row_u_mm == 2.0


def test_nothing_is_overwritten_or_left(tmp_path) -> None:
    shape, out = write_table(tmp_path / "a.csv"), tmp_path / "a.toml"
    out.write_text("mine", "utf-8")
    done = run(shape, "--out", out)
    assert done.exit_code == 2
    assert "never overwritten" in done.stderr
    assert out.read_text("utf-8") == "mine"
    out.unlink()
    out.symlink_to(tmp_path / "nowhere")
    assert run(shape, "--out", out).exit_code == 2
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.pdf", b"%PDF", "expected a shape"),
        ("a.toml", b"files = []", "expected a shape"),
        ("a.csv", b"", "empty"),
        ("a.stl", b"solid\n", "expected"),
        ("a.dxf", b"\x00\x01", None),
        ("a.obj", b"v 0 0 nan\n", "expected"),
    ],
)
def test_what_is_no_shape_is_refused(tmp_path, name, content, words) -> None:
    shape, out = tmp_path / name, tmp_path / "out.toml"
    shape.write_bytes(content)
    done = run(shape, "--out", out)
    assert "Traceback" not in done.output
    if words is None:  # a drawing that cannot be read still gets a front file that says so
        assert done.exit_code == 1
        assert "# NOT READABLE YET" in out.read_text("utf-8")
    else:
        assert (done.exit_code, out.exists()) == (2, False)
        assert words in done.stderr


def test_the_front_file_stands_above_its_shape(tmp_path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "beside").mkdir()
    shape = write_table(tmp_path / "in" / "a.csv")
    assert run(shape, "--out", tmp_path / "a.toml").exit_code == 0
    assert read_front(tmp_path / "a.toml").stations == tuple(map(float, STATIONS))
    done = run(shape, "--out", tmp_path / "beside" / "a.toml")
    assert done.exit_code == 2
    assert "in a folder above it" in done.stderr


def test_names_do_no_harm(tmp_path) -> None:
    for name in ('a"b.csv', "new\nline.csv", "back\\slash.csv", "ünï.csv", "$dollar.csv"):
        shape = write_table(tmp_path / name)
        text = fc.describe(shape)
        (tmp_path / "front.toml").write_text(text, "utf-8")
        assert read_front(tmp_path / "front.toml").source.files[0].file == escaped(name)


def test_a_mesh_of_no_likely_pose_says_so(tmp_path) -> None:
    rng = np.random.default_rng(1)
    lines = [f"v {x} {y} {z}" for x, y, z in (rng.random((300, 3)) * 9.0).tolist()]
    lines += [f"f {i} {i + 1} {i + 2}" for i in range(1, 298, 3)]
    (tmp_path / "a.obj").write_text("\n".join(lines), "utf-8")
    done = run(tmp_path / "a.obj")
    assert done.exit_code in (0, 1)
    assert "GUESSED" in done.stdout
    if done.exit_code:
        assert "# NOT READABLE YET" in done.stdout


def test_a_column_of_another_unit_is_told(tmp_path) -> None:
    shape = write_table(tmp_path / "a.csv", unit="in")
    assert value(fc.describe(shape), "unit") == "in"
    (tmp_path / "f.toml").write_text('files = ["a.csv"]\nunit = "mm"\n', "utf-8")
    with pytest.raises(InputError, match="another unit"):
        read_front(tmp_path / "f.toml")
