"""What a measurer notes at the top of an offset table: read with its unit, or refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from frontcheck.errors import InputError
from frontcheck.front.survey import ArchHeights, MeasuredCheck, Survey
from frontcheck.reading.readers import read_front

ROWS = "station_mm,height_mm,setback_mm\n0,300,40\n0,480,0\n0,760,160\n"
ARCHES = {
    "arch_front_measured": "650 mm",
    "arch_rear_measured": "66 cm",
    "arch_front_normal": "632 mm",
    "arch_rear_normal": "630 mm",
    "wheelbase": "2.5 m",
    "front_axle": "-12 mm",
}


def survey(tmp_path: Path, **keys: str) -> Survey:
    file = tmp_path / "front.csv"
    lines = ["# name: Plover", "# datum: common", "# symmetric: no"]
    lines += [f"# {key}: {value}" for key, value in keys.items()]
    file.write_text("\n".join(lines) + "\n" + ROWS)
    return read_front(file).survey


def test_nothing_noted(tmp_path: Path) -> None:
    assert survey(tmp_path) == Survey()


def test_everything_noted(tmp_path: Path) -> None:
    found = survey(
        tmp_path,
        square_tilt_deg="-0.3",
        square_tilt_u_deg="0.1",
        ground_slope_u_deg="0.05",
        pitch_u_deg="0.2",
        datum_u="0.1 cm",
        ride_height_u="5 mm",
        error_length="4 cm",
        scale_u="0.5 %",
        **ARCHES,
        check_1="lbrl height at 0 mm: 303.5 mm, u 3 mm",
        check_2="tape to row 3 at 0 mm: 80.3 cm, u 4 mm",
    )
    assert found == Survey(
        square_tilt_deg=-0.3,
        datum_u_mm=1.0,
        square_tilt_u_deg=0.1,
        ground_slope_u_deg=0.05,
        ride_height_u_mm=5.0,
        pitch_u_deg=0.2,
        error_length_mm=40.0,
        scale_u_percent=0.5,
        arches=ArchHeights(650.0, 660.0, 632.0, 630.0, 2500.0, -12.0),
        checks=(
            MeasuredCheck("edge", 0.0, 303.5, 3.0, line="LBRL", source_row=18),
            MeasuredCheck("tape", 0.0, 803.0, 4.0, row=3, source_row=19),
        ),
    )


def test_decimal_comma(tmp_path: Path) -> None:
    file = tmp_path / "front.csv"
    file.write_text(
        "# name: Plover\n# datum: common\n# symmetric: no\n# square_tilt_deg: 0,25\n"
        "# check_1: UBRL height at 0 mm: 480,5 mm, u 2,5 mm\n"
        "station_mm;height_mm;setback_mm\n0;300,5;40\n0;480;0\n0;760;160\n"
    )
    found = read_front(file).survey
    assert found.square_tilt_deg == 0.25
    assert (found.checks[0].measured_mm, found.checks[0].u_mm) == (480.5, 2.5)


def test_two_decimal_marks_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one decimal mark in the whole file"):
        survey(tmp_path, square_tilt_deg="0.3", datum_u="1,5 mm")


BAD = {
    "angle in words": ({"square_tilt_deg": "small"}, "found 'small'; expected an angle"),
    "angle with unit": ({"square_tilt_deg": "0.3 deg"}, "found '0.3 deg'; expected an angle"),
    "angle too large": ({"pitch_u_deg": "45"}, "found 45 deg; expected an angle in degrees"),
    "negative uncertainty": ({"pitch_u_deg": "-0.1"}, "found a negative uncertainty, -0.1"),
    "length without unit": ({"datum_u": "1.5"}, "found '1.5'; expected a number with one of"),
    "length in feet": ({"datum_u": "1 ft"}, "found '1 ft'; expected a number with one of"),
    "negative length": ({"ride_height_u": "-5 mm"}, "found -5 mm; expected a length from 0"),
    "length too large": ({"ride_height_u": "999 m"}, "found 999000 mm; expected a length"),
    "error length too large": ({"error_length": "2 m"}, "found 2000 mm; expected a length from 0"),
    "scale without percent": ({"scale_u": "0.5"}, "found '0.5'; expected a standard uncertainty"),
    "scale in mm": ({"scale_u": "4 mm"}, "found '4 mm'; expected a standard uncertainty"),
    "scale too large": ({"scale_u": "11 %"}, "found '11 %'; expected a standard uncertainty"),
    "negative scale": ({"scale_u": "-1 %"}, "from 0 to 10 %; write it as '# scale_u: 0.5 %'"),
    "one arch alone": ({"wheelbase": "2500 mm"}, "found wheelbase without arch_front_measured"),
    "arch of no height": ({**ARCHES, "arch_rear_normal": "0 mm"}, "found rear arch, normal 0 mm"),
    "check of BRRL": ({"check_1": "BRRL height at 0 mm: 900 mm, u 3 mm"}, "found 'BRRL height"),
    "check without u": ({"check_1": "LBRL height at 0 mm: 303 mm"}, "found 'LBRL height at 0 mm"),
    "check of row 0": ({"check_1": "tape to row 0 at 0 mm: 1 m, u 3 mm"}, "found check of row 0"),
    "negative check": (
        {"check_1": "LBRL height at 0 mm: -3 mm, u 3 mm"},
        "found check with measured value -3 mm",
    ),
    "unknown key": ({"square_tilt": "0.3"}, "found unknown key 'square_tilt'"),
    "check_21": ({"check_21": "LBRL height at 0 mm: 3 mm, u 3 mm"}, "found unknown key 'check_21'"),
}


@pytest.mark.parametrize("case", BAD)
def test_refused_with_place_and_advice(tmp_path: Path, case: str) -> None:
    keys, words = BAD[case]
    with pytest.raises(InputError) as refused:
        survey(tmp_path, **keys)
    said = str(refused.value)
    assert words in said
    assert said.startswith(f"{tmp_path / 'front.csv'}, row ")
    assert refused.value.column in keys
    assert refused.value.row is not None
    assert refused.value.row > 3
