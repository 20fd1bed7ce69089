"""DXF drawings read: curves, layers, units, joining, and what is reported.

Drawings are written by ezdxf, independent of our reader.
"""

from __future__ import annotations

import ezdxf
import numpy as np
import pytest

from frontcheck.errors import InputError
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen

FRONT = np.array([[400.0, 220.0], [120.0, 210.0], [30.0, 300.0], [55.0, 420.0], [10.0, 560.0],
                  [40.0, 760.0], [150.0, 850.0], [1000.0, 980.0], [1500.0, 1300.0]])  # fmt: skip


class Drawing:
    """A drawing in the making."""

    def __init__(self, tmp_path, insunits=4) -> None:
        self.doc = ezdxf.new("R2010")
        self.doc.header["$INSUNITS"] = insunits
        self.msp = self.doc.modelspace()
        self.path = tmp_path / "drawing.dxf"

    def line(self, points, layer) -> Drawing:
        self.msp.add_lwpolyline([tuple(p) for p in points], dxfattribs={"layer": layer})
        return self

    def read(self, **options):
        self.doc.saveas(self.path)
        return read_front(self.path, **options)


@pytest.fixture
def drawing(tmp_path):
    return Drawing(tmp_path)


def said(front, *words):
    return [note for note in front.reader_notes if all(word in note for word in words)]


def assert_is(section, points, atol=1e-9):
    assert section.points.shape == np.shape(points)
    np.testing.assert_allclose(section.points, points, rtol=0.0, atol=atol)


# --- stations ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layer", "y"),
    [("Y150", 150.0), ("y-150.5", -150.5), ("Y+20", 20.0), ("Y 20", 20.0), ("Y20,5", 20.5)],
)
def test_layer_names_the_station(drawing, layer, y) -> None:
    front = drawing.line(FRONT, layer).read()
    assert front.stations == (y,)
    assert_is(front.sections[0], FRONT)
    assert front.source.kind == "dxf"
    assert front.datum == "common"
    assert said(front, "Unit mm", "$INSUNITS 4")
    assert said(front, "LWPOLYLINE: 1 read, 1 used")
    assert said(front, "flat drawing", "assumed")


def test_layers_that_name_no_station_are_left_aside(drawing) -> None:
    drawing.line(FRONT, "Y0").line(FRONT + 1.0, "frame").line(FRONT + 2.0, "Y")
    front = drawing.read()
    assert front.stations == (0.0,)
    assert said(front, "LWPOLYLINE: 3 read, 1 used; 2 not on a station")


def test_stations_come_in_order(drawing) -> None:
    for y in (100, -200, 0):
        drawing.line(FRONT, f"Y{y}")
    assert drawing.read().stations == (-200.0, 0.0, 100.0)


def test_parts_follow_the_station(drawing) -> None:
    drawing.line(FRONT[:2], "Y0 underside").line(FRONT[1:5], "Y0_bumper")
    drawing.line(FRONT[4:8], "Y0").line(FRONT[7:], "Y0-windscreen")
    (section,) = drawing.read().sections
    assert_is(section, FRONT)
    assert section.parts == ("underside", *["bumper"] * 4, "", "", "windscreen", "windscreen")


def test_sections_drawn_in_space(drawing) -> None:
    for y in (0.0, 120.0):
        points = [(x, y, z) for x, z in FRONT]
        drawing.msp.add_polyline3d(points[:5], dxfattribs={"layer": "bumper"})
        drawing.msp.add_polyline3d(points[4:7])
        for a, b in zip(points[6:], points[7:], strict=False):
            drawing.msp.add_line(a, b, dxfattribs={"layer": "bonnet"})
    drawing.msp.add_line((0.0, 0.0, 0.0), (0.0, 500.0, 10.0))
    front = drawing.read()
    assert front.stations == (0.0, 120.0)
    for section in front.sections:
        assert_is(section, FRONT)
        assert section.parts == (*["bumper"] * 5, "", "bonnet", "bonnet", "bonnet")
    assert said(front, "drawing in space")
    assert said(front, "LINE: 5 read, 4 used; 1 not on a station")
    assert said(front, "POLYLINE: 4 read, 4 used")


def test_polyline_in_a_turned_plane_is_read_in_space(drawing) -> None:
    # Extrusion (0, -1, 0): the plane's own x and y run along world x and z (DXF arbitrary axis
    # rule), elevation along -y.
    drawing.msp.add_lwpolyline(
        [tuple(p) for p in FRONT], dxfattribs={"extrusion": (0, -1, 0), "elevation": -75.0}
    )
    front = drawing.read()
    assert front.stations == (75.0,)
    assert_is(front.sections[0], FRONT)


def test_layer_and_plane_must_agree(drawing) -> None:
    drawing.msp.add_polyline3d([(x, 20.0, z) for x, z in FRONT], dxfattribs={"layer": "Y30"})
    with pytest.raises(InputError, match=r"POLYLINE .* on layer 'Y30' in the plane y = 20 mm"):
        drawing.read()


# --- units, axes, options ----------------------------------------------------------------


@pytest.mark.parametrize(("code", "k"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_drawing_units(tmp_path, code, k) -> None:
    drawing = Drawing(tmp_path, code)
    front = drawing.line(FRONT / k, f"Y{250.0 / k!r}").read()
    assert front.stations == (pytest.approx(250.0, abs=1e-9),)
    assert_is(front.sections[0], FRONT)


@pytest.mark.parametrize(("code", "words"), [(0, "without a unit"), (2, "INSUNITS 2")])
def test_unit_is_never_guessed(tmp_path, code, words) -> None:
    drawing = Drawing(tmp_path, code).line(FRONT, "Y0")
    with pytest.raises(InputError, match=words):
        drawing.read()
    assert_is(drawing.read(unit="mm").sections[0], FRONT)


def test_stated_unit_beats_the_drawing_and_says_so(drawing) -> None:
    front = drawing.line(FRONT / 10.0, "Y0").read(unit="cm")
    assert_is(front.sections[0], FRONT)
    assert said(front, "Unit cm as stated", "though the drawing says mm")


def test_drawing_that_faces_right_and_ground_line(drawing) -> None:
    drawing.line(FRONT * [-1.0, 1.0] + [0.0, 5000.0], "Y0")
    front = drawing.read(forward="+x", ground=5000.0)
    assert_is(front.sections[0], FRONT)
    with pytest.raises(InputError, match="flat drawing"):
        drawing.read(forward="-z")
    with pytest.raises(InputError, match="pitch"):
        drawing.read(pitch=20.0)


def test_half_fronts(drawing) -> None:
    drawing.line(FRONT, "Y0").line(FRONT, "Y100")
    front = drawing.read()
    assert not front.symmetric
    assert said(front, "does not say whether it is a half")
    assert drawing.read(symmetric=True).symmetric
    drawing.doc.header.custom_vars.append("symmetric", "yes")
    drawing.doc.header.custom_vars.append("name", "Avocet")
    front = drawing.read()
    assert front.symmetric
    assert front.name == "Avocet"
    drawing.doc.header.custom_vars.replace("symmetric", "maybe")
    with pytest.raises(InputError, match="yes or no"):
        drawing.read()


# --- curves ------------------------------------------------------------------------------


def chord_errors(points, centre, radius):
    """Distance of the vertices from an arc and of the chord middles inside it."""
    at = np.hypot(*(points - centre).T) - radius
    middle = radius - np.hypot(*((points[1:] + points[:-1]) / 2.0 - centre).T)
    return np.abs(at).max(), middle.max()


@pytest.mark.parametrize("chord", [None, 0.05, 0.002])
@pytest.mark.parametrize("kind", ["bulge", "bulge reversed", "arc", "polyline2d"])
def test_arcs_stay_within_the_chord_tolerance(drawing, kind, chord) -> None:
    # A quarter circle nose of radius 200 about (200, 500): bulge tan(90/4 deg).
    a, b = (0.0, 500.0), (200.0, 700.0)
    if kind == "arc":
        drawing.msp.add_arc((200.0, 500.0), 200.0, 90.0, 180.0, dxfattribs={"layer": "Y0"})
        drawing.msp.add_line((0.0, 300.0), a, dxfattribs={"layer": "Y0"})
        drawing.msp.add_line((900.0, 750.0), b, dxfattribs={"layer": "Y0"})
    else:
        bulge = np.tan(np.radians(22.5))
        rows = [(0.0, 300.0, 0.0), (*a, -bulge), (*b, 0.0), (900.0, 750.0, 0.0)]
        if kind == "bulge reversed":
            rows = [(900.0, 750.0, 0.0), (*b, bulge), (*a, 0.0), (0.0, 300.0, 0.0)]
        if kind == "polyline2d":
            drawing.msp.add_polyline2d(rows, format="xyb", dxfattribs={"layer": "Y0"})
        else:
            drawing.msp.add_lwpolyline(rows, format="xyb", dxfattribs={"layer": "Y0"})
    (section,) = drawing.read(**({} if chord is None else {"chord": chord})).sections
    points = section.points
    np.testing.assert_allclose(points[[0, -1]], [[0.0, 300.0], [900.0, 750.0]], atol=1e-9)
    np.testing.assert_allclose(points[1], a, atol=1e-9)
    np.testing.assert_allclose(points[-2], b, atol=1e-9)
    off, sag = chord_errors(points[1:-1], np.array([200.0, 500.0]), 200.0)
    limit = 0.05 if chord is None else chord
    assert off < 1e-9
    assert sag <= limit * (1.0 + 1e-9)
    # Not finer than needed by more than the rounding up of the number of chords.
    assert sag > limit * 0.5


def test_splines_stay_within_the_chord_tolerance(drawing) -> None:
    from scipy.interpolate import BSpline

    control = np.array([[0.0, 250.0], [-40.0, 500.0], [60.0, 800.0], [500.0, 900.0], [1e3, 1e3]])
    spline = drawing.msp.add_open_spline([(*p, 0.0) for p in control], degree=3)
    spline.dxf.layer = "Y0"
    (section,) = drawing.read().sections
    knots = np.array(spline.knots) / spline.knots[-1]
    exact = BSpline(knots, control, 3)(np.linspace(0.0, 1.0, 20_001))
    np.testing.assert_allclose(section.points[[0, -1]], exact[[0, -1]], atol=1e-9)
    import shapely

    line = shapely.linestrings(section.points)
    # 0.05 mm at the middle of each piece by the parser's subdivision; a fifth more elsewhere.
    assert shapely.distance(shapely.points(exact), line).max() <= 0.06


def test_pieces_are_joined_in_any_order_and_direction(drawing) -> None:
    rng = np.random.default_rng(4)
    pieces = [FRONT[i : i + 2][:: rng.choice([-1, 1])] for i in rng.permutation(8)]
    for a, b in pieces:
        drawing.msp.add_line(tuple(a), tuple(b), dxfattribs={"layer": "Y0"})
    drawing.msp.add_line(tuple(FRONT[3]), tuple(FRONT[4]), dxfattribs={"layer": "Y0"})
    front = drawing.read()
    assert_is(front.sections[0], FRONT)
    assert said(front, "curves that occur twice")


def test_ends_that_nearly_meet_are_joined_and_reported(drawing) -> None:
    drawing.line(FRONT[:5], "Y0").line(FRONT[4:] + np.array([0.05, 0.0]), "Y0")
    front = drawing.read()
    # Both ends stay unless they are closer than the contour resolves.
    assert front.sections[0].points.shape[0] in (9, 10)
    assert said(front, "do not quite meet")


def test_gaps_are_bridged_or_reported(drawing) -> None:
    drawing.line(FRONT[:5], "Y0").line(FRONT[5:] + np.array([0.0, -190.0]), "Y0")
    front = drawing.read(gap=40.0)
    assert said(front, "1 gap bridged")
    assert len(front.sections[0]) == 9


def test_what_is_not_read_is_reported_by_type(drawing) -> None:
    drawing.line(FRONT, "Y0")
    drawing.msp.add_blockref("nowhere", (0, 0), dxfattribs={"layer": "Y0"})
    drawing.msp.add_text("section", dxfattribs={"layer": "Y0"})
    drawing.msp.add_circle((0, 0), 10.0, dxfattribs={"layer": "Y0"})
    front = drawing.read()
    assert said(front, "Skipped: INSERT, 1 read, none used")
    assert said(front, "Skipped: TEXT, 1 read")
    assert said(front, "Skipped: CIRCLE, 1 read")


def test_what_no_version_of_the_format_knows_is_skipped(drawing) -> None:
    drawing.line(FRONT, "Y0").line(FRONT, "Y100").read()
    head, own, rest = drawing.path.read_bytes().rpartition(b"\nLWPOLYLINE")
    assert own
    drawing.path.write_bytes(head + b"\nL\x1b[31mWPOLYLINE" + rest)
    front = read_front(drawing.path)
    assert front.stations == (0.0,)
    assert said(front, r"Skipped: L\x1b[31mWPOLYLINE, 1 read")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda d: d.line([(0, 0), (float("nan"), 3)], "Y0"), "not a finite number"),
        (lambda d: d.line(FRONT * 1e4, "Y0"), "beyond 100 m"),
        (lambda d: d.msp.add_arc((0, 0), 1e9, 0, 1, dxfattribs={"layer": "Y0"}), "of size"),
        (lambda d: d.line(FRONT, "Y999999"), "within 100 m"),
        (lambda d: d.line(FRONT, "sections"), "among 1 curve on layer 'sections'; expected layers"),
        (lambda d: d.line(FRONT - [0.0, 500.0], "Y0"), "below the ground"),
        (lambda d: d.line([(0, 0), (5, 5), (5, 0), (0, 5)], "Y0"), "crosses"),
        (lambda d: d.line([(0, 10), (5, 15)], "Y0"), "2 points"),
    ],
)
def test_unusable_drawings_are_refused(drawing, spoil, words) -> None:
    spoil(drawing)
    with pytest.raises(InputError, match=words) as caught:
        drawing.read()
    assert caught.value.file == str(drawing.path)
    assert caught.value.todo


def test_missing_package_names_the_extra(drawing, monkeypatch) -> None:
    import sys

    drawing.line(FRONT, "Y0").read()
    for name in ("ezdxf", "ezdxf.filemanagement"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(InputError, match=r"pip install 'frontcheck\[cad\]'"):
        read_front(drawing.path)


# --- the demonstration front -------------------------------------------------------------


def test_plover_drawing_is_the_offset_table(root) -> None:
    table = read_front(root / "geometries" / "plover.csv")
    drawn = read_front(root / "geometries" / "plover.dxf")
    assert drawn.name == table.name
    assert drawn.symmetric is table.symmetric is True
    assert drawn.stations == table.stations
    for a, b in zip(drawn.sections, table.sections, strict=True):
        assert_is(a, b.points)
        assert a.parts == b.parts
    for a, b in zip(screen(drawn).stations, screen(table).stations, strict=True):
        for p, q in zip((*a.lines, *a.wads), (*b.lines, *b.wads), strict=True):
            assert p.status == q.status
            if p.formed:
                assert (p.x, p.z) == pytest.approx((q.x, q.z), abs=1e-6)
