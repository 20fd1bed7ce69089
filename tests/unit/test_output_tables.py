"""Files of tables: each cell in its column, what is refused and what is written over.

What the columns hold is worked out by hand from small stand-ins; lengths in mm. Own choice.
"""

from __future__ import annotations

import csv
import errno
import io
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace as Part

import ezdxf
import numpy as np
import pytest

import frontcheck as fc
from frontcheck.caution import CAUTION
from frontcheck.errors import InputError, OutputError
from frontcheck.front.front import Front
from frontcheck.outputs import writing
from frontcheck.outputs.documents import exports, exports_dxf, offset_table, result_files
from frontcheck.outputs.documents.folder import LIST, write_beside, write_folder
from frontcheck.sure.spacing import LineGap, SpacingReport
from frontcheck.sure.tolerance_result import MeasureAgain
from frontcheck.surface.section import Section


def read(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode())))


# --- comma-separated values ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (True, "yes"), (False, "no"), (None, ""), (0.0, "0.0"), (-1.5, "-1.5"), ("plain", "plain"),
        ("=1+1", "'=1+1"), ("+1", "'+1"), ("-x", "'-x"), ("@a", "'@a"), ("\tx", "'\tx"),
        ("a=1", "a=1"), ("", ""),
    ],
)  # fmt: skip
def test_a_cell_stays_what_it_is(value, cell) -> None:
    """A text that a spreadsheet would take for a formula is given an apostrophe; numbers never."""
    (row,) = read(exports.csv_bytes(["x"], [[value]]))
    assert row == {"x": cell, "caution": CAUTION}


def test_the_caution_stands_in_every_row_or_below_the_heads() -> None:
    drawn, plain = Part(drawn="A sketch."), Part(drawn="")
    rows = read(exports.csv_bytes(["x"], [[1], [2]], plain, drawn, drawn))
    assert [row["caution"] for row in rows] == [f"{CAUTION} A sketch. A sketch."] * 2
    empty = exports.csv_bytes(["x", "y"], [], plain).decode()
    assert empty == f"x,y,caution\n# caution: {CAUTION}\n"


def test_what_to_measure_again_has_points_counted_from_one() -> None:
    again = (
        MeasureAgain(-9.0, "height", 3, 12, "UBRL_z_mm", 2.25),
        MeasureAgain(0.0, "pitch", None, None, "BRRL_x_mm", 1.0),
    )
    drawn = Part(measure_again=lambda count: again[:count], front=Part(drawn=""))
    one, two = read(result_files._measure_again_csv(drawn))
    one.pop("caution")
    assert one == {
        "no": "1", "y_mm": "-9.0", "error": "height", "source_row": "12", "point": "4",
        "quantity": "UBRL_z_mm", "part_mm": "2.25",
    }  # fmt: skip
    assert (two["no"], two["point"], two["source_row"], two["error"]) == ("2", "", "", "pitch")


def test_gaps_say_where_a_line_could_lie() -> None:
    gap = LineGap(-9.0, "UBRL", 10.0, 500.0, 8.0, 13.0, 495.0, 530.0, 20.0,
                  ((505.0, 1.0), (512.5, 2.0)))  # fmt: skip
    (row,) = read(result_files._spacing_csv(SpacingReport((gap,), ())))
    row.pop("caution")
    assert row == {
        "y_mm": "-9.0", "line": "UBRL", "x_mm": "10.0", "z_mm": "500.0", "x_low_mm": "8.0",
        "x_high_mm": "13.0", "z_low_mm": "495.0", "z_high_mm": "530.0", "move_mm": "30.0",
        "limit_mm": "20.0", "close_enough": "no", "add_heights_mm": "505 512.5",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("y", "stem"),
    [
        (0.0, "side-y0000"), (-0.0, "side-y0000"), (300.0, "side-y0300"), (-300.0, "side-ym0300"),
        (1234.0, "side-y1234"), (-120.5, "side-ym0120p5"), (0.25, "side-y0000p25"),
    ],
)  # fmt: skip
def test_a_station_has_a_file_name_of_its_own(y, stem) -> None:
    assert result_files.station_stem(y) == stem


# --- lines across a front ------------------------------------------------------------------


def zone_lines(**more: object) -> Part:
    held = {
        "name": "UBRL", "formed": True, "status": "ok", "reason": "",
        "points": np.array([[5.0, -9.0, 500.0], [0.0, 0.0, 510.0], [4.0, 9.0, 520.0]]),
        "wad": (None, 600.5, 610.0), "point_status": ("open_end", "ok", "edge_end"),
        "pieces": (Part(start=0, stop=3),),
    }  # fmt: skip
    return Part(**(held | more))


def test_points_of_lines_have_side_number_and_axes() -> None:
    """Left is y below 0; a line that is not formed has one row with its status."""
    gone = zone_lines(
        name="BRRL", formed=False, status="not_available", points=np.zeros((0, 3)), wad=(),
        point_status=(),
    )  # fmt: skip
    rows = exports_dxf.lines_rows(Part(lines=(zone_lines(), gone)))
    table = [dict(zip(exports_dxf.LINES_HEADER, row, strict=True)) for row in rows]
    assert [row["side"] for row in table] == ["left", "centre", "right", None]
    assert [row["point"] for row in table] == [1, 2, 3, None]
    assert [(row["x_mm"], row["y_mm"], row["z_mm"]) for row in table[:2]] == [
        (5.0, -9.0, 500.0), (0.0, 0.0, 510.0),
    ]  # fmt: skip
    assert [row["wad_mm"] for row in table] == [None, 600.5, 610.0, None]
    assert [row["status"] for row in table] == ["open_end", "ok", "edge_end", "not_available"]
    assert table[3]["line"] == "BRRL"


OPEN, OK = "open_end", "ok"


@pytest.mark.parametrize(
    ("status", "runs"),
    [
        ((OK, OK, OK, OK), [("UBRL", 0, 4)]),
        ((OPEN, OPEN, OPEN, OPEN), [("UBRL OPEN END", 0, 4)]),
        ((OPEN, OK, OK, OK), [("UBRL OPEN END", 0, 2), ("UBRL", 1, 4)]),
        ((OK, OK, OK, OPEN), [("UBRL", 0, 3), ("UBRL OPEN END", 2, 4)]),
        ((OK, OK, OPEN, OK), [("UBRL", 0, 2), ("UBRL OPEN END", 1, 4)]),
        ((OPEN, OK, OK, OPEN),
         [("UBRL OPEN END", 0, 2), ("UBRL", 1, 3), ("UBRL OPEN END", 2, 4)]),
        ((OPEN,), [("UBRL OPEN END", 0, 1)]),
        ((OK,), [("UBRL", 0, 1)]),
    ],
)  # fmt: skip
def test_a_line_is_cut_where_an_open_end_begins(status, runs) -> None:
    """Every stretch with an open end at either side lies apart; none is lost or drawn twice."""
    points = np.arange(3.0 * len(status)).reshape(-1, 3)
    line = zone_lines(points=points, point_status=status, pieces=(Part(start=0, stop=len(status)),))
    found = [(layer, run.tolist()) for layer, run in exports_dxf._by_layer(line)]
    assert found == [(layer, points[a:b].tolist()) for layer, a, b in runs]


def test_pieces_of_a_line_stay_apart() -> None:
    points = np.arange(15.0).reshape(-1, 3)
    pieces = (Part(start=0, stop=2), Part(start=2, stop=5))
    line = zone_lines(points=points, point_status=(OK, OK, OPEN, OK, OK), pieces=pieces)
    found = [(layer, run.tolist()) for layer, run in exports_dxf._by_layer(line)]
    assert found == [
        ("UBRL", points[:2].tolist()), ("UBRL OPEN END", points[2:4].tolist()),
        ("UBRL", points[3:].tolist()),
    ]  # fmt: skip


def area(**more: object) -> Part:
    return Part(**({"formed": True, "status": "ok", "reason": "", "outlines": ()} | more))


ALONE = "bounded by wrap-around distance (WAD) alone, for want of the lines"
SIDE = "open end: what lies beyond the measured surface could change it"


def test_the_drawing_says_what_is_not_known_and_why() -> None:
    zones = Part(
        lines=(
            zone_lines(name="BRRL", formed=False, status="not_available", reason="no {g}\\x\ny"),
            zone_lines(name="SRL", status="open_end", reason=""),
        ),
        child_area=area(status="wad_only", reason="no BRRL"),
        adult_area=area(formed=False, status="not_available", reason="no SRL"),
        bumper_test_area=area(status="open_end", reason="the side is open"),
    )  # fmt: skip
    assert exports_dxf._not_known(zones) == [
        "Not formed: BRRL (no (g)/x y)",
        "Not formed: ADULT HEADFORM AREA (no SRL)",
        f"SRL: {SIDE}",
        f"CHILD HEADFORM AREA: {ALONE} (no BRRL)",
        f"BUMPER TEST AREA: {SIDE} (the side is open)",
    ]


def test_a_single_point_is_a_point_and_more_are_a_polyline() -> None:
    space = ezdxf.new().modelspace()
    exports_dxf._add_run(space, [(1.0, 2.0, 3.0)], "ONE")
    exports_dxf._add_run(space, [(1.0, 2.0, 3.0), (4.0, 5.0, 6.0)], "TWO")
    assert [(each.dxftype(), each.dxf.layer) for each in space] == [
        ("POINT", "ONE"), ("POLYLINE", "TWO"),
    ]  # fmt: skip


# --- offset tables -------------------------------------------------------------------------

POINTS = [(30.0, 100.0), (0.0, 300.25), (1.125, 500.0)]


def sketch(**more: object) -> Section:
    return Section(np.array(POINTS), more.pop("y", -9.0), **more)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (-0.0, "0"), (1.125, "1.1250"), (1.12, "1.12"), (1234.5, "1234.5"), (1e-7,
     "0.0000001"), (-1.5, "-1.5"), (100.1234, "100.1234")],
)  # fmt: skip
def test_digits_are_never_three_behind_the_point(value, text) -> None:
    assert offset_table._digits(value) == text


def rows_of(*sections: Section) -> tuple[list[str], list[list[str]]]:
    data = offset_table.offset_table(Front(sections, name="Sketch"), "a test").decode()
    lines = [line for line in data.splitlines() if not line.startswith("#")]
    return [line for line in data.splitlines() if line.startswith("#")], [
        line.split(",") for line in lines
    ]


def test_uncertainties_alike_stand_on_top_and_others_in_columns() -> None:
    top, rows = rows_of(sketch(height_u=np.full(3, 2.0), setback_u=np.array([1.0, 2.0, 3.0])))
    assert "# height_u: 2 mm" in top
    assert not any(line.startswith("# setback_u") for line in top)
    assert rows == [
        ["station_mm", "height_mm", "setback_mm", "part", "setback_u_mm"],
        ["-9", "100", "30", "-", "1"], ["-9", "300.25", "0", "-", "2"],
        ["-9", "500", "1.1250", "-", "3"],
    ]  # fmt: skip


def test_a_station_that_states_none_leaves_it_out_of_the_table() -> None:
    top, rows = rows_of(sketch(height_u=np.full(3, 2.0)), sketch(y=0.0))
    assert not any("height_u" in line for line in top)
    assert rows[0] == ["station_mm", "height_mm", "setback_mm", "part"]


def test_points_proposed_are_marked_among_those_measured() -> None:
    _, rows = rows_of(sketch(proposed=np.array([False, True, False])), sketch(y=0.0))
    assert [row[-1] for row in rows] == [
        "origin", "measured", "proposed", "measured", "measured", "measured", "measured",
    ]  # fmt: skip


@pytest.mark.parametrize("symmetric", [True, False])
def test_the_top_says_what_the_front_is(symmetric) -> None:
    front = Front((sketch(y=0.0), sketch(y=9.0)), name="A, B", symmetric=symmetric)
    text = offset_table.offset_table(front, "a test").decode()
    assert f"# symmetric: {'yes' if symmetric else 'no'}\n" in text
    assert "# silhouette" not in text
    assert "# ground_slope_deg" not in text
    leant = replace(front, ground_slope_deg=-0.5)
    assert "# ground_slope_deg: -0.5\n" in offset_table.offset_table(leant, "a test").decode()


def table(path: Path, made_by: str = "scan", *beside: bytes) -> bytes:
    data = offset_table.offset_table(Front((sketch(),)), made_by, beside)
    path.write_bytes(data)
    return data


def test_only_what_the_same_maker_left_is_written_over(tmp_path) -> None:
    target, picture = tmp_path / "front.csv", tmp_path / "front.png"

    def placed(made_by: str = "scan", beside=(".png",)) -> tuple[Path, ...]:
        return offset_table.table_place(target, made_by, beside)

    assert placed() == (target, picture)
    data = table(target, "scan", b"picture")
    assert placed() == (target, picture)
    picture.write_bytes(b"picture")
    assert placed() == (target, picture)
    with pytest.raises(OutputError, match="there is a file of this name or of what goes beside"):
        placed("sketch")
    picture.write_bytes(b"another")
    with pytest.raises(OutputError, match="that scan did not make, or that was changed since"):
        placed()
    assert placed(beside=()) == (target,)
    target.write_bytes(data.replace(b"500", b"501"))
    with pytest.raises(OutputError, match=r"there is a file of this name that scan did not make"):
        placed(beside=())
    target.unlink()
    with pytest.raises(OutputError, match="did not make"):  # a picture alone is the user's
        placed()


def test_a_table_is_not_written_onto_what_was_read(tmp_path) -> None:
    target = tmp_path / "front.csv"
    table(target)
    with pytest.raises(OutputError, match="this is what was read; expected a new file"):
        offset_table.table_place(target, "scan", (), [tmp_path / "." / "front.csv"])
    with pytest.raises(OutputError, match="this is what was read"):
        offset_table.table_place(target, "scan", (".ply",), [tmp_path / "front.ply"])
    assert offset_table.table_place(target, "scan", (), [tmp_path / "other.csv"]) == (target,)
    with pytest.raises(OutputError, match=r"found no \.csv; expected an offset table"):
        offset_table.table_place(tmp_path / "front.txt", "scan")
    assert offset_table.table_place(tmp_path / "front2.CSV", "scan")
    with pytest.raises(OutputError, match="there is no folder"):
        offset_table.table_place(tmp_path / "none" / "front.csv", "scan")


def test_tables_too_long_to_be_read_are_refused(monkeypatch) -> None:
    """The table of three rows has as many lines as it says: at the limit it is still written."""
    front = Front((sketch(),))
    count = len(offset_table.offset_table(front, "a test").splitlines())
    monkeypatch.setattr(offset_table, "MAX_ROWS", count)
    assert offset_table.offset_table(front, "a test")
    monkeypatch.setattr(offset_table, "MAX_ROWS", count - 1)
    with pytest.raises(InputError, match=f"{count}"):
        offset_table.offset_table(front, "a test")
    monkeypatch.undo()
    size = len(offset_table.offset_table(front, "a test"))
    monkeypatch.setattr(offset_table, "MAX_BYTES", size)
    assert len(offset_table.offset_table(front, "a test")) == size
    monkeypatch.setattr(offset_table, "MAX_BYTES", size - 1)
    with pytest.raises(InputError):
        offset_table.offset_table(front, "a test")


# --- folders -------------------------------------------------------------------------------


@dataclass
class Made:
    """What was asked for, in turn."""

    asked: list[str]

    def document(self) -> dict[str, int]:
        self.asked.append("document")
        return {"a": 1}

    def files(self) -> dict[str, bytes]:
        self.asked.append("files")
        return {"one.txt": b"1"}

    def table(self) -> bytes:
        self.asked.append("table")
        return b"x\n"


@pytest.mark.parametrize(
    ("name", "with_table", "asked"),
    [
        ("a.json", True, "document"), ("a.JSON", True, "document"), ("a.csv", True, "table"),
        ("a.CSV", True, "table"), ("a.csv", False, "files"), ("folder", True, "files"),
        ("a.json.d", True, "files"),
    ],
)  # fmt: skip
def test_the_suffix_says_what_is_written(tmp_path, name, with_table, asked) -> None:
    made, target = Made([]), tmp_path / name
    table_of = made.table if with_table else None
    assert writing.written(target, made.document, made.files, table_of) == target
    assert made.asked == [asked]
    assert target.is_dir() == (asked == "files")
    if asked == "document":
        assert target.read_bytes() == b'{\n "a": 1\n}\n'


def stamped(folder: Path) -> set[str]:
    return set((folder / LIST).read_text().splitlines()[1:])


def row(name: str, data: bytes) -> str:
    return f"{sha256(data).hexdigest()} {len(data)} {name}"


def test_beside_what_others_look_after_all_stays(tmp_path) -> None:
    """Files named as others' own are neither refused nor removed, whatever is in them."""
    (tmp_path / "study.toml").write_bytes(b"mine")
    with pytest.raises(OutputError, match="holds files and no list of ours"):
        write_beside(tmp_path, {"a.txt": b"a"}, "record.json", ["rows.csv"])
    (tmp_path / "record.json").write_bytes(b"{}")
    (tmp_path / "rows.csv").write_bytes(b"rows")
    moved = tmp_path.parent / f"{tmp_path.name}-aside"
    moved.write_bytes(b"moved here")
    write_beside(tmp_path, {"a.txt": b"a", "m.bin": moved}, "record.json", ["rows.csv"])
    assert not moved.exists()
    assert (tmp_path / "m.bin").read_bytes() == b"moved here"
    assert stamped(tmp_path) == {
        row("a.txt", b"a"), row("m.bin", b"moved here"), row("rows.csv", b"rows"),
    }  # fmt: skip
    (tmp_path / "rows.csv").write_bytes(b"rows and more")
    write_beside(tmp_path, {"b.txt": b"b"}, "record.json", ["rows.csv"])
    assert (tmp_path / "a.txt").read_bytes() == b"a"
    assert row("rows.csv", b"rows and more") in stamped(tmp_path)
    (tmp_path / "b.txt").write_bytes(b"changed")
    with pytest.raises(OutputError, match=r"b\.txt: was changed since frontcheck wrote it"):
        write_beside(tmp_path, {"c.txt": b"c"}, "record.json", ["rows.csv"])
    (tmp_path / "b.txt").unlink()
    (tmp_path / "c.txt").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"c\.txt: was not written by frontcheck"):
        write_beside(tmp_path, {"c.txt": b"c"}, "record.json", ["rows.csv"])
    assert (tmp_path / "c.txt").read_bytes() == b"mine"


def test_a_record_in_a_folder_without_our_list_is_no_list(tmp_path) -> None:
    """A folder of results needs our list; the record of a sweep is none."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "record.json").write_bytes(b"{}")
    with pytest.raises(OutputError, match="no list of ours"):
        write_folder(tmp_path / "out", {"a.txt": b"a"})
    (tmp_path / "out" / "record.json").unlink()
    write_folder(tmp_path / "out", {"a.txt": b"a"})
    assert stamped(tmp_path / "out") == {row("a.txt", b"a")}


def test_folders_are_made_where_there_are_none_and_trouble_is_told(tmp_path, monkeypatch) -> None:
    """Only a place that was taken meanwhile is written into file by file."""
    write_folder(tmp_path / "a" / "b", {"x.txt": b"x"})
    write_beside(tmp_path / "c" / "d", {"x.txt": b"x"}, "record.json", [])
    assert stamped(tmp_path / "a" / "b") == stamped(tmp_path / "c" / "d") == {row("x.txt", b"x")}
    (tmp_path / "there").mkdir()
    for number, name in ((errno.EACCES, "there"), (errno.ENOTEMPTY, "new"), (errno.EXDEV, "new")):
        monkeypatch.setattr(Path, "rename", lambda *_, by=number: raised(OSError(by, "no")))
        with pytest.raises(OutputError, match="cannot be written"):
            write_folder(tmp_path / name, {"x.txt": b"x"})
        assert sorted(each.name for each in tmp_path.iterdir()) == ["a", "c", "there"]
    monkeypatch.setattr(Path, "rename", lambda *_: raised(OSError(errno.EXDEV, "no")))
    write_folder(tmp_path / "there", {"x.txt": b"x"})
    assert stamped(tmp_path / "there") == {row("x.txt", b"x")}
    assert sorted(each.name for each in (tmp_path / "there").iterdir()) == [LIST, "x.txt"]


def raised(error: OSError) -> None:
    raise error


def test_a_sheet_has_its_stations_as_they_were_written() -> None:
    """0.1 is 0.1, not the nearest binary number; names and unit go where they belong."""
    sheet = fc.worksheet([0, 0.1], [100, 200.5], unit="cm", name="Plover", symmetric=False)
    assert [str(each) for each in sheet.stations] == ["0", "0.1"]
    assert (sheet.unit, sheet.name, sheet.symmetric) == ("cm", "Plover", False)
    assert [str(each) for each in sheet.heights] == ["100", "200.5"]
