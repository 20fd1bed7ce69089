"""Reader of hard-point tables: what it takes and, row by row, what it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest

from frontcheck.errors import InputError
from frontcheck.front.beside import HardPoint
from frontcheck.reading.hard_point_file import read_hard_points

GOOD = """# name: Plover package
# notes: invented
x_mm,y_mm,z_mm,name,kind
900.5,610,905,hinge right,hinge
520,0,850.25,air box,lid
"""


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "points.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_points_come_in_file_order_with_their_rows(tmp_path: Path) -> None:
    table = read_hard_points(write(tmp_path, GOOD))
    assert table.points == (
        HardPoint(900.5, 610.0, 905.0, "hinge right", "hinge", 4),
        HardPoint(520.0, 0.0, 850.25, "air box", "lid", 5),
    )
    assert (table.name, table.notes, table.file) == ("Plover package", "invented", "points.csv")
    assert any("comma" in note for note in table.reader_notes)


@pytest.mark.parametrize(
    ("unit", "numbers"),
    [
        ("cm", "90.05,61,90.5"),
        ("m", "0.9005,0.61,0.905"),
        # 25.4 mm an inch exactly (international yard and pound, 1959)
        ("in", "35.452755905511811,24.015748031496063,35.629921259842520"),
    ],
)
def test_units_come_from_the_column_names(tmp_path: Path, unit: str, numbers: str) -> None:
    text = f"x_{unit},y_{unit},z_{unit},name,kind\n{numbers},a,b\n"
    (point,) = read_hard_points(write(tmp_path, text)).points
    assert (point.x, point.y, point.z) == pytest.approx((900.5, 610.0, 905.0), abs=1e-9)


def test_decimal_comma_with_semicolons(tmp_path: Path) -> None:
    text = "x_mm;y_mm;z_mm;name;kind\n900,5;-610;905;a;b\n"
    (point,) = read_hard_points(write(tmp_path, text)).points
    assert (point.x, point.y) == (900.5, -610.0)


# What is swapped in the good file; words and row of the refusal.
REFUSED = {
    "unknown key": ("# notes:", "# note:", "unknown key 'note'", 2),
    "key twice": ("# notes:", "# name:", "name a second time (first in row 1)", 2),
    "key too long": ("Plover package", "x" * 121, "121 characters of name", 1),
    "unknown column": ("kind", "kinds", "unknown column 'kinds'", 3),
    "no unit": ("z_mm", "z", "column 'z' without a unit", 3),
    "other unit": ("z_mm", "z_ft", "unit 'ft'", 3),
    "column twice": ("kind", "name", "name a second time", 3),
    "axis missing": ("z_mm", "y_cm", "y a second time", 3),
    "no header": ("x_mm,y_mm,z_mm,name,kind\n", "", "a number, no column name", 3),
    "text in a number": ("905,", "high,", "'high', which is not a number", 4),
    "not finite": ("905,", "nan,", "'nan', which is not a measured value", 4),
    "below ground": ("905,", "-5,", "height -5 mm, below the ground", 4),
    "far away": ("905,", "905000,", "a coordinate beyond 100 m", 4),
    "name twice": ("air box", "hinge right", "'hinge right' again (first in row 4)", 5),
    "name too long": ("air box", "a" * 61, "61 characters", 5),
    "blank": ("905,", ",", "a blank cell", 4),
    "ragged": ("hinge\n", "hinge,more\n", "6 cells", 4),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusal_names_file_row_and_way_out(tmp_path: Path, case: str) -> None:
    old, new, words, row = REFUSED[case]
    assert GOOD.count(old) >= 1
    path = write(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(InputError) as caught:
        read_hard_points(path)
    assert words in str(caught.value)
    assert (caught.value.file, caught.value.row) == (str(path), row)
    assert caught.value.expected
    assert caught.value.todo


@pytest.mark.parametrize("column", ["x_mm,", "name,"])
def test_missing_column_is_named(tmp_path: Path, column: str) -> None:
    header = "x_mm,y_mm,z_mm,name,kind".replace(column, "")
    path = write(tmp_path, f"{header}\n1,2,3,4\n")
    with pytest.raises(InputError, match=f"no column for {column[0]}") as caught:
        read_hard_points(path)
    assert caught.value.row == 1


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_hard_points(tmp_path / "none.csv")
