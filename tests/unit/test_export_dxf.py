"""The DXF of lines and zones, read back with ezdxf, and the rows of the table."""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
import time
from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from frontcheck.caution import CAUTION
from frontcheck.errors import InputError, OutputError
from frontcheck.front.front import Front
from frontcheck.outputs.documents.exports import csv_bytes
from frontcheck.outputs.documents.exports_dxf import LINES_HEADER, dxf_bytes, lines_rows, write_dxf
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.zones.build import zones_of


@pytest.fixture(scope="module")
def zones(geometries):
    return zones_of(screen(read_front(geometries / "plover.csv")))


def reread(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def runs_on(doc, layer: str) -> list[np.ndarray]:
    return [
        np.array([v.dxf.location.xyz for v in line.vertices])
        for line in doc.modelspace().query(f'POLYLINE[layer=="{layer}"]')
    ]


def test_every_line_comes_back_within_a_nanometre_part(zones) -> None:
    """Own choice: a coordinate in a file is good to 1e-9 mm."""
    doc = reread(dxf_bytes(zones))
    assert doc.dxfversion == "AC1024"  # R2010, DXF reference
    assert doc.header["$INSUNITS"] == 4  # millimetres, DXF reference
    for line in zones.lines:
        found, expected = runs_on(doc, line.name), list(line.runs)
        if line.status == "open_end":
            # Cut where the open end begins; its stretches lie on a layer of their own.
            found += runs_on(doc, f"{line.name} OPEN END")
            points = {tuple(p) for run in found for p in run.round(9).tolist()}
            assert points == {tuple(p) for run in expected for p in run.round(9).tolist()}
            assert len(found) > len(expected)
            continue
        assert len(found) == len(expected) >= 1
        for a, b in zip(found, expected, strict=True):
            assert a.shape == b.shape
            assert np.abs(a - b).max() <= 1e-9
    for name, area in (("CHILD", zones.child_area), ("ADULT", zones.adult_area)):
        # The sides beyond the outermost stations are not known, and the layer says so.
        assert area.status == "open_end"
        found = runs_on(doc, f"{name} HEADFORM AREA OPEN END")
        assert len(found) == len(area.outlines) == 1
        assert np.abs(found[0] - np.array(area.outlines[0].points)).max() <= 1e-9
        assert all(p.is_closed for p in doc.modelspace().query(f'POLYLINE[layer=="{name} *"]'))
    points = [
        p.dxf.location.xyz for p in doc.modelspace().query('POINT[layer=="REAR CORNERS OPEN END"]')
    ]
    assert np.abs(np.subtract(points, [zones.rear_corners.left.point,
                                       zones.rear_corners.right.point])).max() <= 1e-9  # fmt: skip


def test_one_layer_a_line_and_none_besides(zones) -> None:
    doc = reread(dxf_bytes(zones))
    used = {entity.dxf.layer for entity in doc.modelspace()}
    assert {line.name for line in zones.lines} <= used
    assert used == {layer.dxf.name for layer in doc.layers} - {"0", "Defpoints"}
    assert len(doc.audit().errors) == 0


def test_drawing_carries_the_caution(zones) -> None:
    doc = reread(dxf_bytes(zones))
    text = doc.modelspace().query('MTEXT[layer=="CAUTION"]').first.text
    assert text.startswith(CAUTION)
    assert doc.header.custom_vars.get("Caution") == CAUTION


def test_drawing_names_what_is_missing(geometries) -> None:
    front = read_front(geometries / "plover.csv")
    local = zones_of(screen(replace(front, datum="local")))
    doc = reread(dxf_bytes(local))
    text = doc.modelspace().query("MTEXT").first.text
    assert "Not formed: SRL (" in text
    assert "Not formed: CHILD HEADFORM AREA (" in text
    assert "SRL" not in doc.layers


def test_same_bytes_in_another_process_and_at_another_time(zones, geometries) -> None:
    once = dxf_bytes(zones)
    time.sleep(1.1)
    assert dxf_bytes(zones) == once
    code = (
        "import sys, hashlib\n"
        "from frontcheck.reading.readers import read_front\n"
        "from frontcheck.screening import screen\n"
        "from frontcheck.zones.build import zones_of\n"
        "from frontcheck.outputs.documents.exports_dxf import dxf_bytes\n"
        "data = dxf_bytes(zones_of(screen(read_front(sys.argv[1]))))\n"
        "sys.stdout.write(hashlib.sha256(data).hexdigest())\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, geometries / "plover.csv"],
        capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": "77", "PATH": ""},
        cwd=geometries.parent,
    )  # fmt: skip
    assert run.stdout == hashlib.sha256(once).hexdigest()


def test_nothing_is_written_in_the_order_of_a_set(zones) -> None:
    """Python's order of a set of texts changes from run to run; here the library has one."""
    names = [tags.dxf.name for tags in reread(dxf_bytes(zones)).classes]
    assert len(names) > 5
    assert names == sorted(names)


def test_options_of_the_library_are_left_as_they_were(zones) -> None:
    assert ezdxf.options.write_fixed_meta_data_for_testing is False
    dxf_bytes(zones)
    assert ezdxf.options.write_fixed_meta_data_for_testing is False


def test_file_is_written_whole_or_not_at_all(zones, tmp_path) -> None:
    path = write_dxf(zones, tmp_path / "lines.dxf")
    assert path.read_bytes() == dxf_bytes(zones)
    assert [p.name for p in tmp_path.iterdir()] == ["lines.dxf"]
    with pytest.raises(OutputError, match="nowhere"):
        write_dxf(zones, tmp_path / "nowhere" / "lines.dxf")


def test_rows_of_the_table(zones, geometries) -> None:
    rows = lines_rows(zones)
    assert all(len(row) == len(LINES_HEADER) for row in rows)
    by_line = {line.name: [row for row in rows if row[0] == line.name] for line in zones.lines}
    for line in zones.lines:
        own = by_line[line.name]
        assert np.array_equal(np.array([row[3:6] for row in own], dtype=float), line.points)
        assert [row[2] for row in own] == list(range(1, len(line.points) + 1))
        assert {row[1] for row in own} <= {"left", "right", "centre"}
        assert [row[7] for row in own] == list(line.point_status)
    assert csv_bytes(LINES_HEADER, rows).startswith(
        b"line,side,point,x_mm,y_mm,z_mm,wad_mm,status,caution\n"
    )
    front = read_front(geometries / "plover.csv")
    alone = zones_of(screen(Front(front.sections[:1])))
    assert [row[1:] for row in lines_rows(alone)] == [[None] * 6 + ["not_available"]] * len(
        alone.lines
    )


def test_without_the_drawing_package_the_way_to_get_it_is_said(zones, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(InputError, match=r"pip install 'frontcheck\[cad\]'"):
        dxf_bytes(zones)
