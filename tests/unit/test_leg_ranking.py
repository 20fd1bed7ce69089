"""Order of two fronts over draws of stiffness: what is counted, when it ranks, what decides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.legs.dynamics import RunSettings
from frontcheck.legs.faced import Face, face_of
from frontcheck.legs.leg_order import (
    KNOWN,
    Peaks,
    compared,
    drawn_parts,
    factors,
    first_order,
    order_of,
)
from frontcheck.people.impactors import RIGID_LEGFORM
from frontcheck.surface.section import Section

NAMES = ("Plover", "Avocet")
SECTION = Section(
    [(300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (60, 700), (900, 950)],
    parts=["underside", "bumper", "bumper", "bumper", "bumper", "grille", "bonnet"],
)
LIPS = (400.0, 560.0)
LIPS_NAMED = ("lower lip", "bumper", "leading edge")


def peaks(opening, reached=True) -> Peaks:
    opening = np.asarray(opening, dtype=np.float64)
    held = np.broadcast_to(reached, opening.shape).copy()
    return Peaks(opening, held, opening.copy(), opening.copy(), opening.copy())


def order(a, b):
    drawn = {"bumper": np.linspace(0.25, 4.0, len(a.opening))}
    return order_of(NAMES, a, b, drawn)


@pytest.mark.parametrize(
    ("agreeing", "status"),
    # Exact lower 95 % limits of 179, 178 and 100 of 200 (binomial tail: 0.8527, 0.8471, 0.4396).
    [(200, "ranks"), (179, "ranks"), (178, "depends"), (100, "depends")],
)
def test_an_order_ranks_only_where_the_lower_limit_of_its_share_is_enough(
    agreeing: int, status: str
) -> None:
    b = np.where(np.arange(200) < agreeing, 10.0, 20.0)
    got = order(peaks(np.full(200, 15.0)), peaks(b))
    assert (got.b_less, got.a_less) == (agreeing, 200 - agreeing)
    assert got.status == status
    assert got.less == ("b" if status == "ranks" else None)
    # The lower limit p is where so many or more agree in 5 % of all samples.
    tail = sum(
        math.comb(200, k) * got.least**k * (1.0 - got.least) ** (200 - k)
        for k in range(got.same, 201)
    )
    assert tail == pytest.approx(0.05, rel=1e-6)
    assert ("Ranks: Avocet opens" in got.sentence) == (status == "ranks")
    assert ("measure it" in got.sentence) == (status == "depends")


def test_few_draws_rank_nothing() -> None:
    got = order(peaks(np.full(199, 15.0)), peaks(np.full(199, 10.0)))
    assert (got.status, got.less) == ("few_draws", None)


@pytest.mark.parametrize(
    ("a", "b", "reached_a", "reached_b", "counts"),
    [
        (10.0, 9.9001, True, True, (0, 0)),  # within 1 %
        (10.0, 9.89, True, True, (0, 200)),
        (0.05, 0.0, True, True, (0, 0)),  # next to no opening at all
        (5.0, 12.0, True, False, (200, 0)),  # B opens farther still
        (5.0, 12.0, False, True, (0, 0)),  # A may yet open farther than B
        (5.0, 12.0, False, False, (0, 0)),
    ],
)
def test_what_counts_as_less(a, b, reached_a, reached_b, counts) -> None:
    got = order(peaks(np.full(200, a), reached_a), peaks(np.full(200, b), reached_b))
    assert (got.a_less, got.b_less) == counts


def test_ratios_are_those_of_b_over_a() -> None:
    a = np.linspace(5.0, 10.0, 200)
    got = order(peaks(a), peaks(3.0 * a))
    for ratio in (got.ratio, got.shear, got.bending):
        assert ratio == pytest.approx((3.0, 3.0, 3.0))


def test_first_order_shares_of_a_sum_are_those_of_its_terms() -> None:
    """y = 3 a + b, both even on 0..1: shares 9 / 10 and 1 / 10 of the variance (by hand)."""
    rng = np.random.default_rng(3)
    a, b, other = rng.random((3, 4000))
    y = 3.0 * a + b
    assert first_order(a, y) == pytest.approx(0.9, abs=0.02)
    assert first_order(b, y) == pytest.approx(0.1, abs=0.02)
    assert first_order(other, y) == pytest.approx(0.0, abs=0.01)
    assert first_order(a, np.ones(4000)) == 0.0


def test_every_part_is_drawn_by_itself_and_evenly_in_its_logarithm() -> None:
    drawn = factors(["b", "a", "b"], 20000, seed=5)
    assert list(drawn) == ["a", "b"]
    logs = np.log(np.array(list(drawn.values()))) / np.log(4.0)
    assert np.abs(logs).max() <= 1.0
    # Uniform on -1..1: variance 1 / 3; no relation between the two.
    assert logs.var(axis=1) == pytest.approx([1 / 3, 1 / 3], rel=0.03)
    assert abs(np.corrcoef(logs)[0, 1]) < 0.03
    assert (factors(["a"], 5, 1)["a"] == factors(["a"], 5, 1)["a"]).all()
    assert (factors(["a"], 5, 1)["a"] != factors(["a"], 5, 2)["a"]).all()


def test_lips_and_labels_are_parts_and_what_is_given_keeps_its_ratios() -> None:
    face: Face = face_of(SECTION, RIGID_LEGFORM, LIPS)
    heights = 1e3 * face.height + RIGID_LEGFORM.knee_height_mm
    parts = np.array(face.part)
    assert set(parts) == {"underside", *LIPS_NAMED, "grille"}
    assert heights[parts == "lower lip"].max() < LIPS[0] < heights[parts == "bumper"].min()
    assert "leading edge" in face_of(Section(SECTION.points), RIGID_LEGFORM, LIPS).part
    given = RunSettings(parts=(("bumper", 0.6), ("grille", 0.1)))
    assert set(drawn_parts(face, given)) == {"underside", KNOWN}


def test_a_front_beside_itself_is_alike_and_order_swaps_with_the_fronts() -> None:
    other = Section(
        np.add(SECTION.points, [[0, 0], [40, 0], [60, 0], *[[0, 0]] * 4]), parts=SECTION.parts
    )
    one, two = (face_of(s, RIGID_LEGFORM, LIPS) for s in (SECTION, other))
    settings = RunSettings(duration_ms=40.0)
    same, _ = compared(NAMES, (one, one), RIGID_LEGFORM, settings, draws=12)
    assert (same.a_less, same.b_less) == (0, 0)
    here, _ = compared(NAMES, (one, two), RIGID_LEGFORM, settings, draws=12)
    there, _ = compared(NAMES, (two, one), RIGID_LEGFORM, settings, draws=12)
    assert (here.a_less, here.b_less) == (there.b_less, there.a_less) != (0, 0)
