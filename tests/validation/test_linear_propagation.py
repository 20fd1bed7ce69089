"""Draws against linear propagation of uncertainty, where the sensitivities have a closed form.

Source of the rule: JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2, law
of propagation of uncertainty for independent inputs (from memory). Sensitivities are derived here
from the geometry of an arc touched by a straight edge (test_arcs.py) and of a taut tape over
corners.

Tolerance: a standard deviation estimated from n normal draws has a relative standard error of
1 / sqrt(2 n); four of those are allowed. Where arcs are cut into chords, the contact moves in
steps, which adds the variance c^2 / 12 of a uniform step of chord c; this too is allowed.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, Source

from frontcheck.front.front import Front
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.section import Section

SPREAD = Check(
    "propagation-sd",
    kind="closed form",
    quantity="standard deviation of contacts on arcs and at corners, and of tape marks",
    unit="mm",
    source=Source(
        "Guide to the expression of uncertainty in measurement", author="JCGM", year="2008",
        where="100:2008, 5.1.2; sensitivities derived in the test", known="memory",
    ),
    why="four standard errors of 4000 draws, and the step of the facets",
)  # fmt: skip
SHARES = Check(
    "propagation-shares",
    kind="closed form",
    quantity="share of the variance that each error brings",
    source=SPREAD.source,
    why="four standard errors of a squared correlation; shares below 1 % are not listed",
)

DRAWS = 4000
SAMPLING = 4.0 / math.sqrt(2.0 * DRAWS)
STEP_DEG = 0.05
PIVOT = 2000.0

# As in test_two_arcs.py: centre (80, 450) R 80 and (330, 640) R 180; bonnet rising 10 deg.
LOWER, UPPER = (80.0, 450.0, 80.0), (330.0, 640.0, 180.0)
# Line, arc that it touches, lean of the edge [deg, rearward], by UN R127.02, 2.26, 2.38 and
# 2.7 (text read).
CONTACTS = {"LBRL": (LOWER, -25.0), "UBRL": (LOWER, 20.0), "BLERL": (UPPER, 50.0)}


def on_arc(arc: tuple[float, float, float], lean_deg: np.ndarray | float) -> np.ndarray:
    """Point of an arc that an edge of given lean touches: its normal is square to the edge."""
    x, z, radius = arc
    lean = np.radians(lean_deg)
    return np.stack([x - radius * np.cos(lean), z + radius * np.sin(lean)], axis=-1)


def arcs() -> Section:
    """The two arcs, cut finely where an edge may touch within 3 deg, coarsely elsewhere."""

    def leans(low: float, high: float, fine: list[float]) -> np.ndarray:
        near = [np.arange(f - 3.0, f + 3.0, STEP_DEG) for f in fine]
        coarse = [a for a in np.arange(low, high + 0.1, 4.0) if all(abs(a - f) > 3 for f in fine)]
        return np.sort(np.concatenate([*near, coarse]))

    lower = on_arc(LOWER, leans(-80.0, 60.0, [-25.0, 20.0]))
    upper = on_arc(UPPER, leans(36.0, 80.0, [50.0]))
    rear = upper[-1] + 1400.0 * np.array([math.cos(math.radians(10)), math.sin(math.radians(10))])
    return Section(np.concatenate([lower, upper, [rear]]))


def sensitivity(error: str, arc: tuple[float, float, float], lean_deg: float) -> np.ndarray:
    """dx and dz of the contact for 1 mm, or 1 rad, of an error."""
    xc, zc, radius = arc
    lean = math.radians(lean_deg)
    return np.array(
        {
            # The arc moves with its centre; the edge keeps its lean.
            "datum_u_mm": (1.0, 0.0),
            "ride_height_u_mm": (0.0, 1.0),
            "ground_slope_u_deg": (zc, -xc),
            "pitch_u_deg": (zc, PIVOT - xc),
            # x grows by z t, so the edge touches where the arc leans by t less: the lean of the
            # touched point changes by -t cos^2 A, and x by z t + R sin A dA.
            "square_tilt_u_deg": (
                zc + radius * math.sin(lean) ** 3,
                -radius * math.cos(lean) ** 3,
            ),
        }[error]
    )


ERRORS = {
    "datum_u_mm": 2.0,
    "ride_height_u_mm": 6.0,
    "ground_slope_u_deg": 0.2,
    "pitch_u_deg": 0.3,
    "square_tilt_u_deg": 0.4,
}


def linear_sd(errors: dict[str, float], line: str) -> np.ndarray:
    arc, lean = CONTACTS[line]
    total = np.zeros(2)
    for error, u in errors.items():
        size = math.radians(u) if error.endswith("deg") else u
        total += (sensitivity(error, arc, lean) * size) ** 2
    return np.sqrt(total)


@pytest.mark.parametrize("error", [*ERRORS, "all"])
def test_common_errors_on_arcs(error: str) -> None:
    errors = ERRORS if error == "all" else {error: ERRORS[error]}
    front = Front((arcs(),))
    run = tolerance(
        front, "UN-R127-02", (), Uncertainty(**errors, pitch_pivot_mm=PIVOT), draws=DRAWS, seed=3
    )
    station = run.stations[0]
    for line, (arc, lean) in CONTACTS.items():
        expected = linear_sd(errors, line)
        at = on_arc(arc, lean)
        chord = arc[2] * math.radians(STEP_DEG)
        # The touched point moves in chords that lean as the edge does.
        step = chord / math.sqrt(12.0) * np.abs([math.sin(math.radians(lean)), 1.0])
        for axis, spread in enumerate((station.line(line).x, station.line(line).z)):
            assert spread is not None
            allowed = SAMPLING * expected[axis] + step[axis]
            case = f"{error}, {line} {'xz'[axis]}"
            SPREAD.compare(expected[axis], spread.sd, tolerance=allowed, case=case)
            # Mean of a linear function of normal errors: the value itself, within sampling and
            # the second order of angles below 1 deg (R sin, some 1000 mm, times 1e-4 rad^2).
            assert spread.median == pytest.approx(at[axis], abs=0.2 + 4.0 * spread.sd / 100.0)


def test_variance_shares_are_those_of_linear_propagation() -> None:
    run = tolerance(
        Front((arcs(),)),
        "UN-R127-02",
        (),
        Uncertainty(**ERRORS, pitch_pivot_mm=PIVOT),
        draws=DRAWS,
        seed=4,
    )
    names = {
        "datum": "datum_u_mm",
        "ride height": "ride_height_u_mm",
        "ground slope": "ground_slope_u_deg",
        "pitch": "pitch_u_deg",
        "square tilt": "square_tilt_u_deg",
    }
    for line in CONTACTS:
        total = linear_sd(ERRORS, line) ** 2
        for axis, spread in enumerate((run.stations[0].line(line).x, run.stations[0].line(line).z)):
            assert spread is not None
            found = {names[driver.name]: driver.share for driver in spread.drivers}
            for error in ERRORS:
                share = linear_sd({error: ERRORS[error]}, line)[axis] ** 2 / total[axis]
                # A squared correlation r^2 has the standard error 2 r (1 - r^2) / sqrt(n);
                # shares below 1 % are not listed.
                allowed = 8.0 * math.sqrt(share) * (1.0 - share) / math.sqrt(DRAWS) + 0.01
                case = f"{error}, {line} {'xz'[axis]}"
                SHARES.compare(share, found.get(error, 0.0), tolerance=allowed, case=case)


# A nose of corners so sharp that no contact can move to another row.
NOSE = np.array([[300.0, 250.0], [40.0, 300.0], [0.0, 480.0], [160.0, 760.0], [1300.0, 930.0]])
HEIGHT_U = np.array([2.0, 1.5, 2.5, 1.0, 3.0])
SETBACK_U = np.array([1.0, 2.0, 1.5, 2.5, 2.0])


def corner_run(wad: tuple[float, ...]) -> object:
    section = Section(NOSE, height_u=HEIGHT_U, setback_u=SETBACK_U)
    return tolerance(Front((section,)), "UN-R127-02", wad, draws=DRAWS, seed=5).stations[0]


def test_a_corner_carries_the_uncertainty_of_its_row() -> None:
    station = corner_run(())
    for line, row in (("LBRL", 1), ("UBRL", 2), ("BLERL", 3)):
        found = station.line(line)
        assert [(c.row, c.share) for c in found.contacts] == [(row, 1.0)]
        want = SETBACK_U[row], HEIGHT_U[row]
        SPREAD.compare(want, (found.x.sd, found.z.sd), relative=SAMPLING, case=f"corner, {line}")
        (driver,) = found.x.drivers
        assert (driver.name, driver.row) == ("setback", row)
        assert driver.share == pytest.approx(1.0, abs=1e-9)
    lead = station.bumper_lead
    assert lead.sd == pytest.approx(math.hypot(SETBACK_U[2], SETBACK_U[3]), rel=SAMPLING)
    assert {driver.row for driver in lead.drivers} == {2, 3}


@pytest.mark.parametrize("distance", [1000.0, 1500.0, 1900.0])
def test_tape_over_corners(distance: float) -> None:
    """Tape up to P2, over P3, on toward P4: P = P3 + s u, s = L - z2 - |P3 - P2|."""
    p2, p3, p4 = NOSE[2:]
    rise = (p3 - p2) / np.hypot(*(p3 - p2))
    length = float(np.hypot(*(p4 - p3)))
    along = (p4 - p3) / length
    s = distance - p2[1] - float(np.hypot(*(p3 - p2)))
    across = np.eye(2) - np.outer(along, along)
    gradient = {  # dP / d(x, z) of each row
        2: np.outer(along, rise) - np.outer(along, [0.0, 1.0]),
        3: np.eye(2) - np.outer(along, rise) - s / length * across,
        4: s / length * across,
    }
    variance = sum(
        (g**2) @ np.array([SETBACK_U[row] ** 2, HEIGHT_U[row] ** 2]) for row, g in gradient.items()
    )
    mark = corner_run((distance,)).line(f"WAD {distance:g}")
    assert mark.x.nominal == pytest.approx((p3 + s * along)[0], abs=1e-9)
    # Second order: offsets of 2 mm over spans of some 290 mm change a direction by 1/150.
    for spread, expected in zip((mark.x, mark.z), np.sqrt(variance), strict=True):
        SPREAD.compare(expected, spread.sd, relative=SAMPLING + 0.01, case=f"WAD {distance:g}")
