"""Outputs read back: every number, side, sign and unit told is that of the screening document.

The document is held to the lines themselves elsewhere (tests/validation); here it is the truth,
and tables on the terminal, CSV files, the drawing, annex page and PDF and marks in figures are
read by programs that know nothing of this one. The fronts are askew: left and right differ, one
is open on its right, the other's bonnet edge stands ahead of its bumper (a negative lead).
"""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.cli import main

LINES = ("LBRL", "UBRL", "BLERL", "BRRL")
MINUS = {0x2212: "-", 0x2013: None}  # the true minus, and the dash where there is no number
# How far the upper front is pulled forward, the right side set back, the last station there.
FRONTS = {"open": (0.0, 12.0, 650.0), "ahead": (150.0, -18.0, 760.0)}


def askew(geometries, name: str) -> str:
    """An offset table of both sides, made from the demonstration front."""
    pull, back, last = FRONTS[name]
    rows = ["# name: Askew", "# datum: common", "# symmetric: no"]
    rows.append("station_mm,height_mm,setback_mm,part")
    sections = fc.read_front(geometries / "plover.csv").sections
    both = [(-1.0, s) for s in reversed(sections)] + [(1.0, s) for s in sections if s.y > 0.0]
    for side, section in both:
        right = side > 0.0
        if right and section.y > last:
            continue
        share = section.y / 700.0 if right else 0.0
        x, z = section.points.T
        x = x - pull * np.clip((z - 480.0) / 300.0, 0.0, 1.0) + back * share
        for at, up, part in zip(x, z + 9.0 * share, section.parts, strict=True):
            rows.append(f"{side * section.y + 0.0:g},{up:.3f},{at:.3f},{part}")
    return "\n".join(rows) + "\n"


def ran(*args: str) -> str:
    done = CliRunner().invoke(main, list(args), env={"COLUMNS": "200"})
    assert done.exit_code in {0, 1}, done.output
    return done.stdout


@pytest.fixture(scope="module")
def made(geometries, tmp_path_factory):
    """Everything said of the two fronts."""
    top = tmp_path_factory.mktemp("said")
    out = {}
    for name in FRONTS:
        file = top / f"{name}.csv"
        file.write_text(askew(geometries, name))
        folder = top / name
        dxf = top / f"{name}.dxf"
        text = ran("screen", str(file), "--all", "--out", str(folder), "--dxf", str(dxf))
        document = json.loads((folder / "screening.json").read_text())
        out[name] = {"text": text, "folder": folder, "dxf": dxf, "document": document, "file": file}
    pair = [str(out[name]["file"]) for name in FRONTS]
    ran("annex", *pair, "--out", str(top / "annex"))
    said = ran("compare", *pair, "--out", str(top / "pair"))
    out["pair"] = {"text": said, "folder": top / "pair", "annex": top / "annex"}
    return out


class Tables(HTMLParser):
    """Tables of a page by caption: rows of cells, the first being the heads."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self.caption, self.cell, self.where = "", "", ""
        self.rows: list[list[str]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):  # noqa: ARG002
        if tag == "table":
            self.caption, self.rows = "", []
        elif tag == "tr":
            self.rows.append([])
        elif tag in {"td", "th", "caption"}:
            self.cell, self.where = "", tag

    def handle_endtag(self, tag):
        if tag in {"td", "th"}:
            self.rows[-1].append(self.cell.strip())
        elif tag == "caption":
            self.caption = re.sub(r"^Table \d+: ", "", self.cell.strip())
        elif tag == "table":
            self.tables[self.caption] = self.rows
        self.where = "" if tag == self.where else self.where

    def handle_data(self, data):
        if self.where:
            self.cell += data


def number(text: str) -> float | None:
    """A number as it is told, without the marks about it; None if none is told."""
    bare = text.translate(MINUS).strip("()* b")
    return float(bare) if bare else None


def near(said: str, true: float | None, step: float = 0.1) -> None:
    """What is said is the value rounded to a step; a line that was not formed has no number."""
    assert (number(said) is None) == (true is None), (said, true)
    if true is not None:
        assert abs(number(said) - true) <= 0.5001 * step, (said, true)


def blocks(text: str) -> list[list[list[str]]]:
    """Tables of a terminal: lines between blank ones, cut where two blanks stand."""
    out = []
    for block in text.split("\n\n"):
        rows = [re.split(r"\s{2,}", line.strip()) for line in block.splitlines() if line.strip()]
        out.append(rows)
    return out


def station_rows(document) -> dict[float, dict]:
    return {station["y_mm"]: station for station in document["stations"]}


def told(station, head: str) -> float | None:
    """The value of a column of the table of lines, by its head."""
    if head in {"lead", "bumper lead"}:
        return station["bumper_lead_mm"]
    line, _, axis = head.rpartition(" ")
    axis = {"height": "z", "setback": "x"}.get(axis, axis)
    held = station["WAD"][line.split()[1]] if line.startswith("WAD") else station[line]
    return held[f"{axis}_mm"]


@pytest.mark.parametrize("name", FRONTS)
def test_the_fronts_are_what_they_are_for(made, name) -> None:
    document = made[name]["document"]
    corners = document["zones"]["bumper_corners"]
    leads = [s["bumper_lead_mm"] for s in document["stations"] if s["bumper_lead_mm"] is not None]
    left, right = (corners["gauge"][f"{side}_mm"] for side in ("left", "right"))
    assert abs(left[0] - right[0]) > 1.0 or abs(left[2] - right[2]) > 1.0
    assert (min(leads) < 0.0) == (name == "ahead")
    assert ("open_end" in {corners[way]["status"] for way in ("plane_60deg", "gauge")}) == (
        name == "open"
    )


@pytest.mark.parametrize("name", FRONTS)
def test_the_terminal_says_the_lines_of_every_station(made, name) -> None:
    stations = station_rows(made[name]["document"])
    table = next(b for b in blocks(made[name]["text"]) if len(b) > 2 and b[1][0] == "y")
    heads, rows = table[1], table[2:]
    assert [float(row[0]) for row in rows] == sorted(stations)
    for row in rows:
        station = stations[float(row[0])]
        for head, cell in zip(heads[1:], row[1:], strict=True):
            if head == "legform":
                assert cell == station["legform"]
                continue
            near(cell, told(station, head))
            if head.startswith("WAD"):
                bridged = station["WAD"][head.split()[1]]["bridged"]
                assert cell.endswith("b") == bridged


@pytest.mark.parametrize("name", FRONTS)
def test_the_terminal_says_the_areas(made, name) -> None:
    zones = made[name]["document"]["zones"]
    table = next(b for b in blocks(made[name]["text"]) if b and b[0] == ["Test areas"])
    rows = {row[0]: row[1] for row in table[2:]}
    area = zones["bumper_test_area"]
    low, high = re.findall(r"-?\d+", rows["bumper test area"].translate(MINUS))[:2]
    assert (float(low), float(high)) == (
        pytest.approx(area["y_min_mm"], abs=0.5),
        pytest.approx(area["y_max_mm"], abs=0.5),
    )
    for group in ("child", "adult"):
        held = zones[f"{group}_headform_area"]
        shown = rows[f"{group} headform area"]
        if held["area_m2"] is not None:
            assert float(re.search(r"[\d.]+(?= m)", shown)[0]) == pytest.approx(
                held["area_m2"], abs=6e-4
            )
        assert ("(" in shown) == (held["status"] == "open_end")


@pytest.mark.parametrize("name", FRONTS)
def test_the_first_screen_says_the_lines_at_the_centre(made, name) -> None:
    centre = station_rows(made[name]["document"])[0.0]
    text = " ".join(made[name]["text"].split())
    said = re.search(r"Lines at the centre, mm (.*?) back More", text)[1].translate(MINUS)
    for words, true in (
        (r"\(LBRL\) (\S+) up", centre["LBRL"]["z_mm"]),
        (r"upper \(UBRL\) (\S+) up", centre["UBRL"]["z_mm"]),
        (r"\(BLERL\) (\S+) up", centre["BLERL"]["z_mm"]),
        (r"lead (\S+),", centre["bumper_lead_mm"]),
        (r"\(BRRL\) (\S+) back", centre["BRRL"]["x_mm"]),
        *((rf"{d} at (-?\d+)", held["x_mm"]) for d, held in centre["WAD"].items()),
    ):
        near(re.search(words, said)[1], true, 1.0)


@pytest.mark.parametrize("name", FRONTS)
def test_files_of_points_hold_the_lines_of_the_document(made, name) -> None:
    document = made[name]["document"]
    found: dict[str, list[tuple[float, ...]]] = {}
    with (made[name]["folder"] / "lines.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            point = tuple(float(row[f"{axis}_mm"]) for axis in "xyz")
            found.setdefault(row["line"], []).append((row["side"], point))
    assert set(found) == {n for n, line in document["lines"].items() if line["points_mm"]}
    for line, rows in found.items():
        held = document["lines"][line]
        true = []
        for piece in held["pieces"]:
            points = held["points_mm"][piece["from"] : piece["to"]]
            true += [(piece["side"], tuple(p)) for p in points]
        assert all(p[1] <= 0.0 for s, p in rows if s == "left"), line
        assert all(p[1] >= 0.0 for s, p in rows if s == "right"), line
        held_points = np.array(sorted(p for _, p in true))
        np.testing.assert_allclose(np.array(sorted(p for _, p in rows)), held_points, atol=1e-9)


@pytest.mark.parametrize("name", FRONTS)
def test_the_drawing_holds_each_line_in_its_own_layer(made, name) -> None:
    document = made[name]["document"]
    space = ezdxf.readfile(made[name]["dxf"]).modelspace()
    seen: dict[str, list[tuple[float, ...]]] = {}
    for each in space:
        if each.dxftype() == "POLYLINE":
            points = [tuple(v.dxf.location) for v in each.vertices]
            seen.setdefault(each.dxf.layer.upper(), []).extend(points)
    for line, held in document["lines"].items():
        for layer, open_end in ((line, False), (f"{line} OPEN END", True)):
            points = zip(held["points_mm"], held["point_status"], strict=True)
            own = {tuple(np.round(p, 6)) for p, s in points if (s == "open_end") == open_end}
            drawn = {tuple(np.round(p, 6)) for p in seen.get(layer, [])}
            assert own <= drawn or len(own) < 2, layer
            assert drawn <= {tuple(np.round(p, 6)) for p in held["points_mm"]}, layer


@pytest.mark.parametrize("name", FRONTS)
def test_the_table_of_stations_holds_the_values_of_the_document(made, name) -> None:
    stations = station_rows(made[name]["document"])
    with (made[name]["folder"] / "stations.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["y_mm"]) for row in rows] == sorted(stations)
    for row in rows:
        station = stations[float(row["y_mm"])]
        face = station["face"]
        flat = {"bumper_lead_mm": station["bumper_lead_mm"]}
        flat |= {f"{n}_{a}_mm": station[n][f"{a}_mm"] for n in LINES for a in "xz"}
        flat |= {f"WAD_{d}_{a}_mm": at[f"{a}_mm"] for d, at in station["WAD"].items() for a in "xz"}
        flat |= {
            "overhang_mm": face["overhang_mm"], "undercut_mm": face["undercut_mm"],
            "recess_depth_mm": face["recess_depth_mm"],
            "face_angle_deg": face["mean_face_angle_deg"],
            "bonnet_angle_deg": face["bonnet_angle_deg"],
        }  # fmt: skip
        for column, true in flat.items():
            near(row[column], true, 1e-9 if true is None else max(1e-9, abs(true) * 1e-12))
        assert row["legform"] == station["legform"]
        assert all(row[f"{n}_status"] == station[n]["status"] for n in LINES)


def annex_tables(made) -> dict[str, list[list[str]]]:
    return Tables((made["pair"]["annex"] / "annex.html").read_text()).tables


def test_the_annex_says_lines_of_both_fronts_by_station(made) -> None:
    tables = annex_tables(made)
    for name, of in (("open", ""), ("ahead", " of ")):
        stations = station_rows(made[name]["document"])
        captions = [c for c in tables if " by station" in c and "Changes" not in c]
        captions = [c for c in captions if (" of Askew" in c) == bool(of)]
        assert len(captions) == 2
        for caption in captions:
            heads, *rows = tables[caption]
            assert [number(row[0]) for row in rows] == sorted(stations)
            for row in rows:
                station = stations[number(row[0])]
                for head, cell in zip(heads[1:], row[1:], strict=True):
                    if head == "legform":
                        assert cell == station["legform"]
                        continue
                    near(cell, told(station, head))
                    if head != "bumper lead" and number(cell) is not None:
                        line = head.rpartition(" ")[0]
                        held = station["WAD"].get(line.split()[-1]) or station[line]
                        assert cell.startswith("(") == (held["status"] == "open_end"), (head, cell)


def test_the_annex_says_what_it_says_in_the_document_beside_each_drawing(made) -> None:
    tables = annex_tables(made)
    for y, station in station_rows(made["open"]["document"]).items():
        rows = tables.get(f"Values at y = {y:g} mm".replace("-", chr(0x2212)))
        if rows is None:
            continue
        for row in rows[1:]:
            if row[0] == "Bumper lead":
                near(row[2], station["bumper_lead_mm"])
                continue
            line = re.search(r"\(([^)]+)\)$", row[0])[1]
            near(row[1], told(station, f"{line} z"))
            near(row[2], told(station, f"{line} x"))
    assert sum(c.startswith("Values at y") for c in tables) > 5


PLACES = {
    "bumper corner, by vertical plane": ("bumper_corners", "plane_60deg"),
    "bumper corner, by corner gauge": ("bumper_corners", "gauge"),
    "corner reference point (BLERL and SRL meet)": ("corner_reference_points",),
    "rear corner (BRRL and SRL meet)": ("rear_corners",),
}


def test_the_annex_says_corners_with_side_axis_and_status(made) -> None:
    zones = made["open"]["document"]["zones"]
    heads, *rows = annex_tables(made)["Corners and thirds [mm]"]
    assert heads[:5] == ["place", "side", "setback x", "station y", "height z"]
    seen = set()
    for place, side, x, y, z, _, _ in rows:
        if place not in PLACES:
            continue
        held = zones
        for key in PLACES[place]:
            held = held[key]
        for each in ("left", "right") if side == "either" else (side,):
            point = held[f"{each}_mm"]
            seen.add((place, each))
            for cell, axis in ((x, 0), (y, 1), (z, 2)):
                value = None if point is None else point[axis]
                near(cell.replace("±", "" if each == "right" else "-"), value)
            if point is not None:
                assert (point[1] > 0.0) == (each == "right")
    assert len(seen) == 2 * len(PLACES)


def test_changes_are_b_minus_a_wherever_they_are_told(made) -> None:
    a, b = (station_rows(made[name]["document"]) for name in FRONTS)
    heads, *rows = annex_tables(made)["Changes by station, B minus A [mm]"]
    compared = 0
    for row in rows:
        y = number(row[0])
        for head, cell in zip(heads[1:], row[1:], strict=True):
            named = head.rpartition(" ")[0] in {*LINES, "WAD 1000", "WAD 1500", "WAD 1700"}
            if not (named or head == "lead") or y not in a or y not in b:
                continue
            one, two = told(a[y], head), told(b[y], head)
            if number(cell) is None or one is None or two is None:
                continue
            near(cell, two - one)
            compared += 1
    assert compared > 60


def test_the_pdf_says_the_rows_of_the_page(made) -> None:
    """Rows of numbers of the lines' table stand in the PDF as on the page, in the same order."""
    reader = PdfReader(io.BytesIO((made["pair"]["annex"] / "annex.pdf").read_bytes()))
    lines = [" ".join(line.split()) for p in reader.pages for line in p.extract_text().splitlines()]
    for caption, rows in annex_tables(made).items():
        if " by station" in caption:
            for row in rows[1:]:
                assert " ".join(" ".join(row).split()) in lines, (caption, row)
