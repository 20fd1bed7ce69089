"""Two arcs and a bonnet: a bumper under a leading edge, with and without a recess between.

Centre (80, 450) R 80 and (330, 640) R 180, bonnet rising 10 deg tangent to the second. Derived:
contacts as in test_arcs.py, the wrap-around closed form below; tools of UN R127.02, 2.26, 2.38,
2.7 and 2.43 (text read).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from references.sections import arc, chord, cosd, sind, tand

from frontcheck import Front, Section, screen

LINES = Check(
    "two-arcs-lines",
    kind="closed form",
    quantity="UBRL, LBRL, BLERL and bumper lead of two arcs, with and without a recess",
    unit="mm",
    source=derived("contact where the normal is square to the edge; UN R127.02, text read"),
    why="corners at the contacts make them exact; half a unit of the last digit written down",
)
TAPE = Check(
    "two-arcs-wrap-around",
    kind="closed form",
    quantity="how far wrap-around points come too far along a bonnet behind faceted arcs",
    unit="mm",
    source=derived("chords c shorten a length L of arc by L c^2 / 24 R^2"),
    why="0.1 % of it for the next term",
)
BRIDGE = Check(
    "two-arcs-bridge",
    kind="closed form",
    quantity="ends of the stretch that a taut tape bridges over a recess",
    unit="mm",
    source=derived("common outer tangent of two circles"),
    why="rounding of doubles only",
)

LOW, LOW_R = (80.0, 450.0), 80.0
HIGH, HIGH_R = (330.0, 640.0), 180.0
RISE = 10.0
WADS = {
    1000.0: (358.517902, 827.805266),
    1700.0: (1047.883329, 949.358990),
    2100.0: (1441.806431, 1018.818261),
}
# Common outer tangent: both circles on one side of it, so n.(HIGH - LOW) = R1 - R2 for the
# outward normal n = (-cos N, sin N).
GAP = math.hypot(HIGH[0] - LOW[0], HIGH[1] - LOW[1])
BEARING = math.atan2(HIGH[1] - LOW[1], HIGH[0] - LOW[0])
NORMAL = math.degrees(math.acos((HIGH_R - LOW_R) / GAP) - BEARING)
"""Angle of the tangent's outward normal above horizontal, facing forward [deg]."""


def section(facets_per_degree: int, recess: bool) -> Section:
    """A corner at every whole degree, and at the two ends of the tangent."""
    low_top = 90.0 if recess else NORMAL
    high_bottom = -30.0 if recess else NORMAL
    ends = [(-70.0, NORMAL), (NORMAL, low_top)], [(high_bottom, NORMAL), (NORMAL, 90.0 - RISE)]
    parts = []
    for (centre, radius), spans in zip(((LOW, LOW_R), (HIGH, HIGH_R)), ends, strict=True):
        for start, stop in spans:
            if stop > start:
                whole = np.arange(math.ceil(start), math.floor(stop) + 1, dtype=float)
                angles = np.unique(np.concatenate([[start, stop], whole]))
                for a, b in zip(angles, angles[1:], strict=False):
                    parts.append(arc(centre, radius, a, b, facets_per_degree))
    start = (HIGH[0] - HIGH_R * sind(RISE), HIGH[1] + HIGH_R * cosd(RISE))
    bonnet = [(start[0] + 1500.0, start[1] + 1500.0 * tand(RISE))]
    points = np.vstack([[(300.0, 340.0)], *parts, bonnet])
    keep = np.append(True, np.hypot(*np.diff(points, axis=0).T) > 1e-6)
    return Section(points[keep])


@pytest.mark.parametrize("recess", [False, True], ids=["flush", "recess"])
class TestTwoArcs:
    def test_lines(self, recess):
        """UBRL, LBRL, BLERL and lead by closed form; corners at the contacts make them exact."""
        station = screen(Front((section(1, recess),))).stations[0]
        for line, want in (
            (station.UBRL, (4.824590, 477.361611)),
            (station.LBRL, (7.495377, 416.190539)),
            (station.BLERL, (214.298230, 777.888000)),
        ):
            assert line.status == "ok"
            LINES.compare(want, (line.x, line.z), tolerance=6e-7, case=line.name)
        LINES.compare(209.473640, station.bumper_lead, tolerance=6e-7, case="lead")
        # And from the definition of an arc's contact, see test_arcs.py.
        want = (HIGH[0] - HIGH_R * cosd(50.0), HIGH[1] + HIGH_R * sind(50.0))
        assert (station.BLERL.x, station.BLERL.z) == pytest.approx(want, rel=0, abs=1e-9)

    @pytest.mark.parametrize("facets", [1, 4, 16])
    def test_wrap_around(self, recess, facets):
        """WAD 1000, 1700, 2100 on the bonnet, within the shortening of faceted arcs.

        A length L of arc in chords c is L c^2 / 24 R^2 too short, so the points lie that
        much too far along the bonnet and in no other direction.
        """
        station = screen(Front((section(facets, recess),)), wad=WADS).stations[0]
        late = 0.0
        for radius, degrees in ((LOW_R, NORMAL), (HIGH_R, 90.0 - RISE - NORMAL)):
            length, c = radius * math.radians(degrees), chord(radius, 0.0, 1.0, facets)
            late += length * c * c / (24.0 * radius**2)
        for distance, want in WADS.items():
            point = station.wad(distance)
            along = (point.x - want[0]) * cosd(RISE) + (point.z - want[1]) * sind(RISE)
            across = (point.z - want[1]) * cosd(RISE) - (point.x - want[0]) * sind(RISE)
            assert across == pytest.approx(0.0, abs=1e-6)
            TAPE.between(along, -1e-6, late * 1.001 + 1e-6)
            assert point.bridged is False  # it lies on the bonnet; the bridge is below it

    def test_the_tape_bridges_the_recess_only(self, recess):
        front = Front((section(1, recess),))
        screening = screen(front)
        tape, points = screening.tape(0.0), front.sections[0].points
        end = len(points) - 1
        spans = tape.spans(tape.path_to(end))
        if not recess:
            assert spans == ()
            return
        assert len(spans) == 1
        low, high = (points[i] for i in spans[0])
        for point, (centre, radius) in ((low, (LOW, LOW_R)), (high, (HIGH, HIGH_R))):
            want = (centre[0] - radius * cosd(NORMAL), centre[1] + radius * sind(NORMAL))
            BRIDGE.compare(want, point, tolerance=1e-9)


def test_printed_wrap_around_values_by_closed_form():
    """Ground to foremost point, arc, tangent, arc, bonnet: the sum that gives `WADS`."""
    tangent = math.sqrt(GAP**2 - (HIGH_R - LOW_R) ** 2)
    to_bonnet = (
        LOW[1]
        + LOW_R * math.radians(NORMAL)
        + tangent
        + HIGH_R * math.radians(90.0 - RISE - NORMAL)
    )
    start = (HIGH[0] - HIGH_R * sind(RISE), HIGH[1] + HIGH_R * cosd(RISE))
    for distance, want in WADS.items():
        s = distance - to_bonnet
        assert (start[0] + s * cosd(RISE), start[1] + s * sind(RISE)) == pytest.approx(
            want, rel=0, abs=6e-7
        )


def test_points_in_the_recess_are_bridged():
    """The surface behind the bridge is reached through air."""
    front = Front((section(1, True),))
    tape = screen(front).tape(0.0)
    points = front.sections[0].points
    low, high = tape.spans(tape.path_to(len(points) - 1))[0]
    deep = (low + high) // 2
    assert tape.at(deep, 0.5).bridged
    assert not tape.at(high + 3, 0.5).bridged
