"""Scans in any pose: what is found, what is refused, what is written. Shapes are closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from scan_maker import CHECK_FRONT, MadeScan, made_scan

import frontcheck as fc
from frontcheck import profile
from frontcheck.cli import main
from frontcheck.errors import InputError, OutputError
from frontcheck.outputs.scan_writing import scan_csv
from frontcheck.outputs.text.scan_text import scan_text
from frontcheck.outputs.text.terminal import Plain
from frontcheck.reading.scan import scan as scan_module

SMALL = {"spacing": 9.0, "ground_spacing": 24.0}


@pytest.fixture(scope="module")
def made() -> MadeScan:
    return made_scan(7, 2.0, **SMALL)


@pytest.fixture(scope="module")
def file(made, tmp_path_factory):
    return made.write_ply(tmp_path_factory.mktemp("scan") / "front.ply", faces=False)


@pytest.fixture(scope="module")
def scan(file):
    return fc.read_scan(file, unit="m", stations=[0, 300])


def moved(made: MadeScan, points: np.ndarray) -> MadeScan:
    return MadeScan(points, np.zeros((0, 3), np.int64), made.turn, made.shift)


def own(made: MadeScan) -> np.ndarray:
    """Points of a scan in the axes of the front."""
    return (made.points - made.shift) @ made.turn


def posed(made: MadeScan, points: np.ndarray) -> MadeScan:
    return moved(made, points @ made.turn.T + made.shift)


def test_the_pose_is_the_one_that_was_made(made, scan) -> None:
    # Accuracies of the contract: up 0.1 deg, yaw 0.05 deg, ground 1.5 mm.
    up, forward = np.array(scan.up), np.array(scan.forward)
    assert np.degrees(np.arccos(min(1.0, up @ made.turn[:, 2]))) <= 0.1
    assert np.degrees(np.arccos(min(1.0, forward @ -made.turn[:, 0]))) <= 0.1
    assert abs(made.shift @ up - scan.ground_mm) <= 1.5
    amid = made.turn @ [400.0, 0.0, 700.0] + made.shift
    assert abs(amid @ np.cross(up, np.negative(scan.forward)) - scan.centre_mm) <= 1.0
    assert scan.ground_sd_mm == pytest.approx(2.0, rel=0.1)
    assert scan.noise_mm == pytest.approx(2.0, rel=0.25)


def test_sections_lie_on_the_shape(scan) -> None:
    start = CHECK_FRONT.section(0)[:, 0].min()
    for section in scan.front.sections:
        true = CHECK_FRONT.section(section.y) - [start, 0.0]
        off = [np.hypot(*(true - p).T).min() for p in section.points]
        assert np.sqrt(np.mean(np.square(off))) < 2.0  # the noise of one point
        assert len(section.points) <= 120


def test_lines_are_those_of_the_shape(scan) -> None:
    found = profile.of(*scan.front.section(0).points.T[::-1])
    # Part 0 of the contract, in closed form; three times its accuracy for one station.
    assert found.UBRL.z == pytest.approx(571.322, abs=9.0)
    assert found.LBRL.z == pytest.approx(225.948, abs=12.0)
    assert found.BLERL.z == pytest.approx(805.593, abs=12.0)


def test_glass_scanned_in_part_forms_no_rear_line(scan) -> None:
    assert scan.glass_covered is None or scan.glass_covered < 0.5
    screening = fc.screen(scan.front)
    assert all(station.BRRL.x is None for station in screening.stations)


def test_glass_scanned_whole_is_kept() -> None:
    scan = fc.read_scan("geometries/plover-scan.ply", unit="m", stations=[0, 300])
    assert scan.glass_covered > 0.9
    plover = fc.read_front("geometries/plover.csv")
    for y in (0.0, 300.0):
        one, two = (fc.profile.of(*f.section(y).points.T[::-1]) for f in (scan.front, plover))
        assert one.UBRL.z == pytest.approx(two.UBRL.z, abs=8.0)
        assert one.bumper_lead == pytest.approx(two.bumper_lead, abs=8.0)


def test_the_same_points_give_the_same_bytes(file, scan) -> None:
    again = fc.read_scan(file, unit="m", stations=[0, 300])
    assert scan_csv(scan) == scan_csv(again)


def test_triangles_change_nothing(made, scan, tmp_path) -> None:
    path = made.write_ply(tmp_path / "front.ply", faces=True)
    with_faces = fc.read_scan(path, unit="m", stations=[0, 300])
    assert np.array_equal(with_faces.front.section(0).points, scan.front.section(0).points)


def test_table_says_how_sure_it_is(scan) -> None:
    text = scan_csv(scan).decode()
    assert "# error_length: 40 mm\n" in text
    assert "# scale_u: 0.5 %\n" in text
    assert f"# height_u: {round(scan.u_mm, 2):g} mm\n" in text
    assert fc.CAUTION in text
    rows = [line for line in text.splitlines() if line[0].isdigit()]
    assert len(rows) == sum(len(s.points) for s in scan.front.sections)


def test_table_reads_back(scan, tmp_path) -> None:
    path = tmp_path / "front.csv"
    path.write_bytes(scan_csv(scan))
    back = fc.read_front(path)
    assert back.survey == scan.front.survey
    assert (back.survey.error_length_mm, back.survey.scale_u_percent) == (40.0, 0.5)
    assert back.stations == scan.front.stations
    for one, two in zip(back.sections, scan.front.sections, strict=True):
        assert np.allclose(one.points, two.points, atol=0.006)
        assert np.allclose(one.height_u, scan.u_mm, atol=0.006)
    assert back.symmetric


def test_taped_length_fixes_the_scale(made, tmp_path) -> None:
    path = made.write_ply(tmp_path / "front.ply", faces=False)
    on = made.points[np.argsort(own(made)[:, 1])[[2000, -2000]]] / 1000.0
    apart = 1000.0 * float(np.linalg.norm(on[0] - on[1]))
    scan = fc.read_scan(path, unit="m", stations=[0], taped=(*on, 1.02 * apart))
    assert scan.scale == pytest.approx(1.02, abs=1e-6)
    assert scan.scale_u_percent < 0.5
    assert scan.front.section(0).z.max() > 0
    for taped, words in (
        ((*on, 2.0 * apart), "within 10 %"),
        ((on[0], on[0] + 0.01, 300.0), "500 mm or more"),
        ((on[0], on[0] + [0.0, 5.0, 0.0], 5000.0), "two points of the scan"),
    ):
        with pytest.raises(InputError, match=words):
            fc.read_scan(path, unit="m", stations=[0], taped=taped)


def refused(made: MadeScan, tmp_path, words: str, **options) -> None:
    path = made.write_ply(tmp_path / "bad.ply", faces=False)
    with pytest.raises(InputError, match=words):
        fc.read_scan(path, **{"unit": "m", "stations": [0], **options})


def test_what_is_no_front_is_refused(made, tmp_path) -> None:
    points = own(made)
    low = points[:, 2] < 60
    refused(posed(made, points[~low]), tmp_path, "no plane that everything stands on")
    patch = ~low | ((points[:, 0] < -500) & (np.abs(points[:, 1]) < 300))
    near = posed(made, np.concatenate([points[patch]] + [points[patch & low]] * 3))
    near.points[-1000:] += 1e-3
    refused(near, tmp_path, "found (ground of|no plane)")
    refused(posed(made, points[low]), tmp_path, "no plane|hang together")
    refused(posed(made, points[(points[:, 1] > -20) | low]), tmp_path, "mirror image|wide|leans")
    other = points[~low] + [0.0, 2600.0, 0.0]
    refused(posed(made, np.concatenate([points, other])), tmp_path, "second body")
    refused(posed(made, points * 5.0), tmp_path, "a body|second body|hang together|no plane")
    refused(moved(made, made.points[:100]), tmp_path, "100 points")
    refused(moved(made, np.zeros((6000, 3))), tmp_path, "1 point")
    refused(moved(made, made.points * np.nan), tmp_path, "0 points")
    flat = np.random.default_rng(0).uniform(-1000, 1000, (20_000, 3)) * [1, 1, 0]
    refused(moved(made, flat), tmp_path, "hang together")


def test_leaning_car_and_noise_are_refused(made, scan, tmp_path) -> None:
    assert not any("wider than need be" in note for note in scan.notes)
    points = own(made)
    low = points[:, 2] < 60
    c, s = np.cos(0.02), np.sin(0.02)
    leaning = points @ np.array([[1, 0, 0], [0, c, s], [0, -s, c]])
    refused(posed(made, np.where(low[:, None], points, leaning)), tmp_path, "leans by 1.1")
    told = "wider than need be"
    noisy = posed(made, points + np.random.default_rng(0).normal(scale=2.5, size=points.shape))
    path = noisy.write_ply(tmp_path / "noisy.ply")
    assert any(told in note for note in fc.read_scan(path, unit="m", stations=[0]).notes)
    loud = points + np.random.default_rng(0).normal(scale=9.0, size=points.shape)
    refused(posed(made, loud), tmp_path, "noise of|hang together")


def test_directions_stations_and_units(made, scan, file) -> None:
    for options, words in (
        ({"unit": None}, "without a unit"),
        ({"unit": "furlong"}, "unit"),
        ({"stations": [-100, 0]}, "folded onto one"),
        ({"stations": []}, "0 stations"),
        ({"stations": [float("nan")]}, "stations"),
        ({"stations": [3000]}, "no usable section"),
        ({"up": "q"}, "axis"),
    ):
        with pytest.raises(InputError, match=words):
            fc.read_scan(file, **{"unit": "m", "stations": [0], **options})
    nearest = int(np.argmax(np.abs(scan.forward)))
    sign = "+" if scan.forward[nearest] > 0 else "-"
    turned = {"+": "-", "-": "+"}[sign]
    about = fc.read_scan(file, unit="m", stations=[300], forward=turned + "xyz"[nearest], up="+y")
    assert np.allclose(about.forward, -np.array(scan.forward), atol=1e-3)


def test_regions_label_rows(file, tmp_path) -> None:
    table = tmp_path / "regions.csv"
    table.write_text("part,x_min,x_max,z_min,z_max\nbumper,-50,120,380,640\n")
    scan = fc.read_scan(file, unit="m", stations=[0], regions=table)
    section = scan.front.section(0)
    inside = (section.x < 120) & (section.z > 380) & (section.z < 640)
    assert [part == "bumper" for part in section.parts] == inside.tolist()
    for text, words in (
        ("", "empty"),
        ("part,x\n", "header"),
        ("part,x_min,x_max,z_min,z_max\nbumper,1,2,3\n", "row 2"),
        ("part,x_min,x_max,z_min,z_max\nbumper,5,2,3,4\n", "x_min below x_max"),
        ("part,x_min,x_max,z_min,z_max\nwheel,1,2,3,4\n", "wheel"),
    ):
        table.write_text(text)
        with pytest.raises(InputError, match=words):
            fc.read_scan(file, unit="m", stations=[0], regions=table)


def test_command_writes_table_and_picture_and_says_what_was_found(file, tmp_path) -> None:
    out = tmp_path / "front.csv"
    run = CliRunner().invoke(
        main, ["scan", str(file), "--unit", "m", "--stations", "0,300", "--out", str(out)]
    )
    assert run.exit_code == 0, run.output
    assert out.with_suffix(".png").stat().st_size > 10_000
    assert "noise of single points" in run.output
    assert fc.CAUTION in " ".join(run.output.split())
    for arguments in (["--unit", "m", "--out", str(tmp_path / "a.xyz")], ["--out", str(out)]):
        run = CliRunner().invoke(main, ["scan", str(file), *arguments])
        assert run.exit_code == 2
        assert "Traceback" not in run.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["front.csv", "front.png"]


@pytest.mark.parametrize("name", ["front.csv", "front.png"])
def test_a_users_file_stays_and_an_earlier_scan_is_replaced(scan, tmp_path, name) -> None:
    (tmp_path / name).write_bytes(b"mine")
    with pytest.raises(OutputError, match="scan did not make"):
        fc.write_scan(scan, tmp_path / "front.csv")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [(name, b"mine")]
    (tmp_path / name).unlink()
    first = [path.read_bytes() for path in fc.write_scan(scan, tmp_path / "front.csv")]
    again = [path.read_bytes() for path in fc.write_scan(scan, tmp_path / "front.csv")]
    assert first == again


def test_a_place_that_cannot_take_a_scan_is_refused_before_any_work(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(scan_module, "read_scan", lambda *_, **__: pytest.fail("it was read"))
    (tmp_path / "front.csv").write_text("mine")
    for out, words in (("front.csv", "scan did not make"), ("none/front.csv", "no folder")):
        run = CliRunner().invoke(main, ["scan", "front.ply", "--out", str(tmp_path / out)])
        assert (run.exit_code, run.stdout) == (2, "")
        assert words in run.stderr


def test_text_says_what_was_not_fixed(scan) -> None:
    assert "--taped" in scan_text(Plain(), scan, ())


def test_a_damaged_file_is_refused(file, tmp_path) -> None:
    content = file.read_bytes()
    path = tmp_path / "cut.ply"
    for data in (content[: len(content) // 2], b"", b"ply\nend_header\n", b"not a scan"):
        path.write_bytes(data)
        with pytest.raises(InputError):
            fc.read_scan(path, unit="m")
    with pytest.raises(InputError, match="suffix"):
        fc.read_scan("geometries/plover.csv", unit="m")


def test_a_mesh_in_another_pose_is_no_front_for_screen(made, tmp_path) -> None:
    path = made.write_ply(tmp_path / "front.ply")
    for pose in ({"up": "+y"}, {}):
        with pytest.raises(InputError, match="frontcheck scan"):
            fc.read_front(path, unit="m", **pose)
    described = fc.describe(path)  # no way to stand makes it even; its size tells the unit
    assert '\nunit = "m" ' in described
    assert '\nkind = "scan" ' in described


def test_a_front_on_its_side_is_no_half(tmp_path) -> None:
    """Its height, taken for the way across, begins at the centre plane as that of a half does."""
    flat = made_scan(7, posed=False, spikes=0.0, spacing=18.0, ground_spacing=48.0)
    x, y, z = flat.points.T
    lying = replace(flat, points=np.stack([x, z + 50.0, 1500.0 - y], axis=1))
    with pytest.raises(InputError, match=r"no usable section within .* centre.*frontcheck scan"):
        fc.read_front(lying.write_ply(tmp_path / "front.ply"), unit="m")


def test_bare_points_are_described_as_a_scan_and_read_so(file) -> None:
    with pytest.raises(InputError, match=r"no triangle.*frontcheck scan"):
        fc.read_front(file, unit="m")
    text = fc.describe(file)
    assert '\nkind = "scan" ' in text
    assert '\nunit = "m" ' in text
    assert "# Readable as it stands: " in text
    place = file.with_suffix(".toml")
    place.write_text(text, "utf-8")
    front = fc.read_front(place)
    assert (front.survey.error_length_mm, front.symmetric) == (40.0, True)
    assert len(front.stations) > 3
