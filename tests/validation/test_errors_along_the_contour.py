"""Errors of rows that are alike along the contour: their kernel, and what it does to the lines.

The kernel is worked out here anew (scipy distances, numpy's own multivariate normal deviates) and
never taken from the product. Closed form: the straight edge touches an arc of radius R where its
normal is that of the edge. An error field e(s) square to the arc moves the contact along it by
R e'(s), and of the kernel exp(-d^2 / 2 L^2) the slope has standard deviation u / L (C. E. Rasmussen
and C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, 4.1 and 9.4, from memory), at
the same place independent of the error itself.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from checks import Check, Source
from scipy.spatial.distance import cdist

from frontcheck.front.front import Front
from frontcheck.front.survey import Survey
from frontcheck.lines.section_lines import section_lines
from frontcheck.rules.ruleset import rule_set
from frontcheck.sure.draws import StationDraws
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.stated_uncertainty import stated_u
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.contours import Contours
from frontcheck.surface.section import Section

ALIKE = Check(
    "errors-kernel",
    kind="independent method",
    quantity="correlation of the errors of two rows, by their distance along the contour",
    source=Source("scipy.spatial.distance", where="exp(-d^2 / 2 L^2)", known="derived"),
    why="five times 1 / sqrt(20000), how unsure a correlation of 20000 draws is",
)
ON_ARC = Check(
    "errors-contact-on-an-arc",
    kind="closed form",
    quantity="standard deviation of the height at which the edge of UBRL touches an arc",
    unit="mm",
    source=Source(
        "Gaussian Processes for Machine Learning",
        author="C. E. Rasmussen and C. K. I. Williams",
        year="2006",
        where="4.1 and 9.4: slope of deviation u / L, contact moved by R times the slope",
        known="memory",
    ),
    why="5 %: the second order widens by 0.11^2, draws scatter",
)
DEVIATES = Check(
    "errors-numpy-deviates",
    kind="independent method",
    quantity="standard deviations of UBRL, LBRL and WAD 1000, the wrap-around distance",
    unit="mm",
    source=Source("numpy", where="multivariate normal deviates of the kernel", known="derived"),
    why="8 %: of 3000 draws a deviation is unsure by 1.3 %",
)
HYPERCUBE = Check(
    "draws-latin-hypercube",
    kind="independent method",
    quantity="points drawn with independent errors",
    unit="mm",
    source=Source("scipy.stats.qmc.LatinHypercube", known="derived"),
    why="rounding of doubles only",
)

RULES = "UN-R127-02"
RADIUS = 100.0
LENGTH = 40.0
STEPS = (2.0, 4.0, 6.0)


def nose(step: float, radius: float = RADIUS) -> np.ndarray:
    """A plane face and, tangent to it, an arc up to a bonnet that rises by 5 deg."""
    turn = np.linspace(0.0, math.radians(85.0), round(radius * math.radians(85.0) / step) + 1)
    arc = np.stack([radius - radius * np.cos(turn), 480.0 + radius * np.sin(turn)], axis=1)
    low = np.array([(300.0, 230.0), (60.0, 240.0)])
    face = np.stack([np.zeros(12), np.linspace(260.0, 470.0, 12)], axis=1)
    run = np.arange(40.0, 1000.0, 40.0)
    slope = math.radians(5.0)
    bonnet = arc[-1] + np.outer(run, (math.cos(slope), math.sin(slope)))
    return np.concatenate([low, face, arc, bonnet])


def front(points: np.ndarray) -> Front:
    return Front((Section(points),))


def kernel(points: np.ndarray, length: float) -> np.ndarray:
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return np.exp(-0.5 * cdist(arc[:, None], arc[:, None], "sqeuclidean") / length**2)


@pytest.mark.parametrize("length", [5.0, 40.0, 400.0])
def test_errors_have_the_kernel_between_rows_however_uneven(length: float) -> None:
    """Of 20000 draws a correlation is unsure by at most 1/sqrt(20000); five of that are allowed."""
    draws, rng = 20_000, np.random.default_rng(4)
    along = np.sort(rng.uniform(0.0, 900.0, 40))
    points = np.stack([0.1 * along, 100.0 + along], axis=1)
    u = rng.uniform(0.5, 3.0, (2, 40))
    section = Section(points, height_u=u[0], setback_u=u[1])
    settings = Uncertainty(error_length_mm=length)
    survey = StationDraws(section, settings, 0, draws, 7)
    drawn = np.concatenate([block for _, _, block in survey.blocks()]) - points
    allowed = 5.0 / math.sqrt(draws)
    wanted = kernel(points, length)
    for axis, own in ((1, u[0]), (0, u[1])):
        assert drawn[..., axis].std(axis=0) == pytest.approx(own, rel=allowed)
        ALIKE.compare(wanted, np.corrcoef(drawn[..., axis].T), tolerance=allowed)
    # Heights and setbacks err apart.
    both = np.corrcoef(drawn.reshape(draws, -1).T)[::2, 1::2]
    assert np.abs(both).max() < allowed


def test_stations_err_apart_and_the_scale_is_one_for_all() -> None:
    points = nose(20.0)
    settings = Uncertainty(height_u_mm=1.0, error_length_mm=LENGTH, scale_u_percent=0.5)
    one, two = (
        np.concatenate(
            [b for _, _, b in StationDraws(Section(points, y), settings, i, 4000, 1).blocks()]
        )
        for i, y in enumerate((0.0, 300.0))
    )
    # Setbacks have no error of their own here: what is left is the scale, about the datum.
    far = points[:, 0] > 100.0
    scale = one[:, far, 0] / points[far, 0] - 1.0
    assert scale.std() == pytest.approx(0.005, rel=0.02)
    assert scale == pytest.approx(np.broadcast_to(scale[:, :1], scale.shape), abs=1e-12)
    assert two[:, far, 0] / points[far, 0] - 1.0 == pytest.approx(scale, abs=1e-12)
    # The errors of rows that are left of the heights: nothing in common.
    left = [d[..., 1] - points[:, 1] * (1.0 + scale[:, :1]) for d in (one, two)]
    assert left[0].std() == pytest.approx(1.0, rel=0.03)
    assert abs(np.corrcoef(left[0][:, 40], left[1][:, 40])[0, 1]) < 0.08


def test_height_of_the_contact_on_an_arc_by_its_closed_form() -> None:
    """Second order: R e''(s), of sd sqrt(3) u R / L^2 = 0.11 here, widens by about 0.11^2."""
    u_height, u_setback = 1.0, 0.8
    settings = Uncertainty(u_height, u_setback, error_length_mm=LENGTH)
    spread = tolerance(front(nose(1.0)), RULES, (), settings, draws=3000, seed=3)
    found = spread.station(0.0).line("UBRL").z
    lean = math.radians(rule_set(RULES).value("ubrl.lean_deg"))
    assert found.nominal == pytest.approx(480.0 + RADIUS * math.sin(lean), abs=0.5)
    across = math.hypot(math.cos(lean) * u_setback, math.sin(lean) * u_height)
    wanted = math.hypot(u_height, math.cos(lean) * RADIUS * across / LENGTH)
    ON_ARC.compare(wanted, found.sd, relative=0.05)
    # First-order shares: a linear quantity is told in full by the errors it follows.
    assert 0.9 < found.linear_share <= 1.02
    assert {driver.name for driver in found.drivers} == {"height", "setback"}
    rows = {(driver.name, driver.row) for driver in found.drivers}
    assert len(rows) == len(found.drivers)


def test_denser_rows_do_not_widen_the_interval() -> None:
    """Alike along the contour: the same at every density; row by row: far too wide (37 to 22)."""
    widths = {}
    for length in (0.0, LENGTH):
        settings = Uncertainty(2.0, 2.0, error_length_mm=length)
        for step in STEPS:
            drawn = tolerance(front(nose(step)), RULES, (), settings, draws=1000, seed=5)
            widths[length, step] = drawn.station(0.0).line("UBRL").z.width
    alike = [widths[LENGTH, step] for step in STEPS]
    alone = [widths[0.0, step] for step in STEPS]
    assert max(alike) < 1.12 * min(alike)
    assert min(alone) > 1.5 * max(alike)


def test_the_same_interval_as_from_deviates_of_numpy() -> None:
    """The whole chain against numpy's multivariate normal deviates of the kernel."""
    points, draws = nose(6.0), 3000
    settings = Uncertainty(2.0, 1.5, error_length_mm=LENGTH)
    found = tolerance(front(points), RULES, (1000.0,), settings, draws=draws, seed=2).station(0.0)
    rng = np.random.default_rng(11)
    base = np.linalg.cholesky(kernel(points, LENGTH) + 1e-9 * np.eye(len(points)))
    copies = np.broadcast_to(points, (draws, *points.shape)).copy()
    for axis, u in ((0, 1.5), (1, 2.0)):
        copies[..., axis] += u * rng.normal(size=(draws, len(points))) @ base.T
    batch = section_lines(Contours.copies(Section(points), copies), rule_set(RULES), (1000.0,))
    for name in ("UBRL", "LBRL", "WAD 1000"):
        line = batch.WAD if name == "WAD 1000" else getattr(batch, name)
        for axis in "xz":
            spread = getattr(found.line(name), axis)
            drawn = np.asarray(getattr(line, axis)).reshape(draws)
            # Of 3000 draws a standard deviation is unsure by 1.3 %, a median by 2 % of it.
            DEVIATES.compare(drawn.std(), spread.sd, relative=0.08, case=f"{name} {axis}")
            assert spread.median == pytest.approx(np.median(drawn), abs=0.12 * drawn.std())


def test_no_error_length_draws_as_before() -> None:
    """Independent errors: the deviates of scipy's Latin hypercube, one column a reading."""
    from scipy.stats import norm
    from scipy.stats.qmc import LatinHypercube

    points = nose(40.0)
    survey = StationDraws(Section(points), Uncertainty(2.0, 1.5), 3, 100, 9)
    ((_, _, drawn),) = survey.blocks()
    seed = np.random.SeedSequence(9, spawn_key=(0, 4))
    uniform = LatinHypercube(2 * len(points), seed=np.random.default_rng(seed)).random(100)
    deviates = norm.ppf(uniform).reshape(100, len(points), 2)
    wanted = points + deviates[..., ::-1] * (1.5, 2.0)
    HYPERCUBE.compare(wanted, drawn, tolerance=1e-9)


def test_a_point_is_as_unsure_as_its_scale() -> None:
    points = nose(40.0)
    stated = replace(front(points), survey=Survey(scale_u_percent=0.5))
    at = (200.0, 800.0)
    assert stated_u(stated, 0.0, at, "height") == pytest.approx(4.0)
    assert stated_u(stated, 0.0, at, "setback") == pytest.approx(1.0)
