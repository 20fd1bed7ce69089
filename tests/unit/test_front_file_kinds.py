"""Front files of every kind of shape: models, spreadsheets, several meshes, parts, noise."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from front_files import SECTION, front_file, write_obj, write_table
from spreadsheets import workbook
from step_text import StepText

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front


def objects(path: Path, spans: dict[str, tuple[int, int]], half: float = 700.0) -> Path:
    """A front of parallel sections as named objects, each from one corner of SECTION to another."""
    lines, count = [], 0
    for name, (first, last) in spans.items():
        lines.append(f"o {name}")
        for x, z in SECTION[first : last + 1].tolist():
            lines += [f"v {x} {-half} {z}", f"v {x} {half} {z}"]
        for i in range(last - first):
            a = count + 2 * i + 1
            lines.append(f"f {a} {a + 1} {a + 3} {a + 2}")
        count += 2 * (last - first + 1)
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


@pytest.fixture
def named(tmp_path) -> Path:
    return objects(
        tmp_path / "a.obj", {"Skin low": (0, 3), "Skin high": (3, 5), "Lid": (5, 7), "Pane": (7, 9)}
    )


def parts_at(front: fc.Front, heights) -> list[str]:
    section = front.section(0.0)
    return [section.parts[int(np.argmin(abs(section.z - z)))] for z in heights]


def test_patterns_name_parts(named) -> None:
    text = 'unit="mm"\n[cut]\nstations=[-100, 0, 100]\n[parts]\n'
    text += 'bumper=["skin*"]\nbonnet=["Lid"]\nwindscreen=["PANE"]\n'
    front = read_front(front_file(named.with_name("f.toml"), "a.obj", text))
    assert parts_at(front, (300, 640, 838, 1290)) == ["bumper", "bumper", "bonnet", "windscreen"]
    assert fc.screen(front).front.windscreen.basis == "labels"


def test_a_pattern_of_nothing_names_what_there_is(named) -> None:
    for key in ("bumper", "exclude", "include"):
        text = f'unit="mm"\n[parts]\n{key}=["bumpr*"]\n'
        with pytest.raises(InputError, match=r"'bumpr\*'.*Skin low, Skin high, Lid, Pane"):
            read_front(front_file(named.with_name("f.toml"), "a.obj", text))


def test_excluded_names_are_left_out(named) -> None:
    text = 'unit="mm"\n[cut]\nstations=[0]\n[parts]\nexclude=["Pane"]\n'
    front = read_front(front_file(named.with_name("f.toml"), "a.obj", text))
    assert front.section(0.0).z.max() == 905.0
    assert any(note.startswith("Left out by name") for note in front.reader_notes)


def test_several_meshes_are_one_front(tmp_path) -> None:
    objects(tmp_path / "all.obj", {"all": (0, 9)})
    objects(tmp_path / "bumper.obj", {"": (0, 4)})
    objects(tmp_path / "lid.obj", {"lid": (4, 7), "pane": (7, 9)})
    text = 'files=["bumper.obj", "lid.obj"]\nunit="mm"\n[cut]\nstations=[0, 100]\n[parts]\n'
    (tmp_path / "f.toml").write_text(text + 'windscreen=["lid/pane"]\n', "utf-8")
    front = read_front(tmp_path / "f.toml")
    whole = read_front(tmp_path / "all.obj", unit="mm", pitch=100.0)
    np.testing.assert_array_equal(front.section(100.0).points, whole.section(100.0).points)
    assert parts_at(front, (300, 1290)) == ["bumper", "windscreen"]
    digests = {each.file: each.sha256 for each in front.source.files}
    for name in ("bumper.obj", "lid.obj"):
        assert digests[name] == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()


def test_several_tables_are_refused(tmp_path) -> None:
    write_table(tmp_path / "a.csv")
    (tmp_path / "f.toml").write_text('files=["a.csv", "a.csv"]\n', "utf-8")
    with pytest.raises(InputError, match="2 files of kind table; expected one file"):
        read_front(tmp_path / "f.toml")
    write_obj(tmp_path / "a.obj")
    (tmp_path / "f.toml").write_text('files=["a.obj", "a.csv"]\n', "utf-8")
    with pytest.raises(InputError, match="files of one kind"):
        read_front(tmp_path / "f.toml")


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("kind", ["step", "mesh"])
def test_a_model_states_its_unit(tmp_path, unit, kind) -> None:
    pytest.importorskip("cascadio")
    k = 1.0 if unit == "mm" else 25.4
    made, corners = StepText(unit), (SECTION / k).tolist()
    faces = [made.plane(a, b, 700.0 / k) for a, b in zip(corners, corners[1:], strict=False)]
    made.part("skin", faces)
    (tmp_path / "a.step").write_text(made.text(), "utf-8")
    text = f'kind="{kind}"\nunit="{unit}"\n[axes]\nforward="-x"\nup="+z"\n[ground]\n'
    text += f"height={-10 / k}\n[cut]\nstations=[0, 300]\n"
    front = read_front(front_file(tmp_path / "f.toml", "a.step", text))
    for y in (0.0, 300.0):
        np.testing.assert_allclose(front.section(y).points, SECTION + np.array([0, 10]), atol=0.01)
    other = {"mm": "in", "in": "mm"}[unit]
    with pytest.raises(InputError, match=other):
        read_front(front_file(tmp_path / "f.toml", "a.step", f'unit="{other}"\n'))
    described = fc.describe(tmp_path / "a.step")
    assert f'unit = "{unit}"' in described
    assert "Readable as it stands" in described


def test_the_sheet_of_a_spreadsheet_is_named(tmp_path) -> None:
    def sheet(z):
        rows = [[0, z + 10 * i, 5 * i * i - 40 * i] for i in range(10)]
        return [["# datum: common"], ["station_mm", "height_mm", "setback_mm"], *rows]

    content = workbook(sheet(300), sheet(400))
    (tmp_path / "a.xlsx").write_bytes(content)
    file = front_file(tmp_path / "f.toml", "a.xlsx", 'sheet = "second"\n')
    assert read_front(file).section(0.0).z.min() == 400.0
    with pytest.raises(InputError, match=r"measured.*second"):
        read_front(front_file(file, "a.xlsx"))
    write_table(tmp_path / "a.csv")
    with pytest.raises(InputError, match="sheet for a shape"):
        read_front(front_file(file, "a.csv", 'sheet = "second"\n'))


def test_errors_alike_and_an_unsure_scale_reach_the_draws(tmp_path) -> None:
    write_obj(tmp_path / "a.obj")
    text = 'unit="mm"\n[cut]\nstations=[-100, 0, 100]\n[noise]\nheight_u=2\nsetback_u=1.5\n'
    alone = read_front(front_file(tmp_path / "f.toml", "a.obj", text))
    text += "error_length=40\nscale_u=0.5\n"
    front = read_front(front_file(tmp_path / "f.toml", "a.obj", text))
    assert fc.Uncertainty.of(alone).error_length_mm == 0.0
    settings = fc.Uncertainty.of(front)
    assert (settings.error_length_mm, settings.scale_u_percent) == (40.0, 0.5)
    # A scale 0.5 % unsure moves a leading edge 740 mm up by 3.7 mm: more than its rows do.
    spreads = []
    for each in (front, alone):
        made = fc.tolerance(each, "UN-R127-02", settings=fc.Uncertainty.of(each), draws=200)
        lines = {line.name: line for line in made.station(0.0).lines}
        spreads.append(lines["BLERL"].z.sd)
    assert spreads[0] > 3.0 > spreads[1]


def test_names_are_listed_as_the_front_file_counts_them(named, tmp_path) -> None:
    objects(tmp_path / "b.obj", {"bracket": (0, 1)})
    text = 'files=["a.obj", "b.obj"]\nunit="mm"\n[parts]\nbumper=["skin*"]\nexclude=["bracket"]\n'
    (tmp_path / "f.toml").write_text(text, "utf-8")
    done = CliRunner().invoke(main, ["parts", str(tmp_path / "f.toml")])
    assert done.exit_code == 0, done.stderr
    rows = {
        line.split("  ")[0]: line.split()[-1] for line in done.stdout.splitlines() if "/" in line
    }
    assert rows["a/Skin low"] == rows["a/Skin high"] == "bumper"
    assert rows["b/bracket"] == "out"
    twice = CliRunner().invoke(main, ["parts", str(tmp_path / "f.toml"), "--exclude", "Lid"])
    assert twice.exit_code == 2
    assert "option exclude with a front file" in twice.stderr


def test_the_example_is_plover(geometries) -> None:
    """The mesh was made from the table's sections: at its stations both have the same lines."""
    front = read_front(geometries / "plover.toml")
    table = read_front(geometries / "plover.csv")
    assert (front.name, front.stations, front.symmetric) == (table.name, table.stations, True)
    files = ["plover.toml", "plover.stl", "plover-hard-points.csv"]
    result = fc.screen(front)
    assert [each["file"] for each in result.to_dict()["input"]["files"]] == files
    # Without labels the windscreen is where the front file says; the mesh has 32-bit numbers.
    plain = fc.screen(table)
    for one, two in zip(result.stations, plain.stations, strict=True):
        assert one.LBRL.z == pytest.approx(two.LBRL.z, abs=0.01)
        assert one.BLERL.x == pytest.approx(two.BLERL.x, abs=0.01)
        assert one.wad(1000.0).x == pytest.approx(two.wad(1000.0).x, abs=0.01)
    assert len(result.finding_settings.hard_points) == 5
    assert result.front.row_u_mm == 2.0


def test_a_scan_finds_its_own_ground_and_noise(geometries, tmp_path) -> None:
    (tmp_path / "a.ply").write_bytes((geometries / "plover-scan.ply").read_bytes())
    text = 'kind="scan"\nunit="m"\n[ground]\nauto=true\n[cut]\nstations=[0, 300]\n'
    front = read_front(front_file(tmp_path / "f.toml", "a.ply", text))
    assert (front.stations, front.symmetric) == ((0.0, 300.0), True)
    settings = fc.Uncertainty.of(front)
    assert settings.error_length_mm > 0.0 < settings.scale_u_percent
    for key in ("[ground]\nheight=1", "[axes]\ncentre_y=1", "[cut]\npitch=50", "[cut]\ngap=5"):
        with pytest.raises(InputError, match="for a shape of kind scan"):
            read_front(front_file(tmp_path / "f.toml", "a.ply", f'kind="scan"\nunit="m"\n{key}\n'))
