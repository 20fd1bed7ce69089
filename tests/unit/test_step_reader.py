"""STEP and IGES models read: units, names, places, limits, and what is refused.

Models are written as text by tests/step_text.py and tests/iges_text.py; what they hold is known in
closed form. cascadio reads them, which shares nothing with what wrote them.
"""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from iges_text import iges_text
from step_text import StepText

from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.reading import step
from frontcheck.reading.named_parts import named_parts
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen

PER_MM = {"mm": 1.0, "cm": 0.1, "m": 1e-3, "in": 1 / 25.4, "ft": 1 / 304.8}
CENTRE, RADIUS = (400.0, 450.0), 350.0
HOOD = [(400.0, 800.0), (800.0, 870.0), (1200.0, 900.0)]
GLASS = np.array([[(1200.0, y, 900.0), (1700.0, y, 1200.0)] for y in (-800.0, 0.0, 800.0)])
HALF = 800.0


def front(unit="mm") -> StepText:
    """A round bumper, a flat bonnet and a windscreen, 1600 mm wide."""
    k = PER_MM.get(unit, 1.0)
    model = StepText(unit)
    round_face = model.cylinder(
        np.multiply(CENTRE, k), RADIUS * k, (math.pi / 2.0, 1.4 * math.pi), HALF * k
    )
    model.part("BUMPER_COVER", [round_face])
    pairs = zip(HOOD, HOOD[1:], strict=False)
    model.part("Hood outer", [model.plane(*np.multiply(pair, k), HALF * k) for pair in pairs])
    model.part("Windscreen_glass", [model.sheet(GLASS * k)])
    return model


@pytest.fixture
def path(tmp_path):
    return tmp_path / "front.step"


def said(front, words) -> bool:
    return any(words in note for note in front.reader_notes)


# --- what is read ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def in_mm(tmp_path_factory):
    path = front().save(tmp_path_factory.mktemp("step") / "front.stp")
    return read_front(path, pitch=200.0)


def test_a_model_is_cut_and_labelled(in_mm) -> None:
    assert in_mm.stations == tuple(np.arange(-800.0, 801.0, 200.0))
    for section in in_mm.sections:
        assert list(dict.fromkeys(section.parts)) == ["bumper", "bonnet", "windscreen"]
        x, z = section.points.T
        arc = np.array(section.parts) == "bumper"
        away = np.hypot(x[arc] - CENTRE[0], z[arc] - CENTRE[1]) - RADIUS
        # Corners lie on the cylinder, rounded to 0.001 mm of 32-bit numbers.
        assert np.abs(away).max() < 2e-3
        # Points between two parts go to bumper and windscreen: of the hood its bend is left.
        hood = np.array(section.parts) == "bonnet"
        np.testing.assert_allclose(section.points[hood], [HOOD[1]], atol=2e-3)
    assert said(in_mm, "Unit mm, as the file or the standard of its format fixes it.")
    assert said(in_mm, "aiming at 0.1 mm")


@pytest.mark.parametrize(("name", "angle", "sign"), [("UBRL", 20.0, 1.0), ("LBRL", 25.0, -1.0)])
def test_straight_edges_touch_the_cylinder_where_they_must(path, name, angle, sign) -> None:
    """Contact is where the normal is square to the edge: (xc - R cos A, zc +- R sin A).

    A facet within s of the round is 2 sqrt(2 R s) long, and the contact within half of that.
    """
    chord = 0.01
    read = read_front(front().save(path), pitch=400.0, chord=chord, angle=0.1)
    x = CENTRE[0] - RADIUS * math.cos(math.radians(angle))
    z = CENTRE[1] + sign * RADIUS * math.sin(math.radians(angle))
    half_facet = math.sqrt(2.0 * RADIUS * chord)
    for station in screen(read).stations:
        (line,) = (line for line in station.lines if line.name == name)
        assert math.hypot(line.x - x, line.z - z) <= half_facet
        assert abs(math.hypot(line.x - CENTRE[0], line.z - CENTRE[1]) - RADIUS) < 2e-3


@pytest.mark.parametrize("unit", ["cm", "m", "in", "ft"])
def test_the_unit_of_the_file_makes_no_difference(in_mm, path, unit) -> None:
    read = read_front(front(unit).save(path), pitch=200.0)
    assert read.stations == in_mm.stations
    for a, b in zip(read.sections, in_mm.sections, strict=True):
        assert a.parts == b.parts
        # 32-bit metres of the library, rounded to 0.001 mm: one step apart at most.
        np.testing.assert_allclose(a.points, b.points, rtol=0.0, atol=1.001e-3)
    if unit == "ft":
        assert said(read, "Lengths in units of 304.8 mm, turned into mm.")


def test_heights_of_the_ground_are_in_the_unit_of_the_file(path, in_mm) -> None:
    read = read_front(front("in").save(path), pitch=400.0, ground=-10.0)
    low = min(section.z.min() for section in read.sections)
    assert low == pytest.approx(min(s.z.min() for s in in_mm.sections) + 254.0, abs=0.01)


def test_a_unit_stated_must_be_the_file_s_own(path, in_mm) -> None:
    front().save(path)
    read = read_front(path, unit="mm", pitch=200.0)
    np.testing.assert_array_equal(read.sections[0].points, in_mm.sections[0].points)
    assert said(read, "Unit mm, as stated.")
    with pytest.raises(InputError, match="unit m stated for a model in mm; expected the unit"):
        read_front(path, unit="m")
    with pytest.raises(InputError, match=r"unit mm stated for a model in 304\.8 mm"):
        read_front(front("ft").save(path), unit="mm")


def test_a_model_without_a_unit_needs_one(path, in_mm) -> None:
    front(None).save(path)
    with pytest.raises(InputError, match=r"without a unit of length.*state the unit: mm, cm, m"):
        read_front(path)
    read = read_front(path, unit="mm", pitch=200.0)
    np.testing.assert_array_equal(read.sections[0].points, in_mm.sections[0].points)
    found = named_parts(path, "cm")  # the same numbers, called cm
    np.testing.assert_allclose(found.boxes[:, :, 1], [[-800.0, 800.0]] * 3, atol=1e-3)


def test_two_readings_are_the_same(path) -> None:
    front().save(path)
    a, b = (step.read_step(path) for _ in range(2))
    assert a.objects == b.objects
    assert a.points.tobytes() == b.points.tobytes()
    assert a.faces.tobytes() == b.faces.tobytes()


# --- names and places --------------------------------------------------------------------


def test_names_boxes_and_patterns(path) -> None:
    front().save(path)
    found = named_parts(path, parts={"wing": ["hood*"]}, exclude=["*glass"])
    assert found.unit == "mm"
    rows = {n: (b, p) for n, b, p in zip(found.names, found.boxes, found.parts, strict=True)}
    boxes = {
        "Hood outer": ([400.0, -800.0, 800.0], [1200.0, 800.0, 900.0], "wing"),
        "Windscreen_glass": ([1200.0, -800.0, 900.0], [1700.0, 800.0, 1200.0], "left out"),
    }
    for name, (low, high, part) in boxes.items():
        np.testing.assert_allclose(rows[name][0], [low, high], atol=1e-3)
        assert rows[name][1] == part
    assert rows["BUMPER_COVER"][1] == "bumper"
    read = read_front(path, pitch=400.0, parts={"wing": ["hood*"]}, exclude=["*glass"])
    assert set(read.sections[2].parts) == {"bumper", "wing"}
    with pytest.raises(InputError, match=r"'mirror\*'.*BUMPER_COVER, Hood outer, Windscreen_glass"):
        read_front(path, exclude=["mirror*"])


def test_boxes_are_those_of_trimesh(path, tmp_path) -> None:
    """Two boxes, made by trimesh and written as STEP faces, beside the same as GLB."""
    import trimesh

    model, scene = StepText(), trimesh.Scene()
    for name, middle in (("bumper_low", (100.0, 0.0, 400.0)), ("bonnet_high", (600.0, 0.0, 800.0))):
        box = trimesh.creation.box((300.0, 1500.0, 200.0))
        box.apply_translation(middle)
        (x0, _, z0), (x1, _, z1) = box.bounds
        ring = [(x0, z0), (x0, z1), (x1, z1), (x1, z0)]
        sides = [model.plane(a, b, 750.0) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
        model.part(name, sides)
        scene.add_geometry(box, node_name=name, geom_name=name)
    scene.export(tmp_path / "boxes.glb")
    options = {"forward": "-x", "up": "+z", "pitch": 300.0}
    ours = read_front(model.save(path), **options)
    theirs = read_front(tmp_path / "boxes.glb", unit="mm", **options)
    for a, b in zip(ours.sections, theirs.sections, strict=True):
        assert a.parts == b.parts
        np.testing.assert_allclose(a.points, b.points, rtol=0.0, atol=1e-3)
    bounds = {n: scene.geometry[n].bounds for n in scene.geometry}
    found = named_parts(path)
    for name, box in zip(found.names, found.boxes, strict=True):
        np.testing.assert_allclose(box, bounds[name], atol=1e-3)


def test_products_within_products_keep_their_places_and_names(path) -> None:
    model = StepText()
    face = model.part("skin", [model.plane((0.0, 300.0), (0.0, 500.0), 800.0)])
    bumper = model.assembly("Bumper assy", [(face, (0, 0, 0)), (face, (40, 0, 250))])
    hood = model.part("H\\X2\\00E4\\X0\\lfte", [model.plane((40, 750), (900, 900), 800.0)])
    model.assembly("FRONT END", [(bumper, (100, 0, 0)), (hood, (100, 0, 0))])
    found = named_parts(model.save(path), parts={"bonnet": ["Hälfte"]})
    assert all(name.startswith("FRONT END/") for name in found.names)
    low = found.boxes[:, 0]
    order = np.argsort(low[:, 2])
    np.testing.assert_allclose(low[order, 0], [100.0, 140.0, 140.0], atol=1e-3)
    np.testing.assert_allclose(low[order, 2], [300.0, 550.0, 750.0], atol=1e-3)
    assert found.parts[order[2]] == "bonnet"


def test_a_product_without_a_shape_is_told_of(path) -> None:
    text = front().text().replace("=PLANE(", "=PLAIN(")
    path.write_text(text)
    read = read_front(path, pitch=400.0)
    assert "Of Hood outer no shape could be read: it is missing here." in read.reader_cautions
    done = CliRunner().invoke(main, ["parts", str(path)])
    assert "Of Hood outer no shape could be read" in done.output


# --- IGES --------------------------------------------------------------------------------


def iges_front(unit="mm", **options) -> str:
    k = PER_MM[unit]
    line = [(0.0, 300.0), (0.0, 700.0), (900.0, 900.0), (1500.0, 1300.0)]
    across = (-800.0, 0.0, 800.0)
    pairs = zip(line, line[1:], strict=False)
    grids = [np.array([[(x * k, y * k, z * k) for y in across] for x, z in p]) for p in pairs]
    return iges_text(grids, unit, **options)


@pytest.mark.parametrize("unit", list(PER_MM))
def test_iges_in_any_unit(tmp_path, unit) -> None:
    path = tmp_path / "front.igs"
    path.write_text(iges_front(unit))
    read = read_front(path, pitch=400.0)
    for section in read.sections:
        points = [(0.0, 300.0), (0.0, 700.0), (900.0, 900.0), (1500.0, 1300.0)]
        np.testing.assert_allclose(section.points, points, atol=2e-3)
    assert named_parts(path).names == ("SHELL",)
    other = "mm" if unit != "mm" else "in"
    with pytest.raises(InputError, match=f"unit {other} stated for a model in"):
        read_front(path, unit=other)


def test_iges_in_a_unit_not_known(tmp_path) -> None:
    path = tmp_path / "front.igs"
    path.write_text(iges_front().replace("front,1.0,2,", "front,1.0,9,"))
    for unit in (None, "mm"):
        with pytest.raises(InputError, match="IGES file whose unit of length is not known"):
            read_front(path, unit=unit)


def test_iges_to_a_scale(tmp_path) -> None:
    path = tmp_path / "front.igs"
    path.write_text(iges_front(scale=0.5))
    with pytest.raises(InputError, match=r"drawn to the scale '0\.5'; expected the true size"):
        read_front(path)


def test_iges_that_is_none(tmp_path) -> None:
    path = tmp_path / "front.iges"
    path.write_text("solid front")
    with pytest.raises(InputError, match="without start and global section"):
        read_front(path)
    text = iges_front()
    path.write_text(text[: len(text) // 2])
    with pytest.raises(InputError, match=r"no surface or solid|damaged|broke off"):
        read_front(path)


# --- what is refused ---------------------------------------------------------------------


def test_damaged_and_empty(path) -> None:
    text = front().text()
    cases = {
        "": "an empty file",
        "solid front": "does not begin with ISO-10303-21",
        text[: len(text) // 2]: r"a damaged file \(Line \d+: Incorrect syntax",
        StepText().text(): "no surface or solid",
        text.replace("_FACE(", "_FAKE("): "no surface or solid",
    }
    for content, words in cases.items():
        path.write_text(content)
        with pytest.raises(InputError, match=words):
            read_front(path)


def test_products_that_hold_themselves(path) -> None:
    model = front()
    inner = model.part("skin", [model.plane((0.0, 300.0), (0.0, 500.0), 800.0)])
    a = model.assembly("A", [(inner, (0, 0, 0))])
    b = model.assembly("B", [(a, (0, 0, 0))])
    model.hold(a, b, model.base(), model.base())
    with pytest.raises(InputError, match=r"products within themselves: #\d+ > #\d+ > #\d+;"):
        read_front(model.save(path))


def test_products_that_grow_tenfold(path) -> None:
    model = StepText()
    held = model.part("skin", [model.plane((0.0, 300.0), (0.0, 500.0), 800.0)])
    for i in range(12):
        held = model.assembly(f"A{i}", [(held, (j, 0, 0)) for j in range(10)])
    started = time.monotonic()
    with pytest.raises(InputError, match="found more than 20000 products placed"):
        read_front(model.save(path))
    assert time.monotonic() - started < 10.0


def test_options_of_models_are_for_models(path, tmp_path) -> None:
    front().save(path)
    with pytest.raises(InputError, match=r"chord 0\.0; expected a number from 0\.001"):
        read_front(path, chord=0.0)
    mesh = tmp_path / "a.stl"
    mesh.write_text("solid\nendsolid\n")
    with pytest.raises(InputError, match="option angle for a mesh"):
        read_front(mesh, unit="mm", angle=0.5)


def test_the_command_parts_refuses_plainly(path, tmp_path) -> None:
    front().save(path)
    for args, words in (
        ([str(path), "--part", "hood"], "is not PART=NAME"),
        ([str(path), "--part", "hood=*"], "patterns for a part 'hood'"),
        ([str(path), "--exclude", "x"], "no name matches"),
        ([str(tmp_path / "none.step")], "no such file"),
        (["geometries/plover.csv"], "expected a mesh, model or drawing"),
    ):
        done = CliRunner().invoke(main, ["parts", *args])
        assert done.exit_code == 2
        assert words in done.output
        assert "Traceback" not in done.output


def test_missing_package_names_the_extra(path, tmp_path, monkeypatch) -> None:
    (tmp_path / "cascadio.py").write_text("raise ModuleNotFoundError('cascadio')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(InputError, match=r"pip install 'frontcheck\[step\]'"):
        read_front(front().save(path))


# --- limits ------------------------------------------------------------------------------


def slow_model(path) -> Path:
    """A surface so rough that its triangles take minutes."""
    model = StepText()
    height = np.random.default_rng(0).normal(scale=3.0, size=(100, 200))
    grid = [
        [(i * 10.0, j * 10.0, 1000.0 + h) for j, h in enumerate(r)] for i, r in enumerate(height)
    ]
    model.part("rough", [model.sheet(np.array(grid))])
    return model.save(path)


def children(pid) -> list[int]:
    """Processes that a process has started and that still run."""
    try:
        listed = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [int(one) for one in listed]


def test_time_is_limited_and_nothing_is_left(path, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(step, "TIME_S", 3)
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    slow_model(path)
    before = children(os.getpid())
    started = time.monotonic()
    with pytest.raises(InputError, match="not read within 3 s; expected the outer surfaces"):
        read_front(path)
    assert time.monotonic() - started < 15.0
    assert children(os.getpid()) == before
    assert list(temporary.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="the limit of memory is kept by the kernel")
def test_memory_is_limited(path, monkeypatch) -> None:
    model = StepText()
    model.part("x", [model.plane((i, 0.0), (i + 1.0, 0.0), 1.0) for i in range(4000)])
    monkeypatch.setattr(step, "MEMORY_BYTES", 400_000_000)
    monkeypatch.setattr(step, "TIME_S", 60)
    with pytest.raises(InputError, match=r"broke off.* at most 0\.4 GB of memory|within 60 s"):
        read_front(model.save(path))


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_the_reader_dies_with_who_asked(path, end) -> None:
    slow_model(path)
    code = f"import frontcheck; frontcheck.read_front({str(path)!r})"
    asked = subprocess.Popen([sys.executable, "-c", code], stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 30.0
        while not (readers := children(asked.pid)) and time.monotonic() < until:
            time.sleep(0.05)
        assert len(readers) == 1
        time.sleep(2.0)  # well into its work
        assert children(asked.pid) == readers
        asked.send_signal(end)
        asked.wait(10.0)
        until = time.monotonic() + 5.0
        while alive(readers[0]) and time.monotonic() < until:
            time.sleep(0.05)
        assert not alive(readers[0])
    finally:
        asked.kill()
        asked.wait()


def alive(pid) -> bool:
    """Whether a process runs: one that has ended and was not asked for is not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False
