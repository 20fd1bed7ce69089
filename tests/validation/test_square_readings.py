"""Readings with a square, end to end: a face that looks upright and is overhung.

The readings are invented for the demo front, as if taken on its first clay model: the square set
anew against each section (local datum), a lip above and a lip below a recess. Every expected value
is worked out here from the corners of the contour, all of which are in the table.
"""

from __future__ import annotations

import math

import pytest
from checks import Check, derived

import frontcheck

FACE = Check(
    "square-readings",
    kind="closed form",
    quantity="lean from lip to lip [deg], overhang, recess and undercut [mm] of invented readings",
    source=derived("from the corners of the contour"),
    why="rounding of doubles",
)

LOWER, RECESS, UPPER = (21.0, 322.0), (36.0, 441.0), (12.0, 552.0)  # (setback, height) [mm]
CONTOUR = (
    (170.0, 236.0, "underside"),
    (78.0, 258.0, "bumper"),
    (*LOWER, "bumper"),
    (*RECESS, "bumper"),
    (*UPPER, "bumper"),
    (81.0, 604.0, "grille"),
    (268.0, 668.0, "bonnet"),
    (510.0, 738.0, "bonnet"),
    (962.0, 822.0, "bonnet"),
)
HEAD = "# name: square readings\n# datum: local\nstation_mm,height_mm,setback_mm,part\n"
BUMPER = [(x, z) for x, z, part in CONTOUR if part in ("bumper", "grille")]


@pytest.fixture(scope="module")
def screening(tmp_path_factory):
    path = tmp_path_factory.mktemp("square") / "square.csv"
    rows = "".join(f"0,{z:g},{x:g},{part}\n" for x, z, part in CONTOUR)
    path.write_text(HEAD + rows, encoding="utf-8")
    return frontcheck.screen(frontcheck.read_front(path))


def recess_depth() -> float:
    """How far the recess lies behind the string between the lips."""
    share = (RECESS[1] - LOWER[1]) / (UPPER[1] - LOWER[1])
    return RECESS[0] - (LOWER[0] + share * (UPPER[0] - LOWER[0]))


def test_face_in_the_document(screening):
    face = screening.to_dict()["stations"][0]["face"]
    # From lip to lip the face comes forward by 2.2 deg: upright to the eye.
    angle = math.degrees(math.atan2(UPPER[0] - LOWER[0], UPPER[1] - LOWER[1]))
    FACE.compare(angle, face["mean_face_angle_deg"], tolerance=1e-12, case="lean")
    assert -3.0 < angle < 0.0
    assert face["upper_lip_mm"] == list(UPPER)
    assert face["recess_mm"] == list(RECESS)
    assert face["lower_lip_mm"] == list(LOWER)
    # The lip stands forward of the recess; a square at the upper lip misses the lower.
    want = RECESS[0] - UPPER[0], LOWER[0] - UPPER[0], recess_depth()
    got = face["overhang_mm"], face["undercut_mm"], face["recess_depth_mm"]
    FACE.compare(want, got, tolerance=1e-12, case="overhang, undercut, recess")
    assert face["foremost_mm"] == list(min(BUMPER))


def test_same_numbers_in_the_table(screening):
    row = screening.to_frame().iloc[0]
    assert row["overhang_mm"] == RECESS[0] - UPPER[0]
    assert row["undercut_mm"] == LOWER[0] - UPPER[0]
    assert row["recess_depth_mm"] == pytest.approx(recess_depth(), rel=0, abs=1e-9)


def test_lines_lie_on_the_lips(screening):
    """UBRL on the upper lip; LBRL on the lower lip; the tape hangs from the upper lip.

    UN R127 02 series, 2.38 and 2.26 (text read): the edge inclined 20 deg rearward meets the
    corner where x - z tan 20 is least, the one inclined 25 deg forward where x + z tan 25 is.
    """
    rearward, forward = math.tan(math.radians(20.0)), math.tan(math.radians(25.0))
    assert min(BUMPER, key=lambda p: p[0] - p[1] * rearward) == UPPER
    assert min(BUMPER, key=lambda p: p[0] + p[1] * forward) == LOWER
    station = screening.stations[0]
    assert (station.UBRL.x, station.UBRL.z) == UPPER
    assert (station.LBRL.x, station.LBRL.z) == LOWER
    assert station.foremost == UPPER


def test_local_datum_refuses_the_whole_vehicle(screening):
    """Where the square was set anew, the foremost point of the front is not known."""
    front = screening.front
    station = frontcheck.screen(front, tape_start="vehicle").stations[0]
    assert {point.status for point in station.wads} == {"not_available"}
    assert all("datum" in point.reason for point in station.wads)
    assert any("local" in caution for caution in screening.cautions)
