"""A mesh in any unit and pose, read through a front file, gives the lines of its plain table.

The reference is the same front as an offset table, whose readings need no front file; meshes are
posed by code of the tests (`front_files`). Allowed is 0.01 mm, the goal of the front file. BRRL is
left out: a sphere in space rolls on what lies between stations, which a table must guess.
"""

from __future__ import annotations

import json

import pytest
from checks import Check, Source
from click.testing import CliRunner
from front_files import STATIONS, front_file, pose_text, write_obj, write_table

import frontcheck as fc
from frontcheck.cli import main

POSED = Check(
    "mesh-in-any-pose",
    kind="independent method",
    quantity="all lengths of stations but BRRL, of a mesh in eight units and poses",
    unit="mm",
    source=Source("the same front as an offset table", known="derived"),
    why="own choice: the goal of the front file",
)

GOAL_MM = 0.01
POSES = (
    {"unit": "in"},
    {"unit": "cm", "forward": "+x", "up": "+z"},
    {"unit": "m", "forward": "+z", "up": "+y"},
    {"unit": "m", "forward": "-z", "up": "+y", "ground": -0.21, "centre": 0.035},
    {"unit": "mm", "forward": "-y", "up": "+z", "ground": 250.0, "centre": -80.0},
    {"unit": "in", "forward": "+y", "up": "-z", "ground": 12.5},
    {"unit": "mm", "pitch_deg": 1.25},
    {"unit": "cm", "forward": "+z", "up": "-x", "ground": -3.0, "centre": 4.0, "pitch_deg": -0.8},
)


def numbers(value: object, path: str = "") -> dict[str, float]:
    """Every length of a document by its place."""
    if isinstance(value, dict):
        pairs = value.items()
    elif isinstance(value, list):
        pairs = enumerate(value)
    else:
        is_number = isinstance(value, float | int) and not isinstance(value, bool)
        return {path: float(value)} if is_number else {}
    pairs = [pair for pair in pairs if "BRRL" not in str(pair[0])]
    return {k: v for name, each in pairs for k, v in numbers(each, f"{path}/{name}").items()}


def lines_of(file) -> dict[str, float]:
    """Numbers of every station."""
    screening = fc.screen(fc.read_front(file))
    return numbers(screening.records())


@pytest.fixture(scope="module")
def of_the_table(tmp_path_factory) -> dict[str, float]:
    return lines_of(write_table(tmp_path_factory.mktemp("table") / "front.csv"))


@pytest.mark.parametrize("pose", POSES, ids=str)
def test_a_mesh_in_any_pose_is_its_table(pose, of_the_table, tmp_path) -> None:
    write_obj(tmp_path / "front.obj", **pose)
    file = front_file(tmp_path / "front.toml", "front.obj", pose_text(**pose))
    found = lines_of(file)
    assert found.keys() == of_the_table.keys()
    assert len(found) >= 20 * len(STATIONS)
    POSED.compare(list(of_the_table.values()), [found[k] for k in of_the_table], tolerance=GOAL_MM)


def test_a_wrong_pose_is_seen(of_the_table, tmp_path) -> None:
    """The comparison can fail: a ground 1 mm wrong is 1 mm in every height."""
    write_obj(tmp_path / "front.obj", ground=100.0)
    file = front_file(tmp_path / "front.toml", "front.obj", pose_text(ground=101.0))
    off = {k: v - of_the_table[k] for k, v in lines_of(file).items() if k.endswith("LBRL_z_mm")}
    assert set(map(round, off.values())) == {-1}


def test_a_table_through_a_front_file_counts_from_its_own_ground(of_the_table, tmp_path) -> None:
    write_table(tmp_path / "front.csv", unit="in")
    lowered = (tmp_path / "front.csv").read_text("utf-8").splitlines()
    rows = [line.split(",") for line in lowered[4:]]
    moved = [",".join([repr(float(y) + 2.0), repr(float(z) + 5.0), x]) for y, z, x in rows]
    (tmp_path / "front.csv").write_text("\n".join([*lowered[:4], *moved]) + "\n", "utf-8")
    text = 'unit = "in"\n[axes]\ncentre_y = 2.0\n[ground]\nheight = 5.0\n'
    assert lines_of(front_file(tmp_path / "front.toml", "front.csv", text)) == pytest.approx(
        of_the_table, abs=1e-6
    )


def test_a_comparison_of_two_poses_is_that_of_two_tables(tmp_path) -> None:
    poses = (
        {"unit": "in", "forward": "+y", "up": "+z", "ground": 3.0},
        {"unit": "m", "forward": "+z", "up": "+y", "centre": 0.05, "pitch_deg": 0.6},
    )
    files = {"toml": [], "csv": []}
    for name, nose, pose in zip("ab", (0.0, 35.0), poses, strict=True):
        write_obj(tmp_path / f"{name}.obj", nose=nose, **pose)
        files["toml"].append(
            front_file(tmp_path / f"{name}.toml", f"{name}.obj", pose_text(**pose))
        )
        files["csv"].append(write_table(tmp_path / f"{name}.csv", nose))
    documents = {}
    for kind, pair in files.items():
        done = CliRunner().invoke(main, ["compare", *map(str, pair), "--json", "-"])
        assert done.exit_code in (0, 1), done.output
        documents[kind] = json.loads(done.stdout)
    found, wanted = (numbers(documents[kind]["stations"]) for kind in ("toml", "csv"))
    assert len(wanted) > 100
    assert max(map(abs, wanted.values())) > 30.0
    assert found == pytest.approx(wanted, abs=GOAL_MM)
