"""Readings with a square, end to end: a face that looks upright and is overhung.

Common practice, no source: measured with a square set against each section (local datum),
7 mm at the upper lip, 24 mm in the recess and 18 mm at the lower lip. To the eye the face
is vertical.
"""

from __future__ import annotations

import pytest

import frontcheck

TABLE = """\
# name: square readings
# datum: local
# symmetric: yes
station_mm,height_mm,setback_mm,part
0,240,160,underside
0,262,70,bumper
0,330,18,bumper
0,432,24,bumper
0,540,7,bumper
0,590,75,grille
0,650,260,bonnet
0,720,500,bonnet
0,800,950,bonnet
"""


@pytest.fixture(scope="module")
def screening(tmp_path_factory):
    path = tmp_path_factory.mktemp("square") / "square.csv"
    path.write_text(TABLE, encoding="utf-8")
    return frontcheck.screen(frontcheck.read_front(path))


def test_face_in_the_document(screening):
    face = screening.to_dict()["stations"][0]["face"]
    assert abs(face["mean_face_angle_deg"]) <= 3.0  # vertical to the eye
    assert face["upper_lip_mm"] == [7.0, 540.0]
    assert face["recess_mm"] == [24.0, 432.0]
    assert face["lower_lip_mm"] == [18.0, 330.0]
    assert face["overhang_mm"] == 24.0 - 7.0  # the upper lip stands 17 mm forward of the recess
    assert face["undercut_mm"] == 18.0 - 7.0  # a square at the upper lip misses the lower by 11
    # Recess depth is from the string between the lips, at 432: 18 - 11 * 102 / 210.
    depth = 24.0 - (18.0 - 11.0 * (432.0 - 330.0) / (540.0 - 330.0))
    assert face["recess_depth_mm"] == pytest.approx(depth, rel=0, abs=1e-12)
    assert face["foremost_mm"] == [7.0, 540.0]


def test_same_numbers_in_the_table(screening):
    row = screening.to_frame().iloc[0]
    assert row["overhang_mm"] == 17.0
    assert row["undercut_mm"] == 11.0
    assert row["recess_depth_mm"] == pytest.approx(11.342857142857143, rel=0, abs=1e-9)


def test_lines_lie_on_the_lips(screening):
    """UBRL on the upper lip; LBRL on the lower lip; the tape hangs from the upper lip.

    By hand: x - z tan 20 is least at the upper lip, x + z tan 25 at the lower lip.
    """
    station = screening.stations[0]
    assert (station.UBRL.x, station.UBRL.z) == (7.0, 540.0)
    assert (station.LBRL.x, station.LBRL.z) == (18.0, 330.0)
    assert station.foremost == (7.0, 540.0)


def test_local_datum_refuses_the_whole_vehicle(screening):
    """Where the square was set anew, the foremost point of the front is not known."""
    front = screening.front
    station = frontcheck.screen(front, tape_start="vehicle").stations[0]
    assert {point.status for point in station.wads} == {"not_available"}
    assert all("datum" in point.reason for point in station.wads)
    assert any("local" in caution for caution in screening.cautions)
