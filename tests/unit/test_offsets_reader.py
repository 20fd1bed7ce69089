"""Good offset tables: every way of writing one reads to the same front."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frontcheck.errors import InputError
from frontcheck.front.front import Source
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import IGNORE, PARTS

ROWS = [
    (0.0, 200.0, 300.0, "underside"),
    (0.0, 300.0, 0.5, "bumper"),
    (0.0, 600.0, 10.25, "bumper"),
    (0.0, 700.0, 60.0, "bonnet"),
    (0.0, 800.0, 1234.0, "bonnet"),
    (254.0, 210.0, 310.0, "underside"),
    (254.0, 310.0, -10.0, "bumper"),
    (254.0, 610.0, 20.5, "bumper"),
    (254.0, 810.0, 810.0, "bonnet"),
]
METADATA = {
    "name": "Trial",
    "method": "square and string line",
    "datum": "common",
    "symmetric": "yes",
    "height_u": "2 mm",
    "setback_u": "1.5 mm",
    "ground_slope_deg": "0",
    "notes": "level floor, doors shut; two people",
}
# Written by hand from exact decimals: 1 in = 25.4 mm (definition), 254 mm = 10 in.
PER_UNIT = {"mm": 1, "cm": 10, "m": 1000, "in": 25.4}


def number(value, unit="mm", mark="."):
    return f"{value / PER_UNIT[unit]:.15g}".replace(".", mark)


def table(rows=ROWS, *, delimiter=",", mark=".", units=("mm", "mm", "mm"), metadata=METADATA):
    said = {k: v.replace(".", mark) if k.endswith("_u") else v for k, v in metadata.items()}
    lines = [f"# {key}: {value}" for key, value in said.items()]
    names = [f"{q}_{u}" for q, u in zip(("station", "height", "setback"), units, strict=True)]
    lines.append(delimiter.join([*names, "part"]))
    for *values, part in rows:
        cells = [number(v, u, mark) for v, u in zip(values, units, strict=True)]
        cells = [f'"{c}"' if delimiter in c else c for c in cells]
        lines.append(delimiter.join([*cells, part]))
    return "\n".join(lines) + "\n"


@pytest.fixture
def read(tmp_path):
    def read_text(text, name="trial.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_front(path)

    return read_text


def assert_same_front(one, other):
    """Everything but the notes and the digest is equal, bit for bit."""
    for section, twin in zip(one.sections, other.sections, strict=True):
        assert section.y == twin.y
        assert section.parts == twin.parts
        for name in ("points", "height_u", "setback_u"):
            assert np.array_equal(getattr(section, name), getattr(twin, name)), name
    same = {"sections": one.sections, "reader_notes": (), "source": Source()}
    assert replace(one, **same) == replace(other, **same)


def test_content(read):
    text = table()
    front = read(text)
    assert front.name == "Trial"
    assert front.method == METADATA["method"]
    assert front.notes == METADATA["notes"]
    assert front.datum == "common"
    assert front.symmetric is True
    assert front.ground_slope_deg == 0.0
    assert front.stations == (0.0, 254.0)
    assert front.source.kind == "offsets"
    assert front.source.file == "trial.csv"
    assert front.source.sha256 == hashlib.sha256(text.encode()).hexdigest()
    first, second = front.sections
    assert first.points.tolist() == [[x, z] for y, z, x, _ in ROWS if y == 0.0]
    assert second.points.tolist() == [[x, z] for y, z, x, _ in ROWS if y == 254.0]
    assert first.parts == ("underside", "bumper", "bumper", "bonnet", "bonnet")
    assert first.rows == (10, 11, 12, 13, 14)
    assert second.rows == (15, 16, 17, 18)
    assert first.height_u.tolist() == [2.0] * 5
    assert second.setback_u.tolist() == [1.5] * 4
    assert text.splitlines()[second.rows[1] - 1] == "254,310,-10,bumper"


VARIANTS = {
    "semicolon": table(delimiter=";"),
    "tab": table(delimiter="\t"),
    "semicolon, decimal comma": table(delimiter=";", mark=","),
    "tab, decimal comma": table(delimiter="\t", mark=","),
    "comma, quoted decimal comma": table(delimiter=",", mark=","),
    "cm": table(units=("cm", "cm", "cm")),
    "m": table(units=("m", "m", "m")),
    "in": table(units=("in", "mm", "mm")),
    "a unit a column": table(units=("in", "cm", "m")),
    "byte order mark": "\ufeff" + table(),
    "CRLF": table().replace("\n", "\r\n"),
    "byte order mark and CRLF": "\ufeff" + table(delimiter=";").replace("\n", "\r\n"),
    "no newline at the end": table().rstrip("\n"),
    "blank lines at the end": table() + "\n  \n\n",
    "blank lines before the header": "\n" + table().replace("station_mm", "\nstation_mm"),
    "padded by a spreadsheet": table(delimiter=";")
    .replace("# name: Trial", "# name: Trial;;;")
    .replace("# notes: " + METADATA["notes"], f'"# notes: {METADATA["notes"]}";;;')
    + ";;;\n;;;\n",
    "blanks around cells": table().replace(",", " , ").replace("floor ,  doors", "floor, doors"),
    "capitals": table()
    .replace("station_mm", "Station_mm")
    .replace("bumper", "Bumper")
    .replace("# datum: common", "# Datum: Common"),
    "columns in another order": "\n".join(
        [
            *table().splitlines()[:8],
            "part,setback_mm,station_mm,height_mm",
            *(f"{p},{x:g},{y:g},{z:g}" for y, z, x, p in ROWS),
        ]
    ),
    "blank lines between rows": table().replace("0,600,10.25", "\n  \n,,,\n0,600,10.25"),
    "a notes column": "\n".join(
        line
        if line.startswith("#")
        else f"{line},{'notes' if 'mm' in line else '' if i % 2 else i}"
        for i, line in enumerate(table().splitlines())
    ),
    "units in brackets": table().replace(
        "station_mm,height_mm,setback_mm", "Station (mm),Height [mm],Setback mm"
    ),
    "exponents and plus signs": table().replace("0,800,1234,", "0e0,+8e2,1.234e3,"),
    "trailing zeros": table().replace("0,800,1234,", "0.000,800.00,1234.0,"),
    "uncertainties in cm": table(
        metadata={**METADATA, "height_u": "0.2 cm", "setback_u": "0.15cm"}
    ),
    "metadata in another order": table(metadata=dict(reversed(METADATA.items()))),
}


@pytest.mark.parametrize("name", VARIANTS)
def test_variant_reads_to_the_same_front(name, read):
    assert_same_front(read(VARIANTS[name]), read(table()))


def test_what_was_left_aside_is_said(read):
    text = table().replace("part", "part,seen by,2").replace(",underside", ",underside,A. B.,")
    text = text.replace(",bumper", ",bumper,,").replace(",bonnet", ",bonnet,,1")
    with pytest.raises(InputError, match="'2' in the header: a number"):
        read(text)
    lines = text.replace(",2\n", ",when\n").splitlines()
    front = read("\n".join([*lines[:10], ",,,,,", "", *lines[10:]]))
    assert "Left aside: 2 columns (seen by, when)." in front.reader_notes
    assert "Skipped: 2 blank rows (11, 12)." in front.reader_notes


def test_uncertainty_columns(read):
    metadata = {"datum": "local"}
    lines = table(metadata=metadata).splitlines()
    lines[1] += ",height_u_cm,setback_u_in"
    lines[2:] = [f"{line},0.2{i},0.5" for i, line in enumerate(lines[2:])]
    front = read("\n".join(lines))
    assert front.sections[0].height_u.tolist() == [2.0, 2.1, 2.2, 2.3, 2.4]
    assert front.sections[1].setback_u.tolist() == [12.7] * 4
    assert front.datum == "local"


def test_without_optional_things(read):
    lines = table(metadata={"datum": "common"}).splitlines()
    front = read("\n".join(line.rsplit(",", 1)[0] if i else line for i, line in enumerate(lines)))
    assert front.name == "trial"
    assert front.symmetric is False
    assert front.method == ""
    assert front.notes == ""
    assert front.sections[0].parts is None
    assert front.sections[0].height_u is None
    assert front.sections[0].setback_u is None
    said = " ".join(front.reader_notes)
    assert "does not say whether the front is symmetric" in said
    assert "called trial after the file" in said


def test_dash_is_no_part(read):
    front = read(table().replace("10.25,bumper", "10.25,-"))
    assert front.sections[0].parts[2] == ""
    assert front.sections[0].part_mask("bumper").tolist() == [False, True, False, False, False]


@pytest.mark.parametrize(
    ("text", "sentences"),
    [
        (table(), ["delimiter was detected as a comma.", "mark was detected as a point."]),
        (
            table(delimiter=";", mark=","),
            ["delimiter was detected as a semicolon.", "mark was detected as a comma."],
        ),
        (table(delimiter="\t"), ["delimiter was detected as a tab."]),
        ("\ufeff" + table(), ["byte order mark"]),
        (table() + ",,,\n", ["Rows of empty cells at the end of the file were skipped."]),
        (
            table(rows=[(y, z, round(x), p) for y, z, x, p in ROWS], metadata={"datum": "local"}),
            ["No decimal mark occurs: all numbers are whole."],
        ),
        (
            table(metadata={**METADATA, "ground_slope_deg": "-0.75"}),
            ["ground slope of -0.75 deg is kept; the offsets were not corrected"],
        ),
    ],
)
def test_what_was_detected_is_said(text, sentences, read):
    notes = read(text).reader_notes
    for sentence in sentences:
        assert any(sentence in note for note in notes), (sentence, notes)
    assert all(note.endswith(".") for note in notes)


def test_one_clear_number_settles_the_comma(read):
    """1,234 alone could be 1234 or 1.234; beside 0,5 in the same file it is 1.234."""
    text = table(delimiter=";", mark=",").replace(";1234;", ";1800,125;")
    assert read(text).sections[0].x[4] == 1800.125
    assert read(table(units=("mm", "mm", "m"))).sections[0].x[4] == 1234.0


def test_text_is_kept_as_text(read):
    name = "<b>Träal</b> = 'x' & \"y\" 鳥"
    assert read(table(metadata={**METADATA, "name": name})).name == name
    assert read(table(metadata={**METADATA, "notes": "a: b: c # d"})).notes == "a: b: c # d"


@pytest.mark.parametrize("suffix", [".csv", ".CSV", ".txt", ".tsv"])
def test_suffix(suffix, read):
    assert read(table(), f"front{suffix}").source.file == f"front{suffix}"


@pytest.mark.parametrize("name", ["plover", "avocet"])
class TestDemonstrationFronts:
    """What the demonstration tables have to hold."""

    def test_shape_of_the_table(self, name, geometries):
        front = read_front(geometries / f"{name}.csv")
        assert front.name == name.capitalize()
        assert front.symmetric
        assert front.datum == "common"
        assert "nvented" in front.notes
        assert len(front.sections) >= 7
        assert front.stations[0] == 0.0
        for section in front.sections:
            assert 25 <= len(section) <= 40
            for part in ("underside", "bumper", "bonnet", "cowl"):
                assert section.has_part(part)
            assert section.has_part("grille") != section.has_part("lamp")
            assert section.part_mask("windscreen").sum() >= 4
            assert (section.height_u > 0).all()
            assert (section.setback_u > 0).all()
            # Readings by hand: to half a millimetre.
            assert np.array_equal(section.points * 2, np.round(section.points * 2))

    def test_reads_the_same_from_elsewhere(self, name, geometries, tmp_path):
        copy = tmp_path / "other.csv"
        shutil.copy(geometries / f"{name}.csv", copy)
        one, other = read_front(geometries / f"{name}.csv"), read_front(copy)
        assert_same_front(one, other)
        assert one.source.sha256 == other.source.sha256


def test_plover_is_overhung_and_avocet_is_not(geometries):
    plover = read_front(geometries / "plover.csv").section(0.0).face
    assert 11.0 <= plover.undercut_mm <= 20.0
    assert plover.recess_behind_upper_lip_mm > plover.undercut_mm
    avocet = read_front(geometries / "avocet.csv").section(0.0).face
    assert avocet.foremost[1] < 300.0 < plover.foremost[1]
    assert avocet.mean_face_angle_deg > 20.0 > plover.mean_face_angle_deg


# --- any good table, written in any dialect, reads back to the same numbers -----------


@st.composite
def fronts(draw):
    """Stations with contours that rise all the way, so that none can cross itself."""
    rows = []
    stations = sorted(draw(st.sets(st.integers(-8000, 8000), min_size=1, max_size=4)))
    for station in stations:
        height = draw(st.integers(0, 3000))
        start = draw(st.integers(-500, 5000))
        count = draw(st.integers(3, 8))
        for i in range(count):
            setback = start + draw(st.integers(-700, 9000))
            part = draw(st.sampled_from([*(part for part in PARTS if part != IGNORE), "-"]))
            rows.append((station / 10, height / 10, (start if i == 0 else setback) / 10, part))
            height += draw(st.integers(1, 1500))
    return rows


@st.composite
def dialects(draw):
    delimiter = draw(st.sampled_from([",", ";", "\t"]))
    return {
        "delimiter": delimiter,
        "mark": draw(st.sampled_from([".", ","])),
        "units": tuple(draw(st.sampled_from(["mm", "cm", "m"])) for _ in range(3)),
    }


@given(rows=fronts(), dialect=dialects(), bom=st.booleans(), end=st.sampled_from(["\n", "\r\n"]))
def test_round_trip(rows, dialect, bom, end, tmp_path_factory):
    # A slope of 0.5 deg shows what the decimal mark means, whatever the other numbers are.
    metadata = {"datum": "local", "ground_slope_deg": "0.5".replace(".", dialect["mark"])}
    text = ("\ufeff" if bom else "") + table(rows, metadata=metadata, **dialect)
    path = tmp_path_factory.getbasetemp() / "round_trip.csv"
    path.write_bytes(text.replace("\n", end).encode())
    front = read_front(path)
    got = [
        (section.y, z, x, part)
        for section in front.sections
        for (x, z), part in zip(section.points, section.parts or [""] * len(section), strict=True)
    ]
    assert got == [(y, z, x, "" if part == "-" else part) for y, z, x, part in rows]
    assert [r for s in front.sections for r in s.rows] == list(range(4, 4 + len(rows)))
