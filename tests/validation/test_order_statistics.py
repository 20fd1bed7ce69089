"""Draws against exact order statistics, where a contact can jump between rows.

Rows laid along the inclined straight edge compete: the edge touches the one whose error brings it
farthest forward. With errors of setbacks only, independent and normal, the share of each row and
the distribution of the line follow from the least of several normal variables (textbook
order statistics): row k is touched with density f_k(g) times the product of 1 - F_j(g) over
the others, g being the gap to the edge.

Tolerance: a share p from n draws has the standard error sqrt(p (1 - p) / n); four of those are
allowed (one comparison in 16 000 fails by chance; the seed is fixed).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from checks import Check, derived
from scipy.integrate import quad
from scipy.stats import norm

from frontcheck.front.front import Front
from frontcheck.sure.intervals import tolerance
from frontcheck.surface.section import Section

ROWS = Check(
    "rows-that-compete",
    kind="closed form",
    quantity="share of draws in which a row is touched, and in which a legform or side is met",
    source=derived("least of several normal variables, by scipy.integrate.quad"),
    why="four standard errors of 20,000 draws; shares below 1 % are not listed",
)

DRAWS = 20_000
TAN25, TAN20 = math.tan(math.radians(25.0)), math.tan(math.radians(20.0))
HEIGHTS = np.array([300.0, 360.0, 415.0, 440.0, 490.0, 530.0])


def line_of_rows(gaps: np.ndarray, us: np.ndarray, slope: float) -> Section:
    """Rows at `gaps` behind a straight edge of given slope, between two far ones."""
    x = gaps + HEIGHTS * slope
    points = np.concatenate(
        [[(900.0, 250.0)], np.stack([x, HEIGHTS], axis=1), [(1200.0, 600.0), (2500.0, 700.0)]]
    )
    return Section(
        points, height_u=np.zeros(len(points)), setback_u=np.concatenate([[0.0], us, [0.0, 0.0]])
    )


def share_upto(k: int, gaps: np.ndarray, us: np.ndarray, g_max: float) -> float:
    """Chance that row k is touched first, at a gap below `g_max`."""

    def density(g: float) -> float:
        others = np.delete(np.arange(len(gaps)), k)
        return float(norm.pdf(g, gaps[k], us[k]) * norm.sf(g, gaps[others], us[others]).prod())

    low, high = gaps[k] - 9.0 * us[k], min(gaps[k] + 9.0 * us[k], g_max)
    if high <= low:
        return 0.0
    return float(quad(density, low, high, limit=400, points=[min(gaps[k], high)])[0])


def allowed(p: float) -> float:
    return 4.0 * math.sqrt(p * (1.0 - p) / DRAWS) + 1e-9


CASES = {
    "alike": (np.zeros(6) + 300.0, np.full(6, 1.5)),
    "some sure": (np.zeros(6) + 300.0, np.array([0.5, 1.0, 1.5, 2.0, 2.5, 3.0])),
    "staggered": (300.0 + np.array([0.0, 1.0, 0.5, 2.0, 0.2, 3.0]), np.full(6, 1.5)),
}


@pytest.mark.parametrize("line", ["LBRL", "UBRL"])
@pytest.mark.parametrize("case", CASES)
def test_shares_of_rows(case: str, line: str) -> None:
    gaps, us = CASES[case]
    slope = -TAN25 if line == "LBRL" else TAN20
    front = Front((line_of_rows(gaps, us, slope),))
    found = tolerance(front, "UN-R127-02", (), draws=DRAWS, seed=11).stations[0].line(line)
    share = {contact.row - 1: contact.share for contact in found.contacts}
    exact = [share_upto(k, gaps, us, math.inf) for k in range(len(gaps))]
    assert sum(exact) == pytest.approx(1.0, abs=1e-7)
    if case == "alike":
        assert exact == pytest.approx([1.0 / 6.0] * 6, abs=1e-7)
    for k, p in enumerate(exact):
        listed = max(allowed(p), 0.01 if p < 0.012 else 0.0)  # shares below 1 % are not listed
        ROWS.compare(p, share.get(k, 0.0), tolerance=listed, case=f"{case}, {line}, row {k}")


@pytest.mark.parametrize("case", CASES)
def test_legform_shares(case: str) -> None:
    """Lower bumper height below 425, between, from 500 (GTR 9 / R127, from memory)."""
    gaps, us = CASES[case]
    front = Front((line_of_rows(gaps, us, -TAN25),))
    station = tolerance(
        front, "UN-R127-02", (), draws=DRAWS, seed=12, thresholds=[("LBRL_z_mm", 440.0)]
    ).stations[0]
    exact = np.array([share_upto(k, gaps, us, math.inf) for k in range(len(gaps))])
    want = {
        "lower": exact[HEIGHTS < 425.0].sum(),
        "either": exact[(HEIGHTS >= 425.0) & (HEIGHTS < 500.0)].sum(),
        "upper": exact[HEIGHTS >= 500.0].sum(),
        "missing": 0.0,
    }
    found = dict(station.legform)
    for name, p in want.items():
        ROWS.compare(p, found[name], tolerance=allowed(p), case=f"{case}, {name}")
    # A threshold exactly at the height of a row: that row counts as at or above.
    (side,) = station.thresholds
    p = exact[HEIGHTS < 440.0].sum()
    ROWS.compare(p, side.below, tolerance=allowed(p), case=f"{case}, below 440")
    assert side.below + side.at_or_above + side.missing == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("case", CASES)
def test_distribution_of_the_line(case: str) -> None:
    """x of the line: gap of the least, moved along the edge to the height of its row."""
    gaps, us = CASES[case]
    slope = -TAN25
    front = Front((line_of_rows(gaps, us, slope),))

    def below(x: float) -> float:
        return sum(share_upto(k, gaps, us, x - HEIGHTS[k] * slope) for k in range(len(gaps)))

    at = np.linspace(50.0, 165.0, 13)
    station = tolerance(
        front,
        "UN-R127-02",
        (),
        draws=DRAWS,
        seed=13,
        thresholds=[("LBRL_x_mm", float(x)) for x in at],
    ).stations[0]
    inner = 0
    for x, side in zip(at, station.thresholds, strict=True):
        p = min(below(float(x)), 1.0)
        inner += 0.02 < p < 0.98
        ROWS.compare(p, side.below, tolerance=allowed(p), case=f"{case}, x below {x:g}")
    assert inner >= 6  # the places chosen do tell
    spread = station.line("LBRL").x
    assert below(spread.median) == pytest.approx(0.5, abs=allowed(0.5))
