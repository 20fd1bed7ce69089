"""Fronts of several sheets and boxes, as real meshes have them, against closed forms.

A straight edge of lean a that slides rearward touches the place of least x - z tan(a) within its
reach (UN R127 02 series, 2.38, 2.26 and 2.7, text read): for upright panels and boxes that is one
of their corners, worked out by hand beside each test. Nothing hidden behind them changes it.
"""

from __future__ import annotations

import math
import struct

import numpy as np
import pytest
from checks import Check, derived

from frontcheck import read_front, screen

PARTS_SEEN = Check(
    "fronts-of-many-parts",
    kind="closed form",
    quantity="UBRL, LBRL and BLERL of fronts of sheets and boxes, with parts hidden behind",
    unit="mm",
    source=derived("corner of least x - z tan(a); UN R127 02 series, 2.26, 2.38, 2.7 (text read)"),
    why="32-bit coordinates step by 1e-4; cuts are thinned by 0.01 mm",
)

HALF = 800.0


def sheet(line, low=-HALF, high=HALF):
    """Triangles of a line swept across the vehicle from one y to another."""
    line = np.array(line, dtype=float)
    out = []
    for (x0, z0), (x1, z1) in zip(line[:-1], line[1:], strict=True):
        a, b, c, d = (x0, low, z0), (x1, low, z1), (x1, high, z1), (x0, high, z0)
        out += [(a, b, c), (a, c, d)]
    return np.array(out)


def box(x0, x1, z0, z1, low=-HALF, high=HALF):
    walls = sheet([(x1, z0), (x0, z0), (x0, z1), (x1, z1), (x1, z0)], low, high)
    caps = [[(x0, y, z0), (x1, y, z0), (x1, y, z1)] for y in (low, high)] + [
        [(x0, y, z0), (x1, y, z1), (x0, y, z1)] for y in (low, high)
    ]
    return np.concatenate([walls, caps])


BODY = sheet(
    [(0, 300), (0, 540), (20, 700), (60, 780), (150, 830), (900, 960), (940, 940), (1500, 1300)]
)
"""A fascia that is open below, bonnet, cowl and windscreen."""


def front_of(tmp_path, *parts, pitch=200.0, **options):
    triangles = np.concatenate(parts)
    records = np.zeros(len(triangles), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = triangles
    path = tmp_path / "parts.stl"
    path.write_bytes(b"".ljust(80) + struct.pack("<I", len(triangles)) + records.tobytes())
    return read_front(path, unit="mm", ground=0.0, pitch=pitch, **options)


def places(front, name):
    """Where a line runs at every station, and with what statuses."""
    lines = [getattr(station, name) for station in screen(front).stations]
    return np.array([(line.x, line.z) for line in lines]), {line.status for line in lines}


def assert_at(front, name, x, z):
    found, _ = places(front, name)
    # 32-bit coordinates near 1500 mm step by 1.2e-4; cuts are thinned by 0.01 mm.
    PARTS_SEEN.compare(np.broadcast_to((x, z), found.shape), found, tolerance=0.011, case=name)


def test_a_tub_319_mm_behind_a_thin_panel_never_stands_in_for_it(tmp_path) -> None:
    # UBRL: panel top (0, 540) travels 0 - 540 tan 20 = -196.5; the tub behind it at the most
    # 319 - 657.8 tan 20 = 79.6. LBRL: (0, 300) travels 139.9, the tub at the least 388.9.
    panel = sheet([(0, 300), (0, 540)])
    tub = box(319, 1800, 150, 900)
    front = front_of(tmp_path, panel, tub)
    assert len(front.sections) == 9
    assert_at(front, "UBRL", 0.0, 540.0)
    assert_at(front, "LBRL", 0.0, 300.0)
    # BLERL: 50 deg from z 600; of the tub only its upper edge, 319 - 300 tan 50.
    assert_at(front, "BLERL", 319.0, 900.0)


def test_inner_parts_change_nothing_and_are_named(tmp_path) -> None:
    inner = [box(60, 90, 320, 500), box(300, 330, 250, 700), sheet([(1100, 300), (1100, 900)])]
    alone, with_parts = front_of(tmp_path, BODY), front_of(tmp_path, BODY, *inner)
    for a, b in zip(alone.sections, with_parts.sections, strict=True):
        top = b.points[len(b.points) - len(a.points) :]
        np.testing.assert_allclose(top, a.points, atol=1e-9)
    assert any("parts behind the outer surface" in note for note in with_parts.reader_notes)


def test_crossing_panels_are_clipped_where_they_cross(tmp_path) -> None:
    # z = 300 + 2 x up to x 100 and a panel leaning forward, x = 100 - (z - 300) / 4: they cross
    # where x = 100 - x / 2, at (66.6667, 433.3333).
    lower = sheet([(0, 300), (100, 500)])
    upper = sheet([(100, 300), (0, 700), (300, 800), (1500, 1300)])
    front = front_of(tmp_path, lower, upper)
    for section in front.sections:
        assert np.abs(section.points - [200.0 / 3.0, 1300.0 / 3.0]).sum(axis=1).min() < 1e-3
        # Of the lower panel nothing above.
        assert not (np.abs(section.points - [100.0, 500.0]).sum(axis=1) < 1e-3).any()
    assert_at(front, "LBRL", 0.0, 300.0)


def test_doubled_panels_count_once(tmp_path) -> None:
    # The same fascia cut otherwise into triangles, and a second layer 1 mm behind it.
    again = np.concatenate([BODY[:, [2, 0, 1]], BODY + np.array([1.0, 0.0, -1.0])])
    front = front_of(tmp_path, BODY, again)
    for section, alone in zip(front.sections, front_of(tmp_path, BODY).sections, strict=True):
        line = section.points[-len(alone.points) :]
        np.testing.assert_allclose(line, alone.points, atol=1e-4)


@pytest.mark.parametrize("gap", [5.0, 24.0, 45.0, 120.0])
def test_openings_between_panels_are_bridged_and_lines_stay(tmp_path, gap) -> None:
    # The fascia ends `gap` below the bonnet's lip; a radiator stands 250 mm behind.
    lower = sheet([(1500, 280), (60, 280), (0, 300), (0, 700 - gap)])
    upper = sheet([(0, 700), (60, 780), (900, 960), (1500, 1300)])
    front = front_of(tmp_path, lower, upper, box(250, 280, 320, 690))
    assert len(front.sections) == 9
    # UBRL: the highest point of the fascia within 657.785 mm.
    top = min(700.0 - gap, 700.0 * math.cos(math.radians(20.0)))
    if gap > 700.0 - top:
        assert_at(front, "UBRL", 0.0, top)
    assert_at(front, "LBRL", 0.0, 300.0)
    assert_at(front, "BLERL", 60.0, 780.0)
    assert any("openings wider" in text for text in front.reader_cautions) == (gap > 25.0)
    for section in front.sections:
        assert not ((np.abs(section.x - 250.0) < 1e-3) & (section.z > 321.0)).any()


def test_a_bracket_ahead_is_touched(tmp_path) -> None:
    # A beam 60 mm before the fascia: both bumper lines lie on its edges.
    beam = box(-110, -60, 400, 460)
    front = front_of(tmp_path, BODY, beam)
    assert_at(front, "UBRL", -110.0, 460.0)
    assert_at(
        front, "LBRL", -110.0, 400.0 if -110 + 400 * math.tan(math.radians(25)) < 139.9 else 0
    )


def test_a_flat_splitter_is_touched_at_its_tip(tmp_path) -> None:
    # A level sheet without thickness, 40 mm before the fascia.
    front = front_of(tmp_path, BODY, sheet([(200, 295), (-40, 295)]))
    assert_at(front, "LBRL", -40.0, 295.0)


def test_mirrors_make_no_station_and_are_named(tmp_path) -> None:
    mirrors = [box(600, 700, 900, 1100, s * 880 - 60, s * 880 + 60) for s in (-1, 1)]
    front = front_of(tmp_path, BODY, *mirrors, pitch=50.0)
    assert front.stations == tuple(np.arange(-800.0, 801.0, 50.0))
    assert any("2 parts outboard" in note for note in front.reader_notes)
    assert any("2 parts outboard" in text for text in screen(front).cautions)
    assert_at(front, "LBRL", 0.0, 300.0)


def test_an_aerial_is_left_out_and_a_lamp_is_not(tmp_path) -> None:
    aerial = box(500, 504, 920, 1500, 198, 202)
    lamp = box(5, 30, 705, 745, 300, 700)  # flush with the fascia, above 700 mm
    front = front_of(tmp_path, BODY, aerial, lamp)
    (note,) = [note for note in front.reader_notes if "thin (wires)" in note]
    assert "1 part" in note
    at_400 = front.section(400.0)
    assert at_400.setback_at(740.0) == pytest.approx(5.0, abs=1e-3)
    # Where it was cut, the straight edge of BLERL might have met it first: said, not guessed.
    assert 200.0 not in front.stations
    assert any("y = 200 mm: a part that was left out" in note for note in front.reader_notes)


def test_what_lies_at_the_rear_refuses_no_station(tmp_path) -> None:
    # Beyond 2.2 m: a tailgate in pieces, lamps outboard of the body, a roof that crosses itself.
    rear = [
        sheet([(3000, 1200), (3400, 700), (3100, 700), (3500, 1200)]),
        box(3600, 3700, 300, 500, 800, 890),
        box(3900, 3950, 1000, 1400),
    ]
    front = front_of(tmp_path, BODY, *rear, pitch=100.0)
    assert front.stations == tuple(np.arange(-800.0, 801.0, 100.0))
    assert front.sections[0].x.max() <= 2200.0 + 1e-6
    assert any("beyond every tool" in note for note in front.reader_notes)
    assert_at(front, "LBRL", 0.0, 300.0)


def test_a_sheet_that_crosses_itself_is_clipped_there(tmp_path) -> None:
    # The bonnet doubles back below itself in a loop; what is seen goes on over it.
    line = [(0, 300), (0, 700), (300, 800), (600, 700), (600, 900), (300, 780), (900, 960)]
    front = front_of(tmp_path, sheet([*line, (1500, 1300)]))
    assert len(front.sections) == 9
    assert any("crosses itself" in note for note in front.reader_notes)
    assert_at(front, "LBRL", 0.0, 300.0)
